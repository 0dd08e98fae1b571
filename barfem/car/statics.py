"""The car's equilibrium: body heave, roll and pitch and four wheel heights, for many hole pairs and states at once.

The energy of springs, stops, tyres and weight is least at rest; its gradient is the residual here, its Hessian the
stiffness. Tyres and stops push only, so that the stiffness jumps where one lets go: each Newton step goes as far as the
slope of the energy along it falls (an exact line search where the full step overshoots), which for such springs always
ends. Forces N, lengths mm; roll and pitch are carried as the movement, in mm, of a point 1 m away.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barfem.car.bar_curves import BarCurves
from barfem.car.car import GRAVITY, Axle, Car
from barfem.model.frozen import frozen

__all__ = ["Equilibria", "Problem", "Suspension", "solve"]

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Index = NDArray[np.intp]

ARM_MM = 1000.0
BODY, WHEELS = slice(0, 3), slice(3, 7)
RESIDUAL = 1e-10
"""Of the car's weight, greatest of all seven equations."""
SINGULAR = 1e-14
"""Of the greatest stiffness: what is less is rounding, and holds nothing (rigid tyres leave some 1e-7)."""
NEWTON_STEPS, SEARCHES, RAMP = 60, 40, 24


@frozen
class Problem:
    """n cases: accelerations in g, and the hole pairs of both bars, as numbers of their curves' pairs."""

    a_y_g: Array
    a_x_g: Array
    front: Index
    rear: Index

    def __len__(self) -> int:
        return len(self.a_y_g)

    def part(self, some: Flags | Index) -> Problem:
        return Problem(self.a_y_g[some], self.a_x_g[some], self.front[some], self.rear[some])

    def scaled(self, share: Array) -> Problem:
        return Problem(share * self.a_y_g, share * self.a_x_g, self.front, self.rear)


@frozen
class Equilibria:
    """Solved cases (n,). `found` is False where there is no stable equilibrium; the numbers there mean nothing.

    `x` (n, 7): heave mm, roll and pitch in mm at 1 m, wheel heights mm, all from zero. `tangent` (n, 7, 7).
    """

    problem: Problem
    x: Array
    found: Flags
    tangent: Array


class Suspension:
    """What acts between body, wheels and road, as functions of the seven unknowns.

    `bars` are the curves of (front, rear), None for an axle without one. `offsets_mm` are the pickups' travels (left,
    right) at zero, by default the file's. `weighed_N` (4,) is what the bars took of the wheel loads on the scales.
    """

    def __init__(
        self,
        car: Car,
        bars: tuple[BarCurves | None, BarCurves | None],
        *,
        offsets_mm: tuple[Array | None, Array | None] = (None, None),
        weighed_N: Array | None = None,
    ) -> None:
        self.car, self.bars = car, bars
        self.offsets = [
            None if curves is None else np.array(curves.axle_bar.offset_mm) if offset is None else offset
            for curves, offset in zip(bars, offsets_mm, strict=True)
        ]
        share, wheelbase = car.sprung_front_share, car.wheelbase_mm
        x = np.array([(1.0 - share) * wheelbase, -share * wheelbase])
        self.x_mm = np.repeat(x, 2)
        self.y_mm = np.array([s * 0.5 * axle.track_mm for axle in car.axles for s in (1.0, -1.0)])
        # Height of the body above each wheel over (heave, roll, pitch).
        self.rows = np.stack([np.ones(4), self.y_mm / ARM_MM, -self.x_mm / ARM_MM], axis=1)
        self.tyre_N = np.array(car.corner_masses_kg) * GRAVITY
        self.tyre_rate = np.repeat([axle.solved_tyre_rate_N_per_mm for axle in car.axles], 2)
        self.unsprung_N = np.repeat([0.5 * axle.unsprung_mass_kg * GRAVITY for axle in car.axles], 2)
        self.weighed_N = np.zeros(4) if weighed_N is None else weighed_N
        self.spring_N = self.tyre_N - self.unsprung_N - self.weighed_N
        self.ratios = [_ratios(axle.spring.heave_ratio, axle.spring.roll_ratio) for axle in car.axles]
        self.bar_ratios = [
            None if axle.bar is None else _ratios(axle.bar.motion_ratio, axle.bar.roll_motion_ratio)
            for axle in car.axles
        ]
        self.sprung_N = car.sprung_mass_kg * GRAVITY

    # -- what acts on a wheel besides its suspension and tyre

    def direct_N(self, problem: Problem) -> Array:
        """(n, 4) load that reaches the tyres past the springs: roll centres, unsprung masses, links."""
        car, n = self.car, len(problem)
        out = np.zeros((n, 4))
        shares = (car.sprung_front_share, 1.0 - car.sprung_front_share)
        unsprung = sum(axle.unsprung_mass_kg * axle.unsprung_height_mm for axle in car.axles) * GRAVITY
        back = problem.a_x_g * unsprung / car.wheelbase_mm
        links = self.links_N(problem)
        for i, axle in enumerate(car.axles):
            moment = self.sprung_N * shares[i] * axle.roll_centre_height_mm
            moment += axle.unsprung_mass_kg * GRAVITY * axle.unsprung_height_mm
            across = problem.a_y_g * moment / axle.track_mm
            along = (-0.5 if i == 0 else 0.5) * back + 0.5 * links[:, i]
            out[:, 2 * i], out[:, 2 * i + 1] = along - across, along + across
        return out

    def links_N(self, problem: Problem) -> Array:
        """(n, 2) upward force of each axle's links on the body under a_x: its share `anti` of the transfer."""
        car = self.car
        forward = -problem.a_x_g * self.sprung_N * car.sprung_cg_height_mm / car.wheelbase_mm
        return np.stack([car.front.anti * forward, -car.rear.anti * forward], axis=1)

    def body_moments_N(self, problem: Problem) -> tuple[Array, Array, Array]:
        """Heave force (n,), rolling and pitching moment over 1 m (n,) on the body, without weight and roll's own."""
        car = self.car
        links = self.links_N(problem)
        heave = links.sum(axis=1)
        roll = self.sprung_N * (car.roll_arm_mm * problem.a_y_g - car.sprung_cg_left_mm) / ARM_MM
        nose = -problem.a_x_g * self.sprung_N * car.sprung_cg_height_mm
        nose = nose - links[:, 0] * self.x_mm[0] - links[:, 1] * self.x_mm[2]
        return heave, roll, nose / ARM_MM

    # -- springs, stops and bars

    def travel_mm(self, x: Array) -> Array:
        """(n, 4) suspension travel of each wheel, bump > 0."""
        return np.asarray(x[:, WHEELS] - x[:, BODY] @ self.rows.T)

    def springs_N(self, travel: Array) -> tuple[Array, Array]:
        """(n, 4) force at the wheels of springs and stops, weight included, and its slope (n, 4, 4)."""
        force = np.tile(self.spring_N, (len(travel), 1))
        slope = np.zeros((len(travel), 4, 4))
        for i, axle in enumerate(self.car.axles):
            two = slice(2 * i, 2 * i + 2)
            own, ratios = travel[:, two], self.ratios[i]
            spring, rate = _spring(axle, own @ ratios)
            force[:, two] += spring @ ratios
            slope[:, two, two] += np.einsum("ba,nb,bc->nac", ratios, rate, ratios)
            for stop, sign in ((axle.bump_stop, 1.0), (axle.droop_stop, -1.0)):
                if stop is not None:
                    pressed = np.maximum(sign * own - stop.gap_mm, 0.0)
                    force[:, two] += sign * stop.rate_N_per_mm * pressed
                    for k in (2 * i, 2 * i + 1):
                        slope[:, k, k] += stop.rate_N_per_mm * (pressed[:, k - 2 * i] > 0.0)
        return force, slope

    def pickup_mm(self, axle: int, travel: Array) -> Array:
        """(n, 2) travel of the bar's pickups (left, right) from the drawing's rest."""
        ratios, offset = self.bar_ratios[axle], self.offsets[axle]
        if ratios is None or offset is None:
            return np.zeros((len(travel), 2))
        return np.asarray(travel[:, 2 * axle : 2 * axle + 2] @ ratios + offset)

    def bar_at_wheels_N(self, problem: Problem, travel: Array) -> tuple[Array, Array]:
        """(n, 4) force with which the bars press the wheels down, and its slope (n, 4, 4) over the travels."""
        force, slope = np.zeros((len(travel), 4)), np.zeros((len(travel), 4, 4))
        for i, curves in enumerate(self.bars):
            ratios = self.bar_ratios[i]
            if curves is None or ratios is None:
                continue
            two = slice(2 * i, 2 * i + 2)
            found = curves.forces(problem.front if i == 0 else problem.rear, self.pickup_mm(i, travel))
            force[:, two] = found.force_N @ ratios
            slope[:, two, two] = ratios.T @ found.slope_N_per_mm @ ratios
        return force, slope

    def suspension_N(self, problem: Problem, travel: Array) -> tuple[Array, Array]:
        """(n, 4) force between each wheel and the body, pushing them apart, and its slope (n, 4, 4)."""
        springs, by_springs = self.springs_N(travel)
        bars, by_bars = self.bar_at_wheels_N(problem, travel)
        return springs + bars, by_springs + by_bars

    def tyres_N(self, x: Array) -> tuple[Array, Array]:
        """(n, 4) wheel loads and the tyres' slopes (n, 4): they push only."""
        load = self.tyre_N - self.tyre_rate * x[:, WHEELS]
        return np.maximum(load, 0.0), np.where(load > 0.0, self.tyre_rate, 0.0)

    def residual(self, problem: Problem, x: Array) -> tuple[Array, Array]:
        """Gradient (n, 7) of the energy and its slope (n, 7, 7)."""
        n, rows = len(x), self.rows
        force, slope = self.suspension_N(problem, self.travel_mm(x))
        load, tyre = self.tyres_N(x)
        heave, roll, pitch = self.body_moments_N(problem)
        gravity = self.sprung_N * self.car.roll_arm_mm / ARM_MM**2
        gradient, tangent = np.empty((n, 7)), np.zeros((n, 7, 7))
        gradient[:, BODY] = -force @ rows
        gradient[:, 0] += self.sprung_N - heave
        gradient[:, 1] -= roll + gravity * x[:, 1]
        gradient[:, 2] -= pitch
        gradient[:, WHEELS] = force + self.unsprung_N + self.direct_N(problem) - load
        mixed = -slope @ rows
        tangent[:, BODY, BODY] = rows.T @ slope @ rows
        tangent[:, 1, 1] -= gravity
        tangent[:, WHEELS, BODY] = mixed
        tangent[:, BODY, WHEELS] = -rows.T @ slope
        tangent[:, WHEELS, WHEELS] = slope
        diagonal = np.arange(3, 7)
        tangent[:, diagonal, diagonal] += tyre
        return gradient, tangent


