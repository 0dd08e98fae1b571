"""Stress of every hole setting at every sampled place, reduced to the worst point of each region.

Copies (c) are the batch's: hole pairs and load cases of one bar. States are the solved ones (rest, travel, the cycle's
other end); two of them are the ends of the cycle. Components are superposed as a tensor at each point; von Mises comes
last.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from barfem.model.errors import BarfemError
from barfem.model.frozen import frozen
from barfem.strength.cycle import Cycle, Severity
from barfem.strength.cycle_ranks import cycle_ranks
from barfem.strength.mirrored_half import Halves, halves
from barfem.strength.places import KINDS, Region, Samples
from barfem.strength.section_map import BORE
from barfem.strength.stress_maps import StressMaps
from barfem.strength.together import Together
from barfem.strength.worst_points import SAME, Points, greatest_of_regions, wrapped

__all__ = ["UNLOADED", "Recovery", "Stressed", "recover", "recover_each"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]

UNLOADED = 1e9  # yield margin where there is no stress

# Copies are taken so many at a time, states x samples x points: memory has a bound, and few calls are made.
CHUNK_POINTS = 1_000_000


@frozen(kw_only=True)
class Recovery:
    """The worst points of each copy (c) and region (r); every array is (c, r).

    `peak_*` is the point of greatest von Mises stress over all states, `yield_margin` the least of local yield
    strength / von Mises stress - 1 and `yield_sample` where. `cycle_*` is the point that the severity ranks worst,
    edges of holes and contacts included, which peak and margin leave out, and `first_*` the one that the growing load
    breaks first; it is the same where no life ends. `goodman_*` is the one of the least Goodman safety factor.
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
    cycle_torsion_share: Array
    cycle_max_MPa: Array
    cycle_severity: Array
    cycle_sample: Index
    cycle_point: Index
    first_amplitude_MPa: Array
    first_mean_MPa: Array
    first_torsion_share: Array
    first_max_MPa: Array
    first_sample: Index
    first_point: Index
    goodman_amplitude_MPa: Array
    goodman_mean_MPa: Array
    goodman_torsion_share: Array
    goodman_max_MPa: Array
    goodman_sample: Index
    goodman_point: Index

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
    def cycle_strength_scale(self) -> Array:
        """Local factor on the steel's strength at the cycle's worst point."""
        return np.asarray(self.samples.strength_scale[self.cycle_sample])

    def apart(self, which: str) -> NDArray[np.bool_]:
        """(c, r) whether the point of `which` ("first", "goodman") is another one than that of the worst cycle."""
        sample, point = getattr(self, f"{which}_sample"), getattr(self, f"{which}_point")
        return np.asarray((sample != self.cycle_sample) | (point != self.cycle_point))

    def cycle_at(self, at: tuple[Index, ...]) -> Cycle:
        """The worst cycles of (copy, region) `at`."""
        return self._cycle_of("cycle", at)

    def first_at(self, at: tuple[Index, ...]) -> Cycle:
        """The cycles of (copy, region) `at` where the growing load breaks them first."""
        return self._cycle_of("first", at)

    def goodman_at(self, at: tuple[Index, ...]) -> Cycle:
        """The cycles of (copy, region) `at` where the Goodman factor is least."""
        return self._cycle_of("goodman", at)

    def _cycle_of(self, which: str, at: tuple[Index, ...]) -> Cycle:
        values: dict[str, Any] = {name: getattr(self, f"{which}_{name}")[at] for name in (*_CYCLE, "sample", "point")}
        sample, point = values.pop("sample"), values.pop("point")
        index = self.maps.index[sample]
        angle = self.maps.angle_rad[index, point] - self.samples.inward_angle_rad[sample]
        return Cycle(
            regions=self.regions,
            region=at[1],
            in_bore=np.asarray(self.maps.surface[point] == BORE),
            strength_scale=np.asarray(self.samples.strength_scale[sample]),
            from_inside_rad=np.where(self.samples.in_bend[sample], wrapped(angle), np.pi),
            radius_mm=np.asarray(np.linalg.norm(self.maps.position_mm[index, point], axis=-1)),
            **values,
        )

    def governing_peak(self) -> Index:
        """(c,) the region with the greatest peak; of equals, the one that says most of the place."""
        return _governing(self.peak_MPa, self.regions)

    def governing_yield(self) -> Index:
        """(c,) the region with the least yield margin."""
        return _governing(1.0 / (1.0 + self.yield_margin), self.regions)


