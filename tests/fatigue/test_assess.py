"""One cycle's verdict: safety factors, lives, and why a life is missing."""

from __future__ import annotations

import numpy as np
import pytest

from barfem.model.errors import BarfemError, InputError
from barfem.model.material import Steel
from barfem.model.skin import Skin
from barfem.strength.fatigue.assess import (
    ENDLESS_RANK,
    FatigueAssessment,
    LifeStatus,
    amplitude_lasting,
    assess,
    assess_lives,
    equivalent_and_factor,
    life_rank,
)
from barfem.strength.fatigue.basquin import basquin_strength, sound_sites
from barfem.strength.fatigue.cycle_load import loaded
from barfem.strength.fatigue.goodman import goodman_use
from barfem.strength.fatigue.life import Life
from barfem.strength.fatigue.mean_stress import MeanStress
from barfem.strength.fatigue.sn_line import StressLifeLine
from barfem.strength.fatigue.strength import FatigueStrength, fatigue_strength

YIELD, TENSILE = 1300.0, 1450.0
STEEL = Steel("custom", "as given", 206e3, 0.3, 7850.0, YIELD, TENSILE)


def bare(*, tensile: float, f: float, endurance: float) -> FatigueStrength:
    one = np.ones(())
    return FatigueStrength(
        tensile_MPa=tensile * one,
        at_1_cycle_MPa=tensile * one,
        at_1e3_cycles_MPa=f * tensile * one,
        at_1e6_cycles_MPa=endurance * one,
        has_knee=np.array(True),
        torsion_share=one,
        sites=sound_sites(at_1e3_MPa=f * tensile * one, at_1e6_MPa=endurance * one),
    )


def judged(surface: str = "as-hardened-scaled", **changes: object) -> FatigueAssessment:
    strength = fatigue_strength(STEEL, diameter_mm=24.0, torsion_share=0.0, skin=Skin.named(surface))
    arguments: dict[str, object] = {
        "amplitude_MPa": 400.0,
        "mean_MPa": 0.0,
        "max_von_mises_MPa": 400.0,
        "yield_MPa": YIELD,
        "tensile_MPa": TENSILE,
        "target_cycles": 2e5,
        "survival": 0.9,
    }
    return assess(strength, **{**arguments, **changes})  # type: ignore[arg-type]


@pytest.mark.parametrize(("amplitude", "mean", "n"), [(172.0, 178.4, 1.06), (145.5, 178.4, 1.18)])
def test_goodman_safety_factor_of_the_handbook(amplitude: float, mean: float, n: float) -> None:
    """Shigley's solutions manual (8th ed.) 6-12 and 6-14: Se 276, Sy 413, Sut 551 MPa."""
    found = assess(
        bare(tensile=551.0, f=0.9, endurance=276.0),
        amplitude_MPa=amplitude,
        mean_MPa=mean,
        max_von_mises_MPa=amplitude + mean,
        yield_MPa=413.0,
        tensile_MPa=551.0,
        target_cycles=1e6,
        survival=0.5,
    )
    assert found.goodman_safety_factor == pytest.approx(n, abs=0.005)
    # At a million cycles the target strength is the endurance limit.
    assert found.safety_factor_at_target == pytest.approx(float(found.goodman_safety_factor), rel=1e-12)


@pytest.mark.parametrize("softened", [None, 700.0])
def test_the_endurance_limit_of_a_peened_skin_is_the_amplitude_that_lasts_a_million_cycles(softened) -> None:
    """The limit is sought by a root of its own; the life at it is found the way of every life, what a steel that
    softens to 700 MPa lets go of its peening included.
    """
    strength = fatigue_strength(STEEL, diameter_mm=24.0, torsion_share=0.0, skin=Skin.named("shot-peened"))
    peened = {"surface": "shot-peened", "residual_MPa": -500.0, "cyclic_yield_MPa": softened}
    limit = float(judged(**peened).endurance_limit_MPa)
    assert limit > 1.02 * float(strength.at_1e6_cycles_MPa)  # peening earns something
    there = judged(**peened, amplitude_MPa=limit, max_von_mises_MPa=limit)
    assert there.life_cycles == pytest.approx(1e6, rel=1e-5)
    assert there.goodman_safety_factor == pytest.approx(1.0, rel=1e-9)


