"""All figures of a check, in the order in which a reader meets them."""

from __future__ import annotations

from barfem.check.result import CheckResult
from barfem.show.figures import along, around, bar, compliance, damage_along, damage_blocks, haigh, settings, sketch, sn
from barfem.show.figures.data import FigureData
from barfem.show.figures.measured_plot import measured_picture
from barfem.show.figures.picture import Picture

__all__ = ["all_pictures", "life_of_check", "pictures_of_check", "pictures_of_life"]


def pictures_of_check(result: CheckResult) -> tuple[Picture, ...]:
    """Every picture of a result alone."""
    return all_pictures(FigureData(result))


def life_of_check(result: CheckResult) -> tuple[Picture, ...]:
    """Those of life, of a result alone."""
    return pictures_of_life(FigureData(result))


def all_pictures(data: FigureData) -> tuple[Picture, ...]:
    """Every picture that the result has numbers for."""
    made = [
        sketch.picture(data),
        bar.picture(data),
        along.picture(data),
        around.picture(data),
        settings.picture(data),
        compliance.picture(data),
        *pictures_of_life(data),
    ]
    return tuple(found for found in made if found is not None)


def pictures_of_life(data: FigureData) -> tuple[Picture, ...]:
    """Haigh and stress-life diagrams, damage by block (where the duty has blocks) and along the bar, and tests against
    predictions (of a line without tests of its own).
    """
    made: list[Picture | None] = []
    if not data.result.feels_nothing:  # else there is no cycle to draw
        made += [haigh.picture(data), sn.picture(data), damage_blocks.picture(data), damage_along.picture(data)]
    if data.bar.steel.stress_life is None:
        made.append(measured_picture(data.bar.steel.skin))
    return tuple(found for found in made if found is not None)