@frozen(eq=False)
class Stressed:
    """What `recover_each` takes of a bar.

    Attributes
    ----------
    resultants : (c, states, n, 6)
        [N, V_a, V_b, T, M_a, M_b] in N and N·mm at the samples, in the section's frame.
    cycle
        Which two states are the ends of the cycle.
    mirrored_mm
        The bar's length where it is its own mirror image and one end of the cycle that of the other: then one half is
        looked at, as far as the halves' stress per load is alike.
    """

    samples: Samples
    maps: StressMaps
    resultants: Array
    cycle: tuple[int, int]
    yield_strength_MPa: float
    mirrored_mm: float | None = None

    def refuse_nonsense(self) -> None:
        """Raises BarfemError for resultants that are not finite, or not of this bar's samples."""
        count = len(self.samples.station_mm)
        if self.resultants.ndim != 4 or self.resultants.shape[2:] != (count, self.maps.matrix.shape[-1]):
            raise BarfemError(f"resultants of shape {self.resultants.shape} are not those of {count} samples.")
        if not np.isfinite(self.resultants).all():
            raise BarfemError("stress cannot be recovered: some resultants are not finite numbers.")

    def points(self, copies: slice) -> Points:
        """The points, of some copies."""
        rows = np.ascontiguousarray(self.resultants[copies].transpose(2, 1, 0, 3))
        return Points(self.samples, self.maps, rows, self.cycle)


def recover(
    *,
    samples: Samples,
    maps: StressMaps,
    resultants: Array,
    cycle: tuple[int, int],
    yield_strength_MPa: float,
    severity: Severity,
) -> Recovery:
    """Worst points of every copy and region of one bar; as `Stressed`.

    `severity` ranks points by their cycle, by life and, where none ends, by the load that they bear.

    Raises
    ------
    BarfemError
        Resultants that are not finite, or not of this bar's samples.
    """
    stressed = Stressed(samples, maps, resultants, cycle, yield_strength_MPa)
    return recover_each([stressed], lambda bar_of_region: severity)[0]


