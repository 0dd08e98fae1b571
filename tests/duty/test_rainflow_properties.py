"""What rainflow counting conserves, on random histories."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from barfem.strength.duty import reversals as reversals_module
from barfem.strength.duty.rainflow import Cycles, count_cycles
from barfem.strength.duty.reversals import filtered_turning_points, reversals

whole = hnp.arrays(float, st.integers(1, 60), elements=st.integers(-9, 9))
real = hnp.arrays(float, st.integers(1, 60), elements=st.floats(-1e3, 1e3, width=32))
history = st.one_of(whole, real)


def table(cycles: Cycles, sign: float = 1.0) -> Counter[tuple[float, float]]:
    rows = Counter()
    for size, mean, count in zip(cycles.range, cycles.mean, cycles.count, strict=True):
        rows[round(float(size), 9), round(float(sign * mean), 9) + 0.0] += float(count)
    return rows


@given(history)
@settings(deadline=None)
def test_every_reversal_is_used_once(values: np.ndarray) -> None:
    turning = reversals(values[None, :])
    cycles = count_cycles(values)
    # n turning points are n - 1 half cycles, and the half cycles cover all of the path between turning points.
    assert cycles.count.sum() == pytest.approx(0.5 * (turning.size - 1))
    path = np.abs(np.diff(values[turning])).sum()
    assert 2.0 * (cycles.count * cycles.range).sum() == pytest.approx(path, rel=1e-9, abs=1e-9)
    if values.size > 1 and np.ptp(values) > 0.0:
        assert cycles.range.max() == np.ptp(values)


@given(history)
@settings(deadline=None)
def test_negated_or_reversed_histories_count_alike(values: np.ndarray) -> None:
    cycles = table(count_cycles(values))
    assert table(count_cycles(-values), sign=-1.0) == cycles
    assert table(count_cycles(values[::-1])) == cycles


@given(whole, st.integers(1, 4))
@settings(deadline=None)
def test_level_stretches_do_not_count(values: np.ndarray, times: int) -> None:
    assert table(count_cycles(np.repeat(values, times))) == table(count_cycles(values))


@given(history)
@settings(deadline=None)
def test_a_repeated_history_closes_every_cycle(values: np.ndarray) -> None:
    once = count_cycles(values, residue="repeat")
    # Whole cycles only, but for the two halves of the largest one.
    halves = once.count == 0.5
    assert halves.sum() in (0, 2)
    if halves.any():
        np.testing.assert_allclose(once.range[halves], np.ptp(values))
    # Twice the history is counted as twice the cycles.
    twice = table(count_cycles(np.tile(values, 2), residue="repeat"))
    assert twice == Counter({key: 2.0 * count for key, count in table(once).items()})


@given(whole, st.integers(0, 59))
@settings(deadline=None)
def test_a_repeated_history_may_start_anywhere(values: np.ndarray, shift: int) -> None:
    assert table(count_cycles(np.roll(values, shift), residue="repeat")) == table(
        count_cycles(values, residue="repeat")
    )


@given(hnp.arrays(float, st.tuples(st.integers(1, 5), st.integers(1, 30)), elements=st.integers(-5, 5)))
@settings(deadline=None)
def test_many_signals_count_as_each_alone(signals: np.ndarray) -> None:
    together = count_cycles(signals)
    for i, signal in enumerate(signals):
        mine = together.signal == i
        part = Cycles(**{name: getattr(together, name)[mine] for name in Cycles.__dataclass_fields__})
        assert table(part) == table(count_cycles(signal))
        np.testing.assert_array_equal(np.abs(signal[part.first] - signal[part.second]), part.range)


def test_many_long_signals_go_in_groups(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("barfem.strength.duty.rainflow._GROUP_SAMPLES", 100)
    signals = np.random.default_rng(4).normal(size=(7, 40))
    together = count_cycles(signals)
    for i, signal in enumerate(signals):
        alone, mine = count_cycles(signal), together.signal == i
        np.testing.assert_array_equal(np.sort(together.range[mine]), np.sort(alone.range))
        np.testing.assert_array_equal(signal[together.first[mine]], signals[i, together.first[mine]])


@given(whole, st.integers(1, 8))
@settings(deadline=None)
def test_hysteresis_takes_out_small_closed_cycles_and_no_others(values: np.ndarray, hysteresis: int) -> None:
    kept = filtered_turning_points(values, hysteresis=float(hysteresis))
    before, after = count_cycles(values), count_cycles(values[kept])
    large = before.range >= hysteresis
    rows = table(Cycles(**{name: getattr(before, name)[large] for name in Cycles.__dataclass_fields__}))
    left = table(Cycles(**{n: getattr(after, n)[after.range >= hysteresis] for n in Cycles.__dataclass_fields__}))
    assert left == rows
    assert not np.any((after.count == 1.0) & (after.range < hysteresis))


@given(history)
@settings(deadline=None)
def test_the_stack_and_the_passes_agree(values: np.ndarray) -> None:
    passes = table(count_cycles(values))
    worth = reversals_module._PASSES_WORTH_A_SWEEP
    try:
        reversals_module._PASSES_WORTH_A_SWEEP = -1
        assert table(count_cycles(values)) == passes
    finally:
        reversals_module._PASSES_WORTH_A_SWEEP = worth


def test_deeply_nested_cycles_take_the_stack_in_time(monkeypatch: pytest.MonkeyPatch) -> None:
    n = 40_000
    values = np.concatenate([np.linspace(10, 1, n // 2), np.linspace(1, 11, n // 2)]) * (-1.0) ** np.arange(n)
    passes = []
    whole_runs = reversals_module._every_other_of_a_run
    monkeypatch.setattr(
        reversals_module, "_every_other_of_a_run", lambda found: (passes.append(1), whole_runs(found))[1]
    )
    cycles = count_cycles(values)
    # Passes alone would be 20 000; after as much work as one sweep by the stack is worth, the stack takes over.
    assert len(passes) <= reversals_module._PASSES_WORTH_A_SWEEP + 2
    assert cycles.count.sum() == pytest.approx(0.5 * (n - 1))


@given(whole, st.integers(1, 8))
@settings(deadline=None)
def test_the_stack_takes_out_the_same_small_cycles(values: np.ndarray, hysteresis: int) -> None:
    passes = values[filtered_turning_points(values, hysteresis=float(hysteresis))]
    worth = reversals_module._PASSES_WORTH_A_SWEEP
    try:
        reversals_module._PASSES_WORTH_A_SWEEP = -1
        stack = values[filtered_turning_points(values, hysteresis=float(hysteresis))]
    finally:
        reversals_module._PASSES_WORTH_A_SWEEP = worth
    # Of equal cycles either may go; what is left counts the same.
    assert table(count_cycles(stack)) == table(count_cycles(passes))
