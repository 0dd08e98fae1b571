"""Displacement, stress, margin and life at every node of the solid, for viewers: by the rules of the check itself.

Stress and displacement are those of one hole setting at full travel. Margin, safety factor and life are of its whole
cycle, as the check's are: local strength and surface, residual stress, bore apart from the outside. Whatever has no
upper end (an unloaded node's margin, a life beyond the knee) is capped, so that a viewer's colours mean something.
"""

from __future__ import annotations

import os

import numpy as np
from numpy.typing import NDArray

from barfem.check.endurance import assess_at
from barfem.check.solid import kept_out, solid_loads
from barfem.check.solved import CYCLE, STATES, Solved
from barfem.check.whole_bar import BODY
from barfem.model.bar import Bar
from barfem.model.bar_geometry import strength_scale
from barfem.model.errors import BarfemError
from barfem.model.frozen import frozen
from barfem.solve.solid.mesh import SweptMesh
from barfem.solve.solid.volume import node_stress, von_mises_tensor
from barfem.strength.cycle import Cycle
from barfem.strength.fatigue.assess import FatigueAssessment
from barfem.strength.fatigue.sn_line import LONGEST_LIFE_CYCLES
from barfem.strength.places import Region

__all__ = ["FACTOR_CAP", "INSIDE_THE_STEEL", "SolidFields", "solid_fields", "write_solid"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]

FACTOR_CAP = 5.0
"""Greatest yield margin and safety factor that is written."""

INSIDE_THE_STEEL = -1
"""`life_status` of a node on no surface: no life is looked for there."""

LEAST_LIFE_CYCLES = 1.0
"""What stands where no life can be stated (above yield, say), or less than one cycle."""

HAIR_MM = 1e-6  # stations as near as this to a tangent belong to both sides


@frozen(eq=False)
class SolidFields:
    """Fields at the nodes of the solid, arrays (n_planes, n) or (n_planes, n, ...).

    Attributes
    ----------
    displacement_mm, stress_MPa, von_mises_MPa
        At full travel, drawing axes; (..., 3), (..., 3, 3) and (...).
    yield_margin
        Least over rest, travel and the cycle's other end of local yield strength / von Mises stress - 1; at most
        `FACTOR_CAP`.
    safety_factor
        On the stress amplitude at the target cycles; at most `FACTOR_CAP`, which also stands inside the steel.
    log10_life_at_survival_cycles, log10_life_median_cycles
        Of full articulation, on outside and bore. Over the longest that is claimed it stands, and so inside the steel;
        0 where no life can be stated.
    life_status
        A `LifeStatus` (0 the median stands, 1 over what is claimed, 5 above yield, ...), or `INSIDE_THE_STEEL`.
    judged
        1 where the check judges by this very stress; 0 inside, on flats and near the joints, where it takes the beam's.
    station_mm
        Along the centreline from the right tip.
    """

    displacement_mm: Array
    stress_MPa: Array
    von_mises_MPa: Array
    yield_margin: Array
    safety_factor: Array
    log10_life_at_survival_cycles: Array
    log10_life_median_cycles: Array
    life_status: NDArray[np.int32]
    judged: NDArray[np.int32]
    station_mm: Array


def solid_fields(solved: Solved, setting: int) -> SolidFields:
    """Fields of hole setting number `setting` of a bar that has its solid.

    Raises
    ------
    BarfemError
        The bar was solved as a beam alone.
    """
    if (run := solved.solid) is None:
        raise BarfemError(f"{solved.bar.name}: there is no solid to show")
    model, samples = run.model, solved.samples
    bar, mesh, steel = model.bar, model.mesh, model.bar.steel
    forces = solid_loads(solved.solution)[setting, :STATES]
    displacement = np.einsum("pncf,kf->kpnc", run.unit_mm, forces)
    smooth = ~model.flat_slices
    stress = np.stack([node_stress(mesh, one, E_MPa=steel.E_MPa, nu=steel.nu, smooth=smooth) for one in displacement])
    von_mises = von_mises_tensor(stress)
    greatest = von_mises.max(axis=0)
    scale = np.broadcast_to(strength_scale(bar, mesh.stations)[:, None], greatest.shape)
    strength = steel.yield_strength_MPa * scale
    margin = strength / np.maximum(greatest, 1e-3 * steel.yield_strength_MPa) - 1.0

    surface = np.concatenate([mesh.grid.outer, mesh.grid.bore]).astype(np.intp)
    found = _assessed(bar, samples.regions, mesh, stress[:, :, surface], greatest[:, surface])
    shape = greatest.shape
    life, median, factor = (np.full(shape, fill) for fill in (LONGEST_LIFE_CYCLES, LONGEST_LIFE_CYCLES, FACTOR_CAP))
    status = np.full(shape, INSIDE_THE_STEEL, np.int32)
    put = (slice(None), surface)
    life[put] = _capped(found.life_at_survival_cycles, found.runout_at_survival)
    median[put] = _capped(found.life_cycles, found.runout)
    factor[put] = np.minimum(np.nan_to_num(found.safety_factor_at_target, nan=FACTOR_CAP), FACTOR_CAP)
    status[put] = found.status
    judged = np.zeros(shape, np.int32)
    judged[put] = ~kept_out(bar, mesh.stations)[:, None]
    return SolidFields(
        displacement_mm=displacement[1],
        stress_MPa=stress[1],
        von_mises_MPa=von_mises[1],
        yield_margin=np.minimum(margin, FACTOR_CAP),
        safety_factor=factor,
        log10_life_at_survival_cycles=np.log10(life),
        log10_life_median_cycles=np.log10(median),
        life_status=status,
        judged=judged,
        station_mm=np.broadcast_to(mesh.stations[:, None], shape),
    )