@pytest.mark.parametrize(("tension", "left"), [(300.0, 300.0), (1200.0, 900.0)])
def test_goodmans_factor_beside_residual_tension_that_does_not_grow_with_the_load(tension: float, left: float) -> None:
    """n x 200 / S + (n x 100 + tension) / 1450 = 1. Of 1200 MPa the first full load, 400 MPa below a yield of 1300,
    leaves 900. The place that is sought as the worst by this factor is sought by the same number.
    """
    cycle = {"amplitude_MPa": 200.0, "mean_MPa": 100.0, "residual_MPa": tension, "max_von_mises_MPa": 400.0}
    strength = bare(tensile=TENSILE, f=0.8, endurance=500.0)
    given = {**cycle, "yield_MPa": YIELD, "tensile_MPa": TENSILE}
    n = float(assess(strength, **given, target_cycles=1e6, survival=0.5).goodman_safety_factor)
    assert n * 200.0 / 500.0 + (n * 100.0 + left) / TENSILE == pytest.approx(1.0, rel=1e-12)
    use = goodman_use(np.array(500.0), loaded(strength, **given, cyclic_yield_MPa=None))
    assert float(use) == pytest.approx(1.0 / n, rel=1e-12)


def test_a_curve_at_its_own_endurance_limit_has_no_end() -> None:
    """1000 MPa x (2N)^-0.1 reaches 300 MPa at 0.5 x 0.3^-10 = 84 675 cycles; from there down nothing breaks."""
    curve = basquin_strength(1000.0, -0.1, endurance_limit_MPa=300.0)
    life, beyond = curve.life([300.001, 300.0, 299.0, 0.0])
    assert beyond.tolist() == [False, True, True, True]
    np.testing.assert_allclose(life, 84_675.0, rtol=1e-4)


def test_lives_stand_in_the_order_in_which_bars_break() -> None:
    """No life first, then a life of less than a cycle, then one that only the middle bar outlives, at last no end."""
    none, instant, short = Life(None, None, reason="above yield"), Life(0.02, 40.0), Life(61_000.0, 85_000.0)
    weaker_breaks, endless = Life(2e6, None, runout=True), Life(None, None, runout=True)
    assert sorted([endless, weaker_breaks, short, instant, none], key=lambda each: each.order) == [
        none,
        instant,
        short,
        weaker_breaks,
        endless,
    ]
    assert endless.runout_at_survival and not weaker_breaks.runout_at_survival
    assert Life(float("nan"), None).order == none.order


@pytest.mark.parametrize("surface", ["as-hardened-scaled", "polished", "corroded"])
def test_of_many_places_the_more_stressed_comes_first_with_and_without_an_end_of_its_life(surface: str) -> None:
    """Amplitudes from a hundredth of the limit to nearly the tensile strength, one steel: the order of the stresses.
    Lives rank above whatever has no end, and a life ten times as short ranks 10^0.1 as high.
    """
    strength = fatigue_strength(STEEL, diameter_mm=24.0, torsion_share=0.0, skin=Skin.named(surface))
    limit = float(strength.strength_at(1e7)) * strength.survival_factor(0.9)
    stress = np.sort(np.append(np.geomspace(0.01 * limit, 0.9 * TENSILE, 200), [0.9999 * limit, 1.0001 * limit]))
    given = {"mean_MPa": 0.0, "residual_MPa": 0.0, "max_von_mises_MPa": stress, "cyclic_yield_MPa": None}
    load = loaded(strength, amplitude_MPa=stress, yield_MPa=YIELD, tensile_MPa=TENSILE, **given)
    rank = life_rank(load, target_cycles=2e5, survival=0.9)
    assert np.all(np.diff(rank) > 0.0)
    assert np.array_equal(rank > ENDLESS_RANK, stress > limit) or surface == "corroded"
    life = assess_lives(strength, survival=0.9, amplitude_MPa=stress, yield_MPa=YIELD, tensile_MPa=TENSILE, **given)
    there = np.isfinite(life.life_at_survival_cycles)
    np.testing.assert_allclose(rank[there] ** -10.0 * 1e6, life.life_at_survival_cycles[there], rtol=1e-6)


@pytest.mark.parametrize("peak_share", [1.0, 0.6])
@pytest.mark.parametrize("mean", [0.0, 150.0, 400.0])
@pytest.mark.parametrize("cycles", [2e4, 2e5, 2e6])
def test_the_amplitude_that_lasts_lasts_as_long(mean: float, peak_share: float, cycles: float) -> None:
    """On a peened skin whose steel yields at 700 MPa once and softens to 600: how much of the peening is left hangs on
    the greatest stress held against yield, which at a hole's edge is a share of mean and amplitude.
    """
    strength = fatigue_strength(STEEL, diameter_mm=24.0, torsion_share=0.0, skin=Skin.named("shot-peened"))
    steel = {"yield_MPa": 700.0, "tensile_MPa": TENSILE, "cyclic_yield_MPa": 600.0, "residual_MPa": -500.0}
    found = float(amplitude_lasting(strength, cycles, mean_MPa=mean, peak_share=peak_share, **steel))
    given = {**steel, "amplitude_MPa": found, "mean_MPa": mean, "max_von_mises_MPa": peak_share * (found + mean)}
    load = loaded(strength, **given)
    assert float(strength.life(load.harm(MeanStress()))[0]) == pytest.approx(cycles, rel=1e-6)


