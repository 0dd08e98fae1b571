"""`barfem report BAR.toml`: one page that holds the whole check, with pictures; as HTML, PDF and separate figures."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from barfem.cli.bar_file import bar_path
from barfem.cli.check import FAILS, PASSES
from barfem.cli.report_studies import add_options, other_bars, refuse_options_alone, study_sections
from barfem.cli.study import save_target
from barfem.model.errors import InputError
from barfem.model.load_case import CASES

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


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = subparsers.add_parser(
        "report",
        help="the check as one page to send: HTML, PDF, figures",
        description=DESCRIPTION,
        epilog=EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("bar", metavar="BAR.toml", help="the bar file")
    parser.add_argument("--out", metavar="FILE.html", help="write the page there; one file, nothing else needed")
    parser.add_argument("--pdf", metavar="FILE.pdf", help="print the page to PDF with a browser of this machine")
    parser.add_argument("--paper", choices=("A4", "Letter"), default="A4", help="of the PDF (default A4)")
    parser.add_argument("--figures", metavar="DIR", help="write each figure as SVG and PNG into this folder")
    parser.add_argument("--mixed", action="store_true", help="add every unequal pair of holes, left and right")
    parser.add_argument(
        "--case",
        choices=tuple(CASES),
        help="judge this load case alone (default: roll, and the others where the bar file gives their travel)",
    )
    add_options(parser)


def run(args: argparse.Namespace) -> int:
    """Write what was asked for. Returns 0 or 1 as `barfem check`; raises InputError, with nothing written, for 2."""
    if args.out is None and args.pdf is None and args.figures is None:
        raise InputError(
            "nothing is asked for.", where="--out", expected="--out FILE.html, --pdf FILE or --figures DIR."
        )
    refuse_options_alone(args)
    path = bar_path(args.bar)
    others, sections = other_bars(args)
    from barfem.show.output import check_output_folder, check_output_path, write_whole

    read = [path, *others]
    out = None if args.out is None else check_output_path(args.out, option="--out", inputs=read)
    pdf = None if args.pdf is None else check_output_path(args.pdf, option="--pdf", inputs=read)
    save = save_target(args.save, inputs=read)
    if save is not None and save.absolute() in (each.absolute() for each in (out, pdf) if each is not None):
        raise InputError(f"{save} is both bars and page.", where="--save", expected="another file name.")
    if out is not None and pdf is not None and out.absolute() == pdf.absolute():
        raise InputError(f"{out} is both page and PDF.", where="--pdf", expected="another file name.")
    folder = None if args.figures is None else check_output_folder(args.figures, option="--figures")
    browser = None
    if pdf is not None:
        from barfem.show.report.paper import find_browser

        browser = find_browser()

    from barfem.check.api import check_with_states
    from barfem.check.timing import Timing
    from barfem.show.progress import Progress

    with Progress(sys.stderr) as progress:
        result, solved = check_with_states(
            path, case=args.case, mixed=args.mixed, timing=Timing(on_stage=progress.stage)
        )
    extra, pictures = study_sections(args, solved.bar, others, sections, save)
    with Progress(sys.stderr) as progress:
        files: list[tuple[Path, str | bytes, str]] = []
        if folder is not None:
            progress.stage("figures")
            from barfem.show.figures.files import figure_files

            files += [(folder / name, content, "--figures") for name, content in figure_files(result, solved, pictures)]
        if out is not None or pdf is not None:
            progress.stage("report")
            from barfem.show.report.page import report_page

            page = report_page(result, solved, bar_text=path.read_text(encoding="utf-8"), extra=extra)
            if out is not None:
                files.append((out, page, "--out"))
            if pdf is not None and browser is not None:
                progress.stage("print")
                from barfem.show.report.paper import page_to_pdf

                files.append((pdf, page_to_pdf(page, paper=args.paper, browser=browser), "--pdf"))
        # Everything is made before anything is written.
        if folder is not None:
            folder.mkdir(exist_ok=True)
        for target, content, option in files:
            write_whole(target, content, option=option)

    from barfem.show.notes import verdict

    print(verdict(result))
    for target in filter(None, (out, pdf)):
        print(f"wrote {target} ({target.stat().st_size / 1000:.0f} kB)")
    if folder is not None:
        count = sum(option == "--figures" for *_, option in files) // 2
        print(f"wrote {count} figures into {folder}, each as SVG and PNG")
    return PASSES if result.passes else FAILS
