"""`barfem holes BAR.toml`: where to drill the holes for a range of rates."""

from __future__ import annotations

import argparse

from barfem.cli.bar_file import bar_path
from barfem.cli.outputs import JSON, Outputs, add_outputs, bar_file_of, csv_of
from barfem.cli.parser import Commands, command, status
from barfem.cli.values import BAR_RATE, count, number
from barfem.model.load_case import CASES

__all__ = ["add_parser", "run"]

DESCRIPTION = """\
Places the holes of both ends for a range of rates, in equal percent steps,
within what the flat, the cut end and the neighbours leave room for; rounded to
what is drilled, and every hole judged.
"""

EPILOG = """\
examples
  barfem holes BAR.toml --softest 30 --stiffest 55 --count 4 --write NEW.toml
  barfem holes BAR.toml            over all the room there is, as many as now

Holes are called 1, 2, ... from the tip inwards, softest first. Diameter and
offset are those of the bar file's first hole. --edge, --spacing and --inboard
are in hole diameters.

exit status
  0  they fit, and every hole meets the targets
  1  they do not; what is possible is printed
  2  the input is wrong
"""


HEAD = "Made by barfem holes from {}.\nComments below are the original's: they may speak of its holes."


OUTPUTS = (
    bar_file_of(lambda found: (found.bar, HEAD), "the bar file with these holes"),
    JSON,
    csv_of("holes:holes_tables", "the holes"),
)


def add_parser(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = command(commands, "holes", DESCRIPTION, EPILOG)
    rate, length = number("force per length", above=0.0, example=BAR_RATE), number("length", above=0.0)
    parser.add_argument("--softest", metavar="N/MM", type=rate, help="rate of the first hole (default: the least)")
    parser.add_argument("--stiffest", metavar="N/MM", type=rate, help="rate of the last hole (default: the most)")
    parser.add_argument("--count", metavar="N", type=count(1), help="how many (default: as many as the bar file has)")
    parser.add_argument("--diameter", metavar="MM", type=length, help="of the holes (default: the first hole's)")
    parser.add_argument("--case", choices=tuple(CASES), default="roll", help="load case of rates and targets")
    share = number(least=0.0)
    parser.add_argument("--edge", metavar="D", type=share, default=1.5, help="cut end to centre, in diameters (1.5)")
    apart = number(least=1.0)  # nearer than a diameter two holes are one slot
    parser.add_argument("--spacing", metavar="D", type=apart, default=2.0, help="between centres, in diameters (2)")
    parser.add_argument("--inboard", metavar="D", type=share, default=1.0, help="before transition or bend (1)")
    parser.add_argument(
        "--round",
        metavar="MM",
        type=number("length", least=0.0),
        default=0.5,
        help="step of the drawing, mm (0.5; 0: exact)",
    )
    add_outputs(parser, OUTPUTS)


def run(args: argparse.Namespace) -> int:
    """Place the holes, write and print. Returns 0 or 1; raises InputError where the input is wrong."""
    from barfem.model.read import read_bar
    from barfem.show.holes import print_holes
    from barfem.show.progress import Progress
    from barfem.study.hole_plan import Rules
    from barfem.study.holes import place_holes

    path = bar_path(args.bar)
    bar = read_bar(path)
    out = Outputs(args, OUTPUTS, inputs=[path])
    with Progress("holes"):
        plan = place_holes(
            bar,
            softest_N_per_mm=args.softest,
            stiffest_N_per_mm=args.stiffest,
            count=args.count,
            hole_mm=args.diameter,
            case=args.case,
            rules=Rules(edge=args.edge, spacing=args.spacing, inboard=args.inboard, round_mm=args.round),
        )
    out.write(plan, then=lambda: print_holes(plan))
    return status(plan.passes)
