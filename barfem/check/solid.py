"""The check's stress from the swept solid, driven by the beam's joint forces at articulation.

The solid is linear, so its stress at a point is a sum over the forces at the holes' joints: those forces stand as
further loads beside the six resultants, and each solid place has a map of them. Everything after that, yield, cycles,
life, duty, is the same path as the beam's.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import cast

import numpy as np
from numpy.typing import NDArray

from barfem.check.endurance import rank_by_life
from barfem.check.moves import further_moves
from barfem.check.result import CheckResult
from barfem.check.solid_record import SolidRecord
from barfem.check.solved import CYCLE, STATES, NoTiming, Solved, recover_stress
from barfem.check.timing import Timing
from barfem.model.bar import Bar, Hole
from barfem.model.errors import InputError
from barfem.solve.beam import BeamSolution, Case, all_settings, solve_bar
from barfem.solve.solid.error import COARSER, ORDER
from barfem.solve.solid.mesh import STANDARD
from barfem.solve.solid.model import JointLoad, SolidModel, build_solid
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
    "solid_assumptions",
    "solid_places",
    "solve_solid",
    "with_solid",
    "write_solid",
]

Array = NDArray[np.float64]
Tell = Callable[[str], None]

KEPT_OUT_DIAMETERS = 1.0
"""From the inmost hole of an end to so many diameters inboard, and outboard of it, the beam's stress stands."""

FINEST = 3.0

SERIES = 15  # harmonics of stress round a section: those of the displacement, and what the curvature makes of them


@dataclass(frozen=True, eq=False)
class SolidRun:
    """The factored solid, its displacement (n_planes, n, 3, 3 holes) under unit joint forces, and its initial rates."""

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


def solid_places(bar: Bar, samples: Samples) -> NDArray[np.bool_]:
    """Samples (n,) whose stress is the solid's: round body, away from holes; the beam's stands in all others."""
    s, d = samples.station_mm, bar.section.diameter_mm
    free = np.array([region.kind in KINDS for region in samples.regions])[samples.region]
    for end, from_tip in ((bar.right, s), (bar.left, bar.centreline.length_mm - s)):
        if end.flat is not None:
            free &= from_tip >= end.flat.length_mm
        free &= from_tip > max(hole.from_tip_mm for hole in end.holes) + KEPT_OUT_DIAMETERS * d
    return free


def _unit_displacement(model: SolidModel) -> tuple[Array, Array]:
    """Displacements under a unit force in x, y, z at each hole's joint in turn, and the forces held."""
    holes = _holes(model.bar)
    loads = []
    for number, hole in enumerate(holes):
        force = np.zeros((3 * len(holes), 3))
        force[3 * number : 3 * number + 3] = np.eye(3)
        loads.append(JointLoad(hole, force))
    result = model.solve(loads)
    return result.displacement_mm, result.held_N


def _unit_stress(model: SolidModel, displacement: Array, found: Solved, which: NDArray[np.intp]) -> Array:
    """Stress (n, p, 3, 3 h) at the points of the samples `which` under unit joint forces."""
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


def with_solid(
    found: Solved, beam: BeamSolution, *, refinement: float = 1.0, tell: Tell | None = None
) -> tuple[Solved, SolidRun]:
    """`found` with the solid's stress in its places; `beam` is its solution with the states beyond the first three.

    Raises
    ------
    InputError
        A refinement that is not between a half and `FINEST`.
    BarfemError
        The solid cannot be meshed or solved.
    """
    if not 0.5 <= refinement <= FINEST:
        raise InputError(
            f"{refinement:g} is no refinement of the solid.", where="--refine", expected=f"0.5 to {FINEST:g}."
        )
    say = tell or (lambda stage: None)
    bar, samples = found.bar, found.samples
    which = np.flatnonzero(solid_places(bar, samples))
    say("solid: mesh and factorisation")
    density = replace(STANDARD, refinement=refinement)
    ovality = bar.section.ovality_percent / 100.0
    model = build_solid(bar, density=density, ovality=ovality)
    say("solid: hole settings")
    unit, held = _unit_displacement(model)
    forces = joint_forces(beam)
    solid = _unit_stress(model, unit, found, which)
    say("solid: estimating its error")
    coarse = build_solid(bar, density=replace(density, refinement=refinement / COARSER), ovality=ovality)
    other = _unit_stress(coarse, _unit_displacement(coarse)[0], found, which)
    full = forces[:, :STATES].reshape(-1, forces.shape[-1])
    greatest = [_greatest(part, full) for part in (solid, other)]
    error = np.abs(greatest[0] - greatest[1]) / (COARSER**ORDER - 1.0) / max(float(greatest[0].max()), 1e-9)

    # The beam's six resultants stay in front: they serve flats, holes and what is kept out.
    old = found.maps
    wide = np.concatenate([old.matrix, np.zeros((*old.matrix.shape[:3], forces.shape[-1]))], axis=-1)
    maps = replace(old, matrix=wide)
    own = np.concatenate([np.zeros((*solid.shape[:3], 6)), solid * contact_factor(samples, which)], axis=-1)
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
        estimated_error=float(error.max()),
        held_N=float(np.abs(np.einsum("rf,jkf->jkr", held, forces[:, :STATES])).max()) if len(held) else 0.0,
        places_of_solid=len(which),
        places_of_beam=len(samples.station_mm) - len(which),
    )
    settings = beam.settings
    pairs = [(bar.right.holes[one.right], bar.left.holes[one.left]) for one in settings]
    rates = model.initial_rates(pairs, -beam.link_direction[:, 0])
    own_rate = rates[np.arange(len(settings)), [0 if one.case == "roll" else 1 for one in settings]]
    solved = replace(
        found,
        model="solid",
        maps=maps,
        resultants=resultants,
        recovery=recovery,
        further=None if found.further is None else loads(found.further, slice(STATES, None)),
    )
    return solved, SolidRun(model, unit, own_rate, record)


