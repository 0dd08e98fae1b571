"""Regions, sampling and words of places."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from barfem.model.bar import Bar
from barfem.model.errors import InputError
from barfem.strength.places import sampling_stations
from barfem.strength.stress_maps import build_stress_maps, stress_assumptions
from barfem.strength.words import area_words, place_words
from tests.strength.sample_bars import CRANKED, FORGED, PRESSED, TUBE, make_bar, roll_resultants

BARS = {
    "planar": make_bar(),
    "cranked": make_bar(points=CRANKED, radius=40.0),
    "forged": make_bar(flat=FORGED),
    "pressed tube": make_bar(section=TUBE, flat=PRESSED),
    "three point mounts": make_bar(mounts=(-380.0, 0.0, 380.0), mount_length=0.0),
    "mount over a tangent": make_bar(mounts=(-455.0, 455.0)),
}


@pytest.mark.parametrize("bar", BARS.values(), ids=BARS)
def test_samples_are_dense_and_cover_the_bar(bar: Bar) -> None:
    samples = sampling_stations(bar)
    length = bar.centreline.length_mm
    reach = []
    for number, region in enumerate(samples.regions):
        here = samples.of(number)
        edge = samples.edge[here]
        assert np.all(np.diff(edge) >= 0)  # the section first, then its edges
        stations = samples.station_mm[here][edge == 0]
        along = samples.station_mm[here][edge > 0]
        own = np.arange(here.start, here.stop)
        # An edge's section is the one nearest to it: a transition's edges lie along it, others at their one station.
        nearest = here.start + np.abs(along[:, None] - stations).argmin(axis=1)
        assert np.all((along >= stations[0]) & (along <= stations[-1]))
        assert region.kind == "transition" or np.all(along == stations[0])
        assert np.all(samples.net[here] == np.append(own[edge == 0], nearest))
        assert len(stations) >= 1
        assert np.all((stations >= 0.0) & (stations <= length))
        assert np.all(np.diff(stations) > 0.0)
        if region.kind in ("straight", "bend", "flat", "transition"):
            assert stations[0] == pytest.approx(region.start_mm)
            assert stations[-1] == pytest.approx(region.end_mm)
            reach.append((region.start_mm, region.end_mm))
        segments = {int(i) for i in samples.segment[here]}
        if region.kind == "bend":
            assert len(segments) == 1  # both tangents with the bend's own curvature
            part = bar.centreline.segments[segments.pop()]
            assert part.bend == region.index
            assert np.diff(stations).max() <= np.radians(4.0) * part.radius_mm + 1e-9
        if region.kind == "straight":
            assert not samples.in_bend[here].any()
            assert np.diff(stations).max() <= 10.0 + 1e-9
    reach.sort()
    assert reach[0][0] == 0.0
    assert reach[-1][1] == pytest.approx(length)
    for before, after in pairwise(reach):
        assert before[1] == pytest.approx(after[0])  # no gap, no overlap
    assert sum(region.kind == "bend" for region in samples.regions) == len(bar.centreline.bends)
    assert sum(region.kind == "mount edge" for region in samples.regions) == 2 * len(bar.mounts)
    middles = [region.start_mm + region.end_mm for region in samples.regions]
    assert middles == sorted(middles)
    assert 150 < len(samples.station_mm) < 420


def test_mounts_are_sampled_within_and_at_both_edges() -> None:
    bar = make_bar()
    samples = sampling_stations(bar)
    mount = bar.mounts[0]
    for offset in (-20.0, -10.0, 0.0, 10.0, 20.0):
        assert np.abs(samples.station_mm - mount.station_mm - offset).min() < 1e-9
    point = sampling_stations(make_bar(mount_length=0.0))
    beside = point.station_mm[(np.abs(point.station_mm - mount.station_mm) < 0.01)] - mount.station_mm
    assert beside.min() < 0.0 < beside.max()


def test_holes_are_sampled_just_inboard() -> None:
    bar = make_bar()
    samples = sampling_stations(bar)
    for number, region in enumerate(samples.regions):
        if region.kind == "hole":
            assert region.hole is not None
            offset = samples.station_mm[samples.of(number)][0] - region.hole.station_mm
            assert 0.0 < offset * (1.0 if region.side == "right" else -1.0) < 0.01


def test_a_hole_without_diameter_is_not_checked() -> None:
    samples = sampling_stations(make_bar(holes=(("A", 20.0, None), ("B", 45.0, 12.0))))
    holes = [region for region in samples.regions if region.kind == "hole"]
    assert [region.checked for region in holes] == [False, True, True, False]
    assert [region.index for region in holes] == [1, 2, 3, 4]
    assert '"A"' in str(holes[0].caution)
    assert "not checked" in str(holes[0].caution)
    assert holes[1].checked
    assert "ends at 0.3" in str(holes[1].caution)  # 12 mm through 24 mm: beyond the handbook's table
    small = sampling_stations(make_bar(holes=(("A", 20.0, 6.0), ("B", 45.0, 6.0))))
    assert all(region.caution is None for region in small.regions if region.kind == "hole")


def test_cautions_stand_where_something_is_left_out() -> None:
    samples = sampling_stations(make_bar(section=TUBE, flat=PRESSED))
    cautions = {region.kind: region.caution for region in samples.regions}
    for kind, word in (("mount edge", "fretting"), ("transition", "folds")):
        assert word in str(cautions[kind])
    assert cautions["straight"] is None and cautions["bend"] is None
    text = " ".join(stress_assumptions(make_bar(section=TUBE, flat=PRESSED)))
    for word in ("r_m", "leaves", "Transition"):
        assert word in text
    assert "axis is not given" in " ".join(stress_assumptions(make_bar()))


def test_a_hole_wider_than_the_bar_is_refused() -> None:
    bar = make_bar(holes=(("wide", 20.0, 24.0),))
    with pytest.raises(InputError, match="wide"):
        build_stress_maps(bar, sampling_stations(bar))
    flat = make_bar(flat=FORGED, holes=(("wide", 20.0, 40.0),))
    with pytest.raises(InputError, match="40 mm"):
        build_stress_maps(flat, sampling_stations(flat))


def words_at(bar: Bar, *, kind: str, index: int, station: float, direction: tuple[float, float, float]) -> str:
    """Words for the outside point that looks in `direction` at the sample of a region nearest to `station`."""
    samples = sampling_stations(bar)
    maps = build_stress_maps(bar, samples)
    mine = [i for i, region in enumerate(samples.regions) if (region.kind, region.index) == (kind, index)]
    candidates = np.flatnonzero(np.isin(samples.region, mine))
    sample = int(candidates[np.argmin(np.abs(samples.station_mm[candidates] - station))])
    angle = maps.angle_rad[maps.index[sample]]
    frame = samples.frame[sample]
    look = np.cos(angle)[:, None] * frame[1] + np.sin(angle)[:, None] * frame[2]
    return place_words(bar, samples, maps, sample=sample, point=int(np.argmax(look[:72] @ np.array(direction))))


def test_words() -> None:
    bar = make_bar()
    length = bar.centreline.length_mm
    bend_1, bend_2 = bar.centreline.bends
    # The right bend turns from +x to +y: its inside looks to the rear and the left at mid-bend.
    inside = (-1.0, 1.0, 0.0)
    middle_of_1 = 0.5 * (bend_1.start_station_mm + bend_1.end_station_mm)
    assert words_at(bar, kind="bend", index=1, station=middle_of_1 - 20.0, direction=inside).startswith(
        "right arm, bend 1, inside, "
    )
    assert words_at(bar, kind="bend", index=1, station=bend_1.start_station_mm, direction=(0.0, 0.0, 1.0)) == (
        "right arm, bend 1, top, at the tip-side tangent"
    )
    assert words_at(bar, kind="bend", index=2, station=bend_2.start_station_mm + 14.0, direction=(0.0, 0.0, -1.0)) == (
        "left arm, bend 2, bottom, 13 mm past the mount-side tangent"
    )
    assert words_at(bar, kind="bend", index=2, station=bend_2.end_station_mm, direction=(0.0, 1.0, 0.0)) == (
        "left arm, bend 2, outside, at the tip-side tangent"
    )
    edge = bar.mounts[0].station_mm + 20.0
    assert words_at(bar, kind="mount edge", index=1, station=edge, direction=(1.0, 0.0, 0.0)) == (
        "middle, at the edge of the right mount, front"
    )
    assert words_at(bar, kind="mount edge", index=1, station=edge - 40.0, direction=(1.0, 0.0, 1.0)) == (
        "right arm, at the edge of the right mount, top and front"
    )
    for offset, ending in ((100.0, " mm left of mid-length"), (-100.0, " mm right of mid-length")):
        words = words_at(bar, kind="straight", index=2, station=length / 2 + offset, direction=(-1.0, 0.0, 0.0))
        assert words.startswith("middle, straight, rear, ")
        assert words.endswith(ending)
    assert words_at(bar, kind="hole", index=3, station=length - 45.0, direction=(0.0, 1.0, 0.0)) == (
        "left arm, hole 2, left side"
    )
    three = BARS["three point mounts"]
    assert words_at(three, kind="mount edge", index=2, station=length / 2 + 1.0, direction=(0.0, 0.0, 1.0)) == (
        "middle, at the left edge of mount 2, top"
    )
    assert [area_words(bar, s) for s in (10.0, length / 2, length - 10.0)] == ["right arm", "middle", "left arm"]


def test_words_for_the_bore_and_for_even_sections() -> None:
    bar = make_bar(section=TUBE)
    samples = sampling_stations(bar)
    maps = build_stress_maps(bar, samples)
    sample = int(np.argmin(np.abs(samples.station_mm - bar.middle_mm)))
    assert ", in the bore, " in place_words(bar, samples, maps, sample=sample, point=72)
    assert ", all round, " in place_words(bar, samples, maps, sample=sample, point=0, evenness=1.0)


@pytest.mark.parametrize("name", ["planar", "forged", "pressed tube"])
def test_maps_follow_the_section(name: str) -> None:
    """Stress just either side of where sections meet: equal at a transition's ends, factored at a tangent."""
    bar = BARS[name]
    samples = sampling_stations(bar)
    maps = build_stress_maps(bar, samples)
    by_kind = {(region.kind, region.index): samples.of(i) for i, region in enumerate(samples.regions)}
    straight, bend = by_kind["straight", 1], by_kind["bend", 1]
    load = np.array([0.0, 0.0, 0.0, 1e5, 0.0, 0.0])
    torsion = [np.abs(maps.stress(part, np.tile(load, (part.stop - part.start, 1)))[2]) for part in (straight, bend)]
    assert torsion[0][-1].max() != pytest.approx(torsion[1][0].max(), rel=1e-3)
    if name == "planar":
        assert torsion[1][0].max() / torsion[0][-1].max() == pytest.approx((4 * 4 - 1) / (4 * 4 - 4))
        return
    flat, transition = by_kind["flat", 1], by_kind["transition", 1]
    last = transition.start + np.count_nonzero(samples.edge[transition] == 0) - 1
    for load in 1e5 * np.eye(6):
        end = [
            np.sort(np.abs(maps.stress(slice(i, i + 1), load[None])[0].ravel()))
            for i in (flat.stop - 1, transition.start, last, straight.start)
        ]
        assert np.allclose(end[0], end[1])
        assert np.allclose(end[2].max(), end[3].max(), rtol=2e-3)  # points stand a little otherwise


