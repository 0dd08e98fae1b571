"""A long flat with one or two holes on its middle as a three-dimensional solid, and the stress on their walls.

Second-order hexahedra of scikit-fem on a quarter of the flat: width and thickness are halved by symmetry, and each load
is symmetric or antisymmetric about either middle plane, so four factorisations serve all loads. x runs along the bar
towards the tip, y across the width, z along the hole; lengths are in hole diameters and E is 1. The inboard end is
held, the outboard one is free: it carries the six resultants that pass an unused hole, or nothing, where a bolt loads
the hole.

A bolt presses the wall radially, as the cosine of the angle from its force over the half that it faces, evenly through
the depth (the usual pin distribution). In powers of the angle that is 1 / pi + cos / 2 + 2 cos 2u / (3 pi) -
2 cos 4u / (15 pi): the second term is linear in the force; the others keep their sign when it turns, and are loads of
their own. A force along the hole and moments across it come in through the `clamped` faces, half on each: pressure on
a ring under a bare nut, even for the force and in proportion to the distance for a moment, fading over its outer fifth;
else, where the joint is loose, by the wall: a moment as pressure in proportion to the height, a force as shear there. A
moment about the hole's axis comes in by friction of the faces.

Stress on a wall is taken from its own displacements, differentiated round the hole by their Fourier series and along it
by a polynomial, with the traction that acts there: nothing is extrapolated from within.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import field
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from barfem.model.frozen import frozen
from barfem.solve.solid.flat_mesh import Mesh, hexahedra, plane_quads
from barfem.solve.solid.hexahedra import gauss, reference_nodes, shapes, stiffness

__all__ = ["BEARING", "LOADS", "PARITY", "DrilledFlat", "Load", "Mesh"]

Array = NDArray[np.float64]
Parity = tuple[int, int]

LOADS = ("N", "V_1", "V_2", "T", "M_1", "M_2")
BEARING = ("round", "cos 2u", "sin 2u", "cos 4u", "sin 4u")
"""What a bolt's pressure has beside its cosine: each times the size of the force, in the force's direction u."""

_SHARES = {"round": 1.0 / np.pi, "cos 2u": 2.0 / (3.0 * np.pi), "cos 4u": -2.0 / (15.0 * np.pi)}
# Even (1) or odd (-1) in y and in z, as the stress along the bar is.
PARITY: dict[str, Parity] = {
    "N": (1, 1),
    "V_1": (1, -1),
    "V_2": (-1, 1),
    "T": (-1, -1),
    "M_1": (-1, 1),
    "M_2": (1, -1),
    "round": (1, 1),
    "cos 2u": (1, 1),
    "sin 2u": (-1, 1),
    "cos 4u": (1, 1),
    "sin 4u": (-1, 1),
}
RING = 0.75
"""Outer radius of what clamps a hole, in hole diameters: a bare nut's bearing face. A washer spreads more."""

HARMONICS = {"round": 0, "cos 2u": 2, "sin 2u": 2, "cos 4u": 4, "sin 4u": 4}


@frozen
class Load:
    """A unit load: at the outboard end (`hole` None), or at hole A (0) or B (1), through its clamped faces or not."""

    name: str
    hole: int | None = None
    clamped: bool = False

    @property
    def on_face(self) -> bool:
        return self.name == "M_1" or (self.clamped and self.name in ("V_1", "T", "M_2"))


