"""What a bar file says to the maker: its tables [drawing], [bending], [inspection], [keep_out] and [review]."""

from __future__ import annotations

from typing import Any, TypeVar

from barfem.model.bar import Bar
from barfem.model.schema import BendingTable, DrawingTable, InspectionTable, KeepOutTable, ReviewTable, Table

__all__ = [
    "axis_noted",
    "bending_of",
    "clamp_length_mm",
    "drawing_of",
    "inspection_of",
    "keep_out_of",
    "process_of",
    "review_of",
]

_T = TypeVar("_T", bound=Table)


def _table(bar: Bar, key: str, model: type[_T]) -> _T:
    found: Any = {} if bar.tables is None else bar.tables.get(key, {})
    return model.model_validate(found if isinstance(found, dict) else {"number": found})


def drawing_of(bar: Bar) -> DrawingTable:
    """[drawing]; its number is also where the file says drawing = "..."."""
    return _table(bar, "drawing", DrawingTable)


def bending_of(bar: Bar) -> BendingTable:
    """[bending]."""
    return _table(bar, "bending", BendingTable)


def inspection_of(bar: Bar) -> InspectionTable:
    """[inspection]."""
    return _table(bar, "inspection", InspectionTable)


def keep_out_of(bar: Bar) -> KeepOutTable:
    """[keep_out]."""
    return _table(bar, "keep_out", KeepOutTable)


def review_of(bar: Bar) -> ReviewTable:
    """[review]."""
    return _table(bar, "review", ReviewTable)


def axis_noted(bar: Bar) -> bool:
    """Whether a note of the drawing says along what the holes of round ends are drilled: no key of the file does."""
    return any(word in note.lower() for note in drawing_of(bar).notes for word in ("axis", "axes", "drilled"))


def process_of(bar: Bar) -> str:
    """How the bar is bent: "cold", "cold-mandrel" or "hot".

    Where [bending] does not say: bent before hardening is hot for a solid bar (common practice, no source) and cold
    for a tube; bent after hardening is cold.
    """
    given = bending_of(bar).process
    if given is not None:
        return given
    return "hot" if bar.section.shape == "round" and bar.steel.bent == "before-hardening" else "cold"


def clamp_length_mm(bar: Bar) -> float:
    """Straight that the clamp grips; default twice the diameter (common practice, no source)."""
    return bending_of(bar).clamp_length or 2.0 * bar.section.diameter_mm
