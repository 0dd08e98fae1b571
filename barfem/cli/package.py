"""`barfem package BAR.toml --out DIR`: everything the maker needs in one folder, or nothing."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import Any

from barfem.cli.bar_file import bar_path
from barfem.cli.outputs import Declared, Outputs, add_outputs
from barfem.cli.parser import Commands, command
from barfem.model.errors import InputError
from barfem.model.grouped import counted

__all__ = ["add_parser", "run"]

WRITTEN, WITHHELD = 0, 1

DESCRIPTION = """\
Reviews the bar and writes drawing (PDF, SVG, DXF), solid (STEP), bend data,
points, inspection sheet, review and the bar file itself into one folder, with
a manifest of every file's SHA-256. A stop of the review withholds all of it,
unless --despite gives the reason, which the manifest then holds.
"""

EPILOG = """\
examples
  barfem package BAR.toml --out to-the-bender
  barfem package BAR.toml --out to-the-bender --replace
  barfem package BAR.toml --out for-a-trial --despite "trial of the bends only"

exit status
  0  the package is written
  1  a stop of the review withholds it
  2  the input is wrong
"""


OUTPUTS = (
    Declared(
        "--out",
        "the folder, new or empty",
        lambda files, args: files,
        metavar="DIR",
        kind="folder",
        whole=True,
        message="wrote {}",
    ),
)


def add_parser(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = command(commands, "package", DESCRIPTION, EPILOG)
    add_outputs(parser, OUTPUTS)
    parser.add_argument("--replace", action="store_true", help="replace the package that is in the folder")
    parser.add_argument("--despite", metavar="REASON", help="write it although the review says stop")
    parser.add_argument("--with-results", action="store_true", help="add stress, margin and life: drawing and summary")
    parser.add_argument(
        "--date", metavar="YYYY-MM-DD", help="date in the manifest (default none: same input, same bytes)"
    )


def run(args: argparse.Namespace) -> int:
    """Review, make and write. Returns 0 or 1; raises InputError, with nothing written, for 2."""
    path = bar_path(args.bar)
    if args.out is None:
        raise InputError("no folder is named.", where="--out", expected="--out DIR, a new or empty folder.")
    if args.despite is not None and not args.despite.strip():
        raise InputError("the reason is empty.", where="--despite", expected="why it goes out although it must not.")
    stale = _there(Path(args.out), replace=args.replace)
    out = Outputs(args, OUTPUTS, inputs=[path])
    date = _date(args.date)
    from barfem.model.read import read_bar
    from barfem.show.package import Package, package_files
    from barfem.show.progress import Progress
    from barfem.vendor.review import review_bar

    bar = read_bar(path)
    with Progress("review") as progress:
        review = review_bar(bar)
        if review.stops and args.despite is None:
            _withheld(review)
            return WITHHELD
        despite = args.despite.strip() if args.despite is not None and review.stops else None
        package = Package(bar, review, path, args.with_results, despite, date)
        files = package_files(package, on_part=progress.stage)
    asks = review.count("ask")

    def say() -> None:
        print(f"{counted(len(files), 'file')}; the review says {len(review.stops)} stop, {asks} ask: review.txt.")

    out.write(files, say)
    for name in stale - set(files):
        (Path(args.out) / name).unlink(missing_ok=True)
    return WRITTEN


def _withheld(review: Any) -> None:
    print(f"Withheld: {len(review.stops)} stop(s) of the review. Nothing is written.")
    for each in review.stops:
        print(f"  {each.rule}, {each.where}: {each.what}.")
    print('barfem review says more; --despite "REASON" writes it all the same.')


def _there(folder: Path, *, replace: bool) -> set[str]:
    """File names of the package that is in the folder and is to be replaced.

    Raises
    ------
    InputError
        The folder holds something, and is not to be replaced or is more than a package.
    """
    if not folder.is_dir():
        return set()
    there = {each.name for each in folder.iterdir()}
    if not there:
        return set()
    if not replace:
        raise InputError(
            f"{folder} is not empty.",
            where="--out",
            expected="a new or empty folder, or --replace for a package in it.",
        )
    try:
        listed = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
        known = {each["name"] for each in listed["files"]} | {"manifest.json"} if "files" in listed else set()
        known = known if listed.get("kind") == "data package" else set()
    except (OSError, ValueError, TypeError, KeyError, AttributeError):
        known = set()
    foreign = sorted(there - known)
    if foreign:
        raise InputError(
            f"{folder} holds {foreign[0]}, which is no file of a package.",
            where="--replace",
            expected="a folder that holds a package and nothing else.",
        )
    return there


def _date(text: str | None) -> str | None:
    from datetime import date

    if text is None:
        return None
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError:
        raise InputError(f"{text!r} is no date.", where="--date", expected="YYYY-MM-DD, such as 2026-11-28.") from None
