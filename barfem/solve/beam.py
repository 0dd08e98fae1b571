"""What the bar does: every hole setting and load case, at rest, at full travel and at the cycle's other end."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.errors import BarfemError, InputError
from barfem.model.frozen import frozen
from barfem.model.load_case import CASES, ROLL, End, Instant, LoadCase
from barfem.solve.batch import Batch, Copy, State, initial_state, ranges
from barfem.solve.mesh import BeamMesh, build_mesh
from barfem.solve.mirror import mirror_images, mirrored, symmetric
from barfem.solve.newton import ConvergenceError, Norms, ramp
from barfem.solve.rate import InitialRate, MechanismError, couple_rate, initial_rates, mean_rate
from barfem.solve.state_fields import lay_to_rest, mount_totals, of_bar, read_state

__all__ = ["BeamSolution", "HoleSetting", "NotBalanced", "all_settings", "solve_bar", "solve_bars"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]
Moves = Callable[[Bar, "HoleSetting"], Array]
LARGEST_CHUNK = 1500  # elements in one batch: fits the cache, bounds the memory


@frozen
class HoleSetting:
    """A pair of holes, by their place in [ends] holes counted from zero, and the load case."""

    left: int
    right: int
    case: str = ROLL.name

    @property
    def load_case(self) -> LoadCase:
        """The record of the load case."""
        return CASES[self.case]


class NotBalanced(BarfemError):
    """Hole settings have no equilibrium within their travel, or none that stays; `why` says of which bar's and how."""

    def __init__(self, why: Mapping[HoleSetting, str]) -> None:
        self.why = why
        super().__init__(why)  # what it is made from again where it comes from another process

    def __str__(self) -> str:
        return next(iter(self.why.values()))


def all_settings(bar: Bar, *, cases: Sequence[str] = (ROLL.name,), mixed: bool = False) -> tuple[HoleSetting, ...]:
    """The hole settings of a bar: its `hole_pairs`, or every pair of a left and a right hole if `mixed`."""
    every = ((i, j) for i in range(len(bar.left.holes)) for j in range(len(bar.right.holes)))
    pairs = tuple(every) if mixed else bar.hole_pairs
    return tuple(HoleSetting(i, j, case) for case in cases for i, j in pairs)


@frozen
class BeamSolution:
    """One bar's hole settings (j) in the states rest, travel, ratio and those asked for beyond (k); sides: right, left.

    All arrays are in drawing axes.
    """

    bar: Bar
    settings: tuple[HoleSetting, ...]
    mesh: BeamMesh
    pickup_move_mm: Array  # (j, k, 2) along each side's travel direction
    displacement_mm: Array  # (j, k, n, 3)
    turned: Array  # (j, k, n, 3, 3) rotation of each node's section from the drawing
    element_nodal: Array  # (j, k, e, 3, 6) of beam and spread bushings (not point mounts): N and N·mm
    link_force_N: Array  # (j, k, 2) tension positive
    link_direction: Array  # (j, k, 2, 3) unit, pickup to joint
    joint_mm: Array  # (j, k, 2, 3) joint centres
    pickup_force_N: Array  # (j, k, 2) along the travel direction, exerted on the pickup by the car
    mount_force_N: Array  # (j, k, mount, 3) by the bar on the mount
    mount_moment_Nmm: Array  # (j, k, mount, 3) by the bar on the mount, about the mount's middle at rest
    strain_energy_Nmm: Array  # (j, k)
    initial: InitialRate
    norms: Norms
    mirrored: bool = False
    """Whether the bar is its own mirror image, and in every hole setting the cycle's other end that of travel."""

    @property
    def rate_N_per_mm(self) -> Array:
        """[F(travel) - F(rest)] / travel, mean of the sides that move, as the load case has it; (j,)."""
        signed = np.array([setting.load_case.signed for setting in self.settings])
        return mean_rate(self._change_N, self.pickup_move_mm[:, Instant.TRAVEL], signed)

    @property
    def couple_rate_N_per_mm(self) -> Array:
        """The rate that both ends moving as far apart, each by half, would have; (j,); NaN where they move alike."""
        return couple_rate(self._change_N, self.pickup_move_mm[:, Instant.TRAVEL])

    @property
    def _change_N(self) -> Array:
        return self.pickup_force_N[:, Instant.TRAVEL] - self.pickup_force_N[:, Instant.REST]

    @property
    def further_force_N(self) -> Array:
        """Pickup forces (j, m, 2) less those at rest, in the states asked for beyond rest, travel and other end."""
        return self.pickup_force_N[:, len(Instant) :] - self.pickup_force_N[:, Instant.REST, None]

    @property
    def roll_arm_mm(self) -> Array:
        """Distance across the car (y) between the joint centres at rest, (j,)."""
        return np.abs(self.joint_mm[:, Instant.REST, End.LEFT, 1] - self.joint_mm[:, Instant.REST, End.RIGHT, 1])


