"""A bar on the test bench: strokes, forces to expect and strains at a gauge, for each hole pair and rig.

In the rig as in the car both ends move oppositely by the travel; with one end held the other one moves by twice as
much, which strains the bar about alike. The gauge sits on a straight, two diameters or more from bends, clamps and
flats, on top of the bar (the drawing's z): along, and at 45 deg to both sides. Strains by the textbook's sums for a
round section, with the resultants of the beam: along = M c / (E I) + N / (E A), torsion gamma = T c / (G J), at 45 deg
along (1 - nu) / 2 +- gamma / 2 (strain transformation, any text; transverse shear is zero on top under a vertical
force).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from barfem.check.hole_names import pair_name
from barfem.model.bar import Bar
from barfem.model.bar_geometry import section_properties
from barfem.model.errors import InputError
from barfem.model.load_case import End, Instant
from barfem.solve.beam import HoleSetting, all_settings, solve_bar
from barfem.solve.resultants import resultants

__all__ = ["CLEAR_DIAMETERS", "SHARES", "BenchRow", "Gauge", "bench_rows", "gauge_of"]

Array = NDArray[np.float64]
CLEAR_DIAMETERS = 2.0
SHARES = (0.25, 0.5, 1.0)
_AXIS = np.array([0.0, 0.0, 1.0])


@dataclass(frozen=True)
class Gauge:
    """Where the gauge sits: station from the right tip, from the middle, in words, and what is clear to both sides."""

    station_mm: float
    from_middle_mm: float
    where: str
    clear_mm: float


@dataclass(frozen=True)
class BenchRow:
    """One hole pair in one rig ("as in the car", "one end held").

    `stroke_mm` of the moving pickup to each side; `force_N` that it exerts at full stroke, up. `strains` (share of the
    stroke, along, at +45 deg, at -45 deg) in microstrain, +45 right-handed about the outward direction, from the bar's
    axis towards the left tip.
    """

    hole: str
    rig: str
    stroke_mm: float
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
    out: list[BenchRow] = []
    for rig, case, times in (("as in the car", "roll", 1.0), ("one end held", "one-wheel", 2.0)):
        settings = all_settings(bar, cases=(case,))
        stroke = times * bar.travel.up_mm
        other = -1.0 if case == "roll" else 0.0
        moves = np.array([[other * share * stroke, share * stroke] for share in SHARES])

        def more(_: Bar, __: HoleSetting, moves: Array = moves) -> Array:
            return moves

        solution = solve_bar(bar, settings, more_moves=more)
        found = resultants(solution, [gauge.station_mm])[:, :, 0]
        change = found[:, len(Instant) :] - found[:, Instant.REST, None]
        force = solution.further_force_N[..., End.LEFT]
        strains = _strains(bar, gauge, change)
        out += [
            BenchRow(_name(bar, setting), rig, stroke, float(force[j, -1]), _rows(strains[j]))
            for j, setting in enumerate(settings)
        ]
    return tuple(out)


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
    return np.asarray(1e6 * np.stack([along, mean + 0.5 * gamma, mean - 0.5 * gamma], axis=-1))