def test_a_load_of_nothing_but_rounding_has_no_factor_of_either_kind() -> None:
    """A bar that turns in its bushings feels 1e-10 MPa: a factor of 7e12 says nothing of it."""
    found = judged(amplitude_MPa=1e-10, max_von_mises_MPa=1e-10)
    assert np.isnan(found.goodman_safety_factor) and np.isnan(found.safety_factor_at_target)
    small = judged(amplitude_MPa=1.0, max_von_mises_MPa=1.0)
    assert small.goodman_safety_factor > 100.0 and small.safety_factor_at_target > 100.0


def test_the_life_is_that_of_the_equivalent_amplitude() -> None:
    """A scaled skin of 448.6 HV, R by its own term: 400 x (690 / 400)^(0.226 + 0.04486) = 463.6 MPa."""
    found = judged(mean_MPa=290.0)
    assert found.equivalent_amplitude_MPa == pytest.approx(463.6, abs=0.1)
    same = judged(amplitude_MPa=float(found.equivalent_amplitude_MPa))
    assert found.life_cycles == pytest.approx(float(same.life_cycles), rel=1e-6)
    # Sound steel by Goodman, 500 MPa.
    assert judged("polished", mean_MPa=290.0).equivalent_amplitude_MPa == pytest.approx(500.0)


def test_survival_is_strength_scaled_and_nothing_else() -> None:
    # 90 %: 8 % of strength and 0.2 of log10 life on exponent 6 together, 10^(-1.281552 x 0.049218) = 0.864818.
    assert judged().life_at_survival_cycles == pytest.approx(
        float(judged(amplitude_MPa=400.0 / 0.864818).life_cycles), rel=1e-5
    )
    assert judged(survival=0.5).life_at_survival_cycles == pytest.approx(float(judged().life_cycles), rel=1e-12)


def test_safety_factor_at_target_is_one_where_the_median_life_is_the_target() -> None:
    life = float(judged(mean_MPa=100.0).life_cycles)
    assert judged(mean_MPa=100.0, target_cycles=life).safety_factor_at_target == pytest.approx(1.0, rel=1e-9)


def test_safety_factor_scales_the_load_and_not_the_residual_stress() -> None:
    found = judged(mean_MPa=50.0, residual_MPa=200.0)
    n = float(found.safety_factor_at_target)
    at_limit = judged(amplitude_MPa=400.0 * n, mean_MPa=50.0 * n, residual_MPa=200.0)
    assert at_limit.life_cycles == pytest.approx(2e5, rel=1e-6)


@pytest.mark.parametrize("method", ["gerber", "soderberg", "morrow", "swt", "walker"])
@pytest.mark.parametrize("residual", [200.0, -30.0])
def test_by_every_rule_the_factor_scales_the_load_and_not_the_residual_stress(method: str, residual: float) -> None:
    rule = MeanStress(method, 2100.0 if method == "morrow" else None)
    found = judged(amplitude_MPa=250.0, mean_MPa=50.0, residual_MPa=residual, rule=rule)
    n = float(found.safety_factor_at_target)
    assert abs(n - 1.0) > 0.02  # at one, both ways would be the same
    at_limit = judged(amplitude_MPa=250.0 * n, mean_MPa=50.0 * n, residual_MPa=residual, rule=rule)
    assert at_limit.life_cycles == pytest.approx(2e5, rel=1e-6)


def test_safety_factor_where_residual_compression_outlasts_the_load_mean() -> None:
    """At that factor on the load, with the same residual stress as far as it survives, the life is the target."""
    found = judged(mean_MPa=10.0, residual_MPa=-400.0)
    n = float(found.safety_factor_at_target)
    assert n > float(judged(mean_MPa=10.0).safety_factor_at_target) and found.mean_used_MPa == 0.0
    there = judged(amplitude_MPa=400.0 * n, mean_MPa=10.0 * n, max_von_mises_MPa=400.0 * n, residual_MPa=-400.0)
    assert there.life_cycles == pytest.approx(2e5, rel=1e-6)