def _side_directions(bar: Bar) -> Array:
    """Travel directions (right, left), (2, 3)."""
    left = np.array(bar.travel.direction)
    return np.array([left * [1, -1, 1], left])


def _copy(bar: Bar, mesh: BeamMesh, setting: HoleSetting) -> Copy:
    holes = (bar.right.holes[setting.right], bar.left.holes[setting.left])
    points, _ = bar.centreline.evaluate([hole.station_mm for hole in holes])
    offset = np.array([hole.offset_mm for hole in holes])
    joints = points + offset
    pickups, lengths, flexibility = np.empty((2, 3)), np.empty(2), np.zeros(2)
    for side, link in enumerate((bar.right_link, bar.left_link)):
        if link.pickup_mm is not None:
            pickups[side] = link.pickup_mm
            nominal = float(np.linalg.norm(pickups[side] - joints[side]))
        elif link.length_mm is not None and link.direction is not None:
            nominal = link.length_mm
            pickups[side] = joints[side] + nominal * np.array(link.direction)
        else:  # the reader never makes one
            raise InputError("a link needs a length and a direction, or a pickup", where="[links]")
        lengths[side] = nominal + link.length_error_mm
        if lengths[side] <= 0.0:
            raise InputError(
                f"link length {lengths[side]:g} mm of hole {holes[side].name} on the {link.side}: nothing is left",
                where="[links]",
                expected="a pickup farther from the joint, or a smaller length_error",
            )
        if link.axial_stiffness_N_per_mm is not None:
            flexibility[side] = 1.0 / link.axial_stiffness_N_per_mm
    return Copy(mesh, (setting.right, setting.left), offset, lengths, flexibility, pickups)


def solve_bar(
    bar: Bar,
    settings: Sequence[HoleSetting],
    *,
    refinement: float = 1.0,
    more_moves: Moves | None = None,
    bend_fields: bool = True,
) -> BeamSolution:
    """Solve one bar; see `solve_bars`."""
    return next(solve_bars([(bar, settings)], refinement=refinement, more_moves=more_moves, bend_fields=bend_fields))


def solve_bars(
    requests: Iterable[tuple[Bar, Sequence[HoleSetting]]],
    *,
    refinement: float = 1.0,
    more_moves: Moves | None = None,
    bend_fields: bool = True,
) -> Iterator[BeamSolution]:
    """Solve the hole settings of many bars, in batches that fit the cache; yields a solution a bar, in order.

    Parameters
    ----------
    requests
        Pairs of a bar and its hole settings.
    refinement
        2 halves every element.
    more_moves
        Further states to solve beside rest, travel and ratio: pickup travels (m, 2) of (right, left) in mm along the
        travel direction, for a bar and a hole setting; as many for each.
    bend_fields
        A tube's bends as soft as their three-dimensional fields are; False: as the straight tube.

    Raises
    ------
    NotBalanced
        Where hole settings have no equilibrium; names bar, hole setting and the travel reached of every one of a single
        bar, of the first of several bars.
    """
    chunk: list[tuple[Bar, tuple[HoleSetting, ...], BeamMesh]] = []
    load = 0
    for bar, settings in requests:
        mesh = build_mesh(bar, refinement, bend_fields=bend_fields)
        extra = len(more_moves(bar, settings[0])) if more_moves and settings else 0
        cost = (2 + extra) * len(settings) * mesh.n_elements
        if chunk and load + cost > LARGEST_CHUNK:
            yield from _solve_chunk(chunk, more_moves)
            chunk, load = [], 0
        chunk.append((bar, tuple(settings), mesh))
        load += cost
    if chunk:
        yield from _solve_chunk(chunk, more_moves)


