"""`barfem setup-sheet CAR.toml`: one A4 page for the buyer of a kit."""

from __future__ import annotations

import argparse
from typing import Any

from barfem.cli.car_options import add_car_options, read_question
from barfem.cli.outputs import JSON, Declared, Options, Outputs, add_outputs
from barfem.cli.parser import Commands, command
from barfem.model.errors import InputError

__all__ = ["add_parser", "run"]

DESCRIPTION = """\
One A4 page for the buyer of a kit: holes from softest to stiffest, a pair to
start from and why, how to zero the links, empty fields for torque and grease,
what it holds for, cautions. No stress, no life, no drawing numbers.
"""

EPILOG = """\
examples
  barfem setup-sheet geometries/coupe-car.toml --out sheet.html --pdf sheet.pdf

--pdf prints with a Chromium browser of this machine, as barfem report does.

exit status
  0  written
  2  the input is wrong
"""


def _page(found: Any, args: Options) -> str:
    from barfem.show.car.setup_sheet import setup_sheet

    return setup_sheet(found)


def _pdf(found: Any, args: Options) -> bytes:
    from barfem.show.report.paper import find_browser, one_page_to_pdf

    less = "fewer holes in the bars, or --out FILE.html."
    return one_page_to_pdf(_page(found, args), paper="A4", browser=find_browser(), where="--pdf", expected=less)


OUTPUTS = (
    Declared("--out", "write the page there; one file, nothing else needed", _page, metavar="FILE.html",
             endings=(".html", ".htm"), what="page", message="wrote {}"),
    Declared("--pdf", "print it to PDF with a browser of this machine", _pdf, metavar="FILE.pdf",
             endings=(".pdf",), what="PDF", message="wrote {}"),
    JSON,
)  # fmt: skip


def add_parser(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = command(commands, "setup-sheet", DESCRIPTION, EPILOG, bar=False)
    add_car_options(parser)
    add_outputs(parser, OUTPUTS)


def run(args: argparse.Namespace) -> int:
    """Write the sheet. Returns 0; raises InputError, with nothing written, where the input is wrong."""
    if args.out is None and args.pdf is None and args.json is None:
        raise InputError("nothing is asked for.", where="--out", expected="--out FILE.html, or --pdf FILE.")
    from barfem.car.setup import set_up
    from barfem.show.progress import Progress

    asked = read_question(args)
    out = Outputs(args, OUTPUTS, inputs=asked.inputs)
    if args.pdf is not None:
        from barfem.show.report.paper import find_browser

        find_browser()
    with Progress("sheet"):
        found = set_up(asked.car, **asked.fitted)
    from barfem.show.car.words import print_asked

    # The sheet goes to the buyer: what may be a slip is asked of who writes it.
    out.write(found, then=lambda: print_asked(found.car))
    return 0
