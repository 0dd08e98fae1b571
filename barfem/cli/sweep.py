"""`barfem sweep BAR.toml KEY=VALUES ...`: any keys of a bar file over lists or ranges."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from barfem.cli.bar_file import bar_path
from barfem.cli.outputs import SAVE, Declared, Outputs, add_dialect, add_outputs
from barfem.cli.parser import Commands, command
from barfem.cli.study import add_choice, add_workers

if TYPE_CHECKING:
    from barfem.study.sweep import SweepResult

__all__ = ["add_parser", "run"]

DESCRIPTION = """\
Makes a bar for every combination of the given keys' values, solves and judges
each, and gives a row for each hole: rate, force, stress, margin, life, and
whether it meets its targets. A combination that makes no bar is a row that says
why.
"""

EPILOG = """\
examples
  barfem sweep BAR.toml section.diameter=20:26:7
  barfem sweep BAR.toml section.diameter=22,24 "mounts.*.length=30,40"
  barfem sweep BAR.toml section.diameter=20:26:61 arms.length=240:300:31 \\
      --hole 2 --workers 2 --save S.jsonl --out S.parquet
  barfem sweep BAR.toml --paired section.diameter=20,22 section.wall=3.5,4

keys
  As in the bar file: section.diameter, mounts.1.from_middle, mounts.*.length
  (all), ends.holes.soft.from_tip (by name), material.surface. FIRST:LAST:COUNT
  is COUNT values from FIRST to LAST, with a unit 0.8in:1in:5; else a list with
  commas, or a TOML list in brackets.

exit status
  0  done, whatever was found
  2  the input is wrong
"""


def _is_parquet(args: argparse.Namespace) -> bool:
    return args.out is not None and args.out.lower().endswith(".parquet")


def _csv(found: SweepResult, args: argparse.Namespace) -> str:
    from barfem.show.csv_file import columns_csv

    return columns_csv(found.columns, args.csv_dialect or "comma")


def _out(found: SweepResult, args: argparse.Namespace) -> str | bytes:
    from barfem.show.sweep import parquet_bytes

    return parquet_bytes(found) if _is_parquet(args) else _csv(found, args)


OUTPUTS = (
    SAVE,
    Declared(
        "--out",
        "all rows as .csv or .parquet; - is CSV on standard output alone",
        _out,
        endings=(".csv", ".parquet"),
        what="CSV or Parquet file",
        stdout=True,
        message="Written: {}",
        styles=("csv_dialect",),
    ),
    Declared(
        "--csv",
        "all rows as CSV; - is standard output alone",
        _csv,
        stdout=True,
        more=add_dialect,
        styles=("csv_dialect",),
    ),
)


def add_parser(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = command(commands, "sweep", DESCRIPTION, EPILOG)
    parser.add_argument("keys", metavar="KEY=VALUES", nargs="+", help="what varies, and over what")
    parser.add_argument("--paired", action="store_true", help="first values together, then second ones; no grid")
    add_choice(parser)
    add_workers(parser)
    add_outputs(parser, OUTPUTS)


def run(args: argparse.Namespace) -> int:
    """Sweep, write and print. Returns 0; raises InputError where the input is wrong."""
    from barfem.model.read import read_bar
    from barfem.show.sweep import needs_pyarrow, print_sweep
    from barfem.show.tolerance_progress import kept_in
    from barfem.study.sweep import sweep
    from barfem.study.sweep_keys import parse_key

    path = bar_path(args.bar)
    keys = [parse_key(text) for text in args.keys]
    bar = read_bar(path)
    out = Outputs(args, OUTPUTS, inputs=[path])
    save = out.path("save")
    if _is_parquet(args):
        needs_pyarrow()
    with kept_in(save) as progress:
        found = sweep(
            bar,
            keys,
            paired=args.paired,
            holes=args.hole,
            case=args.case,
            workers=args.workers,
            cluster=args.cluster,
            save=save,
            progress=progress,
            taken_up=progress.taken_up,
        )
    out.write(found, then=lambda: print_sweep(found))
    return 0
