"""`barfem size BAR.toml`: which size gives a rate, or the most rate that lasts."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from barfem.cli.bar_file import bar_path
from barfem.cli.outputs import JSON, Outputs, add_outputs, bar_file_of, csv_of, picture_of
from barfem.cli.parser import Commands, command, status
from barfem.cli.study import add_bent, add_case, add_workers
from barfem.cli.values import BAR_RATE, number
from barfem.model.errors import InputError

if TYPE_CHECKING:
    from barfem.model.bar import Bar
    from barfem.study.options import Sizing

__all__ = ["add_parser", "run"]

DESCRIPTION = """\
Finds the size of the bar for a rate at a hole; without --rate it starts from
the drawn size and says which sizes about it pass, and what ends that window.
Left out is what cannot be bent, what mounts, links or their joints cannot
follow, what misses a target, and what changes the rate beyond --rate-window.
Sizes come from a stock list, so that the answer can be bought; --free gives
the exact one, and without --rate the stiffest that lasts. Arms or mounts can
be varied instead.
"""

EPILOG = """\
examples
  barfem size BAR.toml --rate 45 --hole 2 --write NEW.toml
  barfem size BAR.toml                            which sizes pass
  barfem size BAR.toml --rate-window 20           that keep the rate within 20 %
  barfem size BAR.toml --rate 45 --shape any --plot front.png
  barfem size BAR.toml --rate 45 --free           the exact diameter
  barfem size BAR.toml --rate 45 --vary arm       both arms longer or shorter
  barfem size BAR.toml --rate 45 --cluster tcp://10.0.0.5:8786

Everything else stays as in the bar file; flats go with the section (--flats
keep leaves them). A tube's wall keeps its share of the diameter with --free.
Without --stock the list is barfem/study/stock.toml; a copy of it can be named.

exit status
  0  found: the answer meets every target
  1  nothing does; what comes nearest is printed, and nothing is written
  2  the input is wrong
"""


def _answer(found: Sizing) -> tuple[Bar | None, str]:
    if found.answer is None:
        return None, ""
    made = f"Made by barfem size from {{}}: {found.answer.name}."
    return found.answer.bar, f"{made}\nComments below are the original's, and may speak of its old size."


OUTPUTS = (
    bar_file_of(_answer, "the answer as a bar file"),
    picture_of("size_picture:size_picture", "mass against life"),
    JSON,
    csv_of("size:options_table", "every size that was tried"),
)


def add_parser(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = command(commands, "size", DESCRIPTION, EPILOG)
    parser.add_argument(
        "--rate",
        metavar="N/MM",
        type=number("force per length", above=0.0, example=BAR_RATE),
        help="the rate to reach, N/mm (or a unit, in quotes)",
    )
    parser.add_argument("--hole", metavar="NAME", help="the hole whose rate is meant (default: the stiffest)")
    add_case(parser)
    parser.add_argument("--vary", choices=("section", "arm", "span"), default="section", help="what may change")
    parser.add_argument("--free", action="store_true", help="the exact size, not one of the list or of whole mm")
    parser.add_argument("--shape", choices=("round", "tube", "any"), help="stock to choose from (default: the bar's)")
    parser.add_argument("--stock", metavar="FILE", help="a stock list of your own (TOML)")
    parser.add_argument(
        "--rate-window",
        metavar="PERCENT",
        type=number("percent", above=0.0),
        help="how far a stock size's rate may be off the asked one (15), or off the drawn bar's (50)",
    )
    parser.add_argument("--flats", choices=("scale", "keep"), default="scale", help="what becomes of flats")
    add_bent(parser)
    add_workers(parser)
    add_outputs(parser, OUTPUTS)


def run(args: argparse.Namespace) -> int:
    """Find the size, write and print. Returns 0 or 1; raises InputError where the input is wrong."""
    from barfem.model.read import read_bar
    from barfem.show.size import print_sizing
    from barfem.show.tolerance_progress import StudyProgress
    from barfem.study.size import size_by_varying, size_from_stock
    from barfem.study.stock import read_stock

    path = bar_path(args.bar)
    from_stock = args.vary == "section" and not args.free
    for option in ("--stock", "--shape", "--plot", "--rate-window", "--bent"):
        if getattr(args, option[2:].replace("-", "_")) is not None and not from_stock:
            raise InputError(
                f"{option} chooses from stock sizes, and this search has none.",
                where=option,
                expected=f"no --free and no --vary, or no {option}.",
            )
    if args.flats == "keep" and args.vary != "section":
        raise InputError(
            f"the section stays where --vary is {args.vary}, and its flats with it.",
            where="--flats",
            expected="--vary section, or no --flats.",
        )
    stock = read_stock(args.stock) if from_stock else None
    bar = read_bar(path)
    out = Outputs(args, OUTPUTS, inputs=[path, *([args.stock] if args.stock else [])])
    with StudyProgress("sizes") as progress:
        if stock is not None:
            found = size_from_stock(
                bar,
                stock,
                rate_N_per_mm=args.rate,
                hole=args.hole,
                case=args.case,
                shapes={"any": ("round", "tube"), None: None}.get(args.shape, (args.shape,)),
                window_percent=args.rate_window,
                flats=args.flats,
                bent=args.bent,
                workers=args.workers,
                cluster=args.cluster,
                progress=progress,
            )
        else:
            found = size_by_varying(
                bar,
                args.vary,
                rate_N_per_mm=args.rate,
                hole=args.hole,
                case=args.case,
                exact=args.free,
                flats=args.flats,
                workers=args.workers,
                cluster=args.cluster,
            )
    out.write(found, then=lambda: print_sizing(found))
    return status(found.answer is not None)
