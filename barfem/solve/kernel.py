"""Residual and tangent of the geometrically exact beam (Reissner, Simo), all elements of a batch at once.

Strains at a quadrature point, in the section frame R = [t a b]: Gamma = R^T x' - e_t, and the change of curvature.
n = R N, m = R M are force and moment in drawing axes. Virtual work n . (du' + x' x dphi) + m . dphi', with dphi the
spatial turn. Sources: Reissner, ZAMP 23 (1972) 795; Simo, Comput. Methods Appl. Mech. Eng. 49 (1985) 55; Simo and
Vu-Quoc, ibid. 58 (1986) 79.

The tangent's geometric part is that of the stress foreseen to first order by the increment that led here (`Stress`),
not of the stress here: after a finite turn a straight element is stretched for a while, and its axial force, many times
what balances, would spoil the next increment. Where all is balanced both are one. A half fewer iterations; the balance
is the same. Source: Magisano, Leonetti, Garcea, Comput. Methods Appl. Mech. Eng. 313 (2017) 986 (mixed integration
points).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barfem.model.frozen import frozen
from barfem.model.vectors import cross
from barfem.solve.batch import Batch, State
from barfem.solve.rotations import exponential_and_tangent, skew
from barfem.solve.supports import rotational_springs

__all__ = [
    "Forces",
    "Links",
    "Stress",
    "advance",
    "element_forces",
    "element_tangents",
    "foreseen_stress",
    "links",
    "strain_energy",
    "strain_increments",
]

Array = NDArray[np.float64]


@frozen
class Forces:
    """Section force and moment at the quadrature points, and what they put on the elements' nodes."""

    stretch: Array  # (E, q, 3) x' in drawing axes
    strain: Array  # (E, q, 3) Gamma in the section frame
    force: Array  # (E, q, 3) n in drawing axes, N
    moment: Array  # (E, q, 3) m in drawing axes, N·mm
    nodal: Array  # (E, 3, 6) of the beam and the mounts' springs
    beam_nodal: Array  # (E, 3, 6) of the beam alone
    spring_force: Array  # (S, 3) on the mount, N
    spring_moment: Array  # (S, 3) on the mount, N·mm
    spring_moment_tangent: Array | None  # (S, 3, 3)
    spring_energy: Array  # (S,) N·mm


def _mul(matrix: Array, vector: Array) -> Array:
    return np.asarray(np.einsum("...ij,...j->...i", matrix, vector))


def _strains(batch: Batch, state: State, u: Array) -> tuple[Array, Array]:
    """Stretch and strain of `Forces`, from the displacement (E, 3, 3) of the elements' nodes."""
    stretch = batch.rest_frames[..., 0] + batch.slope @ u
    strain = _mul(np.swapaxes(state.frames, -1, -2), stretch)
    strain[..., 0] -= 1.0
    return stretch, strain


def element_forces(batch: Batch, state: State) -> Forces:
    """Section forces of the state, and the nodal forces that balance them."""
    u = state.displacement_mm[batch.element_nodes]
    stretch, strain = _strains(batch, state, u)
    force = _mul(state.frames, _mul(batch.force_stiffness, strain))
    moment = _mul(state.frames, _mul(batch.moment_stiffness, state.curvature))
    weighted_slope = np.swapaxes(batch.slope * batch.weight[..., None], 1, 2)
    weighted_shape = batch.shape * batch.weight[:, None, :]
    nodal = np.empty((len(u), 3, 6))
    nodal[..., :3] = weighted_slope @ force
    nodal[..., 3:] = weighted_slope @ moment + weighted_shape @ cross(force, stretch)
    beam_nodal = nodal.copy()

    at = batch.spring_element
    moved = np.einsum("si,sij->sj", batch.spring_shape, u[at])
    spring_force = _mul(batch.spring_translation, moved)
    energy = 0.5 * np.einsum("si,si->s", spring_force, moved)
    spring_moment, tangent = np.zeros_like(spring_force), None
    if batch.has_rotational_springs:
        turning, spring_moment, tangent = rotational_springs(batch.spring_rotation, state.spring_turned)
        energy = energy + turning
    wrench = np.concatenate([spring_force, spring_moment], axis=-1)
    np.add.at(nodal, at, batch.spring_shape[:, :, None] * wrench[:, None, :])
    return Forces(stretch, strain, force, moment, nodal, beam_nodal, spring_force, spring_moment, tangent, energy)


