"""Records of the places that come next, and of the bar's ends hole by hole."""

from __future__ import annotations

from collections.abc import Iterable

from barfem.model.frozen import frozen
from barfem.strength.fatigue.life import InCycles

__all__ = ["EndState", "HoleState", "LifePlace", "Place", "by_margin"]


@frozen(kw_only=True)
class Place:
    """The worst point of one region of the bar, over all solved states.

    `kind` is "straight", "bend", "transition", "flat", "hole", "mount edge" or "collar"; `index` counts from the right
    tip. `yield_margin` is the local yield strength / von Mises stress - 1.
    """

    kind: str
    index: int
    where: str
    von_mises_MPa: float
    station_mm: float
    surface: str
    from_middle_mm: float | None = None
    at: str | None = None
    yield_strength_MPa: float | None = None
    yield_margin: float | None = None


def by_margin(places: Iterable[Place]) -> list[Place]:
    """Places that have a yield margin, the least first.

    Alike to rounding, as the two sides of a symmetric bar are, the one nearer the right tip comes first.
    """
    known = [(round(place.yield_margin, 5), place) for place in places if place.yield_margin is not None]
    return [place for _, place in sorted(known, key=lambda item: item[0])]


@frozen(kw_only=True)
class LifePlace(InCycles):
    """The point of one region of the bar at which its life is shortest, concentration included; as `Fatigue` has it."""

    kind: str
    index: int
    where: str
    station_mm: float
    surface: str
    from_middle_mm: float
    amplitude_MPa: float
    mean_MPa: float
    safety_factor_at_target: float | None
    life_cycles: float | None
    life_at_survival_cycles: float | None
    runout: bool
    reason: str | None = None


@frozen(kw_only=True)
class HoleState(InCycles):
    """One hole of either end in one hole setting.

    `in_use` is whether the link sits in it. `yield_margin` and `von_mises_MPa` are those of its net section, the rest
    those of the worse of net section and edge; null where the hole has no diameter, or nothing loads it.
    `bearing_MPa` is the greatest link force over diameter times depth, nothing being carried by clamping: in use only.
    `edge_distance` is from the hole's middle to the cut end, in hole diameters.
    """

    side: str
    name: str
    in_use: bool
    checked: bool
    von_mises_MPa: float | None = None
    yield_margin: float | None = None
    amplitude_MPa: float | None = None
    mean_MPa: float | None = None
    safety_factor_at_target: float | None = None
    life_cycles: float | None = None
    life_at_survival_cycles: float | None = None
    runout: bool = False
    bearing_MPa: float | None = None
    edge_distance: float | None = None


@frozen(kw_only=True)
class EndState:
    """The weakest places of the bar's ends (holes, flats, transitions), and each hole; null where nothing is loaded."""

    for_stress: Place | None
    for_life: LifePlace | None
    holes: tuple[HoleState, ...]
