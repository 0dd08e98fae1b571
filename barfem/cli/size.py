"""`barfem size BAR.toml`: which size gives a rate, or the most rate that lasts."""

from __future__ import annotations

import argparse
import math
import sys
from pathlib import Path

from barfem.cli.bar_file import bar_path
from barfem.cli.study import add_workers
from barfem.model.errors import InputError
from barfem.model.load_case import CASES

__all__ = ["add_parser", "run"]

FOUND, NOT_FOUND = 0, 1

DESCRIPTION = """\
Finds the size of the bar for a rate at a hole, or without --rate the stiffest
that meets the targets of yield margin and life at every hole. Sizes come from a
stock list, so that the answer can be bought; --free gives the exact one. Arms
or mounts can be varied instead.
"""

EPILOG = """\
examples
  barfem size BAR.toml --rate 45 --hole 2 --write NEW.toml
  barfem size BAR.toml                            the stiffest that lasts
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


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = subparsers.add_parser(
        "size",
        help="the stock size, arm or mount span for a rate, or the most rate that lasts",
        description=DESCRIPTION,
        epilog=EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("bar", metavar="BAR.toml", help="the bar file")
    parser.add_argument("--rate", metavar="N/MM", type=_positive, help="the rate to reach, N/mm (or a unit, in quotes)")
    parser.add_argument("--hole", metavar="NAME", help="the hole whose rate is meant (default: the stiffest)")
    parser.add_argument("--case", choices=tuple(CASES), help="judge this load case alone")
    parser.add_argument("--vary", choices=("section", "arm", "span"), default="section", help="what may change")
    parser.add_argument("--free", action="store_true", help="the exact size, not one of the list or of whole mm")
    parser.add_argument("--shape", choices=("round", "tube", "any"), help="stock to choose from (default: the bar's)")
    parser.add_argument("--stock", metavar="FILE", help="a stock list of your own (TOML)")
    parser.add_argument(
        "--within", metavar="PERCENT", type=_positive, default=15.0, help="how far off a stock size's rate may be (15)"
    )
    parser.add_argument("--flats", choices=("scale", "keep"), default="scale", help="what becomes of flats")
    parser.add_argument(
        "--bent", choices=("before-hardening", "after-hardening"), help="for tubes, where the bar file does not say"
    )
    parser.add_argument("--write", metavar="NEW.toml", help="write the answer as a bar file")
    parser.add_argument("--force", action="store_true", help="let --write replace a file that is there")
    parser.add_argument("--plot", metavar="FILE", help="picture of mass against life (.png or .svg)")
    add_workers(parser)
    parser.add_argument("--json", metavar="FILE", help="write everything as JSON; - is standard output alone")


def _positive(text: str) -> float:
    from barfem.model.units import number

    try:
        value = float(text)
    except ValueError:
        try:
            value = number(text, "force per length")
        except InputError as error:
            raise argparse.ArgumentTypeError(f"{text!r} is no number: {error.problem}") from None
    if not (math.isfinite(value) and value > 0.0):
        raise argparse.ArgumentTypeError(f"{text!r} is not a number above 0")
    return value


def run(args: argparse.Namespace) -> int:
    """Find the size, write and print. Returns 0 or 1; raises InputError where the input is wrong."""
    from barfem.cli.study import json_target, one_file_each, plot_target, say_not_written, write_json, write_plot
    from barfem.model.read import read_bar
    from barfem.show.tolerance_progress import StudyProgress
    from barfem.study.size import size_by_knob, size_from_stock
    from barfem.study.stock import read_stock
    from barfem.study.written import bar_file_text, check_bar_path

    path = bar_path(args.bar)
    from_stock = args.vary == "section" and not args.free
    if args.plot is not None and not from_stock:
        raise InputError("the picture shows stock sizes.", where="--plot", expected="no --free and no --vary.")
    for option, value in (("--stock", args.stock), ("--shape", args.shape)):
        if value is not None and not from_stock:
            raise InputError(
                f"{option} chooses from stock sizes, and this search has none.",
                where=option,
                expected=f"no --free and no --vary, or no {option}.",
            )
    stock = read_stock(args.stock) if from_stock else None
    inputs = (path, *((Path(args.stock),) if args.stock else ()))
    bar = read_bar(path)
    target = json_target(args.json, inputs=inputs)
    picture = plot_target(args.plot, inputs=inputs)
    new = None if args.write is None else check_bar_path(args.write, inputs=inputs, force=args.force)
    one_file_each(json=target, plot=picture, write=new)
    with StudyProgress(sys.stderr, what="sizes") as progress:
        if stock is not None:
            found = size_from_stock(
                bar,
                stock,
                rate_N_per_mm=args.rate,
                hole=args.hole,
                case=args.case,
                shapes={"any": ("round", "tube"), None: None}.get(args.shape, (args.shape,)),
                within_percent=args.within,
                flats=args.flats,
                bent=args.bent,
                workers=args.workers,
                cluster=args.cluster,
                progress=progress,
            )
        else:
            found = size_by_knob(
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
    written = None
    if new is not None and found.answer is not None and found.answer.bar is not None:
        from barfem.show.output import write_whole

        head = (
            f"Made by barfem size from {path.name}: {found.answer.name}.\n"
            "Comments below are the original's, and may speak of its old size."
        )
        write_whole(new, bar_file_text(found.answer.bar, path, head=head), option="--write")
        written = str(new)
    write_plot(picture, lambda: _picture(found))
    write_json(args.json, target, found.to_json_dict())
    if args.json != "-":
        from barfem.show.size import print_sizing

        print_sizing(found, written=written)
        say_not_written(new, written)
    return FOUND if found.answer is not None else NOT_FOUND


def _picture(found: object) -> object:
    from barfem.show.size_picture import size_picture

    return size_picture(found)  # type: ignore[arg-type]
