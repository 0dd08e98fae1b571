"""The size for a rate, or for the most rate that still meets the targets: from stock, exact, or by arms or mounts."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from typing import Literal

import numpy as np

from barfem.check.hole_names import pairs_named
from barfem.model.bar import Bar
from barfem.model.errors import BarfemError, InputError
from barfem.study.evaluate import Evaluation, evaluate, evaluate_one
from barfem.study.knobs import Knob, knob_of
from barfem.study.options import Option, Sizing, why_not, with_front
from barfem.study.resize import HIGHEST, LOWEST, TRIALS, Met, bring_to
from barfem.study.size_work import StockWork, searched, tried
from barfem.study.stock import Stock

__all__ = ["WITHIN_PERCENT", "size_by_knob", "size_from_stock"]

WITHIN_PERCENT = 15.0
"""How far a stock size's rate may be off what was asked: sizes stand about 20 % of rate apart (d^4)."""


def size_from_stock(
    bar: Bar,
    stock: Stock,
    *,
    rate_N_per_mm: float | None = None,
    hole: str | None = None,
    case: str | None = None,
    shapes: Sequence[str] | None = None,
    within_percent: float = WITHIN_PERCENT,
    flats: Literal["scale", "keep"] = "scale",
    bent: str | None = None,
    workers: int | None = 1,
    cluster: str | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Sizing:
    """The size of a stock list for a rate, or the stiffest that meets the targets.

    With a rate: of the sizes that meet every target at every hole, the one nearest to it, if within `within_percent`.

    Parameters
    ----------
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
    work = StockWork(bar, sections, at, case, flats, bent)
    options = tried(work, workers=workers, cluster=cluster, progress=progress)
    target = rate_N_per_mm
    good = [option for option in options if option.passes]
    answer = nearest = None
    missed: list[str] = []
    if target is None:
        answer = max(good, key=lambda option: option.rate_N_per_mm, default=None)
        if answer is None:
            nearest = max((o for o in options if o.solved), key=lambda option: option.life_rank, default=None)
            missed.append("no size of the list meets the targets at every hole")
    else:
        off = {id(option): abs(math.log(option.rate_N_per_mm / target)) for option in options if option.solved}
        best = min(good, key=lambda option: off[id(option)], default=None)
        any_ = min((o for o in options if o.solved), key=lambda option: off[id(option)], default=None)
        if best is not None and abs(best.rate_N_per_mm / target - 1.0) <= within_percent / 100.0:
            answer = best
            if any_ is not None and any_ is not best and off[id(any_)] < off[id(best)] - 1e-9:
                missed.append(
                    f"{any_.name} would come nearer ({any_.rate_N_per_mm:.3g} N/mm) but fails: {why_not(any_)}"
                )
        elif best is not None:
            nearest = best
            missed.append(
                f"no size that meets the targets comes within {within_percent:g} % of {target:g} N/mm"
                + (
                    f"; {any_.name} would ({any_.rate_N_per_mm:.3g} N/mm) but fails: {why_not(any_)}"
                    if any_ is not None
                    and not any_.passes
                    and abs(any_.rate_N_per_mm / target - 1.0) <= within_percent / 100.0
                    else ""
                )
            )
        else:
            nearest = any_
            missed.append("no size of the list meets the targets at every hole")
    front_at = target if target is not None else (answer or nearest or options[0]).rate_N_per_mm
    options = with_front(options, front_at, within_percent)
    same = {option.name: option for option in options}
    told = tuple(dict.fromkeys(text for option in options for text in option.told))
    return Sizing(
        bar=bar,
        rate_N_per_mm=target,
        hole=name,
        case=as_it_is.cases[at],
        vary="section",
        exact=False,
        within_percent=within_percent,
        answer=None if answer is None else same[answer.name],
        nearest=None if nearest is None else same[nearest.name],
        options=tuple(options),
        missed=tuple(missed),
        told=told,
        stock=stock,
    )


def size_by_knob(
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
    search = partial(_by_knob, bar, vary, rate_N_per_mm, hole, case, exact, flats)
    return searched(search, workers=workers, cluster=cluster)


def _by_knob(
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
    knob = knob_of(bar, vary, flats=flats)
    trials = _trials(knob, at, case)
    solved = [(factor, option) for factor, option in trials if option.solved]
    if not solved:
        raise InputError(
            f"no {vary} from {LOWEST:g} to {HIGHEST:g} times the bar file's gives a bar: {trials[0][1].problem}",
            file=bar.source,
        )
    missed: list[str] = []
    answer = nearest = None
    if rate_N_per_mm is None:
        answer = _most(knob, solved, at, case, exact)
        if answer is None:
            nearest = max((option for _, option in solved), key=lambda option: option.life_rank)
            missed.append("none meets the targets at every hole")
    else:
        found = bring_to(
            knob.make,
            measure="rate",
            target=rate_N_per_mm,
            hole=name,
            case=as_it_is.cases[at],
            slope=knob.rate_slope,
        )
        if isinstance(found, Met):
            factor = found.factor if exact else knob.rounded(found.factor)
            option = _option(knob, factor, at, case)
            answer, nearest = (option, None) if option.passes else (None, option)
            if answer is None:
                missed.append(f"{option.name} gives {option.rate_N_per_mm:.4g} N/mm but fails: {why_not(option)}")
                most = _most(knob, solved, at, case, exact)
                if most is not None:
                    nearest = most
                    missed.append(f"the most that meets the targets is {most.rate_N_per_mm:.4g} N/mm")
        else:
            nearest = min(
                (option for _, option in solved),
                key=lambda option: abs(math.log(option.rate_N_per_mm / rate_N_per_mm)),
            )
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
        told=knob.told,
    )


def _asked(found: Evaluation, hole: str | None) -> tuple[int, str]:
    """Number and name of the hole setting whose rate is asked: the named or the stiffest, in the first load case."""
    first = [j for j, case in enumerate(found.cases) if case == found.cases[0]]
    names = [(found.left[j], found.right[j]) for j in first]
    if hole is None:
        j = max(first, key=lambda j: float(found.rate_N_per_mm[j]))
    else:
        j = first[pairs_named(hole, names, of=found.bar.name, file=found.bar.source)[0]]
    left, right = found.left[j], found.right[j]
    return j, left if left == right else f"{left}/{right}"


def _trials(knob: Knob, at: int, case: str | None) -> list[tuple[float, Option]]:
    """The knob turned over its range, evaluated in batches."""
    options: list[tuple[float, Option]] = []
    for factor in np.geomspace(LOWEST, HIGHEST, TRIALS).tolist():
        try:
            options.append((factor, Option(knob.name(factor), bar=knob.make(factor), at=at)))
        except InputError as error:
            options.append((factor, Option(knob.name(factor), problem=error.problem)))
    found = evaluate((o.bar for _, o in options if o.bar is not None), case=case, keep_failures=True)
    return [
        (factor, replace(option, evaluation=(one := next(found)), problem=one.problem))
        if option.bar is not None
        else (factor, option)
        for factor, option in options
    ]


def _option(knob: Knob, factor: float, at: int, case: str | None) -> Option:
    bar = knob.make(factor)
    return Option(knob.name(factor), bar.section, bar, evaluate_one(bar, case=case), at)


def _most(knob: Knob, solved: Sequence[tuple[float, Option]], at: int, case: str | None, exact: bool) -> Option | None:
    """The stiffest bar that meets the targets: the best trial, then halved towards its stiffer failing neighbour."""
    good = [i for i, (_, option) in enumerate(solved) if option.passes]
    if not good:
        return None
    i = max(good, key=lambda i: solved[i][1].rate_N_per_mm)
    passing, best = solved[i]
    beside = [solved[j] for j in (i - 1, i + 1) if 0 <= j < len(solved)]
    stiffer = [factor for factor, option in beside if option.rate_N_per_mm > best.rate_N_per_mm]
    if not stiffer:
        return best
    failing = stiffer[0]
    for _ in range(14):
        middle = math.sqrt(passing * failing)
        try:
            option = _option(knob, middle, at, case)
        except BarfemError:
            failing = middle
            continue
        if option.passes:
            passing, best = middle, option
        else:
            failing = middle
    if exact:
        return best
    near = knob.rounded(passing)
    for factor in (near, near + math.copysign(knob.step, passing - failing)):
        rounded = _option(knob, factor, at, case)
        if rounded.passes:
            return rounded
    return best
