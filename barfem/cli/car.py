"""`barfem car CAR.toml`: what the car does at the holes that are fitted."""

from __future__ import annotations

import argparse

from barfem.cli.car_options import add_car_options, read_question
from barfem.cli.outputs import JSON, Outputs, add_outputs, csv_of
from barfem.cli.parser import Commands, command, status

__all__ = ["add_parser", "run"]

DESCRIPTION = """\
The bar in the car: roll, wheel loads, load transfer, grip used, link forces,
stress and margin of both bars in every state, at the holes that are fitted;
stiffness of each axle, roll gradients, camber, and where wheels lift.
"""

EPILOG = """\
examples
  barfem car geometries/coupe-car.toml
  barfem car CAR.toml --front 3 --rear 1,2
  barfem car CAR.toml --state a_y=1.1,a_x=-0.2 --without rear

a_y > 0 is a left turn, a_x < 0 is braking, both in g.

exit status
  0  every state has its equilibrium, and the targets are met
  1  one has not, or a target is missed
  2  the input is wrong
"""


OUTPUTS = (JSON, csv_of("car.tables:states_table", "the states"))


def add_parser(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = command(commands, "car", DESCRIPTION, EPILOG, bar=False)
    add_car_options(parser)
    parser.add_argument("--full", action="store_true", help="print every table and assumption")
    add_outputs(parser, OUTPUTS)


def run(args: argparse.Namespace) -> int:
    """Solve, write and print. Returns 0 or 1; raises InputError where the input is wrong."""
    asked = read_question(args)
    out = Outputs(args, OUTPUTS, inputs=asked.inputs)
    from barfem.car.analysis import analyse_car
    from barfem.show.progress import Progress

    with Progress("car"):
        found = analyse_car(asked.car, **asked.fitted, states=asked.states)
    from barfem.show.car.tables import print_car

    out.write(found, then=lambda: print_car(found, full=args.full))
    return status(found.passes)
