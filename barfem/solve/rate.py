"""Rate at rest and whose share of the tip deflection it is: one linear solution on the tangent of the rest state."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barfem.model.errors import BarfemError
from barfem.model.frozen import frozen
from barfem.model.vectors import cross
from barfem.solve.batch import Batch, State
from barfem.solve.kernel import element_forces, element_tangents, links, strain_increments
from barfem.solve.system import BandedSystem

__all__ = ["SHARES", "InitialRate", "MechanismError", "couple_rate", "initial_rates", "mean_rate"]

Array = NDArray[np.float64]
SHARES = ("torsion", "arm bending", "centre bending", "shear and axial", "mounts", "links")


LEAST_WORK = 1e-6
"""N·mm stored for the first mm of pickup travel: below it the links do not work the bar."""


LEAST_RATE = 1e-6
"""N/mm: below it a rate is rounding of the equilibrium."""


class MechanismError(BarfemError):
    """The links do not work the bar at rest, or nothing holds it: `copy` is the number of the copy."""

    def __init__(self, copy: int) -> None:
        self.copy = copy
        super().__init__(
            "at rest the links do not work the bar, or nothing holds it in place (a mechanism). Right would be: links "
            "across the arms, at least two mounts with radial stiffness, one with axial stiffness"
        )


@frozen
class InitialRate:
    """Per copy (c): the rate at rest and the shares (c, 6) of the tip deflection named in `SHARES`: 1 in all, or none.

    By Clapeyron's theorem the share of the deflection under the load is the share of the strain energy.
    """

    rate_N_per_mm: Array
    shares: Array

    def part(self, span: slice) -> InitialRate:
        return InitialRate(self.rate_N_per_mm[span], self.shares[span])


def mean_rate(change_N: Array, moves_mm: Array, signed: NDArray[np.bool_]) -> Array:
    """Change of the pickup forces (c, 2) over their travels (c, 2), the mean of the sides that move; (c,).

    Each side's magnitude counts, but where `signed` (c): there forces that oppose each other cancel.
    """
    moving = moves_mm != 0.0
    each = np.where(moving, change_N / np.where(moving, moves_mm, 1.0), 0.0)
    rate = np.where(signed[:, None], each, np.abs(each)).sum(axis=1) / moving.sum(axis=1)
    return np.where(np.abs(rate) < LEAST_RATE, 0.0, rate)


def couple_rate(change_N: Array, moves_mm: Array) -> Array:
    """Difference of both sides' forces over that of their travels (c, 2); (c,), NaN where both move alike.

    It is the rate of equal and opposite travels of equal arms, however far each end goes and which of them stays: what
    both forces have in common (bushings that wind up, unequal arms) is no couple.
    """
    apart = moves_mm[:, 1] - moves_mm[:, 0]
    unlike = np.where(apart == 0.0, np.nan, apart)
    return np.asarray(np.abs((change_N[:, 1] - change_N[:, 0]) / unlike))


def initial_rates(
    batch: Batch,
    state: State,
    pickups_mm: Array,
    moves_mm: Array,
    directions: Array,
    *,
    signed: NDArray[np.bool_] | None = None,
    may_rest: NDArray[np.bool_] | None = None,
) -> tuple[InitialRate, Array]:
    """Rates of all copies at `state`, for pickups that move in proportion to `moves_mm` (c, 2) along `directions`.

    And the increments (size, 2) of all unknowns for each mm that the right and the left pickup move, to first order.
    Rates as `mean_rate`. Where `may_rest` (c) a bar that stores nothing is none the worse: its shares are zero.

    Raises
    ------
    MechanismError
        If the bar is a mechanism at rest (a link along its arm, for one).
    """
    none = np.zeros(batch.n_copies, bool)
    signed, may_rest = none if signed is None else signed, none if may_rest is None else may_rest
    unit = moves_mm / np.abs(moves_mm).max(axis=1, keepdims=True)
    forces = element_forces(batch, state)
    link = links(batch, state, pickups_mm)
    system = BandedSystem(batch)
    e, tension = link.direction, state.link_force_N
    along = np.einsum("cki,cki->ck", e, directions)
    across = directions - along[..., None] * e
    swing = (tension / link.length_mm)[..., None] * across
    node = batch.node_dofs[batch.link_node]
    right_side = np.zeros((batch.size, 2), order="F")
    for side in (0, 1):  # of 1 mm of its pickup
        right_side[batch.link_dof[:, side], side] = along[:, side]
        turned = cross(link.arm_mm[:, side], swing[:, side])
        right_side[node[:, side], side] += np.concatenate([swing[:, side], turned], axis=-1)
    response = system.solve(element_tangents(batch, state, forces), link, right_side)
    if response is None:
        for copy in range(batch.n_copies if batch.n_copies > 1 else 0):  # which of them it is
            part = np.array([copy])
            try:
                initial_rates(
                    Batch([batch.copies[copy]]),
                    batch.pick(state, part),
                    pickups_mm[part],
                    moves_mm[part],
                    directions[part],
                    signed=signed[part],
                    may_rest=may_rest[part],
                )
            except MechanismError as error:
                raise MechanismError(copy) from error
        raise MechanismError(0)
    drive = unit[..., None] * directions  # pickup velocity (c, 2, 3)
    rates = np.einsum("uk,uk->u", response, unit[batch.dof_copy])
    d_tension = rates[batch.link_dof]
    d_node = rates[node]
    d_joint = d_node[..., :3] + cross(d_node[..., 3:], link.arm_mm)
    relative = d_joint - drive
    turning = (relative - np.einsum("cki,cki->ck", e, relative)[..., None] * e) / link.length_mm[..., None]
    d_force = -(
        d_tension * np.einsum("cki,cki->ck", e, directions) + tension * np.einsum("cki,cki->ck", turning, directions)
    )
    energies = _energies(batch, state, forces.stretch, rates, d_tension)
    total = energies.sum(axis=1)
    works = total > LEAST_WORK
    if not np.all(works | may_rest):
        raise MechanismError(int(np.argmax(~(works | may_rest))))
    shares = np.where(works[:, None], energies / np.where(works, total, 1.0)[:, None], 0.0)
    return InitialRate(mean_rate(d_force, unit, signed), shares), response


def _energies(batch: Batch, state: State, stretch: Array, rates: Array, d_tension: Array) -> Array:
    """Strain energy (c, 6) of the linear increment `rates`, in the order of `SHARES`."""
    nodal = rates[batch.node_dofs][batch.element_nodes]
    u, phi = nodal[..., :3], nodal[..., 3:]
    d_gamma, d_kappa = (each[..., None] for each in strain_increments(batch, state, stretch, rates))
    pull = 0.5 * np.einsum("eq,eqix,eqij,eqjx->e", batch.weight, d_gamma, batch.force_stiffness, d_gamma)
    moment = (batch.moment_stiffness @ d_kappa) * d_kappa
    twist = 0.5 * np.einsum("eq,eq->e", batch.weight, moment[..., 0, 0])
    bend = 0.5 * batch.weight * moment[..., 1:, 0].sum(axis=-1)  # (e, q)
    nodes = np.concatenate([copy.mesh.node_stations_mm[copy.mesh.element_nodes] for copy in batch.copies])
    stations = nodes @ batch.shape
    spring_stations = np.sum(nodes[batch.spring_element] * batch.spring_shape, axis=1)
    inner, outer = np.empty(batch.n_copies), np.empty(batch.n_copies)
    first = 0
    for i, copy in enumerate(batch.copies):
        mount = copy.mesh.springs.mount
        # Bushings are symmetrical about their middles, and so are their spring points.
        middles = np.bincount(mount, spring_stations[first : first + len(mount)]) / np.bincount(mount)
        inner[i], outer[i] = middles.min(), middles.max()
        first += len(mount)
    owner = batch.element_copy[:, None]
    centre = (stations > inner[owner]) & (stations < outer[owner])
    d_u = np.einsum("si,sij->sj", batch.spring_shape, u[batch.spring_element])
    d_phi = np.einsum("si,sij->sj", batch.spring_shape, phi[batch.spring_element])
    mounts_energy = 0.5 * (
        np.einsum("si,sij,sj->s", d_u, batch.spring_translation, d_u)
        + np.einsum("si,sij,sj->s", d_phi, batch.spring_rotation, d_phi)
    )
    copies = batch.n_copies

    def total(values: Array, owner: NDArray[np.intp]) -> Array:
        return np.asarray(np.bincount(owner, values, minlength=copies), dtype=float)

    return np.stack(
        [
            total(twist, batch.element_copy),
            total(np.where(centre, 0.0, bend).sum(axis=1), batch.element_copy),
            total(np.where(centre, bend, 0.0).sum(axis=1), batch.element_copy),
            total(pull, batch.element_copy),
            total(mounts_energy, batch.spring_copy),
            0.5 * np.sum(d_tension**2 * batch.link_flexibility, axis=1),
        ],
        axis=1,
    )
