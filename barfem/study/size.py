"""The size for a rate, or the sizes about the drawn one that pass: from stock, exact, or by arms or mounts."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from itertools import pairwise
from typing import Literal

import numpy as np

from barfem.check.hole_names import pair_name, pairs_named
from barfem.model.bar import Bar, Section
from barfem.model.errors import BarfemError, InputError
from barfem.study.evaluate import evaluate, evaluate_one
from barfem.study.evaluation import Evaluation
from barfem.study.options import WITHIN_PERCENT, Option, Sizing, why_not, with_front
from barfem.study.resize import HIGHEST, LOWEST, TRIALS, Met, bring_to, refuse_nothing_felt
from barfem.study.sections import section_name
from barfem.study.size_limits import joint_jams, limited, out_of_reach, too_tight, unseated, windows_of
from barfem.study.size_variables import SizeVariable, size_variable_of
from barfem.study.size_work import StockWork, searched, tried
from barfem.study.stock import Stock

__all__ = ["WINDOW_PERCENT", "WITHIN_PERCENT", "size_by_varying", "size_from_stock"]

WINDOW_PERCENT = 50.0
"""How far it may be off the drawn bar's, where no rate is asked: two stock sizes or so to either side."""

HALVINGS = 14
"""Of the step between two trials, for an edge: to less than a hundred-thousandth."""


