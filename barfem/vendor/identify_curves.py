"""One measured curve: rate, zero, slack and half the loop's force, against the curve that the drawn bar has.

force(x) = scale g(d(x - x0)) + h b, g the drawn bar's curve (its rate changes a little with travel), d the dead band of
the slack, b +1 where the travel rises and -1 where it falls. Least squares; standard errors from the residuals.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.errors import BarfemError, InputError
from barfem.model.frozen import frozen
from barfem.model.load_case import End
from barfem.model.plain import NOT_IN_JSON, json_key
from barfem.solve.beam import HoleSetting, solve_bars
from barfem.solve.solid.nearby import bends_near
from barfem.vendor.identify_reading import Curve

__all__ = ["RateFound", "drawn_curves", "fit_curve", "other_unit", "runs_chance"]

Array = NDArray[np.float64]
BRANCH_POINTS = 10
_FARTHEST = 3.0  # times the drawn rate, or one over that: a diameter a third larger, which is another bar
_LIKE = 1.3  # a rate so near to what a slip of the unit makes of the drawn one is told as that slip
_SLIPS = {
    0.001: "force in kN in a column of N",
    0.101972: "force in kgf in a column of N",
    0.224809: "force in lbf in a column of N",
    0.175127: "force in N and travel in mm in columns of lbf and inches",
    0.0393701: "travel in mm in a column of inches",
    4.44822: "force in N in a column of lbf",
    5.71015: "force in lbf and travel in inches in columns of N and mm",
    10.0: "travel in cm in a column of mm",
    25.4: "travel in inches in a column of mm",
    1000.0: "travel in m in a column of mm",
}
"""What a slip of the unit makes of a rate, as a factor (the lbf as 4.44822 N, the inch as 25.4 mm)."""
_STATES = np.array([-1.0, -0.75, -0.5, -0.25, 0.25, 0.5, 0.75, 1.0])


@frozen
class RateFound:
    """What one curve says. `expected_N_per_mm` is the drawn bar's rate at rest, `scale` the measured over it.

    `slack_mm` is the total free travel, None where one sense or too few points cannot tell it from the zero, and
    `slack_se_mm` its standard error; `half_loop_N` is None where both branches are not there. `runs_p`: chance of so
    few or many runs of residuals' signs.
    """

    curve: Curve = field(metadata=NOT_IN_JSON)
    expected_N_per_mm: float = field(metadata=json_key("drawn_N_per_mm"))
    scale: float = field(metadata=NOT_IN_JSON)
    scale_se: float = field(metadata=NOT_IN_JSON)
    zero_mm: float
    slack_mm: float | None
    half_loop_N: float | None
    residual_N: float
    runs_p: float
    slack_se_mm: float | None = None

    _json_also: ClassVar[Mapping[str, str]] = {
        "hole_left": "curve.hole_left",
        "hole_right": "curve.hole_right",
        "case": "curve.case_key",
        "bar": "curve.bar",
        "n": "curve.x_mm.size",
        "rate_N_per_mm": "rate_N_per_mm",
        "se_N_per_mm": "se_N_per_mm",
    }

    @property
    def slack_is_sure(self) -> bool:
        """Whether the curve shows free travel, beyond what scatter alone makes."""
        return (self.slack_mm or 0.0) > 3.0 * (self.slack_se_mm or 0.0)

    @property
    def rate_N_per_mm(self) -> float:
        return self.scale * self.expected_N_per_mm

    @property
    def se_N_per_mm(self) -> float:
        return self.scale_se * self.expected_N_per_mm


def drawn_curves(bar: Bar, curves: list[Curve]) -> list[tuple[Array, Array, float]]:
    """Of the drawn bar for each curve: travels and forces [mm, N] from rest, and the rate at rest [N/mm].

    Raises
    ------
    InputError
        The drawn bar cannot follow the travel that was measured.
    """
    reach = [
        1.05 * float(np.abs(curve.x_mm - np.median(curve.x_mm[np.abs(curve.force_N).argsort()[:3]])).max())
        for curve in curves
    ]
    settings = [HoleSetting(curve.left, curve.right, curve.case) for curve in curves]
    out = []
    with bends_near(bar):
        for curve, setting, far in zip(curves, settings, reach, strict=True):
            travels = _STATES * far
            other = -1.0 if setting.case == "roll" else 0.0

            def moves(_: Bar, __: HoleSetting, travels: Array = travels, other: float = other) -> Array:
                return np.stack([other * travels, travels], axis=1)

            try:
                solution = next(solve_bars([(bar, [setting])], more_moves=moves))
            except BarfemError as error:
                raise InputError(
                    f"{curve.words}: the drawn bar cannot follow a travel of {far / 1.05:g} mm.",
                    file=curve.file,
                    where=f"line {curve.line}",
                    expected="travel that its links reach; is the unit right?",
                ) from error
            forces = solution.further_force_N[0, :, End.LEFT]
            order = np.argsort(np.append(travels, 0.0))
            out.append(
                (
                    np.append(travels, 0.0)[order],
                    np.append(forces, 0.0)[order],
                    float(solution.initial.rate_N_per_mm[0]),
                )
            )
    return out


def fit_curve(curve: Curve, drawn: tuple[Array, Array, float]) -> RateFound:
    """Fit one curve; `drawn` as of `drawn_curves`."""
    from scipy.interpolate import CubicSpline
    from scipy.optimize import least_squares

    travels, forces, expected = drawn
    shape = CubicSpline(travels, forces)
    x, f, b = curve.x_mm, curve.force_N, curve.branch
    slope, start = np.polyfit(x, f, 1)
    zero = -start / slope if slope else 0.0
    rising, falling = int(np.sum(b > 0)), int(np.sum(b < 0))
    loop = rising >= BRANCH_POINTS and falling >= BRANCH_POINTS
    both = min(np.sum(f > 0.1 * np.abs(f).max()), np.sum(f < -0.1 * np.abs(f).max())) >= BRANCH_POINTS // 2
    slack = bool(both) and len(x) >= 2 * BRANCH_POINTS

    def model(p: Array) -> Array:
        u = x - p[1]
        if slack:
            u = np.sign(u) * np.maximum(np.abs(u) - 0.5 * abs(p[2]), 0.0)
        out = p[0] * shape(np.clip(u, 1.3 * travels[0], 1.3 * travels[-1]))
        return np.asarray(out + (p[-1] * b if loop else 0.0))

    span = float(np.ptp(x))
    least = None
    for guess in (0.0, 0.02 * span, 0.1 * span) if slack else (0.0,):
        p0 = [slope / expected, zero, *([guess] if slack else []), *([0.0] if loop else [])]
        scaled = [0.01, 0.01 * span, *([0.01 * span] if slack else []), *([0.01 * np.abs(f).max()] if loop else [])]
        found = least_squares(lambda p: model(p) - f, p0, x_scale=scaled)
        least = found if least is None or found.cost < least.cost else least
    assert least is not None
    # Slack below its own standard error is none: it would cost the rate its standard error. More of it stays in the
    # fit, sure or not: left out it lowers the rate by more than the standard error that would then be stated.
    spread, slack_se = float(np.sqrt(2.0 * least.cost / max(len(x) - len(least.x), 1))), None
    if slack:
        jacobian = least.jac
        slack_se = spread * float(np.sqrt(np.linalg.pinv(jacobian.T @ jacobian)[2, 2]))
        if abs(least.x[2]) < slack_se or slack_se == 0.0:
            slack = False
            p0 = [least.x[0], least.x[1], *([least.x[-1]] if loop else [])]
            scaled = [0.01, 0.01 * span, *([0.01 * np.abs(f).max()] if loop else [])]
            least = least_squares(lambda p: model(p) - f, p0, x_scale=scaled)
            spread = float(np.sqrt(2.0 * least.cost / max(len(x) - len(least.x), 1)))
    covariance = spread**2 * np.linalg.pinv(least.jac.T @ least.jac)
    fell_back = bool(both) and len(x) >= 2 * BRANCH_POINTS and not slack
    return RateFound(
        curve,
        expected,
        float(least.x[0]),
        float(np.sqrt(covariance[0, 0])),
        float(least.x[1]),
        abs(float(least.x[2])) if slack else 0.0 if fell_back else None,
        abs(float(least.x[-1])) if loop else None,
        spread,
        runs_chance(model(least.x) - f),
        slack_se_mm=slack_se,
    )


def other_unit(rates: Sequence[RateFound]) -> str:
    """Where a rate is so far off that no bar near the drawing has it: the question, with what it looks like."""
    far = [rate for rate in rates if not 1.0 / _FARTHEST <= rate.scale <= _FARTHEST]
    if not far:
        return ""
    scale, curve = far[0].scale, far[0].curve
    like = sorted((abs(np.log(slip / max(scale, 1e-12))), words) for slip, words in _SLIPS.items())
    slips = " or ".join(words for off, words in like if off <= np.log(_LIKE))
    return (
        f"{curve.file}, {curve.words}: the rate is {scale:.3g} times the computed one: no bar near the drawing has it"
        + (f"; {slips} would be so far off" if slips else "")
        + ". Which unit has the file? Nothing is fitted until it is settled"
    )


def runs_chance(residuals: Array) -> float:
    """Chance of as few or many runs of the residuals' signs, two-sided (Wald and Wolfowitz, normal approximation)."""
    from scipy.stats import norm

    signs = residuals > 0.0
    n, plus = len(signs), int(signs.sum())
    minus = n - plus
    if min(plus, minus) < 2:
        return 1.0
    runs = 1 + int(np.sum(signs[1:] != signs[:-1]))
    mean = 2.0 * plus * minus / n + 1.0
    variance = (mean - 1.0) * (mean - 2.0) / (n - 1.0)
    return float(2.0 * norm.sf(abs(runs - mean) / np.sqrt(variance)))
