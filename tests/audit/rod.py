"""A geometrically exact rod solved by shooting from its middle, sharing nothing with the package: an outside reference.

Cosserat rod (Antman, Nonlinear Problems of Elasticity, ch. 8): r' = R v, R' = R [kappa]x, n' = -f, m' = -r' x n - c,
v = e_1 + C_f R^T n, kappa = kappa_0 + C_m R^T m; Runge-Kutta of fourth order on matrices, Newton on fourteen unknowns
(position, rotation, force and moment of the middle, the two link tensions). Straights and true arcs, point and spread
mounts, links of any stiffness. Columns of a state: r (3), R (9), n (3), m (3); n and m act from larger stations.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np

__all__ = ["Line", "Mount", "Rod", "Solved", "line_of_points", "line_of_rows", "round_flexibility", "turn"]


def unit(v: Any) -> np.ndarray:
    v = np.asarray(v, float)
    return v / np.linalg.norm(v)


def turn(axis: Any, angle: float) -> np.ndarray:
    """Rotation matrix (Rodrigues)."""
    x, y, z = unit(axis)
    k = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    return np.eye(3) + math.sin(angle) * k + (1 - math.cos(angle)) * k @ k


def rotation_vectors(q: np.ndarray) -> np.ndarray:
    """Rotation vectors (3, b) of rotation matrices (3, 3, b)."""
    w = np.stack([q[2, 1] - q[1, 2], q[0, 2] - q[2, 0], q[1, 0] - q[0, 1]]) / 2.0
    sine = np.sqrt((w * w).sum(axis=0))
    angle = np.arctan2(sine, (np.trace(q) - 1.0) / 2.0)
    return w * np.where(sine > 1e-12, angle / np.where(sine > 1e-12, sine, 1.0), 1.0)


class Line:
    """A centreline of ("straight", length) and ("arc", radius, angle, axis) pieces, with transported frames."""

    def __init__(self, start: Any, direction: Any, pieces: list[tuple[Any, ...]]) -> None:
        p, t, s = np.asarray(start, float), unit(direction), 0.0
        a = unit(np.cross([0.0, 0.0, 1.0], t))
        frame = np.column_stack([t, a, np.cross(t, a)])
        self.pieces: list[dict[str, Any]] = []
        for piece in pieces:
            if piece[0] == "straight":
                end, after, spin, length = p + piece[1] * t, np.eye(3), np.zeros(3), piece[1]
                centre = p
            else:
                _, radius, angle, axis = piece
                centre = p + radius * np.cross(axis, t)
                after, spin, length = turn(axis, angle), np.asarray(axis) / radius, radius * angle
                end = centre + after @ (p - centre)
            self.pieces.append({"s": (s, s + length), "p": p, "frame": frame, "spin": spin, "centre": centre})
            s, p, t, frame = s + length, end, after @ t, after @ frame
        self.length = s

    def at(self, s: float) -> tuple[np.ndarray, np.ndarray]:
        """Point and frame (columns t, a, b) at a station."""
        piece = next((x for x in self.pieces if s <= x["s"][1] + 1e-9), self.pieces[-1])
        along, spin = s - piece["s"][0], piece["spin"]
        if not spin.any():
            return piece["p"] + along * piece["frame"][:, 0], piece["frame"]
        q = turn(spin, along * float(np.linalg.norm(spin)))
        return piece["centre"] + q @ (piece["p"] - piece["centre"]), q @ piece["frame"]


def line_of_points(points: Any, radii: Any) -> Line:
    p = np.asarray(points, float)
    d = [unit(b - a) for a, b in itertools.pairwise(p)]
    pieces: list[tuple[Any, ...]] = []
    used = 0.0
    for i, (a, b) in enumerate(itertools.pairwise(p)):
        length = float(np.linalg.norm(b - a))
        if i == len(d) - 1:
            pieces.append(("straight", length - used))
            break
        axis = np.cross(d[i], d[i + 1])
        angle = math.atan2(float(np.linalg.norm(axis)), float(d[i] @ d[i + 1]))
        tangent = radii[i] * math.tan(angle / 2)
        pieces += [("straight", length - used - tangent), ("arc", radii[i], angle, unit(axis))]
        used = tangent
    return Line(p[0], d[0], pieces)


def line_of_rows(start: Any, direction: Any, towards: Any, rows: Any, *, from_left: bool) -> Line:
    p, t = np.asarray(start, float), unit(direction)
    inward = unit(np.asarray(towards, float) - (np.asarray(towards, float) @ t) * t)
    pieces: list[tuple[Any, ...]] = []
    for row in rows:
        pieces.append(("straight", row[0]))
        p = p + row[0] * t
        if len(row) > 1:
            inward = turn(t, math.radians(row[1])) @ inward
            axis, q = np.cross(t, inward), turn(np.cross(t, inward), math.radians(row[2]))
            pieces.append(("arc", row[3], math.radians(row[2]), axis))
            centre = p + row[3] * inward
            p, t, inward = centre + q @ (p - centre), q @ t, q @ inward
    if not from_left:
        return Line(start, direction, pieces)
    back = [x if x[0] == "straight" else ("arc", x[1], x[2], -x[3]) for x in pieces[::-1]]
    return Line(p, -t, back)


def round_flexibility(*, diameter: float, E: float, nu: float) -> tuple[np.ndarray, np.ndarray]:
    """Diagonals of force and moment flexibility; shear coefficient of Cowper (1966) for a full circle."""
    area, second = math.pi * diameter**2 / 4, math.pi * diameter**4 / 64
    G, k = E / (2 + 2 * nu), 6 * (1 + nu) / (7 + 6 * nu)
    return 1 / np.array([E * area, k * G * area, k * G * area]), 1 / np.array([2 * G * second, E * second, E * second])


@dataclass(frozen=True)
class Mount:
    station: float
    radial: float
    axial: float = 0.0
    torsional: float = 0.0
    conical: float = 0.0
    length: float = 0.0


@dataclass
class Solved:
    """Link tensions (right, left), car forces on the pickups along their travel, and the states at stations."""

    tension: np.ndarray
    pickup_force: np.ndarray
    states: list[tuple[float, np.ndarray]] = field(repr=False)

    def resultants(self, s: float) -> tuple[np.ndarray, np.ndarray]:
        """Force and moment in the section's own axes at the recorded station nearest to s."""
        y = min(self.states, key=lambda state: abs(state[0] - s))[1]
        r = y[3:12].reshape(3, 3)
        return r.T @ y[12:15], r.T @ y[15:18]


