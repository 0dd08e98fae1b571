"""Edges of holes and contacts in the recovery: fatigue sees them, yield does not; tendencies, turns and mirrors."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from barfem.model.bar import Bar, Collar, Flat
from barfem.solve.solid.hole_source import HolePlace, hole_source
from barfem.strength.edge_maps import flat_wall_map, round_edge_map
from barfem.strength.hole_loads import HoleLoads, holes_in_use
from barfem.strength.holes import FlatHole, flat_hole, heights, local_flat, wall, wall_edges
from barfem.strength.mount_edge import COLLAR_FACTORS, CONTACT_FACTORS, mount_contact
from barfem.strength.notch import neuber_length_mm
from barfem.strength.places import sampling_stations
from barfem.strength.recover import Recovery, recover
from barfem.strength.round_hole import round_hole
from barfem.strength.section_stress import round_map
from barfem.strength.stress_maps import build_stress_maps, stress_assumptions
from barfem.strength.words import place_words
from tests.strength.sample_bars import FORGED, NU, PRESSED, ROUND, TENSILE_MPA, TUBE, YIELD_MPA, make_bar
from tests.strength.sample_bars import roll_resultants as rolled
from tests.strength.severity import goodman_severity

Array = NDArray[np.float64]
HOLES = (("1", 20.0, 12.0), ("2", 50.0, 12.0))
OUT_OF_PLANE = replace(FORGED, normal=(0.0, 0.0, 1.0))


def recovered(bar: Bar, resultants: Array | None = None, **options: Any) -> Recovery:
    samples = sampling_stations(bar)
    one = rolled(bar, samples) if resultants is None else resultants
    loads = HoleLoads.of(bar, samples).whole(np.stack([0.0 * one, one, -one])[None], holes_in_use(bar, [(0, 0)]))
    return recover(
        samples=samples,
        maps=build_stress_maps(bar, samples),
        resultants=loads,
        cycle=(1, 2),
        yield_strength_MPa=YIELD_MPA,
        severity=goodman_severity(TENSILE_MPA),
        **options,
    )


def test_points_of_a_hole_s_wall_stand_evenly_round_it() -> None:
    bar = make_bar(flat=FORGED)
    wall_map = flat_wall_map(bar, bar.right, bar.right.holes[0], n_around=48)
    up, across = np.moveaxis(wall_map.position_mm, -1, 0)
    assert np.allclose(across + np.roll(across, 24, axis=-1), 0.0)  # each has one opposite
    assert across.max() == pytest.approx(6.0) and np.mean(across**2) == pytest.approx(0.5 * 6.0**2)
    assert np.abs(up).max() == pytest.approx(6.0)  # a 12 mm hole in a flat of 12 mm


def hole_amplitude(found: Recovery, name: str, side: str = "right") -> float:
    number = next(
        i for i, r in enumerate(found.regions) if r.hole is not None and r.hole.name == name and r.side == side
    )
    return float(found.cycle_amplitude_MPa[0, number])


def uniform(bar: Bar, column: int, size: float) -> Array:
    out = np.zeros((len(sampling_stations(bar).station_mm), 6))
    out[:, column] = size
    return out


@pytest.mark.parametrize("flat", [None, FORGED, OUT_OF_PLANE])
def test_concentration_is_in_the_cycle_and_not_in_the_peak(flat: Flat | None) -> None:
    bar = make_bar(flat=flat, holes=HOLES)
    found = recovered(bar)
    without = recovered(make_bar(flat=flat, holes=(("1", 20.0, None), ("2", 50.0, None))))
    drilled = [i for i, region in enumerate(found.regions) if region.kind == "hole"]
    others = [i for i, region in enumerate(found.regions) if region.kind != "hole"]
    # Elsewhere nothing moves at all.
    assert np.array_equal(found.peak_MPa[:, others], without.peak_MPa[:, others])
    assert np.array_equal(found.cycle_amplitude_MPa[:, others], without.cycle_amplitude_MPa[:, others])
    # Reversed load: without concentration the amplitude is the peak.
    inner = [i for i in drilled if getattr(found.regions[i].hole, "name", None) == "2"]
    ratio = found.cycle_amplitude_MPa[0, inner] / found.peak_MPa[0, inner]
    assert np.all(ratio > (1.2 if flat is not FORGED else 1.0))
    assert np.all(found.samples.edge[found.peak_sample] == 0)
    assert np.all(found.samples.edge[found.yield_sample] == 0)
    # What is held against yield at an edge is the peak of its section.
    at_edge = found.samples.edge[found.cycle_sample] > 0
    assert at_edge[0, inner].all() or flat is FORGED
    at_hole = at_edge & np.array([region.kind == "hole" for region in found.regions])
    assert found.cycle_max_MPa[at_hole] == pytest.approx(found.peak_MPa[at_hole])
    # At a transition's end it is the section's there, which need not be the greatest of the transition.
    assert np.all(found.cycle_max_MPa[at_edge] <= found.peak_MPa[at_edge] * (1.0 + 1e-9))


PLACE = HolePlace(width=40.0 / 12.0, thickness=1.0, tip=50.0 / 12.0, outboard=30.0 / 12.0)
USES = ("in use", "next")


def alone(tensile_MPa: float = 1350.0, *, right: bool = False, leaves: int = 1) -> FlatHole:
    """The wall of hole "2" of `HOLES` in a flat 40 x 12."""
    given: dict[str, Any] = {"uses": USES, "hole_mm": 12.0, "tensile_MPa": tensile_MPa, "n_around": 72}
    return wall(hole_source(PLACE), PLACE, right=right, leaves=leaves, **given)


def von_mises(stress: Array) -> Array:
    s, h, t = np.moveaxis(stress, -1, 0)
    return np.sqrt(s * s - s * h + h * h + 3.0 * t * t)


def test_by_hand_bending_across_a_flat() -> None:
    """Kf by hand from the model's Kt: flat 40 x 12, hole 12, M about the width axis; local axis 1 is z, 2 is -y."""
    bar = make_bar(flat=OUT_OF_PLANE, holes=HOLES)
    moment = 50e3
    samples = sampling_stations(bar)
    # The flat's width lies across the arm (which runs along x): the moment about it turns in the frame with y.
    _, a, b = np.array(bar.centreline.segments[0].start_frame)
    resultants = np.zeros((len(samples.station_mm), 6))
    resultants[:, 4], resultants[:, 5] = moment * a[1], moment * b[1]
    found = recovered(bar, resultants)
    kt = float(alone(TENSILE_MPA).kt[1, 5])
    # Peterson's chart of a wide plate, for the width: Reissner's plate, which is up to a tenth above the very edge.
    chart = (1.79 + 0.25 / 1.39 + 0.81 / 2.0 - 0.26 / 2.0) * (1.0 - 1.04 * 0.3 + 1.22 * 0.09)
    assert 0.87 * chart < kt < chart
    kpsi = TENSILE_MPA / 6.894757
    root = 0.246 - 3.08e-3 * kpsi + 1.51e-5 * kpsi**2 - 2.67e-8 * kpsi**3
    q = 1.0 / (1.0 + root / np.sqrt(6.0 / 25.4))
    nominal = 6.0 * moment / (28.0 * 12.0**2)
    assert hole_amplitude(found, "2") == pytest.approx((1.0 + q * (kt - 1.0)) * nominal, rel=1e-6)
    assert hole_amplitude(found, "2", "left") == pytest.approx((1.0 + q * (kt - 1.0)) * nominal, rel=1e-6)


