"""What is true of a comparison and against first expectation: a sentence each, only where the numbers bear it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import field, replace
from typing import ClassVar

from barfem.check.result import CheckResult, SettingResult, UnsolvedSetting
from barfem.model.bar import Bar
from barfem.model.frozen import frozen
from barfem.model.plain import NOT_IN_JSON, json_key

__all__ = ["Candidate", "View", "facts_of", "spot"]

NOTICEABLE = 0.02
"""Differences below this share are not worth a sentence."""


@frozen
class Candidate:
    """One bar of a comparison and its check. `resized_from` names what it was before it was made equal."""

    letter: str
    name: str = field(metadata=json_key("bar"))
    bar: Bar = field(metadata=NOT_IN_JSON)
    result: CheckResult = field(metadata=NOT_IN_JSON)
    resized_from: str | None = None

    _json_also: ClassVar[Mapping[str, str]] = {
        "source": "bar.source",
        **{name: f"bar.section.{name}" for name in ("shape", "diameter_mm", "wall_mm")},
        **{name: f"result.{name}" for name in ("mass_kg", "passes", "warnings")},
        "settings": "result.json_rows",
    }


@frozen
class View:
    """The bars in one light: "equal geometry", "as drawn", "equal rate", "equal stress" or "equal mass".

    The last three say at which `hole` what `target` (in `unit`) was met; `missing` are the bars that cannot.
    """

    kind: str = field(metadata=json_key("view"))
    candidates: tuple[Candidate, ...] = field(metadata=json_key("bars"))
    hole: str | None = None
    target: float | None = None
    unit: str | None = None
    missing: tuple[str, ...] = ()


def facts_of(views: Sequence[View], *, one_geometry: bool) -> Iterator[str]:
    """Sentences for all views together, of the bars that have a hole setting that could be solved."""
    views = [replace(view, candidates=tuple(c for c in view.candidates if c.result.settings)) for view in views]
    first = views[0]
    if not first.candidates:
        return
    if one_geometry:
        yield from _thicker_is_more_stressed(first)
    yield from _stiffest_governs(first)
    yield from _weak_places(first)
    for view in views[1:]:
        yield from _equal(view)


def setting_of(result: CheckResult, like: SettingResult | UnsolvedSetting) -> SettingResult | UnsolvedSetting | None:
    """The same hole setting and load case of another bar, by the names of its holes."""
    wanted = (like.left, like.right, like.case)
    return next((each for each in result.rows if (each.left, each.right, each.case) == wanted), None)


def _stiffest(result: CheckResult) -> SettingResult:
    first = [setting for setting in result.settings if setting.case == result.settings[0].case]
    return max(first, key=lambda setting: setting.rate_N_per_mm or 0.0)


def _thicker_is_more_stressed(view: View) -> Iterator[str]:
    """At a given travel and for one shape of section."""
    for shape in ("round", "tube"):
        alike = [each for each in view.candidates if each.bar.section.shape == shape]
        alike.sort(key=lambda each: (each.bar.section.diameter_mm, each.bar.section.wall_mm or 0.0))
        if len(alike) < 2 or alike[0].bar.section.diameter_mm == alike[-1].bar.section.diameter_mm:
            continue
        thin, thick = alike[0], alike[-1]
        at = _stiffest(thin.result)
        other = setting_of(thick.result, at)
        if not isinstance(other, SettingResult) or not at.peak.von_mises_MPa > 0.0:
            continue
        rise = other.peak.von_mises_MPa / at.peak.von_mises_MPa - 1.0
        if rise > NOTICEABLE:
            yield (
                f"At equal travel the thicker bar is more stressed, not less: {thick.name} has {_percent(rise)} more "
                f"stress than {thin.name} at hole {at.holes}, because it takes more force to twist it as far."
            )
        elif rise < -NOTICEABLE:
            yield (
                f"{thick.name} has {_percent(-rise)} less stress than {thin.name} at hole {at.holes}: mounts and links "
                "give way to the thicker bar and take travel from it. Stiffer ones would take the gain away."
            )


def _stiffest_governs(view: View) -> Iterator[str]:
    several = [each for each in view.candidates if len({s.rate_N_per_mm for s in each.result.settings}) > 1]
    yes = [
        each
        for each in several
        if each.result.governing_for_life.holes == _stiffest(each.result).holes
        and each.result.governing_for_stress.holes == _stiffest(each.result).holes
    ]
    if several and len(yes) == len(several):
        yield "The stiffest hole governs stress and life of every bar here: a life at a soft hole says nothing of it."
    for each in several:
        if each not in yes and len(yes) < len(several):
            result = each.result
            yield (
                f"{each.letter} ({each.name}): not the stiffest hole but {result.governing_for_stress.holes} governs "
                f"stress, and {result.governing_for_life.holes} life."
            )


def _weak_places(view: View) -> Iterator[str]:
    """Where a tube is weakest, if that is elsewhere than in a solid bar beside it."""
    solids = [each for each in view.candidates if each.bar.section.shape == "round"]
    for each in view.candidates:
        if each.bar.section.shape != "tube":
            continue
        fatigue = each.result.governing_for_life.fatigue
        peak = each.result.governing_for_stress.peak
        if fatigue.surface == "bore":
            yield (
                f"{each.letter} ({each.name}) is weakest in the bore ({fatigue.where}), which peening does not reach "
                "and no eye inspects."
            )
        elif "bend" in fatigue.where and "outside" in fatigue.where:
            yield (
                f"{each.letter} ({each.name}) is weakest at the outer wall of a bend ({fatigue.where}), where bending "
                "the tube has thinned it; in a solid bar it is the inside that matters."
            )
        elif solids and spot(fatigue.where) != spot(solids[0].result.governing_for_life.fatigue.where):
            solid = solids[0].result.governing_for_life.fatigue
            yield (
                f"A hollow bar is weak elsewhere: {each.name} at {fatigue.where}; {solids[0].name} at {solid.where}."
            )
        if peak.surface == "bore" and fatigue.surface != "bore":
            yield f"{each.letter} ({each.name}) has its greatest stress in the bore: {peak.where}."


def spot(where: str) -> str:
    """A place without its side and its mm along the bar, for comparison: left and right ends are alike."""
    parts = [part for part in where.split(", ") if " mm " not in part]
    return " ".join(word for word in " ".join(parts).split() if word not in ("left", "right", "arm"))


def _equal(view: View) -> Iterator[str]:
    first = view.candidates[0]
    at = next((s for s in first.result.settings if view.hole in (s.left, f"{s.left}/{s.right}")), None)
    if at is None:
        return
    for each in view.candidates[1:]:
        other = setting_of(each.result, at)
        if not isinstance(other, SettingResult):
            continue
        mass = each.result.mass_kg / first.result.mass_kg - 1.0
        stress = other.peak.von_mises_MPa / at.peak.von_mises_MPa - 1.0
        rate = (other.rate_N_per_mm or 0.0) / (at.rate_N_per_mm or 1.0) - 1.0
        if max(abs(mass), abs(stress), abs(rate)) < 0.005:
            yield f"{each.resized_from} brought to equal {view.kind.split()[-1]} is A again: of one shape, one size."
            continue
        name = f"{each.letter} as {each.name}"
        if view.kind == "equal rate":
            yield f"At equal rate {name} has {_change(mass)} mass and {_change(stress)} stress against A."
        elif view.kind == "equal stress":
            yield f"At equal stress {name} has {_change(mass)} mass and {_change(rate)} rate against A."
        else:
            yield f"At equal mass {name} has {_change(rate)} rate and {_change(stress)} stress against A."


def _percent(share: float) -> str:
    return f"{100.0 * share:.0f} %"


def _change(share: float) -> str:
    if abs(share) < 0.005:
        return "the same"
    return f"{_percent(abs(share))} {'more' if share > 0 else 'less'}"
