"""Fields for drawing agree with what the check judges: two ways through the same solution must meet."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from barfem.check.api import check_bar
from barfem.check.whole_bar import endurance_points, hot_section, surface_fields
from barfem.model.data_paths import demo_bars
from barfem.show.figures.data import FigureData
from barfem.show.scene3d import AROUND, build_scene, project
from barfem.strength.section_map import OUTSIDE
from tests.often import often

ROOT = Path(__file__).parents[2]
BARS = demo_bars()
TIE = 1e-6  # of places alike to about this, the check names the same one on every bar: its number may be a hair less


@pytest.fixture(scope="module", params=often(BARS, 2), ids=lambda path: path.stem)
def checked(request):
    return check_bar(request.param)


def test_the_field_holds_every_region_s_worst(checked):
    result, solved = checked, checked.states
    fields = surface_fields(solved)
    names = [(region.kind, region.index) for region in fields.regions]
    for j, setting in enumerate(result.settings):
        for place in setting.places:
            if place.kind in ("hole", "mount edge", "collar"):
                continue
            here = fields.region == names.index((place.kind, place.index))
            stress = np.where(fields.exists, fields.von_mises_MPa[j].max(axis=0), 0.0)[here]
            assert stress.max() == pytest.approx(place.von_mises_MPa, rel=TIE, abs=1e-9)
            if place.yield_margin is not None:
                margin = fields.yield_margin[j][here][fields.exists[here]].min()
                assert margin <= place.yield_margin * (1.0 + 1e-9)


def test_the_field_has_the_governing_safety_factor_at_the_governing_place(checked):
    """The least life governs; where lines differ in slope another place may have a hair less of a safety factor."""
    result, solved = checked, checked.states
    fields = surface_fields(solved)
    for j, setting in enumerate(result.settings):
        own = setting.fatigue.safety_factor_at_target
        at = np.isclose(fields.station_mm, setting.fatigue.station_mm, atol=1e-6)
        here = np.where(fields.exists, fields.safety_factor[j], np.inf)[at].ravel()
        spots = [float(spot.safety_factor[j]) for spot in fields.spots]
        assert np.abs(np.array([*here, *spots]) / own - 1.0).min() < 0.005  # a colour
        least = min(np.where(fields.exists, fields.safety_factor[j], np.inf).min(), *spots)
        assert 0.9 * own < least <= own * 1.005


def test_the_hot_section_holds_the_peak(checked):
    result, solved = checked, checked.states
    j = result.settings.index(result.governing_for_stress)
    hot, peak = hot_section(solved, j), result.settings[j].peak
    assert max(float(v.max()) for v in hot.von_mises_MPa) == pytest.approx(peak.von_mises_MPa, rel=TIE)
    assert hot.station_mm == peak.station_mm and hot.state == peak.at
    for angle, (ss, hoop, shear), von_mises in zip(hot.angle_deg, hot.stress_MPa, hot.von_mises_MPa, strict=True):
        assert np.all(np.diff(angle) > 0.0) and angle[0] >= 0.0 and angle[-1] < 360.0
        assert von_mises == pytest.approx(np.sqrt(ss**2 - ss * hoop + hoop**2 + 3.0 * shear**2), rel=1e-12)


def test_the_hot_section_s_quarters_are_named_by_where_their_points_lie(checked):
    solved = checked.states
    samples, maps, fields = solved.samples, solved.maps, surface_fields(solved)
    names = np.array([["rear", "front"], ["right", "left"], ["bottom", "top"]])
    for j in range(len(checked.settings)):
        hot = hot_section(solved, j)
        m = int(np.argmin(np.abs(fields.station_mm - hot.station_mm)))
        sample = int(solved.recovery.peak_sample[j, solved.recovery.governing_peak()[j]])
        middle = solved.bar.centreline.evaluate([hot.station_mm])[0][0]
        from_zero = np.degrees(maps.angle_rad[maps.index[sample]])
        from_zero = from_zero - (
            np.degrees(samples.inward_angle_rad[sample]) if samples.in_bend[sample] else from_zero[0]
        )
        for quarter in (1, 3):
            at = np.argmin(
                np.abs((from_zero - 90.0 * quarter + 180.0) % 360.0 - 180.0) + 1e3 * (fields.surface != OUTSIDE)
            )
            away = fields.at_rest_mm[m, at] - middle
            axis = int(np.abs(away).argmax())
            assert hot.sides[quarter] == names[axis][int(away[axis] > 0.0)]


def test_endurance_points_are_the_result_s_governing_places(checked):
    result, solved = checked, checked.states
    for point, setting in zip(endurance_points(solved), result.settings, strict=True):
        fatigue = setting.fatigue
        assert point.amplitude_MPa == fatigue.amplitude_MPa
        assert 0.3 < point.peak_share < 1.0 + 1e-9  # concentration and residual stress are not in the peak
        assert float(point.strength.strength_at(result.target_cycles)) == pytest.approx(fatigue.strength_at_target_MPa)


def test_at_rest_the_skin_is_as_thick_as_the_bar(checked):
    solved = checked.states
    fields, bar = surface_fields(solved), solved.bar
    outside = np.flatnonzero(fields.surface == OUTSIDE)
    points, _ = bar.centreline.evaluate(fields.station_mm)
    radius = np.linalg.norm(fields.at_rest_mm[:, outside] - points[:, None], axis=-1)
    body = np.array([region.kind in ("bend", "straight") for region in fields.regions])[fields.region]
    assert radius[body] == pytest.approx(0.5 * bar.section.diameter_mm)


def test_travel_moves_the_tips_apart_by_about_twice_the_travel():
    """In roll the pickups move 2 x 24 mm against each other, and the holes follow them but for the links' lean."""
    solved = check_bar(ROOT / "geometries" / "pickup-front-solid.toml").states
    fields = surface_fields(solved)
    up = fields.at_travel_mm[0, :, :, 2].mean(axis=1) - fields.at_rest_mm[:, :, 2].mean(axis=1)
    hole = np.abs(fields.station_mm - solved.bar.left.holes[0].station_mm).argmin()
    other = np.abs(fields.station_mm - solved.bar.right.holes[0].station_mm).argmin()
    assert up[hole] - up[other] == pytest.approx(48.0, rel=0.02)


