"""A plan of a checked bar says of its lives what the check says."""

from __future__ import annotations

import math
from pathlib import Path
from statistics import NormalDist

import pytest

from barfem.check.api import check_bar
from barfem.check.plan import life_to_show, plan_of
from barfem.check.plan import tested_pair as pair_of
from barfem.model.data_paths import geometries_dir
from barfem.model.read import read_bar
from barfem.study.change import change

PEENED = geometries_dir() / "pickup-front-solid.toml"
TUBE = geometries_dir() / "pickup-rear-tube.toml"


def z(share: float) -> float:
    return NormalDist().inv_cdf(share)


def test_the_chance_to_pass_is_that_of_the_lives_on_the_screen() -> None:
    """The pickup's bar at 60 mm of travel lasts 5 200 000 cycles in the median, and of ten bars one breaks before
    248 000: of 22 bars that are run to 200 000 one will most likely break. The plan promised 100 %, as if the lives
    were lognormal about the median with the scatter of another line.
    """
    result = check_bar(change(read_bar(PEENED), {"travel.pickup": 60.0}))
    fatigue = result.governing_for_life.fatigue
    lives = {each.survival: each.life for each in fatigue.lives}
    assert lives[0.5] > 5e6 and 2.4e5 < lives[0.9] < 2.5e5  # type: ignore[operator]
    whole = plan_of(result).rows[-1]
    assert (whole.bars, whole.life) == (22, 200_000.0)
    assert whole.chance is not None and 0.9**22 < whole.chance < 0.2


def test_the_scatter_is_that_of_the_line_that_decides_where_bars_just_last_the_target() -> None:
    """Between 99 and 90 % survival, where lives lie on the slope: 0.63 of log10 life, of the sound steel that decides
    under the peening; the sleeping flaw's line has 0.31.
    """
    bar = change(read_bar(PEENED), {"travel.pickup": 60.0})
    fatigue = check_bar(bar).governing_for_life.fatigue
    lives = {each.survival: each.life for each in fatigue.lives}
    seen = math.log10(lives[0.9] / lives[0.99]) / (z(0.99) - z(0.9))  # type: ignore[operator]
    assert fatigue.log10_life_deviation == pytest.approx(seen, rel=0.03) and seen > 0.6


@pytest.mark.parametrize("path", [TUBE, geometries_dir() / "pickup-rear-unequal.toml"], ids=lambda path: path.stem)
def test_lives_along_one_straight_line_are_lognormal(path: Path) -> None:
    """Of an unpeened bar the share that lasts a life is the normal one about the median, before a million cycles."""
    result = check_bar(change(read_bar(path), {"travel.wheel": 60.0} if path == TUBE else {"travel.pickup": 40.0}))
    judged = life_to_show(result)
    assert judged.median_life is not None and judged.median_life < 1e6 and judged.log10_life_deviation is not None
    for cycles in (0.3 * judged.median_life, judged.median_life, 2.0 * judged.median_life):
        lognormal = NormalDist().cdf(math.log10(judged.median_life / cycles) / judged.log10_life_deviation)
        assert judged.share_that_lasts(cycles) == pytest.approx(lognormal, abs=0.002)


def test_beyond_the_lives_that_are_known_no_chance_is_stated() -> None:
    """At 58 mm of travel the median runs out: between the life of 90 % and ten million cycles nothing is known."""
    result = check_bar(change(read_bar(PEENED), {"travel.pickup": 58.0}))
    judged = life_to_show(result)
    known = [each.life for each in judged.lives if each.life is not None]
    assert judged.median_life is None and len(known) == 2
    assert judged.share_that_lasts(min(known)) == pytest.approx(0.99)
    assert judged.share_that_lasts(2.0 * max(known)) is None


def test_a_test_by_blocks_is_of_the_hole_that_they_break_first() -> None:
    """At 120 mm of travel the stiff hole is above yield and has no life. Its lives, which are not, were taken for
    endless ones: the middle hole was to be tested, and where nothing lasts the first place along the bar was named.
    """
    blocks = [{"pickup": 20.0, "cycles": 1e4}, {"pickup": 120.0, "cycles": 10.0}]
    bar = change(read_bar(PEENED), {"travel.pickup": 120.0, "duty": {"blocks": blocks, "repeats": 5.0}})
    result = check_bar(bar)
    lives = [setting.fatigue.duty.life_repeats for setting in result.settings if setting.fatigue.duty]
    assert lives[0] is not None and lives[-1] is None
    tested = pair_of(result, bar)
    assert tested.holes == "stiff" and "bend 1" in tested.place
    assert (
        tested.one_repeat == "10 000 cycles of 20 mm up and down, 10 cycles of 120 mm up and down, in mixed order "
        "where the rig can"
    )
