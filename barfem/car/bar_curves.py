"""The force of a bar's pickups over their travels: from the beam, solved once a hole pair on a grid, or from rates.

q = (q_left, q_right) is the pickups' travel from the drawing's rest position, mm, along the bar file's travel
direction; F the force each needs in that direction, N: the bar resists with -F. Between the solved points cubic
Hermite curves run in u = q_left - q_right and m = (q_left + q_right) / 2; beyond the grid their tangent goes on.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from barfem.car.car import AxleBar
from barfem.car.mirror import is_mirrored
from barfem.check.verdict import broken_out
from barfem.check.worked import how_worked
from barfem.model.bar import Bar
from barfem.model.errors import BarfemError
from barfem.model.frozen import frozen
from barfem.model.load_case import Instant
from barfem.solve.beam import BeamSolution, HoleSetting, solve_bar
from barfem.solve.states import only_states

__all__ = ["BarCurves", "Grid", "PickupForces", "curves_of", "every_pair", "solve_points", "unloaded"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]
Pair = tuple[int, int]

U_NODES, M_NODES, STENCIL = 5, 3, 5
GREATEST_ERROR = 0.002  # of the greatest force, at midpoints of the grid
ROOM = 1.1  # of the bar file's travel
SHRINKS = (1.0, 0.8, 0.6, 0.4)


@frozen
class PickupForces:
    """At n points: force (n, 2) of (left, right) along the travel, slope (n, 2, 2), link force (n, 2), tension > 0."""

    force_N: Array
    slope_N_per_mm: Array
    link_N: Array


@frozen
class Grid:
    """Nodes in u and m, mm, and the weights of their values at any point."""

    u_mm: Array
    m_mm: Array

    @property
    def points_mm(self) -> Array:
        """(q_left, q_right) of every node, (u nodes x m nodes, 2)."""
        u, m = (part.ravel() for part in np.meshgrid(self.u_mm, self.m_mm, indexing="ij"))
        return np.stack([m + 0.5 * u, m - 0.5 * u], axis=-1)

    @property
    def midpoints_mm(self) -> Array:
        """(q_left, q_right) of every cell's middle."""
        u, m = (0.5 * (nodes[1:] + nodes[:-1]) for nodes in (self.u_mm, self.m_mm))
        return Grid(u, m).points_mm

    @cached_property
    def _splines(self) -> tuple[_Cardinal, _Cardinal]:
        return _Cardinal(self.u_mm), _Cardinal(self.m_mm)

    def weights(self, q_mm: Array) -> tuple[Array, Array, Array]:
        """Weights (n, nodes) of the nodes' values at q (n, 2), and their slopes over q_left and q_right."""
        u, m = q_mm[:, 0] - q_mm[:, 1], q_mm.mean(axis=1)
        in_u, over_u = self._splines[0].weights(u)
        in_m, over_m = self._splines[1].weights(m)

        def both(one: Array, two: Array) -> Array:
            return np.asarray(np.einsum("na,nb->nab", one, two).reshape(len(u), -1))

        by_u, by_m = both(over_u, in_m), both(in_u, over_m)
        return both(in_u, in_m), 0.5 * by_m + by_u, 0.5 * by_m - by_u

    def holds(self, q_mm: Array) -> NDArray[np.bool_]:
        """Whether points (n, 2) lie within the grid."""
        slack = 1e-9 + 1e-9 * abs(self.u_mm[-1])
        u, m = np.abs(q_mm[:, 0] - q_mm[:, 1]), np.abs(q_mm.mean(axis=1))
        return np.asarray((u <= self.u_mm[-1] + slack) & (m <= self.m_mm[-1] + slack))


