"""`barfem fit TESTS.csv`: a firm's own stress-life line from its own tests."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from barfem.cli.bar_file import bar_path
from barfem.cli.outputs import JSON, Declared, Outputs, add_outputs, csv_of, picture_of
from barfem.cli.parser import Commands, command
from barfem.model.errors import InputError

if TYPE_CHECKING:
    from barfem.model.material import Steel
    from barfem.study.fit import Fit

__all__ = ["add_parser", "run"]

DESCRIPTION = """\
Fits a stress-life line to tests of bars, one a line of TESTS.csv, by maximum
likelihood: a bar that was stopped unbroken counts as having lasted at least so
long. A prior on slope and scatter, which is printed, lets three to six bars say
what they can; --prior none leaves it out. Prints strength at the target cycles,
slope and scatter with 90 % intervals, and the handbook's line beside.
"""

EPILOG = """\
the table of tests (CSV; commas, or semicolons with decimal commas)
  bar            name of the bar
  amplitude_MPa  local stress amplitude, concentration included; or
  travel_mm      of each pickup, up and down; or
  force_N        at the pickup, at full travel: both through --bar to the stress
                 at the place that broke
  mean_MPa       beside amplitude_MPa (default 0); or R, the least over the
                 greatest stress of the cycle
  cycles         to the break, or to where the bar was stopped
  result         broken or stopped
  hole, case     of a travel or force: hole "2" or "2/1" (left/right); roll,
                 one-wheel
  place          where it broke, as the check says it ("bend 2", "hole 1");
                 default: where the life is shortest
  surface, peening (none, shot), diameter_mm, note

examples
  barfem fit tests.csv --grade 51CrV4 --condition "QT EN 10089"
  barfem fit tests.csv --bar front.toml --plot line.png
  barfem fit tests.csv --bar front.toml --write own-steel.toml
"""


def _written(fit: Fit, args: Any) -> str:
    from barfem.study.fit_table import fit_table_text

    return fit_table_text(fit, Path(args.write))


WRITE = Declared(
    "--write",
    "write a material table that holds the line; a bar file names it as its grade",
    _written,
    metavar="STEEL.toml",
    endings=(".toml",),
    what="material table",
    message="wrote {}",
)
OUTPUTS = (
    JSON,
    csv_of("fit:fit_tables", "the line and the tests"),
    picture_of("figures.fit_plot:fit_picture", "tests and line"),
    WRITE,
)


def add_parser(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = command(commands, "fit", DESCRIPTION, EPILOG, bar=False)
    parser.add_argument("tests", metavar="TESTS.csv", help="the table of tests")
    parser.add_argument("--bar", metavar="BAR.toml", help="the bar that was tested")
    parser.add_argument("--grade", metavar="G", help="without --bar: a grade of barfem materials, or your own table")
    parser.add_argument("--condition", metavar="C", help="a condition of that grade")
    parser.add_argument("--surface", metavar="S", help="fit the bars with this finish alone; also where none is said")
    parser.add_argument("--peening", choices=("none", "shot"), help="and with this peening")
    parser.add_argument(
        "--at-cycles", metavar="N", help="where strength is stated (default: the bar's target, or 200000)"
    )
    parser.add_argument(
        "--prior", choices=("usual", "none"), default="usual", help="on slope and scatter (default usual)"
    )
    parser.add_argument(
        "--mean-stress",
        metavar="RULE",
        help="rule that takes a mean out of an amplitude (default: the bar's, or goodman)",
    )
    add_outputs(parser, OUTPUTS)


def run(args: argparse.Namespace) -> int:
    """Fit, write and print. Returns 0; raises InputError where the input is wrong."""
    bar_file = None if args.bar is None else bar_path(args.bar)
    out = Outputs(args, OUTPUTS, inputs=[args.tests, *([] if bar_file is None else [bar_file])])
    steel = _steel(args)
    surface = _surface(args)
    at_cycles = None if args.at_cycles is None else _cycles(args.at_cycles)

    from barfem.model.read import read_bar
    from barfem.show.progress import Progress
    from barfem.study.fit import fit_tests

    with Progress("tests"):
        found = fit_tests(
            Path(args.tests),
            bar=None if bar_file is None else read_bar(bar_file),
            steel=steel,
            surface=surface,
            peening=args.peening,
            at_cycles=at_cycles,
            prior=args.prior != "none",
            mean_stress=args.mean_stress,
        )
    from barfem.show.fit import print_fit

    out.write(found, then=lambda: print_fit(found))
    return 0


def _steel(args: argparse.Namespace) -> Steel | None:
    if args.bar is not None:
        for option in ("grade", "condition"):
            if getattr(args, option) is not None:
                raise InputError(
                    "the steel is the bar file's.",
                    where=f"--{option}",
                    expected="--bar without it, or it without --bar.",
                )
        return None
    if args.grade is None:
        if args.condition is not None:
            raise InputError("a condition of no grade.", where="--condition", expected="--grade with it.")
        return None
    from barfem.model.material_table import find_table
    from barfem.model.materials import steel_from_table

    table, _, _ = find_table(args.grade, bar_dir=Path.cwd(), where="--grade")
    return steel_from_table(table, args.condition, where="--condition")


def _surface(args: argparse.Namespace) -> str | None:
    if args.surface is None:
        return None
    from barfem.model.surfaces import surface_condition

    surface_condition(args.surface, where="--surface")
    return str(args.surface)


def _cycles(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not 1e3 <= value <= 1e9:
        raise InputError(f"{text!r} is not possible.", where="--at-cycles", expected="1000 to 1e9 cycles.")
    return value
