"""`barfem holes BAR.toml`: where to drill the holes for a range of rates."""

from __future__ import annotations

import argparse
import math
import sys

from barfem.cli.bar_file import bar_path
from barfem.model.errors import InputError
from barfem.model.load_case import CASES

__all__ = ["add_parser", "run"]

FOUND, NOT_FOUND = 0, 1

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


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = subparsers.add_parser(
        "holes",
        help="place the holes for a range of rates, in equal percent steps",
        description=DESCRIPTION,
        epilog=EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("bar", metavar="BAR.toml", help="the bar file")
    rate, length = _number("force per length", above=0.0), _number("length", above=0.0)
    parser.add_argument("--softest", metavar="N/MM", type=rate, help="rate of the first hole (default: the least)")
    parser.add_argument("--stiffest", metavar="N/MM", type=rate, help="rate of the last hole (default: the most)")
    parser.add_argument("--count", metavar="N", type=int, help="how many (default: as many as the bar file has)")
    parser.add_argument("--diameter", metavar="MM", type=length, help="of the holes (default: the first hole's)")
    parser.add_argument("--case", choices=tuple(CASES), default="roll", help="load case of rates and targets")
    share = _number("plain", above=-1e-12)
    parser.add_argument("--edge", metavar="D", type=share, default=1.5, help="cut end to centre, in diameters (1.5)")
    parser.add_argument("--spacing", metavar="D", type=share, default=2.0, help="between centres, in diameters (2)")
    parser.add_argument("--inboard", metavar="D", type=share, default=1.0, help="before transition or bend (1)")
    parser.add_argument(
        "--round", metavar="MM", type=share, default=0.5, help="step of the drawing, mm (0.5; 0: exact)"
    )
    parser.add_argument("--write", metavar="NEW.toml", help="write the bar file with these holes")
    parser.add_argument("--force", action="store_true", help="let --write replace a file that is there")
    parser.add_argument("--json", metavar="FILE", help="write everything as JSON; - is standard output alone")


def _number(kind: str, *, above: float):  # type: ignore[no-untyped-def]
    def convert(text: str) -> float:
        from barfem.model.units import number

        try:
            value = float(text)
        except ValueError:
            try:
                value = number(text, kind)
            except InputError as error:
                raise argparse.ArgumentTypeError(f"{text!r}: {error.problem}") from None
        if not (math.isfinite(value) and value > above):
            raise argparse.ArgumentTypeError(f"{text!r} is not a number {'above 0' if above == 0.0 else 'from 0 up'}")
        return value

    return convert


def run(args: argparse.Namespace) -> int:
    """Place the holes, write and print. Returns 0 or 1; raises InputError where the input is wrong."""
    from barfem.cli.study import json_target, one_file_each, say_not_written, write_json
    from barfem.model.read import read_bar
    from barfem.show.progress import Progress
    from barfem.study.holes import Rules, place_holes
    from barfem.study.written import bar_file_text, check_bar_path

    path = bar_path(args.bar)
    bar = read_bar(path)
    target = json_target(args.json, inputs=(path,))
    new = None if args.write is None else check_bar_path(args.write, inputs=(path,), force=args.force)
    one_file_each(json=target, write=new)
    with Progress(sys.stderr) as progress:
        progress.stage("holes")
        plan = place_holes(
            bar,
            softest_N_per_mm=args.softest,
            stiffest_N_per_mm=args.stiffest,
            count=args.count,
            hole_mm=args.diameter,
            case=args.case,
            rules=Rules(edge=args.edge, spacing=args.spacing, inboard=args.inboard, round_mm=args.round),
        )
    written = None
    if new is not None and plan.bar is not None:
        from barfem.show.output import write_whole

        head = (
            f"Made by barfem holes from {path.name}.\nComments below are the original's: they may speak of its holes."
        )
        write_whole(new, bar_file_text(plan.bar, path, head=head), option="--write")
        written = str(new)
    write_json(args.json, target, plan.to_json_dict())
    if args.json != "-":
        from barfem.show.holes import print_holes

        print_holes(plan, written=written)
        say_not_written(new, written)
    return FOUND if plan.passes else NOT_FOUND
