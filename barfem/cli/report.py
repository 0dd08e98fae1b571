"""`barfem report BAR.toml`: one page that holds the whole check, with pictures; as HTML, PDF and separate figures."""

from __future__ import annotations

import argparse
from dataclasses import replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from barfem.cli.bar_file import bar_path
from barfem.cli.outputs import SAVE, Declared, Outputs, add_outputs
from barfem.cli.parser import Commands, command, status
from barfem.cli.report_studies import add_options, other_bars, refuse_options_alone, study_sections
from barfem.cli.study import add_judged
from barfem.model.errors import InputError
from barfem.model.frozen import frozen

if TYPE_CHECKING:
    from barfem.check.result import CheckResult
    from barfem.show.figures.picture import Picture
    from barfem.show.output import Content
    from barfem.show.report.sections import Section

__all__ = ["add_parser", "run"]

DESCRIPTION = """\
Checks the bar in BAR.toml and writes a report to send: verdict, the bar in 3D
coloured by margin, every hole setting, stress, fatigue, loads, assumptions and
inputs, in one HTML file that opens anywhere, offline too. Where asked, how far
bars of the drawing differ, and other bars beside this one.
"""

EPILOG = """\
examples
  barfem report geometries/pickup-front-solid.toml --out report.html
  barfem report BAR.toml --out bar.html --tolerance --samples 512 --save B.jsonl
  barfem report BAR.toml --pdf bar.pdf --one-page --date 2026-03-01
  barfem report BAR.toml --out bar.html --compare "tube 28x4.5" --equal-rate

--pdf prints with a Chromium browser of this machine: the one that the
environment variable BARFEM_BROWSER names, else the first on the path or in the
usual folders of Windows and macOS. Without one, open the HTML file in any
browser and print it: it is made for paper too.

The same bar file and the same versions give the same files, to the byte (the
PDF but for its date).

exit status
  0  every hole setting meets its targets
  1  at least one does not
  2  the input is wrong: the message says what, where, and what would be right
"""


@frozen
class _Found:
    """All that goes to the page and to the figures."""

    path: Path
    result: CheckResult
    extra: list[Section]
    pictures: list[Picture]
    browser: str | None
    date: str = ""
    one_page: bool = False

    @cached_property
    def page(self) -> str:
        from barfem.show.report.page import report_page

        return report_page(
            self.result,
            bar_text=self.path.read_text(encoding="utf-8"),
            extra=self.extra,
            date=self.date,
            one_page=self.one_page,
        )


def _pdf(found: _Found, args: argparse.Namespace) -> bytes:
    from barfem.show.report.paper import one_page_to_pdf, page_to_pdf

    made = one_page_to_pdf if found.one_page else page_to_pdf
    return made(found.page, paper=args.paper or "A4", browser=found.browser or "")


def _figures(found: _Found, args: argparse.Namespace) -> dict[str, Content]:
    from barfem.show.figures.files import figure_files

    return dict(figure_files(found.result, found.pictures))


def _paper(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--paper", choices=("A4", "Letter"), help="of the PDF (default A4)")


OUTPUTS = (
    Declared(
        "--out",
        "write the page there; one file, nothing else needed",
        lambda found, args: found.page,
        metavar="FILE.html",
        endings=(".html", ".htm"),
        what="page",
        message="wrote {}",
    ),
    Declared(
        "--pdf",
        "print the page to PDF with a browser of this machine",
        _pdf,
        metavar="FILE.pdf",
        endings=(".pdf",),
        what="PDF",
        message="wrote {}",
        more=_paper,
        styles=("paper",),
    ),
    Declared(
        "--figures",
        "write each figure as SVG and PNG into this folder",
        _figures,
        metavar="DIR",
        kind="folder",
        message="wrote figures into {}, each as SVG and PNG",
    ),
    replace(SAVE, help="take bars from it that barfem tolerance --save made; add others"),
)


def add_parser(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = command(commands, "report", DESCRIPTION, EPILOG)
    add_outputs(parser, OUTPUTS)
    parser.add_argument("--date", metavar="DATE", default="", help="a date for page one, as it is to be read there")
    parser.add_argument("--one-page", action="store_true", help="page one alone; as a PDF exactly one sheet")
    add_judged(parser)
    add_options(parser)


def run(args: argparse.Namespace) -> int:
    """Write what was asked for. Returns 0 or 1 as `barfem check`; raises InputError, with nothing written, for 2."""
    if args.out is None and args.pdf is None and args.figures is None:
        raise InputError(
            "nothing is asked for.", where="--out", expected="--out FILE.html, --pdf FILE or --figures DIR."
        )
    if args.out is not None and args.out.lower().endswith(".pdf"):
        raise InputError(
            f"{args.out} would be a page by the name of a PDF.", where="--out", expected=f"--pdf {args.out}."
        )
    refuse_options_alone(args)
    path = bar_path(args.bar)
    others, sections = other_bars(args)
    out = Outputs(args, OUTPUTS, inputs=[path, *others])
    browser = None
    if args.pdf is not None:
        from barfem.show.report.paper import find_browser

        browser = find_browser()

    from barfem.check.api import check_bar
    from barfem.check.timing import Timing
    from barfem.show.progress import Progress

    with Progress() as progress:
        result = check_bar(path, case=args.case, mixed=args.mixed, timing=Timing(on_stage=progress.stage))
    extra, pictures = study_sections(args, result.states.bar, others, sections, out.path("save"))

    from barfem.show.notes import verdict

    with Progress("report"):
        found = _Found(path, result, extra, pictures, browser, args.date, args.one_page)
        out.write(found, then=lambda: print(verdict(result)))
    return status(result.passes)
