"""`barfem balance CAR.toml`: every pair of front and rear holes."""

from __future__ import annotations

import argparse

from barfem.cli.car_options import add_car_options, read_question
from barfem.cli.outputs import JSON, Outputs, add_outputs, csv_of, picture_of
from barfem.cli.parser import Commands, command, status
from barfem.model.errors import InputError

__all__ = ["add_parser", "run"]

DESCRIPTION = """\
Every pair of front and rear holes: roll gradient, front transfer share, grip
used, understeer gradient, least wheel load, margin and life of both bars, what
one hole more does; and a pair to start from, with the rules that lead to it.
"""

EPILOG = """\
examples
  barfem balance geometries/coupe-car.toml --plot map.png
  barfem balance CAR.toml --unequal --at exit --csv pairs.csv
  barfem balance CAR.toml --grip 1.30

exit status
  0  at least one pair meets every target
  1  none does
  2  the input is wrong
"""


OUTPUTS = (
    JSON,
    csv_of("car.balance:pairs_table", "the pairs"),
    picture_of("car.balance_map:balance_map", "all pairs, balance over roll"),
)


def add_parser(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = command(commands, "balance", DESCRIPTION, EPILOG, bar=False)
    add_car_options(parser)
    parser.add_argument("--unequal", action="store_true", help="add pairs of unlike holes left and right")
    parser.add_argument("--at", metavar="STATE", help='state that is shown (default "mid")')
    parser.add_argument("--grip", metavar="MU", help="the same at another grip: a_y scales with it")
    parser.add_argument("--full", action="store_true", help="print every pair and assumption")
    add_outputs(parser, OUTPUTS)


def run(args: argparse.Namespace) -> int:
    """Solve, write and print. Returns 0 or 1; raises InputError where the input is wrong."""
    asked = read_question(args)
    grip = _grip(args.grip)
    out = Outputs(args, OUTPUTS, inputs=asked.inputs)
    from barfem.car.balance import balance, state_for_balance
    from barfem.show.progress import Progress

    state = state_for_balance(asked.car, args.at)
    with Progress("hole pairs"):
        found = balance(asked.car, **asked.fitted, unequal=args.unequal, at=state, grip=grip)
    from barfem.show.car.balance import print_balance

    out.write(found, then=lambda: print_balance(found, full=args.full))
    return status(found.passes)


def _grip(text: str | None) -> float | None:
    if text is None:
        return None
    try:
        return float(text)
    except ValueError:
        problem = f"{text!r} is no grip."
        raise InputError(problem, where="--grip", expected="side force / load, such as 1.30.") from None