def test_points_of_a_straight_are_counted_from_the_inside_of_the_nearest_bend() -> None:
    """They lie alike on the steel however the drawing is turned; of a bar without bends, from the upper side."""
    bar = BARS["cranked"]
    samples = sampling_stations(bar)
    maps = build_stress_maps(bar, samples)
    bends = bar.centreline.bends
    for sample in np.flatnonzero(~samples.in_bend):
        station = samples.station_mm[sample]
        away = [max(bend.start_station_mm - station, station - bend.end_station_mm) for bend in bends]
        nearest = [bend for bend, far in zip(bends, away, strict=True) if far < min(away) + 1e-6]  # two at a middle
        turns = [maps.angle_rad[maps.index[sample]] - bend.inward_angle_rad for bend in nearest]
        assert min(np.abs(np.angle(np.exp(1j * turn))).min() for turn in turns) == pytest.approx(0.0, abs=1e-12)


def test_the_inside_of_a_bend_is_where_its_centre_is() -> None:
    bar = BARS["cranked"]
    samples = sampling_stations(bar)
    maps = build_stress_maps(bar, samples)
    for number, region in enumerate(samples.regions):
        if region.kind != "bend":
            continue
        here = samples.of(number)
        sample = (here.start + here.stop) // 2
        at = bar.centreline.evaluate(samples.station_mm[sample] + np.array([-0.5, 0.0, 0.5]))[0]
        to_centre = 0.5 * (at[0] + at[2]) - at[1]
        to_centre /= np.linalg.norm(to_centre)
        frame = samples.frame[sample]
        binormal = np.cross(frame[0], to_centre)
        load = np.array([0.0, 0.0, 0.0, 0.0, binormal @ frame[1], binormal @ frame[2]])  # tightens the bend
        ss = maps.stress(slice(sample, sample + 1), load[None])[0][0]
        angle = maps.angle_rad[maps.index[sample], int(np.argmin(ss))]
        looks = np.cos(angle) * frame[1] + np.sin(angle) * frame[2]
        assert np.argmax(np.abs(ss)) == np.argmin(ss)  # pressed at the inside, and that is the worst
        assert looks @ to_centre == pytest.approx(1.0, abs=1e-3)


def test_flat_bends_about_its_own_axes() -> None:
    """The normal lies along y, so a vertical force bends the flat about y: across its width, the strong way."""
    bar = make_bar(flat=FORGED)
    samples = sampling_stations(bar)
    maps = build_stress_maps(bar, samples)
    flat = samples.of(next(i for i, region in enumerate(samples.regions) if region.kind == "flat"))
    sample = flat.stop - 1
    resultants = roll_resultants(bar, samples)[sample]
    ss, _, _ = maps.stress(slice(sample, sample + 1), resultants[None])
    arm = samples.station_mm[sample] - bar.right.holes[0].station_mm
    assert np.abs(ss).max() == pytest.approx(1000.0 * arm * 6.0 / (12.0 * 40.0**2))
    turned = replace(bar, right=replace(bar.right, flat=replace(FORGED, normal=(0.0, 0.0, 1.0))))
    ss, _, _ = build_stress_maps(turned, samples).stress(slice(sample, sample + 1), resultants[None])
    assert np.abs(ss).max() == pytest.approx(1000.0 * arm * 6.0 / (40.0 * 12.0**2))
