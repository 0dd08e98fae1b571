"""Damage per cycle and blocks: agreement with the single cycle, additivity, tendencies, refusals."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from barfem.model.errors import BarfemError, InputError
from barfem.model.material import Scatter
from barfem.strength.duty.blocks import BlockDamage, block_damage
from barfem.strength.duty.miner import DamageLines, damage_lines, damage_per_cycle, equivalent_amplitude
from barfem.strength.fatigue.assess import LifeStatus, assess
from barfem.strength.fatigue.mean_stress import MeanStress
from tests.duty.examples import lines, strength


def blocks(
    of: DamageLines, amplitude: list[float], cycles: list[float], mean: float = 0.0, **options: object
) -> BlockDamage:
    a = np.array(amplitude)[:, None]
    return block_damage(of, amplitude_MPa=a, mean_MPa=np.full_like(a, mean), cycles=cycles, **options)  # type: ignore[arg-type]


@pytest.mark.parametrize("amplitude", [310.0, 500.0, 900.0, 1115.0, 1200.0])
@pytest.mark.parametrize("mean", [0.0, 150.0])
def test_one_amplitude_lives_as_the_single_cycle_does(amplitude: float, mean: float) -> None:
    peak = amplitude + mean
    alone = assess(
        strength(),
        amplitude_MPa=amplitude,
        mean_MPa=mean,
        max_von_mises_MPa=min(peak, 1300.0),
        yield_MPa=1300.0,
        tensile_MPa=1450.0,
        target_cycles=1e5,
        survival=0.9,
    )
    mine = blocks(lines(peak=min(peak, 1300.0)), [amplitude], [7.0], mean, survivals=(0.5, 0.9), critical_sum=1.0)
    expected = np.stack([alone.life_cycles, alone.life_at_survival_cycles])
    np.testing.assert_allclose(7.0 * mine.repeats, expected, rtol=1e-12)


def test_below_the_limit_alone_is_a_runout_and_beside_a_larger_cycle_does_harm() -> None:
    alone = blocks(lines(), [250.0], [1e5], survivals=(0.5,))
    assert alone.runout.all() and np.isnan(alone.repeats).all() and alone.damage.sum() == 0.0
    beside = blocks(lines(), [250.0, 400.0], [1e5, 1.0], survivals=(0.5,))
    assert not beside.runout.any()
    # Haibach: exponent 2 k - 1 below the limit. k from 1116 MPa at 1e3 and 300 MPa at 1e6 cycles.
    k = 3.0 / np.log10(1116.0 / 300.0)
    assert beside.damage[0, 0, 0] == pytest.approx(1e5 * (250.0 / 300.0) ** (2.0 * k - 1.0) / 1e6, rel=1e-12)
    original = blocks(lines(below_limit="original"), [250.0, 400.0], [1e5, 1.0], survivals=(0.5,))
    elementary = blocks(lines(below_limit="elementary"), [250.0, 400.0], [1e5, 1.0], survivals=(0.5,))
    assert original.damage[0, 0, 0] == 0.0
    assert elementary.damage[0, 0, 0] == pytest.approx(1e5 * (250.0 / 300.0) ** k / 1e6, rel=1e-12)


def test_without_a_knee_every_cycle_does_harm() -> None:
    result = blocks(lines(knee=False), [100.0], [1e6], survivals=(0.5,), critical_sum=1.0)
    k = 3.0 / np.log10(1116.0 / 300.0)
    assert result.repeats[0, 0] == pytest.approx((300.0 / 100.0) ** k, rel=1e-12)


@given(st.lists(st.tuples(st.floats(1.0, 1000.0), st.floats(1.0, 1e5)), min_size=1, max_size=6), st.floats(1.0, 9.0))
@settings(deadline=None)
def test_damage_is_additive(pairs: list[tuple[float, float]], times: float) -> None:
    amplitude, cycles = [p[0] for p in pairs], [p[1] for p in pairs]
    once = blocks(lines(), amplitude, cycles)
    more = blocks(lines(), amplitude, [times * c for c in cycles])
    split = blocks(lines(), amplitude * 2, [0.25 * c for c in cycles] + [0.75 * c for c in cycles])
    np.testing.assert_allclose(more.damage, times * once.damage, rtol=1e-9)
    np.testing.assert_allclose(split.damage.sum(axis=1), once.damage.sum(axis=1), rtol=1e-9)
    lives = ~np.isnan(once.repeats)
    np.testing.assert_allclose((times * more.repeats)[lives], once.repeats[lives], rtol=1e-9)


def test_tendencies() -> None:
    def life(amplitude: float = 400.0, mean: float = 100.0, **options: object) -> float:
        return float(blocks(lines(**options), [amplitude, 250.0], [1.0, 10.0], mean, survivals=(0.5,)).repeats[0, 0])

    middle = life()
    assert life(amplitude=420.0) < middle
    assert life(mean=120.0) < middle
    assert life(at_1e6=280.0) < middle
    assert life(residual_MPa=100.0) < middle < life(residual_MPa=-80.0)
    assert life(below_limit="elementary") < middle < life(below_limit="original")
    # At this mean: Soderberg harsher than Goodman, Gerber milder (the lines end at yield and tensile strength).
    assert life(rule=MeanStress("soderberg")) < middle < life(rule=MeanStress("gerber"))
    survivals = blocks(lines(), [400.0], [1.0], survivals=(0.5, 0.9, 0.99)).repeats[:, 0]
    assert survivals[0] > survivals[1] > survivals[2]
    half = blocks(lines(), [400.0], [1.0], survivals=(0.5,), critical_sum=0.5).repeats
    assert half * 2.0 == pytest.approx(blocks(lines(), [400.0], [1.0], survivals=(0.5,), critical_sum=1.0).repeats)


@pytest.mark.parametrize("method", ["goodman", "gerber", "soderberg", "swt", "walker"])
def test_compression_of_the_skin_leaves_the_steel_below_it_to_the_load(method: str) -> None:
    """Less than without compression, never less than the amplitude alone: the crack starts where compression ends."""
    rule = MeanStress(method)
    reversed_, bare = (
        equivalent_amplitude(lines(rule=rule), amplitude_MPa=300.0, mean_MPa=mean) for mean in (0.0, 50.0)
    )
    pressed = equivalent_amplitude(lines(residual_MPa=-200.0, rule=rule), amplitude_MPa=300.0, mean_MPa=50.0)
    assert reversed_ == pytest.approx(300.0) and reversed_ <= pressed <= bare


def test_a_runout_at_the_median_need_not_be_one_at_survival() -> None:
    result = blocks(lines(), [280.0], [1.0], survivals=(0.5, 0.9))
    # 280 MPa lies below the 300 MPa of the median bar, above the 0.897 x 300 = 269 MPa of nine bars in ten.
    np.testing.assert_array_equal(result.runout[:, 0], [True, False])
    assert np.isnan(result.repeats[0, 0]) and result.repeats[1, 0] > 0.0


def test_the_steels_own_scatter_counts() -> None:
    from dataclasses import replace

    wide = replace(lines(), scatter=Scatter(log10_life_deviation=0.3, exponent=5.0))
    result = blocks(wide, [400.0], [1.0], survivals=(0.5, 0.9))
    # Strength at 90 % is lower by 10^(-1.2816 x 0.3 / 5); life by k of this line times that.
    k = 3.0 / np.log10(1116.0 / 300.0)
    assert np.log10(result.repeats[0, 0] / result.repeats[1, 0]) == pytest.approx(k * 1.2815516 * 0.3 / 5.0, rel=1e-6)


def test_no_life_above_yield_or_at_tensile_strength() -> None:
    above = blocks(lines(peak=1301.0), [400.0], [1.0])
    assert above.status[0] == LifeStatus.ABOVE_YIELD
    mean = blocks(lines(), [10.0], [1.0], 1450.0)
    assert mean.status[0] == LifeStatus.MEAN_AT_TENSILE
    limit = blocks(lines(rule=MeanStress("soderberg")), [10.0], [1.0], 1300.0)
    assert limit.status[0] == LifeStatus.MEAN_AT_LIMIT
    # Also by a rule whose line never ends.
    endless = blocks(lines(rule=MeanStress("swt")), [10.0], [1.0], 1450.0)
    assert endless.status[0] == LifeStatus.MEAN_AT_TENSILE
    amplitude = blocks(lines(), [1460.0], [1.0])
    assert amplitude.status[0] == LifeStatus.AMPLITUDE_AT_TENSILE
    for result in (above, mean, limit, endless, amplitude):
        assert np.isnan(result.repeats).all() and np.isnan(result.damage).all() and not result.runout.any()
        assert result.governing() == 0


def test_the_governing_place_is_that_of_the_most_damage() -> None:
    three = lines(3)
    result = block_damage(
        three, amplitude_MPa=[[400.0, 500.0, 450.0]], mean_MPa=np.zeros((1, 3)), cycles=[1.0], survivals=(0.5,)
    )
    assert result.governing() == 1
    runouts = block_damage(
        three, amplitude_MPa=[[100.0, 150.0, 200.0]], mean_MPa=np.zeros((1, 3)), cycles=[1.0], survivals=(0.5,)
    )
    assert runouts.governing() == 2


def test_a_place_without_a_life_governs_wherever_it_stands() -> None:
    three = lines(3, peak=np.array([500.0, 1301.0, 500.0]))
    result = block_damage(
        three, amplitude_MPa=[[500.0, 100.0, 400.0]], mean_MPa=np.zeros((1, 3)), cycles=[1.0], survivals=(0.5,)
    )
    assert result.governing() == 1 and np.isnan(result.repeats[0, 1]) and result.repeats[0, 0] > 0.0


def test_no_stress_has_no_end_even_without_a_knee() -> None:
    result = blocks(lines(knee=False), [0.0], [1e6], survivals=(0.5,))
    assert result.runout[0, 0] and np.isnan(result.repeats[0, 0]) and result.status[0] == LifeStatus.STANDS


def test_a_run_out_is_shown_as_far_as_the_slow_decline_goes_on() -> None:
    """By hand: 300 MPa at 1e6 cycles decline by 10^(-1/45) to 285.02 at 1e7; 270 MPa are as far below as 11.4 x 1e7."""
    one, two = (blocks(lines(), [270.0, 100.0][:n], [1e4, 1e6][:n], survivals=(0.5,), critical_sum=0.5) for n in (1, 2))
    cycles = 1e7 * (300.0 * 10.0 ** (-1.0 / 45.0) / 270.0) ** 45.0
    assert cycles == pytest.approx(1.146e8, rel=1e-3)
    assert one.shown_repeats[0, 0] == pytest.approx(0.5 * cycles / 1e4, rel=1e-9)
    assert two.shown_repeats[0, 0] == pytest.approx(one.shown_repeats[0, 0], rel=1e-9)  # the small ones use up nothing
    assert np.isnan(blocks(lines(), [300.0], [1.0], survivals=(0.5,)).shown_repeats).all()
    assert np.isinf(blocks(lines(), [0.0], [1e6], survivals=(0.5,)).shown_repeats).all()


def test_where_pits_grow_it_is_shown_as_far_as_the_sloping_line_goes_on() -> None:
    line = lines(knee=False)
    found = blocks(line, [60.0], [1e6], survivals=(0.5,), critical_sum=1.0)
    k = 3.0 / np.log10(1116.0 / 300.0)
    assert found.shown_repeats[0, 0] == pytest.approx(1e6 * (300.0 / 60.0) ** k / 1e6, rel=1e-9)


def test_without_a_knee_a_duty_runs_out_at_a_thousand_million_cycles() -> None:
    # From 1116 MPa at 1e3 to 300 at 1e6 cycles the line comes to 300^2 / 1116 = 80.65 MPa at 1e9.
    line = lines(knee=False)
    above, below = (blocks(line, [stress], [1.0], survivals=(0.5,), critical_sum=1.0) for stress in (80.7, 80.6))
    assert above.repeats[0, 0] == pytest.approx(1e9, rel=0.01) and not above.runout[0, 0]
    assert below.runout[0, 0] and below.damage.sum() == 0.0
    # A cycle above makes every other count.
    both = blocks(line, [300.0, 50.0], [1.0, 1e6], survivals=(0.5,))
    assert both.damage[0, 1, 0] > 0.0


def test_residual_tension_is_what_the_greatest_travel_leaves_of_it() -> None:
    # 1300 MPa of yield less 900 MPa of load leave 400 MPa of 500.
    options = {"tensile_MPa": 1450.0, "yield_MPa": 1300.0, "residual_MPa": 500.0}
    assert damage_lines(strength(), peak_MPa=900.0, **options).residual_MPa[0] == pytest.approx(400.0)
    assert damage_lines(strength(), peak_MPa=700.0, **options).residual_MPa[0] == pytest.approx(500.0)


def test_damage_is_continuous_along_the_line() -> None:
    for corner in (300.0, 1116.0):
        below, above = damage_per_cycle(lines(), [corner * (1.0 - 1e-9)]), damage_per_cycle(lines(), [corner])
        np.testing.assert_allclose(below, above, rtol=1e-6)


def test_peening_relaxes_for_the_whole_duty_by_its_peak() -> None:
    """Torsion share 0.5, cyclic yield of 1450 MPa by FKM: what is left solves r^2 + r s + s^2 + 3 t^2 = yield^2."""
    options = {"tensile_MPa": 1450.0, "yield_MPa": 1300.0, "residual_MPa": -500.0, "cyclic_yield_MPa": 950.0}
    left = [damage_lines(strength(), peak_MPa=peak, **options).residual_MPa[0] for peak in (400.0, 800.0, 1000.0)]
    s = 800.0 * np.sqrt(0.5)
    assert left[0] == -500.0 and left[2] == 0.0
    assert left[1] == pytest.approx(0.5 * s - np.sqrt(0.25 * s**2 + 950.0**2 - 800.0**2))


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(InputError, match="no block"):
        block_damage(lines(), amplitude_MPa=np.empty((0, 1)), mean_MPa=np.empty((0, 1)), cycles=[])
    with pytest.raises(InputError, match="blocks 2, cycles: 0 cycles"):
        blocks(lines(), [400.0, 300.0], [1.0, 0.0])
    with pytest.raises(InputError, match="critical damage sum"):
        blocks(lines(), [400.0], [1.0], critical_sum=0.0)
    with pytest.raises(InputError, match="survival"):
        blocks(lines(), [400.0], [1.0], survivals=(1.0,))
    with pytest.raises(InputError, match="below_limit 'none' is not known"):
        lines(below_limit="none")
    with pytest.raises(BarfemError, match="not a finite number"):
        blocks(lines(), [np.nan], [1.0])
    with pytest.raises(BarfemError, match="does not fall"):
        lines(at_1e6=1200.0)
