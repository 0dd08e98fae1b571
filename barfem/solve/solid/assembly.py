"""Slice matrices: congruent slices share one.

The unknowns of a plane are displacements in the plane's own axes, so two slices of one straight, or of one bend,
have the same matrix to the last digit that matters, and it is built, and its middle eliminated, once.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barfem.model.frozen import frozen
from barfem.solve.solid.element import stiffness, swept_table
from barfem.solve.solid.factor import BlockFactor, Condensed, condense
from barfem.solve.solid.mesh import SweptMesh

__all__ = [
    "Springs",
    "assembled",
    "element_nodes",
    "element_unknowns",
    "factorise",
    "slice_kinds",
    "slice_matrix",
]

Array = NDArray[np.float64]
# Positions are compared to this share of the section's size.
CONGRUENT = 1e-7


@frozen(eq=False)
class Springs:
    """Stiffness added to one slice: rows^T rows on the slice's unknowns (3 planes); rows (r, 9 n) in N^0.5/mm^0.5."""

    slice_: int
    rows: Array


def element_nodes(mesh: SweptMesh) -> NDArray[np.intp]:
    """Nodes of one slice's cells (n_cells, 3 c), 27 of a hexahedron, numbered plane by plane within the slice."""
    n = mesh.grid.size
    return np.concatenate([mesh.grid.cells + k * n for k in range(3)], axis=1)


def _local(mesh: SweptMesh) -> tuple[Array, Array]:
    """Positions (n_slices, 3, n, 3) and plane axes (n_slices, 3, 3, 3) seen from each slice's first plane."""
    first = np.arange(0, 2 * mesh.n_slices, 2)
    planes = first[:, None] + np.arange(3)
    arms = mesh.points[planes] - mesh.origins[first][:, None, None]
    frame = mesh.frames[first]
    turns = np.einsum("sac,skbc->skab", frame, mesh.frames[planes])
    return np.einsum("skni,sai->skna", arms, frame), turns


def slice_kinds(mesh: SweptMesh) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Kind of each slice (n_slices,), and one slice of each kind."""
    points, _ = _local(mesh)
    size = float(np.max(np.abs(mesh.across)))
    rounded = np.round(points / (CONGRUENT * size)).astype(np.int64).reshape(mesh.n_slices, -1)
    kinds: dict[bytes, int] = {}
    of_slices = [kinds.setdefault(row.tobytes(), len(kinds)) for row in rounded]
    of = np.array(of_slices, dtype=np.intp)
    return of, np.array([int(np.argmax(of == kind)) for kind in range(len(kinds))], dtype=np.intp)


def slice_matrix(
    points: Array,
    turns: Array,
    nodes: NDArray[np.intp],
    *,
    E_MPa: float,
    nu: float,
    table: tuple[Array, Array] | None = None,
) -> Array:
    """Stiffness (9 n, 9 n) of one slice, unknowns in each plane's own axes; points (3, n, 3), turns (3, 3, 3)."""
    n = 3 * points.shape[1]
    element = stiffness(points.reshape(n, 3)[nodes], E_MPa=E_MPa, nu=nu, table=table)
    cells, size = element.shape[:2]
    each = size // 9
    if not np.allclose(turns, np.eye(3), atol=1e-14):
        by_plane = element.reshape(cells, 3, each, 3, size)
        element = np.einsum("kab,ckjas->ckjbs", turns, by_plane, optimize=True).reshape(cells, size, size)
        by_plane = element.transpose(0, 2, 1).reshape(cells, 3, each, 3, size)
        element = np.einsum("kab,ckjas->ckjbs", turns, by_plane, optimize=True).reshape(cells, size, size)
    return assembled(element, element_unknowns(nodes), 3 * n)


def element_unknowns(nodes: NDArray[np.intp]) -> NDArray[np.intp]:
    """Unknowns (n_cells, 9 c) of a slice's cells, three a node, of their nodes (n_cells, 3 c)."""
    return (3 * nodes[:, :, None] + np.arange(3)).reshape(len(nodes), -1)


def assembled(elements: Array, unknowns: NDArray[np.intp], size: int) -> Array:
    """Sum (size, size) of cells' matrices (n_cells, u, u) at their `unknowns` (n_cells, u), which lie below `size`."""
    place = unknowns[:, :, None] * size + unknowns[:, None, :]
    total = np.bincount(place.ravel(), weights=elements.ravel(), minlength=size * size)
    return np.asarray(total.reshape(size, size), dtype=np.float64)


def factorise(
    mesh: SweptMesh, *, E_MPa: float, nu: float, springs: tuple[Springs, ...] = ()
) -> tuple[BlockFactor, int]:
    """Assemble and factor; springs are added to their slices. Returns the factor and the number of kinds of slice.

    Raises
    ------
    numpy.linalg.LinAlgError
        The springs leave a rigid motion free.
    """
    kinds, samples = slice_kinds(mesh)
    points, turns = _local(mesh)
    nodes = element_nodes(mesh)
    table = swept_table(mesh.grid.table)
    extra: dict[int, list[Array]] = {}
    for spring in springs:
        extra.setdefault(spring.slice_, []).append(spring.rows)
    condensed: list[Condensed] = []
    sprung: dict[int, Condensed] = {}
    for kind, sample in enumerate(samples):
        matrix = slice_matrix(points[sample], turns[sample], nodes, E_MPa=E_MPa, nu=nu, table=table)
        condensed.append(condense(matrix))
        for slice_ in (s for s in extra if kinds[s] == kind):
            rows = np.concatenate(extra[slice_])
            sprung[slice_] = condense(matrix + rows.T @ rows)
    of_slices = kinds.tolist()
    for slice_, own in sprung.items():
        of_slices[slice_] = len(condensed)
        condensed.append(own)
    return BlockFactor(condensed, of_slices), len(samples)
