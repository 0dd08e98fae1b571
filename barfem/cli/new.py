"""`barfem new FILE.toml`: a commented starter bar file, from questions on a terminal or from options."""

from __future__ import annotations

import argparse
import sys
import tomllib
from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING, Any

from barfem.cli.parser import Commands, command
from barfem.model.errors import BarfemError, InputError

if TYPE_CHECKING:
    from barfem.cli.new_answers import Question

__all__ = ["add_parser", "run"]

DESCRIPTION = """\
Writes a commented bar file from the dimensions of a drawing or a sketch: arms
alike, a cranked middle, arms of unequal length, or the bender's rows. On a
terminal it asks for what the options leave open; elsewhere it takes defaults
and marks them in the file. What it writes can be checked at once. A file that
is there is never replaced.
"""

EPILOG = """\
examples
  barfem new front.toml
  barfem new front.toml --width 1010 --arm-length 265 --section 22 \\
      --holes 25,55,85
  barfem new crank.toml --width 1010 --crank 0,-40,250,330 --yes
  barfem new bent.toml --rows "202/0/90/48; 904/0/90/48; 202" --yes
  barfem new rear.toml --section "tube 26x4" --grade 34MnB5 --mounts 310 --yes

A length is in mm, or carries its unit: --width "39.8 in".
"""

# What the bar's reader names, and the option that gave it.
OPTIONS = {
    "[arms] bend_radius": "bend_radius",
    "[arms] width": "width",
    "[arms] length": "arm_length",
    "[arms] splay": "splay",
    "[arms] rise": "rise",
    "[arms] crank": "crank",
    "[centreline]": "left_arm",
    "[bends]": "rows",
    "rows": "rows",
    "[section]": "section",
    "[material] grade": "grade",
    "[material] condition": "condition",
    "[material] surface": "surface",
    "[material] bent": "bent",
    "[[mounts]]": "mounts",
    "[links]": "link_length",
    "[travel] motion_ratio": "motion_ratio",
    "[travel]": "travel",
    "[duty]": "cycles",
}


def add_parser(commands: Commands[argparse.ArgumentParser]) -> None:
    from barfem.cli.new_answers import QUESTIONS

    parser = command(commands, "new", DESCRIPTION, EPILOG, bar=False)
    parser.add_argument("file", metavar="FILE.toml", help="the bar file to write; - is standard output")
    for question in QUESTIONS:
        parser.add_argument(question.option, metavar="...", help=f"{question.prompt} ({question.hint})")
    parser.add_argument("--yes", action="store_true", help="ask nothing: defaults for what no option gives")


def run(args: argparse.Namespace) -> int:
    """Ask, write, and say what comes next. Returns 0; raises InputError, with nothing written, where input is wrong."""
    from barfem.cli.new_answers import QUESTIONS, gather
    from barfem.cli.new_shape import refuse_two_shapes

    path = None if args.file == "-" else _free(args.file)
    texts = {each.key: getattr(args, each.key) for each in QUESTIONS if getattr(args, each.key) is not None}
    refuse_two_shapes(texts)
    if sys.stdin.isatty() and sys.stderr.isatty() and not args.yes:
        text, defaults = _in_rounds(texts, args.file)
    else:
        answers, defaults = gather(texts)
        text = _checked(answers, defaults, args.file)
    if path is None:
        sys.stdout.write(text)
        return 0
    _write_new(path, text)
    print(f"{path} is written.")
    print('What no answer gave is marked "not from the drawing" in it: put in your own numbers.')
    print(f"Next: barfem check {quote(str(path))}")
    return 0


def _free(name: str) -> Path:
    """The path to write, refused before any question where it cannot be."""
    from barfem.show.output import Outlet

    Outlet().file("FILE.toml", name, endings=(".toml",), what="bar file", replaces_toml=True)
    path = Path(name)
    if path.exists() or path.is_symlink():
        raise InputError(f"{path} exists.", where="FILE.toml", expected="the name of a file that is not there yet.")
    return path


