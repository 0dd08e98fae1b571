"""The check's stress from the swept solid, driven by the beam's joint forces at articulation.

The solid is linear, so its stress at a point is a sum over the forces at the holes' joints: those forces stand as
further loads beside the six resultants, and each solid place has a map of them. Everything after that, yield, cycles,
life, duty, is the same path as the beam's.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from barfem.check.endurance import rank_by_life
from barfem.check.moves import further_moves
from barfem.check.result import CheckResult, steps_to_next_percent
from barfem.check.solid_record import SolidRecord
from barfem.check.solved import CYCLE, STATES, NoTiming, Solved, recover_stress, solve_what_can_be
from barfem.check.timing import Timing
from barfem.model.bar import Bar, Hole
from barfem.model.bar_geometry import outer_mounts
from barfem.model.errors import BarfemError, InputError
from barfem.model.frozen import frozen
from barfem.model.links import joint_centres
from barfem.model.load_case import Instant
from barfem.model.vectors import cross
from barfem.solve.beam import BeamSolution, all_settings, solve_bar
from barfem.solve.solid.error import BORE_ORDER, ORDER, TUBE_ORDER, coarser, richardson_error
from barfem.solve.solid.mesh import Density, bar_mesh
from barfem.solve.solid.model import JointLoad, SolidModel, bar_density, build_solid
from barfem.strength.bend_fields import KINDS, contact_factor, with_matrices
from barfem.strength.places import Samples
from barfem.strength.recover import recover
from barfem.strength.section_map import BORE, OUTSIDE

__all__ = [
    "FINEST",
    "KEPT_OUT_DIAMETERS",
    "SolidRun",
    "as_solid",
    "joint_forces",
    "kept_out",
    "solid_assumptions",
    "solid_loads",
    "solid_places",
    "solve_solid",
    "with_solid",
]

Array = NDArray[np.float64]
Tell = Callable[[str], None]

KEPT_OUT_DIAMETERS = 1.0
"""From the inmost hole of an end to so many diameters inboard, and outboard of it, the beam's stress stands."""

FINEST = 3.0

LARGEST_GB = 4.0
"""Memory that a factored solid may take."""

TELLING = 0.5  # share of the greatest stress from which a region's peak counts in the estimated error

SERIES = 15  # harmonics of stress round a section: those of the displacement, and what the curvature makes of them


@frozen(eq=False)
class SolidRun:
    """The factored solid, its displacement (n_planes, n, 3, 3 holes + 1) under unit loads, and its initial rates."""

    model: SolidModel
    unit_mm: Array
    rate_initial_N_per_mm: Array
    record: SolidRecord


def _holes(bar: Bar) -> tuple[Hole, ...]:
    return (*bar.right.holes, *bar.left.holes)


def joint_forces(solution: BeamSolution) -> Array:
    """Forces (j, k, 3 h) on the bar at the joints of all holes (right, then left), turned back with the section, N."""
    bar = solution.bar
    count = len(bar.right.holes)
    out = np.zeros((*solution.link_force_N.shape[:2], 3 * len(_holes(bar))))
    for j, setting in enumerate(solution.settings):
        for side, index in enumerate((setting.right, setting.left)):
            turned = solution.turned[j, :, solution.mesh.hole_nodes[side][index]]
            force = -solution.link_force_N[j, :, side, None] * solution.link_direction[j, :, side]
            first = 3 * (index + side * count)
            out[j, :, first : first + 3] = np.einsum("kab,ka->kb", turned, force)
    return out


def solid_loads(solution: BeamSolution) -> Array:
    """Joint forces (j, k, 3 h), N, and behind them the torque about the mount axis that they lack, N mm.

    Each end turns by its own angle, so that forces turned back no longer have the torque about the mount axis that they
    have at articulation, which is what the mounts really hold. Little as that is, a bar whose mounts let it turn, but
    not quite (their own axes lie a little off the mount axis), would have to turn through whole circles to carry it,
    and be bent by its bushings. It acts on the bar's middle instead, where springs hold a bar that turns freely.
    """
    bar, forces = solution.bar, joint_forces(solution)
    first, last = outer_mounts(bar)
    axis = (last - first) / np.linalg.norm(last - first)
    joints = np.concatenate([list(joint_centres(end, bar.centreline).values()) for end in bar.ends])
    own = cross(joints - first, forces.reshape(*forces.shape[:2], -1, 3)).sum(axis=2) @ axis
    pull = -solution.link_force_N[..., None] * solution.link_direction
    held = cross(solution.joint_mm - first, pull).sum(axis=2) @ axis
    return np.concatenate([forces, (held - own)[..., None]], axis=-1)


