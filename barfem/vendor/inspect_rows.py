"""The fewest of the bender's rows that explain how the measured points of a bar lie, within the measuring noise.

All rows are fitted first, by least squares in which the bar lies anywhere (Gauss-Newton, damped). Then rows are put
back to the drawing's, as many as the data allow: with the rows T put back, the sum of squares grows by
d_T' (C_TT)^-1 d_T, d the deviations found and C their covariance (Wald), and may reach what noise alone would give once
in a thousand bars. Of the sets of so few rows the one with the least sum is named.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from itertools import combinations
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from barfem.model.frozen import frozen
from barfem.vendor.inspect_shape import Rows, rigid_fit, walk

__all__ = ["LEAST_NOISE_MM", "RADIUS_FROM_DEG", "RowDifference", "RowFit", "entries_of", "explain_rows", "unexplained"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]
Few = Callable[[Sequence[int]], tuple[Array, float]]
LEAST_NOISE_MM = 0.1
"""Standard deviation of a coordinate, unless the file says its own: a measuring arm's (common practice, no source)."""
RADIUS_FROM_DEG = 30.0
"""Smaller bends have no radius that tangent points could tell: 0.1 mm of noise would make 1 mm of it."""
CHANCE = 0.999
STRANGE = 6.0
"""Times the measuring noise that a point may lie from the rows that fit best: noise alone comes to four."""
_EXHAUSTIVE = 3000
_STEP = 1e-3
_UNTOLD = 1e-12
_LIKELIEST = 10
_FITTED_SIZE = 3
_STUCK_MM = 5.0  # what is left of a fit that stopped short, root of its sum of squares
_SHORT_MM = 5.0


@frozen
class RowDifference:
    """One entry of a row that differs from the drawing. `row` counts from the right tip; `unit` mm or deg."""

    row: int
    what: str
    measured: float
    nominal: float
    se: float

    _json_also: ClassVar[Mapping[str, str]] = {"difference": "difference", "unit": "unit"}

    @property
    def difference(self) -> float:
        return self.measured - self.nominal

    @property
    def unit(self) -> str:
        return "mm" if self.what in ("length", "radius") else "deg"

    @property
    def quantity(self) -> str:
        """Its name among `RowFit.numbers`; none of a radius."""
        if self.what == "length":
            return f"straight {self.row}_mm"
        return "" if self.what == "radius" else f"bend {self.row} {self.what}_deg"


@frozen
class RowFit:
    """What explains one bar: `rows` as received (the drawing's wherever nothing else is shown), `every` row fitted."""

    rows: Rows
    every: Rows
    differences: tuple[RowDifference, ...]
    noise_mm: float
    left_mm: float = 0.0
    left_at: int = 0
    """How far the point that fits the fitted rows worst is from them, and which it is."""

    @property
    def numbers(self) -> dict[str, float]:
        """Every row as fitted, by its name with the unit."""
        every = self.every
        return {
            **{f"straight {i + 1}_mm": float(value) for i, value in enumerate(every.straight_mm)},
            **{f"bend {i + 1} angle_deg": float(value) for i, value in enumerate(every.angle_deg)},
            **{f"bend {i + 2} rotation_deg": float(value) for i, value in enumerate(every.rotation_deg)},
        }


def entries_of(bends: int) -> list[tuple[int, str]]:
    """(row, what) of each entry of a vector of rows."""
    return [
        *((i + 1, "length") for i in range(bends + 1)),
        *((i + 2, "rotation") for i in range(bends - 1)),
        *((i + 1, "angle") for i in range(bends)),
        *((i + 1, "radius") for i in range(bends)),
    ]


def explain_rows(nominal: Rows, bars: Sequence[Array], *, noise_mm: float | None = None) -> list[RowFit]:
    """The fewest rows that explain each bar's points (p, 3), canonical, NaN where one is missing.

    `noise_mm` is the standard deviation of a coordinate; None: 0.1 mm, or what the points themselves show if that is
    more.
    """
    k = nominal.bends
    entries = entries_of(k)
    free = np.array(
        [what != "radius" or nominal.angle_deg[row - 1] >= RADIUS_FROM_DEG for row, what in entries], dtype=bool
    )
    at = np.flatnonzero(free)
    measured = np.array(bars)
    there = np.isfinite(measured[:, :, 0])
    filled = np.where(there[:, :, None], measured, 0.0)
    found, jacobian, left = _fitted(nominal, filled, there, at)
    strayed = (left > _STUCK_MM**2) | np.any(found[:, 2 * k :] < 0.0, axis=1)
    for i in np.flatnonzero(there.all(axis=1) & strayed).tolist():
        other = _fitted(nominal, filled[i : i + 1], there[i : i + 1], at, _read_off(nominal, measured[i])[None])
        if other[2][0] <= left[i] + LEAST_NOISE_MM**2:
            found[i], jacobian[i], left[i] = (each[0] for each in other)
    # Whole turns are none.
    turned = slice(k + 1, 2 * k)
    found[:, turned] -= 360.0 * np.round((found[:, turned] - nominal.rotation_deg) / 360.0)
    apart = np.linalg.norm(_residual(found, filled, there, k).reshape(*there.shape, 3), axis=2)
    out = []
    for i in range(len(bars)):
        count = 3 * int(there[i].sum()) - 6
        information = jacobian[i].T @ jacobian[i]
        # A row that moves no measured point, as an arm without its tip, is not known and explains nothing.
        told = np.diag(information) > _UNTOLD * np.trace(information)
        free_count = max(count - len(at), 0)
        spread = float(np.sqrt(left[i] / free_count)) if free_count > 0 else 0.0
        noise = max(noise_mm or LEAST_NOISE_MM, spread if free_count >= 3 and noise_mm is None else 0.0)
        known = information[np.ix_(told, told)]
        few = None if there[i].all() else partial(_fitted_by, nominal, filled[i : i + 1], there[i : i + 1], at[told])
        fit = _fewest(
            nominal,
            found[i],
            known,
            at[told],
            entries,
            noise,
            determined=count >= len(at),
            few=few,
            left=float(left[i]),
        )
        out.append(replace(fit, left_mm=float(apart[i].max()), left_at=int(apart[i].argmax())))
    return out


def unexplained(fit: RowFit, names: Sequence[str], *, noise_mm: float | None) -> list[str]:
    """In words, points that no rows explain: as good as always one that was measured or copied wrongly."""
    if fit.left_mm <= STRANGE * (noise_mm or LEAST_NOISE_MM):
        return []
    return [
        f"no rows explain the points: near {names[fit.left_at]} they lie {fit.left_mm:.1f} mm off any; was a point "
        "measured or copied wrongly?"
    ]


def _residual(vectors: Array, points: Array, there: Array, k: int) -> Array:
    """Points less the rows' points, both laid over each other (n, 3 p); zero where a point is missing."""
    laid = walk(vectors, k)
    weight = there[:, :, None].astype(float)
    total = weight.sum(axis=1, keepdims=True)
    # Missing points have no weight: shift both to the mean of what is there, so that zeros do not pull.
    mean = (laid * weight).sum(axis=1, keepdims=True) / total
    aim = (points * weight).sum(axis=1, keepdims=True) / total
    a, b = (laid - mean) * weight, (points - aim) * weight
    turn, _ = rigid_fit(a, b)
    return np.asarray((b - a @ np.swapaxes(turn, -1, -2)).reshape(len(vectors), -1))


def _read_off(nominal: Rows, points: Array) -> Array:
    """Rows as a vector straight from the points (p, 3): near enough for a fit where the drawing's are too far off.

    A rotation that is half a turn off is one that no fit from the drawing finds. Radii are the drawn ones.
    """
    straight = points[1::2] - points[::2]
    length = np.linalg.norm(straight, axis=1)
    if np.any(length < _SHORT_MM):  # its direction is noise
        return nominal.vector
    u = straight / length[:, None]
    normals = np.cross(u[:-1], u[1:])
    angle = np.degrees(np.arctan2(np.linalg.norm(normals, axis=1), np.sum(u[:-1] * u[1:], axis=1)))
    sines = np.sum(np.cross(normals[:-1], normals[1:]) * u[1:-1], axis=1)
    turned = np.degrees(np.arctan2(sines, np.sum(normals[:-1] * normals[1:], axis=1)))
    rotation = nominal.rotation_deg + (turned - nominal.rotation_deg + 180.0) % 360.0 - 180.0
    return np.concatenate([length, rotation, angle, nominal.radius_mm])


def _fitted(
    nominal: Rows, points: Array, there: Array, at: Index, start: Array | None = None
) -> tuple[Array, Array, Array]:
    """Vectors (n, v) fitted, their Jacobians (n, 3 p, f) and sums of squares (n,); `start` (n, v), else the drawing."""
    k, n = nominal.bends, len(points)
    vectors = np.tile(nominal.vector, (n, 1)) if start is None else start.copy()
    damping = np.full(n, 1e-9)
    residual = _residual(vectors, points, there, k)
    cost = np.sum(residual**2, axis=1)
    jacobian = _jacobian(vectors, residual, points, there, k, at)
    for _ in range(25):
        normal = np.swapaxes(jacobian, 1, 2) @ jacobian
        ridge = damping[:, None, None] * np.eye(len(at)) * np.trace(normal, axis1=1, axis2=2)[:, None, None]
        step = np.linalg.solve(normal + ridge, -(np.swapaxes(jacobian, 1, 2) @ residual[:, :, None]))[:, :, 0]
        tried = vectors.copy()
        tried[:, at] += step
        new = _residual(tried, points, there, k)
        new_cost = np.sum(new**2, axis=1)
        better = new_cost <= cost
        vectors[better], residual[better] = tried[better], new[better]
        gained = np.where(better, cost - new_cost, 0.0)
        cost = np.where(better, new_cost, cost)
        damping = np.where(better, damping * 0.1, damping * 100.0)
        if np.all((gained <= 1e-10 * (1e-6 + cost)) & better) or np.all(damping > 1e3):
            break
        jacobian = _jacobian(vectors, residual, points, there, k, at)
    return vectors, _jacobian(vectors, residual, points, there, k, at), cost


