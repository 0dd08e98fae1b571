"""Bends of a bar as a solid from scikit-fem's own mesh, element and assembly: an independent solution.

Nothing here is shared with `barfem.solve.solid`: the centreline is walked here, the section is mapped here, the mesh,
the 27-node hexahedra, their stiffness and their strains are scikit-fem's. Six loads act on the last section, balanced
on the first, as tractions of the straight bar (linear stress, torsion in proportion to the radius, shear force spread
evenly): what they do beside that dies away in the straight run-outs.

    python -m tests.validation.skfem_bends        # the tables of `test_groups.py` and `test_solid_error.py`; minutes
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.linalg
import scipy.sparse
import skfem
from scipy.interpolate import CubicSpline

from tests.validation.slices import solve_by_slices

Array = np.ndarray
NU = 0.3


@dataclass(frozen=True)
class Path:
    """Bends (radius, angle in rad, direction in rad, wall outside, wall inside) and straights, in diameters.

    `wall` None for a solid bar. Walls as bent are t_o on the outside and t_i inside, their fade half a cosine over a
    quarter of a diameter on either side of a tangent; `even` keeps the tube's own wall.
    """

    bends: tuple[tuple[float, float, float], ...]
    gaps: tuple[float, ...]
    wall: float | None
    run_out: float
    even: bool = False
    ovality: float = 0.0

    @property
    def lengths(self) -> list[tuple[float, int | None]]:
        out: list[tuple[float, int | None]] = [(self.run_out, None)]
        for number, (radius, angle, _) in enumerate(self.bends):
            out.append((radius * angle, number))
            straight = self.gaps[number] if number < len(self.gaps) else self.run_out
            if straight > 0.0:
                out.append((straight, None))
        return out

    def spans(self) -> list[tuple[float, float]]:
        """Stations of each bend."""
        found, at = [], 0.0
        for length, number in self.lengths:
            if number is not None:
                found.append((at, at + length))
            at += length
        return found

    def frames(self, stations: Array) -> tuple[Array, Array]:
        """Points (n, 3) and rows t, a, b (n, 3, 3), carried along without twist."""
        points, frames = np.zeros((len(stations), 3)), np.zeros((len(stations), 3, 3))
        at, point, frame = 0.0, np.zeros(3), np.eye(3)
        for length, number in self.lengths:
            here = (stations >= at - 1e-12) & (stations <= at + length + 1e-12)
            ends = np.append(stations[here] - at, length)
            if number is None:
                p, f = point + ends[:, None] * frame[0], np.repeat(frame[None], len(ends), axis=0)
            else:
                radius, _, way = self.bends[number]
                t, a, b = frame
                n = np.cos(way) * a + np.sin(way) * b
                m = np.cross(t, n)
                c, s = np.cos(ends / radius)[:, None], np.sin(ends / radius)[:, None]
                p = point + radius * (s * t + (1.0 - c) * n)
                turned, inward = c * t + s * n, c * n - s * t
                # a and b turn with the inward direction; the binormal m stays.
                f = np.stack([turned, (a @ n) * inward + (a @ m) * m, (b @ n) * inward + (b @ m) * m], axis=1)
            points[here], frames[here] = p[:-1], f[:-1]
            at, point, frame = at + length, p[-1], f[-1]
        return points, frames

    def walls(self, stations: Array, angles: Array) -> tuple[Array, Array]:
        """Outer radius and wall at stations and angles (n,) of a tube: thinned outside, thickened inside."""
        t = float(self.wall or 0.0)
        outer, wall = np.full(len(stations), 0.5), np.full(len(stations), t)
        mid = 0.5 * (1.0 - t)

        def eased(x: Array) -> Array:
            return 0.5 - 0.5 * np.cos(np.pi * np.clip(x, 0.0, 1.0))

        for (radius, _, way), (low, high) in zip(self.bends, self.spans(), strict=True):
            weight = eased((stations - low + 0.25) / 0.5) * eased((high + 0.25 - stations) / 0.5)
            from_inside = angles - way
            outer = outer - 0.25 * self.ovality * weight * np.cos(2.0 * from_inside)
            if not self.even:
                wall = wall + weight * t * (radius / (radius - mid * np.cos(from_inside)) - 1.0)
        return outer, wall


def _stations(path: Path, bend: float, straight: float) -> Array:
    """Ends of the slices: short in bends and within a diameter of them, longer further out."""
    edges = [0.0]
    for length, number in path.lengths:
        low = edges[-1]
        parts = [(length, bend)]
        if number is None and length > 2.2:
            outer = low == 0.0 or np.isclose(low + length, sum(one for one, _ in path.lengths))
            first = low == 0.0
            parts = [(length - 1.0, straight), (1.0, bend)] if first else [(1.0, bend), (length - 1.0, straight)]
            if not outer:
                parts = [(length, bend)]
        for size, step in parts:
            count = max(1, int(np.ceil(size / step - 1e-9)))
            edges += list(edges[-1] + size * np.arange(1, count + 1) / count)
    return np.array(edges)


def _blocks(path: Path, cells: tuple[int, int], edges: Array):  # type: ignore[no-untyped-def]
    """Tensor meshes and their maps (u, v, s) to (x, y) across and the station."""
    around, deep = cells
    if path.wall is not None:
        mesh = skfem.MeshHex.init_tensor(
            np.linspace(0.0, 1.0, deep + 1), np.linspace(0.0, 2.0 * np.pi, around + 1), edges
        )

        def ring(u: Array, v: Array, s: Array) -> Array:
            outer, wall = path.walls(s, v)
            radius = outer - (1.0 - u) * wall
            return np.stack([radius * np.cos(v), radius * np.sin(v)])

        return [(mesh, ring, lambda u, v: np.isclose(u, 1.0), lambda u, v: np.isclose(u, 0.0))]
    core, rim = 0.28, np.pi / 4.0
    line = np.linspace(-1.0, 1.0, around // 4 + 1)
    out = []
    inner = skfem.MeshHex.init_tensor(line, line, edges)

    def middle(u: Array, v: Array, s: Array) -> Array:
        bulge = 0.15
        return core * np.stack([u * (1.0 + bulge * (1.0 - v**2)), v * (1.0 + bulge * (1.0 - u**2))])

    out.append((inner, middle, lambda u, v: np.zeros(u.shape, bool), None))
    for quarter in range(4):
        mesh = skfem.MeshHex.init_tensor(np.linspace(0.0, 1.0, deep + 1), line, edges)

        def side(u: Array, v: Array, s: Array, quarter: int = quarter) -> Array:
            one = np.ones_like(v)
            base = middle(one, v, s)
            edge = 0.5 * np.stack([np.cos(rim * v), np.sin(rim * v)])
            x, y = (1.0 - u) * base + u * edge
            turn = 0.5 * np.pi * quarter
            return np.stack([np.cos(turn) * x - np.sin(turn) * y, np.sin(turn) * x + np.cos(turn) * y])

        out.append((mesh, side, lambda u, v: np.isclose(u, 1.0), None))
    return out


def _stiffness(basis):  # type: ignore[no-untyped-def]
    """Stiffness of a scalar basis's unknowns times three, component fastest: of the gradients' nine products."""
    lam, mu = NU / (1.0 + NU) / (1.0 - 2.0 * NU), 0.5 / (1.0 + NU)
    products = {}
    for i, j in ((0, 0), (1, 1), (2, 2), (0, 1), (0, 2), (1, 2)):

        @skfem.BilinearForm
        def product(u, v, w, i=i, j=j):  # type: ignore[no-untyped-def]
            return v.grad[i] * u.grad[j]

        products[i, j] = product.assemble(basis)
        products[j, i] = products[i, j].T
    trace = products[0, 0] + products[1, 1] + products[2, 2]
    rows = [
        [lam * products[i, j] + mu * products[j, i] + (mu * trace if i == j else 0.0 * trace) for j in range(3)]
        for i in range(3)
    ]
    return scipy.sparse.bmat(rows, format="csr")


class Solution:
    """The six displacements of a path, and what can be read from them."""

    def __init__(self, path: Path, *, cells: tuple[int, int], bend: float, straight: float = 0.5) -> None:
        self.path = path
        edges = _stations(path, bend, straight)
        element = skfem.ElementHex2()
        self.blocks, first, matrices, places = [], 0, [], []
        for mesh, across, outside, bore in _blocks(path, cells, edges):
            quadratic = skfem.MeshHex2.from_mesh(mesh)
            u, v, s = quadratic.doflocs
            xy = across(u, v, s)
            points, frames = path.frames(s)
            true = points + xy[0][:, None] * frames[:, 1] + xy[1][:, None] * frames[:, 2]
            bent = skfem.MeshHex2(true.T, quadratic.t)
            basis = skfem.Basis(bent, element, intorder=4)
            flat = skfem.Basis(quadratic, element, intorder=1)
            matrices.append(_stiffness(basis))
            places.append(np.vstack([basis.doflocs, flat.doflocs[2]]))
            self.blocks.append((bent, quadratic, outside, bore, first, basis))
            first += basis.N
        place = np.concatenate(places, axis=1)
        # Blocks, and a ring with itself, meet where nodes stand at one place.
        _, index, self.weld = np.unique(np.round(place[:3], 8), axis=1, return_index=True, return_inverse=True)
        self.weld = self.weld.ravel()
        count = len(index)
        whole = 0.0
        for matrix, (*_, start, basis) in zip(matrices, self.blocks, strict=True):
            nodes = self.weld[start : start + basis.N]
            to = scipy.sparse.csr_matrix((np.ones(basis.N), (np.arange(basis.N), nodes)), (basis.N, count))
            to = scipy.sparse.block_diag([to] * 3, format="csr")
            whole = whole + to.T @ matrix @ to
        self.edges, station = edges, np.tile(place[3, index], 3)
        self.position, self.component = np.tile(place[:3, index], 3), np.repeat(np.arange(3), count)
        loads = self._loads(count)
        self.u = solve_by_slices(whole.tocsr(), loads, station, edges, self.position, self.component)
        self.u = self.u.reshape(3, count, 6)

    def _loads(self, count: int) -> Array:
        """Six loads (n, 6) at the last tangent, in that section's axes, balanced at the first end."""
        ends = []
        for station in (self.edges[-1], self.edges[0]):
            point, frame = (x[0] for x in self.path.frames(np.array([station])))

            def modes(x: Array, point: Array = point, frame: Array = frame) -> list[Array]:
                arm = x - point[:, None, None]
                a, b = np.einsum("x,x...->...", frame[1], arm), np.einsum("x,x...->...", frame[2], arm)
                t, fa, fb = (row[:, None, None] for row in frame)
                one = np.ones_like(a)
                return [t * one, fa * one, fb * one, -fa * b + fb * a, t * b, -t * a]

            columns = np.zeros((3, count, 6))
            for mesh, flat, _, _, first, basis in self.blocks:
                facets = flat.facets_satisfying(lambda x, s=station: np.isclose(x[2], s))
                face = skfem.FacetBasis(mesh, basis.elem, facets=facets, intorder=4)
                nodes = self.weld[first : first + basis.N]
                for k, axis in np.ndindex(6, 3):

                    @skfem.LinearForm
                    def traction(v, w, k=k, axis=axis, modes=modes):  # type: ignore[no-untyped-def]
                        return modes(w.x)[k][axis] * v

                    np.add.at(columns[axis, :, k], nodes, traction.assemble(face))
            columns = columns.reshape(3 * count, 6)
            ends.append(columns)
        # What each traction amounts to about the last tangent, in that section's axes, and the six of unit size.
        far, frame = (x[0] for x in self.path.frames(np.array([self.path.spans()[-1][1]])))
        out = np.zeros((3 * count, 6))
        for columns, sign in zip(ends, (1.0, -1.0), strict=True):
            out += sign * columns @ np.linalg.inv(self._wrench(columns, far, frame))
        return out

    def _wrench(self, columns: Array, about: Array, frame: Array) -> Array:
        found = np.zeros((6, columns.shape[1]))
        for axis in range(3):
            mine = self.component == axis
            arm = self.position[:, mine] - about[:, None]
            unit = np.eye(3)[axis]
            found[axis] = columns[mine].sum(axis=0)
            found[3:] += np.cross(arm.T, unit).T @ columns[mine]
        return np.kron(np.eye(2), frame) @ found

    def surface(self, *, bore: bool = False) -> tuple[Array, Array, Array]:
        """Stations (s,), angles (o,) from a towards b, and stress (s, o, 3, cases): along, round, shear.

        The surface is free: its stress is plane and follows from the strain in it, read where that is best, at the
        two Gauss stations of each slice and Gauss angles of each cell.
        """
        gauss = np.array([0.5 - 0.5 / np.sqrt(3.0), 0.5 + 0.5 / np.sqrt(3.0)])
        found: list[tuple[Array, Array, Array]] = []
        for mesh, flat, outside, inside, first, basis in self.blocks:
            which = inside if bore else outside
            if which is None:
                continue
            corner = flat.p[:, flat.t[:8]]
            chosen = np.flatnonzero(which(corner[0], corner[1]).sum(axis=0) == 4)
            if not len(chosen):
                continue
            # The reference axes of a cell, whichever way scikit-fem numbers it, by where they lead.
            local = np.array([[a, b, c] for a in (0.0, 1.0) for b in gauss for c in gauss]).T
            map_flat = flat.mapping()
            for order in ((0, 1, 2), (0, 2, 1), (1, 0, 2), (1, 2, 0), (2, 0, 1), (2, 1, 0)):
                points = local[list(order)]
                at = map_flat.F(points, tind=chosen)
                keep = np.isclose(at[0], 0.0 if bore else 1.0)
                if np.all(keep.sum(axis=1) == 4):
                    break
            for side in (slice(0, 4), slice(4, 8)):
                cells = chosen[keep[:, side].all(axis=1)]
                if not len(cells):
                    continue
                where = points[:, side]
                here = skfem.Basis(mesh, basis.elem, elements=cells, quadrature=(where, np.ones(4)))
                s = map_flat.F(where, tind=cells)[2].ravel()
                x = mesh.mapping().F(where, tind=cells).reshape(3, -1)
                point, frames = self.path.frames(s)
                along, round_ = [k for k in range(3) if order[k] != 0]
                jacobian = mesh.mapping().DF(where, tind=cells).reshape(3, 3, -1)
                normal = np.cross(jacobian[:, along].T, jacobian[:, round_].T)
                normal /= np.linalg.norm(normal, axis=1, keepdims=True)
                first_axis = frames[:, 0] - np.sum(frames[:, 0] * normal, axis=1, keepdims=True) * normal
                first_axis /= np.linalg.norm(first_axis, axis=1, keepdims=True)
                plane = np.stack([first_axis, np.cross(normal, first_axis)])
                values = []
                for case in range(6):
                    own = self.u[:, self.weld[first : first + basis.N], case]
                    g = np.stack([np.asarray(here.interpolate(one).grad).reshape(3, -1) for one in own])
                    e = np.einsum("inx,xyn,jny->ijn", plane, 0.5 * (g + np.swapaxes(g, 0, 1)), plane)
                    e11, e22, shear = e[0, 0], e[1, 1], 2.0 * e[0, 1]
                    factor = 1.0 / (1.0 - NU * NU)
                    values.append([factor * (e11 + NU * e22), factor * (e22 + NU * e11), 0.5 / (1.0 + NU) * shear])
                arm = x.T - point
                angle = np.arctan2(np.sum(arm * frames[:, 2], axis=1), np.sum(arm * frames[:, 1], axis=1))
                found.append((s, np.mod(angle, 2.0 * np.pi), np.array(values)))
        s, angle, values = (np.concatenate([one[k] for one in found], axis=-1) for k in range(3))
        order = np.lexsort((np.round(angle, 6), np.round(s, 6)))
        stations = np.unique(np.round(s, 6))
        shape = (len(stations), -1)
        values = values[:, :, order].transpose(2, 1, 0).reshape(*shape, 3, 6)
        return stations, angle[order].reshape(shape)[0], values

    def peaks(self, far_loads: Array) -> Array:
        """Greatest von Mises stress (n_bends, cases) on the surface of each bend, tangents included.

        `far_loads` (6, cases): force and moment on the last tangent's section, in its axes.
        """
        sides = (False, True) if self.path.wall is not None else (False,)
        return np.max([self.peaks_of(far_loads, bore=bore) for bore in sides], axis=0)

    def peaks_of(self, far_loads: Array, *, bore: bool) -> Array:
        """The same of the outside, or of the bore alone."""
        stations, angles, values = self.surface(bore=bore)
        round_ = np.append(angles, angles[0] + 2.0 * np.pi)
        every = angles[0] + 2.0 * np.pi * np.arange(144) / 144
        stress = np.einsum("sokc,cl->sokl", values, far_loads)
        # Stress jumps with the curvature at a tangent, hardly; a spline along each fibre carries it there.
        spline = CubicSpline(stations, stress, axis=0)
        out = []
        for low, high in self.path.spans():
            here = spline(np.linspace(low, high, 61))
            closed = np.concatenate([here, here[:, :1]], axis=1)
            x, y, shear = np.moveaxis(CubicSpline(round_, closed, axis=1, bc_type="periodic")(every), 2, 0)
            squares = x * x - x * y + y * y + 3.0 * shear**2
            out.append(np.sqrt(squares.max(axis=(0, 1))))
        return np.array(out)


