"""`barfem`: finds the command, runs it, and turns every way it can end into an exit status and a clear message.

0, 1 and 2 are the command's own (see README), 2 also where an output cannot be written; 130 is an interrupt, 141 a
closed pipe, 70 a bug in barfem.
Only the module of the command that is run is imported, so that help is fast and one command cannot break another.
"""

from __future__ import annotations

import argparse
import contextlib
import difflib
import importlib
import os
import sys
from collections.abc import Sequence
from shlex import quote
from types import ModuleType

from barfem.cli.own_process import keep_to_files, spare_start_and_end
from barfem.model.errors import BarfemError
from barfem.version import __version__

__all__ = ["COMMANDS", "main"]

COMMANDS: dict[str, tuple[str, str]] = {
    "new": ("barfem.cli.new", "write a commented bar file from a few answers"),
    "check": ("barfem.cli.check", "judge every hole setting of a bar: rate, stress, yield margin, life"),
    "page": ("barfem.cli.page", "the check live in the browser: move the bar and see; write the one that passes"),
    "report": ("barfem.cli.report", "the check as one page to send: HTML, PDF, figures"),
    "explain": ("barfem.cli.explain", "what a number is: unit, sign, formula, source"),
    "materials": ("barfem.cli.materials", "list the steels, or show one with its sources"),
    "life": ("barfem.cli.life", "one life from a stress amplitude and mean, each factor on its own line"),
    "duty": ("barfem.cli.duty", "a measured travel history to damage and life"),
    "plan": ("barfem.cli.plan", "how many bars to test, and to what life, to show a target"),
    "fit": ("barfem.cli.fit", "a firm's own stress-life line from its tests, stopped bars included"),
    "compare": ("barfem.cli.compare", "bars side by side: sections on one centreline, or whole bar files"),
    "size": ("barfem.cli.size", "the stock size, arm or mount span for a rate, or the most rate that lasts"),
    "holes": ("barfem.cli.holes", "place the holes for a range of rates, in equal percent steps"),
    "tolerance": ("barfem.cli.tolerance", "how far bars of one drawing differ, what from, and how many miss"),
    "sweep": ("barfem.cli.sweep", "any keys of a bar file over lists or ranges, to a table, CSV or Parquet"),
    "review": ("barfem.cli.review", "what stands against having the bar made, with number, limit and source"),
    "bends": ("barfem.cli.bends", "bend data for the maker, from either tip, of either hand, as CSV; and back"),
    "drawing": ("barfem.cli.drawing", "the dimensioned sheet for the maker: PDF, SVG, DXF; and the part as STEP"),
    "package": ("barfem.cli.package", "everything the maker needs in one folder with a manifest, after the review"),
    "inspect": ("barfem.cli.inspect", "bars that came back, judged one by one and as a lot; the sheet to fill in"),
    "identify": ("barfem.cli.identify", "diameter, wall, bushing and link stiffness of a bar from its measured curves"),
    "schema": ("barfem.cli.schema", "the keys of the bar file as JSON Schema, for editors and other programs"),
    "car": ("barfem.cli.car", "the bar in the car: roll, wheel loads, grip, link forces, stress"),
    "balance": ("barfem.cli.balance", "every pair of front and rear holes: balance, roll, grip, a start pair"),
    "links": ("barfem.cli.links", "length changes and turns that take the preload out of each bar"),
    "travel": ("barfem.cli.travel", "how far the car can move each bar's ends, written into bar files"),
    "setup-sheet": ("barfem.cli.setup_sheet", "one A4 page for the buyer of a kit: holes, start pair, zeroing"),
    "completion": ("barfem.cli.completion", "make the Tab key complete commands and options"),
}
"""Command: its module, which has `add_parser(subparsers)` and `run(args) -> int`; and its line in the help."""

WRONG_INPUT, BUG, INTERRUPTED, CLOSED_PIPE = 2, 70, 130, 141


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line `argv` (without the program's name) and return its exit status."""
    # Two pools of threads on few cores wait for each other: the matrices here are small.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    if argv is None:
        spare_start_and_end()
        keep_to_files()
    arguments = list(sys.argv[1:] if argv is None else argv)
    if argv is None and "_ARGCOMPLETE" in os.environ:
        return _complete()
    for name in ("stdin", "stderr"):  # closed by whoever started barfem
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, "r" if name == "stdin" else "w"))  # noqa: SIM115
    if sys.stdout is None:
        return _fail("standard output is closed. Right would be: an open one, or > /dev/null.")
    _never_fail_on_a_character()
    try:
        status = _run(arguments)
        sys.stdout.flush()
        return status
    except BarfemError as error:
        return _fail(str(error))
    except KeyboardInterrupt:
        print("\nbarfem: interrupted.", file=sys.stderr)
        return INTERRUPTED
    except BrokenPipeError:  # the reader went away: head, a pager
        _give_up_stdout()
        return CLOSED_PIPE
    except OSError as error:
        if not _has_folder():
            return _fail("the folder in which barfem runs is gone. Right would be: one that is there (cd to it).")
        what = os.fsdecode(error.filename) if error.filename is not None else "standard output"
        return _fail(f"{what} cannot be used: {error.strerror or error}. Right would be: a place that can.")
    except Exception as error:  # whatever reaches this line is a bug, and the user is told so
        if os.environ.get("BARFEM_DEBUG") == "1":
            raise
        print(
            f"barfem: sorry, this is a bug in barfem, not in your input ({type(error).__name__}: {error}). Please "
            "report it with the bar file; BARFEM_DEBUG=1 in the environment shows where it happened.",
            file=sys.stderr,
        )
        return BUG


