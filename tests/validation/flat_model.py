"""A flat with holes as a three-dimensional solid: scikit-fem's mesh and element, an outside truth for hole edges.

Recipe: a plate `length` x `width` x `thickness`, its holes through the thickness, in quadratic (27-node) hexahedra,
half the thickness modelled. In its plane the load is symmetric about the middle plane (u_z = 0 there), out of its plane
antisymmetric (u_x = u_y = 0 there). One end is held, the other is turned as a rigid plane, and the moment that takes is
the reaction of its nodes; both ends are more than a width away from the holes. At the edge where a hole's wall meets
the broad face only the stress round the hole is not zero, so it is E times the strain of that edge, which comes from
the displacements of its nodes by differentiating their Fourier series: no recovery from Gauss points is involved.

Axes: x along the bar, y across the flat's width, z along the hole.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from skfem import Basis, ElementHex2, MeshHex, MeshHex2, MeshQuad

from tests.validation.dissection import Dissection
from tests.validation.stiffness import stiffness

Array = NDArray[np.float64]
E_MPa, NU = 206000.0, 0.3


@dataclass(frozen=True)
class FlatModel:
    """Holes of `hole_mm` on the middle of the width, `pitch_mm` apart."""

    width_mm: float
    thickness_mm: float
    hole_mm: float
    pitch_mm: float
    holes: int = 3
    margin_mm: float = 60.0
    n_side: int = 8
    n_radial: int = 6
    n_layers: int = 3

    @property
    def length_mm(self) -> float:
        return 2.0 * self.margin_mm + self.pitch_mm * self.holes

    @property
    def centres_mm(self) -> Array:
        return np.asarray(self.margin_mm + self.pitch_mm * (np.arange(self.holes) + 0.5))

    @cached_property
    def mesh(self) -> MeshHex2:
        parts = [self._cell(float(x)) for x in self.centres_mm]
        across = self._across()
        n = max(4, round(self.margin_mm / self.width_mm * self.n_side))
        parts += [
            MeshQuad.init_tensor(np.linspace(start, start + self.margin_mm, n + 1), across)
            for start in (0.0, self.length_mm - self.margin_mm)
        ]
        points = np.concatenate([part.p for part in parts], axis=1)
        offsets = np.cumsum([0, *(part.p.shape[1] for part in parts[:-1])])
        quads = np.concatenate([part.t + offset for part, offset in zip(parts, offsets, strict=True)], axis=1)
        points, index = np.unique(np.round(points, 9), axis=1, return_inverse=True)
        plane = MeshQuad(points, index.ravel()[quads])
        z = np.linspace(0.0, 0.5 * self.thickness_mm, self.n_layers + 1)
        count = plane.p.shape[1]
        nodes = np.concatenate([np.vstack([plane.p, np.full(count, h)]) for h in z], axis=1)
        hexes = []
        for layer in range(self.n_layers):
            low, high = plane.t + layer * count, plane.t + (layer + 1) * count
            # scikit-fem's corner order: (0,0,0) (0,0,1) (0,1,0) (1,0,0) (0,1,1) (1,0,1) (1,1,0) (1,1,1).
            hexes.append(np.stack([low[0], high[0], low[3], low[1], high[3], high[1], low[2], high[2]]))
        mesh = MeshHex2.from_mesh(MeshHex(nodes, np.concatenate(hexes, axis=1)))
        at = mesh.doflocs.copy()
        for x in self.centres_mm:  # the wall's nodes between corners, onto the circle
            distance = np.hypot(at[0] - x, at[1])
            on = distance < 0.5 * self.hole_mm * (1.0 + 1e-9)
            at[0, on] = x + (at[0, on] - x) * 0.5 * self.hole_mm / distance[on]
            at[1, on] *= 0.5 * self.hole_mm / distance[on]
        return MeshHex2(at, mesh.t)

    def _across(self) -> Array:
        return np.asarray(np.linspace(-0.5, 0.5, self.n_side + 1) * self.width_mm)

    def _cell(self, x: float) -> MeshQuad:
        """A rectangle pitch x width with its hole: rings from the circle to the border, finer at the circle."""
        share = np.linspace(-1.0, 1.0, self.n_side + 1)[:-1]
        one = np.ones_like(share)
        border = np.concatenate(
            [np.stack([one, share]), np.stack([-share, one]), np.stack([-one, -share]), np.stack([share, -one])], axis=1
        ) * np.array([[0.5 * self.pitch_mm], [0.5 * self.width_mm]])
        around = border.shape[1]
        angle = 2.0 * np.pi * np.arange(around) / around - 0.25 * np.pi
        circle = 0.5 * self.hole_mm * np.stack([np.cos(angle), np.sin(angle)])
        grade = np.linspace(0.0, 1.0, self.n_radial + 1) ** 1.5
        rings = circle[:, None] + grade[None, :, None] * (border - circle)[:, None]
        points = rings.reshape(2, -1) + np.array([[x], [0.0]])
        i, j = np.meshgrid(np.arange(self.n_radial), np.arange(around), indexing="ij")
        k = (j + 1) % around
        quads = np.stack([i * around + j, (i + 1) * around + j, (i + 1) * around + k, i * around + k])
        return MeshQuad(points, quads.reshape(4, -1))

    @cached_property
    def basis(self) -> Basis:
        return Basis(self.mesh, ElementHex2(), intorder=5)

    @cached_property
    def nodes(self) -> Array:
        return np.asarray(self.basis.doflocs)

    @cached_property
    def stiffness(self) -> sp.csr_matrix:
        """The unknowns of node i are 3 i to 3 i + 2."""
        return stiffness(self.basis, E_MPa=E_MPa, nu=NU)

    @cached_property
    def parts(self) -> Dissection:
        return Dissection(self.nodes, self.stiffness)

    def solve(self, *, in_plane: bool, motions: list[Array]) -> tuple[Array, Array]:
        """Displacements (m, 3, nodes) for prescribed ones of the far end, and the nodal reactions, both of the half.

        A motion is an array (3, nodes), of which the nodes of the far end count.
        """
        x, _, z = self.nodes
        fixed = np.zeros((3, len(x)), dtype=bool)
        fixed[:, (x < 1e-6) | (x > self.length_mm - 1e-6)] = True
        middle = z < 1e-9
        fixed[2 if in_plane else slice(0, 2), middle] = True
        flags = fixed.T.ravel()
        far = x > self.length_mm - 1e-6
        given = np.stack([np.where(far, motion, 0.0).T.ravel() for motion in motions], axis=1)
        matrix = self.stiffness
        solution = given + self.parts.solve(flags, -(matrix @ given))
        shape = (len(x), 3, len(motions))
        reaction = np.where(far[:, None, None], (matrix @ solution).reshape(shape), 0.0)
        return solution.reshape(shape).transpose(2, 1, 0), reaction.transpose(2, 1, 0)

    def pressed(self, *, hole: int) -> Array:
        """Displacements (3, nodes) under a unit force across the bar, pressed on a hole's wall; held at x = 0 alone.

        Pressure goes as the cosine of the angle from the force over the half of the wall that it presses; nodal forces
        by Simpson's rule along and round the wall.
        """
        x, y, z = self.nodes
        centre, radius = self.centres_mm[hole], 0.5 * self.hole_mm
        on = np.flatnonzero(np.abs(np.hypot(x - centre, y) - radius) < 1e-9)
        angle = np.arctan2(y[on], x[on] - centre)
        step = 2.0 * np.pi / (4 * self.n_side)
        odd_round = np.round((angle + np.pi / 4.0) / (0.5 * step)).astype(int) % 2 == 1
        height = 0.5 * self.thickness_mm / self.n_layers
        level = np.round(z[on] / (0.5 * height)).astype(int)
        end = (level == 0) | (level == 2 * self.n_layers)
        area = np.where(odd_round, 4.0, 2.0) / 6.0 * step * radius
        area *= np.where(level % 2 == 1, 4.0, np.where(end, 1.0, 2.0)) / 6.0 * height
        pressure = np.maximum(np.sin(angle), 0.0) * 4.0 / (np.pi * self.hole_mm * self.thickness_mm)
        load = np.zeros((3, len(x)))
        load[0, on], load[1, on] = pressure * np.cos(angle) * area, pressure * np.sin(angle) * area
        load *= 0.5 / load[1].sum()  # half the thickness carries half the force
        fixed = np.zeros((3, len(x)), dtype=bool)
        fixed[:, x < 1e-6] = True
        fixed[2, z < 1e-9] = True
        return self.parts.solve(fixed.T.ravel(), load.T.ravel()[:, None]).reshape(-1, 3).T

    def wall_stress(self, displacement: Array, hole: int, *, in_plane: bool) -> tuple[Array, Array, Array]:
        """Angle from x (k,), height above the middle plane (l,), and stress round the hole on its wall (l, k).

        On the free wall it is E / (1 - nu^2) (strain round it + nu strain along the hole); the latter comes from the
        polynomial through the nodes of one line along the hole, odd or even by the load's symmetry. In the last row,
        the edge with the broad face, it is E times the strain round the hole.
        """
        x, y, z = self.nodes
        centre, radius = self.centres_mm[hole], 0.5 * self.hole_mm
        on = np.flatnonzero(np.abs(np.hypot(x - centre, y) - radius) < 1e-9)
        angles = np.round(np.arctan2(y[on], x[on] - centre), 9)
        angles[angles <= -np.pi + 1e-6] += 2.0 * np.pi
        on = on[np.lexsort((angles, np.round(z[on], 9)))]
        levels = np.unique(np.round(z[on], 9))
        grid = on.reshape(len(levels), -1)
        angle = np.arctan2(y[grid[0]], x[grid[0]] - centre)
        u, v, w = displacement[:, grid]
        cos, sin = np.cos(angle), np.sin(angle)
        radial, along = u * cos + v * sin, v * cos - u * sin
        number = np.fft.rfftfreq(len(angle), 1.0 / len(angle))
        number[-1] = 0.0
        slope = np.fft.irfft(1j * number * np.fft.rfft(along, axis=1), len(angle), axis=1)
        hoop = (slope + radial) / radius
        power = np.arange(len(levels) - 1 if in_plane else len(levels)) * 2 + (1 if in_plane else 0)
        power = power[power < 2 * len(levels)]
        height = levels / levels[-1]
        rows = slice(1, None) if in_plane else slice(None)
        fit = np.linalg.solve((height[:, None] ** power)[rows], w[rows])
        steep = (power * height[:, None] ** np.maximum(power - 1, 0)) @ fit / levels[-1]
        stress = E_MPa / (1.0 - NU**2) * (hoop + NU * steep)
        stress[-1] = E_MPa * hoop[-1]
        return angle, levels, stress
