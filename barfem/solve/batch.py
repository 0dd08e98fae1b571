"""Many copies of many bars as one set of arrays: the system that one banded factorisation solves.

A copy is one hole setting in one state: its mesh, its two links, where its pickups stand. Copies are independent;
laid one after another, all their elements are assembled at once and the whole is one banded matrix.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from barfem.model.distinct import distinct
from barfem.model.frozen import frozen
from barfem.solve.mesh import BeamMesh

__all__ = ["Batch", "Copy", "State", "initial_state", "ranges"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]


@frozen
class Copy:
    """One hole setting of one bar: which hole is linked on each side (right, left), and the links there.

    `offset_mm` (2, 3) runs from hole to joint, `length_mm` (2,) is the link's unstrained length including its error,
    `flexibility_mm_per_N` (2,) is zero for a rigid link, `pickup_mm` (2, 3) is the pickup at rest.
    """

    mesh: BeamMesh
    holes: tuple[int, int]
    offset_mm: Array
    length_mm: Array
    flexibility_mm_per_N: Array
    pickup_mm: Array


@dataclass
class State:
    """Configuration of every copy, as flat arrays over all copies' nodes, elements and spring points."""

    displacement_mm: Array  # (N, 3)
    turned: Array  # (N, 3, 3) rotation from rest of the node's section
    frames: Array  # (E, q, 3, 3) current section frames, columns t, a, b
    curvature: Array  # (E, q, 3) change of curvature in the section frame, 1/mm
    spring_turned: Array  # (S, 3, 3)
    link_force_N: Array  # (C, 2) tension positive; right, left


def ranges(starts: Index, counts: Index) -> Index:
    """Concatenated aranges: starts[i] ... starts[i] + counts[i] - 1."""
    total = int(counts.sum())
    return np.arange(total) - np.repeat(np.cumsum(counts) - counts, counts) + np.repeat(starts, counts)


