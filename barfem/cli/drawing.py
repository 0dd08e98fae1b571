"""`barfem drawing BAR.toml`: the dimensioned sheet for the maker, as PDF, SVG or DXF, and the solid as STEP."""

from __future__ import annotations

import argparse
from typing import Any

from barfem.cli.bar_file import bar_path
from barfem.cli.outputs import Declared, Outputs, add_outputs
from barfem.cli.parser import Commands, command
from barfem.model.errors import InputError

__all__ = ["add_parser", "run"]

DESCRIPTION = """\
Draws the finished part on one sheet: views, sections and details with
dimensions, bend table, tangent points in the datum of inspection, holes,
tolerances, notes and title block, from the bar file and its tables [drawing]
and [bending]. Every dimension is the model's own. No stress or life is on it,
since it leaves the house, unless --with-results asks for them.
"""

EPILOG = """\
examples
  barfem drawing BAR.toml --out drawing.pdf
  barfem drawing BAR.toml --out drawing.dxf --step bar.step
  barfem drawing BAR.toml --out drawing.svg --paper A2 --projection third

The same bar file gives the same bytes: dates stand in [drawing] or nowhere.
"""


def _sheet(found: Any, args: argparse.Namespace) -> Any:
    bar, sheet = found
    kind = args.out.rpartition(".")[2].lower()
    if kind == "dxf":
        from barfem.show.drawing.dxf import dxf_text

        return dxf_text(sheet, bar)
    from barfem.show.drawing.render import render

    return render(sheet, kind)


def _step(found: Any, args: argparse.Namespace) -> str:
    from barfem.vendor.step import step_text

    return step_text(found[0])


OUTPUTS = (
    Declared(
        "--out",
        "the sheet: a name that ends in .pdf, .svg, .dxf or .png",
        _sheet,
        endings=(".pdf", ".svg", ".dxf", ".png"),
        what="drawing",
        message="wrote {}",
    ),
    Declared(
        "--step",
        "the finished part as a solid, for CAD programs",
        _step,
        endings=(".step", ".stp"),
        what="STEP file",
        message="wrote {}",
    ),
)


def add_parser(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = command(commands, "drawing", DESCRIPTION, EPILOG)
    parser.add_argument(
        "--paper", choices=("auto", "A4", "A3", "A2", "A1"), help="size of the sheet (default [drawing], else auto)"
    )
    parser.add_argument("--projection", choices=("first", "third"), help="default [drawing], else first")
    parser.add_argument("--with-results", action="store_true", help="put stress, margin and life among the notes")
    add_outputs(parser, OUTPUTS)


def run(args: argparse.Namespace) -> int:
    """Draw and write. Returns 0; raises InputError where the input is wrong."""
    path = bar_path(args.bar)
    if args.out is None and args.step is None:
        raise InputError("nothing is asked for.", where="--out", expected="--out drawing.pdf, --step bar.step or both.")
    out = Outputs(args, OUTPUTS, inputs=[path])
    from barfem.model.read import read_bar

    bar = read_bar(path)
    sheet = None
    if args.out is not None:
        from barfem.show.drawing.sheet import sheet_of

        results = None
        if args.with_results:
            from barfem.check.api import check_bar

            results = check_bar(bar)
        sheet = sheet_of(bar, paper=args.paper, projection=args.projection, results=results)

    def say() -> None:
        if sheet is not None:
            print(f"{sheet.title}: {sheet.paper}, views 1:{sheet.scale}.")

    out.write((bar, sheet), say)
    return 0
