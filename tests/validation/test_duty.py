"""Planning of life tests, and Findley's critical plane, against published cases."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from barfem.strength.duty.critical_plane import findley_equivalent_amplitude, findley_plane
from barfem.strength.duty.scatter import (
    LifeScatter,
    bars_to_test,
    failed_mean_ratio,
    required_life_ratio,
    weibull_shape,
)

Compare = Callable[..., None]


@pytest.mark.parametrize(
    ("reliability", "confidence", "bars", "source"),
    [
        (0.90, 0.90, 22, "Design of Reliability Tests, Reliability Edge: 90 % at 90 % confidence, 22 units"),
        (0.90, 0.95, 29, "success-run table, Lipson and Sheth 1973 (from memory)"),
        (0.95, 0.95, 59, "success-run table, Lipson and Sheth 1973 (from memory)"),
        (0.99, 0.95, 299, "success-run table, Lipson and Sheth 1973 (from memory)"),
        (0.99, 0.90, 230, "success-run table, Lipson and Sheth 1973 (from memory)"),
    ],
)
def test_success_run(reliability: float, confidence: float, bars: int, source: str, compare: Compare) -> None:
    compare(
        case=f"bars without failure for {reliability:.0%} at {confidence:.0%} confidence",
        source=source,
        ours=bars_to_test(reliability=reliability, confidence=confidence),
        theirs=bars,
        allowed=0.0,
        absolute=True,
        why="a whole number",
    )


@pytest.mark.parametrize(("shape", "bars"), [(2.0, 10), (3.0, 7)])
def test_longer_test(shape: float, bars: int, compare: Compare) -> None:
    compare(
        case=f"the same 90 % at 90 %, tested to 1.5 times the target, Weibull shape {shape:g}",
        source="Design of Reliability Tests, Reliability Edge: ten units at shape 2, seven at shape 3",
        ours=bars_to_test(reliability=0.9, confidence=0.9, life_ratio=1.5, scatter=LifeScatter(weibull_shape=shape)),
        theirs=bars,
        allowed=0.0,
        absolute=True,
        why="a whole number",
    )


def test_weibull_scale_of_the_worked_example(compare: Compare) -> None:
    # 90 % at 100 h, shape 1.5. The life of 36.8 % (1/e) is the Weibull scale.
    scatter = LifeScatter(weibull_shape=1.5)
    compare(
        case="Weibull scale over target, 90 % at the target, shape 1.5",
        source="Reliability Test Design, worked example: eta = 448.3 h for 90 % at 100 h",
        ours=scatter.ratio_for(0.9, math.exp(-1.0)),
        theirs=4.483,
        allowed=1e-4,
        why="printed with four digits",
    )
    ratio = required_life_ratio(bars=20, reliability=0.9, confidence=0.95, scatter=scatter)
    compare(
        case="life ratio of 20 units for 90 % at 95 %, shape 1.5",
        source="computed: (ln 0.05 / (20 ln 0.9))^(1/1.5)",
        ours=ratio,
        theirs=1.2643,
        allowed=1e-4,
        why="computed with five digits",
    )


@pytest.mark.parametrize(
    ("bars", "theirs"),
    # Deviation 0.2; z of 0.9 is 1.28155, of 0.1^(1/4) = 0.56234 it is 0.15691 and of 0.1^(1/9) = 0.77426 it is 0.75297:
    # 10^(0.2 (1.28155 + 1.28155 / n^0.5)) and 10^(0.2 (1.28155 - z)).
    [(1, (3.2555, 3.2555)), (4, (2.4236, 1.6785)), (9, (2.1966, 1.2756))],
)
def test_lognormal_with_known_deviation(bars: int, theirs: tuple[float, float], compare: Compare) -> None:
    scatter = LifeScatter(log10_life_deviation=0.2)
    plan = {"bars": bars, "reliability": 0.9, "confidence": 0.9, "scatter": scatter}
    compare(
        case=f"lognormal life, deviation 0.2: {bars} bars run to failure (mean), or without failure, over the target",
        source="one-sided tolerance limit, known deviation (Natrella, NBS Handbook 91, 2-5), z from a table; order "
        "statistics: (1 - C)^(1/n)",
        ours=[failed_mean_ratio(**plan), required_life_ratio(**plan)],  # type: ignore[arg-type]
        theirs=theirs,
        allowed=5e-5,
        why="z with five digits from the table",
    )


def test_weibull_means_by_the_chi_square_table(compare: Compare) -> None:
    compare(
        case="Weibull shape 2, 5 bars run to failure, 90 % at 90 % confidence: mean over the target",
        source="chi-square table: 15.987 at 90 % and 10 degrees of freedom; (15.987 / (10 x 0.1053605))^(1/2)",
        ours=failed_mean_ratio(bars=5, reliability=0.9, confidence=0.9, scatter=LifeScatter(weibull_shape=2.0)),
        theirs=math.sqrt(15.987 / (10.0 * 0.1053605)),
        allowed=1e-4,
        why="the table has five digits",
    )


def test_weibull_shape_of_a_log_deviation(compare: Compare) -> None:
    compare(
        case="Weibull shape of a standard deviation of 0.2 in log10 life",
        source="scipy.stats: deviation of log10 of a Weibull life of that shape, by quadrature",
        ours=0.2,
        theirs=_log10_deviation(weibull_shape(0.2)),
        allowed=1e-6,
        why="quadrature",
    )


def _log10_deviation(shape: float) -> float:
    from scipy import stats

    law = stats.weibull_min(shape)
    first = law.expect(np.log10, lb=1e-12, ub=10.0)
    second = law.expect(lambda life: np.log10(life) ** 2, lb=1e-12, ub=10.0)
    return float(np.sqrt(second - first**2))


@pytest.mark.parametrize("k", [0.1, 0.25, 0.5])
@pytest.mark.parametrize("ratio", [-1.0, 0.0, 0.5])
def test_findley_uniaxial(k: float, ratio: float, compare: Compare) -> None:
    high = 400.0
    states = np.array([[[high, 0.0, 0.0]], [[ratio * high, 0.0, 0.0]]])
    amplitude = 0.5 * high * (1.0 - ratio)
    compare(
        case=f"Findley, uniaxial, stress ratio {ratio:g}, k {k:g}",
        source="Socie and Marquis, Multiaxial Fatigue: f = (k smax + (sa^2 + k^2 smax^2)^0.5) / 2 (from memory)",
        ours=findley_plane(states, k=k).parameter_MPa,
        theirs=0.5 * (k * high + math.hypot(amplitude, k * high)),
        allowed=1e-6,
        why="closed form; the search is refined to 0.02 deg of a flat peak",
    )


def test_findley_torsion(compare: Compare) -> None:
    found = findley_plane([[[0.0, 0.0, 300.0]], [[0.0, 0.0, -300.0]]], k=0.25)
    compare(
        case="Findley, reversed torsion 300 MPa, k 0.25",
        source="Socie and Marquis, Multiaxial Fatigue: f = ta (1 + k^2)^0.5 (from memory)",
        ours=found.parameter_MPa,
        theirs=300.0 * math.sqrt(1.0 + 0.25**2),
        allowed=1e-6,
        why="closed form; the search is refined to 0.02 deg of a flat peak",
    )


# Fatigue limits of hard steel in combined bending and torsion: amplitudes [MPa] and phase [deg]. Nishihara and Kawamoto
# 1945 as tabulated by Papadopoulos et al., Int. J. Fatigue 19 (1997) 219 (from memory, fairly sure).
BENDING_LIMIT, TORSION_LIMIT = 313.9, 196.2
HARD_STEEL = [
    (138.1, 167.1, 0.0),
    (140.4, 169.9, 30.0),
    (145.7, 176.3, 60.0),
    (150.2, 181.7, 90.0),
    (245.3, 122.6, 0.0),
    (249.7, 124.8, 30.0),
    (252.4, 126.2, 60.0),
    (258.0, 129.0, 90.0),
    (299.1, 62.8, 0.0),
    (304.5, 63.9, 90.0),
]


@pytest.mark.parametrize(("bending", "torsion", "phase"), HARD_STEEL)
def test_findley_on_measured_limits(bending: float, torsion: float, phase: float, compare: Compare) -> None:
    # k from the ratio of both limits: t / f = (1 + k / (1 + k^2)^0.5) / 2.
    share = 2.0 * TORSION_LIMIT / BENDING_LIMIT - 1.0
    k = share / math.sqrt(1.0 - share**2)
    turn = np.deg2rad(np.arange(0, 360, 10))
    states = np.stack([bending * np.sin(turn), 0.0 * turn, torsion * np.sin(turn - np.deg2rad(phase))], axis=-1)
    found = findley_plane(states[:, None, :], k=k)
    compare(
        case=f"Findley, hard steel, bending {bending:g}, torsion {torsion:g} MPa, {phase:g} deg apart",
        source="Nishihara and Kawamoto 1945, in Papadopoulos et al. 1997 (from memory)",
        ours=findley_equivalent_amplitude(found.parameter_MPa, k=k),
        theirs=BENDING_LIMIT,
        allowed=0.10,
        why="the criterion against measured limits: 4 % in phase and 9 % out of phase at most; limits scatter as much",
    )
