"""Recovery of every hole setting against a plain loop, and what the contract says of amplitude, mean and margin."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.errors import BarfemError
from barfem.strength import recover as recover_module
from barfem.strength import worst_points
from barfem.strength.bend_fields import with_matrices
from barfem.strength.cycle import Cycle, Severities
from barfem.strength.hole_loads import HoleLoads, holes_in_use
from barfem.strength.places import sampling_stations
from barfem.strength.recover import SAME, UNLOADED, Recovery, recover
from barfem.strength.stress_maps import StressMaps, build_stress_maps
from barfem.strength.words import place_words
from tests.often import often
from tests.strength.sample_bars import (
    CRANKED,
    FORGED,
    PLANAR,
    PRESSED,
    TENSILE_MPA,
    TUBE,
    YIELD_MPA,
    make_bar,
    roll_resultants,
)
from tests.strength.severity import goodman_severity

Array = NDArray[np.float64]
CYCLE = (1, 2)


def recovered(bar: Bar, resultants: Array, maps: StressMaps | None = None, **changes: Any) -> Recovery:
    samples = sampling_stations(bar)
    arguments: dict[str, Any] = {
        "samples": samples,
        "maps": maps or build_stress_maps(bar, samples),
        "resultants": resultants,
        "cycle": CYCLE,
        "yield_strength_MPa": YIELD_MPA,
        "severity": goodman_severity(TENSILE_MPA),
    }
    return recover(**(arguments | changes))


def rolled(bar: Bar, *, mean: float = 0.0) -> Array:
    """One copy, three states: rest, travel, the other way."""
    samples = sampling_stations(bar)
    one = roll_resultants(bar, samples)
    three = np.stack([mean * one, (1.0 + mean) * one, (mean - 1.0) * one])[None]
    return HoleLoads.of(bar, samples).whole(three, holes_in_use(bar, [(0, 0)]))


def with_hoop(bar: Bar) -> StressMaps:
    """The bar's maps with made-up ones, all three components filled, at the first bend."""
    samples = sampling_stations(bar)
    maps = build_stress_maps(bar, samples)
    bend = samples.of(next(i for i, region in enumerate(samples.regions) if region.kind == "bend"))
    base = maps.index[bend.start]
    rng = np.random.default_rng(1)
    which = np.arange(bend.start, bend.stop)
    # Waves round the section up to the fourth, more than an oval section makes, and other ones at each sample.
    angle = maps.angle_rad[base][None, :, None, None]
    shape = (len(which), 1, 3, maps.matrix.shape[-1])
    waves = sum(rng.uniform(-0.1, 0.1, shape) * np.cos(k * angle + rng.uniform(0.0, 6.3, shape)) for k in (1, 2, 3, 4))
    return with_matrices(maps, which, maps.matrix[base] * (1.0 + waves) + 1e-4 * waves)


@pytest.mark.parametrize("hoop", often([False, True], {True}))
@pytest.mark.parametrize("bar", [make_bar(), make_bar(section=TUBE, flat=PRESSED, strength_scale=0.8)])
def test_recovery_agrees_with_a_plain_loop(bar: Bar, hoop: bool) -> None:
    samples = sampling_stations(bar)
    maps = with_hoop(bar) if hoop else build_stress_maps(bar, samples)
    rng = np.random.default_rng(0)
    size = np.array([500.0, 500.0, 500.0, 2e5, 2e5, 2e5])
    resultants = size * rng.normal(size=(3, 3, len(samples.station_mm), 6))
    in_use = holes_in_use(bar, [(1, 1), (0, 0), (0, 1)])
    resultants = HoleLoads.of(bar, samples).whole(resultants, in_use)
    result = recovered(bar, resultants, maps)

    def mises(tensor: Array) -> float:
        return float(np.sqrt(tensor[0] ** 2 - tensor[0] * tensor[1] + tensor[1] ** 2 + 3.0 * tensor[2] ** 2))

    bend = [region.kind for region in samples.regions].index("bend")
    for number in (0, bend, bend + 2):
        here = range(*samples.of(number).indices(len(samples.station_mm)))
        for copy in range(3):
            peak, margin, severity = (0.0, 0, 0), np.inf, (0.0, 0, 0, 0.0, 0.0, 0.0)
            for i in here:
                scale = samples.strength_scale[i]
                for p in np.flatnonzero(maps.exists[maps.index[i]]):
                    tensors = [maps.matrix[maps.index[i], p] @ resultants[copy, state, i] for state in range(3)]
                    for state in range(3 if samples.edge[i] == 0 else 0):  # an edge counts for fatigue alone
                        peak = max(peak, (mises(tensors[state]), i, state))
                        margin = min(margin, YIELD_MPA * scale / mises(tensors[state]) - 1.0)
                    half, mean = (tensors[1] - tensors[2]) / 2.0, (tensors[1] + tensors[2]) / 2.0
                    tensile = TENSILE_MPA * scale
                    rank = mises(half) / (tensile * max(1.0 - mises(mean) / tensile, 1e-6))
                    principal = np.linalg.eigvalsh([[half[0], half[2]], [half[2], half[1]]])
                    share = -3.0 * principal.prod() / max(mises(half) ** 2, 1e-30)
                    severity = max(severity, (rank, i, p, mises(half), mises(mean), share))
            assert result.peak_MPa[copy, number] == pytest.approx(peak[0])
            assert (result.peak_sample[copy, number], result.peak_state[copy, number]) == peak[1:]
            assert result.yield_margin[copy, number] == pytest.approx(margin)
            assert result.cycle_severity[copy, number] == pytest.approx(severity[0], rel=1e-8)
            assert result.cycle_sample[copy, number] == severity[1]
            assert result.cycle_amplitude_MPa[copy, number] == pytest.approx(severity[3])
            assert result.cycle_mean_MPa[copy, number] == pytest.approx(severity[4])
            assert result.cycle_torsion_share[copy, number] == pytest.approx(severity[5])


