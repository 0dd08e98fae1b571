"""A forged end's transition in ten-node tetrahedra, by scikit-fem's own assembly: not barfem's solid.

Nothing is shared with the model that ships but the drawing's outline: a polar mesh of tetrahedra instead of swept
hexahedra, clamped at the flat's far end instead of balanced, the stress the mean of the elements' own at each node of
the surface. A quarter of the section is meshed, with planes of symmetry or antisymmetry. Lengths in diameters, E is 1.

`python -m tests.validation.transition_tets` solves the ends of `transitions.csv` anew (some ten minutes).
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cached_property
from itertools import permutations, product
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Flat
from barfem.model.bar_geometry import fillet_share, outline_share
from tests.validation.dissection import Dissection
from tests.validation.stiffness import stiffness

Array = NDArray[np.float64]
TABLE = Path(__file__).with_name("transitions.csv")
NAMES = ("N", "V_1", "V_2", "T", "M_1", "M_2")
NU = 0.3
LAME, SHEAR = NU / (1.0 + NU) / (1.0 - 2.0 * NU), 0.5 / (1.0 + NU)
# Components (x, y_1, y_2) that are zero on the planes y_1 = 0 and y_2 = 0.
HELD = {"N": ((1,), (2,)), "M_1": ((1,), (0, 1)), "M_2": ((0, 2), (2,)), "T": ((0, 2), (0, 1))}
LIKE = {"N": "N", "V_1": "M_2", "V_2": "M_1", "T": "T", "M_1": "M_1", "M_2": "M_2"}


def forged(width: float, thickness: float, length: float, fillet: float) -> Flat:
    """A flat in diameters of the body; no fillet: a half cosine."""
    outline = "straight" if fillet else "cosine"
    normal = (0.0, 1.0, 0.0)
    return Flat("forged", thickness, width, 4.0 + length, length, normal, outline=outline, fillet_mm=fillet or None)  # type: ignore[arg-type]


@dataclass(frozen=True)
class TransitionInTets:
    """Sizes over the diameter; `fine` scales the number of cells.

    The `bore` of a tube reaches into the transition and ends `end` before the body, in half an ellipsoid: everywhere a
    share of the outline.
    """

    flat: Flat
    fine: float = 1.0
    bore: float = 0.0
    end: float = 0.0

    @property
    def before(self) -> float:
        return 0.9 + 1.2 * self.flat.width_mm

    def _outside(self, x: Array, angle: Array) -> tuple[Array, Array]:
        """Surface points: y_1, y_2 at x from the transition's begin, `angle` 0 to pi / 2."""
        share = outline_share(self.flat, x / self.flat.transition_mm, diameter_mm=1.0)
        v = angle / (np.pi / 4.0)
        h, w = 0.5 * self.flat.thickness_mm, 0.5 * self.flat.width_mm
        flat_1, flat_2 = h * np.minimum(1.0, 2.0 - v), w * np.minimum(v, 1.0)
        return (
            (1.0 - share) * flat_1 + share * 0.5 * np.cos(angle),
            (1.0 - share) * flat_2 + share * 0.5 * np.sin(angle),
        )

    def _inner(self, x: Array) -> Array:
        """Bore over the outline at x from the transition's begin."""
        if not self.bore:
            return np.zeros_like(x)
        inwards = np.clip((self.flat.transition_mm - x) / self.end, 0.0, 1.0)
        return np.asarray(np.where(inwards < 1.0 - 1e-9, self.bore * np.sqrt(1.0 - inwards**2), 0.0))

    def _stations(self) -> Array:
        length = self.flat.transition_mm
        straight = self.flat.outline == "straight"
        arc = length * (fillet_share(self.flat, diameter_mm=1.0) if straight else 0.5)
        least = min(arc / 4.0, length / 14.0) / self.fine

        def growing(most: float, over: float) -> Array:
            out = [0.0]
            while out[-1] < over * (1.0 - 1e-9):
                out.append(out[-1] + min(least * 1.35 ** len(out), most / self.fine))
            return np.array(out) * (over / out[-1])

        even = np.linspace(0.0, arc, int(np.ceil(arc / least - 1e-9)) + 1)
        half = (
            np.concatenate([even, arc + growing(length / 8.0, 0.5 * length - arc)[1:]])
            if arc < 0.499 * length
            else even
        )
        inner = np.concatenate([half, length - half[::-1][1:]])
        found = np.concatenate([-growing(0.35, self.before)[::-1], inner[1:], length + growing(0.35, 1.8)[1:]])
        if self.bore and self.end < length - 1e-9:  # the bore ends at a station
            found[np.abs(found - length + self.end).argmin()] = length - self.end
        return found

    @cached_property
    def _points(self) -> tuple[Array, NDArray[np.intp]]:
        """(x, rho, angle) of the corners (3, n), and tetrahedra (4, m)."""
        x = self._stations()
        rings, around = round(7 * self.fine), 2 * round(5 * self.fine)
        rho = 1.0 - (1.0 - np.arange(rings + 1) / rings) ** 1.8
        angle = np.linspace(0.0, np.pi / 2.0, around + 1)
        grid = np.stack(np.meshgrid(x, rho, angle, indexing="ij")).reshape(3, -1)
        number = np.arange(grid.shape[1]).reshape(len(x), len(rho), len(angle))
        solid = self._inner(x) == 0.0
        number[solid, 0, :] = number[solid, 0, :1]  # the axis is one node
        cells = []
        for order in permutations(range(3)):
            corner = np.zeros(3, dtype=int)
            path = [corner.copy()]
            for axis in order:
                corner[axis] += 1
                path.append(corner.copy())
            slices = [tuple(slice(c, (c - 1) or None) for c in at) for at in path]
            cells.append(np.stack([number[each].ravel() for each in slices]))
        tets = np.concatenate(cells, axis=1)
        whole = np.array([len(set(column)) == 4 for column in tets.T.tolist()])
        used, index = np.unique(tets[:, whole], return_inverse=True)
        return grid[:, used], index.reshape(4, -1)

    def _place(self, reference: Array) -> Array:
        y_1, y_2 = self._outside(reference[0], reference[2])
        inner = self._inner(reference[0])
        out = inner + (1.0 - inner) * reference[1]
        return np.stack([reference[0], out * y_1, out * y_2])

    @cached_property
    def mesh(self) -> Any:
        from skfem import MeshTet, MeshTet2

        reference, tets = self._points
        straight = MeshTet(self._place(reference), tets)
        order = MeshTet2.from_mesh(straight)
        one, two = reference[:, straight.edges[0]].copy(), reference[:, straight.edges[1]].copy()
        for near, other in ((one, two), (two, one)):
            axis = (near[1] == 0.0) & (self._inner(near[0]) == 0.0)
            near[2, axis] = other[2, axis]
        places = order.doflocs.copy()
        places[:, reference.shape[1] :] = self._place(0.5 * (one + two))
        return MeshTet2(places, order.t)

    @cached_property
    def basis(self) -> Any:
        from skfem import Basis, ElementTetP2

        return Basis(self.mesh, ElementTetP2(), intorder=4)

    @cached_property
    def parts(self) -> Dissection:
        """The stiffness, unknowns 3 i and following of node i."""
        return Dissection(self.basis.doflocs, stiffness(self.basis, E_MPa=1.0, nu=NU))

    def _load(self, name: str) -> Array:
        """Forces (nodes, 3) on the quarter's round end; the resultant is that at the transition's begin."""
        from skfem import ElementTriP2, MeshTri
        from skfem.quadrature import get_quadrature

        end = self.flat.transition_mm + 1.8
        corners = np.sort(self.mesh.facets[:, self.mesh.facets_satisfying(lambda x: x[0] > end - 1e-9)], axis=0)
        edge = {tuple(pair): number for number, pair in enumerate(self.mesh.edges.T.tolist())}
        between = [[edge[a, b] for a, b in corners[[i, j]].T.tolist()] for i, j in ((0, 1), (1, 2), (0, 2))]
        nodes = np.concatenate([self.basis.nodal_dofs[0][corners], self.basis.edge_dofs[0][np.array(between)]])
        points, weights = get_quadrature(MeshTri.elem, 6)
        values = [ElementTriP2().lbasis(points, i) for i in range(6)]  # corners, then the middles of 01, 12, 02
        shape, slope = np.array([each[0] for each in values]), np.array([each[1] for each in values])
        at = self.basis.doflocs[:, nodes]  # (3, 6, facets)
        x = np.einsum("aif,iq->afq", at, shape)
        along = np.einsum("aif,ibq->bafq", at, slope)
        area_of = np.linalg.norm(np.cross(along[0], along[1], axis=0), axis=0) * weights
        area, second = np.pi / 4.0 * (1.0 - self.bore**2), np.pi / 64.0 * (1.0 - self.bore**4)
        y_1, y_2, one = x[1], x[2], np.ones_like(x[0])
        traction = {
            "N": {0: one / area},
            "M_1": {0: y_2 / second},
            "M_2": {0: -y_1 / second},
            "T": {1: -y_2 / (2.0 * second), 2: y_1 / (2.0 * second)},
            "V_1": {1: one / area, 0: end * y_1 / second},
            "V_2": {2: one / area, 0: end * y_2 / second},
        }[name]
        out = np.zeros((self.basis.N, 3))
        for axis, acting in traction.items():
            np.add.at(out[:, axis], nodes, np.einsum("fq,fq,iq->if", acting, area_of, shape))
        return out

    @cached_property
    def solved(self) -> dict[str, Array]:
        """Displacements (nodes, 3) under each unit resultant."""
        x, y_1, y_2 = self.basis.doflocs
        out = {}
        for kind, (on_1, on_2) in HELD.items():
            fixed = np.zeros((len(x), 3), dtype=bool)
            fixed[x < x.min() + 1e-9] = True
            for axis in on_1:
                fixed[np.abs(y_1) < 1e-9, axis] = True
            for axis in on_2:
                fixed[np.abs(y_2) < 1e-9, axis] = True
            names = [name for name in NAMES if LIKE[name] == kind]
            found = self.parts.solve(fixed.ravel(), np.stack([self._load(name).ravel() for name in names], axis=1))
            out |= {name: found[:, i].reshape(-1, 3) for i, name in enumerate(names)}
        return out

    @cached_property
    def stress(self) -> tuple[Array, Array, NDArray[np.bool_]]:
        """Nodes of the transition's surface (3, n), stress (n, 3, 3, 6) there, and which lie in the bore.

        The mean of the elements' own at each node.
        """
        from skfem import Basis, ElementTetP2

        place = self.basis.doflocs
        rho = self._rho
        wanted = (place[0] > -1e-9) & (place[0] < self.flat.transition_mm + 1e-9)
        wanted &= (rho > 1.0 - 1e-9) | ((rho < 1e-9) & (self._inner(place[0]) > 0.0))
        cells = np.flatnonzero(wanted[self.basis.element_dofs].any(axis=0))
        at = np.array(ElementTetP2.doflocs, float)
        quadrature = at.T, np.ones(len(at)) / len(at)
        basis = Basis(self.mesh, ElementTetP2(), quadrature=quadrature, elements=cells)
        slopes = np.stack([np.asarray(basis.basis[i][0].grad) for i in range(basis.Nbfun)])
        number = self.basis.element_dofs[:, cells]
        counts = np.bincount(number.ravel(), minlength=len(rho)).astype(float)[wanted]
        out = np.zeros((int(wanted.sum()), 3, 3, len(NAMES)))
        for i, name in enumerate(NAMES):
            grad = np.einsum("jbcq,jca->abcq", slopes, self.solved[name][number], optimize=True)
            strain = 0.5 * (grad + grad.swapaxes(0, 1))
            stress = 2.0 * SHEAR * strain + LAME * np.einsum("kkcq->cq", strain) * np.eye(3)[:, :, None, None]
            for p, q in product(range(3), repeat=2):
                total = np.bincount(number.T.ravel(), weights=stress[p, q].ravel(), minlength=len(rho))
                out[:, p, q, i] = total[wanted] / counts
        return place[:, wanted], out, rho[wanted] < 0.5

    @property
    def _rho(self) -> Array:
        """Of every node: its share of the way from axis or bore to the outside."""
        reference = self._points[0]
        edges = self.mesh.edges[:, : self.basis.N - reference.shape[1]]
        between = 0.5 * (reference[1, edges[0]] + reference[1, edges[1]])
        rho = np.empty(self.basis.N)
        rho[self.basis.nodal_dofs[0]], rho[self.basis.edge_dofs[0]] = reference[1], between
        return rho

    def greatest(self, loads: dict[str, float], *, bore: bool = False) -> float:
        """Greatest von Mises stress on the whole transition's outside, or in its bore, under `loads` at its begin."""
        _, stress, inside = self.stress
        part = stress[inside] if bore else stress[~inside]
        worst = 0.0
        for s_1, s_2 in product((1.0, -1.0), repeat=2):
            flip = np.diag([1.0, s_1, s_2])
            sign = {"N": 1.0, "M_1": s_2, "M_2": s_1, "T": s_1 * s_2}
            weights = np.array([loads.get(name, 0.0) * sign[LIKE[name]] for name in NAMES])
            whole = flip @ (part @ weights) @ flip
            off = whole - np.einsum("kii->k", whole)[:, None, None] * np.eye(3) / 3.0
            worst = max(worst, float(np.sqrt(1.5 * (off**2).sum(axis=(1, 2))).max()))
        return worst