def _describe(bar: Bar, setting: HoleSetting) -> str:
    left, right = bar.left.holes[setting.left].name, bar.right.holes[setting.right].name
    file = f"{bar.source}: " if bar.source else ""
    return f"{file}{bar.name}: hole setting left {left}, right {right} ({setting.case})"


def _failure(
    bar: Bar, setting: HoleSetting, reached: float, reason: str, *, start: Array, target: Array, at_rest: bool
) -> str:
    if at_rest:
        errors = [link.length_error_mm for link in (bar.left_link, bar.right_link)]
        return (
            f"{_describe(bar, setting)}: no equilibrium at rest with link length errors of "
            f"{errors[0]:g} mm (left) and {errors[1]:g} mm (right); reached {100 * reached:.0f} % of them: "
            f"{reason}. Right would be: links nearer to their length."
        )
    held = start + reached * (target - start)
    return (
        f"{_describe(bar, setting)}: no equilibrium found beyond a pickup travel of {held[End.LEFT]:.1f} mm left, "
        f"{held[End.RIGHT]:.1f} mm right, the last step that held (asked for "
        f"{target[End.LEFT]:g} and {target[End.RIGHT]:g} mm): {reason}. Right would be: less travel, a longer "
        "link, or a link that stands across the arm."
    )


def _solve_chunk(
    chunk: list[tuple[Bar, tuple[HoleSetting, ...], BeamMesh]], more_moves: Moves | None
) -> Iterator[BeamSolution]:
    owners = [(i, setting) for i, (_, settings, _) in enumerate(chunk) for setting in settings]
    copies = [_copy(chunk[i][0], chunk[i][2], setting) for i, setting in owners]
    moves = np.array(
        [setting.load_case.moves_mm((bar := chunk[i][0]).travel, bar.duty.ratio) for i, setting in owners]
    )  # (J, 3, 2)
    if more_moves is not None:
        further = np.array([more_moves(chunk[i][0], setting) for i, setting in owners], dtype=float)
        moves = np.concatenate([moves, further.reshape(len(owners), -1, 2)], axis=1)
    directions = np.array([_side_directions(chunk[i][0]) for i, _ in owners])  # (J, 2, 3)
    travelled = moves[..., None] * directions[:, None]  # (J, K, 2, 3)
    states = moves.shape[1]
    rest = Batch(copies)
    at_rest = rest.pickup_rest

    def attempt(
        batch: Batch,
        state: State,
        start: Array,
        target: Array,
        owner: Index,
        state_of: Index,
        step: Array | None = None,
    ) -> tuple[State, Norms]:
        try:
            return ramp(batch, state, start_mm=start, target_mm=target, every=len(chunk) == 1, foreseen=step)
        except ConvergenceError as error:
            why: dict[HoleSetting, str] = {}
            for copy, reached in error.reached.items():
                job, k = int(owner[copy]), int(state_of[copy])
                i, setting = owners[job]
                text = _failure(
                    chunk[i][0], setting, reached, error.reason,
                    start=moves[job, Instant.REST], target=moves[job, k], at_rest=k == Instant.REST,
                )  # fmt: skip
                why.setdefault(setting, text)
            raise NotBalanced(why) from error

    state, norms = _settle(rest, attempt)
    try:
        signed, may_rest = (
            np.array([getattr(setting.load_case, of) for _, setting in owners]) for of in ("signed", "may_rest")
        )
        initial, response = initial_rates(
            rest, state, at_rest, moves[:, Instant.TRAVEL], directions, signed=signed, may_rest=may_rest
        )
    except MechanismError as error:
        i, setting = owners[error.copy]
        raise NotBalanced({setting: f"{_describe(chunk[i][0], setting)}: {error}"}) from error
    # All states beyond rest are copies of one batch, state by state; what is the mirror image of another is left out.
    parts = _parts(owners)
    images = [mirror_images(moves[jobs]) if symmetric(copies[jobs], directions[jobs.start]) else {} for jobs in parts]
    solved = [(k, number) for k in range(1, states) for number in range(len(parts)) if k not in images[number]]
    owner = np.concatenate([np.arange(parts[number].start, parts[number].stop) for _, number in solved])
    counts = [parts[number].stop - parts[number].start for _, number in solved]
    state_of = np.repeat([k for k, _ in solved], counts)
    all_moved = Batch([copies[j] for j in owner])
    start = rest.pick(state, owner)
    targets = at_rest[owner] + travelled[owner, state_of]
    of_rest = ranges(rest.dof_start[owner], rest.size_of[owner])
    step = np.einsum("uk,uk->u", response[of_rest], moves[owner, state_of][all_moved.dof_copy])
    moved, moved_norms = attempt(all_moved, start, at_rest[owner], targets, owner, state_of, step)

    read_rest, read_moved = read_state(rest, state, at_rest), read_state(all_moved, moved, targets)
    where = {key: slice(end - n, end) for key, end, n in zip(solved, np.cumsum(counts).tolist(), counts, strict=True)}
    of_part: list[tuple[int, dict[str, Array], Norms]] = []
    for number, jobs in enumerate(parts):
        which = owners[jobs.start][0]
        mesh = chunk[which][2]
        pieces = {0: of_bar(read_rest, rest, jobs, mesh)}
        for k in range(1, states):
            of = images[number].get(k)
            pieces[k] = of_bar(read_moved, all_moved, where[k, number], mesh) if of is None else mirrored(pieces[of])
        fields = {key: np.stack([piece[key] for piece in pieces.values()], axis=1) for key in pieces[0]}
        spans = [where[k, number] for k in pieces if (k, number) in where]
        of_part.append((which, fields, _joined(norms, moved_norms, jobs, spans)))
    first = 0
    for number, (bar, settings, mesh) in enumerate(chunk):
        span = slice(first, first + len(settings))
        first = span.stop
        mine = [part for part in of_part if part[0] == number]
        its_images = [images[at] for at, part in enumerate(of_part) if part[0] == number]
        fields = {key: np.concatenate([found[key] for _, found, _ in mine]) for key in mine[0][1]}
        lay_to_rest(fields, may_rest[span])
        pull = -np.einsum("jkab,jab->jka", fields["link_direction"], directions[span])
        mounts = mount_totals(mesh, bar, fields)
        yield BeamSolution(
            bar=bar,
            settings=settings,
            mesh=mesh,
            pickup_move_mm=moves[span],
            displacement_mm=fields["displacement"],
            turned=fields["turned"],
            element_nodal=fields["nodal"],
            link_force_N=fields["link_force"],
            link_direction=fields["link_direction"],
            joint_mm=fields["joint"],
            pickup_force_N=fields["link_force"] * pull,
            mount_force_N=mounts[0],
            mount_moment_Nmm=mounts[1],
            strain_energy_Nmm=fields["energy"],
            initial=initial.part(span),
            norms=Norms(**{key: np.concatenate([vars(found)[key] for *_, found in mine]) for key in vars(mine[0][2])}),
            mirrored=all(each.get(Instant.OTHER_END) == Instant.TRAVEL for each in its_images),
        )