@pytest.mark.parametrize("section", [None, TUBE])
def test_looking_at_some_points_first_misses_none(monkeypatch: pytest.MonkeyPatch, section: Any) -> None:
    """Points between are looked at where the second differences round the section say that a worst one may be."""
    bar = make_bar() if section is None else make_bar(section=section, flat=FORGED, strength_scale=0.7)
    maps = with_hoop(bar)
    one = rolled(bar)
    resultants = one * np.random.default_rng(5).uniform(0.2, 1.5, (9, 3, 1, one.shape[-1]))
    looked = recovered(bar, resultants, maps)
    monkeypatch.setattr(worst_points, "STEP", 1)
    monkeypatch.setattr(worst_points, "CORNERED_STEP", 1)
    everywhere = recovered(bar, resultants, maps)
    for name in ("peak_MPa", "yield_margin", "cycle_severity", "cycle_amplitude_MPa", "cycle_max_MPa"):
        assert np.allclose(getattr(looked, name), getattr(everywhere, name), rtol=1e-7), name
    for name in ("peak_sample", "peak_point", "cycle_sample", "cycle_point"):
        assert np.array_equal(getattr(looked, name), getattr(everywhere, name)), name


def test_chunks_change_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    bar = make_bar(section=TUBE)
    rng = np.random.default_rng(3)
    one = rolled(bar)
    resultants = one * rng.uniform(0.5, 1.5, (7, 3, 1, 6))
    whole = recovered(bar, resultants)
    monkeypatch.setattr(recover_module, "CHUNK_POINTS", 3000)
    parts = recovered(bar, resultants)
    for name in ("peak_MPa", "yield_margin", "cycle_amplitude_MPa", "cycle_severity", "peak_sample", "cycle_point"):
        assert np.allclose(getattr(whole, name), getattr(parts, name), rtol=1e-12), name


def test_reversed_roll_has_no_mean_and_its_amplitude_is_its_peak() -> None:
    result = recovered(make_bar(), rolled(make_bar()))
    assert np.allclose(result.cycle_mean_MPa, 0.0, atol=1e-9)
    drilled = np.array([region.kind == "hole" for region in result.regions])
    assert np.allclose(result.cycle_amplitude_MPa[:, ~drilled], result.peak_MPa[:, ~drilled])
    assert np.all(result.cycle_amplitude_MPa[:, drilled] > result.peak_MPa[:, drilled])  # concentration at the edge
    assert np.allclose(result.cycle_max_MPa, result.peak_MPa)  # which is not held against yield
    # Top and bottom are alike but for rounding: the upper one is named at either end.
    for number in (0, -1):
        number = [i for i, region in enumerate(result.regions) if region.kind == "straight"][number]
        sample, point = result.peak_sample[0, number], result.peak_point[0, number]
        wording = place_words(make_bar(), result.samples, result.maps, sample=int(sample), point=int(point))
        assert "top" in wording
        assert (result.cycle_sample[0, number], result.cycle_point[0, number]) == (sample, point)


def test_pure_torsion_reversed_is_an_amplitude() -> None:
    """Differences of von Mises stresses would give zero here."""
    bar = make_bar()
    resultants = np.zeros((1, 3, len(sampling_stations(bar).station_mm), 6))
    resultants[0, 1, :, 3], resultants[0, 2, :, 3] = 250e3, -250e3
    result = recovered(bar, resultants)
    straight = [region.kind for region in result.regions].index("straight")
    shear = 16.0 * 250e3 / (np.pi * 24.0**3)
    assert result.cycle_amplitude_MPa[0, straight] == pytest.approx(np.sqrt(3.0) * shear)
    assert result.cycle_torsion_share[0, straight] == pytest.approx(1.0)
    assert result.peak_evenness[0, straight] == pytest.approx(1.0)