class Batch:
    """Copies laid one after another; arrays named as in `BeamMesh`, with global numbers."""

    def __init__(self, copies: Sequence[Copy]) -> None:
        self.copies = list(copies)
        meshes = [copy.mesh for copy in copies]
        count = len(meshes)
        self.n_copies = count
        self.elements_of = np.array([mesh.n_elements for mesh in meshes])
        self.nodes_of = np.array([mesh.n_nodes for mesh in meshes])
        self.springs_of = np.array([len(mesh.springs.mount) for mesh in meshes])
        self.size_of = np.array([mesh.size for mesh in meshes])
        node0 = np.cumsum(self.nodes_of) - self.nodes_of
        dof0 = np.cumsum(self.size_of) - self.size_of
        element0 = np.cumsum(self.elements_of) - self.elements_of
        self.node_start, self.dof_start, self.element_start = node0, dof0, element0
        self.size = int(self.size_of.sum())
        self.element_copy = np.repeat(np.arange(count), self.elements_of)
        self.node_copy = np.repeat(np.arange(count), self.nodes_of)
        self.spring_copy = np.repeat(np.arange(count), self.springs_of)
        self.element_nodes = np.concatenate([m.element_nodes for m in meshes]) + node0[self.element_copy, None]
        self.dofs = np.concatenate([m.dofs for m in meshes]) + dof0[self.element_copy, None]
        node_dofs = {id(m): m.node_dofs() for m in meshes}
        self.node_dofs = np.concatenate([node_dofs[id(m)] for m in meshes]) + dof0[self.node_copy, None]
        self.shape = meshes[0].shape
        self.slope = np.concatenate([m.slope_per_mm for m in meshes])
        self.weight = np.concatenate([m.weight_mm for m in meshes])
        self.rest_frames = np.concatenate([m.frames for m in meshes])
        self.force_stiffness = np.concatenate([m.force_stiffness for m in meshes])
        self.moment_stiffness = np.concatenate([m.moment_stiffness for m in meshes])
        self.node_points = np.concatenate([m.node_points_mm for m in meshes])
        self.spring_element = np.concatenate([m.springs.element for m in meshes]) + np.repeat(element0, self.springs_of)
        self.spring_shape = np.concatenate([m.springs.shape for m in meshes])
        self.spring_translation = np.concatenate([m.springs.translation for m in meshes])
        self.spring_rotation = np.concatenate([m.springs.rotation for m in meshes])
        # Which elements springs hold, and where each one's begin in this order.
        self.spring_order = np.argsort(self.spring_element, kind="stable")
        self.held_elements = np.unique(self.spring_element[self.spring_order], return_index=True)
        self.has_rotational_springs = bool(np.any(self.spring_rotation))
        self.link_node = (
            np.array([[copy.mesh.hole_nodes[k][copy.holes[k]] for k in (0, 1)] for copy in copies]) + node0[:, None]
        )
        self.link_dof = (
            np.array([[copy.mesh.hole_dofs[k][copy.holes[k]] for k in (0, 1)] for copy in copies]) + dof0[:, None]
        )
        self.offset = np.array([copy.offset_mm for copy in copies])
        self.link_length = np.array([copy.length_mm for copy in copies])
        self.link_flexibility = np.array([copy.flexibility_mm_per_N for copy in copies])
        self.pickup_rest = np.array([copy.pickup_mm for copy in copies])
        all_holes = [distinct(np.concatenate(m.hole_dofs)) for m in meshes]
        every = np.concatenate([dofs + dof0[i] for i, dofs in enumerate(all_holes)])
        self.unused_dof = np.setdiff1d(every, self.link_dof.ravel(), assume_unique=True)
        self.dof_copy = np.repeat(np.arange(count), self.size_of)
        # Products of shape functions and slopes times weight, constant for the whole solution: (E, 9, q).
        slope, shape, weight = self.slope, self.shape.T, self.weight
        self.ss = np.einsum("eq,eqi,eqj->eijq", weight, slope, slope).reshape(len(slope), 9, -1)
        self.sn = np.einsum("eq,eqi,qj->eijq", weight, slope, shape).reshape(len(slope), 9, -1)
        self.nn = np.einsum("eq,qi,qj->eijq", weight, shape, shape).reshape(len(slope), 9, -1)
        self.rotation_weights = np.concatenate([self.ss, self.sn, self.nn], axis=2)

    def pick(self, state: State, copies: Index) -> State:
        """The part of `state` that belongs to the copies of these numbers, in their order."""
        nodes = ranges(self.node_start[copies], self.nodes_of[copies])
        elements = ranges(self.element_start[copies], self.elements_of[copies])
        spring0 = np.cumsum(self.springs_of) - self.springs_of
        springs = ranges(spring0[copies], self.springs_of[copies])
        return State(
            displacement_mm=state.displacement_mm[nodes],
            turned=state.turned[nodes],
            frames=state.frames[elements],
            curvature=state.curvature[elements],
            spring_turned=state.spring_turned[springs],
            link_force_N=state.link_force_N[copies],
        )

    def put(self, state: State, copies: Index, part: State) -> None:
        """Write `part`, a state of these copies in their order, into `state`."""
        nodes = ranges(self.node_start[copies], self.nodes_of[copies])
        elements = ranges(self.element_start[copies], self.elements_of[copies])
        spring0 = np.cumsum(self.springs_of) - self.springs_of
        springs = ranges(spring0[copies], self.springs_of[copies])
        state.displacement_mm[nodes] = part.displacement_mm
        state.turned[nodes] = part.turned
        state.frames[elements] = part.frames
        state.curvature[elements] = part.curvature
        state.spring_turned[springs] = part.spring_turned
        state.link_force_N[copies] = part.link_force_N

    def by_copy(self, values: Array, owner: Index) -> Array:
        """Largest absolute value of `values` (m,) in each copy, by its owner (m,); zero where a copy has none."""
        out = np.zeros(self.n_copies)
        np.maximum.at(out, owner, np.abs(values))
        return out


def initial_state(batch: Batch) -> State:
    """Every copy as drawn: no displacement, no stress."""
    n, e = len(batch.node_points), len(batch.dofs)
    eye = np.eye(3)
    return State(
        displacement_mm=np.zeros((n, 3)),
        turned=np.broadcast_to(eye, (n, 3, 3)).copy(),
        frames=batch.rest_frames.copy(),
        curvature=np.zeros((e, batch.slope.shape[1], 3)),
        spring_turned=np.broadcast_to(eye, (len(batch.spring_element), 3, 3)).copy(),
        link_force_N=np.zeros((batch.n_copies, 2)),
    )
