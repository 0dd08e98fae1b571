"""Bars side by side: sections on one centreline, or whole bar files, as they are and brought to something equal."""

from __future__ import annotations

import os
from collections.abc import Sequence
from typing import Any, Literal

from barfem.check.api import check_bar
from barfem.check.hole_names import pair_name, pairs_named
from barfem.check.result import CheckResult, SettingResult
from barfem.model.bar import Bar, Section
from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.given import CASE, listed, one_of, takes, text
from barfem.model.plain import Json
from barfem.model.read import AnyBar, as_bar
from barfem.model.shown import Shown
from barfem.study.facts import Candidate, View, facts_of
from barfem.study.json_values import flat
from barfem.study.resize import MEASURES, Met, bring_to, refuse_nothing_felt, scaled
from barfem.study.sections import parse_section, section_name, with_section

__all__ = ["Comparison", "compare"]

Equal = Literal["rate", "stress", "mass"]


@frozen(kw_only=True, repr=False)
class Comparison(Shown, Json):
    """The bars as they are (`views[0]`, at equal geometry where they are one bar's sections), then made equal.

    `facts` are sentences that are true of these numbers and against first expectation, `notes` what was done to make
    the bars.
    """

    name: str
    views: tuple[View, ...]
    facts: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    def records(self) -> list[dict[str, Any]]:
        """A row for each view, bar and hole setting: mass [kg], rate [N/mm], stress [MPa], margin, life [cycles]."""
        rows = []
        for view in self.to_json_dict()["views"]:
            for bar in view["bars"]:
                head = {"view": view["view"], "bar": bar["bar"]}
                head |= {key: bar[key] for key in ("shape", "diameter_mm", "wall_mm", "mass_kg")}
                rows += [head | flat(setting) for setting in bar["settings"]]
        return rows


@takes(
    bars=listed("bars", (Bar, str, os.PathLike), "a bar or several, or the paths of their files.", or_one=True),
    sections=listed("sections", (str, Section), 'a list such as ["round 24", "tube 28x4.5"].'),
    equal=listed("names", str, 'a list of "rate", "stress" or "mass".')._replace(among=tuple(MEASURES)),
    hole=text('the name of a hole, such as "soft".'),
    case=CASE,
    flats=one_of(("scale", "keep")),
    bent=text('"before-hardening" or "after-hardening".'),
)
def compare(
    bars: AnyBar | Sequence[AnyBar],
    sections: Sequence[str | Section] = (),
    *,
    equal: Sequence[Equal] = (),
    hole: str | None = None,
    case: str | None = None,
    flats: Literal["scale", "keep"] = "scale",
    bent: str | None = None,
) -> Comparison:
    """Check every bar, and the first one with each of `sections`; then resize all to what `equal` names.

    Parameters
    ----------
    bars
        A bar or several, or their files. The first is what the others are held against.
    sections
        Put on the first bar's centreline, such as "round 24" or "tube 28x4.5" (outside diameter x wall, mm).
    equal
        Each "rate", "stress" or "mass" adds a view in which every bar is enlarged or reduced (a tube's wall in
        proportion) until that number is the first bar's, at `hole` in the first load case.
    hole
        Name of the hole; by default the first bar's stiffest.
    case
        "roll", "one-wheel" or "parallel": that load case alone.
    flats
        "scale": flats go with the section they are made from; "keep": they stay.
    bent
        "before-hardening" or "after-hardening", for tubes where the bar file does not say.

    Raises
    ------
    InputError
        Nothing to compare with, or a section that the bar cannot have.
    """
    several = [bars] if isinstance(bars, Bar | str | os.PathLike) else list(bars)
    if len(several) + len(sections) < 2:
        raise InputError(
            "there is nothing to compare with.",
            where="compare",
            expected='another bar file, or a section, such as --section "tube 28x4.5".',
        )
    notes: list[str] = []
    drawn = [as_bar(bar) for bar in several]
    made = [*drawn]
    names = [section_name(bar.section) for bar in drawn]
    for section in (parse_section(each) if isinstance(each, str) else each for each in sections):
        resized = with_section(drawn[0], section, flats=flats, bent=bent)
        notes += [f"{section_name(section)}: {text}" for text in resized.notes]
        made.append(resized.bar)
        names.append(section_name(section))
    if len(drawn) > 1:
        names[: len(drawn)] = [f"{bar.name}, {name}" for bar, name in zip(drawn, names, strict=False)]
    candidates = [
        Candidate(chr(ord("A") + i), name, bar, check_bar(bar, case=case))
        for i, (name, bar) in enumerate(zip(names, made, strict=True))
    ]
    one_geometry = len(drawn) == 1
    unsolved = (
        f"{each.letter} ({each.name}), hole {row.holes}, {row.case}: {row.why[0]}"
        for each in candidates
        for row in each.result.unsolved
    )
    views = [View("as drawn" if not one_geometry else "equal geometry", tuple(candidates), missing=tuple(unsolved))]
    for what in equal:
        at = _reference(candidates[0].result, hole)
        views.append(_made_equal(candidates, what, at, case=case, flats=flats))
    return Comparison(
        name=drawn[0].name,
        views=tuple(views),
        facts=tuple(facts_of(views, one_geometry=one_geometry)),
        cautions=candidates[0].result.cautions,
        notes=tuple(notes),
    )


def _reference(result: CheckResult, hole: str | None) -> SettingResult:
    """The hole setting at which bars are made equal: the named one, or the stiffest of the first load case.

    Raises
    ------
    BarfemError
        No hole setting of the first bar can be solved.
    """
    first = [setting for setting in result.settings if setting.case == result.rows[0].case]
    first = first or [result.governing_for_stress]
    if hole is None:
        return max(first, key=lambda setting: setting.rate_N_per_mm or 0.0)
    names = [(setting.left, setting.right) for setting in first]
    return first[pairs_named(hole, names, of=result.name, file=result.source)[0]]


def _made_equal(
    candidates: list[Candidate],
    what: Equal,
    at: SettingResult,
    *,
    case: str | None,
    flats: Literal["scale", "keep"],
) -> View:
    first = candidates[0].result
    target = {"rate": at.rate_N_per_mm or 0.0, "stress": at.peak.von_mises_MPa, "mass": first.mass_kg}[what]
    hole = pair_name(at.left, at.right)
    refuse_nothing_felt(target, measure=what, case=at.case, at=f"hole {hole}", file=first.source)
    equal, missing = [candidates[0]], []
    for candidate in candidates[1:]:
        bar = candidate.bar
        if what != "mass" and hole not in [end.name for end in bar.left.holes] and "/" not in hole:
            missing.append(f"{candidate.letter} ({candidate.name}) has no hole {hole}.")
            continue

        def make(factor: float, bar: Bar = bar) -> Bar:
            return with_section(bar, scaled(bar.section, factor), flats=flats).bar

        found = bring_to(make, measure=what, target=target, hole=hole, case=at.case)
        if isinstance(found, Met):
            name = section_name(found.bar.section)
            result = check_bar(found.bar, case=case)
            equal.append(Candidate(candidate.letter, name, found.bar, result, candidate.name))
        else:
            nearest = "" if found.bar is None else f"; nearest: {section_name(found.bar.section)}, {found.value:.4g}"
            missing.append(
                f"{candidate.letter} ({candidate.name}): no size gives {target:.4g} {MEASURES[what]} ({found.reason}"
                f"{nearest})."
            )
    return View(f"equal {what}", tuple(equal), hole=hole, target=target, unit=MEASURES[what], missing=tuple(missing))
