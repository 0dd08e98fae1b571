"""`barfem sweep BAR.toml KEY=VALUES ...`: any keys of a bar file over lists or ranges."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from barfem.cli.bar_file import bar_path
from barfem.cli.study import add_save, add_workers, one_file_each, save_target
from barfem.model.errors import InputError
from barfem.model.load_case import CASES

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
  is COUNT values from FIRST to LAST; else a list with commas, or a TOML list in
  brackets.

exit status
  0  done, whatever was found
  2  the input is wrong
"""

FORMATS = (".csv", ".parquet")


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = subparsers.add_parser(
        "sweep",
        help="any keys of a bar file over lists or ranges, to a table, CSV or Parquet",
        description=DESCRIPTION,
        epilog=EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("bar", metavar="BAR.toml", help="the bar file")
    parser.add_argument("keys", metavar="KEY=VALUES", nargs="+", help="what varies, and over what")
    parser.add_argument("--paired", action="store_true", help="first values together, then second ones; no grid")
    parser.add_argument("--hole", metavar="NAME", action="append", help="this hole alone; repeatable")
    parser.add_argument("--case", choices=tuple(CASES), help="this load case alone")
    parser.add_argument("--out", metavar="FILE", help="all rows as .csv or .parquet; - is CSV on standard output alone")
    add_save(parser)
    add_workers(parser)


def run(args: argparse.Namespace) -> int:
    """Sweep, write and print. Returns 0; raises InputError where the input is wrong."""
    from barfem.model.read import read_bar
    from barfem.show.sweep import csv_text, needs_pyarrow, parquet_bytes, print_sweep
    from barfem.show.tolerance_progress import StudyProgress
    from barfem.study.sweep import sweep
    from barfem.study.sweep_keys import parse_key

    path = bar_path(args.bar)
    keys = [parse_key(text) for text in args.keys]
    bar = read_bar(path)
    target = _target(args.out, path)
    if target is not None and target.suffix.lower() == ".parquet":
        needs_pyarrow()
    save = save_target(args.save, inputs=[path])
    one_file_each(out=target, save=save)
    with StudyProgress(sys.stderr) as progress:
        try:
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
        except KeyboardInterrupt:
            progress.say_what_is_kept(save)
            raise
    if args.out == "-":
        sys.stdout.write(csv_text(found))
        return 0
    if target is not None:
        from barfem.show.output import write_whole

        whole = parquet_bytes(found) if target.suffix.lower() == ".parquet" else csv_text(found)
        write_whole(target, whole, option="--out")
    print_sweep(found, written=None if target is None else str(target))
    return 0


def _target(option: str | None, bar: Path) -> Path | None:
    if option is None or option == "-":
        return None
    from barfem.show.output import check_output_path

    if Path(option).suffix.lower() not in FORMATS:
        raise InputError(f"{option} is neither CSV nor Parquet.", where="--out", expected="a name in .csv or .parquet.")
    return check_output_path(option, option="--out", inputs=[bar])
