"""From the travel or force of a test to the cycle of stress at the place that broke, through the bar file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from barfem.check.solved import NothingSolved, Solved, solve_states
from barfem.model.bar import Bar
from barfem.model.errors import BarfemError, InputError
from barfem.model.frozen import frozen
from barfem.model.load_case import CASES
from barfem.solve.beam import HoleSetting, all_settings, solve_bar
from barfem.study.bar_tests import BarTest

__all__ = ["LocalCycle", "local_cycles"]

_SAME_FORCE = 1e-5
_MOST_STEPS = 20


@frozen(kw_only=True)
class LocalCycle:
    """Stress at the place that broke, as the check's fatigue records have it: concentration included."""

    amplitude_MPa: float
    mean_MPa: float
    torsion_share: float
    where: str
    kind: str
    in_bore: bool
    travel_mm: float
    named: bool


def local_cycles(bar: Bar, tests: Sequence[BarTest], *, file: str) -> dict[int, LocalCycle]:
    """The cycle of each test that gives travel or force, by its line in the file.

    A travel is that of each pickup (of the left one alone in the one-wheel case) up and down, the other end of the
    cycle being [duty] ratio times it. A force is the force at a pickup along its travel at full travel, less that at
    rest: the force behind the check's rate.

    Raises
    ------
    InputError
        A hole, case or place that this bar does not have; a force that it does not reach.
    """
    found: dict[int, LocalCycle] = {}
    solved: dict[tuple[str, str | None, float], tuple[Solved, int]] = {}
    travels: dict[tuple[str, str | None, float], float] = {}
    for test in tests:
        column, value = test.load
        if column == "amplitude_MPa":
            continue
        case = test.case or "roll"
        if case not in CASES:
            raise _wrong(test, "case", f'"{case}" is no load case that is solved here.', " or ".join(CASES) + ".", file)
        setting = _setting(bar, test, case, file)
        travel = value
        if column == "force_N":
            key = (case, test.hole, value)
            if key not in travels:
                travels[key] = _travel_of_force(bar, setting, value, test, file)
            travel = travels[key]
        where = (case, test.hole, travel)
        if where not in solved:
            solved[where] = _solved(bar, setting, travel, test, file)
        found[test.line] = _place(*solved[where], test, travel, file)
    return found


def _wrong(test: BarTest, column: str, problem: str, expected: str, file: str) -> InputError:
    return InputError(problem, file=file, where=f"line {test.line}, column {column}", expected=expected)


def _at_travel(bar: Bar, travel_mm: float) -> Bar:
    return replace(
        bar,
        travel=replace(bar.travel, up_mm=travel_mm, down_mm=travel_mm, one_wheel_mm=travel_mm, parallel_mm=travel_mm),
    )


def _setting(bar: Bar, test: BarTest, case: str, file: str) -> HoleSetting:
    """The pair of holes that a test names: "2", or "2/1" for left and right."""
    pairs = all_settings(bar, cases=(case,))
    if test.hole is None:
        if len(pairs) == 1:
            return pairs[0]
        names = ", ".join(bar.left.holes[pair.left].name for pair in pairs)
        raise _wrong(test, "hole", "no hole is named, and the bar has several.", f"one of {names}.", file)
    left, _, right = (part.strip() for part in test.hole.partition("/"))
    lefts = {hole.name.lower(): i for i, hole in enumerate(bar.left.holes)}
    rights = {hole.name.lower(): i for i, hole in enumerate(bar.right.holes)}
    if left.lower() not in lefts or (right or left).lower() not in rights:
        raise _wrong(
            test,
            "hole",
            f'the bar has no hole "{test.hole}".',
            f"one of {', '.join(hole.name for hole in bar.left.holes)}, or left/right such as "
            f"{bar.left.holes[0].name}/{bar.right.holes[-1].name}.",
            file,
        )
    return HoleSetting(lefts[left.lower()], rights[(right or left).lower()], case)