LOADS = (
    "N 1",
    "T 1",
    "M_1 1",
    "M_2 1",
    "V_1 1 M_2 -2 T 0.3 N 0.4",
    "V_2 1 M_1 1.5 T -0.3",
    "N 0.5 V_1 -0.6 V_2 0.4 T 0.25 M_1 0.8 M_2 1.5",
)
"""Resultants at the transition's begin: alone, a force across and one in the plane of the flat at a hole, and all."""


def parsed(loads: str) -> dict[str, float]:
    words = loads.split()
    return {name: float(size) for name, size in zip(words[::2], words[1::2], strict=True)}


SIZES = ("width", "thickness", "length", "fillet", "bore", "end")


def rows() -> list[dict[str, Any]]:
    """The ends of the table: sizes, its fineness, and the greatest stress by load."""
    with TABLE.open(encoding="utf-8", newline="") as file:
        read = list(csv.DictReader(line for line in file if not line.startswith("#")))
    return [{key: float(value) for key, value in row.items()} for row in read]


def solid(row: dict[str, Any], fine: float | None = None) -> TransitionInTets:
    """The end of a row, as fine as the table has it or otherwise."""
    flat = forged(*(row[key] for key in SIZES[:4]))
    return TransitionInTets(flat, fine or row["fine"], row["bore"], row["end"])


def main() -> None:
    for row in rows():
        piece = solid(row)
        found = [max(piece.greatest(parsed(each), bore=bore) for bore in (False, row["bore"] > 0.0)) for each in LOADS]
        print(*(f"{row[key]:g}" for key in (*SIZES, "fine")), *(f"{each:.5g}" for each in found), sep=",", flush=True)


if __name__ == "__main__":
    main()