def _cells(wall: float | None) -> tuple[int, int]:
    """Fine enough for half a per cent; a wall's ovalising asks for cells not much longer than it is thick."""
    if wall is None:
        return 16, 1
    return next(
        cells
        for thickest, cells in ((0.1, (36, 2)), (0.15, (24, 2)), (0.22, (20, 2)), (0.5, (16, 3)))
        if wall < thickest
    )


def main() -> None:
    """Print the greatest stress of each bend of the right arm of every bar of `test_groups`."""
    from barfem.check.solved import solve_states
    from tests.validation.bent_bars import bent_bar
    from tests.validation.test_groups import BARS

    for name, (bent, _) in BARS.items():
        found = solve_states(bent_bar(name, bent), cases=("roll",))
        d = bent.diameter
        tangent = found.bar.centreline.bends[len(bent.bends) - 1].end_station_mm
        there = int(np.argmin(np.abs(found.samples.station_mm - tangent)))
        loads = found.resultants[-1, :, there].T / d ** np.array([2.0, 2.0, 2.0, 3.0, 3.0, 3.0])[:, None]
        wall = None if bent.wall is None else bent.wall / d
        bends = tuple((r / d, float(np.radians(a)), float(np.radians(w))) for r, a, w in bent.bends)
        run_out = 1.2 if wall is None else 2.5 if wall < 0.1 else 2.0
        path = Path(bends, tuple(gap / d for gap in bent.gaps), wall, run_out)
        theirs = Solution(path, cells=_cells(wall), bend=0.22 if wall else 0.2).peaks(loads).max(axis=1)
        print(f"{name}: {np.round(theirs, 1).tolist()}", flush=True)
    _single_bends()


def _single_bends() -> None:
    """Greatest stress outside and in the bore of the bends of `test_solid_error` under unit moments."""
    from tests.validation.test_solid_error import BENDS, MOMENTS, path_of

    cells = ((0.1, (36, 2)), (0.15, (28, 2)), (0.2, (24, 2)), (0.5, (20, 3)))
    for bend in BENDS:
        found = Solution(path_of(bend), cells=next(some for most, some in cells if bend[2] < most), bend=0.24)
        theirs = [np.round(found.peaks_of(MOMENTS, bore=bore)[0], 4).tolist() for bore in (False, True)]
        print(f"{bend}: {theirs}", flush=True)


if __name__ == "__main__":
    main()
