"""`barfem bends`: the bender's rows and points out of a bar file, and back into one."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from barfem.cli.bar_file import bar_path
from barfem.cli.outputs import Declared, Outputs, add_outputs
from barfem.cli.parser import Commands, command
from barfem.model.errors import InputError
from barfem.model.grouped import counted

__all__ = ["add_parser", "run"]

DESCRIPTION = """\
Prints the rows (length, rotation, angle, radius) and points of the finished
part from either tip and of either hand, with cut length, mass, clocking and
tools, and writes them as CSV. With --to it goes the other way: bend data of
rows or points becomes a bar file.
"""

EPILOG = """\
examples
  barfem bends BAR.toml
  barfem bends BAR.toml --start left --hand other --csv bends.csv
  barfem bends BAR.toml --xyz points.csv
  barfem bends bends.csv --to NEW.toml --like BAR.toml

--to lays the rows out from where the bar of --like has that tip, its first
straight and first bend plane; flats and holes keep their clocking; the rest is
that bar's.

Rotations are right-handed about the walking direction, from the start tip to
the other tip. No springback is in any file: it is the maker's business.
"""

OUTPUTS = (
    Declared("--csv", "write the rows as bend data CSV", lambda found, args: _rows(found), endings=(".csv",)),
    Declared("--xyz", "write the points as CSV", lambda found, args: _points(found), endings=(".csv",)),
    Declared(
        "--to",
        "the bar file to write from bend data",
        lambda found, args: found[2],
        metavar="NEW.toml",
        endings=(".toml",),
        bar_file=True,
        message="wrote {}",
    ),
)


def add_parser(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = command(commands, "bends", DESCRIPTION, EPILOG, bar=False)
    parser.add_argument("bar", metavar="FILE", help="a bar file; with --to, bend data CSV")
    parser.add_argument("--start", choices=("right", "left"), default="right", help="start tip (default right)")
    parser.add_argument(
        "--hand", choices=("as-drawn", "other"), default="as-drawn", help="other: mirrored in the car's middle plane"
    )
    parser.add_argument("--like", metavar="BAR.toml", help="with --to: the bar file that all else is taken from")
    parser.add_argument(
        "--angles", choices=("turned",), help="with --to: angles all above 90 deg are angles turned, not included"
    )
    parser.add_argument("--force", action="store_true", help="let --to replace a file that is there")
    add_outputs(parser, OUTPUTS)


def run(args: argparse.Namespace) -> int:
    """Print, write, or read back. Returns 0; raises InputError where the input is wrong."""
    from barfem.model.read import read_bar

    if args.to is not None:
        return _back(args)
    if args.like is not None or args.angles is not None:
        raise InputError(
            "--like and --angles go with --to.", where="--to", expected="--to NEW.toml, to read bend data."
        )
    if args.bar.lower().endswith(".csv"):
        raise InputError(
            f"{args.bar} is bend data, not a bar file.", expected="--to NEW.toml --like BAR.toml with it, to read it."
        )
    path = bar_path(args.bar)
    out = Outputs(args, OUTPUTS, inputs=[path])
    from barfem.show.bends import print_bends
    from barfem.vendor.maker_tables import bending_of
    from barfem.vendor.part import part_of

    bar = read_bar(path)
    part = part_of(bar, start_tip=args.start, hand=args.hand, end_allowance_mm=bending_of(bar).end_allowance)
    out.write((bar, part, None), lambda: print_bends(bar, part))
    return 0


def _back(args: argparse.Namespace) -> int:
    from barfem.model.read import read_bar
    from barfem.study.written import bar_file_text
    from barfem.vendor.bend_data import read_bend_data
    from barfem.vendor.bent_bar import (
        bar_with_rows,
        head_differences,
        hole_differences,
        refuse_other_convention,
    )

    if args.like is None:
        raise InputError(
            "bend data alone makes no bar: steel, ends, mounts, links and travel are missing.",
            where="--like",
            expected="--like BAR.toml, the bar file to take them from.",
        )
    if args.csv is not None or args.xyz is not None or args.start != "right" or args.hand != "as-drawn":
        raise InputError(
            "--csv, --xyz, --start and --hand go with a bar file.", where="--to", expected="--to and --like alone."
        )
    like_path = bar_path(args.like)
    out = Outputs(args, OUTPUTS, inputs=[args.bar, like_path])
    like = read_bar(like_path)
    data = read_bend_data(args.bar, angles_turned=args.angles == "turned")
    refuse_other_convention(data, like, angles_turned=args.angles == "turned")
    try:
        bar = bar_with_rows(data, like)
    except InputError as error:
        both = f"{data.file}, the rest from {like_path.name}"
        raise InputError(error.problem, where=error.where, expected=error.expected, file=both) from error
    text = bar_file_text(
        bar,
        like_path,
        head=f"Centreline read by barfem bends from {args.bar.rpartition('/')[2]}, the rest from {like_path.name}.\n"
        "Comments below are the original's: they may speak of its centreline.",
        folder=Path(args.to).parent,
    )

    def say() -> None:
        print(f"{data.file}: {counted(len(data.rows) - 1, 'bend')} as {data.kind} from the {data.start_tip} tip.")
        if data.hand == "other":
            print("note: the file says that it is of the other hand; it is laid out as it is, not mirrored back.")
        for note in (*data.notes, *head_differences(data, bar), *hole_differences(data, bar)):
            print(f"note: {note}.")
        print(f"Developed length {bar.centreline.length_mm:.1f} mm.")

    out.write((bar, None, text), say)
    return 0


def _rows(found: Any) -> str:
    from barfem.vendor.bend_data import rows_csv

    return rows_csv(found[0], found[1])


def _points(found: Any) -> str:
    from barfem.vendor.bend_data import points_csv

    return points_csv(found[0], found[1])
