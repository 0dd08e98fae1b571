"""Bars made within their bands: the very bar that the reader of bar files makes of the same dimensions."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from barfem.model.bar import Bar
from barfem.model.data_paths import demo_bars, geometries_dir
from barfem.model.errors import InputError
from barfem.model.lra import rows_from_centreline
from barfem.model.read import bar_from_dict, read_bar
from barfem.study.bands import Variable, bands_of
from barfem.study.tolerance_bars import BarMaker
from tests.model.bar_data import FLAT, TUBE, U_BAR, changed
from tests.study.tolerance_data import ROWS_BAR

DEMOS = demo_bars()


def one(bar: Bar, **deviations: float) -> Bar:
    """The bar with deviations by key and number, such as bend_angle_0=0.5."""
    parts = [(*name.rpartition("_")[::2], value) for name, value in deviations.items()]
    variables = tuple(Variable(key, key, int(index), -9.0, 9.0, "uniform") for key, index, _ in parts)
    (made,) = BarMaker(bar, variables).made(np.array([[value for _, _, value in parts]]))
    if isinstance(made, InputError):
        raise made
    return made


def plain(bar: Bar) -> Bar:
    """Without what only the reader says."""
    return replace(bar, warnings=(), assumptions=(), tables=None, steel=replace(bar.steel, sources={}, hardness=None))


def assert_alike(made: Bar, read: Bar, *, within: float = 1e-9) -> None:
    assert made.section == read.section
    for a, b in ((made.right, read.right), (made.left, read.left)):
        assert [h.station_mm for h in a.holes] == pytest.approx([h.station_mm for h in b.holes], abs=within)
        assert [h.from_tip_mm for h in a.holes] == pytest.approx([h.from_tip_mm for h in b.holes], abs=within)
        assert (a.flat is None) == (b.flat is None)
        if a.flat is not None and b.flat is not None:
            assert (a.flat.thickness_mm, a.flat.width_mm) == (b.flat.thickness_mm, b.flat.width_mm)
    for mount, other in zip(made.mounts, read.mounts, strict=True):
        assert mount.station_mm == pytest.approx(other.station_mm, abs=within)
        for name in ("radial_stiffness_N_per_mm", "axial_stiffness_N_per_mm", "torsional_stiffness_Nmm_per_rad",
                     "conical_stiffness_Nmm_per_rad", "bracket_stiffness_N_per_mm"):  # fmt: skip
            assert getattr(mount, name) == pytest.approx(getattr(other, name)), name
    assert made.steel.E_MPa == pytest.approx(read.steel.E_MPa)
    assert made.steel.tensile_strength_MPa == pytest.approx(read.steel.tensile_strength_MPa)
    assert made.steel.yield_strength_MPa == pytest.approx(read.steel.yield_strength_MPa)
    assert made.centreline.length_mm == pytest.approx(read.centreline.length_mm, abs=within)
    for row, other in zip(rows_from_centreline(made.centreline), rows_from_centreline(read.centreline), strict=True):
        assert row.length_mm == pytest.approx(other.length_mm, abs=1e-7)
        assert row.rotation_deg == pytest.approx(other.rotation_deg, abs=1e-7)
        if row.angle_deg is not None:
            assert row.angle_deg == pytest.approx(other.angle_deg, abs=1e-9)
            assert row.radius_mm == pytest.approx(other.radius_mm, abs=1e-9)


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_no_deviation_is_the_drawing(path: Any) -> None:
    bar = read_bar(path)
    variables = tuple(v for band in bands_of(bar) for v in band.variables)
    (made,) = BarMaker(bar, variables).made(np.zeros((1, len(variables))))
    assert isinstance(made, Bar)
    stations = np.linspace(0.0, bar.centreline.length_mm, 60)
    for ours, theirs in zip(made.centreline.evaluate(stations), bar.centreline.evaluate(stations), strict=True):
        assert np.abs(ours - theirs).max() < 1e-9
    assert_alike(made, bar)


SAME = [
    ({"diameter_0": 0.4}, [("section.diameter", 24.4)]),
    ({"E_0": 0.02}, [("material.E", 206_000 * 1.02)]),
    (
        {"tensile_strength_0": 100.0},
        [("material.tensile_strength", 1450), ("material.yield_strength", 1200 / 1350 * 1450)],
    ),
    ({"yield_ratio_0": -0.03}, [("material.yield_strength", 1200 * 0.97)]),
    ({"mount_position_1": 0.7}, [("mounts.1.from_middle", 380.7)]),
    ({"mount_stiffness_0": 0.1}, [("mounts.0.radial_stiffness", 5500), ("mounts.0.axial_stiffness", 220)]),
    (
        {"hole_position_1": 0.3, "hole_position_2": -0.2},  # right hole 2, left hole 1
        [
            ("ends.right", {"holes": [{"name": "1", "from_tip": 20.0}, {"name": "2", "from_tip": 45.3}]}),
            ("ends.left", {"holes": [{"name": "1", "from_tip": 19.8}, {"name": "2", "from_tip": 45.0}]}),
        ],
    ),
]  # fmt: skip


@pytest.mark.parametrize(
    ("moved", "changes"), SAME, ids=lambda value: next(iter(value)) if isinstance(value, dict) else ""
)
def test_a_deviation_is_what_the_reader_makes_of_the_same_number(
    moved: dict[str, float], changes: list[tuple[str, Any]]
) -> None:
    assert_alike(one(bar_from_dict(U_BAR), **moved), bar_from_dict(changed(*changes)))


def test_walls_and_flats_too() -> None:
    tube = changed(*TUBE)
    made = one(bar_from_dict(tube), diameter_0=0.1, wall_0=-0.3)
    assert_alike(made, bar_from_dict(changed(("section.diameter", 24.1), ("section.wall", 3.7), base=tube)))
    flats = changed(("ends.flat", FLAT))
    made = one(bar_from_dict(flats), flat_thickness_0=0.3, flat_width_1=-0.5)
    read = bar_from_dict(
        changed(("ends.right", {"flat": {"thickness": 12.3}}), ("ends.left", {"flat": {"width": 39.5}}), base=flats)
    )
    assert_alike(made, read)


def test_every_stiffness_of_a_bushing_goes_together_and_its_bracket_stays() -> None:
    given = {"torsional_stiffness": 4000.0, "conical_stiffness": 9000.0, "bracket_stiffness": 30000.0}
    base = changed(*((f"mounts.0.{key}", value) for key, value in given.items()))
    wanted = {"radial_stiffness": 4500.0, "axial_stiffness": 180.0, "torsional_stiffness": 3600.0}
    read = changed(*((f"mounts.0.{k}", v) for k, v in {**wanted, "conical_stiffness": 8100.0}.items()), base=base)
    assert_alike(one(bar_from_dict(base), mount_stiffness_0=-0.1), bar_from_dict(read))


def test_a_tip_moved_outwards_in_its_plane_opens_the_bend() -> None:
    """By u / s: 0.5 mm over a straight of 202 mm, at either end."""
    bar = bar_from_dict(U_BAR)
    for number, bend in ((0, 0), (2, 1)):
        made = one(bar, **{f"tip_position_{number}": 0.5})
        angles = [row.angle_deg for row in rows_from_centreline(made.centreline)[:-1]]
        assert angles[bend] == pytest.approx(90.0 - np.degrees(0.5 / 202.0), abs=1e-6)
        assert angles[1 - bend] == pytest.approx(90.0, abs=1e-9)
        # Outwards: the tips, which lie at y = -500 and 500, stand farther apart.
        tips = made.centreline.evaluate([0.0, made.centreline.length_mm])[0]
        assert tips[1, 1] - tips[0, 1] > 1000.45


COLLARS = [
    {"from_middle": 410.0, "length": 8.0, "kind": "moulded"},
    {"from_middle": -345.0, "length": 8.0, "kind": "pressed"},
]


def test_a_collar_goes_with_the_mount_beside_it() -> None:
    bar = bar_from_dict(changed(("collars", COLLARS)))
    drawn = [collar.from_middle_mm for collar in bar.collars]
    assert drawn == [-345.0, 410.0] and [mount.from_middle_mm for mount in bar.mounts] == [-380.0, 380.0]
    made = one(bar, mount_position_1=0.7)
    assert [collar.from_middle_mm for collar in made.collars] == pytest.approx([-345.0, 410.7])
    read = bar_from_dict(changed(("collars", [{**COLLARS[0], "from_middle": 410.7}, COLLARS[1]]), *MOVED))
    assert [c.station_mm for c in made.collars] == pytest.approx([c.station_mm for c in read.collars], abs=1e-9)
    # A longer right arm moves the middle of the developed length, and neither mounts nor collars on the bar.
    longer = one(bar, straight_length_0=1.0)
    assert [c.station_mm for c in longer.collars] == pytest.approx([c.station_mm + 1.0 for c in bar.collars], abs=1e-9)
    with pytest.raises(InputError, match="collar lies off"):
        one(bar_from_dict(changed(("collars", [{**COLLARS[0], "from_middle": 720.0}]))), mount_position_1=9.0)


MOVED = [("mounts.1.from_middle", 380.7)]

ROWS = [
    ({"straight_length_0": 0.6}, [[202.6, 0, 90, 48], [904, 0, 90, 48], [202]]),
    ({"straight_length_1": -0.8, "straight_length_2": 0.4}, [[202, 0, 90, 48], [903.2, 0, 90, 48], [202.4]]),
    ({"bend_angle_0": 1.0}, [[202, 0, 91, 48], [904, 0, 90, 48], [202]]),
    ({"bend_radius_1": -1.0}, [[202, 0, 90, 48], [904, 0, 90, 47], [202]]),
    ({"bend_rotation_0": 2.0}, [[202, 0, 90, 48], [904, 2.0, 90, 48], [202]]),
]


@pytest.mark.parametrize(
    ("moved", "rows"), ROWS, ids=lambda value: next(iter(value)) if isinstance(value, dict) else ""
)
def test_rows_of_the_bender(moved: dict[str, float], rows: list[list[float]]) -> None:
    made = one(bar_from_dict(ROWS_BAR), **moved)
    read = bar_from_dict(changed(("bends.rows", rows), base=ROWS_BAR))
    # Mounts keep their distance from the drawing's middle, the reader's from the new one.
    mounts = tuple(replace(a, station_mm=b.station_mm) for a, b in zip(made.mounts, read.mounts, strict=True))
    assert_alike(replace(made, mounts=mounts), read)


def points(bar: Bar, *, of_drawing: Bar, count: int = 40) -> tuple[np.ndarray, np.ndarray]:
    """Points of the right and the left half at equal distances from where the drawing's middle is."""
    shift = bar.mounts[0].station_mm - of_drawing.mounts[0].station_mm
    half = 0.5 * of_drawing.centreline.length_mm - 30.0
    away = np.linspace(0.0, half, count)
    middle = of_drawing.middle_mm + shift
    return bar.centreline.evaluate(middle - away)[0], bar.centreline.evaluate(middle + away)[0]