def test_loads_add_at_the_point_and_not_as_maxima() -> None:
    """Bending in plane and across, greatest at other heights; tension and shear, greatest at other angles."""
    stress = alone().stress[1]
    one, other = np.zeros(11), np.zeros(11)
    for first, second, share in ((0, 2, 0.97), (4, 5, 1.0)):
        one[:], other[:] = 0.0, 0.0
        one[first], other[second] = (1.0 / von_mises(stress[..., k]).max() for k in (first, second))
        both = von_mises(stress @ (one + other)).max()
        assert 1.0 < both < 2.0 * share


def test_concentrations_are_over_the_nominal_stress_of_books() -> None:
    """Von Mises at the net section of 40 x 12 mm with a hole of 12 mm: F / A; 1.5 V / A (parabola of shear); torsion of
    the whole rectangle, T (3 + 1.8 t / w) / (w t^2) (Shigley Eq. 3-40, within 4 %); 6 M / ((w - d) t^2) across and
    6 M d / ((w^3 - d^3) t) in the plane (Peterson). A shear across makes a moment that grows to V d / 2 along the hole.
    """
    w, t, d = 40.0, 12.0, 12.0
    found, area = alone(), (w - d) * t
    greatest = von_mises(np.moveaxis(found.stress[..., :6], 3, -1)).max(axis=(1, 2))
    across = 6.0 / ((w - d) * t**2)
    torsion = np.sqrt(3.0) * (3.0 + 1.8 * t / w) / (w * t**2)
    nominal = [1.0 / area, across * d / 2.0, np.sqrt(3.0) * 1.5 / area, torsion, 6.0 * d / ((w**3 - d**3) * t), across]
    for load, size in enumerate(nominal):
        ours = (greatest / found.kt)[:, load]
        assert ours == pytest.approx(size, rel=0.04 if load == 3 else 1e-9)


