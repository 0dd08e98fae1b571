"""The data package: every file that the maker, the inspector and the test bench need, as one table of parts.

A part is one entry of `PARTS`: its file names, what it is for, and how it is made.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable, Mapping
from functools import cached_property
from pathlib import Path

from barfem.check.plan import plan_of, tested_pair
from barfem.model.bar import Bar, drawing_words
from barfem.model.errors import BarfemError
from barfem.model.frozen import frozen
from barfem.show.bench_sheet import bench_sheet_pdf
from barfem.show.check_summary import summary_pdf
from barfem.show.drawing.dxf import dxf_text
from barfem.show.drawing.ink import Sheet
from barfem.show.drawing.render import render
from barfem.show.drawing.sheet import sheet_of
from barfem.show.inspect_sheet import sheet_pdf
from barfem.show.review import review_text
from barfem.vendor.bend_data import points_csv, rows_csv
from barfem.vendor.inspect_sheet import sheet_csv
from barfem.vendor.maker_tables import bending_of
from barfem.vendor.part import Part, part_of
from barfem.vendor.review import Review
from barfem.vendor.step import step_text
from barfem.version import __version__

__all__ = ["MANIFEST", "PARTS", "Package", "PackagePart", "package_files"]

MANIFEST = "manifest.json"
CAUTION = "Rates and forces are estimates, not a release: validate by test; licensed practice and local rules decide."


@frozen
class Package:
    """What the parts are made from. `despite` is the reason for which a stop of the review was overruled."""

    bar: Bar
    review: Review
    bar_file: Path
    with_results: bool = False
    despite: str | None = None
    date: str | None = None

    @cached_property
    def sheet(self) -> Sheet:
        """The drawing, laid out once for all its formats."""
        return sheet_of(self.bar, results=self.review.checked if self.with_results else None)

    @cached_property
    def part(self) -> Part:
        return part_of(self.bar, end_allowance_mm=bending_of(self.bar).end_allowance)


@frozen
class PackagePart:
    """One part: its file's name, what it is for in a line, and its content.

    `results`: only with the results. `may_fail`: a bar that the review stops may have no answer for it, such as a test
    at a hole that cannot follow its travel; the manifest then says why it is missing.
    """

    name: str
    purpose: str
    make: Callable[[Package], str | bytes]
    results: bool = False
    may_fail: bool = False


def _drawn(kind: str) -> Callable[[Package], bytes]:
    return lambda package: render(package.sheet, kind)


def _test_sheet(package: Package) -> bytes:
    checked = package.review.checked
    return bench_sheet_pdf(package.bar, plan_of(checked), tested_pair(checked, package.bar))


PARTS = (
    PackagePart("drawing.pdf", "the drawing: what is ordered; it stands where files disagree", _drawn("pdf")),
    PackagePart("drawing.svg", "the same, for a screen", _drawn("svg")),
    PackagePart(
        "drawing.dxf", "the same for CAD programs, and the centreline in space", lambda p: dxf_text(p.sheet, p.bar)
    ),
    PackagePart("bar.step", "the finished part as a solid, for fixtures and clearance", lambda p: step_text(p.bar)),
    PackagePart(
        "bends.csv",
        "bend data: rows of length, rotation, angle, radius from the right tip",
        lambda p: rows_csv(p.bar, p.part),
    ),
    PackagePart(
        "points.csv", "tips, tangent points and intersections, in drawing axes", lambda p: points_csv(p.bar, p.part)
    ),
    PackagePart("inspection.pdf", "the sheet to fill in for each finished bar", lambda p: sheet_pdf(p.bar)),
    PackagePart("inspection.csv", "the same as a file, to be sent back with the bars", lambda p: sheet_csv(p.bar)),
    PackagePart(
        "test-sheet.pdf", "the bench test: strokes, forces, strains, bars and when to stop", _test_sheet, may_fail=True
    ),
    PackagePart(
        "review.txt", "what was gone through before this was sent, and what is open", lambda p: review_text(p.review)
    ),
    PackagePart(
        "check-summary.pdf",
        "rate, stress, margin and life of every hole",
        lambda p: summary_pdf(p.review.checked),
        results=True,
    ),
)


def package_files(package: Package, *, on_part: Callable[[str], object] = lambda name: None) -> dict[str, bytes]:
    """Contents of the package by file name, the manifest last; the same bar file gives the same bytes.

    Parameters
    ----------
    package
        What it is made from.
    on_part
        Told the name of each part before it is made.
    """
    made: dict[str, tuple[bytes, str]] = {}
    missing: dict[str, str] = {}
    for part in PARTS:
        if part.results and not package.with_results:
            continue
        on_part(part.name)
        try:
            content = part.make(package)
        except BarfemError as error:
            if not (part.may_fail and package.review.stops):
                raise
            missing[part.name] = str(error)
            continue
        made[part.name] = (content.encode("utf-8") if isinstance(content, str) else content, part.purpose)
    name = re.sub("[\ud800-\udfff]", "_", package.bar_file.name)  # of bytes that are not UTF-8
    made[name] = (package.bar_file.read_bytes(), "the bar file that all of it was made from")
    made["read-me-first.txt"] = (_first(package, made).encode("utf-8"), "what is what")
    manifest = _manifest(package, made, missing)
    return {name: content for name, (content, _) in made.items()} | {MANIFEST: manifest}


def _named(package: Package) -> str:
    bar = package.bar
    return drawing_words(bar.drawing, bar.revision) or "without number"


def _first(package: Package, made: Mapping[str, tuple[bytes, str]]) -> str:
    width = max(len(name) for name in made)
    lines = [f"Data package of {package.bar.name}", f"Drawing {_named(package)}", ""]
    lines += [f"  {name:{width}}  {purpose}" for name, (_, purpose) in made.items()]
    lines += [
        f"  {MANIFEST:{width}}  every file with its size and SHA-256",
        "",
        "Geometry is that of the finished part, unloaded, at 20 C. No springback is in any file: it is the maker's.",
        "The start tip of rows and points is the right one. Rotations are right-handed about the walking direction,",
        "from the start tip to the other tip; at the machine the same number is the right-handed turn of the workpiece",
        "about the direction in which the material moves.",
        CAUTION,
        "",
    ]
    if package.despite is not None:
        lines += [f"Sent although the review says stop, for this reason: {package.despite}", ""]
    return "\n".join(lines)


def _manifest(package: Package, made: Mapping[str, tuple[bytes, str]], missing: Mapping[str, str]) -> bytes:
    data = {
        "format": 1,
        "barfem": __version__,
        "kind": "data package",
        "name": package.bar.name,
        "drawing": package.bar.drawing,
        "revision": package.bar.revision,
        "input_sha256": hashlib.sha256(package.bar_file.read_bytes()).hexdigest(),
        "date": package.date,
        "with_results": package.with_results,
        "despite": package.despite,
        "stops": [f"{each.rule}: {each.what}" for each in package.review.stops],
        "asks": package.review.count("ask"),
        "missing": dict(missing),
        "files": [
            {"name": name, "what": purpose, "size": len(content), "sha256": hashlib.sha256(content).hexdigest()}
            for name, (content, purpose) in made.items()
        ],
    }
    return (json.dumps(data, indent=2, ensure_ascii=False) + "\n").encode("utf-8")