def _in_rounds(texts: dict[str, str], file: str) -> tuple[str, frozenset[str]]:
    """Ask until the answers make a bar; those of a round that made none are the next one's defaults.

    What nobody answered is made again from the new answers: the bend radius of another diameter is another.
    """
    from barfem.cli.new_answers import gather

    print("Enter takes what stands in [ ]. Lengths in mm, or with a unit (0.945 in). Ctrl-C leaves.\n", file=sys.stderr)
    before: dict[str, Any] = {}
    while True:
        answers, defaults = gather(texts, ask=_ask, before=before)
        nobody = frozenset(key for key in defaults if key not in before or answers[key] != before[key])
        try:
            return _checked(answers, nobody, file), nobody
        except InputError as error:
            if not _may_be_asked_again(texts):
                raise
            print(f"\nThis is no bar yet: {error}\nOnce more; Enter keeps an answer.\n", file=sys.stderr)
            before = {key: answers[key] for key in answers if key not in nobody}


def _may_be_asked_again(texts: dict[str, str]) -> bool:
    """Whether a question that is asked, and not an option, can mend it."""
    from barfem.cli.new_answers import QUESTIONS

    return any(question.asked and question.key not in texts for question in QUESTIONS)


def _ask(question: Question, default: Any, answers: dict[str, Any]) -> Any:
    from barfem.cli.new_answers import read_answer, shown

    while True:
        words = question.offers(answers)
        offers = f" ({'; '.join(words)})" if words else ""
        print(f"{question.prompt}{offers} [{shown(default)}]: ", end="", file=sys.stderr, flush=True)
        text = sys.stdin.readline()
        if not text:
            raise InputError("the answers ended early, and nothing is written.", expected="an answer, or Enter.")
        if not text.strip():
            return None
        try:
            return read_answer(question, text.strip(), answers)
        except InputError as error:
            print(f"  {InputError(error.problem, expected=error.expected)}", file=sys.stderr)


def _checked(answers: dict[str, Any], defaults: frozenset[str], file: str) -> str:
    """The bar file of the answers, read back and solved as `barfem check` does it."""
    from barfem.cli.new_file import bar_file
    from barfem.model.dimensions import main_dimensions
    from barfem.model.read import bar_from_dict
    from barfem.show.progress import Progress
    from barfem.study.evaluate import evaluate_one

    try:
        text = bar_file(answers, defaults, file=file)
        bar = bar_from_dict(tomllib.loads(text))
    except InputError as error:
        where = _option(error.where or "", error.problem)
        raise InputError(error.problem, where=where, expected=error.expected) from error
    if main_dimensions(bar).arms_oppose:
        problem = "the arms point opposite ways: roll turns such a bar and hardly twists it."
        raise InputError(
            problem, where="--rows", expected="a rotation 180 deg from it: at 0 the arms of a U lie in one plane."
        )
    try:
        with Progress("trying the bar"):
            found = evaluate_one(bar)
        if found.problems:
            raise BarfemError(next(filter(None, found.problems)))
    except BarfemError as error:
        problem, _, _ = str(error).partition(" Right would be: ")
        raise InputError(problem, where="--travel", expected="less travel, or longer arms or links.") from error
    return text


def _option(where: str, problem: str) -> str:
    """The option that a place of the bar file comes from."""
    if where == "[arms]" and problem.startswith("the arc"):
        return "--bend-radius"
    if where == "[arms]":
        where = f"[arms] {problem.partition(' ')[0]}"
    if "flat" in where:
        return "--holes, --flat (a flat ends behind the last hole)"
    if "hole" in where or "[ends]" in where:
        return "--hole-diameter" if "diameter" in where else "--holes"
    found = next((key for place, key in OPTIONS.items() if where.startswith(place)), None)
    return f"--{found.replace('_', '-')}" if found else where


def _write_new(path: Path, text: str) -> None:
    """Write to a file that is not there, whole or not at all; one that appeared meanwhile stays as it is."""
    ours = False
    try:
        with path.open("x", encoding="utf-8", newline="\n") as file:
            ours = True
            file.write(text)
        ours = False  # whole
    except FileExistsError as error:
        raise InputError(f"{path} exists.", where="FILE.toml", expected="a file that is not there yet.") from error
    except OSError as error:
        raise InputError(
            f"{path} could not be written: {error.strerror or error}.", where="FILE.toml", expected="a writable folder."
        ) from error
    finally:
        if ours:  # what a full disk or Ctrl-C left: the next run would refuse to replace it
            path.unlink(missing_ok=True)
