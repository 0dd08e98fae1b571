"""The transition of a forged end as a three-dimensional solid: stress on the way from its flat into the round body.

Second-order hexahedra swept along the bar on a quarter of the section: each load is even or odd about both middle
planes, so four small factorisations serve all six. Lengths are in diameters of the body and E is 1. Both ends carry
tractions that balance, far enough away; pins that carry nothing hold the piece. Axis 1 lies along the flat's thickness,
axis 2 across its width, stations run from the flat to the body, zero where the transition begins.

Its outline goes from the rectangle to the circle along straight lines between points of like angle, by
`bar_geometry.outline_share`.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Flat
from barfem.model.bar_geometry import fillet_share
from barfem.model.centreline import Centreline, Segment
from barfem.model.frozen import frozen
from barfem.solve.solid.assembly import assembled, element_nodes, element_unknowns, slice_kinds
from barfem.solve.solid.element import stiffness, swept_table
from barfem.solve.solid.factor import BlockFactor, condense
from barfem.solve.solid.mesh import SweptMesh, plane_stations, sweep
from barfem.solve.solid.profile import FlatEnd, Profile
from barfem.solve.solid.recovery import SurfaceStress, surface_stress
from barfem.solve.solid.section import SectionGrid, disc_grid

__all__ = ["COSINE", "Fineness", "Transition", "quarter_angles"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]

FRAME = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
COSINE = 0.0
"""Fillet that stands for the half cosine, which has none."""

# Free of what the planes of symmetry forbid (y_1 = 0, y_2 = 0): components that are zero there.
_HELD = {"N": ((1,), (2,)), "M_1": ((1,), (0, 1)), "M_2": ((0, 2), (2,)), "T": ((0, 2), (0, 1))}
_CASES = {"N": (0,), "M_1": (2, 4), "M_2": (1, 5), "T": (3,)}


@frozen
class Fineness:
    """Cells of the section's core (even), rings round it, and slices over a transition and over each of its fillets.

    Rings get thinner towards the surface: what a fillet adds dies away within a quarter of its radius, and rings all of
    one size read it 5 to 10 per cent low.
    """

    core: int = 6
    rings: int = 3
    along: int = 8
    fillet: int = 2
    grading: float = 2.0


@frozen
class Transition:
    """Sizes over the body's diameter: flat `width` x `thickness`, a transition `length` long, `fillet` of its outline.

    A fillet of `COSINE` is a half cosine's; others belong to straight sides.
    """

    width: float
    thickness: float
    length: float
    fillet: float = COSINE
    nu: float = 0.3
    mesh: Fineness = Fineness()

    @cached_property
    def flat(self) -> Flat:
        straight = self.fillet != COSINE
        return Flat(
            "forged",
            self.thickness,
            self.width,
            self.before + self.length,
            self.length,
            (0.0, 1.0, 0.0),
            outline="straight" if straight else "cosine",
            fillet_mm=self.fillet if straight else None,
        )

    @property
    def before(self) -> float:
        """Length of flat that is modelled: what its end adds has died away by then."""
        return 0.7 + 1.2 * self.width

    @property
    def after(self) -> float:
        return 1.9

    def _stations(self) -> Array:
        """Planes: over each fillet, or the ends of a half cosine, evenly; from there in slices that grow."""
        last = self.before + self.length
        middle = min(0.15, self.length / self.mesh.along)
        if self.fillet == COSINE:
            beside = min(0.25, 2.0 * middle)
            marks = [0.0, self.before - 0.9, self.before, last, last + 0.9, last + self.after]
            return plane_stations(np.array(marks), np.array([0.5, beside, middle, beside, 0.5]))
        arc = fillet_share(self.flat, diameter_mm=1.0) * self.length
        fine = min(middle, arc / self.mesh.fillet)
        outside = _growing(fine, 0.5, self.before)
        inside = _growing(fine, middle, 0.5 * self.length - arc)
        first = np.concatenate(
            [-outside[::-1], np.linspace(0.0, arc, int(np.ceil(arc / fine - 1e-9)) + 1), arc + inside]
        )
        beyond = last + _growing(fine, 0.5, self.after)
        ends = np.concatenate([self.before + first, last - first[len(outside) :][::-1], beyond])
        # Both halves end amid the transition.
        ends = np.sort(ends)
        ends = ends[np.append(True, np.diff(ends) > 1e-9)]
        return plane_stations(ends, np.full(len(ends) - 1, 1.0))

    def _sweep(self, grid: SectionGrid) -> SweptMesh:
        first, last = self.before, self.before + self.length
        line = Centreline((Segment(0.0, last + self.after, (0.0, 0.0, 0.0), FRAME),))
        profile = Profile(1.0, flats=(FlatEnd(first, last, self.flat, across_first=True),))
        return sweep(grid=grid, profile=profile, centreline=line, stations=self._stations())

    @cached_property
    def whole(self) -> SweptMesh:
        return self._sweep(disc_grid(core=self.mesh.core, rings=self.mesh.rings, grading=self.mesh.grading))

    def solve(self) -> Array:
        """Displacements (planes, n, 3, 6) of the whole section under unit resultants at the transition's begin."""
        grid, copies, signs = _quarter(self.mesh)
        mesh = self._sweep(grid)
        planes, n = mesh.points.shape[:2]
        kinds, samples = slice_kinds(mesh)
        nodes, table = element_nodes(mesh), swept_table(mesh.grid.table)
        unknowns, elements = element_unknowns(nodes), []
        for sample in samples:
            at = mesh.points[2 * sample : 2 * sample + 3] - mesh.origins[2 * sample]
            elements.append(stiffness(at.reshape(3 * n, 3)[nodes], E_MPa=1.0, nu=self.nu, table=table))
        loads = self._loads(mesh)
        on_1, on_2 = (np.abs(grid.disc[:, axis]) < 1e-9 for axis in (0, 1))
        out = np.zeros((planes, len(copies), 3, 6))
        for name, cases in _CASES.items():
            held = np.zeros((n, 3), dtype=bool)
            for on, components in zip((on_1, on_2), _HELD[name], strict=True):
                for component in components:
                    held[on, component] = True
            free = np.flatnonzero(~held.ravel())
            # What is held goes to a last unknown, which is cut off: cells are summed into what is free alone.
            number = np.full((3, 3 * n), 3 * len(free))
            number[:, free] = np.arange(3 * len(free)).reshape(3, -1)
            of_free = number.ravel()[unknowns]

            def reduced(kind: int, of_free: Index = of_free, size: int = 3 * len(free) + 1) -> Array:
                return assembled(elements[kind], of_free, size)[:-1, :-1]

            condensed = [condense(reduced(kind)) for kind in range(len(elements))]
            of = kinds.tolist()
            for slice_, rows in self._pins(name, mesh, on_1 & on_2, on_2 & ~on_1, free):
                condensed.append(condense(reduced(int(kinds[slice_])) + rows.T @ rows))
                of[slice_] = len(condensed) - 1
            found = BlockFactor(condensed, of).solve(loads[:, free][..., list(cases)])
            full = np.zeros((planes, 3 * n, len(cases)))
            full[:, free] = found
            mirrored = full.reshape(planes, n, 3, -1)[:, copies] * signs[name][None, :, :, None]
            out[..., list(cases)] = mirrored
        return out

    def _pins(
        self, name: str, mesh: SweptMesh, centre: NDArray[np.bool_], side: NDArray[np.bool_], free: Index
    ) -> list[tuple[int, Array]]:
        """(slice, rows) of springs that take the rigid motions out; they carry nothing."""
        last = mesh.n_slices - 1
        node = int(np.flatnonzero(centre)[0])
        at = {
            "N": [(0, 0, node, 0)],
            "T": [(0, 0, int(np.flatnonzero(side)[-1]), 2)],
            "M_1": [(0, 0, node, 2), (last, 2, node, 2)],
            "M_2": [(0, 0, node, 1), (last, 2, node, 1)],
        }
        out = []
        for slice_, plane, where, axis in at[name]:
            rows = np.zeros((1, 3 * len(free)))
            rows[0, plane * len(free) + int(np.searchsorted(free, 3 * where + axis))] = 0.3
            out.append((slice_, rows))
        return out

    def _loads(self, mesh: SweptMesh) -> Array:
        """Forces (planes, 3 n, 6) on the quarter's ends: unit [N, V_1, V_2, T, M_1, M_2] at the transition's begin."""
        moments = mesh.section_moments()
        out = np.zeros((*mesh.points.shape[:2], 3, 6))
        for plane, sign in ((0, -1.0), (-1, 1.0)):
            w, w1, w2 = np.moveaxis(moments[plane], -1, 0)
            y1, y2 = mesh.across[plane, :, 0], mesh.across[plane, :, 1]
            area, second_1, second_2 = w.sum(), (w2 * y2).sum(), (w1 * y1).sum()
            quarter = 0.25 * sign
            arm = float(mesh.stations[plane]) - self.before
            here = out[plane]
            here[:, 0, 0] = quarter * w / area
            here[:, 0, 4] = quarter * w2 / second_1
            here[:, 0, 5] = -quarter * w1 / second_2
            here[:, 1, 3], here[:, 2, 3] = (
                -quarter * w2 / (second_1 + second_2),
                quarter * w1 / (second_1 + second_2),
            )
            # A force at the station of the transition's begin, carried to the end it acts on.
            here[:, 1, 1] = quarter * w / area
            here[:, 2, 2] = quarter * w / area
            here[:, 0, 1] = -arm * here[:, 0, 5]
            here[:, 0, 2] = arm * here[:, 0, 4]
        return out.reshape(len(out), -1, 6)

    def surface(self, angles: Array) -> SurfaceStress:
        """Stress (stations, angles, 3, 6) on the surface per unit resultant of the same station, stations from the
        transition's begin; E = 1, diameter 1."""
        mesh = self.whole
        found = surface_stress(
            mesh,
            self.solve(),
            nodes=mesh.grid.outer,
            angles=angles,
            E_MPa=1.0,
            nu=self.nu,
            smooth=~(mesh.stations[0:-2:2] < self.before + self.length - 1e-6),
        )
        stations = found.stations - self.before
        values = found.values.copy()
        # With forces said at zero, M_2 = -V_1 s and M_1 = V_2 s: taken out, per unit of the local resultant.
        values[..., 1] += stations[:, None, None] * found.values[..., 5]
        values[..., 2] -= stations[:, None, None] * found.values[..., 4]
        return SurfaceStress(stations, found.angles, values)