@pytest.mark.long
def test_a_section_turned_by_the_solver_keeps_its_shape(checked):
    solved = checked.states
    fields = surface_fields(solved)

    def across(points):
        return np.linalg.norm(points[..., :1, :] - points, axis=-1)

    assert across(fields.at_travel_mm) == pytest.approx(
        np.broadcast_to(across(fields.at_rest_mm), fields.at_travel_mm.shape[:-1]), abs=1e-9
    )


def test_patches_take_the_worst_that_they_cover(checked):
    scene = build_scene(FigureData(checked))
    fields = surface_fields(checked.states)
    outside = np.flatnonzero(fields.surface == OUTSIDE)
    stress = fields.von_mises_MPa.max(axis=1)[..., outside]
    step = len(outside) // AROUND
    spots = [spot.station_mm for spot in fields.spots]
    for i in range(0, len(scene.joined), 7):
        if any(scene.station_mm[i] <= spot <= scene.station_mm[i + 1] for spot in spots):
            continue
        for p in (0, 5, AROUND - 1):
            covered = []
            for section in (i, i + 1):  # a section's points are numbered from its own inside, its patches along the bar
                away = np.abs(fields.at_travel_mm[0, section, outside] - scene.skin_mm[0, section, p]).max(axis=1)
                here = int(np.flatnonzero(away == 0.0)[0])
                covered.append(stress[:, section, np.arange(here, here + step + 1) % len(outside)])
            assert scene.von_mises_MPa[:, i, p] == pytest.approx(np.max(covered, axis=(0, 2)))


@pytest.mark.parametrize("name", ["pickup-rear-unequal", "coupe-rear-cranked"])
def test_patches_run_along_the_bar(name):
    """Between two bends the numbering of the points turns; a patch that turned with it would cut through the bar."""
    scene = build_scene(FigureData(check_bar(ROOT / "geometries" / f"{name}.toml")))
    for skin in scene.skin_mm:
        middles = np.linalg.norm(np.diff(skin.mean(axis=1), axis=0), axis=1)
        edges = np.linalg.norm(np.diff(skin, axis=0), axis=2).max(axis=1)
        assert np.all(edges - middles < 6.0)  # one point of 24 round 24 mm is 3.1 mm; across the bar are 24


def test_a_hole_or_contact_colours_the_strip_that_holds_it(checked):
    scene, fields = build_scene(FigureData(checked)), surface_fields(checked.states)
    assert any(spot.region.kind == "hole" for spot in fields.spots)
    for spot in fields.spots:
        strips = (scene.station_mm[:-1] <= spot.station_mm) & (spot.station_mm <= scene.station_mm[1:]) & scene.joined
        shown = scene.safety_factor[:, strips].min(axis=(1, 2))
        assert np.all(shown <= np.minimum(spot.safety_factor, 99.0) + 1e-12)
        assert np.all(scene.yield_margin[:, strips].min(axis=(1, 2)) <= np.minimum(spot.yield_margin, 99.0) + 1e-12)
        if spot.region.kind == "hole":  # and no worse than the worst of both
            beside = np.append(np.flatnonzero(strips), np.flatnonzero(strips) + 1)
            own = fields.yield_margin[:, beside][..., fields.surface == OUTSIDE].min(axis=(1, 2))
            worst = np.minimum(np.minimum(own, spot.yield_margin), 99.0)
            np.testing.assert_allclose(scene.yield_margin[:, strips].min(axis=(1, 2)), worst, atol=1e-9)


def test_projection_is_orthogonal_and_right_handed():
    seen, depth = project(np.eye(3), azimuth_rad=0.7, elevation_rad=0.4)
    rotation = np.column_stack([seen, depth])
    assert rotation @ rotation.T == pytest.approx(np.eye(3), abs=1e-12)
    assert np.linalg.det(rotation) == pytest.approx(1.0)
    # From straight behind, left is on the left and up is up.
    seen, depth = project(np.eye(3), azimuth_rad=np.pi, elevation_rad=0.0)
    assert seen[1] == pytest.approx([-1.0, 0.0]) and seen[2] == pytest.approx([0.0, 1.0]) and depth[0] == -1.0
