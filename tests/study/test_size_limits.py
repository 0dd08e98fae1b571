"""What rules a size out, by hand: tight bends, joints that turn too far, rates by proportion."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from barfem.model.bar import Section
from barfem.model.read import bar_from_dict
from barfem.study.evaluate import evaluate_one
from barfem.study.sections import with_section
from barfem.study.size_limits import joint_jams, out_of_reach, too_tight
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