def size_from_stock(
    bar: Bar,
    stock: Stock,
    *,
    rate_N_per_mm: float | None = None,
    hole: str | None = None,
    case: str | None = None,
    shapes: Sequence[str] | None = None,
    window_percent: float | None = None,
    flats: Literal["scale", "keep"] = "scale",
    bent: str | None = None,
    workers: int | None = 1,
    cluster: str | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Sizing:
    """The size of a stock list for a rate, or the one nearest to the drawn bar's; and the windows of those that pass.

    Of the sizes that meet every target at every hole, that can be bent and that mounts and links can follow, the one
    whose rate is nearest to the asked or the drawn one, if within `window_percent` of it. Sizes whose rate is by
    proportion far outside it, or whose bends cannot be made, are not solved unless no other stands.

    Parameters
    ----------
    window_percent
        By default `WITHIN_PERCENT` of an asked rate, `WINDOW_PERCENT` of the drawn one.
    hole
        Where the rate is meant; by default the stiffest hole.
    shapes
        "round", "tube" or both; by default that of the bar file.
    workers, cluster
        As `barfem.study.workers.run_chunks`; the same answer whoever works.
    progress
        Called with sizes done and sizes in all.

    Raises
    ------
    InputError
        The bar itself, the hole or the case cannot be, or the list has none of these shapes.
    """
    as_it_is = evaluate_one(bar, case=case)
    at, name = _asked(as_it_is, hole)
    sections = stock.of(*(shapes or (bar.section.shape,)))
    if not sections:
        raise InputError(
            f"{stock.name} has no {' or '.join(shapes or (bar.section.shape,))}.",
            where="--stock",
            file=stock.file,
            expected="a list with such sizes, or another --shape.",
        )
    own = bar.section if bar.section.shape in {section.shape for section in sections} else None
    listed = any(section_name(section) == section_name(bar.section) for section in sections)
    if rate_N_per_mm is None and own is not None and not listed:  # where no rate is asked, the drawn size is one
        sections = (*sections, own)
    target, as_drawn = rate_N_per_mm, float(as_it_is.rate_N_per_mm[at])
    if target is None and (problem := as_it_is.problem_at(at)) is not None:
        raise BarfemError(problem)
    window = window_percent or (WITHIN_PERCENT if target is not None else WINDOW_PERCENT)
    about = as_drawn if target is None else target
    out = out_of_reach(as_it_is, at, sections, rate_N_per_mm=about, window_percent=window)

    def found_of(left_out: Mapping[Section, str]) -> list[Option]:
        near = tuple(section for section in sections if section not in left_out)
        work = StockWork(bar, near, at, case, flats, bent)
        solved = iter(tried(work, workers=workers, cluster=cluster, progress=progress))
        whole = [
            Option(section_name(each), each, at=at, problem=left_out[each]) if each in left_out else next(solved)
            for each in sections
        ]
        return limited(whole, as_it_is, rate_N_per_mm=about, window_percent=window)

    options = found_of(out)
    if out and all(option.limit for option in options):  # what comes nearest may lie anywhere
        options = found_of({})
    off = {option.name: abs(math.log(option.rate_N_per_mm / about)) for option in options if option.solved}
    bendable = [option for option in options if option.solved and not _unfit(option, as_it_is)]
    answer = min((option for option in options if not option.limit), key=lambda o: off[o.name], default=None)
    any_ = min(bendable, key=lambda option: off[option.name], default=None)
    nearest = None
    missed: list[str] = []
    if answer is not None:
        if target is not None and any_ is not None and off[any_.name] < off[answer.name] - 1e-9:
            missed.append(f"{any_.name} would come nearer ({any_.rate_N_per_mm:.3g} N/mm) but fails: {any_.limit}")
    else:
        good = [option for option in bendable if option.passes]
        nearest = min(good, key=lambda option: off[option.name], default=any_)
        if good:
            missed.append(f"no size that meets the targets comes within {window:g} % of {about:.4g} N/mm")
            close = min((option for option in options if option.solved), key=lambda option: off[option.name])
            if abs(close.rate_N_per_mm / about - 1.0) <= window / 100.0:
                missed[-1] += f"; {close.name} would ({close.rate_N_per_mm:.3g} N/mm) but fails: {close.limit}"
        else:
            missed.append("no size of the list meets the targets at every hole")
    options = with_front(options, about, min(window, WITHIN_PERCENT))
    same = {option.name: option for option in options}
    notes = tuple(dict.fromkeys(text for option in options for text in option.notes))
    return Sizing(
        bar=bar,
        rate_N_per_mm=target,
        hole=name,
        case=as_it_is.cases[at],
        vary="section",
        exact=False,
        within_percent=window,
        answer=None if answer is None else same[answer.name],
        nearest=None if nearest is None else same[nearest.name],
        options=tuple(options),
        missed=tuple(missed),
        notes=notes,
        stock=stock,
        windows=windows_of(options),
        drawn=section_name(bar.section),
    )


def size_by_varying(
    bar: Bar,
    vary: str = "section",
    *,
    rate_N_per_mm: float | None = None,
    hole: str | None = None,
    case: str | None = None,
    exact: bool = False,
    flats: Literal["scale", "keep"] = "scale",
    workers: int | None = 1,
    cluster: str | None = None,
) -> Sizing:
    """The section, arm or mount span (`vary`) for a rate, or for the most rate that meets the targets.

    Lengths of arms and spans are rounded to 1 mm unless `exact`; a section is exact. Its steps follow from each other:
    `workers` do not shorten it, and a `cluster` (`barfem.study.workers.run_chunks`) takes it as one piece of work.

    Raises
    ------
    InputError
        The bar itself, the hole, the case or `vary` cannot be.
    """
    search = partial(_by_varying, bar, vary, rate_N_per_mm, hole, case, exact, flats)
    return searched(search, workers=workers, cluster=cluster)


def _by_varying(
    bar: Bar,
    vary: str,
    rate_N_per_mm: float | None,
    hole: str | None,
    case: str | None,
    exact: bool,
    flats: Literal["scale", "keep"],
) -> Sizing:
    as_it_is = evaluate_one(bar, case=case)
    at, name = _asked(as_it_is, hole)
    variable = size_variable_of(bar, vary, flats=flats)
    trials = _trials(variable, bar, at, case)
    solved = [(factor, option) for factor, option in trials if option.solved]
    if not solved:
        as_drawn = min(trials, key=lambda each: abs(np.log(each[0])))[1]
        raise InputError(
            f"no {vary} from {LOWEST:g} to {HIGHEST:g} times the bar file's gives a bar: {as_drawn.problem}",
            file=bar.source,
        )
    missed: list[str] = []
    answer = nearest = None
    if rate_N_per_mm is None:
        answer = _most(variable, as_it_is, solved, at, case, exact)
        if answer is None:
            nearest = max((option for _, option in solved), key=lambda option: option.life_rank)
            missed.append("none meets the targets at every hole")
    else:
        found = bring_to(
            variable.make,
            measure="rate",
            target=rate_N_per_mm,
            hole=name,
            case=as_it_is.cases[at],
            slope=variable.rate_slope,
        )
        if isinstance(found, Met):
            factor = found.factor if exact else variable.rounded(found.factor)
            option = _option(variable, factor, at, case)
            answer, nearest = (option, None) if _stands(option, as_it_is) else (None, option)
            if answer is None:
                why = why_not(option) if not option.passes else _unfit(option, as_it_is)
                missed.append(f"{option.name} gives {option.rate_N_per_mm:.4g} N/mm but fails: {why}")
                near = _nearest(variable, as_it_is, solved, (factor, option), at, case, exact)
                if near is not None:
                    nearest = near
                    stiffer = [each for _, each in solved if each.rate_N_per_mm > near.rate_N_per_mm]
                    if not any(_stands(each, as_it_is) for each in stiffer):
                        missed.append(f"the most that meets the targets is {near.rate_N_per_mm:.4g} N/mm")
        else:
            close = min(solved, key=lambda each: abs(math.log(each[1].rate_N_per_mm / rate_N_per_mm)))
            nearest = close[1]
            if not _stands(nearest, as_it_is):
                nearest = _nearest(variable, as_it_is, solved, close, at, case, exact) or nearest
            missed.append(f"nothing tried reaches {rate_N_per_mm:g} N/mm ({found.reason})")
    options = [option for _, option in trials]
    return Sizing(
        bar=bar,
        rate_N_per_mm=rate_N_per_mm,
        hole=name,
        case=as_it_is.cases[at],
        vary=vary,
        exact=exact or vary == "section",
        within_percent=0.05 if exact else 2.0,
        answer=answer,
        nearest=nearest,
        options=tuple(options),
        missed=tuple(missed),
        notes=variable.notes,
    )


def _asked(found: Evaluation, hole: str | None) -> tuple[int, str]:
    """Number and name of the hole setting whose rate is asked: the named or the stiffest, in the first load case."""
    first = [j for j, case in enumerate(found.cases) if case == found.cases[0]]
    names = [(found.left[j], found.right[j]) for j in first]
    if hole is None:
        j = max(first, key=lambda j: float(np.nan_to_num(found.rate_N_per_mm[j], nan=-1.0)))
    else:
        j = first[pairs_named(hole, names, of=found.bar.name, file=found.bar.source)[0]]
    name, rate = pair_name(found.left[j], found.right[j]), float(found.rate_N_per_mm[j])
    refuse_nothing_felt(rate, measure="rate", case=found.cases[j], at=f"hole {name}", file=found.bar.source)
    return j, name


def _trials(variable: SizeVariable, drawn: Bar, at: int, case: str | None) -> list[tuple[float, Option]]:
    """The variable turned over its range, evaluated in batches; what cannot be bent is not, but its edge is."""
    made = partial(_made, variable, drawn, at)
    options = [(factor, made(factor)) for factor in np.geomspace(LOWEST, HIGHEST, TRIALS).tolist()]
    edges: list[float] = []
    for (low, below), (high, above) in pairwise(options):
        if (below.bar is None) == (above.bar is None):
            continue
        good, bad = (low, high) if below.bar is not None else (high, low)
        for _ in range(HALVINGS):
            middle = math.sqrt(good * bad)
            good, bad = (middle, bad) if made(middle).bar is not None else (good, middle)
        edges.append(good)
    options = sorted([*options, *((factor, made(factor)) for factor in edges)], key=lambda each: each[0])
    found = evaluate((o.bar for _, o in options if o.bar is not None), case=case)
    return [
        (factor, replace(option, evaluation=(one := next(found)), problem=one.problem_at(option.at)))
        if option.bar is not None
        else (factor, option)
        for factor, option in options
    ]


def _made(variable: SizeVariable, drawn: Bar, at: int, factor: float) -> Option:
    """The bar of a factor, not yet solved; without a bar, what stands against making it."""
    name = variable.name(factor)
    try:
        bar = variable.make(factor)
    except InputError as error:
        return Option(name, problem=error.problem)
    problem = too_tight(bar, drawn) or unseated(bar, drawn)
    return Option(name, problem=problem) if problem else Option(name, bar.section, bar, at=at)


def _option(variable: SizeVariable, factor: float, at: int, case: str | None) -> Option:
    bar = variable.make(factor)
    return Option(variable.name(factor), bar.section, bar, evaluate_one(bar, case=case), at)


def _most(
    variable: SizeVariable,
    drawn: Evaluation,
    solved: Sequence[tuple[float, Option]],
    at: int,
    case: str | None,
    exact: bool,
) -> Option | None:
    """The stiffest bar that meets the targets: the best trial, then halved towards its stiffer failing neighbour."""
    good = [i for i, (_, option) in enumerate(solved) if _stands(option, drawn)]
    if not good:
        return None
    i = max(good, key=lambda i: solved[i][1].rate_N_per_mm)
    beside = [solved[j] for j in (i - 1, i + 1) if 0 <= j < len(solved)]
    stiffer = [factor for factor, option in beside if option.rate_N_per_mm > solved[i][1].rate_N_per_mm]
    return _edge(variable, drawn, solved[i], stiffer[0] if stiffer else None, at, case, exact)


def _nearest(
    variable: SizeVariable,
    drawn: Evaluation,
    solved: Sequence[tuple[float, Option]],
    failing: tuple[float, Option],
    at: int,
    case: str | None,
    exact: bool,
) -> Option | None:
    """Of the bars that meet the targets, the one next in rate to a bar that does not, to either side of it.

    Thicker bars may pass again: at equal travel soft bushings take what a stiffer bar does not.
    """
    ladder = sorted([*solved, failing], key=lambda each: each[0])
    good = [i for i, (_, option) in enumerate(ladder) if _stands(option, drawn)]
    at_failing = next(i for i, each in enumerate(ladder) if each is failing)
    below, above = [i for i in good if i < at_failing], [i for i in good if i > at_failing]
    pairs = [(below[-1], below[-1] + 1)] if below else []
    pairs += [(above[0], above[0] - 1)] if above else []
    edges = [_edge(variable, drawn, ladder[i], ladder[j][0], at, case, exact) for i, j in pairs]
    asked = failing[1].rate_N_per_mm
    return min(edges, key=lambda option: abs(math.log(option.rate_N_per_mm / asked)), default=None)


def _edge(
    variable: SizeVariable,
    drawn: Evaluation,
    good: tuple[float, Option],
    failing: float | None,
    at: int,
    case: str | None,
    exact: bool,
) -> Option:
    """The last bar that meets the targets on the way from one that does to a factor that does not (None: itself)."""
    passing, best = good
    for _ in range(HALVINGS if failing is not None else 0):
        assert failing is not None
        middle = math.sqrt(passing * failing)
        try:
            option = _option(variable, middle, at, case)
        except BarfemError:
            failing = middle
            continue
        if _stands(option, drawn):
            passing, best = middle, option
        else:
            failing = middle
    if exact:
        return best
    near = variable.rounded(passing)
    ways = (-1.0, 1.0) if failing is None else (math.copysign(1.0, passing - failing),)
    for factor in (near, *(near + way * variable.step for way in ways)):
        try:
            rounded = _option(variable, factor, at, case)
        except BarfemError:
            continue
        if _stands(rounded, drawn):
            return rounded
    return best


def _stands(option: Option, as_drawn: Evaluation) -> bool:
    return option.passes and not _unfit(option, as_drawn)


def _unfit(option: Option, as_drawn: Evaluation) -> str:
    """What a bar that meets its targets cannot be made or fitted for, in words."""
    if option.bar is None or option.evaluation is None:
        return option.problem or "it cannot be solved"
    drawn = as_drawn.bar
    return too_tight(option.bar, drawn) or unseated(option.bar, drawn) or joint_jams(option.evaluation, as_drawn)