def test_compression_earns_more_the_more_there_is_until_the_steel_below_decides() -> None:
    eq = [float(judged(residual_MPa=residual).equivalent_amplitude_MPa) for residual in (0.0, -100.0, -200.0, -395.0)]
    # (400 - 100) / 400 to the power 0.27086 of 400 MPa, and so on: the flaw's own term.
    np.testing.assert_allclose(eq[1:3], [400.0 * 0.75**0.27086, 400.0 * 0.5**0.27086], rtol=1e-4)
    assert eq[0] == pytest.approx(400.0)
    assert eq[1] > eq[2] > eq[3]
    # A skin in compression through the whole cycle leaves the sound steel, whose line lies far above the scaled one's.
    closed = [judged(residual_MPa=residual).equivalent_amplitude_MPa for residual in (-450.0, -600.0)]
    assert closed[0] == closed[1] < eq[2]


def test_residual_tension_shortens_life_and_cannot_exceed_what_the_load_leaves_up_to_yield() -> None:
    assert judged(residual_MPa=300.0).life_cycles < judged().life_cycles
    # Load peak 400, yield 1300: 900 MPa of tension can stay, whatever was there before.
    np.testing.assert_allclose(judged(residual_MPa=1200.0).mean_used_MPa, 900.0)
    np.testing.assert_allclose(judged(residual_MPa=800.0).mean_used_MPa, 800.0)


def test_peening_is_lost_where_the_load_alone_yields() -> None:
    low = judged("shot-peened", residual_MPa=-500.0)
    high = judged("shot-peened", residual_MPa=-500.0, amplitude_MPa=1100.0, max_von_mises_MPa=1100.0)
    assert not low.peening_lost and high.peening_lost
    assert low.runout
    # 1200 MPa once and 900 in every cycle: beside 880 MPa of bending a little fits in, beside 900 nothing.
    steel = {"residual_MPa": -500.0, "yield_MPa": 1200.0, "cyclic_yield_MPa": 900.0}
    little, none = (
        judged("shot-peened", **steel, amplitude_MPa=load, max_von_mises_MPa=load) for load in (880.0, 900.0)
    )
    assert -60.0 < little.residual_left_MPa < -30.0 and not little.peening_lost
    assert none.residual_left_MPa == 0.0 and none.peening_lost
    bare = judged(amplitude_MPa=1100.0, max_von_mises_MPa=1100.0)
    np.testing.assert_allclose(high.life_cycles, bare.life_cycles)


@pytest.mark.parametrize(
    ("changes", "status", "word"),
    [
        ({}, LifeStatus.STANDS, ""),
        ({"amplitude_MPa": 50.0, "max_von_mises_MPa": 50.0}, LifeStatus.BEYOND_KNEE, "10 000 000"),
        ({"amplitude_MPa": 1200.0, "max_von_mises_MPa": 1200.0}, LifeStatus.BELOW_1000_CYCLES, "orientation"),
        ({"max_von_mises_MPa": 1301.0}, LifeStatus.ABOVE_YIELD, "above yield"),
        ({"mean_MPa": 1450.0}, LifeStatus.MEAN_AT_TENSILE, "reaches the tensile"),
        ({"amplitude_MPa": 900.0, "mean_MPa": 800.0}, LifeStatus.AMPLITUDE_AT_TENSILE, "tensile strength"),
    ],
)
def test_a_missing_life_says_why(changes: dict[str, float], status: LifeStatus, word: str) -> None:
    found = judged(**changes)
    assert LifeStatus(int(found.status)) is status
    assert word in found.reason()
    claimed = status in (LifeStatus.STANDS, LifeStatus.BELOW_1000_CYCLES)
    assert bool(np.isfinite(found.life_cycles)) is claimed
    assert bool(found.runout) is (status is LifeStatus.BEYOND_KNEE)
    if not claimed and status is not LifeStatus.BEYOND_KNEE:
        assert np.isnan(found.life_at_survival_cycles) and not found.runout_at_survival


def test_a_bar_may_run_out_at_the_median_and_not_at_survival() -> None:
    limit = float(
        fatigue_strength(STEEL, diameter_mm=24.0, torsion_share=0.0, skin=Skin.named("machined")).endurance_limit_MPa
    )
    found = judged("machined", amplitude_MPa=0.94 * limit)
    assert found.runout and not found.runout_at_survival
    assert np.isnan(found.life_cycles) and 1e4 < found.life_at_survival_cycles < 1e6
    assert found.goodman_safety_factor == pytest.approx(1.0 / 0.94)


def test_no_load_has_no_safety_factor_and_no_life_to_claim() -> None:
    found = judged(amplitude_MPa=0.0, max_von_mises_MPa=0.0)
    assert np.isnan(found.goodman_safety_factor) and np.isnan(found.safety_factor_at_target)
    assert found.runout and found.runout_at_survival


