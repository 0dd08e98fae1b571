"""How far bars of one drawing differ: spread of rate, stress, margin and life, what it comes from, who misses."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.errors import BarfemError, InputError
from barfem.model.load_case import CASES
from barfem.study.bands import Band, bands_of, deviations, rate_band
from barfem.study.chunks import bar_hash
from barfem.study.evaluate import Evaluation, evaluate_one
from barfem.study.kept import kept_chunks
from barfem.study.sampling import Design, design_of
from barfem.study.sobol import Known, Shares, shares_of
from barfem.study.sobol_surrogate import Basis, basis_of, fitted
from barfem.study.tolerance_result import NUMBERS, Mismatch, SettingTolerance, ToleranceResult
from barfem.study.tolerance_summary import Chance, chance_of, mean_chance, spread_of
from barfem.study.tolerance_work import Columns, Table, ToleranceWork, level_mm

__all__ = ["SAMPLES", "tolerance"]

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

SAMPLES = 2048
"""Bars made by default."""

ROWS_FITTED = 20_000
"""Bars that shares are fitted to, where shared points are not more: enough for every coefficient."""


def tolerance(
    bar: Bar,
    *,
    samples: int = SAMPLES,
    seed: int = 1,
    holes: Sequence[str] | None = None,
    case: str | None = None,
    workers: int | None = 1,
    cluster: str | None = None,
    save: str | Path | None = None,
    progress: Callable[[int, int], None] | None = None,
    taken_up: Callable[[int], None] | None = None,
) -> ToleranceResult:
    """Make, solve and judge `samples` bars that differ from the drawing within its bands.

    The same bar, bands, samples and seed give the same numbers, however many workers there are: to the bit on one
    machine, within rounding (1e-9) elsewhere.

    Parameters
    ----------
    holes, case
        Hole settings to judge (`barfem.study.evaluate.chosen_settings`); by default all that the check judges.
    workers, cluster
        As `barfem.study.workers.run_chunks`.
    save
        File to which each chunk of results is appended as it is done. If it is there, and of this very run, only what
        it lacks is worked on.
    progress
        Called with bars done and bars in all.
    taken_up
        Called once with the bars that the file already held.

    Raises
    ------
    InputError
        Bands that cannot be, nothing that varies, too few samples, a file of another run.
    BarfemError
        The bar as drawn has no equilibrium within its travel, or none of the bars could be solved.
    """
    bands = bands_of(bar)
    if not bands:
        raise InputError(
            "every band is switched off: nothing varies.", where="[tolerances]", expected="at least one band above 0."
        )
    variables = tuple(variable for band in bands for variable in band.variables)
    design = design_of(samples=samples, seed=seed, columns=_columns(bands))
    drawn = evaluate_one(bar, holes=holes, case=case)
    work = ToleranceWork(bar, variables, design, None if holes is None else tuple(holes), case)
    columns = _columns_of(work, workers=workers, cluster=cluster, save=save, progress=progress, taken_up=taken_up)
    return _result(work, bands, drawn, columns)


def _columns(bands: Sequence[Band]) -> tuple[tuple[int, ...], ...]:
    ends = np.cumsum([len(band.variables) for band in bands]).tolist()
    return tuple(tuple(range(end - len(band.variables), end)) for band, end in zip(bands, ends, strict=True))


def _columns_of(
    work: ToleranceWork,
    *,
    workers: int | None,
    cluster: str | None,
    save: str | Path | None,
    progress: Callable[[int, int], None] | None,
    taken_up: Callable[[int], None] | None,
) -> Columns:
    """The columns of every chunk."""
    design, table, count = work.design, Table(work.design, len(work.settings)), 0
    results = kept_chunks(
        work,
        range(design.count),
        header=_header(work),
        save=save,
        workers=workers,
        cluster=cluster,
        taken_up=None if taken_up is None else lambda: taken_up(count),
    )
    for number, plain in results:
        table.fill(number, Columns.from_plain(plain))
        count += design.rows(design.chunk(number))
        if progress:
            progress(count, design.samples)
    return table.columns


def _header(work: ToleranceWork) -> dict[str, object]:
    return {
        "study": "tolerance",
        "name": work.bar.name,
        "seed": work.design.seed,
        "bars": work.design.samples,
        "holes": None if work.holes is None else list(work.holes),
        "case": work.case,
        "input": bar_hash(work.bar, work.variables, work.design, work.settings),
    }


def _result(work: ToleranceWork, bands: tuple[Band, ...], drawn: Evaluation, columns: Columns) -> ToleranceResult:
    bar, design = work.bar, work.design
    independent = _rows(design)[0]
    if all(columns.problems[i] is not None for i in independent.tolist()):
        first = next(problem for problem in columns.problems if problem is not None)
        raise BarfemError(f"none of the bars within these bands could be solved; the first: {first}")
    limits = rate_band(bar)
    missed = _missed(bar, columns, independent, drawn, limits)
    basis = _basis(work)
    settings = []
    for j in range(len(drawn.settings)):
        numbers = {name: _numbers(columns, name)[:, j] for name in NUMBERS}
        drawn_now = {name: float(_drawn(drawn, name)[j]) for name in NUMBERS}
        shares: dict[str, Shares] = {
            name: _shares(values, design, basis)
            for name, values in numbers.items()
            if name != "life_at_survival_cycles"
        }
        settings.append(
            SettingTolerance(
                left=drawn.left[j],
                right=drawn.right[j],
                case=drawn.cases[j],
                spreads={name: spread_of(numbers[name][independent], drawn_now[name]) for name in NUMBERS},
                chances={name: _chance(flags[:, j], name) for name, flags in missed.items()},
                shares=shares,
                mismatch=_mismatch(columns, independent, drawn, j),
            )
        )
    whole: dict[str, Chance] = {name: _chance(flags.max(axis=1), name) for name, flags in missed.items()}
    factor = np.nan_to_num(drawn.safety_factor_at_target, nan=np.inf)
    return ToleranceResult(
        bar=bar,
        bands=bands,
        design=design,
        rate_band=limits,
        settings=tuple(settings),
        any_hole=whole,
        mass_kg=spread_of(columns.mass_kg[independent], drawn.mass_kg),
        unsolved=_unsolved(columns),
        governing=int(np.lexsort((factor, drawn.ordered_life))[0]),
        told=tuple(band.note for band in bands if band.note),
    )


def _basis(work: ToleranceWork) -> Basis:
    """Of the first rows, those of the shared points and more, from the design: no bar is needed for it."""
    variables, design, chunks, rows = work.variables, work.design, [], 0
    for number in range(design.count):
        chunk = design.chunk(number)
        if not chunk.blocks and rows >= ROWS_FITTED:
            break
        chunks.append(chunk)
        rows += design.rows(chunk)
    moved = np.concatenate([deviations(variables, design.uniform(chunk)) for chunk in chunks])
    return basis_of(
        moved,
        low=np.array([v.low for v in variables]),
        high=np.array([v.high for v in variables]),
        normal=np.array([v.distribution == "normal" for v in variables]),
    )


def _shares(values: Array, design: Design, basis: Basis) -> Shares:
    _, a, b, mixed = _rows(design)
    found = fitted(basis, values[: len(basis.terms)])
    known = None
    if found is not None:
        of_bands = np.array([found.variances[list(columns)].sum() for columns in design.columns])
        known = Known(found.values[a], found.values[b], found.values[mixed], of_bands)
    return shares_of(values[a], values[b], values[mixed], seed=design.seed, known=known)


def _rows(design: Design) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.intp], NDArray[np.intp]]:
    """Rows by number: the independent ones (A, then B); and A (s,), B (s,), mixed (s, bands) of the shared points."""
    wide = 2 + len(design.columns)
    shared = wide * np.arange(design.shared)
    rest = wide * design.shared + 2 * np.arange(design.base - design.shared)
    a, b = np.concatenate([shared, rest]), np.concatenate([shared + 1, rest + 1])
    return np.concatenate([a, b]), shared, shared + 1, shared[:, None] + 2 + np.arange(len(design.columns))


def _numbers(columns: Columns, name: str) -> Array:
    """Numbers (rows, settings); of lives, infinity beyond the knee and zero where none can be stated."""
    values = columns.numbers[name]
    if name != "life_at_survival_cycles":
        return values
    solved = np.isfinite(columns.numbers["rate_N_per_mm"])
    stated = np.where(columns.numbers["runout_at_survival"] == 1.0, np.inf, np.nan_to_num(values, nan=0.0))
    return np.where(solved, stated, np.nan)


def _drawn(drawn: Evaluation, name: str) -> Array:
    return drawn.ordered_life if name == "life_at_survival_cycles" else np.asarray(getattr(drawn, name))


def _missed(
    bar: Bar, columns: Columns, rows: NDArray[np.intp], drawn: Evaluation, limits: tuple[float, float, bool]
) -> dict[str, Array]:
    """Who misses what, (rows, settings); a bar that could not be solved misses everything. "breaking" is a chance."""
    numbers = {name: values[rows] for name, values in columns.numbers.items()}
    rate = numbers["rate_N_per_mm"]
    solved = np.isfinite(rate)
    with np.errstate(invalid="ignore"):
        off = rate / drawn.rate_N_per_mm - 1.0
        of_rate = ~((off >= limits[0]) & (off <= limits[1]))
        of_margin = ~(numbers["yield_margin"] >= bar.targets.yield_margin)
        life = _numbers(columns, "life_at_survival_cycles")[rows]
        of_life = ~(life >= (bar.duty.target_cycles if bar.duty.target_cycles_given else 0.0))
    fails = numbers["passes"] != 1.0
    flags = {"rate": of_rate, "yield_margin": of_margin, "life": of_life | ~solved, "any": of_rate | fails | ~solved}
    return {name: missed.astype(float) for name, missed in flags.items()} | {
        "breaking": _breaking(bar, numbers, solved)
    }


def _breaking(bar: Bar, numbers: dict[str, Array], solved: Flags) -> Array:
    """Chance (rows, settings) that this bar breaks before the target cycles.

    Its strength is `safety_factor_at_target` times its stress at the median, and scatters as the lives at survival do
    (`barfem.strength.fatigue.factors.survival_factor`): normal with 8 % by default, or lognormal by life tests.
    A bar of which no life can be stated (above yield, at the tensile strength) counts as one that breaks.
    """
    from scipy.special import ndtr

    from barfem.strength.fatigue.assess import LifeStatus
    from barfem.strength.fatigue.factors import STRENGTH_STANDARD_DEVIATION

    factor = numbers["safety_factor_at_target"]
    scatter = bar.steel.scatter
    with np.errstate(divide="ignore", invalid="ignore"):
        if scatter is not None and scatter.log10_life_deviation is not None and scatter.exponent is not None:
            chance = ndtr(-np.log10(factor) * scatter.exponent / scatter.log10_life_deviation)
        else:
            own = None if scatter is None else scatter.strength_deviation
            chance = ndtr((1.0 / factor - 1.0) / (own or STRENGTH_STANDARD_DEVIATION))
    chance = np.where(np.isnan(factor), 0.0, chance)  # no load
    return np.where(solved & (numbers["status"] < LifeStatus.AMPLITUDE_AT_TENSILE), chance, 1.0)


def _chance(values: Array, name: str) -> Chance:
    return mean_chance(values) if name == "breaking" else chance_of(values > 0.5)


def _mismatch(columns: Columns, rows: NDArray[np.intp], drawn: Evaluation, j: int) -> Mismatch:
    level = columns.numbers["level_mm"][rows, j] - float(level_mm(drawn.bar, drawn.settings)[j])
    right, left = (columns.numbers[f"force_{side}_N"][rows, j] for side in ("right", "left"))
    in_roll = CASES[drawn.cases[j]].exchanges
    now = np.array([*drawn.side_force_N[j]]) if in_roll else np.full(2, np.nan)
    force = _percent(right, left) if in_roll else np.full(len(rows), np.nan)
    preload = 0.5 * level * columns.numbers["rate_N_per_mm"][rows, j]
    return Mismatch(
        level_mm=spread_of(level, 0.0),
        preload_N=spread_of(preload if in_roll else np.full(len(rows), np.nan), 0.0),
        force_percent=spread_of(force, float(_percent(now[:1], now[1:])[0])),
    )


def _percent(right: Array, left: Array) -> Array:
    one, other = np.abs(right), np.abs(left)
    with np.errstate(invalid="ignore", divide="ignore"):
        return 200.0 * (other - one) / (other + one)


def _unsolved(columns: Columns) -> dict[str, int]:
    """How many of all bars for each reason, numbers in it left out so that like ones are counted together."""
    counted = Counter(problem for problem in columns.problems if problem is not None)
    return dict(counted.most_common())
