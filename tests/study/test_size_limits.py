"""What rules a size out, by hand: tight bends, joints that turn too far, rates by proportion."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from barfem.model.bar import Section
from barfem.model.read import bar_from_dict
from barfem.study import resize
from barfem.study.evaluate import evaluate_one
from barfem.study.options import Option, why_not, with_front
from barfem.study.sections import with_section
from barfem.study.size_limits import joint_jams, out_of_reach, too_tight
from barfem.study.target_score import score_of
from tests.model.bar_data import U_BAR, changed


def turning(*angles: float) -> Any:
    """Hole settings "1", "2", ... whose link's joint turns so far, in deg."""
    names = tuple(str(i + 1) for i in range(len(angles)))
    return SimpleNamespace(
        bar=bar_from_dict(U_BAR), joint_angle_deg=np.array(angles), left=names, right=names
    )  # fmt: skip


@pytest.mark.parametrize(
    ("drawn", "of_size", "said"),
    [
        ((10.0, 20.0), (10.0, 24.9), ""),
        ((10.0, 20.0), (10.0, 25.1), "25.1 deg at hole 2"),  # 25 deg, common practice
        ((10.0, 27.0), (10.0, 27.4), ""),  # as drawn, within half a degree: no fault of the size
        ((10.0, 27.0), (10.0, 27.6), "27.6 deg at hole 2"),
        ((26.0, 20.0), (29.0, 26.0), "29.0 deg at hole 1"),  # of several the one that turns farthest
    ],
)
def test_a_joint_that_turns_too_far_is_the_sizes_fault_where_it_turns_farther_than_drawn(drawn, of_size, said) -> None:
    found = joint_jams(turning(*of_size), turning(*drawn))
    assert (said in found) if said else found == ""


def test_a_bend_too_tight_rules_out_what_is_thicker_than_drawn_alone() -> None:
    """R 30 on 24 mm is 1.25 diameters; 1.5 can be bent of a solid bar, by common practice. Drawn so it stands."""
    drawn = bar_from_dict(changed(("centreline.bend_radius", 30.0)))
    assert too_tight(drawn, drawn) == ""
    thinner, thicker = (replace(drawn, section=Section("round", d)) for d in (23.0, 25.0))
    assert too_tight(thinner, drawn) == ""
    assert "radius 30 mm is 1.2 diameters" in too_tight(thicker, drawn)
    wide = bar_from_dict(changed(("centreline.bend_radius", 60.0)))
    assert too_tight(replace(wide, section=Section("round", 30.0)), wide) == ""


def test_a_rate_by_proportion_leaves_to_mounts_and_links_what_they_give() -> None:
    """One over the rate is the bar's part, with one over d^4, and that of mounts and links, which stays: the solved
    rates of thinner and thicker bars lie within some per cent of it.
    """
    bar = bar_from_dict(changed(*((f"mounts.{i}.radial_stiffness", 300.0) for i in (0, 1))))
    drawn = evaluate_one(bar)
    at = int(np.argmax(drawn.rate_N_per_mm))
    rate = float(drawn.rate_N_per_mm[at])
    for diameter in (16.0, 30.0):
        section = Section("round", diameter)
        (words,) = out_of_reach(drawn, at, [section], rate_N_per_mm=rate, window_percent=1.0).values()
        about = float(words.removeprefix("rate about ").partition(" ")[0])
        solved = evaluate_one(with_section(bar, section, flats="keep").bar).rate_N_per_mm[at]
        assert about == pytest.approx(float(solved), rel=0.06)


def evaluated(*, life: tuple[float, ...] = (3e5,), margin: tuple[float, ...] = (0.3,), **of: Any) -> Any:
    """An evaluation made up, a number for each hole setting; one passes with 200 000 cycles and a margin of 0.25."""
    bar = bar_from_dict(U_BAR | {"targets": {"yield_margin": 0.25}, "duty": {"target_cycles": 2e5}})
    lives, margins = np.array(life), np.array(margin)
    names = tuple(str(i + 1) for i in range(len(life)))
    return SimpleNamespace(
        **{
            "bar": bar, "left": names, "right": names, "rate_N_per_mm": np.full(len(life), 50.0), "mass_kg": 4.0,
            "passes": (lives >= 2e5) & (margins >= 0.25), "ordered_life": lives, "life_at_survival_cycles": lives,
            "yield_margin": margins, "unworked": (), "repeats_at_survival": np.full(len(life), np.nan),
            "runout_at_survival": np.zeros(len(life), bool), "safety_factor_at_target": np.full(len(life), 1.2),
            "problem_at": lambda _: None, "load_factor_at_survival": None,
        } | of
    )  # fmt: skip


def test_why_a_size_fails_is_said_of_the_hole_that_breaks_first() -> None:
    found = Option("round 20", evaluation=evaluated(life=(1.5e5, 9e4, 3e5), margin=(0.3, 0.3, 0.1)))
    assert why_not(found) == "life 90 000 cycles at hole 2 (target 200 000)"


def test_a_heavier_size_is_worth_its_mass_where_it_lives_noticeably_longer() -> None:
    """In the order of their mass, near 50 N/mm: the lightest; one per cent longer is not worth it, twice as long is."""
    options = [
        Option(name, evaluation=evaluated(life=(life,), mass_kg=mass, rate_N_per_mm=np.array([rate])))
        for name, life, mass, rate in (
            ("light", 3e5, 4.0, 50.0), ("a hair longer", 3.03e5, 4.1, 50.0), ("longer", 6e5, 4.2, 51.0),
            ("heavy and short", 2e5, 5.0, 50.0), ("far off", 9e6, 4.05, 60.0),
        )
    ]  # fmt: skip
    assert [each.name for each in with_front(options, 50.0, 5.0) if each.on_front] == ["light", "longer"]


@pytest.mark.parametrize(("margin", "load_factor", "score"), [(0.5, 1.4, np.log(1.2)), (0.5, 1.1, np.log(1.1))])
def test_how_far_a_size_is_from_its_targets_is_the_nearer_of_yield_and_life(margin, load_factor, score) -> None:
    """A margin of 0.5 where 0.25 is asked lets stress rise by 1.5 / 1.25; bars at survival bear so much more load."""
    found = evaluated(margin=(margin,), load_factor_at_survival=np.array([load_factor]))
    assert score_of(found, 0) == pytest.approx(score)
    short = evaluated(life=(1e5,), margin=(margin,), load_factor_at_survival=np.array([0.9]))
    assert score_of(short, 0) == pytest.approx(np.log(0.9))


def test_of_two_sizes_that_give_a_number_the_one_nearer_to_the_drawn_is_taken(monkeypatch) -> None:
    """A number that falls and rises again: what is asked is met at half the size and at 1.3 times; half is farther."""

    def number(factor: float) -> float:
        return float(1.0 + (np.log(factor) - np.log(0.5)) * (np.log(factor) - np.log(1.3)))

    monkeypatch.setattr(resize, "_numbers", lambda bars, *_: [number(bar) for bar in bars])
    found = resize._looked_over(lambda f: f, measure="rate", target=1.0, hole=None, case="roll")  # type: ignore[arg-type, return-value]
    assert isinstance(found, resize.Met) and found.factor == pytest.approx(1.3, rel=1e-5)