def test_every_load_is_felt_by_at_most_its_geometric_factor() -> None:
    hard, soft = alone(1400.0), alone(600.0)
    assert np.array_equal(hard.kt, soft.kt)
    for found in (hard, soft):
        assert found.felt.shape == (2, 11)
        assert np.all((found.felt > 0.5) & (found.felt <= 1.0))
    assert np.all(hard.felt >= soft.felt) and hard.felt.mean() > soft.felt.mean()  # a harder steel feels a notch more


def test_a_bolt_presses_one_way_and_then_the_other() -> None:
    """Half the difference of the two is the cosine alone; the average is what stays, greatest where neither presses."""
    bar = make_bar(flat=FORGED, holes=HOLES)
    samples = sampling_stations(bar)
    edges = HoleLoads.of(bar, samples)
    pushed = np.zeros((1, 2, len(samples.station_mm), 6))
    pushed[:, 0, :, 1:3], pushed[:, 1, :, 1:3] = (300.0, 400.0), (-300.0, -400.0)
    loads = edges.whole(pushed, holes_in_use(bar, [(0, 0)]))
    bolted = edges.sample[edges.in_use & (loads[0, 0, edges.sample, 6] > 0.0)]
    assert len(bolted) == 2 * len(heights())  # the outer hole of either end
    assert np.allclose(loads[0, 0, bolted, 6:], loads[0, 1, bolted, 6:])
    assert np.all(loads[0, 0, bolted, 6] <= 500.0 + 1e-9)
    # What acts on another use than this setting's is nothing: the inner hole is next to the one in use.
    others = np.setdiff1d(edges.sample, bolted)
    assert np.all(loads[0, :, others, 6:] == 0.0)
    loaded = others[np.abs(loads[0, 0, others, 1:3]).sum(axis=-1) > 0.0]
    assert len(loaded) == 2 * len(heights())


def test_turning_an_end_round_changes_no_stress() -> None:
    """A right end is the mirror image of a left one: the tip is on the other side."""
    left, right = alone(), alone(right=True)
    assert np.allclose(left.kt, right.kt)
    # Tension: the tip's side of the wall is at 0 degrees of a left end and at 180 of a right one.
    assert np.allclose(left.stress[0, :, 0, 0, 0], right.stress[0, :, 36, 0, 0])
    assert np.allclose(left.stress[0, :, 10, 0, 0], right.stress[0, :, 26, 0, 0])
    # Shear on the wall goes with the angle's direction, which turns round too.
    assert np.allclose(left.stress[0, :, 10, 2, 0], -right.stress[0, :, 26, 2, 0])
    assert np.abs(left.stress[0, :, 10, 2, 0]).max() > 1e-6


