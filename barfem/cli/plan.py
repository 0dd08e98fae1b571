"""`barfem plan`: how many bars to test, and to what life, to show a target."""

from __future__ import annotations

import argparse
from dataclasses import replace
from typing import TYPE_CHECKING

from barfem.cli.bar_file import bar_path
from barfem.cli.outputs import JSON, Declared, Outputs, add_outputs, csv_of, json_text
from barfem.cli.parser import Commands, command
from barfem.cli.values import count, number
from barfem.model.errors import InputError

if TYPE_CHECKING:
    from barfem.check.plan import ProofPlan

__all__ = ["add_parser", "run"]

DESCRIPTION = """\
How many bars to test, and to what life, to show that a share of all bars
reaches a target at a given confidence: without a failure, or all run until
they fail. Give a bar file (its target, survival and scatter are used; with
blocks alone the target is repeats of them), or target and scatter yourself.
"""

EPILOG = """\
examples
  barfem plan front.toml
  barfem plan front.toml --sheet test.pdf
  barfem plan --target 200000 --survival 0.9 --confidence 0.9 --deviation 0.2
  barfem plan --target 200000 --weibull 2 --bars 4
"""


def _json(found: ProofPlan, args: argparse.Namespace) -> str:
    return json_text(vars(found))


def _sheet(found: ProofPlan, args: argparse.Namespace) -> bytes:
    from barfem.model.read import read_bar
    from barfem.show.bench_sheet import bench_sheet_pdf

    assert found.tested is not None
    return bench_sheet_pdf(read_bar(bar_path(args.bar)), found, found.tested)


SHEET = Declared(
    "--sheet",
    "write the test sheet to fill in: strokes, forces, strains, bars, when to stop",
    _sheet,
    metavar="FILE.pdf",
    endings=(".pdf",),
    what="sheet",
    message="wrote {}",
)
OUTPUTS = (replace(JSON, make=_json), csv_of("plan:plan_table", "the plan"), SHEET)


def add_parser(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = command(commands, "plan", DESCRIPTION, EPILOG, bar=False)
    cycles, share = number(least=1.0), number(above=0.0, below=1.0)
    parser.add_argument("bar", metavar="BAR.toml", nargs="?", help="a bar file")
    parser.add_argument("--target", metavar="N", type=cycles, help="cycles to show (without a bar file)")
    parser.add_argument(
        "--survival", metavar="R", type=share, help="share of bars that reaches it (default: the bar's, or 0.90)"
    )
    parser.add_argument(
        "--confidence", metavar="C", type=number(least=0.5, below=1.0), default=0.90, help="default 0.90"
    )
    spread = parser.add_mutually_exclusive_group()
    spread.add_argument(
        "--deviation",
        metavar="S",
        type=number(least=0.01, below=2.0),
        help="standard deviation of log10 life (default: the bar's or 0.2)",
    )
    spread.add_argument("--weibull", metavar="B", type=number(above=0.25, below=100.0), help="Weibull shape, instead")
    parser.add_argument("--median", metavar="N", type=cycles, help="median life expected, for the chance to pass")
    parser.add_argument("--bars", metavar="N", type=count(1), help="this many bars alone")
    add_outputs(parser, OUTPUTS)


def run(args: argparse.Namespace) -> int:
    """Print the plan. Returns 0; raises InputError where the input is wrong."""
    out = Outputs(args, OUTPUTS, inputs=[args.bar] if args.bar else [])
    if (args.bar is None) == (args.target is None):
        raise InputError("the target comes from a bar file or from --target.", expected="one of both.")

    if args.sheet is not None and args.bar is None:
        raise InputError("a test sheet without a bar.", where="--sheet", expected="BAR.toml with it.")

    tested = None
    from barfem.check.plan import DEFAULT_DEVIATION, LifeToShow, life_to_show, plan_tests, tested_pair
    from barfem.show.plan import print_plan
    from barfem.strength.duty.scatter import LifeScatter

    if args.bar is not None:
        from barfem.check.api import check_bar
        from barfem.model.read import read_bar

        bar = read_bar(bar_path(args.bar))
        result = check_bar(bar)
        judged, tested = life_to_show(result), tested_pair(result, bar)
    else:
        judged = LifeToShow(
            target=args.target, unit="cycles", survival=0.90, median_life=None, log10_life_deviation=None
        )
    if args.weibull is not None:
        scatter, scatter_words = LifeScatter(weibull_shape=args.weibull), f"Weibull shape {args.weibull:g}, as given"
    elif args.deviation is not None:
        scatter = LifeScatter(log10_life_deviation=args.deviation)
        scatter_words = f"standard deviation {args.deviation:g} of log10 life, as given"
    else:
        scatter = LifeScatter(log10_life_deviation=judged.log10_life_deviation or DEFAULT_DEVIATION)
        scatter_words = judged.scatter_words
    as_checked = bool(judged.lives) and (args.weibull, args.deviation, args.median) == (None, None, None)
    plan = plan_tests(
        target=judged.target,
        unit=judged.unit,
        survival=judged.survival if args.survival is None else args.survival,
        confidence=args.confidence,
        scatter=scatter,
        scatter_words=scatter_words,
        median_life=judged.median_life if args.median is None else args.median,
        lasts=judged.share_that_lasts if as_checked else None,
        bars=args.bars,
    )
    plan = replace(plan, tested=tested)
    out.write(plan, then=lambda: print_plan(plan))
    return 0