def _run(arguments: list[str]) -> int:
    command = next((argument for argument in arguments if not argument.startswith("-")), None)
    if command is not None and command not in COMMANDS:
        return _fail(_suggest(command))
    # The others are only in the help of all, which an option before the command may ask for.
    listed = [command] if command is not None and arguments[0] == command else list(COMMANDS)
    parser, modules = _parser(listed, [command] if command is not None else [])
    options = [] if command is None else _options(parser, command)
    try:
        parsed, surplus = parser.parse_known_args(arguments)
    except SystemExit as stop:  # argparse has printed help, the version, or what is wrong
        return stop.code if isinstance(stop.code, int) else WRONG_INPUT
    if surplus:
        return _fail(_surplus(command, surplus, options))
    if not modules:
        parser.print_help(sys.stderr)
        return WRONG_INPUT
    return int(modules[0].run(parsed))


def _parser(listed: Sequence[str], loaded: Sequence[str]) -> tuple[argparse.ArgumentParser, list[ModuleType]]:
    """The parser of the commands that are `listed`, with the options of those in `loaded`, and their modules."""
    from barfem.cli.parser import Parser

    parser = Parser(
        prog="barfem",
        description="Designs and verifies anti-roll bars: rate, stress, yield margin and life of every hole setting.",
        epilog="barfem new starts a bar file, barfem check judges it; barfem COMMAND --help explains a command. "
        "geometries/README.md explains a bar file, barfem explain every column.",
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"barfem {__version__}")
    subparsers = parser.add_subparsers(dest="command", metavar="COMMAND", title="commands")
    modules = []
    for name in listed:
        if name in loaded:
            module = importlib.import_module(COMMANDS[name][0])
            module.add_parser(subparsers)
            modules.append(module)
        else:
            subparsers.add_parser(name, help=COMMANDS[name][1])
    return parser, modules


def _options(parser: argparse.ArgumentParser, command: str) -> list[str]:
    """The options of a command, as they are typed."""
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction) and command in action.choices:
            return [option for each in action.choices[command]._actions for option in each.option_strings]
    return []


def _surplus(command: str | None, surplus: list[str], options: list[str]) -> str:
    """What is wrong with arguments that nothing takes."""
    name = f"barfem {command}" if command else "barfem"
    option = next((word for word in surplus if word.startswith("-")), None)
    if option is None:
        return f"{name} has no use for {' '.join(surplus)}. Right would be: what {name} --help shows."
    near = difflib.get_close_matches(option.partition("=")[0], options, n=1)
    hint = f" Did you mean {near[0]}?" if near else ""
    return f"{name} has no option {option.partition('=')[0]}.{hint} Right would be: one that {name} --help shows."


def _complete() -> int:
    """Answer the shell's Tab key (see `barfem completion`)."""
    try:
        import argcomplete
    except ImportError:
        return WRONG_INPUT
    typed = os.environ.get("COMP_LINE", "").split()
    parser, _ = _parser(list(COMMANDS), [name for name in COMMANDS if name in typed])
    argcomplete.autocomplete(parser)  # ends the process
    return WRONG_INPUT


def _suggest(word: str) -> str:
    if word.lower().endswith(".toml"):
        return f"{word} is no command. Right would be: barfem check {quote(word)}."
    near = difflib.get_close_matches(word.lower(), COMMANDS, n=1)
    hint = f"did you mean {near[0]!r}?" if near else f"the commands are {', '.join(COMMANDS)}."
    return f"there is no command {word!r}: {hint}"


def _has_folder() -> bool:
    """Whether the working folder is there: another program may have deleted it, or made it anew."""
    with contextlib.suppress(OSError):
        return bool(os.getcwd())
    return False


def _give_up_stdout() -> None:
    """Let nothing more go to standard output, not even when Python flushes it at exit."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _fail(message: str) -> int:
    if sys.stdout is not None:
        try:
            sys.stdout.flush()
        except OSError:
            _give_up_stdout()
    print(f"barfem: error: {message}", file=sys.stderr)
    return WRONG_INPUT


def _never_fail_on_a_character() -> None:
    """A terminal or pipe that cannot show a character gets a question mark instead of an error."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")


if __name__ == "__main__":
    sys.exit(main())
