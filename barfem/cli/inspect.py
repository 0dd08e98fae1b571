"""`barfem inspect BAR.toml MEASURED.csv ...`: bars that came back, judged; the sheet to fill in; plans for lots."""

from __future__ import annotations

import argparse
import os
from pathlib import Path
from typing import TYPE_CHECKING

from barfem.cli.bar_file import bar_path
from barfem.cli.outputs import JSON, Declared, Outputs, add_outputs, json_text
from barfem.cli.parser import Commands, command, status
from barfem.cli.values import count, number
from barfem.model.errors import InputError
from barfem.model.frozen import frozen

if TYPE_CHECKING:
    from barfem.model.bar import Bar
    from barfem.vendor.inspect import Inspection
    from barfem.vendor.sampling import Plan

__all__ = ["add_parser", "run"]

WORTH_WORKERS, MOST_WORKERS = 30, 4  # bars from which on further processes repay their start

DESCRIPTION = """\
Judges bars that came back, one or a lot: which rows of the bend table are off
and by how much, the other hand, exchanged ends, clocking, section, hardness;
and each bar as received through the whole check. Form is judged in function:
the bar in its mounts, turned until both outermost holes are equally off.
Without measured files: the sheet to fill in (--sheet, --csv), or a plan for a
lot (--lot-size).
"""

EPILOG = """\
examples
  barfem inspect BAR.toml --sheet sheet.pdf --csv sheet.csv
  barfem inspect BAR.toml measured.csv --json judged.json
  barfem inspect BAR.toml measured.csv --lot-size 60 --as-received came
  barfem inspect BAR.toml --lot-size 60 --plan variables

verdicts
  accept            all that was measured is within the drawing
  accept with note  a person decides: outside, but as received it passes every
                    target; or measured and not to be judged; or within the
                    drawing, and failing by what was measured
  rework            bend angles and rotations, where [inspection] rework = true;
                    coating
  reject            what no rework mends, or what does not pass as received

exit status
  0  every bar (by a plan: the lot) is accepted without a note
  1  one is not, or too few were measured for the plan
  2  the input is wrong
"""


def _json(found: _Found, args: argparse.Namespace) -> str:
    if found.inspection is None:
        return json_text({"bars": [], "lot": {"plan": found.plan}})
    return json_text(found.inspection.to_json_dict())


@frozen
class _Found:
    """What a run found; None what it was not asked for."""

    bar: Bar
    inspection: Inspection | None
    plan: Plan | None


def _sheet(found: _Found, args: argparse.Namespace) -> bytes:
    from barfem.show.inspect_sheet import sheet_pdf

    return sheet_pdf(found.bar)


def _csv(found: _Found, args: argparse.Namespace) -> str:
    from barfem.vendor.inspect_sheet import sheet_csv

    return sheet_csv(found.bar)


def _as_received(found: _Found, args: argparse.Namespace) -> dict[str, str]:
    from barfem.vendor.inspect_files import received_files

    assert found.inspection is not None
    return received_files(found.bar, found.inspection, bar_path(args.bar), folder=Path(args.as_received))


SHEET = Declared(
    "--sheet",
    "write the sheet to fill in",
    _sheet,
    metavar="FILE.pdf",
    endings=(".pdf",),
    what="sheet",
    message="wrote {}",
)
CSV = Declared(
    "--csv",
    "write the same as CSV, values to be filled in",
    _csv,
    endings=(".csv",),
    what="CSV file",
    message="wrote {}",
)
RECEIVED = Declared(
    "--as-received",
    "write each bar as received as a bar file into this folder",
    _as_received,
    metavar="DIR",
    kind="folder",
    may_hold=lambda args: [name for name in (Path(args.bar).name,) if name.startswith("as-received-")],
    message="wrote bars as received into {}",
)
OUTPUTS = (Declared("--json", JSON.help, _json, stdout=True), SHEET, CSV, RECEIVED)


