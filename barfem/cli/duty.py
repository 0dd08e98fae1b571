"""`barfem duty BAR.toml --history FILE.csv`: a measured travel history to damage and life."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from barfem.cli.bar_file import bar_path
from barfem.cli.plots import add_plots, plots_folder, say_plots
from barfem.model.errors import InputError
from barfem.version import __version__

if TYPE_CHECKING:
    from barfem.model.bar import Bar
    from barfem.strength.duty.history import History

__all__ = ["add_parser", "run"]

DESCRIPTION = """\
Damage and life of a bar under a measured history of both pickups' travel:
turning points, rainflow by ASTM E1049, Miner's rule, at the place where the
life is shortest. Life in repeats of the history, in hours, and in km.

The history is comma-separated text with three columns, named in a header or in
this order: time_s, left_mm, right_mm. Travel of each pickup from rest, up
positive, in mm.
"""

EPILOG = """\
examples
  barfem duty front.toml --history stage.csv --hole 2 --distance 21.4
  barfem duty front.toml --history stage.csv --wheel --json result.json

Blocks of constant travel need no history: [duty] blocks in the bar file, and
barfem check.
"""


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = subparsers.add_parser(
        "duty",
        help="a measured travel history to damage and life",
        description=DESCRIPTION,
        epilog=EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("bar", metavar="BAR.toml", help="the bar file")
    parser.add_argument("--history", metavar="FILE", required=True, help="travel of both pickups over time")
    parser.add_argument("--hole", metavar="NAME", help='hole setting, "2" or "2/3" (left/right); default: each')
    parser.add_argument("--wheel", action="store_true", help="the history is wheel travel (times motion_ratio)")
    parser.add_argument(
        "--hysteresis", metavar="MM", help="travel range taken for noise (default 0.5 %% of the history's span)"
    )
    parser.add_argument("--repeated", action="store_true", help="count the history as one of many repeats of itself")
    add_plots(parser)
    length = parser.add_mutually_exclusive_group()
    length.add_argument("--distance", metavar="KM", help="length of the history, for life in km")
    length.add_argument("--speed", metavar="KM/H", help="mean speed of the history, for life in km")
    parser.add_argument("--json", metavar="FILE", help="write the result as JSON; - is standard output, nothing else")


def run(args: argparse.Namespace) -> int:
    """Print damage and life of each hole setting asked for. Returns 0; raises InputError where the input is wrong."""
    path = bar_path(args.bar)
    target = None
    if args.json is not None and args.json != "-":
        from barfem.show.output import check_output_path

        target = check_output_path(args.json, option="--json", inputs=[path, Path(args.history)])
    inputs = [path, Path(args.history)]
    folder = plots_folder(args, inputs=inputs)
    hysteresis = _positive("--hysteresis", args.hysteresis, zero=True)
    distance, speed = _positive("--distance", args.distance), _positive("--speed", args.speed)

    from barfem.check.history_life import Asked, chosen_hole_settings, history_lives
    from barfem.model.read import read_bar
    from barfem.show.progress import Progress
    from barfem.strength.duty.history import read_history

    bar = read_bar(path)
    settings = chosen_hole_settings(bar, args.hole)
    if args.wheel and bar.travel.motion_ratio is None:
        raise InputError(
            "the bar file gives no motion_ratio.",
            where="--wheel",
            expected="[travel] motion_ratio (pickup travel / wheel travel), or a history of pickup travel.",
        )
    with Progress(sys.stderr) as progress:
        progress.stage("history")
        history = read_history(args.history)
        if args.wheel:
            history = _at_pickups(history, bar)
        progress.stage("holes " + ", ".join(bar.left.holes[setting.left].name for setting in settings))
        made = history_lives(
            bar, history, settings, Asked(hysteresis, "repeat" if args.repeated else "half", distance, speed)
        )
        if folder is not None:
            progress.stage("pictures")
            from barfem.show.figures.history_plots import history_pictures
            from barfem.show.figures.plots import write_plots

            write_plots(folder, history_pictures(bar, made), kind=args.plots_format, inputs=inputs)
    found = [life for life, _ in made]
    if args.json is not None:
        from dataclasses import asdict

        whole = {
            "format": 1,
            "barfem": __version__,
            "name": bar.name,
            "history": history.source,
            "samples": history.samples,
            "duration_s": history.duration_s,
            "survival": bar.targets.survival,
            "settings": [asdict(item) for item in found],
        }
        text = json.dumps(whole, indent=2, allow_nan=False, ensure_ascii=False) + "\n"
        if target is None:
            sys.stdout.write(text)
            return 0
        from barfem.show.output import write_whole

        write_whole(target, text, option="--json")
    from barfem.show.duty import print_history_lives

    print_history_lives(bar, history, found)
    say_plots(folder)
    return 0


def _at_pickups(history: History, bar: Bar) -> History:
    """Wheel travel times the motion ratio."""
    from dataclasses import replace

    ratio = bar.travel.motion_ratio or 1.0
    return replace(history, left_mm=ratio * history.left_mm, right_mm=ratio * history.right_mm)


def _positive(option: str, text: str | None, *, zero: bool = False) -> float | None:
    if text is None:
        return None
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not (value > 0.0 or (zero and value == 0.0)) or value == float("inf"):
        raise InputError(f"{text!r} cannot be.", where=option, expected="a number above 0.")
    return value
