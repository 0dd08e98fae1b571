"""Other criteria at every point of a bar: Findley's critical plane, and the largest principal stress.

Over rest, both ends of the cycle, and either wheel alone. Findley is entered into the stress-life line by the reversed
uniaxial amplitude with the same parameter, the principal stress by its own amplitude and mean; residual tension adds
to the normal stress, compression to neither.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.check.lives import CriticalPlaneLife
from barfem.check.points import Points, damage_lines_of, stress_at
from barfem.check.solved import Solved
from barfem.strength.duty.critical_plane import (
    FINDLEY_K,
    CriticalPlane,
    findley_bound,
    findley_equivalent_amplitude,
    findley_plane,
    principal_plane,
)
from barfem.strength.duty.miner import DamageLines, damage_per_cycle, equivalent_amplitude, static_status
from barfem.strength.duty.von_mises import greatest_amplitude, plane_von_mises
from barfem.strength.fatigue.assess import STATUS_REASONS, LifeStatus
from barfem.strength.fatigue.sn_line import LONGEST_LIFE_CYCLES

__all__ = ["CRITERIA", "critical_planes"]

Array = NDArray[np.float64]

FIRST = 256  # points searched first, the worst by their bounds

CRITERIA = {
    "findley": f"Findley's critical plane, k {FINDLEY_K:g} (ductile steel, 0.2 to 0.3: Socie and Marquis, 2000)",
    "maximum principal": "largest principal stress amplitude, mean stress on its plane by the mean-stress rule",
}


def critical_planes(solved: Solved, setting: int, points: Points) -> tuple[CriticalPlaneLife, ...]:
    """The governing point of hole setting number `setting` by each criterion.

    `Solved.further` ends with the one-wheel states (`solve_states` with one_wheel).
    """
    if solved.further is None:
        return ()
    states = np.concatenate([solved.resultants[setting], solved.further[setting, -2:]])
    stress = stress_at(solved, points, states)
    peak = plane_von_mises(stress).max(axis=0)
    lines = damage_lines_of(solved, setting, points, peak_MPa=peak, amplitude_MPa=greatest_amplitude(stress))
    kept = _may_govern(stress, lines)
    some, of_these = lines.at(kept), Points(points.sample[kept], points.point[kept], points.in_bore[kept])
    findley = findley_plane(stress[:, kept])
    parameter = _with_tension(findley.parameter_MPa, some, findley.tilt_deg)
    principal = principal_plane(stress)
    by_principal = equivalent_amplitude(
        lines, amplitude_MPa=principal.amplitude_MPa, mean_MPa=np.maximum(principal.mean_normal_MPa, 0.0)
    )
    return (
        _governing(solved, of_these, some, findley, "findley", parameter, findley_equivalent_amplitude(parameter)),
        _governing(
            solved, points, lines, principal, "maximum principal", principal.parameter_MPa, by_principal
        ),
    )  # fmt: skip


def _with_tension(parameter: Array, lines: DamageLines, tilt_deg: ArrayLike = 90.0) -> Array:
    """Findley's parameter with residual tension in its normal stress, as far as the plane stands upright."""
    upright = np.sin(np.deg2rad(tilt_deg)) ** 2
    return parameter + FINDLEY_K * np.maximum(lines.residual_MPa, 0.0) * upright


def _may_govern(stress: Array, lines: DamageLines) -> NDArray[np.intp]:
    """Points whose Findley parameter, by its bound, may be the worst over its limit: no other needs a search."""
    most = _with_tension(findley_bound(stress), lines) / lines.at_1e6_MPa
    first = np.argsort(-most, kind="stable")[:FIRST]
    plane = findley_plane(stress[:, first])
    reached = _with_tension(plane.parameter_MPa, lines.at(first), plane.tilt_deg) / lines.at_1e6_MPa[first]
    return np.flatnonzero(most >= reached.max() * (1.0 - 1e-9))


def _governing(
    solved: Solved,
    points: Points,
    lines: DamageLines,
    plane: CriticalPlane,
    criterion: str,
    parameter: Array,
    equivalent: Array,
) -> CriticalPlaneLife:
    finite = np.where(np.isfinite(equivalent), equivalent, 1e9)
    # By life; of several beyond the knee, by the share of their limit.
    q = int(np.argmax(finite / lines.at_1e6_MPa))
    here = np.array([q])
    line, stress = lines.at(here), equivalent[here]
    status = LifeStatus(int(static_status(line, stress)[0]))
    life, runout, reason = None, False, STATUS_REASONS[status] or None
    if status is LifeStatus.STANDS:
        cycles = float(1.0 / damage_per_cycle(line, stress)[0])
        knee = bool(line.has_knee[0])
        runout = bool(stress[0] <= line.at_1e6_MPa[0]) if knee else cycles > LONGEST_LIFE_CYCLES
        life = None if runout else cycles
        if runout:
            reason = STATUS_REASONS[LifeStatus.BEYOND_KNEE]
    return CriticalPlaneLife(
        criterion=criterion,
        **solved.spot(int(points.sample[q]), int(points.point[q])),
        parameter_MPa=float(parameter[q]),
        equivalent_amplitude_MPa=float(finite[q]),
        angle_deg=float(plane.angle_deg[q]),
        tilt_deg=float(plane.tilt_deg[q]),
        life_cycles=life,
        runout=runout,
        reason=reason,
    )
