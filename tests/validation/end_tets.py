"""An end's flat with its holes in ten-node tetrahedra, by gmsh and scikit-fem's own assembly: not barfem's solid.

Nothing is shared with the model that ships: another mesher, another element, stress recovered in another way (mean of
the elements' own at each node of the wall). A whole flat with all its holes stands here, not holes one by one, so that
adding what tip and neighbours change is tested too. Half the width and half the thickness are meshed, with planes of
symmetry or antisymmetry; x along the bar towards the tip, y across, z along the holes; lengths in mm.

`python -m tests.validation.end_tets` solves the ends of `tests/validation/ends.csv` anew (a minute).
"""

from __future__ import annotations

import csv
import signal
import sys
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.validation.dissection import Dissection
from tests.validation.stiffness import stiffness

Array = NDArray[np.float64]
E_MPA, NU = 206000.0, 0.3
TABLE = Path(__file__).with_name("ends.csv")
# What a bolt's pressure keeps when its force turns round: half the size of the cosine.
SIZES = {"|N|": np.cos, "|V_2|": np.sin}
EVEN_IN_Y = {"N": True, "V_1": True, "V_2": False, "T": False, "M_2": True, "|N|": True, "|V_2|": True}
EVEN_IN_Z = {"N": True, "V_1": False, "V_2": True, "T": False, "M_2": False, "|N|": True, "|V_2|": True}


