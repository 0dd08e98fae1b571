"""What has no answer is an error that says where, never a number."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from barfem.model.errors import BarfemError, InputError
from barfem.model.read import read_bar
from barfem.solve.beam import HoleSetting, all_settings, solve_bar, solve_bars
from barfem.study.change import change
from tests.solve.rig import u_bar

ROOT = Path(__file__).parents[2]


def test_a_short_link_asked_too_far_names_hole_setting_and_travel():
    bar = u_bar(link={"length_mm": 30.0}, travel_mm=40.0, name="short links")
    with pytest.raises(BarfemError) as caught:
        solve_bar(bar, all_settings(bar))
    text = str(caught.value)
    assert "short links" in text and "left 1, right 1 (roll)" in text
    # The left link, in compression, buckles sideways at 37.4 mm (found by small steps).
    reached = float(text.split("travel of ")[1].split(" mm left")[0])
    assert 36.0 < reached < 37.5
    assert "40" in text


@pytest.mark.parametrize("length", [33.0, 36.0, 39.0, 41.0, 60.0])
def test_a_link_shorter_than_the_travel_does_not_turn_over(length):
    """The pickup passes where the joint was; the joint has moved on. The force hardly depends on the link's length."""
    bar = u_bar(link={"length_mm": length}, travel_mm=40.0)
    solution = solve_bar(bar, [HoleSetting(0, 0)])
    assert solution.link_force_N[0, 1] == pytest.approx([1079.0, -1074.0], rel=0.03)
    # Pickup to joint still points up, as at rest.
    assert np.all(solution.link_direction[0, :, :, 2] > 0.9)


@pytest.mark.parametrize(("length", "hole"), [(8.27, 0), (8.27, 1), (10.0, 0), (12.0, 2)])
def test_a_link_that_turns_over_does_not_follow_its_travel(length, hole):
    """Ten millimetres of link for 24 of travel: it topples, and the bar is balanced again with the link upside down,
    at a third less force. What stands beyond the topple is no answer, and passed with a safety factor of 4.9.
    """
    bar = change(read_bar(ROOT / "geometries" / "pickup-front-solid.toml"), {"links.length": length})
    with pytest.raises(BarfemError, match="snaps over"):
        solve_bar(bar, [HoleSetting(hole, hole)])


def test_the_failing_one_of_many_is_named():
    """A hole setting far inboard cannot follow; its neighbours can, and do not hide it."""
    bar = u_bar(link={"length_mm": 110.0}, holes_from_tip=((0.0, 130.0), (0.0, 130.0)), travel_mm=110.0)
    alone = solve_bar(bar, [HoleSetting(0, 0)])
    assert np.isfinite(alone.rate_N_per_mm).all()
    with pytest.raises(BarfemError, match="left 2, right 2"):
        solve_bar(bar, [HoleSetting(0, 0), HoleSetting(1, 1)])


@pytest.mark.parametrize("direction", [(-1.0, 0.0, 0.0), (1.0, 0.0, 0.0), (1.0, 0.0, 1e-5)])
@pytest.mark.parametrize("travel", [1e-3, 40.0])
def test_links_along_the_arms_are_a_mechanism(direction, travel):
    bar = u_bar(link={"direction": direction}, travel_mm=travel)
    with pytest.raises(BarfemError, match=r"left 1, right 1 \(roll\).*mechanism"):
        solve_bar(bar, all_settings(bar))


def test_the_mechanism_is_named_among_sound_bars():
    sound, bad = u_bar(name="sound"), u_bar(link={"direction": (1.0, 0.0, 0.0)}, name="bad")
    with pytest.raises(BarfemError, match="bad: hole setting"):
        list(solve_bars([(sound, all_settings(sound)), (bad, all_settings(bad)), (sound, all_settings(sound))]))


@pytest.mark.parametrize("loose", ["axial_stiffness_N_per_mm", "radial_stiffness_N_per_mm"])
@pytest.mark.parametrize("direction", [(0.0, 0.0, -1.0), (0.0, 0.28, -0.96)])
def test_a_bar_that_nothing_holds(loose, direction):
    bar = u_bar(mount={loose: 0.0}, link={"direction": direction})
    with pytest.raises(BarfemError):
        solve_bar(bar, all_settings(bar))


def test_a_link_with_nothing_left_is_refused():
    bar = u_bar(link={"length_error_mm": -150.0})
    with pytest.raises(InputError, match="nothing is left"):
        solve_bar(bar, all_settings(bar))


def test_too_much_preload_says_that_it_is_at_rest():
    """Links that push both tips inwards along y: beyond some error they, or the arms, buckle."""
    bar = u_bar(link={"direction": (0.0, 1.0, 0.0), "length_error_mm": 200.0})
    with pytest.raises(BarfemError, match="at rest with link length errors of 200 mm"):
        solve_bar(bar, all_settings(bar))


@pytest.mark.parametrize("gap", [1e-3, 0.03, 0.1])
def test_break_points_that_nearly_coincide(gap):
    """A hole a tenth of a millimetre from a flat's end, a tangent or another hole makes an element as short."""
    near = u_bar(holes_from_tip=((20.0, 20.0 + gap), (20.0, 20.0 + gap)), travel_mm=60.0, diameter_mm=28.0)
    plain = u_bar(holes_from_tip=((20.0,), (20.0,)), travel_mm=60.0, diameter_mm=28.0)
    a, b = (solve_bar(bar, [HoleSetting(0, 0)]) for bar in (plain, near))
    assert b.rate_N_per_mm == pytest.approx(a.rate_N_per_mm, rel=1e-6)


@pytest.mark.parametrize("length", [1e-6, 1e-5, 1e-4, 1e-3, 0.5])
def test_a_very_short_bushing_is_a_point(length):
    """Shorter than an element can be: the same as no length, not a bushing that vanishes."""
    point, short = (u_bar(mount={"length_mm": x}) for x in (0.0, length))
    a, b = (solve_bar(bar, [HoleSetting(0, 0)]) for bar in (point, short))
    assert b.rate_N_per_mm == pytest.approx(a.rate_N_per_mm, rel=1e-4)
    assert b.mount_force_N == pytest.approx(a.mount_force_N, rel=1e-3, abs=1.0)