class Rod:
    """The part of a bar between its two holes. `offsets` are joints less holes at rest; rows are right, left."""

    def __init__(
        self,
        line: Line,
        flexibility: tuple[np.ndarray, np.ndarray],
        mounts: list[Mount],
        holes: tuple[float, float],
        *,
        offsets: np.ndarray,
        pickups: np.ndarray,
        lengths: np.ndarray,
        link_stiffness: float = math.inf,
        travel: np.ndarray,
        step: float = 10.0,
    ) -> None:
        self.line, self.flexibility, self.mounts, self.travel = line, flexibility, mounts, travel
        self.pickups, self.lengths, self.link_stiffness = pickups, lengths, link_stiffness
        self.ends = [line.at(s) for s in holes]
        self.offsets = [f.T @ o for (_, f), o in zip(self.ends, offsets, strict=True)]
        self.middle = line.length / 2 + 0.3
        cuts = [*holes, self.middle, *(s for x in line.pieces for s in x["s"])]
        cuts += [m.station + sign * m.length / 2 for m in mounts for sign in (-1, 1)]
        cuts = sorted(s for s in cuts if holes[0] <= s <= holes[1])
        self.steps: list[tuple[float, float, np.ndarray, list[list[Any]]]] = []
        for a, b in itertools.pairwise(cuts):
            if b - a < 1e-7:
                continue
            inside = [m for m in mounts if m.length and abs(m.station - (a + b) / 2) < m.length / 2]
            piece = next(x for x in line.pieces if (a + b) / 2 < x["s"][1])
            n = max(2, math.ceil((b - a) / step))
            for i in range(n):
                s, h = a + i * (b - a) / n, (b - a) / n
                springs = [[self._springs(m, s + f * h, m.length) for m in inside] for f in (0.0, 0.5, 1.0)]
                self.steps.append((s, h, piece["frame"].T @ piece["spin"], springs))

    def _springs(self, m: Mount, s: float, spread: float) -> tuple[np.ndarray, ...]:
        point, f = self.line.at(s)
        return (
            f @ np.diag([m.axial, m.radial, m.radial]) @ f.T / spread,
            f @ np.diag([m.torsional, m.conical, m.conical]) @ f.T / spread,
            point,
            f,
        )

    def _slope(self, y: np.ndarray, curvature: np.ndarray, springs: list[Any]) -> np.ndarray:
        r = y[3:12].reshape(3, 3, -1)
        force, moment = (np.einsum("jib,jb->ib", r, y[i : i + 3]) for i in (12, 15))
        v = self.flexibility[0][:, None] * force
        v[0] += 1.0
        k = self.flexibility[1][:, None] * moment + curvature[:, None]
        dr = np.einsum("ijb,jb->ib", r, v)
        spin = np.stack(
            [r[:, 1] * k[2] - r[:, 2] * k[1], r[:, 2] * k[0] - r[:, 0] * k[2], r[:, 0] * k[1] - r[:, 1] * k[0]]
        )
        dn, dm = np.zeros_like(force), -np.cross(dr, y[12:15], axis=0)
        for across, about, point, frame in springs:
            dn = dn + across @ (y[:3] - point[:, None])
            dm = dm + about @ rotation_vectors(np.einsum("ikb,jk->ijb", r, frame))
        return np.concatenate([dr, np.swapaxes(spin, 0, 1).reshape(9, -1), dn, dm])

    def _jump(self, s: float, y: np.ndarray, sign: float) -> np.ndarray:
        for m in self.mounts:
            if not m.length and abs(m.station - s) < 1e-7:
                y = y.copy()
                across, about, point, frame = self._springs(m, s, 1.0)
                y[12:15] += sign * across @ (y[:3] - point[:, None])
                y[15:18] += sign * about @ rotation_vectors(np.einsum("ikb,jk->ijb", y[3:12].reshape(3, 3, -1), frame))
        return y

    def _shoot(self, start: np.ndarray, record: list[tuple[float, np.ndarray]] | None = None) -> list[np.ndarray]:
        """States at the right and the left hole, from those of the middle."""
        out = []
        for leftward in (False, True):
            y = start
            for s, h, curvature, (first, half, last) in self.steps if leftward else self.steps[::-1]:
                if (s >= self.middle - 1e-6) != leftward:
                    continue
                if leftward:
                    y = self._jump(s, y, 1.0)
                else:
                    s, h, first, last = s + h, -h, last, first
                k1 = self._slope(y, curvature, first)
                k2 = self._slope(y + h / 2 * k1, curvature, half)
                k3 = self._slope(y + h / 2 * k2, curvature, half)
                k4 = self._slope(y + h * k3, curvature, last)
                y = y + h / 6 * (k1 + 2 * k2 + 2 * k3 + k4)
                if record is not None:
                    record.append((s + h, y[:, 0]))
                if not leftward:
                    y = self._jump(s + h, y, -1.0)
            out.append(y)
        return out

    def _start(self, x: np.ndarray) -> np.ndarray:
        point, frame = self.line.at(self.middle)
        y = np.zeros((18, x.shape[1]))
        y[:3], y[12:18] = point[:, None] + x[:3], x[6:12]
        for b in range(x.shape[1]):
            angle = float(np.linalg.norm(x[3:6, b]))
            y[3:12, b] = ((turn(x[3:6, b], angle) if angle else np.eye(3)) @ frame).ravel()
        return y

    def _misfit(self, x: np.ndarray, moves: np.ndarray) -> np.ndarray:
        out = np.zeros_like(x)
        for end, y in enumerate(self._shoot(self._start(x))):
            pickup = self.pickups[end] + moves[end] * self.travel[end]
            lever = np.einsum("ijb,j->ib", y[3:12].reshape(3, 3, -1), self.offsets[end])
            link = pickup[:, None] - y[:3] - lever
            length = np.linalg.norm(link, axis=0)
            force = x[12 + end] * link / length * (1 if end else -1)
            out[7 * end : 7 * end + 3] = y[12:15] - force
            out[7 * end + 3 : 7 * end + 6] = (y[15:18] - np.cross(lever, force, axis=0)) / 100.0
            out[7 * end + 6] = length - self.lengths[end] - x[12 + end] / self.link_stiffness
        return out

    def solve(self, moves: Any, *, parts: int = 4) -> Solved:
        """Equilibrium with the pickups moved by (right, left) mm along their travel."""
        size = np.repeat([1e-4, 1e-6, 1e-1, 10.0, 1e-1], [3, 3, 3, 3, 2])
        x, known = np.zeros(14), []
        for share in [0.0, 0.002, *np.linspace(0, 1, parts + 1)[1:]] if np.any(moves) else [0.0]:
            if len(known) > 1:
                (a, xa), (b, xb) = known[-2:]
                x = xb + (share - b) / (b - a) * (xb - xa)
            for _ in range(40):
                trial = x[:, None] + np.hstack([np.zeros((14, 1)), np.diag(size), -np.diag(size)])
                misfit = self._misfit(trial, share * np.asarray(moves, float))
                if np.abs(misfit[:, 0]).max() < 1e-5 and np.abs(misfit[[6, 13], 0]).max() < 1e-9:
                    break
                x = x + np.linalg.solve((misfit[:, 1:15] - misfit[:, 15:]) / (2 * size), -misfit[:, 0])
            else:
                raise ArithmeticError(f"no equilibrium found at {share:.3g} of the travel")
            known.append((share, x))
        states: list[tuple[float, np.ndarray]] = []
        ends = self._shoot(self._start(x[:, None]), states)
        force = np.zeros(2)
        for end, y in enumerate(ends):
            joint = y[:3, 0] + y[3:12, 0].reshape(3, 3) @ self.offsets[end]
            pickup = self.pickups[end] + moves[end] * self.travel[end]
            force[end] = x[12 + end] * unit(pickup - joint) @ self.travel[end]
        return Solved(x[12:], force, sorted(states, key=lambda state: state[0]))
