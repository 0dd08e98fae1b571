"""The fitted stress-life line against published estimates, an independent maximum likelihood, and exact intervals."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from barfem.strength.fatigue.fit.likelihood import most_likely
from barfem.strength.fatigue.fit.line import fit_line

# Motor insulation of class B on test at 150, 170, 190 and 220 C: hours, how many, broken (Nelson 1990, p. 243; seen).
CLASS_B = [
    (150, 8064, 10, False),
    *((170, hours, 1, True) for hours in (1764, 2772, 3444, 3542, 3780, 4860, 5196)),
    (170, 5448, 3, False),
    (190, 408, 2, True), (190, 1344, 2, True), (190, 1440, 1, True), (190, 1680, 5, False),
    (220, 408, 2, True), (220, 504, 3, True), (220, 528, 5, False),
]  # fmt: skip


def test_motor_insulation_half_of_it_stopped(compare: Any) -> None:
    """log10 hours = b0 + b1 (1000 / T): the Basquin line with the temperature in the place of log amplitude."""
    rows = [(temperature, hours, broke) for temperature, hours, n, broke in CLASS_B for _ in range(n)]
    assert len(rows) == 40 and sum(broke for *_, broke in rows) == 17
    x = np.array(
        [-1000.0 / (temperature + 273.2) for temperature, *_ in rows]
    )  # -x rises with severity, as a load does
    k, at_middle, sigma = most_likely(
        amplitude_MPa=10.0**x, cycles=[hours for _, hours, _ in rows], broken=[broke for *_, broke in rows]
    )
    compare(
        case="class-B insulation, 17 broken of 40: intercept, slope, deviation of log10 life",
        source="Schmee & Hahn, Technometrics 21 (1979) 417, maximum likelihood; from memory (data seen)",
        ours=[at_middle + k * float(x.mean()), k, sigma],
        theirs=[-6.019, 4.311, 0.2592],
        allowed=3e-4,
        why="printed to four digits",
    )


def test_an_independent_maximum_likelihood(compare: Any) -> None:
    """Twenty simulated bars, a third stopped, by a general minimiser on the lives' own density and survival."""
    from scipy.optimize import minimize
    from scipy.stats import lognorm

    random = np.random.default_rng(20)
    amplitude = np.repeat([720.0, 610.0, 520.0, 450.0], 5)
    life = 3e5 * (amplitude / 520.0) ** -9.0 * 10.0 ** (0.22 * random.standard_normal(20))
    broken = life < 6e5
    life = np.minimum(life, 6e5)
    assert 4 <= np.sum(~broken) <= 10

    def minus_log_likelihood(at: NDArray[np.float64]) -> float:
        k, log_strength, log_sigma = at  # strength at 2e5 cycles
        spread = lognorm(s=np.log(10.0) * np.exp(log_sigma), scale=2e5 * (amplitude / 10.0**log_strength) ** -k)
        return -float(np.where(broken, spread.logpdf(life), spread.logsf(life)).sum())

    found = minimize(
        minus_log_likelihood,
        [6.0, 2.7, np.log(0.3)],
        method="Nelder-Mead",
        options={"xatol": 1e-9, "fatol": 1e-12, "maxiter": 5000},
    )
    fit = fit_line(amplitude_MPa=amplitude, cycles=life, broken=broken, at_cycles=2e5, prior=None)
    compare(
        case="20 bars, some stopped: exponent, strength at 2e5 cycles, deviation of log10 life",
        source="SciPy: Nelder-Mead on scipy.stats.lognorm's logpdf and logsf",
        ours=[fit.exponent, fit.strength_MPa, fit.log10_life_deviation],
        theirs=[found.x[0], 10.0 ** found.x[1], np.exp(found.x[2])],
        allowed=1e-5,
        why="the same likelihood, written another way",
    )


def test_intervals_are_students_and_chi_squares_where_nothing_was_stopped(compare: Any) -> None:
    """Without a prior and without stopped bars the exact intervals of a regression are known."""
    from scipy.stats import chi2, t

    random = np.random.default_rng(5)
    amplitude = np.array([700.0, 700.0, 600.0, 600.0, 500.0, 500.0])
    log_life = 5.0 - 8.0 * np.log10(amplitude / 600.0) + 0.2 * random.standard_normal(6)
    fit = fit_line(amplitude_MPa=amplitude, cycles=10.0**log_life, broken=[True] * 6, at_cycles=1e5, prior=None)
    x = np.log10(amplitude) - np.log10(amplitude).mean()
    slope = float(x @ log_life / (x @ x))
    squares = float(np.sum((log_life - log_life.mean() - slope * x) ** 2))
    half = float(t.ppf(0.95, 4)) * np.sqrt(squares / 4.0 / (x @ x))
    compare(
        case="six broken bars: 90 % interval of the slope",
        source="Student's t with four degrees of freedom (SciPy)",
        ours=fit.exponent_90,
        theirs=[-slope - half, -slope + half],
        allowed=0.01,
        why="a grid of 41 points, read linearly",
    )
    compare(
        case="six broken bars: 90 % interval of the deviation of log10 life",
        source="chi-square with four degrees of freedom (SciPy)",
        ours=fit.log10_life_deviation_90,
        theirs=np.sqrt(squares / chi2.ppf([0.95, 0.05], 4)),
        allowed=0.01,
        why="a grid of 41 points, read linearly",
    )
