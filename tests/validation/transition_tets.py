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
from itertools import permutations
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Flat
from barfem.model.bar_geometry import fillet_share, outline_share

Array = NDArray[np.float64]
TABLE = Path(__file__).with_name("transitions.csv")
NAMES = ("N", "V_1", "V_2", "T", "M_1", "M_2")
NU = 0.3
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
    """Sizes over the diameter; `fine` scales the number of cells."""

    flat: Flat
    fine: float = 1.0

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
        return np.concatenate([-growing(0.35, self.before)[::-1], inner[1:], length + growing(0.35, 1.8)[1:]])

    @cached_property
    def _points(self) -> tuple[Array, NDArray[np.intp]]:
        """(x, rho, angle) of the corners (3, n), and tetrahedra (4, m)."""
        x = self._stations()
        rings, around = round(7 * self.fine), 2 * round(5 * self.fine)
        rho = 1.0 - (1.0 - np.arange(rings + 1) / rings) ** 1.8
        angle = np.linspace(0.0, np.pi / 2.0, around + 1)
        grid = np.stack(np.meshgrid(x, rho, angle, indexing="ij")).reshape(3, -1)
        number = np.arange(grid.shape[1]).reshape(len(x), len(rho), len(angle))
        number[:, 0, :] = number[:, 0, :1]  # the axis is one node
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
        return np.stack([reference[0], reference[1] * y_1, reference[1] * y_2])

    @cached_property
    def mesh(self) -> Any:
        from skfem import MeshTet, MeshTet2

        reference, tets = self._points
        straight = MeshTet(self._place(reference), tets)
        order = MeshTet2.from_mesh(straight)
        one, two = reference[:, straight.edges[0]].copy(), reference[:, straight.edges[1]].copy()
        for near, other in ((one, two), (two, one)):
            axis = near[1] == 0.0
            near[2, axis] = other[2, axis]
        places = order.doflocs.copy()
        places[:, reference.shape[1] :] = self._place(0.5 * (one + two))
        return MeshTet2(places, order.t)

    @cached_property
    def basis(self) -> Any:
        from skfem import Basis, ElementTetP2, ElementVector

        return Basis(self.mesh, ElementVector(ElementTetP2()), intorder=4)

    @cached_property
    def stiffness(self) -> Any:
        from skfem.assembly import BilinearForm
        from skfem.helpers import ddot, eye, sym_grad, trace

        lame, shear = NU / (1.0 + NU) / (1.0 - 2.0 * NU), 0.5 / (1.0 + NU)

        @BilinearForm
        def energy(u: Any, v: Any, _: Any) -> Any:
            strain = sym_grad(u)
            return ddot(2.0 * shear * strain + lame * eye(trace(strain), 3), sym_grad(v))

        return energy.assemble(self.basis)

    def _load(self, name: str) -> Array:
        """Nodal forces on the quarter's round end; the resultant is that at the transition's begin."""
        from skfem import ElementTetP2, ElementVector, FacetBasis
        from skfem.assembly import LinearForm

        end = self.flat.transition_mm + 1.8
        facets = self.mesh.facets_satisfying(lambda x: x[0] > end - 1e-9)
        basis = FacetBasis(self.mesh, ElementVector(ElementTetP2()), facets=facets, intorder=6)
        area, second = np.pi / 4.0, np.pi / 64.0

        @LinearForm
        def work(v: Any, w: Any) -> Any:
            y_1, y_2 = w.x[1], w.x[2]
            if name == "N":
                return v[0] / area
            if name == "M_1":
                return v[0] * y_2 / second
            if name == "M_2":
                return -v[0] * y_1 / second
            if name == "T":
                return (-y_2 * v[1] + y_1 * v[2]) / (2.0 * second)
            if name == "V_1":
                return v[1] / area + v[0] * end * y_1 / second
            return v[2] / area + v[0] * end * y_2 / second

        return np.asarray(work.assemble(basis))

    def solved(self, loads: dict[str, float]) -> dict[str, Array]:
        """Displacements by kind of symmetry."""
        from scipy.sparse.linalg import splu

        x, y_1, y_2 = self.basis.doflocs
        owner = np.zeros(self.basis.N, dtype=int)
        for axis in range(3):
            owner[self.basis.nodal_dofs[axis]] = axis
            owner[self.basis.edge_dofs[axis]] = axis
        out = {}
        for kind in {LIKE[name] for name in loads}:
            fixed = x < x.min() + 1e-9
            fixed |= (np.abs(y_1) < 1e-9) & np.isin(owner, HELD[kind][0])
            fixed |= (np.abs(y_2) < 1e-9) & np.isin(owner, HELD[kind][1])
            free = np.flatnonzero(~fixed)
            right = sum(size * self._load(name) for name, size in loads.items() if LIKE[name] == kind)
            matrix = self.stiffness[free][:, free].tocsc()
            factor = splu(matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})
            out[kind] = np.zeros(self.basis.N)
            out[kind][free] = factor.solve(np.asarray(right)[free])
        return out

    def greatest(self, loads: dict[str, float]) -> float:
        """Greatest von Mises stress on the surface of the whole transition under `loads` at its begin."""
        from skfem import Basis, ElementTetP2, ElementVector

        at = np.array(ElementTetP2.doflocs, float)
        basis = Basis(self.mesh, ElementVector(ElementTetP2()), quadrature=(at.T, np.ones(len(at)) / len(at)))
        scalar = basis.with_element(ElementTetP2())
        number, n = scalar.element_dofs, scalar.N
        counts = np.bincount(number.ravel(), minlength=n).astype(float)
        lame, shear = NU / (1.0 + NU) / (1.0 - 2.0 * NU), 0.5 / (1.0 + NU)
        parts = {}
        for kind, found in self.solved(loads).items():
            grad = np.asarray(basis.interpolate(found).grad)
            strain = 0.5 * (grad + grad.swapaxes(0, 1))
            stress = 2.0 * shear * strain + lame * np.einsum("kkcq->cq", strain) * np.eye(3)[:, :, None, None]
            total = np.stack(
                [
                    np.bincount(number.T.ravel(), weights=stress[p, q].ravel(), minlength=n)
                    for p in range(3)
                    for q in range(3)
                ],
                axis=-1,
            )
            parts[kind] = (total / counts[:, None]).reshape(n, 3, 3)
        place = np.asarray(scalar.doflocs)
        inside = (place[0] > -1e-9) & (place[0] < self.flat.transition_mm + 1e-9)
        worst = 0.0
        for s_1 in (1.0, -1.0):
            for s_2 in (1.0, -1.0):
                flip = np.diag([1.0, s_1, s_2])
                sign = {"N": 1.0, "M_1": s_2, "M_2": s_1, "T": s_1 * s_2}
                whole = sum(sign[kind] * (flip @ part[inside] @ flip) for kind, part in parts.items())
                off = whole - np.einsum("kii->k", whole)[:, None, None] * np.eye(3) / 3.0
                worst = max(worst, float(np.sqrt(1.5 * (off**2).sum(axis=(1, 2))).max()))
        return worst


def rows() -> list[dict[str, Any]]:
    """The rows of the table: sizes, loads by name, and the greatest stress."""
    out = []
    with TABLE.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(line for line in file if not line.startswith("#")):
            words = row["loads"].split()
            one: dict[str, Any] = {k: float(row[k]) for k in ("width", "thickness", "length", "fillet", "fine")}
            one["loads"] = {name: float(size) for name, size in zip(words[::2], words[1::2], strict=True)}
            one["greatest"] = float(row["greatest"] or "nan")
            out.append(one)
    return out


def main() -> None:
    for row in rows():
        flat = forged(*(row[k] for k in ("width", "thickness", "length", "fillet")))
        piece = TransitionInTets(flat, row["fine"])
        said = " ".join(f"{name} {size:g}" for name, size in row["loads"].items())
        sizes = ",".join(f"{row[k]:g}" for k in ("width", "thickness", "length", "fillet"))
        print(f"{sizes},{row['fine']:g},{said},{piece.greatest(row['loads']):.5g}", flush=True)


if __name__ == "__main__":
    main()