def recover_each(several: Sequence[Stressed], severity: Callable[[Index], Severity]) -> list[Recovery]:
    """`recover` of many bars, a few at a time.

    `severity` gives that of points of several bars from the number (r,) of each region's bar.

    Raises
    ------
    BarfemError
        As `recover`, of any bar.
    """
    alike_of = math.gcd(*(bar.resultants.shape[0] for bar in several))  # bars of three holes and of one go together
    work: dict[tuple[Any, ...], list[_Work]] = {}
    found: list[dict[str, Any]] = []
    for number, bar in enumerate(several):
        bar.refuse_nonsense()
        copies, states, n = bar.resultants.shape[:3]
        regions = len(bar.samples.regions)
        found.append({name: np.zeros((copies, regions)) for name in _REAL})
        found[-1] |= {name: np.zeros((copies, regions), dtype=np.intp) for name in _INDEX}
        alike = None if bar.mirrored_mm is None else halves(bar.samples, bar.maps, bar.mirrored_mm)
        points_a_copy = states * (n if alike is None else len(alike.right)) * len(bar.maps.surface)
        size = max(1, min(alike_of, CHUNK_POINTS // points_a_copy))
        for first in range(0, copies, size):
            count = min(size, copies - first)
            kind = (count, states, bar.resultants.shape[3], bar.maps.surface.tobytes(), bar.cycle)
            one = _Work(number, slice(first, first + count), alike, points_a_copy * count)
            work.setdefault(kind, []).append(one)
    for some in (few for each in work.values() for few in _a_few(each)):
        for one, values in _of_several(several, some, severity):
            for name, of_bar in values.items():
                found[one.bar][name][one.copies] = of_bar.T
    return [_recovery(bar, values) for bar, values in zip(several, found, strict=True)]


@frozen(eq=False)
class _Work:
    """Copies of a bar, by its number, that are looked at in one go: `size` points x states, on a half where `alike`."""

    bar: int
    copies: slice
    alike: Halves | None
    size: int


def _a_few(work: Sequence[_Work]) -> Iterator[list[_Work]]:
    """As many at a time as `CHUNK_POINTS` allows."""
    some: list[_Work] = []
    for one in work:
        if some and sum(each.size for each in some) + one.size > CHUNK_POINTS:
            yield some
            some = []
        some.append(one)
    yield some


def _recovery(bar: Stressed, found: dict[str, Any]) -> Recovery:
    skipped = ~np.array([region.checked for region in bar.samples.regions])
    starts = np.searchsorted(bar.samples.region, np.arange(len(skipped)))
    for name, values in found.items():
        values[:, skipped] = starts[skipped] if name.endswith("sample") else 0
    utilisation = found.pop("utilisation") / bar.yield_strength_MPa
    return Recovery(
        samples=bar.samples,
        maps=bar.maps,
        yield_margin=np.minimum(1.0 / np.maximum(utilisation, 1e-3 / UNLOADED) - 1.0, UNLOADED),
        **found,
    )


_CYCLE = ("amplitude_MPa", "mean_MPa", "torsion_share", "max_MPa")
_WORST = ("cycle", "first", "goodman")
_REAL = (
    "peak_MPa",
    "peak_evenness",
    "utilisation",
    *(f"{which}_{name}" for which in _WORST for name in _CYCLE),
    "cycle_severity",
)
_INDEX = (
    *("peak_state", "peak_sample", "peak_point", "yield_sample"),
    *(f"{which}_{name}" for which in _WORST for name in ("sample", "point")),
)


def _of_several(
    several: Sequence[Stressed], some: Sequence[_Work], severity: Callable[[Index], Severity]
) -> Iterator[tuple[_Work, dict[str, Array | Index]]]:
    """As `_worst`, of each; of a bar with halves alike from one of them."""
    points = [several[one.bar].points(one.copies) for one in some]
    looked = [
        whole if one.alike is None else one.alike.of_right(whole) for one, whole in zip(some, points, strict=True)
    ]
    together = Together.of(looked)
    bars = np.array([one.bar for one in some])
    found = _worst(together.points, severity(bars[together.bar_of_region]))
    for number, (one, whole) in enumerate(zip(some, points, strict=True)):
        values: dict[str, Array | Index] | None = together.of_bar(number, found)
        if one.alike is not None and values is not None:
            values = one.alike.both(whole, values, SAME)
        yield one, values or _worst(whole, severity(np.full(len(whole.samples.regions), one.bar)))


def _worst(points: Points, severity: Severity) -> dict[str, Array | Index]:
    """Worst points (r, c) of each region; by field name of `Recovery`."""
    samples, starts = points.samples, points.starts
    copy = np.arange(points.resultants.shape[2])
    scale = samples.strength_scale
    weights = [np.ones(len(scale))] if np.ptp(scale) == 0.0 else [np.ones(len(scale)), 1.0 / scale**2]
    over_states = points.peak_ranks(weights)  # (n, c, p)
    greatest = np.sqrt(np.maximum(over_states.max(axis=2), 0.0))  # (n, c)
    greatest[points.edges] = 0.0  # the section's, not its edges', is held against yield
    sample = greatest_of_regions(greatest, starts)
    worst = over_states.argmax(axis=2)
    point = worst[sample, copy]
    at, there = _states_at(points, sample, point)
    # The sides of a symmetric bar change places over a reversed cycle: travel is named, not its other end.
    state = (there >= (1.0 - SAME) * there.max(axis=-1, keepdims=True)).argmax(axis=-1)
    yield_sample = greatest_of_regions(greatest / scale[:, None], starts)
    by_yield = np.sqrt(_states_at(points, yield_sample, worst[yield_sample, copy])[1].max(axis=-1))
    return {
        "peak_MPa": np.where(greatest[sample, copy] > 0.0, np.sqrt(there.max(axis=-1)).reshape(sample.shape), 0.0),
        "peak_state": state.reshape(sample.shape),
        "peak_sample": sample,
        "peak_point": point,
        "peak_evenness": _evenness(points, at, state).reshape(sample.shape),
        "utilisation": np.where(
            greatest[yield_sample, copy] > 0.0, by_yield.reshape(sample.shape) / scale[yield_sample], 0.0
        ),
        "yield_sample": yield_sample,
        **_worst_cycle(points, severity),
    }


def _states_at(points: Points, sample: Index, point: Index) -> tuple[list[Index], Array]:
    """The indices of points (r, c) one by one, and the square of their von Mises stress (r c, states)."""
    copy = np.arange(points.resultants.shape[2])
    at = [index.ravel() for index in np.broadcast_arrays(sample, copy, point)]
    return at, np.maximum(points.stress(at[0], at[1], at[2]).square_MPa2, 0.0)


def _worst_cycle(points: Points, severity: Severity) -> dict[str, Array | Index]:
    """The points (r, c) of each region with the worst life, those that the growing load breaks first, and those of the
    least Goodman factor.
    """
    by_life, by_load, by_goodman = cycle_ranks(points, severity)
    worst, found = _worst_of(points, by_life)
    first = found if by_load is by_life else _worst_of(points, by_load)[1]
    goodman = found if by_goodman is by_life else _worst_of(points, by_goodman)[1]
    return {
        "cycle_severity": worst,
        **{
            f"{which}_{name}": values
            for which, of in zip(_WORST, (found, first, goodman), strict=True)
            for name, values in of.items()
        },
    }


def _worst_of(points: Points, ranks: Array) -> tuple[Array, dict[str, Array | Index]]:
    """The greatest rank (r, c) of each region, with its point and the cycle there."""
    copy = np.arange(points.resultants.shape[2])
    best: tuple[Any, ...] = ()
    for part in points.surfaces.values():
        rank = ranks[:, :, part]
        point = rank.argmax(axis=2)  # (n, c)
        value = np.take_along_axis(rank, point[..., None], axis=2)[..., 0]
        sample = greatest_of_regions(value, points.starts)
        found = (value[sample, copy], sample, part.start + point[sample, copy])
        if best:
            # Outside and bore alike but for rounding: the outside is named.
            better = found[0] > best[0] + SAME * np.abs(best[0])
            found = tuple(np.where(better, one, other) for one, other in zip(found, best, strict=True))
        best = found
    worst, sample, point = best
    cycle = points.cycle_at(*(index.ravel() for index in np.broadcast_arrays(sample, copy, point)))
    stresses = {name: getattr(cycle, name).reshape(sample.shape) for name in _CYCLE}
    return worst, {"sample": sample, "point": point, **stresses}


def _evenness(points: Points, at: Sequence[Index], state: Index) -> Array:
    """Least over greatest von Mises stress round the surface of points (q,) in a state."""
    sample, copy, point = at
    maps, square = points.maps, points.square_round(sample, copy, state)
    same = (maps.surface == maps.surface[point][..., None]) & maps.exists[maps.index[sample]]
    greatest = square.max(axis=-1, where=same, initial=0.0)
    least = square.min(axis=-1, where=same, initial=np.inf)
    return np.sqrt(np.maximum(least, 0.0) / np.where(greatest > 0.0, greatest, 1.0))


def _governing(values: Array, regions: tuple[Region, ...]) -> Index:
    """(c,) region of the greatest value; of values equal to `SAME`, the most telling kind's (see `KINDS`)."""
    rank = np.array([KINDS.index(region.kind) for region in regions])
    greatest = values.max(axis=1, keepdims=True)
    return np.asarray(np.where(values >= greatest * (1.0 - SAME), rank, len(KINDS)).argmin(axis=1))
