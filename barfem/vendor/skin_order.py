"""What an order says of the skin: the drawing's own words, else what the check counts on; it is never left out."""

from __future__ import annotations

from barfem.model.bar import Bar
from barfem.vendor.maker_tables import drawing_of

__all__ = ["coating_asked", "peening_asked"]


def peening_asked(bar: Bar) -> str | None:
    """[drawing] peening, or the peening of [material]; None where there is neither."""
    own, peening = drawing_of(bar).peening, bar.steel.peening
    if own or peening is None:
        return own
    coverage = peening.coverage_percent
    known, open_ = (f", coverage {coverage:g} %", "") if coverage is not None else ("", " and coverage")
    return f"shot-peened outside{known}; intensity{open_} not given: to be agreed"


def coating_asked(bar: Bar) -> str | None:
    """[drawing] coating, or the plating of [material]; None where there is neither."""
    plating = bar.steel.plating
    return drawing_of(bar).coating or (f"{plating} plated; process not given: to be agreed" if plating else None)