def test_places_are_judged_one_by_one() -> None:
    amplitudes = np.array([[50.0, 400.0, 700.0], [1200.0, 300.0, 300.0]])
    peaks = np.array([[50.0, 400.0, 1350.0], [1200.0, 300.0, 300.0]])
    means = np.array([[0.0, 0.0, 0.0], [0.0, 100.0, 1500.0]])
    strength = fatigue_strength(
        STEEL, diameter_mm=24.0, torsion_share=np.zeros((2, 3)), skin=Skin.named("as-hardened-scaled")
    )
    common = {"yield_MPa": YIELD, "tensile_MPa": TENSILE, "target_cycles": 2e5, "survival": 0.9}
    found = assess(strength, amplitude_MPa=amplitudes, mean_MPa=means, max_von_mises_MPa=peaks, **common)
    for i, j in np.ndindex(2, 3):
        one = judged(amplitude_MPa=amplitudes[i, j], mean_MPa=means[i, j], max_von_mises_MPa=peaks[i, j])
        np.testing.assert_allclose(found.life_cycles[i, j], one.life_cycles)
        np.testing.assert_allclose(found.goodman_safety_factor[i, j], one.goodman_safety_factor)
        assert found.reason((i, j)) == one.reason()


def test_a_stress_that_is_no_number_is_an_error() -> None:
    with pytest.raises(BarfemError, match="amplitude"):
        judged(amplitude_MPa=np.nan)


def test_survival_must_be_a_share() -> None:
    with pytest.raises(InputError, match="survival"):
        judged(survival=1.0)


def test_the_line_is_one_line_and_its_own_inverse() -> None:
    strength = fatigue_strength(STEEL, diameter_mm=24.0, torsion_share=1.0, skin=Skin.named("machined"))
    cycles = np.logspace(0.0, 5.99, 40)
    back, beyond = strength.life(strength.strength_at(cycles))
    np.testing.assert_allclose(back, cycles, rtol=1e-9)
    assert not beyond.any()
    limit = strength.endurance_limit_MPa
    line = StressLifeLine.of(at_1_MPa=1450.0, at_1e3_MPa=1100.0, at_1e6_MPa=limit, has_knee=True)
    life, beyond = line.life([0.95 * limit, 0.0])
    assert beyond.all() and np.all(life == 1e7)


def test_the_share_of_the_target_is_one_where_life_at_survival_is_the_target() -> None:
    """Above one the life reaches it, below it does not, with residual stress and a mean too; smooth beyond the knee."""
    amplitude = np.linspace(250.0, 700.0, 40)
    found = judged("shot-peened", amplitude_MPa=amplitude, max_von_mises_MPa=amplitude, mean_MPa=50.0, survival=0.9)
    reaches = (found.life_at_survival_cycles >= 200_000) | found.runout_at_survival
    assert np.array_equal(found.target_share_at_survival >= 1.0, reaches) and 0 < reaches.sum() < 40
    assert np.all(np.diff(found.target_share_at_survival) < 0.0)


@pytest.mark.parametrize("skin", ["as-hardened-scaled", "shot-peened"])
def test_bars_at_survival_bear_the_load_at_which_their_life_is_the_target(skin: str) -> None:
    """Peening's compression relaxes as the load grows: that load is no fixed share of the median bar's."""
    strength = fatigue_strength(STEEL, diameter_mm=24.0, torsion_share=0.4, skin=Skin.named(skin))
    stresses = {"amplitude_MPa": 300.0, "mean_MPa": 40.0, "residual_MPa": -400.0 if skin == "shot-peened" else 0.0}
    limits = {"yield_MPa": YIELD, "tensile_MPa": TENSILE, "cyclic_yield_MPa": 950.0}
    share = strength.survival_factor(0.9)
    of_these, of_median = (
        equivalent_and_factor(
            strength, strength.strength_at(2e5), strength_share=each, max_von_mises_MPa=340.0, **stresses, **limits
        )[1]
        for each in (share, 1.0)
    )
    n = float(of_these)
    cycle = {"amplitude_MPa": n * 300.0, "mean_MPa": n * 40.0, "max_von_mises_MPa": n * 340.0}
    found = assess(strength, **{**stresses, **cycle, **limits}, target_cycles=2e5, survival=0.9)
    assert float(found.target_share_at_survival) == pytest.approx(1.0, rel=1e-9)
    assert float(found.life_at_survival_cycles) == pytest.approx(2e5, rel=1e-6)
    assert (n / float(of_median) > share * 1.02) == (skin == "shot-peened")