def _greatest(unit: Array, forces: Array) -> Array:
    """Greatest von Mises stress (m,) over the solid's places of unit stress (n, p, 3, f) under forces (m, f)."""
    out = []
    for force in forces:
        s, h, t = np.moveaxis(unit @ force, -1, 0)
        out.append(float(np.sqrt((s * s - s * h + h * h + 3.0 * t * t).max())))
    return np.array(out)


def solid_assumptions(record: SolidRecord) -> tuple[str, ...]:
    """What the solid takes for granted, one sentence each."""
    out = [
        f"Solid: quadratic hexahedra swept along the centreline, {record.unknowns} unknowns; linear about rest, driven"
        " by the beam's joint forces at articulation, turned back with the section. Its greatest stress is within"
        f" {100.0 * record.estimated_error:.1f} % of its limit (estimated from a coarser mesh).",
        "Solid: each joint's force comes in over one diameter of the bar, each mount as a foundation spread over its"
        " bushing's length and section, so that the surface itself is free.",
        f"Solid: flats, transitions, holes, and the bar within {KEPT_OUT_DIAMETERS:g} diameter of the inmost hole of"
        " each end and outboard of it keep the beam's stress: holes are not meshed, and what the spread of a force does"
        " there is no stress of the bar.",
        "Solid: the rate over travel is not given (it is linear); the rate at rest is the solid's own, the link forces"
        f" are the beam's. Springs that hold rigid motions the mounts leave free carry up to {record.held_N:.2g} N.",
    ]
    return tuple(out)


def write_solid(path: str | os.PathLike[str], run: SolidRun, solution: BeamSolution, setting: int) -> None:
    """Write hole setting number `setting` at full travel as VTU: displacement, stress, von Mises, yield margin.

    Raises
    ------
    BarfemError
        The file cannot be written.
    """
    from barfem.solve.solid.volume import nodal_stress, von_mises_tensor, with_surface_stress
    from barfem.solve.solid.vtu import write_vtu

    model, steel = run.model, run.model.bar.steel
    displacement = run.unit_mm @ joint_forces(solution)[setting, 1]
    smooth = ~model.flat_slices
    stress = with_surface_stress(
        model.mesh,
        nodal_stress(model.mesh, displacement, E_MPa=steel.E_MPa, nu=steel.nu),
        displacement,
        E_MPa=steel.E_MPa,
        nu=steel.nu,
        smooth=smooth,
    )
    margin = steel.yield_strength_MPa / np.maximum(von_mises_tensor(stress), 1e-3) - 1.0
    write_vtu(
        path,
        model.mesh,
        displacement,
        E_MPa=steel.E_MPa,
        nu=steel.nu,
        smooth=smooth,
        point_data={"yield_margin": margin},
    )


def solve_solid(
    bar: Bar,
    *,
    cases: Sequence[str],
    mixed: bool = False,
    timing: Timing | None = None,
    one_wheel: bool = False,
    refinement: float = 1.0,
    tell: Tell | None = None,
) -> tuple[Solved, SolidRun]:
    """As `solve_states`, with the solid's stress; see `with_solid`."""
    clock = timing or NoTiming()
    with clock.stage("solve"):
        settings = all_settings(bar, cases=cast("Sequence[Case]", tuple(cases)), mixed=mixed)
        beam = solve_bar(bar, settings, more_moves=further_moves(bar, one_wheel=one_wheel))
    with clock.stage("stress"):
        return with_solid(recover_stress(beam), beam, refinement=refinement, tell=tell)


def as_solid(result: CheckResult, run: SolidRun) -> CheckResult:
    """The check of the solid's stress with what else is the solid's: initial rates, no rate over travel, its record."""
    settings = tuple(
        replace(
            row,
            rate_N_per_mm=None,
            rate_initial_N_per_mm=float(rate),
            wheel_rate_N_per_mm=None,
            step_to_next_percent=None,
        )
        for row, rate in zip(result.settings, run.rate_initial_N_per_mm, strict=True)
    )
    said = solid_assumptions(run.record)
    return replace(result, model="solid", settings=settings, solid=run.record, assumptions=(*said, *result.assumptions))
