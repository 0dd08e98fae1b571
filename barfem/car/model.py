"""A car with its bars' curves solved for the hole pairs that are asked for: what every command begins with."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from barfem.car.bar_curves import BarCurves, Pair, curves_of
from barfem.car.bar_reading import refuse_unequal_without_levers
from barfem.car.car import Axle, Car, State
from barfem.car.quantities import CarStates, states_of
from barfem.car.statics import Problem, Suspension, solve
from barfem.car.stiffness import PER_DEG, AxleStiffness, axle_stiffness
from barfem.model.errors import BarfemError, InputError

__all__ = ["CarModel", "car_model", "without_bar"]

Array = NDArray[np.float64]
REACH = 1.15
"""How far beyond the states' own pickup travel the curves are solved anew where those leave the grid."""


@dataclass
class CarModel:
    """The car, its bars' curves and its equations; curves are solved anew where a state leaves their grid."""

    car: Car
    curves: tuple[BarCurves | None, BarCurves | None]
    warnings: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.suspension = Suspension(self.car, self.curves)

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
            self.suspension = Suspension(self.car, self.curves)
        return changed

    def stiffness(self, front: int = 0, rear: int = 0) -> tuple[AxleStiffness, AxleStiffness]:
        """Rates at rest of both axles, the bars in the hole pairs of these numbers."""
        found = [
            axle_stiffness(axle, bar_rate_N_per_mm=0.0 if curves is None else curves.roll_rate_N_per_mm(pair))
            for axle, curves, pair in zip(self.car.axles, self.curves, (front, rear), strict=True)
        ]
        return found[0], found[1]

    def whole_gradient_deg_per_g(self, front: Sequence[int], rear: Sequence[int]) -> Array:
        """(pairs,) slope of roll over a_y at rest, a_y = a_x = 0: the tangent of the whole model; NaN without rest."""
        n = len(front)
        at = Problem(np.zeros(n), np.zeros(n), np.array(front, np.intp), np.array(rear, np.intp))
        rest = solve(self.suspension, at)
        more = Problem(np.ones(n), np.zeros(n), at.front, at.rear)
        push = self.suspension.residual(more, rest.x)[0] - self.suspension.residual(at, rest.x)[0]
        slope = np.full(n, np.nan)
        if rest.found.any():
            turn = -np.linalg.solve(rest.tangent[rest.found], push[rest.found][..., None])[..., 0]
            slope[rest.found] = np.degrees(turn[:, 1] / 1000.0)
        return slope

    def sentences(self) -> list[str]:
        """How well the bars' curves stand for the beam."""
        out = []
        for curves in self.curves:
            if curves is not None and curves.midpoint_error is not None and curves.grid is not None:
                u, m = float(curves.grid.u_mm[-1]), float(curves.grid.m_mm[-1])
                out.append(
                    f"[{curves.axle_bar.axle}.bar] the beam was solved at {curves.grid.u_mm.size} x "
                    f"{curves.grid.m_mm.size} pickup travels of each hole pair (left less right up to {u:.3g} mm, "
                    f"their mean up to {m:.3g} mm), with splines between: at the midpoints "
                    f"{100 * curves.midpoint_error:.2g} % off the beam, of the greatest force."
                )
        return out


def without_bar(car: Car, axle: str | None) -> Car:
    """The car with one axle's bar taken off."""
    if axle is None:
        return car
    bare: Axle = replace(getattr(car, axle), bar=None)
    return replace(car, front=bare) if axle == "front" else replace(car, rear=bare)


def car_model(car: Car, *, front: Sequence[Pair] | None = None, rear: Sequence[Pair] | None = None) -> CarModel:
    """Solve the curves of hole pairs, by default those fitted.

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
        pairs = tuple(wanted) if wanted is not None else (axle.bar.fitted,)
        for pair in pairs:
            refuse_unequal_without_levers(axle.bar, pair, where=f"[{axle.name}.bar] rates")
        curves.append(curves_of(axle.bar, pairs))
    model = CarModel(car, (curves[0], curves[1]))
    _refuse_to_fall_over(model)
    return model


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
