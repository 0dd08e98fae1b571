"""All figures of a check, in the order in which a reader meets them."""

from __future__ import annotations

from barfem.show.figures import along, around, bar, compliance, haigh, settings, sn
from barfem.show.figures.data import FigureData
from barfem.show.figures.picture import Picture

__all__ = ["all_pictures"]


def all_pictures(data: FigureData) -> tuple[Picture, ...]:
    """Every picture that the result has numbers for."""
    made = [
        bar.picture(data),
        along.picture(data),
        around.picture(data),
        settings.picture(data),
        compliance.picture(data),
        haigh.picture(data),
        sn.picture(data),
    ]
    return tuple(found for found in made if found is not None)