def add_parser(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = command(commands, "inspect", DESCRIPTION, EPILOG)
    share = number(above=0.0, below=1.0)
    parser.add_argument("measured", metavar="MEASURED.csv", nargs="*", help="inspection CSV, one value a line")
    parser.add_argument(
        "--fit",
        choices=("function", "points"),
        default="function",
        help="deviations in the datums of the mounts, or by least squares of all points (default function)",
    )
    parser.add_argument("--any-revision", action="store_true", help="read files of another drawing or revision")
    parser.add_argument("--lot-size", metavar="N", type=count(1), help="bars in the lot: prints how many to measure")
    parser.add_argument(
        "--plan",
        metavar="KIND",
        choices=("attributes", "variables", "iso-2859"),
        help="attributes (default), variables or iso-2859",
    )
    parser.add_argument(
        "--accept", metavar="P", type=share, help="share of bad bars that is good enough (default 0.01)"
    )
    parser.add_argument("--reject", metavar="P", type=share, help="share that must not pass (default 0.10)")
    parser.add_argument("--producer", metavar="R", type=share, help="risk of turning down a good lot (default 0.05)")
    parser.add_argument("--consumer", metavar="R", type=share, help="risk of taking a bad lot (default 0.10)")
    add_outputs(parser, OUTPUTS)


def run(args: argparse.Namespace) -> int:
    """Judge, write and print. Returns 0 or 1; raises InputError where the input is wrong."""
    path = bar_path(args.bar)
    out = Outputs(args, OUTPUTS, inputs=[path, *args.measured])
    _refuse(args)
    from barfem.model.read import read_bar

    bar = read_bar(path)
    plan = _plan(args)
    if not args.measured:
        out.write(_Found(bar, None, plan), then=lambda: _print_plan(plan))
        return 0
    from barfem.show.inspect import print_inspection
    from barfem.show.progress import Progress
    from barfem.vendor.inspect import inspect_bars
    from barfem.vendor.inspect_reading import read_inspection

    files = [read_inspection(each, bar, any_revision=args.any_revision) for each in args.measured]
    many = sum(len(file.bars) for file in files)
    if plan is not None and many > plan.lot:
        raise InputError(
            f"{many} bars were measured of a lot of {plan.lot}.", where="--lot-size", expected="the bars in the lot."
        )
    with Progress("bars as received") as progress:
        done = 0

        def count_off(more: int) -> None:
            nonlocal done
            done += more
            progress.stage(f"{done} of {many} bars as received")

        found = inspect_bars(
            bar,
            files,
            fit=args.fit,
            plan=plan,
            progress=count_off,
            workers=min(os.cpu_count() or 1, MOST_WORKERS) if many >= WORTH_WORKERS else 1,
        )
    out.write(_Found(bar, found, plan), then=lambda: print_inspection(found, plan=plan))
    return status(found.accepted if plan is None else found.lot.plan_accepts is True)


def _refuse(args: argparse.Namespace) -> None:
    wanted = args.measured or args.sheet or args.csv or args.lot_size
    if not wanted:
        raise InputError(
            "nothing to do.",
            where="inspect",
            expected="MEASURED.csv to judge, --sheet FILE.pdf to fill in, or --lot-size N for a plan.",
        )
    if args.as_received and not args.measured:
        raise InputError("no bar was measured.", where="--as-received", expected="MEASURED.csv with it.")
    if args.measured and (args.sheet or args.csv):
        raise InputError(
            "the sheet to fill in goes without measured files.",
            where="--sheet" if args.sheet else "--csv",
            expected="BAR.toml alone with it.",
        )
    if args.lot_size is None:
        for option in ("plan", "accept", "reject", "producer", "consumer"):
            if getattr(args, option) is not None:
                raise InputError("a plan without a lot.", where=f"--{option}", expected="--lot-size N with it.")


def _plan(args: argparse.Namespace) -> Plan | None:
    if args.lot_size is None:
        return None
    from barfem.vendor.sampling import plan_lot

    given = {key: getattr(args, key) for key in ("accept", "reject", "producer", "consumer")}
    return plan_lot(
        args.plan or "attributes",
        lot=args.lot_size,
        **{key: value for key, value in given.items() if value is not None},
    )


def _print_plan(plan: Plan | None) -> None:
    if plan is not None:
        from barfem.show.inspect import print_sampling

        print_sampling(plan)