def _travel_of_force(bar: Bar, setting: HoleSetting, force_N: float, test: BarTest, file: str) -> float:
    """Pickup travel at which the force at the pickup, less that at rest, is `force_N`; a rate is nearly constant."""
    travel = max(bar.travel.up_mm, bar.travel.down_mm)
    for _ in range(_MOST_STEPS):
        try:
            rate = float(solve_bar(_at_travel(bar, travel), [setting]).rate_N_per_mm[0])
        except BarfemError:  # beyond its reach
            break
        if not rate > 0.0:
            break
        if abs(rate * travel - force_N) <= _SAME_FORCE * force_N:
            return travel
        # Never far at once: beyond its reach a bar has no equilibrium.
        travel *= float(np.clip(force_N / (rate * travel), 0.2, 1.6))
    raise _wrong(test, "force_N", f"the bar does not reach {force_N:g} N at this hole.", "a force that it does.", file)


def _solved(bar: Bar, setting: HoleSetting, travel_mm: float, test: BarTest, file: str) -> tuple[Solved, int]:
    """The bar at this travel, and the number of `setting` in it."""
    try:
        run = solve_states(_at_travel(bar, travel_mm), cases=(setting.case,), mixed=True)
        return run, run.solution.settings.index(setting)
    except (NothingSolved, ValueError) as error:
        problem = f"a travel of {travel_mm:g} mm is beyond this bar: its links cannot follow, or it snaps over."
        raise _wrong(test, test.load[0], problem, "a load that the bar was tested at.", file) from error


def _place(run: Solved, setting: int, test: BarTest, travel_mm: float, file: str) -> LocalCycle:
    """The worst point of the region that the test names; where it names none, of the one that the check ranks first."""
    recovery = run.recovery
    order = [int(r) for r in run.ranking.order[setting] if recovery.checked[r]]
    loaded = [r for r in order if recovery.cycle_severity[setting, r] > 0.0]
    words = [
        run.words(int(recovery.cycle_sample[setting, r]), int(recovery.cycle_point[setting, r]))
        for r in range(len(recovery.regions))
    ]
    if not loaded:
        problem = f"the bar feels nothing in {run.solution.settings[setting].case} at this hole, and cannot break."
        raise _wrong(test, "case", problem, "the case that was tested, roll or one-wheel.", file)
    region = order[0]
    if test.place is not None:
        wanted = [part.strip() for part in test.place.lower().split(",") if part.strip()]
        fits = [r for r in loaded if _fits(wanted, run, r, words[r])]
        if not fits:
            worst = [words[r] for r in loaded[:6]]
            raise _wrong(
                test,
                "place",
                f'the bar has no loaded place "{test.place}".',
                'as the check names them: "bend 2", "hole 1", or one of ' + "; ".join(worst) + ".",
                file,
            )
        region = fits[0]
    at = (setting, region)
    return LocalCycle(
        amplitude_MPa=float(recovery.cycle_amplitude_MPa[at]),
        mean_MPa=float(recovery.cycle_mean_MPa[at]),
        torsion_share=float(recovery.cycle_torsion_share[at]),
        where=words[region],
        kind=recovery.regions[region].kind,
        in_bore=bool(recovery.cycle_in_bore[at]),
        travel_mm=travel_mm,
        named=test.place is not None,
    )


def _fits(wanted: Sequence[str], run: Solved, region: int, words: str) -> bool:
    """Whether every part of a place's name is said of this region: its kind and number, or a part of its words."""
    here = run.recovery.regions[region]
    parts = [part.strip().lower() for part in words.split(",")]
    names = {f"{here.kind} {here.index}", here.kind, *parts}
    if here.hole is not None:
        names |= {f"hole {here.hole.name}".lower(), f"edge of hole {here.hole.name}".lower()}
    sides = set(" and ".join(parts).split(" and "))
    return all(part in names or part in sides for part in wanted)
