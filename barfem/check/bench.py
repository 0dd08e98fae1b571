"""A bar on the test bench: strokes, forces to expect and strains at a gauge, for each hole pair and rig.

In the rig as in the car both ends move as the roll of the duty has them. With the right end held the left one moves as
far as gives the same force: a bar between two mounts is one spring in v . q, v the force at each end and q its travel,
so that the left end alone takes q_left + q_right v_right / v_left; twice the travel where both ends are alike. The
gauge sits on a straight, two diameters or more from bends, clamps and flats, on top of the bar (the drawing's z):
along, and at 45 deg to both sides. Strains by the textbook's sums for a round section, with the resultants of the beam:
along = M c / (E I) + N / (E A), torsion gamma = T c / (G J), at +-45 deg along (1 - nu) / 2 -+ gamma / 2 (strain
transformation, any text; transverse shear is zero on top under a vertical force): torsion right-handed about the axis
carries the top away from where +45 points, the farther the nearer to the left tip.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from barfem.check.hole_names import pair_name
from barfem.model.bar import Bar
from barfem.model.bar_geometry import section_properties
from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.load_case import CYCLE, ONE_WHEEL, ROLL, End, Instant
from barfem.solve.beam import HoleSetting, all_settings, solve_bar
from barfem.solve.resultants import resultants

__all__ = ["CLEAR_DIAMETERS", "SHARES", "BenchRow", "Gauge", "bench_rows", "gauge_of"]

Array = NDArray[np.float64]
CLEAR_DIAMETERS = 2.0
SHARES = (0.25, 0.5, 1.0)
_AXIS = np.array([0.0, 0.0, 1.0])


@frozen
class Gauge:
    """Where the gauge sits: station from the right tip, from the middle, in words, and what is clear to both sides."""

    station_mm: float
    from_middle_mm: float
    where: str
    clear_mm: float


@frozen
class BenchRow:
    """One hole pair in one rig ("as in the car", "right end held").

    `left_mm` and `right_mm`: travel of each pickup from rest at full stroke and at the other end of the cycle;
    `force_N` that the left one feels at full stroke, up. `strains` (share of full stroke, along, at +45 deg, at -45
    deg) in microstrain, +45 right-handed about the outward direction, from the bar's axis towards the left tip.
    """

    hole: str
    rig: str
    left_mm: tuple[float, float]
    right_mm: tuple[float, float]
    force_N: float
    strains: tuple[tuple[float, float, float, float], ...]


def gauge_of(bar: Bar) -> Gauge:
    """The middle of the longest piece of a straight that is clear of bends, clamps, collars and flats.

    Raises
    ------
    InputError
        There is no such piece.
    """
    clear = CLEAR_DIAMETERS * bar.section.diameter_mm
    length = bar.centreline.length_mm
    cuts: list[tuple[float, float]] = [(0.0, _end(bar, "right") + clear), (length - _end(bar, "left") - clear, length)]
    cuts += [
        (bend.start_station_mm - clear, bend.start_station_mm + bend.length_mm + clear) for bend in bar.centreline.bends
    ]
    seated = [(mount.station_mm, mount.length_mm) for mount in bar.mounts]
    seated += [(collar.station_mm, collar.length_mm) for collar in bar.collars]
    cuts += [(station - 0.5 * length - clear, station + 0.5 * length + clear) for station, length in seated]
    cuts.sort()
    best, reached = (0.0, 0.0), 0.0
    for low, high in cuts:
        if low - reached > best[1] - best[0]:
            best = (reached, low)
        reached = max(reached, high)
    if best[1] - best[0] <= 0.0:
        raise InputError(
            f"no straight of this bar is clear of bends, clamps, flats by {CLEAR_DIAMETERS:g} diameters: no place for "
            "a gauge.",
            expected="a bar with a longer straight; or force and travel alone, measured.",
            file=bar.source,
        )
    at = 0.5 * (best[0] + best[1])
    before = sum(bend.start_station_mm < at for bend in bar.centreline.bends)
    return Gauge(at, at - bar.middle_mm, f"straight {before + 1}, on top", 0.5 * (best[1] - best[0]) + clear)


def _end(bar: Bar, side: str) -> float:
    """How far flat and holes reach from the tip."""
    end = bar.right if side == "right" else bar.left
    holes = max((hole.from_tip_mm for hole in end.holes), default=0.0)
    return max(holes, end.flat.length_mm if end.flat is not None else 0.0)


def bench_rows(bar: Bar, gauge: Gauge) -> tuple[BenchRow, ...]:
    """Every hole pair in both rigs, all of one rig solved together.

    Raises
    ------
    BarfemError
        A hole pair cannot follow its stroke.
    """
    settings = all_settings(bar, cases=(ROLL.name,))
    ends = np.broadcast_to(ROLL.moves_mm(bar.travel, bar.duty.ratio)[list(CYCLE)], (len(settings), len(CYCLE), 2))
    in_car, force = _in_rig(bar, gauge, "as in the car", settings, ends)
    held = np.zeros_like(ends)
    held[..., End.LEFT] = (
        ends[..., End.LEFT] + ends[..., End.RIGHT] * (force[:, End.RIGHT] / force[:, End.LEFT])[:, None]
    )
    on_bench, _ = _in_rig(bar, gauge, "right end held", all_settings(bar, cases=(ONE_WHEEL.name,)), held)
    return (*in_car, *on_bench)


def _in_rig(
    bar: Bar, gauge: Gauge, rig: str, settings: Sequence[HoleSetting], ends: Array
) -> tuple[list[BenchRow], Array]:
    """Rows, and pickup forces (j, 2) at full stroke less those at rest; `ends` (j, 2, 2): travels over the cycle."""
    moves = dict(zip(settings, np.multiply.outer(SHARES, ends[:, 0]).swapaxes(0, 1), strict=True))
    solution = solve_bar(bar, settings, more_moves=lambda _, setting: moves[setting])
    found = resultants(solution, [gauge.station_mm])[:, :, 0]
    strains = _strains(bar, gauge, found[:, len(Instant) :] - found[:, Instant.REST, None])
    force = solution.further_force_N[:, -1]
    rows = [
        BenchRow(
            _name(bar, setting),
            rig,
            tuple(ends[j, :, End.LEFT].tolist()),
            tuple(ends[j, :, End.RIGHT].tolist()),
            float(force[j, End.LEFT]),
            _rows(strains[j]),
        )
        for j, setting in enumerate(settings)
    ]
    return rows, force


def _rows(strains: Array) -> tuple[tuple[float, float, float, float], ...]:
    return tuple(
        (share, float(row[0]), float(row[1]), float(row[2])) for share, row in zip(SHARES, strains, strict=True)
    )


def _name(bar: Bar, setting: HoleSetting) -> str:
    left, right = bar.left.holes[setting.left].name, bar.right.holes[setting.right].name
    return pair_name(left, right)


def _strains(bar: Bar, gauge: Gauge, loads: Array) -> Array:
    """Microstrain along, at +45 and at -45 deg on top of the bar, (j, k, 3), of changes of the resultants (j, k, 6)."""
    _, frames = bar.centreline.evaluate([gauge.station_mm])
    t, a, b = frames[0]
    # Where the bar stands upright there is no top: the car's forward side instead.
    up = _AXIS if abs(float(t @ _AXIS)) < 0.9 else np.array([1.0, 0.0, 0.0])
    up = up - (up @ t) * t
    up = up / np.linalg.norm(up)
    section = section_properties(bar, np.array([gauge.station_mm]))
    c = 0.5 * bar.section.diameter_mm
    E, G, nu = bar.steel.E_MPa, bar.steel.G_MPa, bar.steel.nu
    ya, yb = c * float(up @ a), c * float(up @ b)
    along = (loads[..., 4] * yb - loads[..., 5] * ya) / (E * float(section.I_a_mm4[0]))
    along = along + loads[..., 0] / (E * float(section.area_mm2[0]))
    gamma = loads[..., 3] * c / (G * float(section.J_mm4[0]))
    mean = 0.5 * along * (1.0 - nu)
    return np.asarray(1e6 * np.stack([along, mean - 0.5 * gamma, mean + 0.5 * gamma], axis=-1))
