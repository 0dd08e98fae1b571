"""Rainflow and Miner against ASTM E1049-85, a hand case, a computed block duty, and three independent libraries."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable

import numpy as np
import pytest

from barfem.strength.duty.blocks import block_damage
from barfem.strength.duty.miner import DamageLines, damage_per_cycle
from barfem.strength.duty.rainflow import Cycles, count_cycles
from barfem.strength.fatigue.basquin import sound_sites

Compare = Callable[..., None]
Rows = Counter[tuple[float, float]]

REASON = "an optional library for tests, in barfem[test]"


def cycle_table(cycles: Cycles) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(range, mean, count) with equal range and mean added up, sorted by range, then mean: the table of E1049."""
    both = np.stack([cycles.range, cycles.mean], axis=1)
    unique, where = np.unique(both, axis=0, return_inverse=True)
    counts = np.asarray(np.bincount(where.ravel(), weights=cycles.count, minlength=len(unique)), float)
    return unique[:, 0], unique[:, 1], counts


def ours(values: np.ndarray, residue: str = "half") -> Rows:
    rows: Rows = Counter()
    for size, mean, count in zip(*cycle_table(count_cycles(values, residue=residue)), strict=True):  # type: ignore[arg-type]
        rows[round(float(size), 8), round(float(mean), 8) + 0.0] += float(count)
    return rows


def histories() -> list[np.ndarray]:
    """Whole numbers (many ties), noise, a walk, and a beat; a few of each."""
    rng = np.random.default_rng(7)
    beat = np.arange(2_000)
    return [
        *(rng.integers(-6, 7, 300).astype(float) for _ in range(5)),
        *(rng.normal(size=1_000) for _ in range(3)),
        *(np.cumsum(rng.normal(size=1_000)) for _ in range(3)),
        np.sin(0.7 * beat) * np.sin(0.011 * beat),
    ]


def test_astm_e1049_example(compare: Compare) -> None:
    size, mean, count = cycle_table(count_cycles([-2.0, 1.0, -3.0, 5.0, -1.0, 3.0, -4.0, 4.0, -2.0]))
    theirs = [(3, -0.5, 0.5), (4, -1, 0.5), (4, 1, 1), (6, 1, 0.5), (8, 0, 0.5), (8, 1, 0.5), (9, 0.5, 0.5)]
    compare(
        case="rainflow, history of Fig. 6: range, mean, count",
        source="ASTM E1049-85 Fig. 6; the table reproduced with rainflow 3.2.0 from the registry",
        ours=np.stack([size, mean, count], axis=1),
        theirs=theirs,
        allowed=0.0,
        absolute=True,
        why="whole numbers: counting is exact",
    )


def test_hand_case(compare: Compare) -> None:
    size, _, count = cycle_table(count_cycles([0.0, 2.0, 1.0, 3.0, 0.0]))
    compare(
        case="rainflow, 0 2 1 3 0: ranges and counts",
        source="by hand: one cycle 2-1 inside, 0-3 and 3-0 as two halves",
        ours=[*size, *count],
        theirs=[1.0, 3.0, 1.0, 1.0],
        allowed=0.0,
        absolute=True,
        why="counting is exact",
    )


@pytest.mark.parametrize("number", range(12))
def test_rainflow_library(number: int) -> None:
    library = pytest.importorskip("rainflow", reason=REASON)
    values = histories()[number]
    rows: Rows = Counter()
    for size, mean, count, _, _ in library.extract_cycles(values):
        rows[round(float(size), 8), round(float(mean), 8) + 0.0] += count
    assert ours(values) == rows


@pytest.mark.parametrize("number", range(12))
@pytest.mark.parametrize("residue", ["half", "repeat"])
def test_fatpack_library(number: int, residue: str) -> None:
    """fatpack sorts values into levels (2^20 here) and counts closed cycles; its residue counts half.

    A repeated history is handed over from its highest point round to it again. (fatpack's own joining of two
    residues keeps the wrong one of the two points where the second turns against the first.)
    """
    library = pytest.importorskip("fatpack", reason=REASON)
    values = histories()[number]
    if residue == "repeat":
        top = int(np.argmax(values))
        given = np.append(np.roll(values, -top), values[top])
    else:
        given = values
    points, _ = library.find_reversals(given, k=2**20)
    closed, rest = library.find_rainflow_cycles(points)
    ranges = np.abs(np.diff(closed, axis=1)).ravel()
    theirs = np.sort(np.concatenate([ranges, ranges, np.abs(np.diff(rest))]))
    found = count_cycles(values, residue=residue)  # type: ignore[arg-type]
    mine = np.sort(np.repeat(found.range, np.rint(2.0 * found.count).astype(int)))
    level = np.ptp(values) / 2**20
    np.testing.assert_allclose(mine, theirs, rtol=0.0, atol=1.01 * level)


@pytest.mark.parametrize("number", range(12))
def test_pylife_library(number: int) -> None:
    """pyLife's four-point detector: closed cycles and residue, which we count as halves."""
    library = pytest.importorskip("pylife.stress.rainflow", reason=REASON)
    values = histories()[number]
    recorder = library.FullRecorder()
    detector = library.FourPointDetector(recorder=recorder).process(values)
    rows: Rows = Counter()
    for low, high in zip(recorder.values_from, recorder.values_to, strict=True):
        rows[round(abs(high - low), 8), round(0.5 * (high + low), 8) + 0.0] += 1.0
    # The detector keeps the last sample out of its residue: a turn there is not known yet.
    rest = np.append(detector.residuals, values[-1])
    rest = rest[np.concatenate([[True], np.diff(rest) != 0.0])]
    for row, count in ours(rest).items():
        rows[row] += count
    assert ours(values) == rows


def power_line(coefficient_MPa: float, exponent: float) -> DamageLines:
    """amplitude = coefficient (2 N)^exponent, without a knee."""

    def at(cycles: float) -> np.ndarray:
        return np.array([coefficient_MPa * (2.0 * cycles) ** exponent])

    one = np.ones(1)
    sites = sound_sites(at_1e3_MPa=at(1e3), at_1e6_MPa=at(1e6))
    strengths = (2e3 * one, 1.9e3 * one, 0.0 * one, 7e2 * one)
    return DamageLines(at(1.0), at(1e3), at(1e6), np.zeros(1, bool), *strengths, sites)


def test_miner_block_duty(compare: Compare) -> None:
    lines = power_line(1758.0, -0.0977)
    result = block_damage(
        lines,
        amplitude_MPa=[[700.0], [600.0], [500.0]],
        mean_MPa=np.zeros((3, 1)),
        cycles=[10, 100, 1000],
        survivals=(0.5,),
        critical_sum=1.0,
    )
    source = "computed: N = (sigma_f' / sigma_a)^(1/b') / 2 and Miner's sum, AISI 4340 (1758 MPa, -0.0977: Dowling 9.1)"
    compare(
        case="Miner, blocks 10 at 700, 100 at 600, 1000 at 500 MPa: lives",
        source=source,
        ours=1.0 / damage_per_cycle(lines, np.array([700.0, 600.0, 500.0])),
        theirs=[6199.0, 30030.0, 194091.0],
        allowed=1e-4,
        why="printed to the cycle, 6199 is 0.5 in 6199",
    )
    compare(
        case="Miner, the same: damage per repeat",
        source=source,
        ours=result.damage.sum(),
        theirs=0.010095,
        allowed=1e-4,
        why="printed with five digits",
    )
    compare(
        case="Miner, the same: repeats to failure",
        source=source,
        ours=result.repeats[0, 0],
        theirs=99.06,
        allowed=1e-4,
        why="printed with four digits",
    )
