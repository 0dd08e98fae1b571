"""What is read of balanced states: displacement, turn, forces and energy, as arrays by their names ("fields")."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.vectors import cross
from barfem.solve.batch import Batch, State
from barfem.solve.kernel import Forces, element_forces, links, strain_energy
from barfem.solve.mesh import BeamMesh
from barfem.solve.rate import LEAST_WORK

__all__ = ["lay_to_rest", "mount_totals", "of_bar", "read_state"]

Array = NDArray[np.float64]


def lay_to_rest(fields: dict[str, Array], may_rest: NDArray[np.bool_]) -> None:
    """Where a load case may leave the bar unloaded and does, what is left in forces and energy is rounding: zero."""
    idle = may_rest & (fields["energy"] < LEAST_WORK).all(axis=1)
    for key in ("nodal", "spring_force", "spring_moment", "link_force", "energy"):
        fields[key][idle] = 0.0


def read_state(batch: Batch, state: State, pickups: Array) -> dict[str, Array]:
    """The fields of every copy of a balanced batch, one after another."""
    forces = element_forces(batch, state)
    link = links(batch, state, pickups)
    return {
        "displacement": state.displacement_mm,
        "turned": state.turned,
        "nodal": _within_elements(batch, forces),
        "spring_force": forces.spring_force,
        "spring_moment": forces.spring_moment,
        "link_force": state.link_force_N,
        "link_direction": link.direction,
        "joint": pickups + link.length_mm[..., None] * link.direction,
        "energy": strain_energy(batch, state, forces),
    }


def _within_elements(batch: Batch, forces: Forces) -> Array:
    """Nodal forces (E, 3, 6) of beam and spread bushings; a point mount acts between elements, as a link does."""
    nodal = forces.nodal.copy()
    point = batch.spring_shape.max(axis=1) > 0.99
    wrench = np.concatenate([forces.spring_force, forces.spring_moment], axis=-1)[point]
    shape = batch.spring_shape[point]
    np.subtract.at(nodal, batch.spring_element[point], shape[:, :, None] * wrench[:, None, :])
    return nodal


def of_bar(read: dict[str, Array], batch: Batch, span: slice, mesh: BeamMesh) -> dict[str, Array]:
    """The copies `span` of one bar, each array with the copy as its first axis."""
    count = span.stop - span.start
    spring0 = int(batch.springs_of[: span.start].sum())
    starts = {
        "displacement": (int(batch.node_start[span.start]), mesh.n_nodes),
        "turned": (int(batch.node_start[span.start]), mesh.n_nodes),
        "nodal": (int(batch.element_start[span.start]), mesh.n_elements),
        "spring_force": (spring0, len(mesh.springs.mount)),
        "spring_moment": (spring0, len(mesh.springs.mount)),
    }
    out = {}
    for key, values in read.items():
        if key in starts:
            start, each = starts[key]
            out[key] = values[start : start + count * each].reshape(count, each, *values.shape[1:])
        else:
            out[key] = values[span]
    return out


def mount_totals(mesh: BeamMesh, bar: Bar, fields: dict[str, Array]) -> tuple[Array, Array]:
    """Force and moment (j, k, mount, 3) of the bar on each mount, the moment about the mount's middle at rest."""
    springs = mesh.springs
    middles, _ = bar.centreline.evaluate([mount.station_mm for mount in bar.mounts])
    force, moment = fields["spring_force"], fields["spring_moment"]
    arm = springs.point_mm - middles[springs.mount]
    nodes = mesh.element_nodes[springs.element]
    moved = np.einsum("si,jksia->jksa", springs.shape, fields["displacement"][:, :, nodes])
    moment = moment + cross(arm + moved, force)
    member = (springs.mount[:, None] == np.arange(len(bar.mounts))).astype(float)
    return np.einsum("jksa,sm->jkma", force, member), np.einsum("jksa,sm->jkma", moment, member)
