"""Measured walls of a tube's bends: read, refused, and felt alike by stiffness, closed forms, bend fields and solid."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from barfem.check.api import check_bar
from barfem.check.result import CheckResult
from barfem.model.bar import Bar
from barfem.model.bent_wall import BentWall, bent_wall, wall_by_rule
from barfem.model.errors import InputError
from barfem.model.read import bar_from_dict, read_bar
from barfem.solve.solid.bend_tables import bend_shape
from barfem.study.bands import Variable
from barfem.study.change import change
from barfem.study.resize import scaled
from barfem.study.sections import with_section
from barfem.study.tolerance_bars import BarMaker
from tests.check.bar_files import BUILT
from tests.model.bar_data import changed

DEMOS = Path(__file__).parents[2] / "geometries"


@pytest.fixture(scope="module")
def tube() -> Bar:
    return read_bar(DEMOS / "pickup-rear-tube.toml")


def with_walls(bar: Bar, outside: object, inside: object) -> Bar:
    tables = dict(bar.tables or {})
    section = {key: value for key, value in tables["section"].items() if key != "bend_wall"}
    section["bend_walls"] = {"outside": outside, "inside": inside}
    return change(bar, {"section": section})


def rule_of(bar: Bar) -> BentWall:
    wall, radius = bar.section.wall_mm, bar.centreline.bends[0].radius_mm
    assert wall is not None and radius is not None
    return wall_by_rule(wall=wall, diameter=bar.section.diameter_mm, radius=radius)


def peaks(bar: Bar, surface: str, **how: object) -> list[float]:
    """Greatest stress of each bend on a surface, over hole settings."""
    return of_bends(check_bar(bar, **how), surface)  # type: ignore[arg-type]


def of_bends(found: CheckResult, surface: str) -> list[float]:
    worst: dict[int, float] = {}
    for setting in found.settings:
        for place in setting.places:
            if place.kind == "bend" and place.surface == surface:
                worst[place.index] = max(worst.get(place.index, 0.0), place.von_mises_MPa)
    return list(worst.values())


def test_between_outside_and_inside_the_wall_is_the_rules(tube: Bar) -> None:
    """t R / (R + r cos(theta)) is what the two walls of the rule give all round; half way it is the wall delivered."""
    d, wall, radius = tube.section.diameter_mm, tube.section.wall_mm or 0.0, tube.centreline.bends[0].radius_mm or 0.0
    theta = np.linspace(0.0, 2.0 * np.pi, 25)
    rule = rule_of(tube)
    assert rule.at(theta) == pytest.approx(wall * radius / (radius + 0.5 * (d - wall) * np.cos(theta)), rel=1e-12)
    assert rule.mean == pytest.approx(wall, rel=1e-12)
    other = BentWall(3.0, 5.0)
    assert other.at([0.0, np.pi]) == pytest.approx([3.0, 5.0]) and other.at(0.5 * np.pi) == pytest.approx(3.75)


@pytest.mark.parametrize("quick", [False, True])
def test_walls_measured_as_the_rule_has_them_change_nothing(tube: Bar, quick: bool) -> None:
    rule = rule_of(tube)
    same = with_walls(tube, rule.outside, rule.inside)
    assert same.section.bend_wall == "measured" and bend_shape(same, same.centreline.bends[0]).in_grid
    for one, other in zip(check_bar(tube, quick=quick).settings, check_bar(same, quick=quick).settings, strict=True):
        assert other.rate_N_per_mm == pytest.approx(one.rate_N_per_mm, rel=1e-9)
        assert other.peak.von_mises_MPa == pytest.approx(one.peak.von_mises_MPa, rel=1e-9)
        assert other.fatigue.amplitude_MPa == pytest.approx(one.fatigue.amplitude_MPa, rel=1e-9)


def test_even_walls_are_the_even_wall(tube: Bar) -> None:
    wall = tube.section.wall_mm
    even = with_walls(tube, wall, wall)
    assert bend_shape(even, even.centreline.bends[0]).wall_rule == "uniform"


@pytest.mark.parametrize("quick", [False, True])
def test_a_thinner_outside_is_stressed_more(tube: Bar, quick: bool) -> None:
    rule = rule_of(tube)
    thin = with_walls(tube, 0.85 * rule.outside, rule.inside)
    for before, after in zip(peaks(tube, "outside", quick=quick), peaks(thin, "outside", quick=quick), strict=True):
        assert after > 1.03 * before
    soft, stiff = (check_bar(bar).settings[0].rate_N_per_mm or 0.0 for bar in (thin, tube))
    assert 0.97 * stiff < soft < stiff


@pytest.mark.long
def test_beam_and_solid_have_the_same_measured_walls(tube: Bar) -> None:
    rule = rule_of(tube)
    bar = with_walls(tube, 0.88 * rule.outside, 0.95 * rule.inside)
    beam = check_bar(bar)
    assert all(bend.source == "computed" for bend in beam.bends)
    walls = f"{bar.section.bend_walls_mm[0][0]:g} mm outside"
    assert any(walls in text for text in beam.assumptions) and any("1 / wall" in text for text in beam.assumptions)
    solid = check_bar(bar, model="solid")
    assert max(of_bends(beam, "outside")) == pytest.approx(max(of_bends(solid, "outside")), rel=0.03)
    rates = (each.settings[0].rate_initial_N_per_mm for each in (beam, solid))
    assert next(rates) == pytest.approx(next(rates), rel=0.01)
    assert beam.mass_kg == check_bar(tube).mass_kg


def test_one_pair_for_each_bend(tube: Bar) -> None:
    bends = tube.centreline.bends
    pairs = [{"outside": 3.9 + 0.01 * i, "inside": "0.2 in"} for i in range(len(bends))]
    section = {key: value for key, value in (tube.tables or {})["section"].items() if key != "bend_wall"}
    bar = change(tube, {"section": section | {"bend_walls": pairs}})
    walls = bent_wall(bar.section, bends[1])
    assert (walls.outside, walls.inside) == pytest.approx((3.91, 5.08))
    with pytest.raises(InputError, match=f"1 pairs|{len(bends) + 1} pairs"):
        change(tube, {"section": section | {"bend_walls": [*pairs, pairs[0]]}})


@pytest.mark.parametrize(
    ("walls", "word"),
    [
        ({"outside": 0.0, "inside": 4.0}, "above 0"),
        ({"outside": float("nan"), "inside": 4.0}, "outside"),
        ({"outside": 0.3, "inside": 4.0}, "no wall of a bend"),
        ({"outside": 3.5, "inside": 40.0}, "no wall of a bend"),
        ({"outside": 3.5}, "inside"),
        ({"outside": 3.5, "inside": 4.0, "middle": 4.0}, "middle"),
        ({"outside": "3.5 N", "inside": 4.0}, "outside"),
        ([], "empty"),
        (3.5, "list"),
    ],
)
def test_what_is_no_wall_is_refused(tube: Bar, walls: object, word: str) -> None:
    section = {key: value for key, value in (tube.tables or {})["section"].items() if key != "bend_wall"}
    with pytest.raises(InputError, match=word):
        change(tube, {"section": section | {"bend_walls": walls}})


def test_measured_walls_and_a_rule_are_not_both_given(tube: Bar) -> None:
    with pytest.raises(InputError, match="beside bend_wall"):
        change(tube, {"section.bend_wall": "uniform", "section.bend_walls": {"outside": 3.5, "inside": 4.0}})
    with pytest.raises(InputError, match="solid bar"):
        change(read_bar(DEMOS / "pickup-front-solid.toml"), {"section.bend_walls": {"outside": 3.5, "inside": 4.0}})


def test_exchanged_or_unlikely_walls_are_warned_of(tube: Bar) -> None:
    rule = rule_of(tube)
    assert any("exchanged" in text for text in with_walls(tube, rule.inside, rule.outside).warnings)
    assert any("off the rule" in text for text in with_walls(tube, 0.8 * rule.outside, rule.inside).warnings)
    assert not any("rule" in text for text in with_walls(tube, 0.95 * rule.outside, rule.inside).warnings)


def test_measured_walls_go_with_the_tube_in_studies(tube: Bar) -> None:
    bar = with_walls(tube, 3.5, 5.0)
    bigger = scaled(bar.section, 1.1)
    assert bigger.bend_walls_mm == (pytest.approx((3.85, 5.5)),)
    other = with_section(bar, bigger)
    assert other.bar.section.bend_walls_mm == (pytest.approx((3.85, 5.5)),)
    assert any("measured walls" in text for text in other.notes)
    variables = tuple(Variable(key, "", 0, -9.0, 9.0, "uniform") for key in ("diameter", "wall"))
    (made,) = BarMaker(bar, variables).made(np.array([[0.1, 0.2]]))  # 4.0 mm of wall: a twentieth more
    assert isinstance(made, Bar) and made.section.wall_mm == pytest.approx(4.2)
    assert made.section.bend_walls_mm == (pytest.approx((3.5 * 1.05, 5.0 * 1.05)),)


def test_a_tube_that_is_nearly_solid_keeps_its_bore_in_the_middle_of_its_bends() -> None:
    """There the rule's bore would wander off; as the bore vanishes the tube must come to the solid bar's numbers."""
    bent = ("material.bent", "before-hardening")

    def tube_with(**section: object) -> Bar:
        return bar_from_dict(changed(bent, ("section", {"shape": "tube", "diameter": 20.0} | section), base=BUILT))

    with_rule, even = tube_with(wall=9.6), tube_with(wall=9.6, bend_wall="uniform")
    assert any("nearly solid" in warning for warning in with_rule.warnings)
    solid = bar_from_dict(BUILT)
    one, other, full = (check_bar(bar).settings[-1] for bar in (with_rule, even, solid))
    assert one.peak.von_mises_MPa == pytest.approx(other.peak.von_mises_MPa, rel=1e-9)
    assert one.peak.von_mises_MPa == pytest.approx(full.peak.von_mises_MPa, rel=0.02)
    assert one.rate_N_per_mm == pytest.approx(full.rate_N_per_mm, rel=0.005)
