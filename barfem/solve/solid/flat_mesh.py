"""The mesh of a quarter of a drilled flat: half its width and half its thickness; lengths in hole diameters.

Boxes stand round the holes, in rings from the circle to the border, finer at the wall; strips fill what is beyond.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from barfem.model.frozen import frozen

__all__ = ["Mesh", "hexahedra", "plane_quads"]

Array = NDArray[np.float64]
Quads = tuple[Array, NDArray[np.intp]]

LONG = 1.5  # width of the flat that lies beyond the boxes round the holes, at either end


@frozen
class Mesh:
    """How fine: cells over a quarter of a hole (4 `quarter` round it), rings, layers through half the thickness.

    Layers get thinner towards the face, the more the greater `grading`; one makes them alike.
    """

    quarter: int = 8
    rings: int = 6
    layers: int = 3
    grading: float = 1.4


def plane_quads(*, width: float, holes: Sequence[float], tip: float | None, mesh: Mesh) -> Quads:
    """Points (2, n) and corners (4, m) of half the width; holes from the outboard one, at y = 0; `tip` None: far."""
    half, q = 0.5 * width, mesh.quarter
    height = half if half < 1.4 else 1.0
    reach = max(height, 0.9)
    beside = np.linspace(height, half, 1 + int(np.ceil((half - height) / 0.8)))
    across = np.concatenate([np.linspace(0.0, height, q // 2 + 1), beside[1:]])
    edges = [min(reach, np.inf if tip is None else tip)]
    for a, b in pairwise(holes):  # boxes of neighbours meet, or leave a strip between them
        edges += [0.5 * (a + b)] * 2 if a - b < 2.2 * reach else [a - reach, b + reach]
    edges.append(holes[-1] - reach)
    parts = []
    for hole, high, low in zip(holes, edges[::2], edges[1::2], strict=True):
        parts.append(_box(hole, low, high, height, mesh))
        if len(beside) > 1:
            parts.append(_tensor(np.linspace(low, high, q + 1), beside))
    far = edges[0] + LONG * width if tip is None else tip
    strips = [(edges[-1] - LONG * width, edges[-1]), *zip(edges[2::2], edges[1:-1:2], strict=True), (edges[0], far)]
    for low, high in strips:
        if high - low > 1e-9:
            n = max(1, int(np.ceil((high - low) / (0.3 * width))))
            parts.append(_tensor(np.linspace(low, high, n + 1), across))
    offsets = np.cumsum([0, *(p.shape[1] for p, _ in parts[:-1])])
    points = np.concatenate([p for p, _ in parts], axis=1)
    quads = np.concatenate([t + offset for (_, t), offset in zip(parts, offsets, strict=True)], axis=1)
    return _merged(points, quads)


def hexahedra(plane: Quads, *, heights: Array, holes: Sequence[float]) -> Quads:
    """Nodes (3, n), those on walls moved onto their circles, and the 27 of each cell in scikit-fem's order."""
    points, quads = plane
    from skfem import CellBasis, ElementHex2, MeshHex

    count, z = points.shape[1], heights
    nodes = np.concatenate([np.vstack([points, np.full(count, h)]) for h in z], axis=1)
    hexes = []
    for layer in range(len(z) - 1):
        a, b = quads + layer * count, quads + (layer + 1) * count
        # scikit-fem's corner order: (0,0,0) (0,0,1) (0,1,0) (1,0,0) (0,1,1) (1,0,1) (1,1,0) (1,1,1).
        hexes.append(np.stack([a[0], b[0], a[3], a[1], b[3], b[1], a[2], b[2]]))
    corners = np.concatenate(hexes, axis=1)
    mesh = MeshHex(np.ascontiguousarray(nodes), np.ascontiguousarray(corners))  # it logs what it must copy itself
    basis = CellBasis(mesh, ElementHex2(), intorder=1)
    at = np.array(basis.doflocs)
    for hole in holes:
        r = np.hypot(at[0] - hole, at[1])
        on = r < 0.5 * (1.0 + 1e-9)
        at[:2, on] = (at[:2, on] - [[hole], [0.0]]) * 0.5 / r[on] + [[hole], [0.0]]
    return at, np.asarray(basis.element_dofs)


def _merged(points: Array, quads: NDArray[np.intp]) -> Quads:
    """The same quads with each point once. By distance: rounded coordinates of one point may differ."""
    from scipy.spatial import cKDTree

    same = np.arange(points.shape[1])
    pairs = cKDTree(points.T).query_pairs(1e-6, output_type="ndarray")
    np.minimum.at(same, pairs.max(axis=1), pairs.min(axis=1))
    kept, index = np.unique(same, return_inverse=True)
    return points[:, kept], index.ravel()[quads]


def _tensor(x: Array, y: Array) -> Quads:
    i, j = np.meshgrid(np.arange(len(x) - 1), np.arange(len(y) - 1), indexing="ij")
    number = (i * len(y) + j).ravel()
    points = np.stack([np.repeat(x, len(y)), np.tile(y, len(x))])
    return points, np.stack([number, number + len(y), number + len(y) + 1, number + 1])


def _box(hole: float, low: float, high: float, top: float, mesh: Mesh) -> Quads:
    """A rectangle low..high x 0..top with half a hole: rings from the circle to the border, finer at it."""
    q = mesh.quarter
    up = np.linspace(0.0, top, q // 2 + 1)
    back = np.linspace(high, low, q + 1)
    border = np.concatenate(
        [
            np.stack([np.full(q // 2, high), up[:-1]]),
            np.stack([back[:-1], np.full(q, top)]),
            np.stack([np.full(q // 2 + 1, low), up[::-1]]),
        ],
        axis=1,
    )
    u = np.linspace(0.0, np.pi, 2 * q + 1)
    circle = np.stack([hole + 0.5 * np.cos(u), 0.5 * np.sin(u)])
    grade = np.linspace(0.0, 1.0, mesh.rings + 1) ** 1.6
    rings = circle[:, None] + grade[None, :, None] * (border - circle)[:, None]
    around = 2 * q + 1
    i, j = np.meshgrid(np.arange(mesh.rings), np.arange(2 * q), indexing="ij")
    at = (i * around + j).ravel()
    return rings.reshape(2, -1), np.stack([at, at + around, at + around + 1, at + 1])