def solid_places(bar: Bar, samples: Samples) -> NDArray[np.bool_]:
    """Samples (n,) whose stress is the solid's: round body, away from holes; the beam's stands in all others."""
    by_kind = np.array([region.kind in KINDS for region in samples.regions])[samples.region]
    return np.asarray(by_kind & ~kept_out(bar, samples.station_mm))


def kept_out(bar: Bar, stations: Array) -> NDArray[np.bool_]:
    """Stations (n,) at which no stress of the solid is judged: flats, and what lies near the holes or outboard."""
    out = np.zeros(len(stations), dtype=bool)
    near = KEPT_OUT_DIAMETERS * bar.section.diameter_mm
    for end, from_tip in ((bar.right, stations), (bar.left, bar.centreline.length_mm - stations)):
        if end.flat is not None:
            out |= from_tip < end.flat.length_mm
        out |= from_tip <= max(hole.from_tip_mm for hole in end.holes) + near
    return out


def _unit_displacement(model: SolidModel) -> tuple[Array, Array]:
    """Displacements under unit forces in x, y, z at each hole's joint and a unit torque, and the forces held."""
    holes = _holes(model.bar)
    loads, count = [], 3 * len(holes) + 1
    for number, hole in enumerate(holes):
        force = np.zeros((count, 3))
        force[3 * number : 3 * number + 3] = np.eye(3)
        loads.append(JointLoad(hole, force))
    result = model.solve(loads, torque_Nmm=np.eye(count)[-1])
    return result.displacement_mm, result.held_N


def _unit_stress(model: SolidModel, displacement: Array, found: Solved, which: NDArray[np.intp]) -> Array:
    """Stress (n, p, 3, 3 h + 1) at the points of the samples `which` under unit loads."""
    from barfem.solve.solid.model import SolidResult

    samples, maps = found.samples, found.maps
    count = 2 * SERIES + 2
    even = 2.0 * np.pi * np.arange(count) / count
    inverse = np.linalg.pinv(_series(even))
    out = np.zeros((len(which), len(maps.surface), 3, displacement.shape[-1]))
    for code in (OUTSIDE, BORE):
        points = np.flatnonzero(maps.surface == code)
        if not len(points) or (code == BORE and not len(model.mesh.grid.bore)):
            continue
        stress = model.surface(SolidResult(displacement, np.zeros((0, 1))), even, bore=code == BORE)
        series = np.einsum("ko,socf->skcf", inverse, stress.at(samples.station_mm[which]), optimize=True)
        for number in np.unique(maps.index[which]):
            rows = np.flatnonzero(maps.index[which] == number)
            shapes = _series(maps.angle_rad[number, points])
            out[np.ix_(rows, points)] = np.einsum("ok,skcf->socf", shapes, series[rows], optimize=True)
    return out


def _series(angles: Array) -> Array:
    phase = angles[:, None] * np.arange(1, SERIES + 1)
    return np.concatenate([np.ones((len(angles), 1)), np.cos(phase), np.sin(phase)], axis=1)


