"""Tables of the places that come next, for stress and for life, and of the bar's ends hole by hole."""

from __future__ import annotations

from collections.abc import Callable

from barfem.check.fatigue import Fatigue
from barfem.check.result import CheckResult, Place, SettingResult
from barfem.check.weak_places import HoleState, LifePlace, by_margin
from barfem.show.lives import life_text
from barfem.show.numbers import ratio, whole
from barfem.show.parts import hole_columns, place
from barfem.show.tables import Cell, Table, column, table, words

__all__ = ["ends", "holes", "worst_for_life", "worst_for_stress"]


def worst_for_stress(result: CheckResult) -> Table | None:
    """The places with the least yield margin at the hole setting that governs stress, and the three next."""
    setting = result.governing_for_stress
    known = by_margin(setting.places)
    if not known:
        return None
    shown: tuple[Place, ...] = (known[0], *setting.next_for_stress)
    return table(
        "places",
        f"The worst places at hole {setting.holes}, {setting.case}, by yield margin",
        shown,
        [
            words("Place", lambda item: place(item.where, item.surface)),
            column("Von Mises", "MPa", lambda item: item.von_mises_MPa, show=whole),
            column("Yield", "MPa", lambda item: item.yield_strength_MPa, show=whole),
            column("Yield\nmargin", "", lambda item: item.yield_margin, show=_to(result.yield_margin_target)),
            column("Station", "mm", lambda item: item.station_mm, show="{:.0f}".format),
        ],
    )


def worst_for_life(result: CheckResult) -> Table | None:
    """The place with the shortest life at the hole setting that governs life, and the three next."""
    setting = result.governing_for_life
    if not setting.next_for_life:
        return None
    shown: tuple[Fatigue | LifePlace, ...] = (setting.fatigue, *setting.next_for_life)
    return table(
        "life-places",
        f"The worst places at hole {setting.holes}, {setting.case}, by life",
        shown,
        [
            words("Place", lambda item: place(item.where, item.surface)),
            column("Ampl.", "MPa", lambda item: item.amplitude_MPa, show=whole),
            column("Safety\nfactor", "", lambda item: item.safety_factor_at_target, show=_to(1.0)),
            column("Life, cycles", "", lambda item: life_text(item.life)),
            column("Station", "mm", lambda item: item.station_mm, show="{:.0f}".format),
        ],
        f"Life at {100 * result.survival:g} % survival to median; amplitudes with concentration and contact. A place "
        "and its mirror image that are stressed alike are named once.",
    )


def ends(result: CheckResult) -> Table | None:
    """The weakest place of the bar's ends in each hole setting."""
    shown = [setting for setting in result.settings if setting.end is not None and setting.end.for_life is not None]
    if not shown:
        return None
    target = result.yield_margin_target
    return table(
        "ends",
        "The ends of the bar",
        shown,
        [
            *hole_columns(result),
            words("Weakest place of the ends", lambda s: place(s.end.for_life.where, s.end.for_life.surface)),
            column("Yield\nmargin", "", lambda s: s.end.for_stress and s.end.for_stress.yield_margin, show=_to(target)),
            column("Safety\nfactor", "", lambda s: s.end.for_life.safety_factor_at_target, show=_to(1.0)),
            column("Life, cycles", "", lambda s: life_text(s.end.for_life.life)),
        ],
        "Holes, flats and transitions. The place is that with the shortest life; the yield margin is the least of all.",
    )


def holes(result: CheckResult) -> Table | None:
    """Each hole of the ends, in use or not, at the hole setting whose ends are weakest in fatigue."""
    known = [setting for setting in result.settings if setting.end is not None and setting.end.for_life is not None]
    if not known:
        return None
    setting = min(known, key=_end_factor)
    if setting.end is None:
        return None
    target = result.yield_margin_target

    def checked(hole: HoleState, value: float | None) -> float | None:
        return value if hole.checked else None

    return table(
        "holes",
        f"Holes at hole {setting.holes}, {setting.case}",
        setting.end.holes,
        [
            words("Hole", lambda hole: f"{hole.side} {hole.name}"),
            column("In\nuse", "", lambda hole: hole.in_use),
            column("Net", "MPa", lambda hole: hole.von_mises_MPa if hole.checked else Cell("not checked"), show=whole),
            column(
                "Yield\nmargin",
                "",
                lambda hole: checked(hole, hole.yield_margin),
                show=_to(target),
            ),
            column("Ampl.", "MPa", lambda hole: checked(hole, hole.amplitude_MPa), show=whole),
            column("Safety\nfactor", "", lambda hole: checked(hole, hole.safety_factor_at_target), show=_to(1.0)),
            column("Bolt", "MPa", lambda hole: hole.bearing_MPa, show=whole),
            column("Edge,\ndiam.", "", lambda hole: hole.edge_distance, show="{:.1f}".format),
        ],
        "Net: von Mises stress of the net section. Amplitude: at the worse of net section and edge, concentration "
        "included. Bolt: link force over diameter times depth. Edge: hole's middle to the cut end.",
    )


def _to(target: float) -> Callable[[float], str]:
    """Shows a margin or factor, never rounded up to its target."""
    return lambda value: ratio(value, target)


def _end_factor(setting: SettingResult) -> float:
    place = None if setting.end is None else setting.end.for_life
    return float("inf") if place is None or place.safety_factor_at_target is None else place.safety_factor_at_target
