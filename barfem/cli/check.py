"""`barfem check BAR.toml`: every hole setting judged."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from barfem.cli.bar_file import bar_path
from barfem.cli.method import add_method
from barfem.cli.outputs import JSON, Declared, Outputs, add_outputs, csv_of, pictures_of
from barfem.cli.parser import Commands, command, status
from barfem.cli.study import add_judged
from barfem.cli.values import number
from barfem.model.errors import InputError

if TYPE_CHECKING:
    from barfem.check.result import CheckResult
    from barfem.study.advice import Advice

__all__ = ["add_parser", "run"]

DESCRIPTION = """\
Judges every hole setting of the bar in BAR.toml: rate, link force, peak stress
and where it is, yield margin, safety factor and life, and whether it meets its
targets.
"""

EPILOG = """\
examples
  barfem check geometries/pickup-front-solid.toml
  barfem check BAR.toml --case one-wheel --json result.json
  barfem check BAR.toml --model solid --vtu bar.vtu

exit status
  0  every hole setting meets its targets
  1  at least one does not
  2  the input is wrong: the message says what, where, and what would be right;
     or a file could not be written: the table stands all the same

the VTU file (--model solid --vtu FILE), fields at the nodes
  displacement_mm, stress_MPa (tensor), von_mises_MPa   at full travel
  yield_margin     least over the cycle, by the local strength; at most 5
  safety_factor    at the target cycles, on amplitude; at most 5, and 5 inside
  log10_life_at_survival_cycles, log10_life_median_cycles
                   of outside and bore, without holes' and mounts' edges; 7
                   is over what is claimed, and stands inside too; 0 is no life
  life_status      0 stands, 1 over what is claimed, 2 below 1000 cycles, 3,
                   4, 6 stress at the strength, 5 above yield; -1 inside
  judged           1 where the check judges by this stress; 0 inside, on flats
                   and near holes and tips, where it takes the beam's
  station_mm       along the bar from the right tip

the bar file (TOML): geometries/README.md explains every key, geometries/ holds
bars to copy, barfem new writes one from a few answers, barfem schema prints its
keys for editors.
"""


def _vtu(found: CheckResult, args: argparse.Namespace) -> Callable[[Path], object]:
    from barfem.check.api import write_vtu_of

    return lambda path: write_vtu_of(path, found)


OUTPUTS = (
    JSON,
    csv_of("table:settings_tables", "the hole settings"),
    Declared("--vtu", "write the solid at the hole setting with the least yield margin, for viewers", _vtu),
    pictures_of("figures.catalogue:life_of_check"),
)


def add_parser(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = command(commands, "check", DESCRIPTION, EPILOG)
    add_judged(parser)
    add_method(parser)
    parser.add_argument(
        "--refine",
        type=number(least=1.0),
        default=1.0,
        metavar="N",
        help="mesh of the solid: 2 halves its cells (1 to 3, default 1)",
    )
    parser.add_argument(
        "--critical-plane",
        action="store_true",
        help="add Findley's critical plane and the largest principal stress, over one-wheel states as well",
    )
    parser.add_argument(
        "--full", action="store_true", help="print everything: details, worst places, all warnings and assumptions"
    )
    add_outputs(parser, OUTPUTS)
    parser.add_argument(
        "--timing",
        action="store_true",
        help="print the seconds of each stage on standard error, the last line as JSON",
    )


def run(args: argparse.Namespace) -> int:
    """Check the bar file, write and print the result. Returns 0 or 1; raises InputError where the input is wrong."""
    if args.model not in ("beam", "solid"):
        raise InputError(f"there is no model {args.model!r}.", where="--model", expected="beam or solid.")
    path = bar_path(args.bar)
    out = Outputs(args, OUTPUTS, inputs=[path])
    if args.vtu is not None and args.model != "solid":
        raise InputError("the beam has no VTU file.", where="--vtu", expected="--model solid beside it.")

    from barfem.check.api import check_bar
    from barfem.check.timing import Timing
    from barfem.show.progress import Progress

    with Progress() as progress:
        timing = Timing(on_stage=progress.stage)
        result = check_bar(
            path,
            case=args.case,
            mixed=args.mixed,
            timing=timing,
            mean_stress=args.mean_stress,
            critical_plane=args.critical_plane,
            quick=args.quick,
            model=args.model,
            refine=args.refine,
            tell=progress.stage,
        )
    seconds = timing.seconds()

    out.write(result, then=lambda: _show(result, args))
    if out.path("vtu") is not None:
        setting = result.governing_for_stress
        print(f"wrote {out.path('vtu')}: hole {setting.holes}, {setting.case}, at full travel", file=sys.stderr)
    if args.timing:
        for stage, value in seconds.items():
            print(f"{stage:8s} {value:8.3f} s", file=sys.stderr)
        print(json.dumps({stage: round(value, 6) for stage, value in seconds.items()}), file=sys.stderr)
    return status(result.passes)


def _show(result: CheckResult, args: argparse.Namespace) -> None:
    """Print the whole result, or one screen of it, with what would help."""
    from barfem.show.progress import Progress
    from barfem.study.advice import advise, travel_to_spare

    found: tuple[Advice, ...] = ()
    # The swept solid is too slow to search with; a bar that roll does not work has nothing to tune.
    as_the_file_says = args.model == "beam" and not args.quick and args.mean_stress is None
    if as_the_file_says and result.settings and all(row.does_nothing is None for row in result.settings):
        with Progress("what would help"):
            if result.passes:
                spare = travel_to_spare(result.states.bar, case=args.case, solved=result.states)
                found = () if spare is None else (spare,)
            else:
                found = advise(result.states.bar, case=args.case, solved=result.states)
    if args.full:
        from barfem.show.table import print_result

        print_result(result, found)
    else:
        from barfem.show.screen import print_screen

        print_screen(result, found, asked=_asked(args))


def _asked(args: argparse.Namespace) -> str:
    """The options that the result hangs on, as they are typed: with others the same file has other numbers."""
    flags = [f" --{name.replace('_', '-')}" for name in ("mixed", "quick", "critical_plane") if getattr(args, name)]
    values = [
        f" --{name.replace('_', '-')} {getattr(args, name)}"
        for name, usual in (("case", None), ("model", "beam"), ("refine", 1.0), ("mean_stress", None))
        if getattr(args, name) != usual
    ]
    return "".join(values + flags)
