"""Bend fields in the stress maps of a bar."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from barfem.check.api import check_bar
from barfem.check.solved import solve_states
from barfem.model.bar import Bar
from barfem.model.read import read_bar
from barfem.solve.solid.joined import JOINED_DIAMETERS, joined_bends
from barfem.strength.bend_fields import bend_stress, closed_forms_short, with_bend_fields
from barfem.strength.places import sampling_stations
from barfem.strength.stress_maps import build_stress_maps
from barfem.study.change import with_values

DEMOS = Path(__file__).parents[2] / "geometries"
TUBE, SOLID = DEMOS / "pickup-rear-tube.toml", DEMOS / "pickup-front-solid.toml"


def demo(path: Path) -> Bar:
    return read_bar(path)


def test_only_bends_and_their_neighbourhood_change() -> None:
    bar = demo(TUBE)
    samples = sampling_stations(bar)
    closed = build_stress_maps(bar, samples)
    fields = with_bend_fields(bar, samples, closed)
    d = bar.section.diameter_mm
    away = np.min(
        [
            np.maximum(bend.start_station_mm - samples.station_mm, samples.station_mm - bend.end_station_mm)
            for bend in bar.centreline.bends
        ],
        axis=0,
    )
    change = np.abs(fields.matrix[fields.index] - closed.matrix[closed.index]).max(axis=(1, 2, 3))
    size = np.abs(closed.matrix).max()
    assert np.all(change[away > 1.25 * d] == 0.0)
    assert np.all(change[samples.in_bend] > 1e-3 * size)
    assert np.all(change[(away > 0.9 * d) & (away < 1.25 * d)] < 0.05 * size)


def test_stress_is_continuous_at_a_tangent() -> None:
    """The closed forms jump there; a field does not."""
    found = solve_states(demo(SOLID), cases=("roll",))
    samples = found.samples
    tangent = found.bar.centreline.bends[0].start_station_mm
    at = np.flatnonzero(np.abs(samples.station_mm - tangent) < 1e-9)
    kinds = {samples.regions[region].kind for region in samples.region[at]}
    assert kinds == {"bend", "straight"}
    peaks = []
    for sample in at:
        s, h, t = (
            np.einsum("pr,r->p", found.maps.matrix[found.maps.index[sample], :, c], found.resultants[-1, 1, sample])
            for c in range(3)
        )
        peaks.append(np.sqrt((s * s - s * h + h * h + 3.0 * t * t).max()))
    assert peaks[0] == pytest.approx(peaks[1], rel=2e-3)


def test_every_bend_has_its_record() -> None:
    result = check_bar(TUBE)
    assert [bend.index for bend in result.bends] == [1, 2]
    assert all(bend.source == "grid" and 0.0 < (bend.stated_error or 0.0) < 0.01 for bend in result.bends)
    assert all(bend.superposes and bend.near is None for bend in result.bends)
    assert result.to_json_dict()["bends"][0]["source"] == "grid"


def test_quick_says_that_a_tube_is_unsafe_and_by_how_much() -> None:
    quick, whole = check_bar(TUBE, quick=True), check_bar(TUBE)
    assert all(bend.source == "closed forms" for bend in quick.bends)
    said = " ".join(quick.warnings)
    worst = max(share for _, share in closed_forms_short(demo(TUBE)))
    assert "UNSAFE" in said and f"{100.0 * worst:.0f} %" in said and 0.05 < worst < 0.5
    assert not any("UNSAFE" in text for text in (*whole.warnings, *check_bar(SOLID, quick=True).warnings))
    # The straight tube is the stiffer one.
    ratio = (quick.settings[0].rate_N_per_mm or 0.0) / (whole.settings[0].rate_N_per_mm or 1.0)
    assert 1.0 < ratio < 1.01


def test_a_bend_close_to_a_mount_is_out_of_the_claim() -> None:
    bar = demo(SOLID)
    bend = bar.centreline.bends[0]
    mount = bar.mounts[0]
    half = 0.5 * mount.length_mm
    for gap, near in ((0.5, "a mount"), (1.5, None)):
        station = bend.end_station_mm + gap * bar.section.diameter_mm + half
        moved = replace(bar, mounts=(replace(mount, station_mm=station), *bar.mounts[1:]))
        records, warnings = bend_stress(moved)
        assert records[0].near == near and records[0].superposes == (near is None)
        assert any("outside the 3 %" in text for text in warnings) == (near is not None)


def with_points(bar: Bar, points: list[list[float]], radius: float, **more: object) -> Bar:
    sizes = {"centreline.points": points, "centreline.bend_radius": radius, "ends.flat.normal": [0, 1, 0]}
    return with_values(bar, sizes | {key.replace("__", "."): value for key, value in more.items()})


def two_bends(bar: Bar, gap: float, *, other_way: bool = False) -> Bar:
    """Each corner as two bends of 45 degrees, `gap` diameters of straight between; or a crank of two in the middle."""
    radius, d = 48.0, bar.section.diameter_mm
    between = 2.0 * radius * np.tan(np.pi / 8.0) + gap * d
    side = between / np.sqrt(2.0)
    if other_way:
        points = [[-375, -500], [0, -500], [0, -250], [side, -250 + side], [side, 250 - side], [0, 250], [0, 500]]
        points.append([-375, 500])
    else:
        points = [[-375, -500], [-side, -500], [0, -500 + side], [0, 500 - side], [-side, 500], [-375, 500]]
    return with_points(bar, [[*point, 0.0] for point in points], radius)


def thin_tube() -> Bar:
    tube = {"shape": "tube", "diameter": 24.0, "wall": 2.0}
    pressed = {"kind": "pressed", "thickness": 4.0, "width": 36.0, "length": 90.0, "transition": 30.0}
    tube_of = {"section": tube, "material.bent": "before-hardening", "ends.flat": pressed | {"normal": [0, 1, 0]}}
    return with_values(demo(SOLID), tube_of)


def u_points(arm: float) -> list[list[float]]:
    return [[-arm, -500, 0], [0, -500, 0], [0, 500, 0], [-arm, 500, 0]]


@pytest.mark.parametrize(
    ("near", "gap"),
    [(near, gap) for near in ("bend 2", "a mount", "a flat", "a hole", "the tip") for gap in (0.5, 1.5)],
)
def test_whatever_is_near_a_bend_is_named_and_only_then(near: str, gap: float) -> None:
    bar, radius = demo(SOLID), 48.0
    d = bar.section.diameter_mm
    if near == "bend 2":
        bar = two_bends(bar, gap)
    elif near == "a mount":
        y = 500.0 - radius - gap * d - 0.5 * bar.mounts[0].length_mm
        bar = with_points(bar, u_points(375.0), radius, mounts__1__y=-y, mounts__2__y=y)
    elif near == "a flat":
        bar = with_points(bar, u_points(200.0), radius, ends__flat__length=200.0 - radius - gap * d)
    else:
        holes = bar.right.holes
        place = 100.0 if near == "a hole" else 5.0
        straight = place + 0.5 * (holes[0].diameter_mm or 0.0) + gap * d if near == "a hole" else gap * d
        arm = straight + radius
        ends = {"holes": [{"name": "1", "from_tip": place, "diameter": holes[0].diameter_mm}]}
        bar = with_values(bar, {"centreline.points": u_points(arm), "centreline.bend_radius": radius, "ends": ends})
    records, warnings = bend_stress(bar)
    said = [record.near or "" for record in records]
    assert (near in said[0]) == (gap < 1.0), said
    assert records[0].superposes == (not said[0])
    assert any(f"bend 1 ({said[0]})" in text for text in warnings) == bool(said[0])


def test_bends_that_touch_and_turn_the_same_way_are_nearly_one() -> None:
    touching = two_bends(thin_tube(), 0.02)
    group, other = joined_bends(touching)
    assert [bend.bend for bend in group.bends] == [1, 2] and [bend.bend for bend in other.bends] == [3, 4]
    assert group.shape.angle_deg == pytest.approx(90.0) and group.shape.radius_over_diameter == pytest.approx(2.0)
    assert group.share == pytest.approx(1.0 - 0.02 / JOINED_DIAMETERS)
    one, two = group.bends
    places = np.array(
        [-10.0, 0.0, one.length_mm, one.length_mm + 0.02 * 24.0, two.end_station_mm - one.start_station_mm]
    )
    along = group.along(one.start_station_mm + places)
    whole = one.length_mm + two.length_mm
    assert group.along(np.array([group.end_mm + 7.0])) == pytest.approx([whole + 7.0])
    assert along == pytest.approx([-10.0, 0.0, one.length_mm, one.length_mm, one.length_mm + two.length_mm])
    assert joined_bends(two_bends(thin_tube(), JOINED_DIAMETERS + 0.01)) == ()
    assert joined_bends(two_bends(thin_tube(), 0.02, other_way=True)) == ()
    assert joined_bends(two_bends(demo(SOLID), 0.02)) == ()


@pytest.mark.parametrize(("gap", "bar_within", "bend_within"), [(0.02, 0.01, 0.01), (0.2, 0.01, 0.05)])
def test_a_tube_bent_on_has_the_solids_stress(gap: float, bar_within: float, bend_within: float) -> None:
    """By their own fields alone these bends are short of the solid by a fifth where they touch, an eighth at 0.2."""
    bar = two_bends(thin_tube(), gap)
    beam, solid = check_bar(bar).settings[-1], check_bar(bar, model="solid").settings[-1]
    bends = [[p.von_mises_MPa for p in each.places if p.kind == "bend"] for each in (beam, solid)]
    assert bends[0] == pytest.approx(bends[1], rel=bend_within)
    assert max(bends[0]) == pytest.approx(max(bends[1]), rel=bar_within)
    assert beam.rate_initial_N_per_mm == pytest.approx(solid.rate_initial_N_per_mm, rel=0.003)
