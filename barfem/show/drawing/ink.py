"""What lies on a sheet: lines, texts and dimensions in mm of paper, from the lower left corner of the trimmed sheet.

Sheet by ISO 5457:1999 (from memory, sure): frame 20 mm from the left edge, 10 mm from the others. Line widths by ISO
128, group 0.5 (0.7 on A1). Letters by ISO 3098: heights are of capitals.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from barfem.model.frozen import frozen

__all__ = [
    "CAPITAL",
    "PAPERS",
    "Group",
    "Ink",
    "PaperDimension",
    "Sheet",
    "Stroke",
    "Writing",
    "one_decimal",
    "size",
    "text_box",
    "text_width_mm",
    "wrapped",
]

Array = NDArray[np.float64]
Style = Literal["outline", "thin", "centre", "phantom", "hidden", "frame"]
Align = Literal["left", "center", "right"]
PAPERS = {"A4": (210.0, 297.0), "A3": (420.0, 297.0), "A2": (594.0, 420.0), "A1": (841.0, 594.0)}
CAPITAL = 0.729
"""Height of a capital over the font's size, DejaVu Sans."""


@frozen
class Group:
    """Ink of one or more views that are drawn to one scale, paper over model."""

    name: str
    scale: float


@frozen
class Stroke:
    """A polyline; `circle` is (x, y, radius) where it is one."""

    points_mm: Array
    style: Style
    filled: bool = False
    group: Group | None = None
    circle: tuple[float, float, float] | None = None


@frozen
class Writing:
    """A text whose capitals are `height_mm` high; (x, y) is its baseline at the left, middle or right."""

    x_mm: float
    y_mm: float
    text: str
    height_mm: float = 2.5
    align: Align = "left"
    upright: bool = False  # turned by 90 deg, read from the right
    bold: bool = False
    group: Group | None = None


@frozen
class PaperDimension:
    """A linear dimension on paper; `value_mm` is the model's, and text says it."""

    key: str
    one_mm: tuple[float, float]
    other_mm: tuple[float, float]
    line_mm: float  # y of a horizontal dimension line, x of a vertical one
    vertical: bool
    value_mm: float
    group: Group
    given: bool = False  # a size that the bar file gives: said as it is given

    @property
    def text(self) -> str:
        return size(self.value_mm) if self.given else one_decimal(self.value_mm)


def one_decimal(value: float) -> str:
    """To one decimal, as a sheet says lengths and angles; halves go away from zero, alike at both ends of a bar, also
    where rounding of the geometry leaves one of them a hair short. No minus zero."""
    text = f"{value + math.copysign(1e-6, value):.1f}"
    return "0.0" if text == "-0.0" else text


def size(value: float) -> str:
    """A diameter or a wall, to three decimals at most, as those of inches need, and one at least."""
    text = f"{value:.3f}".rstrip("0")
    return f"{text}0" if text.endswith(".") else text


@dataclass
class Ink:
    """Everything on a sheet, in the order in which it was drawn; `group` is that of what is drawn next."""

    strokes: list[Stroke] = field(default_factory=list)
    writings: list[Writing] = field(default_factory=list)
    dimensions: list[PaperDimension] = field(default_factory=list)
    group: Group | None = None

    @contextmanager
    def within(self, name: str, scale: float) -> Iterator[Group]:
        """What is drawn meanwhile belongs to a group of views."""
        before, self.group = self.group, Group(name, scale)
        yield self.group
        self.group = before

    def line(self, *points: tuple[float, float], style: Style = "thin", filled: bool = False) -> None:
        self.curve(np.array(points, float), style, filled)

    def curve(self, points_mm: Array, style: Style, filled: bool = False) -> None:
        self.strokes.append(Stroke(points_mm, style, filled, self.group))

    def box(self, left: float, bottom: float, right: float, top: float, style: Style = "thin") -> None:
        self.line((left, bottom), (right, bottom), (right, top), (left, top), (left, bottom), style=style)

    def circle(self, x: float, y: float, radius: float, style: Style = "outline") -> None:
        angle = np.linspace(0.0, 2.0 * np.pi, 61)
        points = np.stack([x + radius * np.cos(angle), y + radius * np.sin(angle)], axis=1)
        self.strokes.append(Stroke(points, style, False, self.group, (x, y, radius)))

    def write(
        self, x: float, y: float, text: str, *, height_mm: float = 2.5, align: Align = "left", upright: bool = False,
        bold: bool = False,
    ) -> None:  # fmt: skip
        self.writings.append(Writing(x, y, text, height_mm, align, upright, bold, self.group))

    def arrow(self, tip: tuple[float, float], way: tuple[float, float], size: float = 3.0) -> None:
        """A filled arrow head of 30 deg, its tip there, pointing along `way` (ISO 129-1)."""
        u = np.array(way, float) / np.linalg.norm(way)
        across = np.array([-u[1], u[0]]) * size * np.tan(np.radians(15.0))
        back = np.array(tip) - size * u
        self.curve(np.array([tip, back + across, back - across, tip]), "thin", True)


@frozen
class Sheet:
    """A finished sheet: paper, scale denominator of the views, its ink, and the lines and texts of its dimensions."""

    paper: str
    width_mm: float
    height_mm: float
    scale: int
    title: str
    ink: Ink
    dimension_ink: Ink

    @property
    def writings(self) -> list[Writing]:
        """Every text, those of dimensions with them."""
        return [*self.ink.writings, *self.dimension_ink.writings]

    @property
    def frame(self) -> tuple[float, float, float, float]:
        """(left, bottom, right, top) of the drawing space."""
        return 20.0, 10.0, self.width_mm - 10.0, self.height_mm - 10.0


@lru_cache(maxsize=4096)
def text_width_mm(text: str, height_mm: float, bold: bool = False) -> float:
    """Width of a text in the sheet's font."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import TextToPath

    size = 100.0
    font = FontProperties(family="DejaVu Sans", size=size, weight="bold" if bold else "normal")
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")  # told where the sheet is drawn
        width, _, _ = TextToPath().get_text_width_height_descent(text, font, ismath=False)
    return float(width) / size * height_mm / CAPITAL


def text_box(writing: Writing) -> tuple[float, float, float, float]:
    """(left, bottom, right, top) of a text, from under its baseline to over its capitals."""
    width = text_width_mm(writing.text, writing.height_mm, writing.bold)
    start = {"left": 0.0, "center": -0.5 * width, "right": -width}[writing.align]
    low, high = -0.25 * writing.height_mm, 1.05 * writing.height_mm
    x, y = writing.x_mm, writing.y_mm
    if writing.upright:
        return x - high, y + start, x - low, y + start + width
    return x + start, y + low, x + start + width, y + high


def wrapped(text: str, width_mm: float, height_mm: float) -> list[str]:
    """A text in lines that are no wider; one word alone may be."""
    lines: list[str] = []
    for word in text.split():
        if lines and text_width_mm(f"{lines[-1]} {word}", height_mm) <= width_mm:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines
