"""The whole nonlinear problem solved another way: the rod's differential equations, by shooting.

No elements, no shape functions, no tangent: position, section frame, force and moment are integrated along the bar by
Runge-Kutta from the right hole to the left one, through spread bushings; the eight unknowns (place and turn of the
right hole, both link tensions) are found so that the left end is in balance and both links have their length. Rest
shape and curvature come from the drawing's arcs. Rotation vectors come from SciPy's quaternions; the moment of a turned
bushing from differences of its energy.

n and m are what larger stations exert on smaller ones: n' = -f, m' = -x' x n - c (Antman, Nonlinear Problems of
Elasticity, ch. 8; Simo 1985).
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from barfem.solve.beam import HoleSetting, solve_bar
from tests.often import often
from tests.solve.rig import E_MPA, G_MPA, cranked_bar

STEP_MM = 6.0


def _cross_matrix(v):
    out = np.zeros((*v.shape, 3))
    out[..., 0, 1], out[..., 0, 2], out[..., 1, 2] = -v[..., 2], v[..., 1], -v[..., 0]
    return out - np.swapaxes(out, -1, -2)


class Shooting:
    def __init__(self, bar, setting):
        self.bar, line = bar, bar.centreline
        holes = (bar.right.holes[setting.right], bar.left.holes[setting.left])
        self.start, self.stop = (hole.station_mm for hole in holes)
        self.offsets = [np.array(hole.offset_mm) for hole in holes]
        points, frames = line.evaluate([self.start, self.stop])
        self.points, self.frames = points, np.swapaxes(frames, 1, 2)
        d = bar.section.diameter_mm
        area, inertia, nu = np.pi * d**2 / 4, np.pi * d**4 / 64, E_MPA / 2 / G_MPA - 1
        shear = G_MPA * area * 6 * (1 + nu) / (7 + 6 * nu)
        self.force_flexibility = 1 / np.array([E_MPA * area, shear, shear])
        self.moment_flexibility = 1 / np.array([G_MPA * 2 * inertia, E_MPA * inertia, E_MPA * inertia])
        breaks = [self.start, self.stop, *(s.end_station_mm for s in line.segments)]
        for mount in bar.mounts:
            breaks += [mount.station_mm - mount.length_mm / 2, mount.station_mm + mount.length_mm / 2]
        breaks = np.unique(np.round([x for x in breaks if self.start <= x <= self.stop], 9))
        self.pieces = [(a, b) for a, b in pairwise(breaks) if b - a > 1e-6]
        self.links = (bar.right_link, bar.left_link)
        joints = points + self.offsets
        self.pickups = joints + np.array([np.multiply(link.length_mm, link.direction) for link in self.links])
        self.lengths = np.array([link.length_mm + link.length_error_mm for link in self.links])
        self.flexibility = np.array([1 / link.axial_stiffness_N_per_mm for link in self.links])

    def _bushing(self, station):
        for mount in self.bar.mounts:
            if abs(mount.station_mm - station) < mount.length_mm / 2:
                axes = self.bar.centreline.evaluate([mount.station_mm])[1][0].T
                across, tilt = mount.radial_stiffness_N_per_mm, mount.conical_stiffness_Nmm_per_rad
                k = np.diag([mount.axial_stiffness_N_per_mm, across, across])
                c = np.diag([mount.torsional_stiffness_Nmm_per_rad, tilt, tilt])
                return [axes @ s @ axes.T / mount.length_mm for s in (k, c)]
        return None

    @staticmethod
    def _turning_moment(stiffness, turned):
        def energy(rotation):
            theta = rotation.as_rotvec()
            return 0.5 * np.einsum("bi,ij,bj->b", theta, stiffness, theta)

        rotation, h = Rotation.from_matrix(turned), 1e-5
        pairs = [(Rotation.from_rotvec(h * e) * rotation, Rotation.from_rotvec(-h * e) * rotation) for e in np.eye(3)]
        return np.stack([(energy(plus) - energy(minus)) / (2 * h) for plus, minus in pairs], axis=1)

    def shoot(self, unknowns, pickups):
        """Residuals (b, 8) of unknowns (b, 8)."""
        u, turn, tension = unknowns[:, :3], Rotation.from_rotvec(unknowns[:, 3:6]).as_matrix(), unknowns[:, 6:]
        x, R = self.points[0] + u, turn @ self.frames[0]
        e0, arm0, length0 = self._link(0, x, turn, pickups)
        n, m = tension[:, :1] * e0, np.cross(arm0, tension[:, :1] * e0)
        self.energy = 0.5 * np.sum(tension**2 * self.flexibility, axis=1)
        for a, b in self.pieces:
            x, R, n, m = self._integrate(a, b, x, R, n, m)
        turned = R @ self.frames[1].T
        e1, arm1, length1 = self._link(1, x, turned, pickups)
        pull = -tension[:, 1:] * e1
        stretch = np.stack([length0, length1], 1) - self.lengths - tension * self.flexibility
        self.end = x
        return np.concatenate([n - pull, (m - np.cross(arm1, pull)) / 100.0, 100.0 * stretch], axis=1)

    def _link(self, side, x, turned, pickups):
        arm = turned @ self.offsets[side]
        span = x + arm - pickups[side]
        length = np.linalg.norm(span, axis=1)
        return span / length[:, None], arm, length

    def _integrate(self, a, b, x, R, n, m):
        line, middle = self.bar.centreline, 0.5 * (a + b)
        bushing, curvature = self._bushing(middle), line.curvature([middle])[0]
        longest = min(STEP_MM, 0.055 / np.linalg.norm(curvature) if curvature.any() else STEP_MM)
        steps = max(2, int(np.ceil((b - a) / longest)))
        h = (b - a) / steps
        stations = np.clip(np.linspace(a, b, 2 * steps + 1), a + 1e-9, b - 1e-9)
        rest_points, rest_frames = line.evaluate(stations)

        def slope(i, x, R, n, m):
            back = np.swapaxes(R, -1, -2)
            gamma = self.force_flexibility * (back @ n[..., None])[..., 0]
            kappa = self.moment_flexibility * (back @ m[..., None])[..., 0]
            dx = R[..., 0] + (R @ gamma[..., None])[..., 0]
            dR = R @ _cross_matrix(kappa + curvature)
            dn, dm = np.zeros_like(n), -np.cross(dx, n)
            if bushing is not None:
                dn = (x - rest_points[i]) @ bushing[0]
                dm = dm + self._turning_moment(bushing[1], R @ rest_frames[i])
            return dx, dR, dn, dm

        state = (x, R, n, m)
        for i in range(steps):
            k1 = slope(2 * i, *state)
            k2 = slope(2 * i + 1, *(y + h / 2 * k for y, k in zip(state, k1, strict=True)))
            k3 = slope(2 * i + 1, *(y + h / 2 * k for y, k in zip(state, k2, strict=True)))
            k4 = slope(2 * i + 2, *(y + h * k for y, k in zip(state, k3, strict=True)))
            state = tuple(
                y + h / 6 * (p + 2 * q + 2 * r + s) for y, p, q, r, s in zip(state, k1, k2, k3, k4, strict=True)
            )
        return state

    def solve(self, start, pickups):
        steps = np.array([1e-4] * 3 + [1e-6] * 3 + [1e-2] * 2)
        unknowns = start.copy()
        for _ in range(8):
            all_at_once = np.concatenate([unknowns[None], unknowns + np.diag(steps)])
            residual = self.shoot(all_at_once, pickups)
            if np.abs(residual[0]).max() < 1e-5:
                return unknowns, self.end[0]
            jacobian = ((residual[1:] - residual[0]) / steps[:, None]).T
            unknowns = unknowns - np.linalg.solve(jacobian, residual[0])
        raise AssertionError("shooting did not converge")


@pytest.mark.parametrize("setting", often([HoleSetting(0, 1), HoleSetting(1, 0, "one-wheel")], 1))
@pytest.mark.parametrize("state", often(["rest", "travel", "ratio"], {"travel"}))
def test_cranked_bar_at_travel(compare, setting, state):
    """45 mm up and 38 mm down, long and short links, preload, offsets, every kind of mount stiffness, unequal holes."""
    bar = cranked_bar(travel_mm=(45.0, 38.0), one_wheel_mm=50.0, travel_direction=(0.0, 0.08, 0.9967948635501689))
    ours = solve_bar(bar, [setting], refinement=2.0, bend_fields=False)  # a bend here is the rod that it is in theory
    k = ("rest", "travel", "ratio").index(state)
    reference = Shooting(bar, setting)
    up = np.array(bar.travel.direction)
    moves = {
        ("roll", "rest"): (0.0, 0.0),
        ("roll", "travel"): (-38.0, 45.0),
        ("roll", "ratio"): (45.0, -38.0),
        ("one-wheel", "rest"): (0.0, 0.0),
        ("one-wheel", "travel"): (0.0, 50.0),
        ("one-wheel", "ratio"): (0.0, -50.0),
    }[setting.case, state]
    pickups = reference.pickups + np.array([moves[0] * up * [1, -1, 1], moves[1] * up])
    hole = ours.mesh.hole_nodes[0][setting.right]
    start = np.concatenate(
        [
            ours.displacement_mm[0, k, hole],
            Rotation.from_matrix(ours.turned[0, k, hole]).as_rotvec(),
            ours.link_force_N[0, k],
        ]
    )
    # Only a start, and spoilt: the answer is the shooting's own.
    unknowns, end = reference.solve(start * 1.001 + 1e-4, pickups)
    label = f"cranked bar, {setting.case}, {state}: "
    shot = "Runge-Kutta shooting of the rod equations (computed in the test)"
    compare(
        case=label + "link forces (right, left) N",
        source=shot,
        ours=ours.link_force_N[0, k],
        theirs=unknowns[6:],
        allowed=3e-6,
        why="mesh of the beam refined twice, Runge-Kutta steps of 6 mm, in bends 3 deg: 1e-6 each",
    )
    left = ours.mesh.hole_nodes[1][setting.left]
    compare(
        case=label + "position of both holes, mm",
        source=shot,
        ours=np.concatenate(
            [ours.displacement_mm[0, k, hole], ours.displacement_mm[0, k, left] + ours.mesh.node_points_mm[left]]
        ),
        theirs=np.concatenate([unknowns[:3], end]),
        allowed=2e-4,
        absolute=True,
        why="of 40 mm moved: 5e-6",
    )
    compare(
        case=label + "turn of the right hole, rad",
        source=shot,
        ours=Rotation.from_matrix(ours.turned[0, k, hole]).as_rotvec(),
        theirs=unknowns[3:6],
        allowed=2e-6,
        absolute=True,
        why="of 0.2 rad",
    )