@pytest.mark.parametrize("flat", [FORGED, OUT_OF_PLANE])
def test_a_thinner_flat_is_never_less_stressed(flat: Flat) -> None:
    amplitudes = [
        hole_amplitude(recovered(make_bar(flat=replace(flat, thickness_mm=t), holes=HOLES)), "2")
        for t in (14.0, 12.0, 10.0, 8.0)
    ]
    assert all(thin > thick for thick, thin in pairwise(amplitudes))


@pytest.mark.parametrize("flat", [None, FORGED, OUT_OF_PLANE])
def test_a_bigger_hole_is_never_less_stressed(flat: Flat | None) -> None:
    sizes = (6.0, 7.0, 8.0, 9.0, 10.0) if flat is None else (8.0, 10.0, 12.0, 14.0, 16.0, 20.0)
    amplitudes = [
        hole_amplitude(recovered(make_bar(flat=flat, holes=(("1", 15.0, d), ("2", 60.0, d)))), "2") for d in sizes
    ]
    # Across a flat a hole's concentration falls as it grows past the thickness, and the net section's rise just
    # outweighs it: never less, within 1 %.
    assert all(wide > 0.99 * narrow for narrow, wide in pairwise(amplitudes))
    assert amplitudes[-1] > amplitudes[0]


def test_torsion_of_a_flat_is_felt_at_45_degrees() -> None:
    far = replace(PLACE, outboard=None)
    stress = wall(hole_source(far), far, uses=("passed",), hole_mm=12.0, tensile_MPa=1350.0, n_around=72).stress[0]
    worst = int(np.argmax(np.abs(stress[0, :, 0, 3])))
    assert (worst * 5.0) % 90.0 == 45.0
    assert np.allclose(stress[-1, :, 0, 3], -stress[0, :, 0, 3])  # the other face twists the other way
    assert np.allclose(stress[-1, :, 0, 4], stress[0, :, 0, 4])


def test_the_leaves_of_a_pressed_flat_each_carry_half() -> None:
    """Two leaves of half the thickness: each is a flat of its own, under half the load."""
    assert np.allclose(alone(leaves=2).stress, alone().stress / 2.0)
    assert np.allclose(alone(leaves=2).kt, alone().kt)
    bar = make_bar(section=TUBE, flat=PRESSED, holes=(("1", 20.0, 10.0), ("2", 50.0, 10.0)))
    assert hole_amplitude(recovered(bar), "2") > 0.0
    end = bar.left
    found = flat_hole(bar, end, end.holes[1], n_around=72)
    leaf = replace(PRESSED, kind="forged", thickness_mm=PRESSED.thickness_mm / 2.0)
    single = replace(end, flat=leaf)
    assert np.allclose(found.stress, flat_hole(bar, single, end.holes[1], n_around=72).stress / 2.0)


def test_a_hole_in_a_transition_has_the_local_rectangle() -> None:
    bar = make_bar(flat=FORGED, holes=(("1", 20.0, 12.0), ("2", 82.0, 12.0)))
    end, d = bar.right, bar.section.diameter_mm
    assert local_flat(end, end.holes[0], diameter_mm=24.0) == (40.0, 12.0)
    width, depth = local_flat(end, replace(end.holes[0], from_tip_mm=FORGED.length_mm), diameter_mm=d)
    assert width == d
    assert depth * width**3 / 12.0 == pytest.approx(np.pi * d**4 / 64.0)
    found = recovered(bar)
    assert hole_amplitude(found, "2") > hole_amplitude(found, "1") > 0.0


def test_every_way_of_loading_a_hole_is_looked_at() -> None:
    """The outmost hole is in use or bears nothing; those inboard let pass what comes from it or from farther out."""
    bar = make_bar(flat=FORGED, holes=(("1", 20.0, 12.0), ("2", 45.0, 12.0), ("3", 70.0, None), ("4", 80.0, 10.0)))
    end = bar.left
    ways = [list(dict.fromkeys(use for use, _ in wall_edges(end, hole))) for hole in end.holes if hole.diameter_mm]
    assert ways == [["in use"], ["in use", "next"], ["in use", "passed"]]  # nothing is known of a hole without diameter


