"""How far bars of one drawing differ: spread of rate, stress, margin and life, what it comes from, who misses."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from barfem.check.hole_names import pair_name
from barfem.model.errors import BarfemError, InputError
from barfem.model.given import CASE, count, listed, path, takes, text
from barfem.model.read import AnyBar, as_bar
from barfem.study.bands import Band, Variable, bands_of, deviations, rate_band
from barfem.study.chunks import bar_hash
from barfem.study.evaluate import evaluate_one
from barfem.study.evaluation import Evaluation
from barfem.study.sampling import FEWEST_SOLVED, ROWS_A_CHUNK, blocks, design_of, radial
from barfem.study.saved_chunks import saved_chunks
from barfem.study.sobol import Known, Shares, shares_of, unknown_shares
from barfem.study.sobol_surrogate import basis_of, fitted
from barfem.study.tolerance_fit import FOLDS, FitErrors, ResponseSurface, fit_bars
from barfem.study.tolerance_misses import chance_by, drawn_numbers, mismatch_of, missed_by, numbers_of
from barfem.study.tolerance_polynomials import rows_wanted
from barfem.study.tolerance_result import NUMBERS, SettingTolerance, SolvedBars, ToleranceResult
from barfem.study.tolerance_summary import Chance, spread_of
from barfem.study.tolerance_work import COLUMNS, OWN, Columns, Table, ToleranceWork, place_names
from barfem.study.workers import workers_that_pay

__all__ = ["EXACT_SAMPLES", "SAMPLES", "tolerance"]

Array = NDArray[np.float64]

SAMPLES = 1_000_000
"""Bars that a fit is asked about by default."""

EXACT_SAMPLES = 2048
"""Bars that are solved by default where each is to be, and the most that are where a fit is not good enough."""

POINTS_FOR_SHARES = 2048


@takes(
    samples=count("a whole number of bars, such as 2048."),
    seed=count("a whole number, such as 1."),
    holes=listed("names", str, 'a list of holes, such as ["soft", "stiff"].'),
    case=CASE,
    workers=count("a whole number of processes, or None for all cores."),
    cluster=text("the address of a cluster."),
    save=path("the path of a file."),
)
def tolerance(
    bar: AnyBar,
    *,
    samples: int | None = None,
    exact: bool = False,
    seed: int = 1,
    holes: Sequence[str] | None = None,
    case: str | None = None,
    workers: int | None = 1,
    cluster: str | None = None,
    save: str | Path | None = None,
    progress: Callable[[int, int], None] | None = None,
    taken_up: Callable[[int], None] | None = None,
) -> ToleranceResult:
    """How `samples` bars differ that lie within the drawing's bands.

    About a hundred are made, solved and judged, and every number fitted to them, place by place
    (`barfem.study.tolerance_fit`); the fit answers for all, and its error over bars that a fit has not seen is part of
    the result. Where it is not good enough, more are solved, up to `EXACT_SAMPLES`; then these alone are answered
    about. With `exact`, or where no more are asked for than a fit needs, every bar is solved.

    The same bar, bands, samples and seed give the same numbers, however many workers there are: to the bit on one
    machine, within rounding (1e-9) elsewhere.

    Bands are those of [tolerances] in the bar file, else defaults by standards, in mm, deg or %.

    Parameters
    ----------
    bar
        A bar or its file.
    samples
        Bars; by default `SAMPLES`, or `EXACT_SAMPLES` where each is solved.
    exact
        Make, solve and judge every bar.
    seed
        Another seed, other bars; the same seed, the same numbers.
    holes, case
        Hole settings to judge (`barfem.study.evaluate.chosen_settings`); by default all that the check judges.
    workers, cluster
        As `barfem.study.workers.run_chunks`.
    save
        File to which each chunk of results is appended as it is done. If it is there, and of this very run, only what
        it lacks is worked on.
    progress
        Called with bars solved and bars to be solved in all.
    taken_up
        Called once with the bars that the file already held.

    Raises
    ------
    InputError
        Bands that cannot be, nothing that varies, too few samples, a file of another run.
    BarfemError
        The bar as drawn has no equilibrium within its travel, or none of the bars could be solved.
    """
    bar = as_bar(bar)
    bands = bands_of(bar)
    if not bands:
        raise InputError(
            "every band is switched off: nothing varies.", where="[tolerances]", expected="at least one band above 0."
        )
    variables = tuple(variable for band in bands for variable in band.variables)
    asked = samples if samples is not None else EXACT_SAMPLES if exact else SAMPLES
    design = design_of(samples=asked, seed=seed, variables=len(variables))
    drawn = evaluate_one(bar, holes=holes, case=case)
    left_out: tuple[str, ...] = ()
    if drawn.problems:  # what cannot follow as drawn fails in every bar, and says nothing of tolerances
        holes = [name for name, whole in _whole_holes(drawn).items() if whole]
        left_out = tuple(dict.fromkeys(problem for problem in drawn.problems if problem))
        if not holes:
            raise BarfemError(left_out[0])
        drawn = evaluate_one(bar, holes=holes, case=case)
    needed = max(FEWEST_SOLVED, _whole_chunks(rows_wanted(len(variables)) / (1.0 - 1.0 / FOLDS)))
    fitting = not exact and asked > needed
    if fitting:  # few bars: their points go to the workers, which need not load what makes them
        design = replace(design, samples=min(asked, EXACT_SAMPLES)).with_points()
    names = place_names(bar, holes=holes, case=case)
    work = ToleranceWork(bar, variables, design, names, None if holes is None else tuple(holes), case)
    solving = _Solving(work, workers, cluster, save, progress, taken_up, "fit" if fitting else design.samples)
    count, no_fit_because = min(needed, design.samples) if fitting else design.samples, ""
    while True:
        solved = solving.first(count)
        found = fit_bars(bar, _scaled(variables, work, count), solved)
        if not fitting or not (no_fit_because := _not_good(found)) or count == design.samples:
            break
        count = min(_whole_chunks(1.5 * count), design.samples)
    fit, errors = (None, None) if isinstance(found, str) else found
    by_fit = fitting and not no_fit_because
    columns = _sampled(fit, variables, asked, seed, len(work.settings)) if fit and by_fit else solved
    solved_bars = SolvedBars(count, {} if errors is None else errors.worst, by_fit, asked, no_fit_because)
    return replace(_result(work, bands, drawn, columns, solved, fit, errors, solved_bars), left_out=left_out)


def _whole_holes(found: Evaluation) -> dict[str, bool]:
    """Holes (an unequal pair by both names), and whether each could be solved in every load case."""
    out: dict[str, bool] = {}
    for j, (left, right) in enumerate(zip(found.left, found.right, strict=True)):
        name = pair_name(left, right)
        out[name] = out.get(name, True) and found.problem_at(j) is None
    return out


def _not_good(found: tuple[ResponseSurface, FitErrors] | str) -> str:
    """Why a fit will not do; empty if it will."""
    if isinstance(found, str):
        return found
    poor = found[1].too_great
    return f"its error of {' and '.join(NUMBERS[name] for name in poor)} is too great" if poor else ""


def _whole_chunks(rows: float) -> int:
    return int(-(-rows // ROWS_A_CHUNK) * ROWS_A_CHUNK)


def _over_bands(variables: Sequence[Variable], moved: Array) -> Array:
    """Deviations (n, variables) as -1 to 1 over their bands."""
    low, high = (np.array([getattr(v, end) for v in variables]) for end in ("low", "high"))
    return np.asarray((moved - 0.5 * (low + high)) / np.where(high > low, 0.5 * (high - low), 1.0))


def _scaled(variables: Sequence[Variable], work: ToleranceWork, count: int) -> Array:
    """The first `count` bars of the work over their bands."""
    moved = np.concatenate([work.moved(number) for number in range(-(-count // ROWS_A_CHUNK))])
    return _over_bands(variables, moved[:count])


def _sampled(fit: ResponseSurface, variables: tuple[Variable, ...], samples: int, seed: int, settings: int) -> Columns:
    """What the fit says of so many bars; single precision, a million at four holes are some 200 MB."""
    numbers: dict[str, Any] = {name: np.empty((samples, settings), np.float32) for name in (*COLUMNS, *OWN)}
    mass: Any = np.empty(samples, np.float32)
    at = 0
    for uniform in blocks(samples=samples, seed=seed, variables=len(variables)):
        found, mass_kg = fit(_over_bands(variables, deviations(variables, uniform)))
        rows = slice(at, at + len(uniform))
        for name, values in found.items():
            numbers[name][rows] = values
        mass[rows], at = mass_kg, rows.stop
    return Columns(numbers, {}, mass, (None,) * samples)


class _Solving:
    """Solves the first bars of a work, and later more of them."""

    def __init__(
        self,
        work: ToleranceWork,
        workers: int | None,
        cluster: str | None,
        save: str | Path | None,
        progress: Callable[[int, int], None] | None,
        taken_up: Callable[[int], None] | None,
        bars: int | str,
    ) -> None:
        self._work, self._workers, self._cluster, self._save = work, workers, cluster, save
        self._progress, self._taken_up = progress, taken_up
        self._table = Table(work.design, len(work.settings), len(work.places), work.design.samples)
        self._chunks = self._rows = 0
        self._header = {
            "study": "tolerance",
            "name": work.bar.name,
            "seed": work.design.seed,
            "bars": bars,
            "rows": ROWS_A_CHUNK,
            "holes": None if work.holes is None else list(work.holes),
            "case": work.case,
            "input": bar_hash(work.bar, work.variables, work.settings),
            "places": len(work.places),  # a file that cut the bar into others is of another run
        }

    def first(self, count: int) -> Columns:
        """The columns of the first `count` bars."""
        chunks = range(self._chunks, -(-count // ROWS_A_CHUNK))
        if self._workers is None and self._cluster is None:
            self._workers = workers_that_pay(len(chunks))  # so many, too, where more bars are to be solved
        results = saved_chunks(
            self._work,
            chunks,
            header=self._header,
            save=self._save,
            workers=self._workers,
            cluster=self._cluster,
            taken_up=self._tell if self._taken_up else None,
        )
        for number, plain in results:
            self._table.fill(number, Columns.from_plain(plain))
            self._rows += len(self._work.design.rows(number))
            if self._progress:
                self._progress(self._rows, count)
        self._chunks = chunks.stop
        return self._table.columns(count)

    def _tell(self) -> None:
        if self._taken_up:
            self._taken_up(self._rows)


def _result(
    work: ToleranceWork,
    bands: tuple[Band, ...],
    drawn: Evaluation,
    columns: Columns,
    solved: Columns,
    fit: ResponseSurface | None,
    errors: FitErrors | None,
    solved_bars: SolvedBars,
) -> ToleranceResult:
    bar = work.bar
    if all(problem is not None for problem in solved.problems):
        raise BarfemError(f"none of the bars within these bands could be solved; the first: {solved.problems[0]}")
    limits = rate_band(bar)
    missed, ends = missed_by(bar, columns, drawn, limits), []
    if errors and solved_bars.by_fit:
        off = errors.absolute
        ends = [
            missed_by(bar, columns, drawn, limits, {name: sign * off[name] for name in off}) for sign in (1.0, -1.0)
        ]
    shares = _shares(work, bands, fit, errors)
    settings = []
    for j in range(len(drawn.settings)):
        numbers = {name: numbers_of(columns, name)[:, j] for name in NUMBERS}
        drawn_now = {name: float(drawn_numbers(drawn, name)[j]) for name in NUMBERS}
        settings.append(
            SettingTolerance(
                left=drawn.left[j],
                right=drawn.right[j],
                case=drawn.cases[j],
                spreads={name: spread_of(numbers[name], drawn_now[name]) for name in NUMBERS},
                chances={
                    name: chance_by(flags[:, j], name, [end[name][:, j] for end in ends])
                    for name, flags in missed.items()
                },
                shares=shares[j],
                mismatch=mismatch_of(columns, drawn, j),
                bands=tuple(band.key for band in bands),
            )
        )
    whole: dict[str, Chance] = {
        name: chance_by(flags.max(axis=1), name, [end[name].max(axis=1) for end in ends])
        for name, flags in missed.items()
    }
    factor = np.nan_to_num(drawn.safety_factor_at_target, nan=np.inf)
    return ToleranceResult(
        bar=bar,
        bands=bands,
        seed=work.design.seed,
        bars=len(columns.mass_kg),
        solved=solved_bars,
        rate_band=limits,
        settings=tuple(settings),
        any_hole=whole,
        mass_kg=spread_of(columns.mass_kg, drawn.mass_kg),
        unsolved=_unsolved(solved),
        governing=int(np.lexsort((factor, drawn.ordered_life))[0]),
        notes=tuple(band.note for band in bands if band.note),
    )


def _shares(
    work: ToleranceWork,
    bands: tuple[Band, ...],
    fit: ResponseSurface | None,
    errors: FitErrors | None,
) -> list[dict[str, Shares]]:
    """Of every hole setting, by the fit; without one nothing is known of them."""
    names = [name for name in NUMBERS if name != "life_at_survival_cycles"]
    ends = np.cumsum([len(band.variables) for band in bands]).tolist()
    columns = [tuple(range(e - len(band.variables), e)) for band, e in zip(bands, ends, strict=True)]
    if fit is None or errors is None:
        return [dict.fromkeys(names, unknown_shares(len(bands))) for _ in work.settings]
    variables = work.variables
    rows = radial(points=POINTS_FOR_SHARES, seed=work.design.seed, columns=columns)
    moved = deviations(variables, rows.reshape(-1, len(variables)))
    numbers, _ = fit(_over_bands(variables, moved))
    basis = basis_of(
        moved,
        low=np.array([v.low for v in variables]),
        high=np.array([v.high for v in variables]),
        normal=np.array([v.distribution == "normal" for v in variables]),
    )
    made: list[dict[str, Shares]] = []
    for j in range(len(work.settings)):
        made.append({})
        for name in names:
            values = numbers[name][:, j].reshape(rows.shape[:2])
            found = fitted(basis, values.ravel())
            known = None
            if found is not None:
                of_bands = np.array([found.variances[list(each)].sum() for each in columns])
                near = found.values.reshape(rows.shape[:2])
                known = Known(near[:, 0], near[:, 1], near[:, 2:], of_bands)
            shares = shares_of(values[:, 0], values[:, 1], values[:, 2:], seed=work.design.seed, known=known)
            made[-1][name] = shares.with_unexplained(float(errors.relative[name][j]) ** 2)
    return made


def _unsolved(columns: Columns) -> dict[str, int]:
    """How many of all bars for each reason, numbers in it left out so that like ones are counted together."""
    counted = Counter(problem for problem in columns.problems if problem is not None)
    return dict(counted.most_common())