Stress = tuple[Array, Array]
"""Section force and moment (E, q, 3) in the section frame, N and N·mm."""


def strain_increments(batch: Batch, state: State, stretch: Array, step: Array) -> tuple[Array, Array]:
    """What the increment `step` (size,) adds to Gamma and to the change of curvature (E, q, 3), to first order."""
    nodal = step[batch.node_dofs][batch.element_nodes]
    u, phi = nodal[..., :3], nodal[..., 3:]
    back = np.swapaxes(state.frames, -1, -2)
    return _mul(back, batch.slope @ u + cross(stretch, batch.shape.T @ phi)), _mul(back, batch.slope @ phi)


def foreseen_stress(batch: Batch, state: State, step: Array, forces: Forces | None = None) -> Stress:
    """After the increment `step` from this state, whose forces are `forces`, if they are known."""
    if forces is None:
        stretch, strain = _strains(batch, state, state.displacement_mm[batch.element_nodes])
    else:
        stretch, strain = forces.stretch, forces.strain
    more, bent = strain_increments(batch, state, stretch, step)
    return _mul(batch.force_stiffness, strain + more), _mul(batch.moment_stiffness, state.curvature + bent)


def element_tangents(batch: Batch, state: State, forces: Forces, stress: Stress | None = None) -> Array:
    """Tangent stiffness (E, 18, 18) of beam and mounts, node by node u then phi; `stress` is what was foreseen."""
    force, moment = (forces.force, forces.moment) if stress is None else (_mul(state.frames, each) for each in stress)
    frames, frames_t = state.frames, np.swapaxes(state.frames, -1, -2)
    c_n = frames @ batch.force_stiffness @ frames_t
    c_m = frames @ batch.moment_stiffness @ frames_t
    x_hat, n_hat, m_hat = skew(forces.stretch), skew(force), skew(moment)
    coupling = c_n @ x_hat - n_hat
    # x_hat^T C x_hat + x_hat n_hat, with x_hat^T = -x_hat.
    turning = -x_hat @ coupling
    count, q = coupling.shape[:2]
    flat = (count, q, 9)
    tangent = np.empty((count, 3, 2, 3, 3, 2, 3))  # node i, (u|phi), component, node j, (u|phi), component

    def block(weights: Array, matrix: Array) -> Array:
        return (weights @ matrix).reshape(count, 3, 3, 3, 3).transpose(0, 1, 3, 2, 4)

    tangent[:, :, 0, :, :, 0, :] = block(batch.ss, c_n.reshape(flat))
    across = block(batch.sn, coupling.reshape(flat))
    tangent[:, :, 0, :, :, 1, :] = across
    tangent[:, :, 1, :, :, 0, :] = across.transpose(0, 3, 4, 1, 2)
    stacked = np.concatenate([c_m.reshape(flat), -m_hat.reshape(flat), turning.reshape(flat)], axis=1)
    tangent[:, :, 1, :, :, 1, :] = block(batch.rotation_weights, stacked)

    held, first = batch.held_elements
    tangent[held, :, 0, :, :, 0, :] += np.add.reduceat(_at_nodes(batch, batch.spring_translation), first)
    if forces.spring_moment_tangent is not None:
        tangent[held, :, 1, :, :, 1, :] += np.add.reduceat(_at_nodes(batch, forces.spring_moment_tangent), first)
    return tangent.reshape(count, 18, 18)


def _at_nodes(batch: Batch, stiffness: Array) -> Array:
    """Of spring points (S, 3, 3), what they add between their elements' nodes: (S, 3, 3, 3, 3) in `spring_order`."""
    shape, stiffness = batch.spring_shape[batch.spring_order], stiffness[batch.spring_order]
    return shape[:, :, None, None, None] * shape[:, None, None, :, None] * stiffness[:, None, :, None, :]


