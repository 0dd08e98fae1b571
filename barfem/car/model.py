"""A car with its bars' curves solved for the hole pairs that are asked for: what every command begins with."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from barfem.car.bar_curves import GREATEST_ERROR, BarCurves, Pair, curves_of
from barfem.car.bar_reading import refuse_unequal_without_levers
from barfem.car.car import Car, State
from barfem.car.quantities import CarStates, states_of
from barfem.car.statics import Problem, Suspension, solve
from barfem.car.stiffness import PER_DEG, AxleStiffness, axle_stiffness
from barfem.model.errors import BarfemError, InputError

__all__ = ["CarModel", "car_model"]

Array = NDArray[np.float64]
AT_REST_G = 1e-4
"""As far from rest in a turn as its slope is taken."""
REACH = 1.15
"""How far beyond the states' own pickup travel the curves are solved anew where those leave the grid."""


@dataclass
class CarModel:
    """The car, its bars' curves and its equations; curves are solved anew where a state leaves their grid."""

    car: Car
    curves: tuple[BarCurves | None, BarCurves | None]
    warnings: list[str] = field(default_factory=list)
    weighed_N: Array | None = None

    def __post_init__(self) -> None:
        self.suspension = Suspension(self.car, self.curves, weighed_N=self.weighed_N)

    def problem(self, states: Sequence[State], pairs: Sequence[tuple[int, int]] = ((0, 0),)) -> Problem:
        """Every state for every (front, rear) pair number, states running fastest."""
        n = len(states)
        return Problem(
            np.tile([state.a_y_g for state in states], len(pairs)).astype(float),
            np.tile([state.a_x_g for state in states], len(pairs)).astype(float),
            np.repeat([pair[0] for pair in pairs], n).astype(np.intp),
            np.repeat([pair[1] for pair in pairs], n).astype(np.intp),
        )

    def states(self, problem: Problem) -> CarStates:
        """The solved states, the curves reaching as far as these go where the bars can follow."""
        for _ in range(3):
            solved = solve(self.suspension, problem)
            if not self._reach(self.suspension.travel_mm(solved.x[solved.found])):
                break
        return states_of(self.suspension, problem, solved=solved)

    def _reach(self, travel: Array) -> bool:
        """Solve curves anew that do not hold these wheel travels (n, 4); whether any were."""
        renewed = list(self.curves)
        for i, curves in enumerate(self.curves):
            if curves is None or curves.grid is None or not len(travel):
                continue
            q = self.suspension.pickup_mm(i, travel)
            if curves.grid.holds(q).all():
                continue
            reach = REACH * float(np.abs(q[:, 0] - q[:, 1]).max()), REACH * float(np.abs(q.mean(axis=1)).max())
            try:
                wider = curves_of(curves.axle_bar, curves.pairs, reach_mm=reach)
            except BarfemError:
                wider = None
            if wider is None or wider.grid is None or not wider.grid.holds(q).all():
                text = (
                    f"[{curves.axle_bar.axle}.bar] some states move the bar's ends beyond where the beam could be "
                    "solved: there its tangent goes on, and stress is not to be trusted."
                )
                if text not in self.warnings:
                    self.warnings.append(text)
                continue
            renewed[i] = wider
        changed = any(new is not old for new, old in zip(renewed, self.curves, strict=True))
        if changed:
            self.curves = (renewed[0], renewed[1])
            self.__post_init__()
        return changed

    def stiffness(self, front: int = 0, rear: int = 0) -> tuple[AxleStiffness, AxleStiffness]:
        """Rates at rest of both axles, the bars in the hole pairs of these numbers."""
        found = [
            axle_stiffness(axle, bar_rate_N_per_mm=0.0 if curves is None else curves.roll_rate_N_per_mm(pair))
            for axle, curves, pair in zip(self.car.axles, self.curves, (front, rear), strict=True)
        ]
        return found[0], found[1]

    def whole_gradient_deg_per_g(self, front: Sequence[int], rear: Sequence[int]) -> Array:
        """(pairs,) slope of roll over a_y at rest, a_y = a_x = 0, of the whole model; NaN without rest.

        The mean of the tangents just to the left and the right turn of rest: a car as weighed stands at the knot of a
        `wheel_curve` at zero, where a wheel in bump and one in droop have other slopes and the body rises as it rolls.
        """
        return np.asarray(
            np.mean([self._tangent_deg_per_g(front, rear, a_y) for a_y in (-AT_REST_G, AT_REST_G)], axis=0)
        )

    def _tangent_deg_per_g(self, front: Sequence[int], rear: Sequence[int], a_y_g: float) -> Array:
        n = len(front)
        at = Problem(np.full(n, a_y_g), np.zeros(n), np.array(front, np.intp), np.array(rear, np.intp))
        here = solve(self.suspension, at)
        more = Problem(at.a_y_g + 1.0, np.zeros(n), at.front, at.rear)
        push = self.suspension.residual(more, here.x)[0] - self.suspension.residual(at, here.x)[0]
        slope = np.full(n, np.nan)
        if here.found.any():
            turn = -np.linalg.solve(here.tangent[here.found], push[here.found][..., None])[..., 0]
            slope[here.found] = np.degrees(turn[:, 1] / 1000.0)
        return slope

    def sentences(self) -> list[str]:
        """How well the bars' curves stand for the beam."""
        out = []
        for curves in self.curves:
            if curves is not None and curves.midpoint_error is not None and curves.grid is not None:
                u, m = float(curves.grid.u_mm[-1]), float(curves.grid.m_mm[-1])
                off = "NOT WITHIN 0.2 %: " if curves.midpoint_error > GREATEST_ERROR else ""
                out.append(
                    f"[{curves.axle_bar.axle}.bar] {off}the beam was solved at {curves.grid.u_mm.size} x "
                    f"{curves.grid.m_mm.size} pickup travels of each hole pair (left less right up to {u:.3g} mm, "
                    f"their mean up to {m:.3g} mm), with cubic curves between: at the midpoints "
                    f"{100 * curves.midpoint_error:.2g} % off the beam, of the greatest force."
                )
        return out