def with_solid(found: Solved, beam: BeamSolution, *, refinement: float = 1.0, tell: Tell | None = None) -> Solved:
    """`found` with the solid and its stress in its places; `beam` is its solution with all states, further ones too.

    Raises
    ------
    InputError
        A refinement that is not between 1 and `FINEST`, or one whose factors would not fit `LARGEST_GB`.
    BarfemError
        The solid cannot be meshed or solved.
    """
    say = tell or (lambda stage: None)
    bar, samples = found.bar, found.samples
    which = np.flatnonzero(solid_places(bar, samples))
    density = _density(bar, refinement)
    say("solid: mesh and factorisation")
    model = build_solid(bar, density=density)
    say("solid: hole settings")
    unit, held = _unit_displacement(model)
    forces = solid_loads(beam)
    solid = _unit_stress(model, unit, found, which)
    drawn = _as_drawn(beam)
    rates = _initial_rates(model, drawn)
    say("solid: estimating its error")
    coarse = coarser(model)
    other = _unit_stress(coarse, _unit_displacement(coarse)[0], found, which)
    by_surface = [
        float(_peak_errors(solid[:, points], other[:, points], forces[:, :STATES], samples.region[which], order).max())
        for code, order in ((OUTSIDE, TUBE_ORDER if len(model.mesh.grid.bore) else ORDER), (BORE, BORE_ORDER))
        if (points := found.maps.surface == code).any()
    ]

    # The beam's six resultants stay in front: they serve flats, holes and what is kept out.
    old = found.maps
    wide = np.concatenate([old.matrix, np.zeros((*old.matrix.shape[:3], forces.shape[-1]))], axis=-1)
    maps = replace(old, matrix=wide)
    own = np.concatenate(
        [np.zeros((*solid.shape[:3], old.matrix.shape[-1])), solid * contact_factor(samples, which)], axis=-1
    )
    own *= old.exists[old.index[which]][..., None, None]
    maps = with_matrices(maps, which, own)

    def loads(beams: Array, states: slice) -> Array:
        there = np.broadcast_to(forces[:, states, None], (*beams.shape[:3], forces.shape[-1]))
        return np.concatenate([beams, there], axis=-1)

    resultants = loads(found.resultants, slice(0, STATES))
    say("solid: judging")
    recovery = recover(
        samples=samples,
        maps=maps,
        resultants=resultants,
        cycle=CYCLE,
        yield_strength_MPa=bar.steel.yield_strength_MPa,
        severity=rank_by_life(bar),
    )
    record = SolidRecord(
        unknowns=model.mesh.n_unknowns,
        slices=model.mesh.n_slices,
        refinement=refinement,
        estimated_error=by_surface[0],
        estimated_error_bore=by_surface[1] if len(by_surface) > 1 else None,
        estimated_error_rate=float(richardson_error(rates, _initial_rates(coarse, drawn)).max()),
        held_N=float(np.abs(np.einsum("rf,jkf->jkr", held, forces[:, :STATES])).max()) if len(held) else 0.0,
        places_of_solid=len(which),
        places_of_beam=len(samples.station_mm) - len(which),
    )
    preload = beam.initial.rate_N_per_mm - drawn.initial.rate_N_per_mm
    run = SolidRun(model, unit, rates + preload, record)
    return replace(
        found,
        model="solid",
        solid=run,
        maps=maps,
        resultants=resultants,
        recovery=recovery,
        further=None if found.further is None else loads(found.further, slice(STATES, None)),
    )


def _density(bar: Bar, refinement: float) -> Density:
    """The mesh's density, once it is known that its factors fit the memory."""
    if not 1.0 <= refinement <= FINEST:
        raise InputError(
            f"{refinement:g} is no refinement of the solid.", where="--refine", expected=f"1 to {FINEST:g}."
        )

    def gigabytes(times: float) -> float:
        mesh = bar_mesh(bar, density=bar_density(bar.section, times))
        return 8e-9 * (mesh.n_slices + 1) * (3 * mesh.grid.size) ** 2

    if (needed := gigabytes(refinement)) > LARGEST_GB:
        steps = np.arange(1.0, refinement, 0.1)
        fits = [float(times) for times in steps if gigabytes(float(times)) <= LARGEST_GB]
        raise InputError(
            f"the solid refined {refinement:g} times would take {needed:.0f} GB of memory.",
            where="--refine",
            expected=f"at most {max(fits, default=1.0):.2g} for this bar.",
        )
    return bar_density(bar.section, refinement)


def _as_drawn(beam: BeamSolution) -> BeamSolution:
    """The same without what links too long or too short preload: the solid is linear about the drawing.

    How links in tension stiffen as they swing, and how far the preload turns the arms, is no business of a linear
    solid: it is the beam's. It is asked for at rest alone, so in little travel: without preload more may not be there.
    """
    bar = beam.bar
    right, left = (replace(link, length_error_mm=0.0) for link in (bar.right_link, bar.left_link))
    if (right, left) == (bar.right_link, bar.left_link):
        return beam
    return solve_bar(replace(bar, right_link=right, left_link=left, travel=bar.travel.times(1e-2)), beam.settings)


def _initial_rates(model: SolidModel, beam: BeamSolution) -> Array:
    """The solid's own rate at rest of each hole setting of a bar without preload, N/mm."""
    bar, settings = model.bar, beam.settings
    pairs = [(bar.right.holes[one.right], bar.left.holes[one.left]) for one in settings]
    links, moves = -beam.link_direction[:, Instant.REST], beam.pickup_move_mm[:, Instant.TRAVEL]
    signed = np.array([one.load_case.signed for one in settings])
    # Where the bar turns freely with both its ends what the solid has is rounding.
    rates = model.initial_rates(pairs, links, moves, signed=signed)
    return np.where(beam.initial.rate_N_per_mm == 0.0, 0.0, rates)


