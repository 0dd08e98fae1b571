"""`barfem duty BAR.toml --history FILE.csv`: a measured travel history to damage and life."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from barfem.cli.bar_file import bar_path
from barfem.cli.outputs import JSON, Outputs, add_outputs, csv_of, pictures_of
from barfem.cli.parser import Commands, command
from barfem.cli.values import number
from barfem.model.errors import InputError

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


OUTPUTS = (
    JSON,
    csv_of("duty:lives_table", "the lives of every hole setting"),
    pictures_of("figures.history_plots:history_pictures"),
)


def add_parser(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = command(commands, "duty", DESCRIPTION, EPILOG)
    parser.add_argument("--history", metavar="FILE", required=True, help="travel of both pickups over time")
    parser.add_argument("--hole", metavar="NAME", help='hole setting, "2" or "2/3" (left/right); default: each')
    parser.add_argument("--wheel", action="store_true", help="the history is wheel travel (times motion_ratio)")
    parser.add_argument(
        "--hysteresis",
        metavar="MM",
        type=number("length", least=0.0),
        help="travel range taken for noise (default 0.5 %% of the history's span)",
    )
    parser.add_argument("--repeated", action="store_true", help="count the history as one of many repeats of itself")
    length = parser.add_mutually_exclusive_group()
    length.add_argument(
        "--distance", metavar="KM", type=number("distance", above=0.0), help="length of the history, for life in km"
    )
    length.add_argument(
        "--speed", metavar="KM/H", type=number("speed", above=0.0), help="mean speed of the history, for life in km"
    )
    add_outputs(parser, OUTPUTS)


def run(args: argparse.Namespace) -> int:
    """Print damage and life of each hole setting asked for. Returns 0; raises InputError where the input is wrong."""
    path = bar_path(args.bar)
    out = Outputs(args, OUTPUTS, inputs=[path, args.history])

    from barfem.check.history_life import Asked, HistoryLives, chosen_hole_settings, history_lives
    from barfem.model.read import read_bar
    from barfem.show.duty import print_history_lives
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
    with Progress("history") as progress:
        history = read_history(args.history)
        if args.wheel:
            history = _at_pickups(history, bar)
        progress.stage("holes " + ", ".join(bar.left.holes[setting.left].name for setting in settings))
        made = history_lives(
            bar,
            history,
            settings,
            Asked(args.hysteresis, "repeat" if args.repeated else "half", args.distance, args.speed),
        )
    found = HistoryLives(bar, history, tuple(made))
    out.write(found, then=lambda: print_history_lives(found))
    return 0


def _at_pickups(history: History, bar: Bar) -> History:
    """Wheel travel times the motion ratio."""
    from dataclasses import replace

    ratio = bar.travel.motion_ratio or 1.0
    return replace(history, left_mm=ratio * history.left_mm, right_mm=ratio * history.right_mm)