def car_model(
    car: Car,
    *,
    front: Sequence[Pair] | None = None,
    rear: Sequence[Pair] | None = None,
    without: str | None = None,
) -> CarModel:
    """Solve the curves of hole pairs, by default those fitted; `without` names an axle whose bar is taken off.

    Raises
    ------
    InputError
        Unequal holes without levers; a car that falls over before it leans, in its first pairs.
    BarfemError
        A bar that has no equilibrium.
    """
    curves: list[BarCurves | None] = []
    for axle, wanted in zip(car.axles, (front, rear), strict=True):
        if axle.bar is None:
            curves.append(None)
            continue
        pairs = tuple(wanted) if wanted is not None and axle.name != without else (axle.bar.fitted,)
        for pair in pairs:
            refuse_unequal_without_levers(axle.bar, pair, where=f"[{axle.name}.bar] rates")
        if axle.name == without and not car.weighed_with_bars:
            curves.append(None)
        else:
            # On the scales it stood in the holes that the file says.
            curves.append(curves_of(axle.bar, (*pairs, axle.bar.fitted) if car.weighed_with_bars else pairs))
    weighed = _weighed_N(car, (curves[0], curves[1]))
    if without is not None:
        car = replace(car, **{without: replace(getattr(car, without), bar=None)})
        curves[0 if without == "front" else 1] = None
    model = CarModel(car, (curves[0], curves[1]), weighed_N=weighed)
    _refuse_to_fall_over(model)
    return model


def _weighed_N(car: Car, curves: tuple[BarCurves | None, BarCurves | None]) -> Array | None:
    """(4,) what the bars took of the wheel loads on the scales; None if they were disconnected."""
    if not car.weighed_with_bars:
        return None
    at = [
        np.array([0 if each is None or axle.bar is None else each.index_of(axle.bar.fitted)])
        for axle, each in zip(car.axles, curves, strict=True)
    ]
    none = np.zeros(1)
    zero = Problem(none, none, at[0], at[1])
    return np.asarray(Suspension(car, curves).bar_at_wheels_N(zero, np.zeros((1, 4)))[0][0])


def _refuse_to_fall_over(model: CarModel) -> None:
    car = model.car
    total = sum(axle.with_tyres_Nm_per_deg for axle in model.stiffness())
    taken = car.overturning_Nm_per_rad * PER_DEG
    if total <= taken:
        raise InputError(
            f"the roll stiffness of suspension and tyres, {total:.4g} N m/deg, is not above what gravity takes, "
            f"{taken:.4g} N m/deg (m_s g d): the car falls over before it leans.",
            where="[front] spring_rate",
            expected="stiffer springs, bars or tyres, or a lower centre of gravity.",
            file=car.source,
        )
