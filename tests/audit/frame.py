"""A plain three-dimensional frame of straight Timoshenko elements in dense NumPy: an outside truth for small travels.

It shares nothing with barfem: bends are chords, mounts are springs at nodes, links are linear constraints.
Element stiffness: Przemieniecki, Theory of Matrix Structural Analysis (1968), ch. 5 (from memory, sure).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def filleted(points: Sequence[Sequence[float]], radius: float, *, straight: float, chord: float) -> tuple[Array, Array]:
    """Points (n, 3) along the corners rounded to `radius`, and their exact stations."""
    corners = np.array(points, dtype=float)
    out, stations = [corners[0]], [0.0]

    def go_straight_to(target: Array) -> None:
        start, length = out[-1], float(np.linalg.norm(target - out[-1]))
        count = max(1, int(np.ceil(length / straight)))
        first = stations[-1]
        for i in range(1, count + 1):
            out.append(start + (target - start) * i / count)
            stations.append(first + length * i / count)

    for before, corner, after in zip(corners[:-2], corners[1:-1], corners[2:], strict=True):
        u, v = corner - before, after - corner
        u, v = u / np.linalg.norm(u), v / np.linalg.norm(v)
        angle = float(np.arccos(u @ v))
        go_straight_to(corner - radius * np.tan(0.5 * angle) * u)
        inward = v - (u @ v) * u
        inward /= np.linalg.norm(inward)
        start, first = out[-1], stations[-1]
        count = int(np.ceil(radius * angle / chord))
        for phi in angle * np.arange(1, count + 1) / count:
            out.append(start + radius * (np.sin(phi) * u + (1.0 - np.cos(phi)) * inward))
            stations.append(first + radius * phi)
    go_straight_to(corners[-1])
    return np.array(out), np.array(stations)


def with_nodes_at(points: Array, stations: Array, wanted: Sequence[float]) -> tuple[Array, Array]:
    """The same polyline with a node at each wanted station (on a straight)."""
    every = np.union1d(stations, np.array(wanted))
    every = every[np.concatenate([[True], np.diff(every) > 1e-6])]
    return np.stack([np.interp(every, stations, points[:, i]) for i in range(3)], axis=1), every


def element_stiffness(start: Array, end: Array, *, E: float, nu: float, diameter: float) -> Array:
    """(12, 12) in drawing axes, round section, Cowper's shear coefficient."""
    length = float(np.linalg.norm(end - start))
    along = (end - start) / length
    first = np.cross(along, np.eye(3)[np.argmin(np.abs(along))])
    first /= np.linalg.norm(first)
    turn = np.array([along, first, np.cross(along, first)])
    area, inertia, shear_modulus = np.pi * diameter**2 / 4.0, np.pi * diameter**4 / 64.0, 0.5 * E / (1.0 + nu)
    shear = 12.0 * E * inertia / (6.0 * (1.0 + nu) / (7.0 + 6.0 * nu) * shear_modulus * area * length**2)
    k = np.zeros((12, 12))
    k[np.ix_([0, 6], [0, 6])] = E * area / length * np.array([[1, -1], [-1, 1]])
    k[np.ix_([3, 9], [3, 9])] = shear_modulus * 2.0 * inertia / length * np.array([[1, -1], [-1, 1]])
    for across, about, sign in ((1, 5, 1.0), (2, 4, -1.0)):
        a, b = 12.0 / length**3, 6.0 * sign / length**2
        c, d = (4.0 + shear) / length, (2.0 - shear) / length
        block = np.array([[a, b, -a, b], [b, c, -b, d], [-a, -b, a, -b], [b, d, -b, c]])
        rows = [across, about, across + 6, about + 6]
        k[np.ix_(rows, rows)] += E * inertia / (1.0 + shear) * block
    turns = np.kron(np.eye(4), turn)
    return np.asarray(turns.T @ k @ turns)


class Frame:
    """A bar of one round section; mounts are added, then links are pulled."""

    def __init__(self, points: Array, stations: Array, *, E: float, nu: float, diameter: float) -> None:
        self.points, self.stations = points, stations
        self.stiffness = np.zeros((6 * len(points), 6 * len(points)))
        for i in range(len(points) - 1):
            part = slice(6 * i, 6 * i + 12)
            k = element_stiffness(points[i], points[i + 1], E=E, nu=nu, diameter=diameter)
            self.stiffness[part, part] += k

    def _node(self, station: float) -> int:
        return int(np.argmin(np.abs(self.stations - station)))

    def mount(
        self, station: float, *, radial: float, axial: float, torsional: float = 0.0, conical: float = 0.0
    ) -> None:
        n = self._node(station)
        along = self.points[n + 1] - self.points[n - 1]
        along /= np.linalg.norm(along)
        inside = np.outer(along, along)
        across = np.eye(3) - inside
        self.stiffness[6 * n : 6 * n + 3, 6 * n : 6 * n + 3] += radial * across + axial * inside
        self.stiffness[6 * n + 3 : 6 * n + 6, 6 * n + 3 : 6 * n + 6] += conical * across + torsional * inside

    def link_tensions(
        self,
        stations: Sequence[float],
        *,
        offsets: Array,
        directions: Array,
        pickup_moves: Array,
        too_long: Sequence[float] = (0.0, 0.0),
        stiffness: Sequence[float] = (np.inf, np.inf),
    ) -> Array:
        """Tension of each link [N] for a small move of its pickup; directions run from the joint to the pickup."""
        size, count, scale = len(self.stiffness), len(stations), 1e5
        pull = np.zeros((count, size))
        unit = np.asarray(directions, dtype=float)
        unit = unit / np.linalg.norm(unit, axis=1, keepdims=True)
        for i, station in enumerate(stations):
            n = self._node(station)
            pull[i, 6 * n : 6 * n + 6] = np.concatenate([unit[i], np.cross(offsets[i], unit[i])])
        stretch = np.einsum("ij,ij->i", unit, pickup_moves) - np.asarray(too_long)
        give = np.diag([0.0 if np.isinf(k) else 1.0 / k for k in stiffness])
        matrix = np.block([[self.stiffness, -scale * pull.T], [-scale * pull, -(scale**2) * give]])
        return np.asarray(np.linalg.solve(matrix, np.concatenate([np.zeros(size), -scale * stretch]))[size:] * scale)