@pytest.mark.parametrize("name", ["coupe-rear-cranked", "coupe-front-bends", "pickup-front-solid"])
@pytest.mark.parametrize("side", [0, 1])
def test_errors_of_one_side_leave_the_other_where_it_is(name: str, side: int) -> None:
    bar = read_bar(geometries_dir() / f"{name}.toml")
    bends = len(bar.centreline.bends)
    mine = range(bends // 2) if side == 0 else range((bends + 1) // 2, bends)
    moved: dict[str, float] = {f"bend_angle_{i}": 0.7 for i in mine} | {f"bend_radius_{i}": 0.5 for i in mine}
    turns = [i for i in range(bends - 1) if (i + 1 in mine and i in mine)]
    moved |= {f"bend_rotation_{i}": 0.8 for i in turns}
    moved |= {f"tip_position_{2 * side}": 0.4, f"tip_position_{2 * side + 1}": -0.3}
    made = one(bar, **moved)
    now, drawn = points(made, of_drawing=bar), points(bar, of_drawing=bar)
    assert np.abs(now[1 - side] - drawn[1 - side]).max() < 1e-9
    assert np.abs(now[side] - drawn[side]).max() > 1.0


def test_a_rotation_between_bends_beside_the_middle_turns_both_arms_alike() -> None:
    bar = bar_from_dict(ROWS_BAR)
    made = one(bar, bend_rotation_0=1.0)
    ends = made.centreline.evaluate([0.0, made.centreline.length_mm])[0]
    # Arms of 250 mm, half a degree each: one up, the other down.
    assert sorted(ends[:, 2].tolist()) == pytest.approx([-250 * np.sin(np.radians(0.5)), 250 * np.sin(np.radians(0.5))])


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_tips_move_as_far_as_they_are_said_to(path: Any) -> None:
    bar = read_bar(path)
    drawn = bar.centreline.evaluate([0.0, bar.centreline.length_mm])
    for side in (0, 1):
        frame = drawn[1][side]
        moves = []
        for number in (2 * side, 2 * side + 1):
            made = one(bar, **{f"tip_position_{number}": 0.01})
            tip = made.centreline.evaluate([0.0, made.centreline.length_mm])[0][side]
            moves.append((tip - drawn[0][side]) / 0.01)
        # By 0.01 mm across the arm each, square to each other; an arm that is not straight is no longer and no shorter.
        for move in moves:
            assert np.linalg.norm(move) == pytest.approx(1.0, abs=1e-3)
            assert abs(move @ frame[0]) < 1e-3
        assert abs(moves[0] @ moves[1]) < 1e-3


def test_flats_and_joints_turn_with_their_arm() -> None:
    bar = read_bar(next(path for path in DEMOS if "splayed" in path.name))
    made = one(bar, bend_angle_0=2.0, bend_angle_1=-2.0, bend_rotation_0=3.0)
    for end, drawn, station in ((made.right, bar.right, 0.0), (made.left, bar.left, made.centreline.length_mm)):
        t = made.centreline.evaluate([station])[1][0, 0]
        assert end.flat is not None and drawn.flat is not None
        assert abs(np.array(end.flat.normal) @ t) < 1e-12
        assert np.linalg.norm(end.flat.normal) == pytest.approx(1.0)
        turned = np.degrees(np.arccos(np.array(end.flat.normal) @ np.array(drawn.flat.normal)))
        assert 1.9 < turned < 3.0
        assert np.linalg.norm(end.holes[0].offset_mm) == pytest.approx(14.0)


def test_a_flat_as_long_as_its_straight_ends_with_it() -> None:
    bar = bar_from_dict(changed(("ends.flat", {**FLAT, "length": 202.0})))
    made = one(bar, straight_length_0=-0.5)
    assert made.right.flat is not None and made.left.flat is not None
    assert made.right.flat.length_mm == pytest.approx(201.5)
    assert made.right.flat.transition_mm == pytest.approx(24.5)
    assert made.left.flat.length_mm == 202.0


def test_measured_walls_go_with_the_wall_and_no_steel_yields_above_its_strength() -> None:
    """A wall of 4.2 for 4 mm: 5 % more outside and inside of the bends. A yield ratio of 1300 / 1400, 10 % greater,
    would be 1.02: the steel yields where it breaks.
    """
    tube = bar_from_dict(changed(*TUBE, ("section.bend_walls", {"outside": 3.4, "inside": 4.8})))
    assert one(tube, wall_0=0.2).section.bend_walls_mm[0] == pytest.approx((1.05 * 3.4, 1.05 * 4.8))
    assert one(tube, diameter_0=0.2).section.bend_walls_mm == tube.section.bend_walls_mm
    steel = {"material.yield_strength": 1300.0, "material.tensile_strength": 1400.0}
    bar = bar_from_dict(changed(*steel.items()))
    assert one(bar, yield_ratio_0=0.05).steel.yield_strength_MPa == pytest.approx(1.05 * 1300.0)
    made = one(bar, yield_ratio_0=0.10, tensile_strength_0=50.0).steel
    assert made.yield_strength_MPa == made.tensile_strength_MPa == 1450.0


def test_what_cannot_be_is_an_error_and_no_bar() -> None:
    bar = bar_from_dict(U_BAR)
    with pytest.raises(InputError, match="no length left"):
        one(bar, straight_length_0=-300.0)
    with pytest.raises(InputError, match="radius"):
        one(bar, bend_radius_0=-40.0)
    with pytest.raises(InputError, match="off the bar"):
        one(bar, mount_position_1=400.0)
    with pytest.raises(InputError, match="overlap"):
        one(bar, mount_position_1=-750.0)
    with pytest.raises(InputError, match="wall"):
        one(bar_from_dict(changed(*TUBE)), wall_0=9.0)
    with pytest.raises(InputError, match="decarburised"):
        one(bar, decarburised_depth_0=1.5)
    with pytest.raises(InputError, match="flat"):
        one(bar_from_dict(changed(("ends.flat", FLAT))), flat_thickness_0=-13.0)
    drilled = [{"name": n, "from_tip": at, "diameter": d} for n, at, d in (("1", 30.0, 10.0), ("2", 46.0, 14.0))]
    near = bar_from_dict(changed(("ends", {"holes": drilled, "flat": FLAT})))
    one(near, hole_position_1=-3.9)  # 12.1 mm apart, and half of both diameters is 12
    with pytest.raises(InputError, match="run into each other"):
        one(near, hole_position_1=-4.1)
    good, bad = BarMaker(bar, (Variable("straight_length", "", 0, -9, 9, "uniform"),)).made(np.array([[0.0], [-300.0]]))
    assert isinstance(good, Bar) and isinstance(bad, InputError)


@pytest.mark.parametrize("name", ["coupe-front-bends", "coupe-rear-cranked"])
def test_every_rotation_is_that_of_its_row(name: str) -> None:
    bar = read_bar(geometries_dir() / f"{name}.toml")
    drawn = rows_from_centreline(bar.centreline)
    for i in range(len(drawn) - 2):
        rows = rows_from_centreline(one(bar, **{f"bend_rotation_{i}": 0.8}).centreline)
        changes = [a.rotation_deg - b.rotation_deg for a, b in zip(rows, drawn, strict=True)]
        expected = [0.8 if number == i + 1 else 0.0 for number in range(len(drawn))]
        assert np.mod(np.array(changes) + 180.0, 360.0) - 180.0 == pytest.approx(np.array(expected), abs=1e-6)
