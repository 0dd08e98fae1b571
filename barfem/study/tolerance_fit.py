"""What a hundred solved bars say of any number of them: each place fitted, then the worst of the places taken.

Rate, forces, and the stress, yield margin and safety factor of one place are smooth in the deviations; the bar's are
not, where another place takes over. So each place has its own polynomial (`tolerance_polynomials`), and the worst is
found bar by bar. What dimensions and moduli multiply is fitted as its logarithm, to which they add: rate, forces,
stress and one more than the yield margin. A place's life is fitted over its safety factor, with which it goes by the
steel's line, and over the deviations.

What is said of the fit's error comes from bars that a fit has not seen: each fifth of the solved ones is held back in
turn, and asked of a fit to the others.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from barfem.check.verdict import targets_met
from barfem.check.weakest import UNSTRESSED_MPA
from barfem.model.bar import Bar
from barfem.model.frozen import frozen
from barfem.strength.fatigue.assess import LifeStatus
from barfem.strength.fatigue.sn_line import BEND_CYCLES, LONGEST_LIFE_CYCLES
from barfem.study.tolerance_polynomials import KNOTS, Polynomials, fit_polynomials
from barfem.study.tolerance_work import BEYOND, COLUMNS, OWN, Columns

__all__ = ["FOLDS", "GOOD", "FitErrors", "ResponseSurface", "fit_bars", "log10_life"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]

FOLDS = 5

GOOD = {
    "rate_N_per_mm": 0.05,
    "peak_MPa": 0.1,
    "yield_margin": 0.1,
    "safety_factor_at_target": 0.2,
    "life_at_survival_cycles": 0.25,
}
"""Greatest error, RMS over the number's own standard deviation, with which a fit is good enough: an error of 0.2 that
is independent of the number widens or narrows the spread by 2 %."""

NEAR = 1.0
"""A place is fitted if it comes as near to governing as this many standard deviations."""

LIMIT = float(np.log10(LONGEST_LIFE_CYCLES))
ROWS_OF_LIFE = 3
ROWS_OF_LIFE_EACH = 1.5
AGREE = 0.99


@frozen
class FitErrors:
    """RMS errors over bars held back, by name: (settings,) in the number's unit (lives: log10), and over its
    standard deviation, zero where it does not vary.
    """

    absolute: Mapping[str, Array]
    relative: Mapping[str, Array]

    @property
    def worst(self) -> dict[str, float]:
        """The greatest over the hole settings, in standard deviations."""
        return {name: float(self.relative[name].max()) for name in GOOD}

    @property
    def too_great(self) -> tuple[str, ...]:
        """Names of the numbers that are not fitted well enough."""
        return tuple(name for name, error in self.worst.items() if not error <= GOOD[name])


@frozen
class _Life:
    """log10 of life, the greatest of `pieces`: coefficients over 1, q and x, q log10 of the safety factor, and over
    what q lies below each of its `knots`; or always `constant`. Beyond a million cycles lives run away from load far
    faster than before, from one load to the next; and where peening relaxes or a flaw wakes their slope changes too.
    """

    constant: float | None = None
    pieces: tuple[tuple[Array, Array], ...] = ()

    def __call__(self, q: Array, x: Array) -> Array:
        if not self.pieces:
            return np.full(len(q), self.constant)
        value = np.max([_of_life(q, x, knots)[:, : len(piece)] @ piece for piece, knots in self.pieces], axis=0)
        return np.where(value > LIMIT, BEYOND, value)


@frozen
class _Setting:
    """Columns of the polynomials that belong to a hole setting, by what they are of; `lives` go with `factors`.

    Those of `peaks` and `margins` (of one more) are natural logarithms, of `own` those named in `logs`.
    `above_yield` is, for each of `factors`, the margin below zero of which no life can be stated (-1: there is none
    such); `rest` whether a bar that meets its targets passes, and `repeats` the column of the blocks' log10, if any.
    """

    own: Mapping[str, int]
    logs: frozenset[str]
    peaks: tuple[int, ...]
    margins: tuple[int, ...]
    factors: tuple[int, ...]
    shares: tuple[int, ...]
    goodman: tuple[int, ...]
    lives: tuple[_Life, ...]
    above_yield: tuple[int, ...]
    rest: bool
    repeats: int | None


@frozen
class ResponseSurface:
    """Numbers of any bars within the bands, from their deviations over the bands as -1 to 1."""

    polynomials: Polynomials
    settings: tuple[_Setting, ...]
    mass: int

    def __call__(self, x: Array) -> tuple[dict[str, Array], Array]:
        """Numbers (n, settings) by the names of a study's columns, and the masses (n,), of bars x (n, variables).

        `passes` is whether a bar that meets its targets would pass; the targets are not judged here.
        """
        values = self.polynomials(x)
        out = {name: np.full((len(x), len(self.settings)), np.nan) for name in (*COLUMNS, *OWN)}
        for j, setting in enumerate(self.settings):
            for name, column in setting.own.items():
                found = values[:, column]
                out[name][:, j] = np.exp(found) if name in setting.logs else found
            out["peak_MPa"][:, j] = np.exp(values[:, setting.peaks].max(axis=1))
            out["yield_margin"][:, j] = np.expm1(values[:, setting.margins].min(axis=1))
            out["passes"][:, j] = setting.rest
            if setting.repeats is not None:
                out["repeats_at_survival"][:, j] = 10.0 ** values[:, setting.repeats]
            if setting.factors:
                for name, numbers in _fatigue(setting, values, x).items():
                    out[name][:, j] = numbers
            else:  # no load: nothing to break
                out["runout_at_survival"][:, j], out["status"][:, j] = 1.0, LifeStatus.STANDS
        return out, values[:, self.mass]


def _fatigue(setting: _Setting, values: Array, x: Array) -> dict[str, Array]:
    """The least safety factor of all places, and the shortest life."""
    q = values[:, setting.factors]
    life = np.stack([each(q[:, p], x) for p, each in enumerate(setting.lives)], axis=1)
    for p, margin in enumerate(setting.above_yield):
        if margin >= 0:
            life[:, p] = np.where(values[:, margin] < 0.0, -BEYOND, life[:, p])
    least = life.min(axis=1)
    found = {
        "safety_factor_at_target": 10.0 ** q.min(axis=1),
        "target_share_at_survival": 10.0 ** values[:, setting.shares].min(axis=1),
        "life_at_survival_cycles": np.where(np.abs(least) < BEYOND, 10.0 ** np.clip(least, -9.0, 12.0), np.nan),
        "runout_at_survival": (least == BEYOND).astype(float),
        "status": np.where(least == -BEYOND, LifeStatus.ABOVE_YIELD, LifeStatus.STANDS).astype(float),
    }
    if setting.goodman:
        found["goodman_safety_factor"] = values[:, setting.goodman].min(axis=1)
    return found


def fit_bars(bar: Bar, x: Array, columns: Columns) -> tuple[ResponseSurface, FitErrors] | str:
    """A fit to all bars, and its error over each fifth of them by a fit to the others; in words why there can be none.

    `x` (n, variables) are the deviations of the bars over their bands as -1 to 1.
    """
    failed = sum(problem is not None for problem in columns.problems)
    if failed:
        return f"{failed} of {len(x)} bars could not be made or solved"
    every = np.arange(len(x))
    fewest = len(x) - -(-len(x) // FOLDS)
    fit = _fitted(bar, x, columns, every, fewest)
    if isinstance(fit, str):
        return fit
    asked = {name: np.empty_like(columns.numbers[name]) for name in (*COLUMNS, *OWN)}
    for fold in range(FOLDS):
        held = every[fold::FOLDS]
        other = _fitted(bar, x, columns, np.setdiff1d(every, held), fewest)
        if isinstance(other, str):
            return other
        for name, values in other(x[held])[0].items():
            asked[name][held] = values
    return fit, _errors(asked, columns)


def _fitted(bar: Bar, x: Array, columns: Columns, rows: Index, fewest: int) -> ResponseSurface | str:
    """A fit to some of the bars, with as many terms as `fewest` bars allow."""
    outputs: list[Array] = [columns.mass_kg]
    settings = []
    for j in range(columns.numbers["rate_N_per_mm"].shape[1]):
        made = _setting(bar, columns, j, x, rows, outputs)
        if isinstance(made, str):
            return made
        settings.append(made)
    polynomials = fit_polynomials(x[rows], np.stack(outputs, axis=1)[rows], rows=fewest)
    if polynomials is None:
        return f"{len(x)} bars are too few for {x.shape[1]} dimensions that vary"
    return ResponseSurface(polynomials, tuple(settings), 0)


def _setting(bar: Bar, columns: Columns, j: int, x: Array, rows: Index, outputs: list[Array]) -> _Setting | str:
    """What is fitted of hole setting j; its numbers are added to `outputs`."""

    def add(values: Array) -> int:
        outputs.append(values)
        return len(outputs) - 1

    number = {name: values[:, j] for name, values in columns.numbers.items()}
    place = {name: values[:, j] for name, values in columns.places.items()}
    if any(np.isnan(place[name]).any() for name in ("peak_MPa", "yield_margin", "log10_life")):
        return "bars differ in the places that they have"
    loaded = np.flatnonzero(np.isfinite(place["safety_factor_at_target"]).all(axis=0))
    factor = np.log10(place["safety_factor_at_target"][:, loaded])
    share = np.log10(np.clip(np.nan_to_num(place["target_share_at_survival"][:, loaded], nan=np.inf), 1e-3, 1e3))
    life = place["log10_life"][:, loaded]
    keep = _near(factor) | (life <= life.min(axis=1, keepdims=True) + 1e-5).any(axis=0) if len(loaded) else []
    fatigue = loaded[keep] if len(loaded) else loaded
    margins = _near(place["yield_margin"])
    lives, above = [], []
    strength_over_stress = np.log1p(place["yield_margin"])
    columns_of_margins = {int(p): add(strength_over_stress[:, p]) for p in np.flatnonzero(margins)}
    for p in fatigue.tolist():
        of_place = place["log10_life"][:, p]
        lives.append(_life(np.log10(place["safety_factor_at_target"][:, p]), of_place, x, rows))
        none = of_place == -BEYOND
        if not none.any() or none.all():
            above.append(-1)
            continue
        if np.mean(none == (place["yield_margin"][:, p] < 0.0)) < AGREE:
            return "some bars have a life and others, though they do not yield, have none"
        above.append(columns_of_margins.setdefault(p, len(outputs)))
        if above[-1] == len(outputs):
            add(strength_over_stress[:, p])
    rest = _rest(bar, number)
    repeats = number["repeats_at_survival"]
    by_repeats = bool(bar.duty.blocks) and bool(np.isfinite(repeats).all()) and bool((repeats > 0.0).all())
    if rest is None and not by_repeats:
        return "what decides between bars that pass and bars that do not is neither yield margin nor life alone"
    goodman = place["goodman_safety_factor"][:, loaded]
    wants_goodman = bar.targets.goodman_safety_factor is not None and bool(np.isfinite(goodman).all())
    peaks = place["peak_MPa"]
    own = {name: number[name] for name in ("rate_N_per_mm", *OWN)}
    # How much higher one end stands is a difference, to which dimensions add.
    logs = frozenset(name for name, values in own.items() if name != "level_mm" and (values > 0.0).all())
    return _Setting(
        own={name: add(np.log(values) if name in logs else values) for name, values in own.items()},
        logs=logs,
        peaks=tuple(add(np.log(np.maximum(peaks[:, p], UNSTRESSED_MPA))) for p in np.flatnonzero(_near(-peaks))),
        margins=tuple(columns_of_margins[int(p)] for p in np.flatnonzero(margins)),
        factors=tuple(add(np.log10(place["safety_factor_at_target"][:, p])) for p in fatigue),
        shares=tuple(add(each) for each in share.T[_near(share)]) if len(loaded) else (),
        goodman=tuple(add(each) for each in goodman.T[_near(goodman)]) if wants_goodman and len(loaded) else (),
        lives=tuple(lives),
        above_yield=tuple(above),
        rest=bool(rest) or by_repeats,
        repeats=add(np.log10(repeats)) if by_repeats else None,
    )


def _near(values: Array) -> NDArray[np.bool_]:
    """(p,) places whose values (n, p) are ever the least, or come near it."""
    least = values.min(axis=1, keepdims=True)
    return np.asarray((values - least).min(axis=0) <= NEAR * float(least.std()) + 1e-12)


def _life(q: Array, life: Array, x: Array, rows: Index) -> _Life:
    ends = rows[np.abs(life[rows]) < BEYOND]
    beyond = q[rows[life[rows] == BEYOND]]
    if 0 < len(ends) < ROWS_OF_LIFE and q[ends].max() < beyond.min(initial=np.inf) < np.inf:
        # A line through the few, and to what is claimed amid the last of them and the first that lives on.
        there = np.append(q[ends], 0.5 * (q[ends].max() + beyond.min()))
        line = np.linalg.lstsq(np.stack([np.ones(len(there)), there], axis=1), np.append(life[ends], LIMIT), rcond=None)
        return _Life(pieces=((np.asarray(line[0], float), np.zeros(0)),))
    bend, pieces = np.log10(BEND_CYCLES), []
    for some in (ends[life[ends] <= bend], ends[life[ends] > bend]):
        if len(some) >= ROWS_OF_LIFE:
            knots = np.quantile(q[some], KNOTS)
            terms = _of_life(q[some], x[some], knots)
            plane = terms.shape[1] - len(knots)
            size = next((n for n in (terms.shape[1], plane) if len(some) >= ROWS_OF_LIFE_EACH * n), 2)
            found = np.linalg.lstsq(terms[:, :size], life[some], rcond=None)[0]
            pieces.append((np.asarray(found, float), knots))
    if not pieces:
        return _Life(constant=BEYOND if np.mean(life == BEYOND) >= 0.5 else -BEYOND)
    return _Life(pieces=tuple(pieces))


def _of_life(q: Array, x: Array, knots: Array) -> Array:
    below = np.maximum(knots - q[:, None], 0.0)
    return np.concatenate([np.ones((len(q), 1)), q[:, None], x, below], axis=1)


def _rest(bar: Bar, number: Mapping[str, Array]) -> bool | None:
    """Whether bars that meet their targets pass: all of them or none; None where some do."""
    met = np.logical_and.reduce(
        targets_met(
            bar,
            yield_margin=number["yield_margin"],
            life_at_survival_cycles=number["life_at_survival_cycles"],
            runout=number["runout_at_survival"] == 1.0,
            goodman_safety_factor=number["goodman_safety_factor"],
        )
    )
    passes = number["passes"][met] == 1.0
    return True if passes.all() else None if passes.any() else False


def log10_life(numbers: Mapping[str, Array]) -> Array:
    """Of the numbers of bars: log10 of the life at survival, `BEYOND` past the knee, its minus where there is none."""
    beyond = numbers["runout_at_survival"] == 1.0
    with np.errstate(divide="ignore", invalid="ignore"):
        life = np.log10(numbers["life_at_survival_cycles"])
    return np.where(beyond, BEYOND, np.where(np.isfinite(life), life, -BEYOND))


def _errors(asked: Mapping[str, Array], columns: Columns) -> FitErrors:
    """Of what fits said of bars that they had not seen."""
    absolute, relative = {}, {}
    for name in (*GOOD, "target_share_at_survival"):
        if name == "life_at_survival_cycles":
            true, ours = (np.clip(log10_life(each), 0.0, LIMIT) for each in (columns.numbers, asked))
        else:
            true, ours = columns.numbers[name], asked[name]
        spread = true.std(axis=0)
        off = np.sqrt(np.mean((ours - true) ** 2, axis=0))
        varies = spread > 1e-9 * np.maximum(np.abs(true).max(axis=0), 1e-9)
        absolute[name] = np.where(varies, off, 0.0)
        relative[name] = np.where(varies, off / np.where(varies, spread, 1.0), 0.0)
    return FitErrors(absolute, relative)
