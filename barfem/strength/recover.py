"""Stress of every hole setting at every sampled place, reduced to the worst point of each region.

Copies (c) are the batch's: hole pairs and load cases of one bar. States are the solved ones (rest, travel, the cycle's
other end); two of them are the ends of the cycle. Components are superposed as a tensor at each point; von Mises comes
last.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from barfem.model.errors import BarfemError
from barfem.strength.cycle import Cycle, Severity, square_MPa2, von_mises_MPa
from barfem.strength.places import KINDS, Region, Samples
from barfem.strength.section_map import BORE, OUTSIDE, SURFACE_NAMES
from barfem.strength.stress_maps import StressMaps

__all__ = ["UNLOADED", "Recovery", "recover"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]

SAME = 1e-6
"""Stresses as near as this are equal: a bar and its mirror image differ by about a tenth of it."""

UNLOADED = 1e9  # yield margin where there is no stress

# Copies are taken so many at a time that their arrays stay near the processor's cache: states x samples x points.
CHUNK_POINTS = 100_000


@dataclass(frozen=True, kw_only=True)
class Recovery:
    """The worst points of each copy (c) and region (r); every array is (c, r).

    `peak_*` is the point of greatest von Mises stress over all states, `yield_margin` the least of local yield
    strength / von Mises stress - 1 and `yield_sample` where. `cycle_*` is the point that the severity ranks worst,
    edges of holes and contacts included, which peak and margin leave out.
    `*_sample` indexes the samples, `*_point` the points round the section. Where a region is not checked every stress
    is zero and the margin `UNLOADED`: read `checked` first.

    `peak_evenness` is the least over the greatest von Mises stress round the same surface: 1 in pure torsion.
    """

    samples: Samples
    maps: StressMaps
    peak_MPa: Array
    peak_state: Index
    peak_sample: Index
    peak_point: Index
    peak_evenness: Array
    yield_margin: Array
    yield_sample: Index
    cycle_amplitude_MPa: Array
    cycle_mean_MPa: Array
    cycle_mean_ss_MPa: Array
    cycle_torsion_share: Array
    cycle_max_MPa: Array
    cycle_severity: Array
    cycle_sample: Index
    cycle_point: Index

    @property
    def regions(self) -> tuple[Region, ...]:
        return self.samples.regions

    @property
    def checked(self) -> NDArray[np.bool_]:
        """(r,) False where a region is not checked."""
        return np.array([region.checked for region in self.regions])

    @property
    def cycle_in_bore(self) -> NDArray[np.bool_]:
        """Whether the cycle's worst point lies in the bore."""
        return np.asarray(self.maps.surface[self.cycle_point] == BORE)

    @property
    def cycle_from_inside_rad(self) -> Array:
        """Angle of the cycle's worst point from the inside of its bend, -pi to pi; zero outside bends."""
        map_index = self.maps.index[self.cycle_sample]
        angle = self.maps.angle_rad[map_index, self.cycle_point] - self.samples.inward_angle_rad[self.cycle_sample]
        return np.where(self.samples.in_bend[self.cycle_sample], _wrapped(angle), 0.0)

    @property
    def cycle_radius_mm(self) -> Array:
        """Distance of the cycle's worst point from the centreline."""
        position = self.maps.position_mm[self.maps.index[self.cycle_sample], self.cycle_point]
        return np.asarray(np.linalg.norm(position, axis=-1))

    @property
    def cycle_strength_scale(self) -> Array:
        """Local factor on the steel's strength at the cycle's worst point."""
        return np.asarray(self.samples.strength_scale[self.cycle_sample])

    def governing_peak(self) -> Index:
        """(c,) the region with the greatest peak; of equals, the one that says most of the place."""
        return _governing(self.peak_MPa, self.regions)

    def governing_yield(self) -> Index:
        """(c,) the region with the least yield margin."""
        return _governing(1.0 / (1.0 + self.yield_margin), self.regions)