class _Cardinal:
    """Cubic Hermite curves that are 1 at one node and 0 at the others; beyond the ends their tangents.

    Slopes at the nodes are those of the polynomial through the `STENCIL` nearest nodes.
    """

    def __init__(self, nodes: Array) -> None:
        self.nodes = nodes
        self.slopes = np.zeros((len(nodes), len(nodes)))
        width = min(STENCIL, len(nodes))
        for i, node in enumerate(nodes):
            first = min(max(i - width // 2, 0), len(nodes) - width)
            near = slice(first, first + width)
            # Powers of the distance: row k of the inverse holds the k-th coefficient of each node's polynomial.
            self.slopes[i, near] = np.linalg.inv(np.vander(nodes[near] - node, increasing=True))[1]

    def weights(self, x: Array) -> tuple[Array, Array]:
        nodes = self.nodes
        inside = np.clip(x, nodes[0], nodes[-1])
        cell = np.clip(np.searchsorted(nodes, inside, side="right") - 1, 0, len(nodes) - 2)
        step = (nodes[cell + 1] - nodes[cell])[:, None]
        t = (inside - nodes[cell])[:, None] / step
        one = np.eye(len(nodes))
        ends = one[cell], one[cell + 1], self.slopes[cell] * step, self.slopes[cell + 1] * step
        basis = (2 * t**3 - 3 * t**2 + 1, 3 * t**2 - 2 * t**3, t**3 - 2 * t**2 + t, t**3 - t**2)
        rise = (6 * t**2 - 6 * t, 6 * t - 6 * t**2, 3 * t**2 - 4 * t + 1, 3 * t**2 - 2 * t)
        value = sum(b * e for b, e in zip(basis, ends, strict=True))
        slope = np.asarray(sum(b * e for b, e in zip(rise, ends, strict=True)) / step)
        return np.asarray(value + (x - inside)[:, None] * slope), slope


@frozen
class BarCurves:
    """Every wanted hole pair of an axle's bar: `pairs` (left, right) in order, p.

    From rates: `slope` (p, 2, 2), constant. From the beam: `grid`, and `nodes` (p, nodes, 4) of the forces and link
    forces of (left, right); `solution` is the beam they come from, its states 3 and on the nodes, and `source` each
    pair's number there, and whether it is that one's mirror image.
    """

    axle_bar: AxleBar
    pairs: tuple[Pair, ...]
    slope: Array | None = None
    grid: Grid | None = None
    nodes: Array | None = None
    solution: BeamSolution | None = None
    source: tuple[tuple[int, bool], ...] = ()
    midpoint_error: float | None = None

    def forces(self, pair: Index, q_mm: Array) -> PickupForces:
        """Forces at n points: `pair` (n,) indexes `pairs`, q (n, 2) is (left, right) in mm."""
        if self.slope is not None:
            slope = self.slope[pair]
            force = np.einsum("nab,nb->na", slope, q_mm)
            return PickupForces(force, slope, -force * np.array(self.axle_bar.sense))
        if self.grid is None or self.nodes is None:  # one of the two is there by construction
            raise BarfemError("bar curves without rates and without a grid.")
        here, over_left, over_right = self.grid.weights(q_mm)
        values = self.nodes[pair]
        found = np.einsum("nk,nkc->nc", here, values)
        slopes = [np.einsum("nk,nkc->nc", over, values[..., :2]) for over in (over_left, over_right)]
        return PickupForces(found[:, :2], np.stack(slopes, axis=-1), found[:, 2:])

    def unfit(self, pair: int) -> tuple[str, ...]:
        """Why a pair does not pass whatever its stress, in the words of the check; nothing of a bar given by rates."""
        ours, solution = self.axle_bar.bar, self.solution
        if ours is None or solution is None:
            return ()
        number, _ = self.source[pair]
        setting, rest = solution.settings[number], solution.initial
        worked = how_worked(
            ours,
            setting,
            shares=rest.shares[number].tolist(),
            rate_N_per_mm=float(rest.rate_N_per_mm[number]),
        )
        return (*worked.fails, *broken_out(ours, HoleSetting(*self.pairs[pair])))

    def index_of(self, pair: Pair) -> int:
        return self.pairs.index(pair)

    def roll_rate_N_per_mm(self, pair: int, at_mm: Array | None = None) -> float:
        """Force at a pickup over its travel, both moving equal and opposite, at q (default: the drawing's rest)."""
        q = np.zeros((1, 2)) if at_mm is None else np.asarray(at_mm, float).reshape(1, 2)
        c = self.forces(np.array([pair]), q).slope_N_per_mm[0]
        return float(0.5 * (c[0, 0] - c[0, 1] - c[1, 0] + c[1, 1]))


def curves_of(axle_bar: AxleBar, pairs: Sequence[Pair], *, reach_mm: tuple[float, float] = (0.0, 0.0)) -> BarCurves:
    """Curves of hole pairs (left, right).

    Parameters
    ----------
    reach_mm
        Greatest |u| and |m| that must lie within the grid; the bar file's own travel always does.

    Raises
    ------
    BarfemError
        A hole pair that has no equilibrium even within `SHRINKS` of the travel.
    """
    pairs = tuple(dict.fromkeys(pairs))
    if axle_bar.bar is None:
        return BarCurves(axle_bar, pairs, slope=np.array([_slope_of_rates(axle_bar, pair) for pair in pairs]))
    bar = unloaded(axle_bar.bar)
    travel = bar.travel
    u = max(ROOM * (travel.up_mm + travel.down_mm), reach_mm[0])
    m = max(ROOM * max(travel.up_mm, travel.down_mm), reach_mm[1])
    found: BarCurves | None = None
    counts = (U_NODES, M_NODES)
    for share in SHRINKS:
        try:
            found = _solved(axle_bar, bar, pairs, share * u, share * m, counts)
            break
        except BarfemError:
            if share == SHRINKS[-1]:
                raise
    while found is not None and (found.midpoint_error or 0.0) > GREATEST_ERROR and counts[0] < 4 * U_NODES:
        counts = (2 * counts[0] - 1, 2 * counts[1] - 1)
        grid = found.grid
        found = _solved(axle_bar, bar, pairs, float(grid.u_mm[-1]), float(grid.m_mm[-1]), counts) if grid else found
    if found is None:  # the loop either finds or raises
        raise BarfemError("the bar's curves were not solved.")
    return found


def unloaded(bar: Bar) -> Bar:
    """The bar with links of the right length: what a link is too long goes into the pickups' travel."""
    return replace(
        bar,
        left_link=replace(bar.left_link, length_error_mm=0.0),
        right_link=replace(bar.right_link, length_error_mm=0.0),
    )


def solve_points(bar: Bar, pairs: Iterable[Pair], q_mm: Array) -> BeamSolution:
    """The beam at pickup travels q (k, 2) of (left, right), for each hole pair; states 3 on are those asked for."""
    settings = [HoleSetting(left, right) for left, right in pairs]
    moves = np.asarray(q_mm, float)[:, ::-1]  # the solver's sides are right, left
    return solve_bar(bar, settings, more_moves=lambda bar, setting: moves)


def _values(solution: BeamSolution) -> Array:
    """(pair, state, 4): forces of (left, right) along the travel, then their links' forces."""
    force, link = (each[:, len(Instant) :, ::-1] for each in (solution.pickup_force_N, solution.link_force_N))
    return np.concatenate([force, link], axis=-1)


def _solved(
    axle_bar: AxleBar, bar: Bar, pairs: tuple[Pair, ...], u: float, m: float, counts: tuple[int, int]
) -> BarCurves:
    grid = Grid(np.linspace(-u, u, counts[0]), np.linspace(-m, m, counts[1]))
    mirrored = is_mirrored(bar)
    solved: list[Pair] = []
    for pair in pairs:
        if not (mirrored and pair[::-1] in solved):
            solved.append(pair)
    tested = _most_unlike(pairs)
    # One hole pair alone: its test points are solved in the same batch.
    together = solved == tested
    every = np.concatenate([grid.points_mm, grid.midpoints_mm]) if together else grid.points_mm
    whole = solve_points(bar, solved, every)
    solution = only_states(whole, slice(0, 3 + len(grid.points_mm)))
    values = _values(solution)
    source, nodes = [], []
    exchanged = _exchanged(counts)
    for pair in pairs:
        swap = pair not in solved
        number = solved.index(pair[::-1] if swap else pair)
        own = values[number]
        nodes.append(own[exchanged][:, [1, 0, 3, 2]] if swap else own)
        source.append((number, swap))
    curves = BarCurves(axle_bar, pairs, grid=grid, nodes=np.array(nodes), solution=solution, source=tuple(source))
    at_midpoints = _values(whole if together else solve_points(bar, tested, grid.midpoints_mm))
    beam = at_midpoints[:, -len(grid.midpoints_mm) :, :2]
    error = 0.0
    for pair, direct in zip(tested, beam, strict=True):
        own = curves.forces(np.full(len(direct), curves.index_of(pair)), grid.midpoints_mm).force_N
        error = max(error, float(np.abs(own - direct).max() / np.abs(values[..., :2]).max()))
    return replace(curves, midpoint_error=error)


def _exchanged(counts: tuple[int, int]) -> Index:
    """The node with left and right exchanged, for each node."""
    return np.arange(counts[0] * counts[1]).reshape(counts)[::-1].ravel()


def _most_unlike(pairs: tuple[Pair, ...]) -> list[Pair]:
    """The stiffest equal pair and the most unequal one: the most curved."""
    chosen = [max(pairs, key=sum), max(pairs, key=lambda pair: abs(pair[0] - pair[1]))]
    return list(dict.fromkeys(chosen))


def _slope_of_rates(axle_bar: AxleBar, pair: Pair) -> Array:
    """F = k_t v (v . q), v = (1/lever_left, -1/lever_right), 1/k_t = (1/k_tL + 1/k_tR) / 2, k_tH = k_one end x lever^2.

    A pair of one hole needs no lever.
    """
    (_, one, arm_left), (_, two, arm_right) = (axle_bar.rates[i] for i in pair)
    if pair[0] == pair[1]:
        return 0.5 * one * np.array([[1.0, -1.0], [-1.0, 1.0]])
    if arm_left is None or arm_right is None:  # refused where the pair is chosen
        raise BarfemError("unequal holes of a bar given by its rates need their levers.")
    twist = [0.5 * rate * arm**2 for rate, arm in ((one, arm_left), (two, arm_right))]
    k_t = 2.0 / (1.0 / twist[0] + 1.0 / twist[1])
    v = np.array([1.0 / arm_left, -1.0 / arm_right])
    return np.asarray(k_t * np.outer(v, v))


def every_pair(axle_bar: AxleBar, *, unequal: bool) -> tuple[Pair, ...]:
    """Hole pairs of a bar: those of equal name, in order, or all."""
    if unequal:
        return tuple(itertools.product(range(len(axle_bar.left_holes)), range(len(axle_bar.right_holes))))
    right = {name: j for j, name in enumerate(axle_bar.right_holes)}
    pairs = [(i, right[name]) for i, name in enumerate(axle_bar.left_holes) if name in right]
    return tuple(pairs or [(i, i) for i in range(min(len(axle_bar.left_holes), len(axle_bar.right_holes)))])