@dataclass(frozen=True)
class EndInTets:
    """A flat `width` x `thickness` with holes of `hole` at `from_tip` mm; `fine` elements round a hole."""

    width: float
    thickness: float
    hole: float
    from_tip: tuple[float, ...]
    fine: int = 40

    @cached_property
    def mesh(self) -> Any:
        import gmsh
        from skfem import MeshTet2

        before = signal.getsignal(signal.SIGPIPE)
        gmsh.initialize(interruptible=False)
        try:
            gmsh.option.setNumber("General.Terminal", 0)
            make = gmsh.model.occ
            long = max(self.from_tip) + 2.0 * self.width
            box = (3, make.addBox(-long, 0.0, 0.0, long, 0.5 * self.width, 0.5 * self.thickness))
            tools = [
                (3, make.addCylinder(-at, 0.0, -1.0, 0.0, 0.0, self.thickness + 2.0, 0.5 * self.hole))
                for at in self.from_tip
            ]
            make.cut([box], tools)
            make.synchronize()
            walls = [tag for _, tag in gmsh.model.getEntities(2) if gmsh.model.getType(2, tag) == "Cylinder"]
            field = gmsh.model.mesh.field
            near = field.add("Distance")
            field.setNumbers(near, "SurfacesList", walls)
            field.setNumber(near, "Sampling", 60)
            size = field.add("Threshold")
            smallest = np.pi * self.hole / self.fine
            for name, value in {
                "InField": near,
                "SizeMin": smallest,
                "SizeMax": min(0.25 * self.width, 0.7 * self.thickness),
                "DistMin": 0.06 * self.hole,
                "DistMax": 1.2 * self.hole,
            }.items():
                field.setNumber(size, name, value)
            field.setAsBackgroundMesh(size)
            for option in ("MeshSizeExtendFromBoundary", "MeshSizeFromPoints", "MeshSizeFromCurvature"):
                gmsh.option.setNumber(f"Mesh.{option}", 0)
            gmsh.model.mesh.generate(3)
            gmsh.model.mesh.setOrder(2)
            tags, coordinates, _ = gmsh.model.mesh.getNodes()
            kinds, _, nodes = gmsh.model.mesh.getElements(3)
            cells = np.asarray(nodes[list(kinds).index(11)], dtype=np.int64).reshape(-1, 10)
        finally:
            gmsh.finalize()
            signal.signal(signal.SIGPIPE, before)
        number = np.zeros(int(tags.max()) + 1, dtype=np.int64)
        number[tags.astype(np.int64)] = np.arange(len(tags))
        at = coordinates.reshape(-1, 3).T
        corners, index = np.unique(number[cells[:, :4]], return_inverse=True)
        linear = MeshTet2.from_mesh(_tet(at[:, corners], index.reshape(-1, 4).T))
        # Nodes between corners: those of the wall lie on it.
        places = linear.doflocs.copy()
        for hole in self.from_tip:
            r = np.hypot(places[0] + hole, places[1])
            on = r < 0.5 * self.hole * (1.0 + 1e-7)  # no other node lies within
            places[0, on] = -hole + (places[0, on] + hole) * 0.5 * self.hole / r[on]
            places[1, on] *= 0.5 * self.hole / r[on]
        return MeshTet2(places, linear.t)

    @cached_property
    def basis(self) -> Any:
        from skfem import Basis, ElementTetP2, ElementVector

        return Basis(self.mesh, ElementVector(ElementTetP2()), intorder=3)

    @cached_property
    def parts(self) -> Dissection:
        scalar = self.basis.with_element(self.basis.elem.elem)
        unknowns = np.zeros((scalar.N, 3), dtype=np.intp)
        for own, theirs in ((scalar.nodal_dofs, self.basis.nodal_dofs), (scalar.edge_dofs, self.basis.edge_dofs)):
            unknowns[own[0]] = theirs.T
        found = stiffness(scalar, E_MPa=E_MPA, nu=NU, unknowns=unknowns)
        return Dissection(self.basis.doflocs, found, components=1)

    def _facets(self, chosen: Any, traction: Any) -> Array:
        from skfem import ElementTetP2, ElementVector, FacetBasis
        from skfem.assembly import LinearForm

        facets = self.mesh.facets_satisfying(chosen)
        basis = FacetBasis(self.mesh, ElementVector(ElementTetP2()), facets=facets, intorder=5)

        @LinearForm
        def work(v: Any, w: Any) -> Any:
            acting = traction(w.x)
            return sum(acting[i] * v[i] for i in range(3))

        return np.asarray(work.assemble(basis))

    def load(self, hole: int, name: str) -> Array:
        """Nodal forces of a unit load at a hole: a bolt's cosine on the wall (N, V_2), a ring under a nut (others)."""
        at, a, t = -self.from_tip[hole], 0.5 * self.hole, self.thickness
        if name in ("N", "V_2") or name in SIZES:
            size = 2.0 / (np.pi * self.hole * t)
            wall = lambda x: np.abs(np.hypot(x[0] - at, x[1]) - a) < 0.02 * a  # noqa: E731

            def pressed(x: Array) -> Array:
                u = np.arctan2(x[1], x[0] - at)
                p = size * (np.abs(SIZES[name](u)) if name in SIZES else np.cos(u) if name == "N" else np.sin(u))
                return np.stack([p * np.cos(u), p * np.sin(u), 0.0 * u])

            return self._facets(wall, pressed)
        outer = 0.75 * self.hole
        face = lambda x: (np.abs(x[2] - 0.5 * t) < 1e-6) & (np.hypot(x[0] - at, x[1]) < 1.2 * self.hole)  # noqa: E731

        def clamped(x: Array) -> Array:
            weight = np.clip((outer - np.hypot(x[0] - at, x[1])) / (0.2 * outer), 0.0, 1.0)
            shape = {"V_1": -weight, "T": weight * x[1], "M_2": -weight * (x[0] - at)}[name]
            return np.stack([0.0 * weight, 0.0 * weight, shape])

        force = self._facets(face, clamped)
        x, y = self.basis.doflocs[0], self.basis.doflocs[1]
        z = self.basis.nodal_dofs[2], self.basis.edge_dofs[2]
        total = 0.0
        for dofs in z:
            arm = {"V_1": -1.0, "T": y[dofs], "M_2": -(x[dofs] - at)}[name]
            total += float((arm * force[dofs]).sum())
        return force / (4.0 * total)

    def solved(self, hole: int, loads: dict[str, float]) -> Array:
        """Displacement (2, 2, dofs): the parts even and odd in y and z, under loads at a hole."""
        x, y, z = self.basis.doflocs
        owner = np.zeros(self.basis.N, dtype=int)
        for axis in range(3):
            owner[self.basis.nodal_dofs[axis]] = axis
            owner[self.basis.edge_dofs[axis]] = axis
        out = np.zeros((2, 2, self.basis.N))
        for odd_y in (0, 1):
            for odd_z in (0, 1):
                mine = {n: f for n, f in loads.items() if EVEN_IN_Y[n] != odd_y and EVEN_IN_Z[n] != odd_z and f}
                if not mine:
                    continue
                fixed = x < x.min() + 1e-6
                fixed |= (y < 1e-8) & ((owner == 1) if not odd_y else (owner != 1))
                fixed |= (z < 1e-8) & ((owner == 2) if not odd_z else (owner != 2))
                right = sum(f * self.load(hole, n) for n, f in mine.items())
                out[odd_y, odd_z] = self.parts.solve(fixed, np.asarray(right)[:, None])[:, 0]
        return out

    def wall(self, found: Array, hole: int) -> tuple[Array, Array]:
        """Points (3, k) on the whole wall of a hole, both halves of y and z, and stress tensors (k, 3, 3) there."""
        at, a = -self.from_tip[hole], 0.5 * self.hole
        points, sums, counts = self._nodal_stress(found)
        r = np.hypot(points[0] - at, points[1])
        on = np.flatnonzero(np.abs(r - a) < 1e-6 * a)
        parts, places = [], []
        for sy in (1.0, -1.0):
            for sz in (1.0, -1.0):
                flip = np.diag([1.0, sy, sz])
                total = np.zeros((len(on), 3, 3))
                for odd_y in (0, 1):
                    for odd_z in (0, 1):
                        sign = (sy if odd_y else 1.0) * (sz if odd_z else 1.0)
                        here = sums[odd_y, odd_z][on] / counts[on, None, None]
                        total += sign * (flip @ here @ flip)
                parts.append(total)
                places.append(points[:, on] * np.array([[1.0], [sy], [sz]]))
        return np.concatenate(places, axis=1), np.concatenate(parts)

    def _nodal_stress(self, found: Array) -> tuple[Array, Array, Array]:
        """Nodes (3, n) (corners and edges), sums of the elements' stress there (2, 2, n, 3, 3), and their number."""
        from skfem import Basis, ElementTetP2, ElementVector

        reference = np.array(ElementTetP2.doflocs, float)
        basis = Basis(
            self.mesh, ElementVector(ElementTetP2()), quadrature=(reference.T, np.ones(len(reference)) / len(reference))
        )
        scalar = basis.with_element(ElementTetP2())
        number = scalar.element_dofs  # (10, cells)
        n = scalar.N
        counts = np.bincount(number.ravel(), minlength=n).astype(float)
        sums = np.zeros((2, 2, n, 3, 3))
        lame, shear = E_MPA * NU / (1.0 + NU) / (1.0 - 2.0 * NU), E_MPA / 2.0 / (1.0 + NU)
        for i in range(2):
            for j in range(2):
                if not found[i, j].any():
                    continue
                grad = np.asarray(basis.interpolate(found[i, j]).grad)  # (3, 3, cells, 10)
                strain = 0.5 * (grad + grad.swapaxes(0, 1))
                stress = 2.0 * shear * strain + lame * np.einsum("kkcq->cq", strain) * np.eye(3)[:, :, None, None]
                for p in range(3):
                    for q in range(3):
                        np.add.at(sums[i, j][:, p, q], number.T.ravel(), stress[p, q].ravel())
        return np.asarray(scalar.doflocs), sums, counts