def _ratios(heave: float, roll: float) -> Array:
    """Travel of the part on (left, right) over that of the wheels: symmetric, so that forces go back through it."""
    same, other = 0.5 * (heave + roll), 0.5 * (heave - roll)
    return np.array([[same, other], [other, same]])


def _spring(axle: Axle, travel: Array) -> tuple[Array, Array]:
    """Force of the springs beyond that at zero, and its slope, at the springs' own travel."""
    spring = axle.spring
    if spring.rate_N_per_mm is not None:
        return spring.rate_N_per_mm * travel, np.full_like(travel, spring.rate_N_per_mm)
    at, force = (np.array(values) for values in zip(*spring.curve, strict=True))
    slopes = np.diff(force) / np.diff(at)
    cell = np.clip(np.searchsorted(at, travel, side="right") - 1, 0, len(slopes) - 1)
    value = force[cell] + slopes[cell] * (travel - at[cell])
    rate = slopes[cell]
    corner = np.isclose(travel, at[cell], rtol=0.0, atol=1e-9) & (cell > 0)
    rate = np.where(corner, 0.5 * (slopes[cell] + slopes[np.maximum(cell - 1, 0)]), rate)
    return value - np.interp(0.0, at, force), rate


def solve(
    suspension: Suspension, problem: Problem, *, start: Array | None = None, lead_there: bool = True
) -> Equilibria:
    """The equilibrium of every case, from `start` (n, 7) or the car as weighed.

    A case that a direct solution does not reach is led there from rest in `RAMP` steps, unless `lead_there` is False;
    if that fails too, or ends
    where the car would fall over, `found` is False.
    """
    x = np.zeros((len(problem), 7)) if start is None else start.copy()
    x, tangent, found = _newton(suspension, problem, x)
    lost = np.flatnonzero(~found)
    if len(lost) and lead_there:
        part = problem.part(lost)
        led = np.zeros((len(lost), 7))
        alive = np.ones(len(lost), bool)
        for step in range(RAMP + 1):
            share = np.full(len(lost), step / RAMP)
            led, steep, reached = _newton(suspension, part.scaled(share), led)
            alive &= reached
            if not alive.any():
                break
        x[lost], tangent[lost], found[lost] = led, steep, alive
    return Equilibria(problem, x, found, tangent)