def _growing(first: float, most: float, length: float) -> Array:
    """Ends of slices over a `length`, each at most twice the one before and none much longer than `most`."""
    if length <= 1e-9:
        return np.zeros(0)
    sizes: list[float] = []
    while sum(sizes) < length * (1.0 - 1e-9):
        sizes.append(min(first * 2.0 ** (len(sizes) + 1), most))
    return np.asarray(np.cumsum(sizes) * (length / sum(sizes)))


def quarter_angles(count: int) -> Array:
    """Angles (count / 4 + 1,) from axis 1 to axis 2 that are the first quarter of `count` even ones."""
    return 2.0 * np.pi * np.arange(count // 4 + 1) / count


def _quarter(mesh: Fineness) -> tuple[SectionGrid, Index, dict[str, Array]]:
    """Grid of the quarter y_1, y_2 >= 0, which of its nodes each of the whole's is a mirror image of, and its signs."""
    grid = disc_grid(core=mesh.core, rings=mesh.rings, grading=mesh.grading)
    middle = grid.disc[grid.cells].mean(axis=1)
    cells = grid.cells[(middle > 0.0).all(axis=1)]
    kept = np.unique(cells)
    number = np.full(grid.size, -1)
    number[kept] = np.arange(len(kept))
    folded = np.abs(grid.disc)
    apart = np.abs(folded[:, None] - grid.disc[kept]).max(axis=-1)
    copies = apart.argmin(axis=1)
    if apart.min(axis=1).max() > 1e-9:
        raise ValueError("the section's grid has no planes of symmetry")
    outer = grid.outer[np.isin(grid.outer, kept)]
    quarter = SectionGrid(
        cells=number[cells],
        disc=grid.disc[kept],
        square=grid.square[kept],
        angles=grid.angles[np.isin(grid.outer, kept)],
        outer=number[outer],
        bore=np.empty(0, dtype=np.intp),
    )
    flipped = [np.where(grid.disc[:, axis] < -1e-12, -1.0, 1.0) for axis in (0, 1)]
    signs = {}
    for name, (odd_1, odd_2) in {"N": (0, 0), "M_1": (0, 1), "M_2": (1, 0), "T": (1, 1)}.items():
        sign = np.ones((grid.size, 3))
        for odd, axis in ((odd_1, 0), (odd_2, 1)):
            # A mirror image turns the component across its plane; of an odd motion it turns everything once more.
            image = np.ones((grid.size, 3))
            image[:, axis + 1] = flipped[axis]
            sign *= image * (flipped[axis][:, None] if odd else 1.0)
        signs[name] = sign
    return quarter, copies, signs