def _parts(owners: Sequence[tuple[int, HoleSetting]]) -> list[slice]:
    """Runs of hole settings of one bar in one load case: their states are the same moves."""
    lengths = [len(list(run)) for _, run in groupby(owners, key=lambda owner: (owner[0], owner[1].case))]
    return [slice(end - n, end) for end, n in zip(np.cumsum(lengths).tolist(), lengths, strict=True)]


def _settle(rest: Batch, attempt: Callable[..., tuple[State, Norms]]) -> tuple[State, Norms]:
    """The state at rest: as drawn, unless a link is fitted too long or too short.

    Preload is applied by moving the pickup along the link to where the unstrained link would leave the bar alone, and
    from there back to its place.
    """
    node = rest.link_node
    joints = rest.node_points[node] + rest.offset
    span = joints - rest.pickup_rest
    direction = span / np.linalg.norm(span, axis=-1, keepdims=True)
    relaxed = joints - direction * rest.link_length[..., None]
    every = np.arange(rest.n_copies)
    return attempt(rest, initial_state(rest), relaxed, rest.pickup_rest, every, np.full_like(every, Instant.REST))


def _joined(rest: Norms, moved: Norms, span: slice, spans: list[slice]) -> Norms:
    """Norms of a bar's hole settings: the worst of its states, and the sum of their iterations and steps."""

    def every(values: str) -> Array:
        return np.stack([getattr(rest, values)[span]] + [getattr(moved, values)[part] for part in spans])

    return Norms(
        every("force").max(axis=0),
        every("moment").max(axis=0),
        every("misfit").max(axis=0),
        every("iterations").sum(axis=0).astype(np.intp),
        every("steps").sum(axis=0).astype(np.intp),
    )