@frozen
class DrilledFlat:
    """Hole A at x = 0, B `pitch` inboard of it; `tip` is A's distance to the end. All in hole diameters; None: far.

    A flat's end is square.
    """

    width: float
    thickness: float
    tip: float | None = None
    pitch: float | None = None
    nu: float = 0.3
    mesh: Mesh = field(default_factory=Mesh)

    @property
    def holes(self) -> tuple[float, ...]:
        return (0.0,) if self.pitch is None else (0.0, -self.pitch)

    @cached_property
    def levels(self) -> Array:
        """Heights of node layers over half the thickness, finer towards the face."""
        corner = 1.0 - (1.0 - np.linspace(0.0, 1.0, self.mesh.layers + 1)) ** self.mesh.grading
        return np.sort(np.concatenate([corner, 0.5 * (corner[1:] + corner[:-1])]))

    @cached_property
    def _dofs(self) -> tuple[Array, NDArray[np.intp]]:
        plane = plane_quads(width=self.width, holes=self.holes, tip=self.tip, mesh=self.mesh)
        return hexahedra(plane, heights=self.levels[::2] * 0.5 * self.thickness, holes=self.holes)

    @property
    def _nodes(self) -> Array:
        return self._dofs[0]

    @cached_property
    def _stiffness(self) -> Any:
        return stiffness(*self._dofs, nu=self.nu)

    def _spread(self, on: tuple[str, int], traction: Any) -> Array:
        """Nodal forces (3, nodes) of a traction (3, ...), a function of points (3, ...), on the outboard "end", on the
        "wall" of a hole, or on the "face" round it.
        """
        at, dofs = self._dofs
        out = np.zeros(at.shape)
        where, number = on
        hole = self.holes[number]
        reference = reference_nodes()
        square, weights = gauss(4, plane=True)
        for axis, value in ((0, 0.0), (0, 1.0), (1, 0.0), (1, 1.0), (2, 0.0), (2, 1.0)):
            local = np.flatnonzero(np.abs(reference[axis] - value) < 1e-9)
            x = at[:, dofs[local]]  # (3, 9, cells)
            r = np.hypot(x[0] - hole, x[1])
            if where == "end":
                chosen = (x[0] > at[0].max() - 1e-8).all(axis=0)
            elif where == "wall":
                chosen = (np.abs(r - 0.5) < 1e-8).all(axis=0)
            else:
                chosen = (x[2] > 0.5 * self.thickness - 1e-8).all(axis=0) & (r.min(axis=0) < RING)
            if not chosen.any():
                continue
            points = np.insert(square, axis, value, axis=0)
            shape, slope = shapes(points)
            along = np.delete(slope, axis, axis=1)
            cells = at[:, dofs[:, chosen]]
            tangents = np.einsum("aic,ibq->bcqa", cells, along, optimize=True)
            area = np.linalg.norm(np.cross(tangents[0], tangents[1]), axis=-1) * weights
            acting = traction(np.einsum("aic,iq->acq", cells, shape, optimize=True))
            forces = np.einsum("acq,cq,iq->aic", np.broadcast_to(acting, (3, *area.shape)), area, shape, optimize=True)
            for direction in range(3):
                np.add.at(out[direction], dofs[:, chosen], forces[direction])
        return out

    def _far(self, name: str) -> Array:
        """Tractions on the outboard end whose resultant at hole A is 1; of the quarter."""
        x_end = float(self._nodes[0].max())
        h, t = self.width, self.thickness
        area = h * t

        def traction(x: Array) -> Array:
            y, z, zero = x[1], x[2], np.zeros_like(x[0])
            parabola_y, parabola_z = 1.5 * (1.0 - (2.0 * y / h) ** 2), 1.5 * (1.0 - (2.0 * z / t) ** 2)
            # Axis 1 is -z, axis 2 is y; M_1 stretches the side of +y, M_2 that of +z (minus axis 1).
            if name == "N":
                return np.stack([zero + 1.0 / area, zero, zero])
            if name == "M_1":
                return np.stack([12.0 * y / (t * h**3), zero, zero])
            if name == "M_2":
                return np.stack([12.0 * z / (h * t**3), zero, zero])
            if name == "V_2":  # with the moment that makes it a pure shear force at the hole
                return np.stack([x_end * 12.0 * y / (t * h**3), parabola_y / area, zero])
            if name == "V_1":
                return np.stack([-x_end * 12.0 * z / (h * t**3), zero, -parabola_z / area])
            # Torque: each half of it by either pair of shears; what differs from Saint-Venant's dies out.
            return np.stack([zero, -6.0 * z * parabola_y / (t**2 * area), 6.0 * y * parabola_z / (h**2 * area)])

        return self._spread(("end", 0), traction)

    def _on_wall(self, number: int, name: str) -> Array:
        """A bolt's traction on the wall; of the quarter."""
        hole = self.holes[number]

        def traction(x: Array) -> Array:
            u = np.arctan2(x[1], x[0] - hole)
            p = self.pressure(name, u, x[2])
            rubbed = np.full_like(p, -1.0 / (np.pi * self.thickness) if name == "V_1" else 0.0)
            return np.stack([p * np.cos(u), p * np.sin(u), rubbed])

        return self._spread(("wall", number), traction)

    def pressure(self, name: str, u: Array, z: Array) -> Array:
        """Pressure on a wall at angles `u` and heights `z` under a load of unit size."""
        if name in ("T", "M_2"):
            return np.asarray(24.0 / (np.pi * self.thickness**3) * z * (-np.sin(u) if name == "T" else np.cos(u)))
        full = 4.0 / (np.pi * self.thickness)  # greatest pressure under a unit force on the half it faces
        if name in ("N", "V_2"):
            return np.asarray(full * 0.5 * (np.cos(u) if name == "N" else np.sin(u)))
        if name not in HARMONICS:
            return np.zeros_like(u + z)
        k = HARMONICS[name]
        share = _SHARES[name.replace("sin", "cos")]
        return np.asarray(full * share * (np.sin(k * u) if name.startswith("sin") else np.cos(k * u)))

    def _shape_on_face(self, hole: float, name: str, x: Array) -> Array:
        r = np.hypot(x[0] - hole, x[1])
        taper = np.clip((RING - r) / (0.2 * RING), 0.0, 1.0)
        zero = np.zeros_like(r)
        if name == "V_1":
            return np.stack([zero, zero, -taper])
        if name == "T":
            return np.stack([zero, zero, taper * x[1]])
        if name == "M_2":
            return np.stack([zero, zero, -taper * (x[0] - hole)])
        taper = taper * (r - 0.5)
        return np.stack([-taper * x[1] / r, taper * (x[0] - hole) / r, zero])  # M_1

    def _on_face(self, number: int, name: str) -> tuple[Array, float]:
        """Pressure of a clamped ring, of the quarter, and what the shape was divided by for unit resultant."""
        hole = self.holes[number]
        out = self._spread(("face", number), lambda x: self._shape_on_face(hole, name, x))
        x, y = self._nodes[0] - hole, self._nodes[1]
        total = {
            "V_1": -out[2].sum(),
            "T": (y * out[2]).sum(),
            "M_2": -(x * out[2]).sum(),
            "M_1": (y * out[0] - x * out[1]).sum(),
        }[name]
        size = 4.0 * float(total)
        return out / size, size

    @cached_property
    def _boundary(self) -> tuple[NDArray[np.bool_], NDArray[np.bool_], NDArray[np.bool_]]:
        x, y, z = self._nodes
        return x < x.min() + 1e-8, y < 1e-8, z < 1e-8

    def solve(self, loads: Sequence[Load]) -> list[Array]:
        """Displacements (3, nodes) under each of `loads`: (name, number of the hole, or None for the outboard end)."""
        from scipy.sparse.linalg import splu

        held, on_y, on_z = self._boundary
        out: list[Array] = [np.zeros(0)] * len(loads)
        for parity in sorted({PARITY[load.name] for load in loads}):
            which = [i for i, load in enumerate(loads) if PARITY[load.name] == parity]
            fixed = np.zeros(self._nodes.shape, dtype=bool)
            fixed[:, held] = True
            fixed[1 if parity[0] > 0 else slice(0, 3, 2), on_y] = True
            fixed[2 if parity[1] > 0 else slice(0, 2), on_z] = True
            free = np.flatnonzero(~fixed.T.ravel())
            right = np.stack([self._load(loads[i]).T.ravel()[free] for i in which], axis=1)
            matrix = self._stiffness[free][:, free].tocsc()
            factor = splu(matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})
            found = factor.solve(right)
            for column, i in enumerate(which):
                whole = np.zeros(self._nodes.size)
                whole[free] = found[:, column]
                out[i] = whole.reshape(-1, 3).T
        return out

    def _load(self, load: Load) -> Array:
        if load.hole is None:
            return self._far(load.name)
        return self._on_face(load.hole, load.name)[0] if load.on_face else self._on_wall(load.hole, load.name)

    @cached_property
    def _walls(self) -> list[NDArray[np.intp]]:
        """Nodes (levels, angles) of each hole's wall, angles from 0 to pi."""
        x, y, z = self._nodes
        out = []
        for hole in self.holes:
            on = np.flatnonzero(np.abs(np.hypot(x - hole, y) - 0.5) < 1e-8)
            level = np.abs(z[on, None] - 0.5 * self.thickness * self.levels).argmin(axis=1)
            out.append(on[np.lexsort((np.arctan2(y[on], x[on] - hole), level))].reshape(len(self.levels), -1))
        return out

    def wall_stress(self, displacement: Array, hole: int, load: Load) -> Array:
        """Stress (levels, angles, 3) on a hole's wall from z = 0 to the face, angles from 0 to pi.

        Round the hole, along it, and shear between the two (z, and the angle's direction), each of the first two less
        the radial stress: what a bolt's pressure adds to von Mises stress is then in them.
        """
        grid, nu, parity = self._walls[hole], self.nu, PARITY[load.name]
        n = grid.shape[1]
        u = np.linspace(0.0, np.pi, n)
        dx, dy, dz = displacement[:, grid]
        radial, along = dx * np.cos(u) + dy * np.sin(u), dy * np.cos(u) - dx * np.sin(u)
        a = 0.5
        hoop = (_round_slope(along, -parity[0]) + radial) / a
        z = self.levels * 0.5 * self.thickness
        # In z stress, and with it the motion in the plane, is even or odd; the motion along it the other way.
        in_z = 0 if parity[1] > 0 else 1
        axial = _slope(z, dz, 1 - in_z)
        sliding = _slope(z, along, in_z) + _round_slope(dz, parity[0]) / a
        pressure, pushed = np.zeros((len(z), n)), np.zeros(n)  # stress across the wall and, at its end, on the face
        if load.hole == hole:
            if load.on_face:
                at = np.stack([self.holes[hole] + a * np.cos(u), a * np.sin(u)])
                pushed = self._shape_on_face(self.holes[hole], load.name, at)[2]
                pushed = pushed / self._on_face(hole, load.name)[1]
            else:
                pressure = pressure - self.pressure(load.name, u, z[:, None])
        bulk = 1.0 / (1.0 - nu**2)
        out = np.empty((*hoop.shape, 3))
        out[..., 0] = bulk * (hoop + nu * axial) + nu / (1.0 - nu) * pressure
        out[..., 1] = bulk * (axial + nu * hoop) + nu / (1.0 - nu) * pressure
        out[..., 2] = 0.5 / (1.0 + nu) * sliding
        out[-1, :, 0] = hoop[-1] + nu * (pressure[-1] + pushed)
        out[-1, :, 1] = pushed
        out[-1, :, 2] = 0.0
        out[..., :2] -= pressure[..., None]
        return out


def _round_slope(values: Array, parity: int) -> Array:
    """Derivative by the angle of values (levels, angles 0 to pi), even or odd in it, by their Fourier series."""
    n = values.shape[1]
    whole = np.concatenate([values, parity * values[:, -2:0:-1]], axis=1)
    number = np.fft.rfftfreq(whole.shape[1], 1.0 / whole.shape[1])
    number[-1] = 0.0
    return np.asarray(np.fft.irfft(1j * number * np.fft.rfft(whole, axis=1), whole.shape[1], axis=1)[:, :n])


def _slope(z: Array, values: Array, odd: int) -> Array:
    """Derivative by z of values (levels, ...), even or odd in it, by the polynomial through them (or nearly so)."""
    height = z / z[-1]
    power = 2.0 * np.arange(len(z) - 1) + odd
    fit, *_ = np.linalg.lstsq(height[:, None] ** power, values, rcond=None)
    steep = power * height[:, None] ** np.maximum(power - 1.0, 0.0)
    return np.asarray(steep @ fit / z[-1])