@frozen
class Links:
    """Links as two-force members between joint and pickup, right then left: arrays (C, 2, ...)."""

    arm_mm: Array  # (C, 2, 3) from the hole to the joint centre, turned with the section
    direction: Array  # (C, 2, 3) unit, pickup to joint
    length_mm: Array  # (C, 2) distance pickup to joint
    misfit_mm: Array  # (C, 2) distance - unstrained length - force x flexibility
    nodal: Array  # (C, 2, 6) of the link's pull on its node
    tangent: Array  # (C, 2, 6, 6)
    gradient: Array  # (C, 2, 6) of the distance by the node's u and phi


def links(batch: Batch, state: State, pickups_mm: Array) -> Links:
    """The links of the state with the pickups (C, 2, 3)."""
    node = batch.link_node
    arm = _mul(state.turned[node], batch.offset)
    joint = batch.node_points[node] + state.displacement_mm[node] + arm
    span = joint - pickups_mm
    length = np.sqrt(np.einsum("...i,...i->...", span, span))
    e = span / np.maximum(length, 1e-30)[..., None]
    tension = state.link_force_N
    gradient = np.concatenate([e, cross(arm, e)], axis=-1)
    motion = np.concatenate([np.broadcast_to(np.eye(3), (*arm.shape[:-1], 3, 3)), -skew(arm)], axis=-1)
    across = (np.eye(3) - e[..., :, None] * e[..., None, :]) / np.maximum(length, 1e-30)[..., None, None]
    tangent = np.swapaxes(motion, -1, -2) @ across @ motion
    tangent[..., 3:, 3:] += skew(e) @ skew(arm)
    return Links(
        arm_mm=arm,
        direction=e,
        length_mm=length,
        misfit_mm=length - batch.link_length - tension * batch.link_flexibility,
        nodal=tension[..., None] * gradient,
        tangent=tension[..., None, None] * tangent,
        gradient=gradient,
    )


def advance(batch: Batch, state: State, step: Array) -> State:
    """The state after the increment `step` (size,) of all unknowns: displacements add, turns multiply."""
    nodal = step[batch.node_dofs]
    phi = nodal[:, 3:][batch.element_nodes]
    points, count = state.frames.shape[:2], len(nodal)
    at_points = (batch.shape.T @ phi).reshape(-1, 3)
    at_springs = np.einsum("si,sij->sj", batch.spring_shape, phi[batch.spring_element])
    # All at once: to call for each is most of what few turns cost.
    turns, spreads = exponential_and_tangent(np.concatenate([nodal[:, 3:], at_springs, at_points]))
    turn, spread = (each[-len(at_points) :].reshape(*points, 3, 3) for each in (turns, spreads))
    frames = turn @ state.frames
    gain = _mul(np.swapaxes(frames, -1, -2), _mul(spread, batch.slope @ phi))
    return State(
        displacement_mm=state.displacement_mm + nodal[:, :3],
        turned=turns[:count] @ state.turned,
        frames=frames,
        curvature=state.curvature + gain,
        spring_turned=turns[count : -len(at_points)] @ state.spring_turned,
        link_force_N=state.link_force_N + step[batch.link_dof],
    )


def strain_energy(batch: Batch, state: State, forces: Forces) -> Array:
    """Strain energy (C,) of beam, mounts and elastic links, N·mm."""
    strain = np.einsum("eq,eqi,eqij,eqj->e", batch.weight, forces.strain, batch.force_stiffness, forces.strain)
    bend = np.einsum("eq,eqi,eqij,eqj->e", batch.weight, state.curvature, batch.moment_stiffness, state.curvature)
    energy = 0.5 * np.bincount(batch.element_copy, strain + bend, minlength=batch.n_copies)
    energy += np.bincount(batch.spring_copy, forces.spring_energy, minlength=batch.n_copies)
    return energy + 0.5 * np.einsum("ck,ck->c", state.link_force_N**2, batch.link_flexibility)
