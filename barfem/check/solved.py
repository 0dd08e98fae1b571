"""A bar with every hole setting solved and its stress recovered: what verdict and pictures are both made from."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import nullcontext
from dataclasses import replace
from functools import cache, cached_property
from typing import TYPE_CHECKING, Any, TypedDict

import numpy as np
from numpy.typing import NDArray

from barfem.check.endurance import life_asked_of, rank_each_by_life
from barfem.check.moves import further_moves
from barfem.check.ranking import Ranking, rank_regions
from barfem.check.timing import Timing
from barfem.model.bar import Bar
from barfem.model.errors import BarfemError, InputError
from barfem.model.frozen import frozen
from barfem.model.load_case import CYCLE, Instant
from barfem.solve.beam import BeamSolution, HoleSetting, NotBalanced, all_settings, solve_bar
from barfem.solve.resultants import resultants
from barfem.solve.states import only_states
from barfem.strength.bend_fields import with_bend_fields
from barfem.strength.halves import in_halves
from barfem.strength.hole_loads import HoleLoads, holes_in_use
from barfem.strength.places import Samples, sampling_stations
from barfem.strength.recover import Recovery, Stressed, recover_each
from barfem.strength.section_map import SURFACE_NAMES
from barfem.strength.stress_maps import StressMaps, build_stress_maps
from barfem.strength.words import EVEN, place_words

if TYPE_CHECKING:
    from barfem.check.solid import SolidRun

__all__ = [
    "CYCLE",
    "Loaded",
    "NoTiming",
    "NothingSolved",
    "Solved",
    "Unsolved",
    "alike_in_mechanics",
    "alike_in_shape",
    "recover_stress",
    "recover_together",
    "solve_states",
    "solve_what_can_be",
]

STATES = len(Instant)


class Spot(TypedDict):
    """A point of the bar, as every record of one has it."""

    station_mm: float
    from_middle_mm: float
    where: str
    surface: str


@frozen
class Solved:
    """Every hole setting (j) of a bar in every state (k), and the stress at the n samples of its regions.

    `resultants` (j, k, n, 6) are [N, V_a, V_b, T, M_a, M_b] in N and N·mm, in each sample's own frame, with further
    loads behind them where a flat is drilled (`strength.hole_loads`); `further` (j, m, n, 6) those of states beyond
    these three, in the order in which they were asked for. `bend_fields` is whether bends have three-dimensional
    fields, or closed forms; with the model "solid" the forces at the holes' joints come last, and `solid` is the
    factored solid.
    """

    bar: Bar
    solution: BeamSolution
    samples: Samples
    maps: StressMaps
    resultants: NDArray[np.float64]
    recovery: Recovery
    further: NDArray[np.float64] | None = None
    bend_fields: bool = True
    model: str = "beam"
    solid: SolidRun | None = None
    unsolved: tuple[tuple[HoleSetting, str], ...] = ()

    @cached_property
    def ranking(self) -> Ranking:
        """Regions of each hole setting in the order of their lives; verdict, pictures and words all ask for it."""
        return rank_regions(self.bar, self.recovery)

    def words(self, sample: int, point: int, evenness: float = 0.0) -> str:
        return self._words(sample, point, 1.0 if evenness >= EVEN else 0.0)

    @cached_property
    def _words(self) -> Callable[[int, int, float], str]:
        """Of one point much is asked: hole settings have most of their worst points in common."""
        bar, samples, maps = self.bar, self.samples, self.maps
        return cache(
            lambda sample, point, evenness: place_words(
                bar, samples, maps, sample=sample, point=point, evenness=evenness
            )
        )

    def spot(self, sample: int, point: int, evenness: float = 0.0) -> Spot:
        """A point round a sample; `evenness` as `place_words` takes it."""
        station = float(self.samples.station_mm[sample])
        return {
            "station_mm": station,
            "from_middle_mm": station - self.bar.middle_mm,
            "where": self.words(sample, point, evenness),
            "surface": SURFACE_NAMES[int(self.maps.surface[point])],
        }


class NoTiming:
    """Stands in for a `Timing` that nobody asked for."""

    def stage(self, name: str) -> Any:
        return nullcontext()


def solve_states(
    bar: Bar,
    *,
    cases: Sequence[str],
    mixed: bool = False,
    timing: Timing | NoTiming | None = None,
    one_wheel: bool = False,
    bend_fields: bool = True,
    like: Solved | None = None,
) -> Solved:
    """Solve every hole setting of `bar` in the load cases `cases` and find its stress everywhere.

    `Solved.further` has the states of the duty's blocks, then with `one_wheel` those of either wheel alone. Without
    `bend_fields` bends are as closed forms have them, in stiffness and stress.

    A hole setting that cannot follow its travel does not hide the others: it stands in `Solved.unsolved`.

    Raises
    ------
    NothingSolved
        No hole setting at all has an equilibrium within its travel.
    """
    clock = timing or NoTiming()
    moves = further_moves(bar, one_wheel=one_wheel)

    def solve(settings: Sequence[HoleSetting]) -> BeamSolution:
        return solve_bar(bar, settings, more_moves=moves, bend_fields=bend_fields)

    with clock.stage("solve"):
        solution, unsolved = solve_what_can_be(all_settings(bar, cases=cases, mixed=mixed), solve)
    with clock.stage("stress"):
        known = like if like is not None and like.bend_fields == bend_fields and alike_in_shape(like.bar, bar) else None
        return replace(recover_stress(solution, bend_fields=bend_fields, like=known), unsolved=unsolved)


Unsolved = tuple[tuple[HoleSetting, str], ...]
"""Hole settings that could not be solved, each with the reason."""


class NothingSolved(BarfemError):
    """No hole setting of a bar could be solved; `unsolved` has the reason of each."""

    def __init__(self, unsolved: Unsolved) -> None:
        self.unsolved = unsolved
        super().__init__(unsolved)  # as `NotBalanced`

    def __str__(self) -> str:
        return self.unsolved[0][1]


def solve_what_can_be(
    settings: Sequence[HoleSetting], solve: Callable[[Sequence[HoleSetting]], BeamSolution]
) -> tuple[BeamSolution, Unsolved]:
    """All hole settings at once; where that fails, those that can be solved, and the others with their reasons.

    Raises
    ------
    NothingSolved
        None can be solved.
    InputError
        None can be solved, by what the bar file says alone.
    """
    left, why = list(settings), dict[HoleSetting, str]()
    by_file: InputError | None = None
    while left:
        try:
            return solve(left), tuple((setting, why[setting]) for setting in settings if setting in why)
        except NotBalanced as error:
            new = dict(error.why)
        except InputError as error:
            by_file, new = error, _refused(left, solve)
            if not new:
                raise
        why |= new
        left = [setting for setting in left if setting not in new]
    raise by_file or NothingSolved(tuple((setting, why[setting]) for setting in settings))


def _refused(
    settings: Sequence[HoleSetting], solve: Callable[[Sequence[HoleSetting]], BeamSolution]
) -> dict[HoleSetting, str]:
    """The hole settings that the bar file makes impossible, each with the reason."""
    found = {}
    for setting in settings:
        try:
            solve([setting])
        except InputError as error:
            found[setting] = str(error)
        except NotBalanced:
            continue
    return found


def alike_in_shape(one: Bar, other: Bar) -> bool:
    """Whether both bars have the same stress per unit of load everywhere: travel, links, skin and how stiff its mounts
    are may be others.
    """

    def shape(bar: Bar) -> tuple[Any, ...]:
        steel = bar.steel
        strengths = (steel.E_MPa, steel.nu, steel.tensile_strength_MPa, steel.yield_strength_MPa)
        seats = [(each.station_mm, each.length_mm, each.contact, each.contact_factor) for each in bar.mounts]
        return (bar.section, bar.centreline, bar.ends, seats, bar.collars, strengths)

    return shape(one) == shape(other)


def alike_in_mechanics(one: Bar, other: Bar) -> bool:
    """Whether both bars have the same forces in the same travel: their skin and targets may be others."""

    def mechanics(bar: Bar) -> tuple[Any, ...]:
        return (bar.mounts, bar.right_link, bar.left_link, bar.travel, bar.duty)

    return alike_in_shape(one, other) and mechanics(one) == mechanics(other)


@frozen(eq=False)
class Loaded:
    """A solved bar with the loads on its sections, whose stress is yet to be found; fields as `Solved`."""

    bar: Bar
    solution: BeamSolution
    samples: Samples
    maps: StressMaps
    resultants: NDArray[np.float64]
    further: NDArray[np.float64] | None
    bend_fields: bool

    @staticmethod
    def of(
        solution: BeamSolution,
        *,
        bend_fields: bool = True,
        like: Solved | Loaded | None = None,
        halves: bool = False,
    ) -> Loaded:
        """`like` is a bar `alike_in_shape`, recovered in the same way; with `halves` every straight is two regions."""
        bar = solution.bar
        if like is not None:
            samples, maps = like.samples, like.maps
        else:
            samples = sampling_stations(bar)
            samples = in_halves(samples) if halves else samples
            maps = build_stress_maps(bar, samples)
            if bend_fields:
                maps = with_bend_fields(bar, samples, maps)
        further = None
        if solution.pickup_move_mm.shape[1] > STATES:
            further = resultants(only_states(solution, slice(STATES, None)), samples.station_mm)
            solution = only_states(solution, slice(0, STATES))
        forces = resultants(solution, samples.station_mm)
        if maps.matrix.shape[-1] > forces.shape[-1]:
            loads = HoleLoads.of(bar, samples)
            in_use = holes_in_use(bar, [(s.right, s.left) for s in solution.settings])
            forces = loads.whole(forces, in_use)
            further = None if further is None else loads.whole(further, in_use)
        return Loaded(bar, solution, samples, maps, forces, further, bend_fields)

    def stressed(self) -> Stressed:
        """What its stress is found from."""
        return Stressed(
            samples=self.samples,
            maps=self.maps,
            resultants=self.resultants,
            cycle=CYCLE,
            yield_strength_MPa=self.bar.steel.yield_strength_MPa,
            mirrored_mm=self.bar.centreline.length_mm if self.solution.mirrored else None,
        )

    def solved(self, recovery: Recovery) -> Solved:
        """With its stress."""
        return Solved(
            self.bar,
            self.solution,
            self.samples,
            self.maps,
            self.resultants,
            recovery,
            self.further,
            self.bend_fields,
        )


def recover_stress(solution: BeamSolution, *, bend_fields: bool = True, like: Solved | None = None) -> Solved:
    """The stress everywhere of a bar whose hole settings are solved; as `Loaded.of`."""
    return recover_together([Loaded.of(solution, bend_fields=bend_fields, like=like)])[0]


def recover_together(several: Sequence[Loaded], *, lives_alone: bool = False) -> list[Solved]:
    """The stress everywhere of many bars at once: the numbers are those of each by itself. `lives_alone` as
    `rank_each_by_life`.

    Raises
    ------
    BarfemError
        The loads of any are not finite numbers.
    """
    alike: dict[tuple[Any, ...], list[int]] = {}
    for number, each in enumerate(several):
        alike.setdefault(life_asked_of(each.bar), []).append(number)
    found: dict[int, Solved] = {}
    for numbers in alike.values():
        some = [several[number] for number in numbers]
        severity = rank_each_by_life([each.bar for each in some], lives_alone=lives_alone)
        recoveries = recover_each([each.stressed() for each in some], severity)
        found |= {number: several[number].solved(one) for number, one in zip(numbers, recoveries, strict=True)}
    return [found[number] for number in range(len(several))]