@pytest.mark.parametrize("section", [ROUND, TUBE])
def test_a_round_ends_hole_is_worst_whichever_way_the_moment_turns(section: Any) -> None:
    bar = make_bar(section=section, holes=(("1", 20.0, 6.0), ("2", 50.0, 6.0)))
    n = len(sampling_stations(bar).station_mm)
    amplitudes = []
    for turn in np.radians([0.0, 30.0, 45.0, 90.0]):
        one = np.zeros((n, 6))
        one[:, 4], one[:, 5] = 1e5 * np.cos(turn), 1e5 * np.sin(turn)
        amplitudes.append(hole_amplitude(recovered(bar, one), "2"))
    assert amplitudes == pytest.approx([amplitudes[0]] * 4, rel=2e-3)
    hole = round_hole(diameter_mm=section.diameter_mm, bore_mm=section.bore_mm, hole_mm=6.0)
    gross = 1e5 / (np.pi * (section.diameter_mm**4 - section.bore_mm**4) / (32.0 * section.diameter_mm))
    geometric = hole.bending / hole.bending_left * gross
    assert 0.9 * geometric < amplitudes[0] < geometric


def test_round_edge_has_no_points_in_the_bore() -> None:
    whole = round_map(diameter_mm=26.0, bore_mm=19.0, nu=NU)
    edge = round_edge_map(whole, diameter_mm=26.0, bore_mm=19.0, hole_mm=6.0, tensile_MPa=1350.0, edge=5)
    assert edge.exists.sum() == len(whole.exists) // 2
    assert np.all(edge.matrix[~edge.exists] == 0.0)


def test_a_mirrored_load_is_felt_alike_on_both_sides() -> None:
    found = recovered(make_bar(flat=FORGED, holes=HOLES))
    for name in ("1", "2"):
        assert hole_amplitude(found, name, "right") == pytest.approx(hole_amplitude(found, name, "left"), rel=1e-6)


def test_the_edge_is_named() -> None:
    bar = make_bar(flat=OUT_OF_PLANE, holes=HOLES)
    found = recovered(bar)
    number = next(i for i, region in enumerate(found.regions) if region.hole is not None and region.hole.name == "2")
    texts = place_words(
        bar,
        found.samples,
        found.maps,
        sample=int(found.cycle_sample[0, number]),
        point=int(found.cycle_point[0, number]),
    )
    assert texts.startswith("right arm, edge of hole 2")


# Contact ------------------------------------------------------------------------------------------------------------


def with_contact(bar: Bar, contact: str | None, factor: float | None = None) -> Bar:
    return replace(
        bar,
        mounts=tuple(replace(mount, contact=contact, contact_factor=factor) for mount in bar.mounts),  # type: ignore[arg-type]
    )


def edges_of(found: Recovery, kind: str) -> list[int]:
    return [i for i, region in enumerate(found.regions) if region.kind == kind]


@pytest.mark.parametrize(("contact", "factor"), [("bonded", 1.0), ("slipping", 1.2), ("clamped", 2.0)])
def test_contact_takes_its_factor_from_fatigue_alone(contact: str, factor: float) -> None:
    bar = make_bar()
    plain, touched = recovered(bar), recovered(with_contact(bar, contact))
    edges = edges_of(plain, "mount edge")
    assert touched.cycle_amplitude_MPa[0, edges] == pytest.approx(factor * plain.cycle_amplitude_MPa[0, edges])
    assert np.array_equal(touched.peak_MPa, plain.peak_MPa)
    assert np.array_equal(touched.yield_margin, plain.yield_margin)
    assert touched.cycle_max_MPa[0, edges] == pytest.approx(plain.cycle_max_MPa[0, edges])
    others = [i for i in range(len(plain.regions)) if i not in edges]
    assert np.array_equal(touched.cycle_amplitude_MPa[:, others], plain.cycle_amplitude_MPa[:, others])