def _peak_errors(fine: Array, coarse: Array, forces: Array, region: NDArray[np.intp], order: float) -> Array:
    """Estimated relative errors (r, j, k) of the peaks of regions, from unit stress (n, p, 3, f).

    Under forces (j, k, f) of hole settings in their states, for peaks that reach `TELLING` of the setting's greatest;
    zero for the others.
    """
    if not len(region):
        return np.zeros((1, *forces.shape[:2]))
    starts = np.flatnonzero(np.diff(region, prepend=-1))
    rows = forces.reshape(-1, forces.shape[-1])
    fine_peak, coarse_peak = (
        np.maximum.reduceat(np.stack([_von_mises(unit @ force).max(axis=1) for force in rows], axis=1), starts).reshape(
            -1, *forces.shape[:2]
        )
        for unit in (fine, coarse)
    )
    error = richardson_error(fine_peak, coarse_peak, order)
    return np.where(fine_peak >= TELLING * fine_peak.max(axis=(0, 2), keepdims=True), error, 0.0)


def _von_mises(stress: Array) -> Array:
    """Of plane stress (..., 3)."""
    s, h, t = np.moveaxis(stress, -1, 0)
    return np.asarray(np.sqrt(s * s - s * h + h * h + 3.0 * t * t))


def solid_assumptions(bar: Bar, record: SolidRecord) -> tuple[str, ...]:
    """What the solid takes for granted, one sentence each."""
    pressed = any(end.flat is not None and end.flat.kind == "pressed" for end in bar.ends)
    folds = (
        "Solid: a pressed flat's leaves hang together at their folded edges; the beam leaves them apart, so that where"
        " a flat lies across the load the solid's rate is higher by what that adds.",
    )
    bore = record.estimated_error_bore
    surface = "" if bore is None else f" outside, {_percent(bore)} in the bore"
    return (
        f"Solid: quadratic hexahedra swept along the centreline, {record.unknowns} unknowns; linear about rest, driven"
        " by the beam's joint forces at articulation, turned back with the section, their torque about the mount axis"
        " kept. Its peaks are within"
        f" {_percent(record.estimated_error)} of their limit{surface}, its rate within"
        f" {_percent(record.estimated_error_rate)} (estimated from a coarser mesh).",
        "Solid: each joint's force comes in over one diameter of the bar, each mount as a foundation spread over its"
        " bushing's length and section, so that the surface itself is free.",
        f"Solid: flats, transitions, holes, and the bar within {KEPT_OUT_DIAMETERS:g} diameter of the inmost hole of"
        " each end and outboard of it keep the beam's stress: holes are not meshed, and what the spread of a force does"
        " there is no stress of the bar.",
        "Solid: the rate over travel is not given (it is linear); the rate at rest, and by how much the next hole is"
        " stiffer, are the solid's own, what preload changes of them the beam's. Link forces, mount reactions, torque,"
        " angles, roll rate and energy are the beam's. Springs that hold rigid motions the mounts leave free carry up"
        f" to {record.held_N:.2g} N.",
        *(folds if pressed else ()),
    )


def _percent(share: float) -> str:
    """A small share in %, rounded up so that it never flatters."""
    return f"{max(0.1, np.ceil(1000.0 * share - 1e-9) / 10.0):.1f} %"


def solve_solid(
    bar: Bar,
    *,
    cases: Sequence[str],
    mixed: bool = False,
    timing: Timing | None = None,
    one_wheel: bool = False,
    refinement: float = 1.0,
    tell: Tell | None = None,
) -> Solved:
    """As `solve_states`, with the solid's stress; see `with_solid`."""
    clock = timing or NoTiming()
    with clock.stage("solve"):
        settings = all_settings(bar, cases=cases, mixed=mixed)
        moves = further_moves(bar, one_wheel=one_wheel)
        beam, unsolved = solve_what_can_be(settings, lambda some: solve_bar(bar, some, more_moves=moves))
    with clock.stage("stress"):
        found = replace(recover_stress(beam), unsolved=unsolved)
        return with_solid(found, beam, refinement=refinement, tell=tell)


def as_solid(result: CheckResult, solved: Solved) -> CheckResult:
    """The check of the solid's stress with what else is the solid's: initial rates, no rate over travel, its record.

    Raises
    ------
    BarfemError
        The bar was solved as a beam alone.
    """
    if (run := solved.solid) is None:
        raise BarfemError(f"{result.name}: there is no solid to report")
    rates = run.rate_initial_N_per_mm.tolist()
    steps = steps_to_next_percent(rates, [row.case for row in result.settings])
    settings = tuple(
        replace(
            row,
            rate_N_per_mm=None,
            rate_initial_N_per_mm=rate,
            wheel_rate_N_per_mm=None,
            step_to_next_percent=step,
        )
        for row, rate, step in zip(result.settings, rates, steps, strict=True)
    )
    assumptions = solid_assumptions(solved.bar, run.record)
    return replace(
        result, model="solid", settings=settings, solid=run.record, assumptions=(*assumptions, *result.assumptions)
    )