def _capped(life: Array, runout: NDArray[np.bool_]) -> Array:
    stated = np.where(runout, LONGEST_LIFE_CYCLES, np.nan_to_num(life, nan=LEAST_LIFE_CYCLES))
    return np.clip(stated, LEAST_LIFE_CYCLES, LONGEST_LIFE_CYCLES)


def _assessed(
    bar: Bar, regions: tuple[Region, ...], mesh: SweptMesh, stress: Array, greatest: Array
) -> FatigueAssessment:
    """Lives of the surface nodes (planes, m) from their tensors in every state (k, planes, m, 3, 3); arrays so shaped.

    Concentration at holes and at the edges of mounts and collars, which lies in single sections, is not in it.
    """
    planes, m = greatest.shape
    half, mean = (0.5 * (stress[CYCLE[0]] + sign * stress[CYCLE[1]]) for sign in (-1.0, 1.0))
    amplitude = von_mises_tensor(half)
    # of the two principal stresses that a free surface has, the product: the second invariant
    product = 0.5 * (np.trace(half, axis1=-2, axis2=-1) ** 2 - np.sum(half**2, axis=(-2, -1)))
    region, inward = _places(bar, regions, mesh.stations)
    surface = np.concatenate([mesh.grid.outer, mesh.grid.bore]).astype(np.intp)
    angles = mesh.grid.angles if not len(mesh.grid.bore) else np.tile(mesh.grid.angles, 2)
    from_inside = angles + (mesh.grid_angles - inward)[:, None]
    in_bore = np.arange(m) >= len(mesh.grid.outer)

    def all_nodes(values: NDArray[np.generic]) -> NDArray[np.generic]:
        return np.broadcast_to(values, (planes, m)).ravel()

    cycle = Cycle(
        regions=regions,
        region=all_nodes(region[:, None]),  # type: ignore[arg-type]
        in_bore=all_nodes(in_bore),  # type: ignore[arg-type]
        strength_scale=all_nodes(strength_scale(bar, mesh.stations)[:, None]),  # type: ignore[arg-type]
        from_inside_rad=(np.mod(from_inside + np.pi, 2.0 * np.pi) - np.pi).ravel(),
        radius_mm=np.linalg.norm(mesh.across[:, surface], axis=-1).ravel(),
        torsion_share=np.clip(-3.0 * product / np.maximum(amplitude**2, 1e-12), -3.0, 1.0).ravel(),
        amplitude_MPa=amplitude.ravel(),
        mean_MPa=von_mises_tensor(mean).ravel(),
        max_MPa=greatest.ravel(),
    )
    found = assess_at(bar, cycle)
    return FatigueAssessment(**{name: values.reshape(planes, m) for name, values in vars(found).items()})


def _places(bar: Bar, regions: tuple[Region, ...], stations: Array) -> tuple[Index, Array]:
    """The region that covers each station, at a tangent the bend's, and the angle to the inside of its bend."""
    region, inward = np.zeros(len(stations), np.intp), np.zeros(len(stations))
    order = sorted(
        (number for number, one in enumerate(regions) if one.kind in BODY), key=lambda k: regions[k].kind == "bend"
    )
    for number in order:
        one = regions[number]
        here = (stations >= one.start_mm - HAIR_MM) & (stations <= one.end_mm + HAIR_MM)
        region[here] = number
        if one.kind == "bend":
            inward[here] = bar.centreline.bends[one.index - 1].inward_angle_rad
    return region, inward


def write_solid(path: str | os.PathLike[str], solved: Solved, setting: int) -> None:
    """Write the fields of hole setting number `setting` as VTU, complete or not at all.

    Raises
    ------
    BarfemError
        The file cannot be written.
    """
    from barfem.solve.solid.vtu import write_vtu

    fields = vars(solid_fields(solved, setting))
    if solved.solid is not None:
        write_vtu(path, solved.solid.model.mesh, fields)