def test_mean_stress_is_that_of_the_average_tensor() -> None:
    """A preload that bends, a cycle that twists: mean from bending alone, amplitude from torsion alone."""
    bar = make_bar()
    resultants = np.zeros((1, 3, len(sampling_stations(bar).station_mm), 6))
    resultants[0, :, :, 4] = 100e3
    resultants[0, 1, :, 3], resultants[0, 2, :, 3] = 200e3, -200e3
    result = recovered(bar, resultants)
    straight = [region.kind for region in result.regions].index("straight")
    assert result.cycle_mean_MPa[0, straight] == pytest.approx(32.0 * 100e3 / (np.pi * 24.0**3))
    assert result.cycle_amplitude_MPa[0, straight] == pytest.approx(np.sqrt(3.0) * 16.0 * 200e3 / (np.pi * 24.0**3))


def test_maxima_are_not_added() -> None:
    """In a bend, bending is worst at top and bottom, torsion at the inside: together less than the sum of both."""
    bar = make_bar()
    n = len(sampling_stations(bar).station_mm)
    bend = sampling_stations(bar).of(0 if sampling_stations(bar).regions[0].kind == "bend" else 3)
    resultants = np.zeros((3, 3, n, 6))
    resultants[0, 1, :, 3] = resultants[2, 1, :, 3] = 250e3
    resultants[1, 1, :, 4] = resultants[2, 1, :, 4] = 250e3  # b points up or down: M_a bends out of the plane
    result = recovered(bar, resultants)
    number = int(sampling_stations(bar).region[bend.start])
    torsion, bending, both = result.peak_MPa[:, number]
    assert max(torsion, bending) < both < 0.98 * np.hypot(torsion, bending)


def place_of(result: Recovery, region: int) -> Cycle:
    """Where a region's worst cycle of the first copy lies."""
    return result.cycle_at((np.array(0), np.array(region)))


def test_an_offset_between_bore_and_outside() -> None:
    """A bore that a severity calls twice as weak governs life, while the outside governs yield."""
    bar = make_bar(section=TUBE)

    def severity(cycle: Cycle) -> Severities:
        return Severities(lambda: cycle.amplitude_MPa * np.where(cycle.in_bore, 2.0, 1.0))

    result = recovered(bar, rolled(bar), severity=severity)
    straight = [region.kind for region in result.regions].index("straight")
    assert result.maps.surface[result.peak_point[0, straight]] == 0
    assert result.cycle_in_bore[0, straight]
    assert place_of(result, straight).radius_mm == pytest.approx(9.5)
    assert result.cycle_amplitude_MPa[0, straight] < result.peak_MPa[0, straight]
    alike = recovered(bar, rolled(bar))
    assert not alike.cycle_in_bore[0, straight]
    assert place_of(alike, straight).radius_mm == pytest.approx(13.0)


def test_severity_sees_the_inside_of_a_bend() -> None:
    bar = make_bar()
    seen = []

    def severity(cycle: Cycle) -> Severities:
        for number in np.unique(cycle.region).tolist():
            angle = cycle.from_inside_rad[cycle.region == number]
            seen.append((cycle.regions[number].kind, angle.min(), angle.max()))
        return Severities(lambda: cycle.amplitude_MPa * (1.0 - np.cos(cycle.from_inside_rad)) ** 4)

    result = recovered(bar, rolled(bar), severity=severity)
    bends = [angles for kind, *angles in seen if kind == "bend"]
    assert all((least, most) == (np.pi, np.pi) for kind, least, most in seen if kind != "bend")
    assert min(least for least, _ in bends) == pytest.approx(-np.pi)
    assert max(most for _, most in bends) > np.radians(155.0)
    bend = [region.kind for region in result.regions].index("bend")
    assert abs(place_of(result, bend).from_inside_rad) > np.radians(170.0)


def test_soft_ends_yield_earlier() -> None:
    hard, soft = (make_bar(flat=FORGED, strength_scale=scale) for scale in (1.0, 0.5))
    one, two = recovered(hard, rolled(hard)), recovered(soft, rolled(soft))
    for number, region in enumerate(one.regions):
        ratio = (1.0 + two.yield_margin[0, number]) / (1.0 + one.yield_margin[0, number])
        on_the_end = region.kind in ("flat", "hole", "transition")
        if one.peak_MPa[0, number] > 1e-3:
            assert ratio == pytest.approx(0.5 if on_the_end else 1.0)
    assert np.allclose(one.peak_MPa, two.peak_MPa)


