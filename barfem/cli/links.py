"""`barfem links CAR.toml`: link lengths that take the preload out of each bar."""

from __future__ import annotations

import argparse

from barfem.cli.car_options import add_car_options, read_question
from barfem.cli.outputs import JSON, Outputs, add_outputs
from barfem.cli.parser import Commands, command
from barfem.cli.values import number
from barfem.model.errors import InputError

__all__ = ["add_parser", "run"]

DESCRIPTION = """\
Twist of each bar and force in each link as the car stands, the change of
length and the turns of one link that make the bar forceless, what the nearest
half turn leaves, and cross-weight before and after.
"""

EPILOG = """\
examples
  barfem links geometries/coupe-car.toml
  barfem links CAR.toml --corner-heights 2,-1.5,0,0.5 --side right
  barfem links CAR.toml --hole front:3

Length changes and turns > 0 make the link longer. Corner heights are wheel
travel from the car as weighed, mm, bump > 0: a corner that stands higher has
less. Front left, front right, rear left, rear right. --hole moves one link
there without zeroing; it needs a bar file whose [links] give pickup.

exit status
  0  done
  2  the input is wrong
"""

OUTPUTS = (JSON,)
_MOST_MEAN_MM = 100.0


def add_parser(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = command(commands, "links", DESCRIPTION, EPILOG, bar=False)
    add_car_options(parser, standing=True)
    parser.add_argument("--corner-heights", metavar="FL,FR,RL,RR", help="where the car stands now, mm")
    parser.add_argument("--side", choices=("left", "right"), default="left", help="whose link is turned (default left)")
    parser.add_argument("--hole", metavar="AXLE:NAME", help="also: that link moved to front:NAME or rear:NAME")
    add_outputs(parser, OUTPUTS)


def run(args: argparse.Namespace) -> int:
    """Solve, write and print. Returns 0; raises InputError where the input is wrong."""
    asked = read_question(args)
    heights = _heights(args.corner_heights)
    out = Outputs(args, OUTPUTS, inputs=asked.inputs)
    from barfem.car.links import links_result
    from barfem.show.progress import Progress

    with Progress("links"):
        found = links_result(asked.car, **asked.fitted, side=args.side, corner_heights_mm=heights, hole=args.hole)
    from barfem.show.car.links import print_links

    out.write(found, then=lambda: print_links(found))
    return 0


def _heights(text: str | None) -> tuple[float, float, float, float]:
    if text is None:
        return 0.0, 0.0, 0.0, 0.0
    try:
        values = [number("length")(part) for part in text.split(",")]
    except InputError:
        values = []
    if len(values) != 4 or not all(abs(value) <= 300.0 for value in values):
        raise InputError(
            f"{text!r} are no four heights.",
            where="--corner-heights",
            expected="FL,FR,RL,RR in mm, each within 300: 2,-1.5,0,0.",
        )
    mean = sum(values) / 4.0
    if abs(mean) > _MOST_MEAN_MM:
        raise InputError(
            f"{text!r} are {mean:.0f} mm on average: a car that stands so far from where it was weighed is another.",
            where="--corner-heights",
            expected="wheel travel from the car as weighed, mm, not heights above the floor: a corner that stands 2 mm "
            "higher than on the scales has -2.",
        )
    return values[0], values[1], values[2], values[3]