def recover(
    *,
    samples: Samples,
    maps: StressMaps,
    resultants: Array,
    cycle: tuple[int, int],
    yield_strength_MPa: float,
    severity: Severity,
) -> Recovery:
    """Worst points of every copy and region.

    Parameters
    ----------
    resultants : (c, states, n, 6)
        [N, V_a, V_b, T, M_a, M_b] in N and N·mm at the samples, in the section's frame.
    cycle
        Which two states are the ends of the cycle.
    severity
        Ranks points by their cycle: finite, zero or more, and the greater the shorter the life. Called for one surface
        of the whole bar at a time.

    Raises
    ------
    BarfemError
        Resultants that are not finite, or not of this bar's samples.
    """
    if resultants.ndim != 4 or resultants.shape[2:] != (len(samples.station_mm), maps.matrix.shape[-1]):
        raise BarfemError(f"resultants of shape {resultants.shape} are not those of {len(samples.station_mm)} samples.")
    if not np.isfinite(resultants).all():
        raise BarfemError("stress cannot be recovered: some resultants are not finite numbers.")
    copies, states, n = resultants.shape[:3]
    found: dict[str, Any] = {name: np.zeros((copies, len(samples.regions))) for name in _REAL}
    found |= {name: np.zeros((copies, len(samples.regions)), dtype=np.intp) for name in _INDEX}
    size = max(1, CHUNK_POINTS // (states * n * len(maps.surface)))
    for first in range(0, copies, size):
        some = slice(first, first + size)
        rows = np.ascontiguousarray(resultants[some].transpose(2, 1, 0, 3))
        for name, values in _worst(samples, maps, rows, cycle, severity).items():
            found[name][some] = values.T
    skipped = ~np.array([region.checked for region in samples.regions])
    for name, values in found.items():
        values[:, skipped] = _starts(samples)[skipped] if name.endswith("sample") else 0
    utilisation = found.pop("utilisation") / yield_strength_MPa
    return Recovery(
        samples=samples,
        maps=maps,
        yield_margin=np.minimum(1.0 / np.maximum(utilisation, 1e-3 / UNLOADED) - 1.0, UNLOADED),
        **found,
    )


_REAL = (
    "peak_MPa",
    "peak_evenness",
    "utilisation",
    "cycle_amplitude_MPa",
    "cycle_mean_MPa",
    "cycle_mean_ss_MPa",
    "cycle_torsion_share",
    "cycle_max_MPa",
    "cycle_severity",
)
_INDEX = ("peak_state", "peak_sample", "peak_point", "yield_sample", "cycle_sample", "cycle_point")


def _starts(samples: Samples) -> Index:
    """(r,) first sample of each region."""
    return np.searchsorted(samples.region, np.arange(len(samples.regions)))


def _greatest(values: Array, starts: Index) -> Index:
    """(r, c) sample of the greatest of values (n, c) in each region; the first of those equal to `SAME`."""
    most = np.maximum.reduceat(values, starts, axis=0)
    greatest = most - SAME * np.abs(most)  # a rank is below zero where a surface is not there
    lengths = np.diff(np.append(starts, len(values)))
    number = np.where(values >= np.repeat(greatest, lengths, axis=0), np.arange(len(values))[:, None], len(values))
    return np.minimum.reduceat(number, starts, axis=0)


def _worst(
    samples: Samples, maps: StressMaps, rows: Array, cycle: tuple[int, int], severity: Severity
) -> dict[str, Array | Index]:
    """Worst points (r, c) of each region from resultants (n, states, c, 6); by field name of `Recovery`."""
    starts, copy = _starts(samples), np.arange(rows.shape[2])
    ss, hoop, shear = maps.stress(slice(0, len(rows)), rows)  # (n, states, c, p)
    square = square_MPa2(ss, hoop, shear)
    over_states = square.max(axis=1)  # (n, c, p)
    upward = _upward(samples, maps)[:, None]
    points = (over_states * upward).argmax(axis=2)  # (n, c)
    greatest = np.sqrt(np.take_along_axis(over_states, points[..., None], axis=2)[..., 0])
    edge = np.flatnonzero(samples.edge > 0)
    greatest[edge] = 0.0  # the section's, not its edges', is held against yield
    sample = _greatest(greatest, starts)
    point = points[sample, copy]
    there = square[sample, :, copy, point]
    # The sides of a symmetric bar change places over a reversed cycle: travel is named, not its other end.
    state = (there >= (1.0 - SAME) * there.max(axis=-1, keepdims=True)).argmax(axis=-1)
    by_yield = greatest / samples.strength_scale[:, None]
    yield_sample = _greatest(by_yield, starts)
    out: dict[str, Array | Index] = {
        "peak_MPa": greatest[sample, copy],
        "peak_state": state,
        "peak_sample": sample,
        "peak_point": point,
        "peak_evenness": _evenness(square[sample, state, copy], maps, sample, point),
        "utilisation": by_yield[yield_sample, copy],
        "yield_sample": yield_sample,
    }
    one, two = cycle
    half = [0.5 * (part[:, one] - part[:, two]) if part is not None else None for part in (ss, hoop, shear)]
    mean = [0.5 * (part[:, one] + part[:, two]) if part is not None else None for part in (ss, hoop, shear)]
    over_states[edge] = over_states[samples.net[edge]].max(axis=-1, keepdims=True)
    return out | _worst_cycle(samples, maps, half, mean, over_states, upward, severity)


def _worst_cycle(
    samples: Samples,
    maps: StressMaps,
    half: list[Array | None],
    mean: list[Array | None],
    over_states: Array,
    upward: Array,
    severity: Severity,
) -> dict[str, Array | Index]:
    """The point (r, c) of each region that `severity` ranks worst, from component arrays (n, c, p)."""
    index, starts = maps.index, _starts(samples)
    copy = np.arange(over_states.shape[1])
    best: dict[str, Array | Index] = {}
    for surface in (OUTSIDE, BORE):
        points = np.flatnonzero(maps.surface == surface)
        if len(points) == 0:
            continue
        part = slice(int(points[0]), int(points[-1]) + 1)
        ss, hoop, shear = (None if x is None else x[..., part] for x in half)
        mean_ss, mean_hoop, mean_shear = (None if x is None else x[..., part] for x in mean)
        if ss is None or shear is None or mean_ss is None or mean_shear is None:
            continue
        square = square_MPa2(ss, hoop, shear)
        inside = _wrapped(maps.angle_rad[:, part][index] - samples.inward_angle_rad[:, None])
        cycle = Cycle(
            regions=samples.regions,
            region=samples.region,
            surface=SURFACE_NAMES[surface],
            strength_scale=samples.strength_scale[:, None, None],
            from_inside_rad=np.where(samples.in_bend[:, None], inside, 0.0)[:, None],
            radius_mm=np.linalg.norm(maps.position_mm[:, part], axis=-1)[index][:, None],
            amplitude_MPa=np.sqrt(square),
            mean_MPa=von_mises_MPa(mean_ss, mean_hoop, mean_shear),
            mean_ss_MPa=mean_ss,
            torsion_share=3.0 * shear**2 / np.where(square > 0.0, square, 1.0),
            max_MPa=np.sqrt(over_states[..., part]),
        )
        rank = np.where(maps.exists[:, part][index][:, None], severity(cycle) * upward[..., part], -1.0)
        point = rank.argmax(axis=2)  # (n, c)
        value = np.take_along_axis(rank, point[..., None], axis=2)[..., 0]
        sample = _greatest(value, starts)
        point = point[sample, copy]
        worst = {
            "cycle_severity": value[sample, copy],
            "cycle_sample": sample,
            "cycle_point": points[point],
            **{
                f"cycle_{name}": getattr(cycle, name)[sample, copy, point]
                for name in ("amplitude_MPa", "mean_MPa", "mean_ss_MPa", "torsion_share", "max_MPa")
            },
        }
        if best:
            # Outside and bore alike but for rounding: the outside is named.
            better = worst["cycle_severity"] > best["cycle_severity"] + SAME * np.abs(best["cycle_severity"])
            worst = {name: np.where(better, value, best[name]) for name, value in worst.items()}
        best = worst
    return best


def _evenness(square: Array, maps: StressMaps, sample: Index, point: Index) -> Array:
    """Least over greatest von Mises stress round the surface of the worst point, from squares (r, c, p)."""
    same = (maps.surface == maps.surface[point][..., None]) & maps.exists[maps.index[sample]]
    greatest = square.max(axis=-1, where=same, initial=0.0)
    least = square.min(axis=-1, where=same, initial=np.inf)
    return np.sqrt(least / np.where(greatest > 0.0, greatest, 1.0))


def _upward(samples: Samples, maps: StressMaps) -> Array:
    """Factors (n, p) within 1e-9 of 1 that let the upper, else the front one win of points alike but for rounding.

    So that top and bottom of a bar in reversed bending are not named at random.
    """
    a, b = (samples.frame[:, 1:] @ np.array([2e-10, 0.0, 8e-10])).T[:, :, None]
    cosine, sine = np.cos(maps.angle_rad), np.sin(maps.angle_rad)
    return np.asarray(1.0 + a * cosine[maps.index] + b * sine[maps.index])


def _governing(values: Array, regions: tuple[Region, ...]) -> Index:
    """(c,) region of the greatest value; of values equal to `SAME`, the most telling kind's (see `KINDS`)."""
    rank = np.array([KINDS.index(region.kind) for region in regions])
    greatest = values.max(axis=1, keepdims=True)
    return np.asarray(np.where(values >= greatest * (1.0 - SAME), rank, len(KINDS)).argmin(axis=1))


def _wrapped(angle: Array) -> Array:
    """The same angle in [-pi, pi)."""
    return (angle + np.pi) % (2.0 * np.pi) - np.pi