def test_unchecked_holes_say_nothing() -> None:
    bar = make_bar(holes=(("1", 20.0, 12.0), ("2", 45.0, None)))
    result = recovered(bar, rolled(bar))
    assert [bool(x) for x in result.checked] == [
        region.hole is None or region.hole.name != "2" for region in result.regions
    ]
    assert np.all(result.peak_MPa[:, ~result.checked] == 0.0)
    assert np.all(result.yield_margin[:, ~result.checked] == UNLOADED)
    assert np.all(result.checked[result.governing_yield()])


def test_an_unused_hole_inboard_is_weaker_than_the_bar_around_it() -> None:
    bar = make_bar()
    result = recovered(bar, rolled(bar))
    holes = {region.hole.name: i for i, region in enumerate(result.regions) if region.hole and region.side == "right"}
    moment = 1000.0 * 25.0
    gross = 32.0 * moment / (np.pi * 24.0**3)
    assert result.peak_MPa[0, holes["2"]] > 1.5 * gross
    outboard = recovered(
        bar, np.stack([0.0 * (one := roll_resultants(bar, sampling_stations(bar), hole=1)), one, -one])[None]
    )
    assert outboard.peak_MPa[0, holes["1"]] < 1e-9
    assert np.isfinite(outboard.yield_margin).all()


@pytest.mark.parametrize("section", [make_bar().section, TUBE])
def test_a_mirrored_bar_is_stressed_alike(section: Any) -> None:
    bar = make_bar(points=CRANKED, radius=40.0, section=section)
    result = recovered(bar, rolled(bar))
    for values in (result.peak_MPa[0], result.yield_margin[0], result.cycle_amplitude_MPa[0]):
        # Of sections alike within SAME the first from the right is taken, on either side.
        assert np.allclose(values, values[::-1], rtol=2.0 * SAME)
    words = [
        place_words(
            bar,
            result.samples,
            result.maps,
            sample=int(result.peak_sample[0, i]),
            point=int(result.peak_point[0, i]),
            evenness=float(result.peak_evenness[0, i]),
        )
        for i, region in enumerate(result.regions)
        if region.kind != "straight"
    ]
    count = len(bar.centreline.bends)
    for right, left in zip(words[: len(words) // 2], words[::-1], strict=False):
        mirrored = right.replace("right", "LEFT").replace("left", "right").replace("LEFT", "left")
        for bend in range(1, count + 1):
            mirrored = mirrored.replace(f"bend {bend},", f"bend {-(count + 1 - bend)},")
        assert mirrored.replace("bend -", "bend ") == left


def test_a_turned_bar_is_stressed_alike() -> None:
    """Another frame along the same bar (points turned as a whole about y) changes no stress."""
    angle = 0.6
    turn = np.array([[np.cos(angle), 0.0, np.sin(angle)], [0.0, 1.0, 0.0], [-np.sin(angle), 0.0, np.cos(angle)]])
    turned = make_bar(points=tuple(tuple(map(float, turn @ np.array(point))) for point in PLANAR))  # type: ignore[misc]
    bar = make_bar()
    samples = sampling_stations(bar)
    resultants = roll_resultants(bar, samples)
    other = sampling_stations(turned)
    rotation = np.einsum("nij,jk,nlk->nil", other.frame, turn, samples.frame)  # old frame to new frame
    moved = np.concatenate(
        [np.einsum("nij,nj->ni", rotation, resultants[:, part]) for part in (slice(0, 3), slice(3, 6))], axis=1
    )
    one = recovered(bar, np.stack([0 * resultants, resultants, -resultants])[None])
    two = recovered(turned, np.stack([0 * moved, moved, -moved])[None])
    # Straight sections are sampled 5 degrees apart from the frame's own a: 0.1 % of a maximum between points.
    assert np.allclose(one.peak_MPa, two.peak_MPa, rtol=1.2e-3)


def test_results_that_are_not_numbers_are_refused() -> None:
    bar = make_bar()
    bad = rolled(bar)
    bad[0, 1, 5, 3] = np.nan
    with pytest.raises(BarfemError, match="not finite"):
        recovered(bar, bad)
    with pytest.raises(BarfemError, match="samples"):
        recovered(bar, rolled(bar)[:, :, :-1])


def test_governing_names_the_telling_place() -> None:
    """A bend's tangent and the straight beside it; a mount's edge and the straight through it: the first of each."""
    bar = make_bar()
    result = recovered(bar, rolled(bar))
    tied = replace(result, peak_MPa=np.ones_like(result.peak_MPa))
    assert result.regions[int(tied.governing_peak()[0])].kind == "bend"
    assert result.peak_MPa[0, result.governing_peak()[0]] == result.peak_MPa.max()
    assert result.yield_margin[0, result.governing_yield()[0]] == result.yield_margin.min()