def _tet(points: Array, cells: NDArray[np.int64]) -> Any:
    from skfem import MeshTet

    return MeshTet(points, cells)


def von_mises(stress: Array) -> Array:
    """(k,) of tensors (k, 3, 3)."""
    off = stress - np.einsum("kii->k", stress)[:, None, None] * np.eye(3) / 3.0
    return np.sqrt(1.5 * (off**2).sum(axis=(1, 2)))


def ends() -> list[dict[str, Any]]:
    """The rows of the table."""
    with TABLE.open(encoding="utf-8", newline="") as file:
        rows = []
        for row in csv.DictReader(line for line in file if not line.startswith("#")):
            one: dict[str, Any] = {k: float(row[k]) for k in ("width", "thickness", "hole")}
            one["from_tip"] = tuple(float(x) for x in row["from_tip"].split())
            one["used"], one["looked"], one["loads"] = int(row["used"]), int(row["looked"]), row["loads"]
            one["fine"], one["von_mises_MPa"] = int(row["fine"]), float(row["von_mises_MPa"])
            rows.append(one)
        return rows


def parsed(loads: str) -> dict[str, float]:
    """ "V_2 1 T 15" as a dict: N and N mm at the hole in use."""
    words = loads.split()
    return {name: float(size) for name, size in zip(words[::2], words[1::2], strict=True)}


def greatest(row: dict[str, Any], *, fine: int | None = None) -> float:
    """Greatest von Mises stress on the wall of the hole looked at, MPa."""
    end = EndInTets(row["width"], row["thickness"], row["hole"], row["from_tip"], fine or row["fine"])
    found = end.solved(row["used"], parsed(row["loads"]))
    return float(von_mises(end.wall(found, row["looked"])[1]).max())


def main() -> None:
    for row in ends():
        print(row["width"], row["thickness"], row["hole"], row["from_tip"], row["used"], row["looked"], row["loads"],
              f"{greatest(row):.5g}", file=sys.stderr)  # fmt: skip


if __name__ == "__main__":
    main()
