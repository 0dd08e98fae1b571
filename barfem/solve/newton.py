"""Newton's method on a batch, with load steps that each copy takes at its own pace.

Pickups move along straight lines from where they stand to their targets. A copy that does not converge goes back to
its last balanced state and halves its step; a finished copy leaves the batch.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from barfem.model.errors import BarfemError
from barfem.solve.batch import Batch, State
from barfem.solve.kernel import (
    Forces,
    Stress,
    advance,
    element_forces,
    element_tangents,
    foreseen_stress,
    links,
)
from barfem.solve.system import BandedSystem

__all__ = ["ConvergenceError", "Norms", "ramp"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]
Flags = NDArray[np.bool_]

TOLERANCE = 1e-9
MOST_ITERATIONS = 14
SMALLEST_STEP = 1.0 / 64.0
LARGEST_TURN_RAD = 1.0


class ConvergenceError(BarfemError):
    """No balanced state was found of some copies: `reached` has by their numbers the fraction of the way."""

    def __init__(self, reached: Mapping[int, float], reason: str) -> None:
        self.reached, self.reason = reached, reason
        super().__init__(f"no equilibrium found beyond {100 * min(reached.values()):.0f} % of the travel: {reason}")


@dataclass
class Norms:
    """How well each copy (C,) is balanced: relative force, moment and link length errors, iterations, load steps."""

    force: Array
    moment: Array
    misfit: Array
    iterations: NDArray[np.intp]
    steps: NDArray[np.intp]


def _norms(batch: Batch, state: State, residual: Array, forces: Forces) -> tuple[Array, Array, Array]:
    """Relative out-of-balance force, moment and link misfit of each copy (C,)."""
    nodal = residual[batch.node_dofs]
    scale = batch.by_copy(np.abs(forces.force).max(axis=(1, 2)), batch.element_copy)
    # Strains are differences of numbers near 1, and of displacements over an element's length: forces below 1e-15 EA
    # are rounding, and in a very short element forces well above.
    moved = np.zeros(batch.n_copies)
    np.maximum.at(moved, batch.node_copy, np.abs(state.displacement_mm).max(axis=1))
    digits = 2e-15 + 2e-15 * moved[batch.element_copy] * np.abs(batch.slope).max(axis=(1, 2))
    rounding = batch.by_copy(digits * batch.force_stiffness.max(axis=(1, 2, 3)), batch.element_copy)
    scale = np.maximum(scale, rounding / TOLERANCE)
    force = batch.by_copy(np.abs(nodal[:, :3]).max(axis=1), batch.node_copy) / scale
    moment = batch.by_copy(np.abs(nodal[:, 3:]).max(axis=1), batch.node_copy) / (scale * 100.0)
    misfit = np.abs(residual[batch.link_dof]).max(axis=1) / batch.link_length.min(axis=1)
    return force, moment, misfit


def _newton(
    batch: Batch, state: State, pickups: Array, stress: Stress | None, *, plain: bool = False
) -> tuple[State, Flags, tuple[Array, Array, Array], int]:
    """Iterate all copies of a (small) batch; returns state, converged (C,), norms and iterations used.

    `stress` is that foreseen by the increment that led to the state, if one did; `plain` iterations foresee none.
    """
    system = BandedSystem(batch)
    converged = np.zeros(batch.n_copies, dtype=bool)
    unknown = np.full(batch.n_copies, np.inf)
    norms = (unknown, unknown, unknown)
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        for iteration in range(MOST_ITERATIONS):
            forces = element_forces(batch, state)
            link = links(batch, state, pickups)
            residual = system.residual(forces, link)
            norms = _norms(batch, state, residual, forces)
            worst = np.maximum.reduce(norms)
            if not np.all(np.isfinite(worst)):
                return state, np.zeros(batch.n_copies, dtype=bool), norms, iteration
            converged = worst < TOLERANCE
            if np.all(converged):
                # Balanced but unstable is where no real bar stays: beyond a point where it snaps over.
                return state, converged & system.upright, norms, iteration
            step = system.solve(element_tangents(batch, state, forces, stress), link, -residual)
            if step is None:
                return state, np.zeros(batch.n_copies, dtype=bool), norms, iteration
            if _too_far(batch, step).any():
                # One copy's runaway step must not spoil the others: they are retried apart by the caller.
                return state, np.zeros(batch.n_copies, dtype=bool), norms, iteration
            # A balanced copy stays as it is, whatever company it is in: its numbers are those it has alone.
            step[converged[batch.dof_copy]] = 0.0
            stress = None if plain else foreseen_stress(batch, state, step, forces)
            state = advance(batch, state, step)
    return state, converged & system.upright, norms, MOST_ITERATIONS


def _too_far(batch: Batch, step: Array) -> Flags:
    """Which copies (C,) an increment would turn further than is believed of one."""
    turn = batch.by_copy(np.abs(step[batch.node_dofs[:, 3:]]).max(axis=1), batch.node_copy)
    return np.asarray(turn > LARGEST_TURN_RAD)


def _advanced(batch: Batch, state: State, step: Array) -> tuple[State, Stress]:
    """After the increment `step`, with the stress foreseen; of copies that it would turn too far, as they were."""
    step = np.where(_too_far(batch, step)[batch.dof_copy], 0.0, step)
    return advance(batch, state, step), foreseen_stress(batch, state, step)


def ramp(
    batch: Batch,
    state: State,
    *,
    start_mm: Array,
    target_mm: Array,
    first_step: float = 1.0,
    every: bool = False,
    foreseen: Array | None = None,
) -> tuple[State, Norms]:
    """Move the pickups (C, 2, 3) of every copy from `start_mm`, where `state` is balanced, to `target_mm`.

    `state` is moved along with them, and returned. `foreseen` (size,) is the increment of all unknowns for the whole
    way, to first order, if it is known: the first iteration's work is done then.

    Raises
    ------
    ConvergenceError
        If a copy finds no equilibrium with the smallest load step: at once, or with `every` such copy when the others
        have arrived.
    """
    count = batch.n_copies
    reached = np.zeros(count)
    # A pickup that moves past its joint in one go turns the link over: half a link length a step at most.
    way = np.linalg.norm(target_mm - start_mm, axis=-1)
    size = np.minimum(first_step, 0.5 * np.min(batch.link_length / np.maximum(way, 1e-12), axis=1))
    none, zero = np.zeros(count), np.zeros(count, np.intp)
    norms = Norms(none.copy(), none.copy(), none.copy(), zero.copy(), zero.copy())
    done, lost, plain = (np.zeros(count, dtype=bool) for _ in range(3))
    direction = links(batch, state, start_mm).direction
    together = True
    while not np.all(done):
        waiting = np.flatnonzero(~done)
        groups = [waiting] if together else [np.array([i]) for i in waiting]
        together = True
        for group in groups:
            goal = np.minimum(1.0, reached[group] + size[group])
            goal[1.0 - goal < 1e-12] = 1.0
            pickups = start_mm[group] + goal[:, None, None] * (target_mm[group] - start_mm[group])
            part = Batch([batch.copies[i] for i in group]) if len(group) < count else batch
            start = batch.pick(state, group) if len(group) < count else state
            stress = None
            if foreseen is not None:  # at the first step, which all take together
                start, stress = _advanced(part, start, foreseen * goal[part.dof_copy])
                foreseen = None
            end, converged, found, used = _newton(part, start, pickups, stress, plain=bool(plain[group].any()))
            norms.iterations[group] += used
            # No joint lets a link turn over: one that has stands on its head, mostly snapped to another balance.
            turned = links(part, end, pickups).direction
            converged &= np.einsum("cki,cki->ck", turned, direction[group]).min(axis=1) > 0.0
            good = np.flatnonzero(converged)
            if len(good):
                batch.put(state, group[good], part.pick(end, good))
                reached[group[good]] = goal[good]
                for kept, new in zip((norms.force, norms.moment, norms.misfit), found, strict=True):
                    kept[group[good]] = new[good]
                norms.steps[group[good]] += 1
                done[group[good]] = goal[good] >= 1.0
            bad = group[~converged]
            if len(bad) and len(group) > 1 and not len(good):
                together = False  # find out which of them cannot follow
                continue
            size[bad] *= 0.5
            stuck = bad[size[bad] < SMALLEST_STEP]
            lost[stuck] = plain[stuck]
            # Where links come to stand along the arms forces rise from nothing, which no foreseen stress leads to.
            size[stuck], plain[stuck] = SMALLEST_STEP, True
            done |= lost
            if lost.any() and (not every or done.all()):
                reason = "the link cannot reach its pickup there, or link or bar snaps over"
                raise ConvergenceError({int(i): float(reached[i]) for i in np.flatnonzero(lost)}, reason)
    return state, norms