def _fitted_by(nominal: Rows, points: Array, there: Array, at: Index, chosen: Sequence[int]) -> tuple[Array, float]:
    """Deviations of these free rows alone that fit one bar best, and the sum of squares that they leave."""
    these = at[list(chosen)]
    vectors, _, cost = _fitted(nominal, points, there, these)
    return (vectors[0] - nominal.vector)[these], float(cost[0])


def _jacobian(vectors: Array, residual: Array, points: Array, there: Array, k: int, at: Index) -> Array:
    """By differences, all entries of all bars in one go."""
    n, f = len(vectors), len(at)
    moved = np.repeat(vectors, f, axis=0)
    moved[np.arange(n * f), np.tile(at, n)] += _STEP
    new = _residual(moved, np.repeat(points, f, axis=0), np.repeat(there, f, axis=0), k)
    return np.asarray(np.swapaxes((new.reshape(n, f, -1) - residual[:, None, :]) / _STEP, 1, 2))


def _fewest(
    nominal: Rows,
    vector: Array,
    information: Array,
    at: Index,
    entries: list[tuple[int, str]],
    noise: float,
    *,
    determined: bool,
    few: Few | None,
    left: float,
) -> RowFit:
    from scipy.special import gammaincinv

    deviation = (vector - nominal.vector)[at]
    pull = information @ deviation
    whole = float(deviation @ pull)
    f = len(at)
    limits = 2.0 * noise**2 * gammaincinv(np.maximum(f - np.arange(f + 1), 1) / 2.0, CHANCE)  # chi-square's
    chosen: tuple[int, ...] = ()
    if whole > limits[0]:
        chosen = _smallest_set(information, pull, whole, limits, few, left)
    kept = np.array(chosen, dtype=int)
    sparse = nominal.vector.copy()
    differences = []
    if len(kept):
        inverse = np.linalg.pinv(information[np.ix_(kept, kept)])
        values = inverse @ pull[kept] if few is None else few(chosen)[0]
        sparse[at[kept]] += values
        errors = noise * np.sqrt(np.maximum(np.diag(inverse), 0.0))
        for j, value, error in zip(at[kept].tolist(), values.tolist(), errors.tolist(), strict=True):
            row, what = entries[j]
            drawn = float(nominal.vector[j])
            differences.append(RowDifference(row, what, drawn + value, drawn, error))
    differences.sort(key=lambda each: (each.row, each.what))
    every = vector if determined else sparse
    return RowFit(_rows(sparse, nominal.bends), _rows(every, nominal.bends), tuple(differences), noise)


def _smallest_set(
    information: Array, pull: Array, whole: float, limits: Array, few: Few | None, left: float
) -> tuple[int, ...]:
    """Free rows, the fewest whose sum of squares stays below the limit of their number; the best of as few.

    `few`: with points missing all rows together fit in many ways, some of them far from the drawing, where what is
    linear about them misleads. Then small sets are fitted by themselves, and `left` is what all rows together leave.
    """
    f = len(pull)
    best: tuple[int, ...] = ()
    for size in range(1, f):
        sets = np.array(list(_candidates(f, size, best)))
        blocks = information[sets[:, :, None], sets[:, None, :]]
        gain = np.einsum("si,si->s", pull[sets], _solved(blocks, pull[sets]))
        if few is None or size > _FITTED_SIZE:  # of more rows no one asks which: it takes seconds to tell
            i = int(np.argmax(gain))
            more = whole - float(gain[i])
        else:
            likely = np.argsort(-gain)[: f if size == 1 else _LIKELIEST]
            leave = [few(sets[j])[1] for j in likely]
            i, more = int(likely[int(np.argmin(leave))]), min(leave) - left
        best = tuple(sets[i].tolist())
        if more <= limits[size]:
            return best
    return tuple(range(f))


def _solved(blocks: Array, right: Array) -> Array:
    size = blocks.shape[-1]
    ridge = 1e-12 * np.trace(blocks, axis1=1, axis2=2)[:, None, None] * np.eye(size)
    return np.asarray(np.linalg.solve(blocks + ridge, right[:, :, None])[:, :, 0])


def _candidates(f: int, size: int, best: tuple[int, ...]) -> list[tuple[int, ...]]:
    """Every set of `size` while they are few, then the best of one less with one more."""
    count = 1
    for i in range(size):
        count = count * (f - i) // (i + 1)
    if count <= _EXHAUSTIVE:
        return list(combinations(range(f), size))
    return [(*best, j) for j in range(f) if j not in best]


def _rows(vector: Array, k: int) -> Rows:
    return Rows(vector[: k + 1], vector[k + 1 : 2 * k], vector[2 * k : 3 * k], vector[3 * k :])