def _newton(suspension: Suspension, problem: Problem, x: Array) -> tuple[Array, Array, Flags]:
    """Newton from `x`; the stiffness at the end, and whether each case came to rest in a stable equilibrium."""
    n = len(problem)
    done, open_ = np.zeros(n, bool), np.arange(n)
    x = x.copy()
    limit = RESIDUAL * suspension.car.weight_N
    gradient, tangent = suspension.residual(problem, x)
    for _ in range(NEWTON_STEPS):
        small = np.abs(gradient[open_]).max(axis=1) <= limit
        done[open_[small]] = True
        open_ = open_[~small]
        if not len(open_):
            break
        try:
            step = -np.linalg.solve(tangent[open_], gradient[open_][..., None])[..., 0]
        except np.linalg.LinAlgError:
            step = -np.stack(
                [np.linalg.lstsq(k, g, rcond=None)[0] for k, g in zip(tangent[open_], gradient[open_], strict=True)]
            )
        downhill = np.einsum("na,na->n", gradient[open_], step)
        sane = np.isfinite(step).all(axis=1) & (np.abs(step).max(axis=1) < 1e7) & (downhill < 0.0)
        open_, step, downhill = open_[sane], step[sane], downhill[sane]
        if not len(open_):
            break
        part = problem.part(open_)
        moved, gradient[open_], tangent[open_] = _searched(suspension, part, x[open_], step, downhill)
        x[open_] = moved
    stable = done.copy()
    if done.any():
        stiff = tangent[done]
        steepness = np.linalg.eigvalsh(0.5 * (stiff + np.swapaxes(stiff, 1, 2)))
        stable[done] = steepness[:, 0] > SINGULAR * steepness[:, -1]
    return x, tangent, stable


def _searched(
    suspension: Suspension, problem: Problem, x: Array, step: Array, downhill: Array
) -> tuple[Array, Array, Array]:
    """The point along `step` (n, 7) where the energy is least: the full step unless its slope has turned steep."""
    share = np.ones(len(x))
    gradient, tangent = suspension.residual(problem, x + step)
    slope = np.einsum("na,na->n", gradient, step)
    low, high = np.zeros(len(x)), np.ones(len(x))
    over = slope > 0.5 * np.abs(downhill)
    for _ in range(SEARCHES):
        some = np.flatnonzero(over)
        if not len(some):
            break
        share[some] = 0.5 * (low[some] + high[some])
        g, k = suspension.residual(problem.part(some), x[some] + share[some, None] * step[some])
        here = np.einsum("na,na->n", g, step[some])
        high[some] = np.where(here > 0.0, share[some], high[some])
        low[some] = np.where(here > 0.0, low[some], share[some])
        gradient[some], tangent[some] = g, k
        over[some] = np.abs(here) > 0.5 * np.abs(downhill[some])
    return x + share[:, None] * step, gradient, tangent
