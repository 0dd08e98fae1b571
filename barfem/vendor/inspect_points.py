"""The measured points of one bar in the drawing's order: refused where they cannot be that bar's, in its unit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.errors import InputError
from barfem.vendor.inspect_fit import HYPOTHESES, Lie, canonical, match
from barfem.vendor.inspect_shape import drawn_points, rigid_fit

__all__ = ["points_as_listed", "same_points"]

Array = NDArray[np.float64]
_FAR_OFF_MM = 10.0  # rms of points that are no bar of this drawing, or not under their names
_LEAST, _MOST = 0.7, 1.4  # of the distances drawn: another unit, not another bar


def points_as_listed(
    who: str, points: Mapping[str, tuple[Array, int]], names: Sequence[str], bar: Bar, *, line: int, file: str
) -> Array:
    """Points (n, 3) [mm] in the order of `names`, NaN where one was not measured; `points` have their lines beside.

    Raises
    ------
    InputError
        Fewer than four, two at one place, one far from the others, or all of another unit.
    """
    missing = [name for name in names if name not in points]
    last = max(number for _, number in points.values())
    if len(points) < 4:
        raise InputError(
            f"bar {who} has {len(points)} of {len(names)} points; {', '.join(missing)} missing.",
            where=f"line {last}, column place",
            expected="all points of the sheet, or at least four: is the file whole?",
            file=file,
        )
    array = np.array([points[name][0] if name in points else [np.nan] * 3 for name in names])
    nominal = drawn_points(bar)
    there = np.flatnonzero(np.isfinite(array[:, 0]))
    apart = np.linalg.norm(array[there][:, None] - array[there][None], axis=2)
    drawn = np.linalg.norm(nominal[there][:, None] - nominal[there][None], axis=2)
    # In another unit all are near to each other: that is said below.
    close = np.argwhere((apart < 0.01) & (drawn > 1.0)) if _ratio(apart, drawn) > 0.1 else np.empty((0, 2))
    if len(close):
        one, two = (names[there[int(i)]] for i in close[0])
        later = max((one, two), key=lambda name: points[name][1])
        raise InputError(
            f"bar {who}: {one} and {two} are the same point.",
            where=f"line {points[later][1]}, column x",
            expected=f"points about {drawn[tuple(close[0])]:.0f} mm apart, as drawn.",
            file=file,
        )
    if _LEAST < _ratio(apart, drawn) < _MOST:
        as_named = min(match(array, nominal).rms_mm)
        if as_named >= _FAR_OFF_MM:
            _refuse_exchanged(who, points, names, array, nominal, as_named, file=file)
            _refuse_one_aside(who, points, names, array, nominal, as_named, file=file)
        return array
    kept = [np.delete(np.arange(len(there)), k) for k in range(len(there))]
    alone = [k for k, rest in enumerate(kept) if _LEAST < _ratio(apart[rest][:, rest], drawn[rest][:, rest]) < _MOST]
    if len(alone) == 1:
        name = names[there[alone[0]]]
        raise InputError(
            f"{name} of bar {who} lies far from where it is drawn against all other points.",
            where=f"line {points[name][1]}, columns x, y, z",
            expected="each coordinate as measured: is a digit or a point too many?",
            file=file,
        )
    raise InputError(
        f"the points of bar {who} lie {_ratio(apart, drawn):.3g} times as far apart as drawn.",
        where=f"lines {line} to {last}, columns x, y, z",
        expected="coordinates in mm (or units = in in the header and columns x_in, y_in, z_in).",
        file=file,
    )


def same_points(bars: Mapping[str, Array | None]) -> list[str]:
    """In words, bars (by name, with their points) whose points are the same to the last digit."""
    alike: dict[bytes, list[str]] = {}
    for name, points in bars.items():
        if points is not None:
            alike.setdefault(points.tobytes(), []).append(name)
    return [
        f"bars {', '.join(names)} have the very same points, as if one were copied from another"
        for names in alike.values()
        if len(names) > 1
    ]


def _refuse_exchanged(
    who: str,
    points: Mapping[str, tuple[Array, int]],
    names: Sequence[str],
    array: Array,
    nominal: Array,
    as_named: float,
    *,
    file: str,
) -> None:
    """Two points under each other's name make bends and straights that no bar has: asked about, not judged."""
    pairs = list(combinations(np.flatnonzero(np.isfinite(array[:, 0])).tolist(), 2))
    rms = []
    for one, two in pairs:
        other = array.copy()
        other[[one, two]] = other[[two, one]]
        rms.append(min(match(other, nominal).rms_mm))
    least = int(np.argmin(rms))
    if rms[least] < 0.2 * as_named:
        first, second = (names[i] for i in pairs[least])
        lines = sorted((points[first][1], points[second][1]))
        raise InputError(
            f"bar {who}: {first} and {second} look exchanged: as they are named the points lie {as_named:.0f} mm off, "
            f"the other way round {rms[least]:.1f}.",
            where=f"lines {lines[0]} and {lines[1]}, column place",
            expected="each point under its own name.",
            file=file,
        )


def _refuse_one_aside(
    who: str,
    points: Mapping[str, tuple[Array, int]],
    names: Sequence[str],
    array: Array,
    nominal: Array,
    as_named: float,
    *,
    file: str,
) -> None:
    """One tangent point far from all others: bends have two, and no row moves one alone. A tip a long arm may move."""
    for i in np.flatnonzero(np.isfinite(array[:, 0]))[1:-1].tolist():
        others = array.copy()
        others[i] = np.nan
        rms_mm = match(others, nominal).rms_mm
        if np.isfinite(others[:, 0]).sum() > 3 and min(rms_mm) < 0.2 * as_named:
            lie = Lie(*HYPOTHESES[int(np.argmin(rms_mm))], ())
            laid, at = canonical(others, lie), canonical(array, lie)
            there = np.isfinite(laid[:, 0])
            turn, shift = rigid_fit(laid[there], nominal[there])
            k = int(np.flatnonzero(np.isfinite(at[:, 0]) & ~there)[0])
            off = float(np.linalg.norm(at[k] @ turn.T + shift - nominal[k]))
            raise InputError(
                f"{names[i]} of bar {who} lies {off:.0f} mm from where the other points have it.",
                where=f"line {points[names[i]][1]}, columns x, y, z",
                expected="each coordinate as measured, with its sign: no bend moves one of its points alone.",
                file=file,
            )


def _ratio(apart: Array, drawn: Array) -> float:
    return float(np.sqrt((apart**2).sum() / (drawn**2).sum()))