def test_the_file_may_give_its_own_factor() -> None:
    bar = make_bar()
    plain, touched = recovered(bar), recovered(with_contact(bar, "clamped", 1.5))
    edges = edges_of(plain, "mount edge")
    assert touched.cycle_amplitude_MPa[0, edges] == pytest.approx(1.5 * plain.cycle_amplitude_MPa[0, edges])
    found = mount_contact(with_contact(bar, None, 1.5).mounts[0])
    assert found is not None and found.factor == 1.5


def test_a_collar_is_a_place_with_both_its_edges() -> None:
    bar = make_bar()
    station = bar.mounts[0].station_mm + 40.0
    collared = replace(bar, collars=(Collar(station, station - bar.middle_mm, 8.0, "pressed"),))
    found = recovered(collared)
    edges = edges_of(found, "collar")
    assert [found.regions[i].start_mm - station for i in edges] == pytest.approx([-4.0, 4.0])
    assert found.cycle_amplitude_MPa[0, edges] == pytest.approx(2.0 * found.peak_MPa[0, edges])
    sample, point = int(found.cycle_sample[0, edges[0]]), int(found.cycle_point[0, edges[0]])
    assert "right edge of collar 1" in place_words(collared, found.samples, found.maps, sample=sample, point=point)
    assert any("pressed" in text and "2 x" in text for text in stress_assumptions(collared))


def test_what_is_not_in_the_number_is_said_and_only_then() -> None:
    texts = {r.kind: r.caution for r in sampling_stations(make_bar(flat=FORGED, holes=HOLES)).regions}
    assert "fretting" in str(texts["mount edge"]) and texts["hole"] is None
    known = sampling_stations(with_contact(make_bar(flat=FORGED, holes=HOLES), "slipping")).regions
    assert all(region.caution is None for region in known if region.kind in ("mount edge", "hole"))
    near = sampling_stations(make_bar(holes=(("1", 20.0, 7.0), ("2", 32.6, 7.0)))).regions
    assert all("1.8 diameters apart" in str(region.caution) for region in near if region.kind == "hole")


def test_every_factor_has_its_source() -> None:
    for contact in (*CONTACT_FACTORS.values(), *COLLAR_FACTORS.values()):
        assert contact.factor >= 1.0
        assert "from memory" in contact.source or "no source" in contact.source


def test_holes_that_stand_close_are_told_once_an_end() -> None:
    bar = make_bar(holes=(("1", 15.0, 6.0), ("2", 24.0, 6.0), ("3", 37.5, 6.0)))
    cautions = [r.caution for r in sampling_stations(bar).regions if r.caution and "apart" in r.caution]
    assert len(cautions) == 4 and len(set(cautions)) == 2  # the third hole stands 2.25 diameters off
    assert all("down to 1.5 diameters apart" in text for text in cautions)


def test_a_hole_beyond_the_handbooks_table_is_called_so() -> None:
    """Table A-16 ends at a hole of 0.30 diameters: 7.2 mm in 24."""
    assert round_hole(diameter_mm=24.0, hole_mm=7.2).in_table
    assert not round_hole(diameter_mm=24.0, hole_mm=7.3).in_table
    beyond, end = (round_hole(diameter_mm=24.0, hole_mm=hole) for hole in (9.0, 7.2))
    assert beyond.bending == end.bending and beyond.bending_left < end.bending_left


def test_notch_sensitivity_is_held_where_its_fit_ends() -> None:
    """Shigley Eq. 6-35: 50 to 250 kpsi in bending, to 220 in torsion (345, 1724 and 1517 MPa)."""
    for load, ends in (("bending", (344.7, 1723.7)), ("torsion", (344.7, 1516.8))):
        low, inside, high = neuber_length_mm([0.5 * ends[0], 1000.0, 1.2 * ends[1]], load=load)
        at_low, at_high = neuber_length_mm(ends, load=load)
        assert (low, high) == pytest.approx((at_low, at_high), rel=1e-3) and at_low > inside > at_high > 0.0
    # 1 000 MPa is 145.0 kpsi: 0.246 - 0.4467 + 0.3176 - 0.0815 = 0.0354 of an inch's root, 0.0319 mm.
    assert neuber_length_mm(1000.0, load="bending") == pytest.approx(0.0319, abs=2e-4)
