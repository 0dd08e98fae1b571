"""Every figure of a check as files: SVG to scale and print, PNG to paste."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from barfem.check.result import CheckResult
from barfem.show.figures import render
from barfem.show.figures.catalogue import all_pictures
from barfem.show.figures.data import FigureData
from barfem.show.figures.picture import Picture

__all__ = ["figure_files"]


def figure_files(result: CheckResult, extra: Sequence[Picture] = ()) -> Iterator[tuple[str, str | bytes]]:
    """File name and content of each figure, SVG as text and PNG as bytes; `extra` are those of studies."""
    stamp = _stamp(result)
    for picture in (*all_pictures(FigureData(result)), *extra):
        yield f"{picture.slug}.svg", render.svg(picture, stamp=stamp)
        yield f"{picture.slug}.png", render.png(picture, stamp=stamp)


LONGEST_NAME = 80
"""Letters of a bar's name in a stamp: of a longer one the line ran out of the figure, its beginning first."""


def _stamp(result: CheckResult) -> str:
    """What a figure is of, for who finds it alone: bar, drawing and revision, and which bar file and version."""
    return ", ".join(
        filter(
            None,
            (
                result.name if len(result.name) <= LONGEST_NAME else f"{result.name[: LONGEST_NAME - 1]}\u2026",
                result.drawing and f"drawing {result.drawing}",
                result.revision and f"revision {result.revision}",
                result.input_sha256 and f"bar file SHA-256 {result.input_sha256[:12]}",
                f"barfem {result.barfem}",
            ),
        )
    )
