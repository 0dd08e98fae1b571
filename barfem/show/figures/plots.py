"""Pictures of life as files in a folder, PNG or SVG: what `--plots` writes.

Every command asks for the names of its files, so matplotlib is loaded when one is drawn, not before.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from barfem.show.figures.picture import Picture

__all__ = ["SLUGS", "rendered"]

# Names of all files that `--plots` may write, whatever there is to be drawn.
SLUGS = ("haigh-diagram", "stress-life-diagram", "damage-by-block", "damage-along-the-bar", "predicted-over-measured")


def rendered(pictures: Sequence[Picture], kind: str) -> list[tuple[str, str | bytes]]:
    """File name and content of each picture."""
    from barfem.show.figures import render

    return [
        (f"{picture.slug}.{kind}", render.svg(picture) if kind == "svg" else render.png(picture))
        for picture in pictures
    ]
