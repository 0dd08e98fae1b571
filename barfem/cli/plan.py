"""`barfem plan`: how many bars to test, and to what life, to show a target."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

from barfem.model.errors import InputError
from barfem.version import __version__

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
  barfem plan --target 200000 --survival 0.9 --confidence 0.9 --deviation 0.2
  barfem plan --target 200000 --weibull 2 --bars 4
"""


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = subparsers.add_parser(
        "plan",
        help="how many bars to test, and to what life, to show a target",
        description=DESCRIPTION,
        epilog=EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("bar", metavar="BAR.toml", nargs="?", help="a bar file")
    parser.add_argument("--target", metavar="N", help="cycles to show (without a bar file)")
    parser.add_argument("--survival", metavar="R", help="share of bars that reaches it (default: the bar's, or 0.90)")
    parser.add_argument("--confidence", metavar="C", default="0.90", help="default 0.90")
    spread = parser.add_mutually_exclusive_group()
    spread.add_argument("--deviation", metavar="S", help="standard deviation of log10 life (default: the bar's or 0.2)")
    spread.add_argument("--weibull", metavar="B", help="Weibull shape, instead")
    parser.add_argument("--median", metavar="N", help="median life expected, for the chance to pass")
    parser.add_argument("--bars", metavar="N", help="this many bars alone")
    parser.add_argument("--json", metavar="FILE", help="write the plan as JSON; - is standard output, nothing else")


def run(args: argparse.Namespace) -> int:
    """Print the plan. Returns 0; raises InputError where the input is wrong."""
    target_file = None
    if args.json is not None and args.json != "-":
        from barfem.show.output import check_output_path

        target_file = check_output_path(args.json, option="--json", inputs=[args.bar] if args.bar else [])
    if (args.bar is None) == (args.target is None):
        raise InputError("the target comes from a bar file or from --target.", expected="one of both.")

    from dataclasses import asdict

    from barfem.check.plan import DEFAULT_DEVIATION, Judged, judged_of, plan_tests
    from barfem.strength.duty.scatter import LifeScatter

    confidence = _share("--confidence", args.confidence)
    survival = None if args.survival is None else _share("--survival", args.survival)
    median = None if args.median is None else _number("--median", args.median)
    given = [_number(option, text) for option, text in _spreads(args) if text is not None]
    bars = None if args.bars is None else _whole("--bars", args.bars)
    if args.bar is not None:
        from barfem.check.api import check_bar

        judged = judged_of(check_bar(Path(args.bar)))
    else:
        judged = Judged(
            target=_number("--target", args.target),
            unit="cycles",
            survival=0.90,
            median_life=None,
            log10_life_deviation=None,
        )
    if args.weibull is not None:
        scatter, said = LifeScatter(weibull_shape=given[0]), f"Weibull shape {args.weibull}, as given"
    elif args.deviation is not None:
        scatter = LifeScatter(log10_life_deviation=given[0])
        said = f"standard deviation {args.deviation} of log10 life, as given"
    else:
        scatter = LifeScatter(log10_life_deviation=judged.log10_life_deviation or DEFAULT_DEVIATION)
        said = judged.scatter_words
    plan = plan_tests(
        target=judged.target,
        unit=judged.unit,
        survival=judged.survival if survival is None else survival,
        confidence=confidence,
        scatter=scatter,
        said=said,
        median_life=judged.median_life if median is None else median,
        bars=bars,
    )
    if args.json is not None:
        text = json.dumps({"format": 1, "barfem": __version__, **asdict(plan)}, indent=2, allow_nan=False) + "\n"
        if target_file is None:
            sys.stdout.write(text)
            return 0
        from barfem.show.output import write_whole

        write_whole(target_file, text, option="--json")
    from barfem.show.plan import print_plan

    print_plan(plan)
    return 0


def _spreads(args: argparse.Namespace) -> tuple[tuple[str, str | None], ...]:
    return ("--deviation", args.deviation), ("--weibull", args.weibull)


def _number(option: str, text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not 0.0 < value < float("inf"):
        raise InputError(f"{text!r} cannot be.", where=option, expected="a number above 0.")
    return value


def _share(option: str, text: str) -> float:
    value = _number(option, text)
    if not value < 1.0:
        raise InputError(f"{text} is not a share.", where=option, expected="between 0 and 1, such as 0.90.")
    return value


def _whole(option: str, text: str) -> int:
    value = _number(option, text)
    if value != int(value):
        raise InputError(f"{text} is not a whole number.", where=option, expected="1 or more.")
    return int(value)
