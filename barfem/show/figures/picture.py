"""A picture: what it shows in words, and how to draw it at either size."""

from __future__ import annotations

from collections.abc import Callable

from matplotlib.figure import Figure

from barfem.model.frozen import frozen
from barfem.show.figures.style import Size

__all__ = ["Picture"]


@frozen
class Picture:
    """One figure of a check.

    `slug` is its file name; `caption` what a reader needs to read it; `alt` what it shows, for who cannot see it.
    `draw` is called within `style.context` of the same size.
    """

    slug: str
    title: str
    caption: str
    alt: str
    draw: Callable[[Size], Figure]
