"""What a bar file means once read: units, sides, places, travel, defaults, and what is told beside it."""

from __future__ import annotations

import math
import subprocess
import sys
from copy import deepcopy

import numpy as np
import pytest

from barfem.model.errors import InputError
from barfem.model.read import bar_from_dict, read_bar
from barfem.model.units import number
from tests.model.bar_data import FLAT, TUBE, U_BAR, changed

FILE = """
format = 1
name = "demo"
drawing = "D-17"
revision = "B"
[material]
grade = "custom"
E = "29.9e6 psi"
nu = 0.3
density = "7.85 g/cm3"
yield_strength = "1.2 GPa"
tensile_strength = 1350
[section]
shape = "round"
diameter = "0.945 in"
[centreline]
points = [["-10 in", -500, 0], [0, -500, 0], [0, 500, 0], ["-10 in", 500, 0]]
bend_radius = "4.8 cm"
[ends]
holes = [ { name = "1", from_tip = "3/4 in" } ]
[[mounts]]
y = -380.0
radial_stiffness = "28000 lbf/in"
axial_stiffness = 200.0
torsional_stiffness = "1 N*m/deg"
[[mounts]]
y = 380.0
radial_stiffness = 5000.0
[links]
length = "14 cm"
direction = [0, 0, -2]
[travel]
pickup = 40.0
direction = [0, 0, 1]
"""

# --- units ---------------------------------------------------------------------------------------------------------

INCH, POUND_FORCE = 25.4, 4.4482216152605  # exact by definition (international yard and pound, 1959)


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("0.945 in", "length", 0.945 * INCH),
        ("15/16 in", "length", 15 / 16 * INCH),
        ("-2.5cm", "length", -25.0),
        ("1e-1 m", "length", 100.0),
        ("0.2 rad", "angle", math.degrees(0.2)),
        ("12 °", "angle", 12.0),
        ("1200 lbf/in", "force per length", 1200 * POUND_FORCE / INCH),
        ("5 kN/mm", "force per length", 5000.0),
        ("50 N·m/rad", "torsional stiffness", 50_000.0),
        ("1 N*m/deg", "torsional stiffness", 1000.0 * 180 / math.pi),
        ("29e6 psi", "stress", 29e6 * POUND_FORCE / INCH**2),
        ("206 GPa", "stress", 206_000.0),
        ("7.85 g/cm3", "density", 7850.0),
        ("7850 kg/m³", "density", 7850.0),
        ("7.85 kg/dm3", "density", 7850.0),
        ("90 %", "plain", 0.9),
    ],
)
def test_a_string_with_a_unit_is_converted(text: str, kind: str, value: float) -> None:
    assert number(text, kind) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "kind"),
    [("12 kg", "length"), ("12 mm", "stress"), ("12 deg", "length"), ("12 mm", "angle"), ("0.5", "angle"),
     ("5 N/mm", "torsional stiffness"), ("5 N*m", "torsional stiffness"), ("5 N*m/rad", "plain"), ("5 N", "stress"),
     ("7.85 kg", "density"), ("90 deg", "plain"), ("1/0 in", "length"), ("", "length"), ("in", "length"),
     ("20 degC", "length"), ("__import__('os')", "length"), ("1 mm; 2", "length"), ("nan mm", "length")],
)  # fmt: skip
def test_a_string_of_another_dimension_is_refused(text: str, kind: str) -> None:
    with pytest.raises(InputError) as caught:
        number(text, kind)
    assert text in caught.value.problem and caught.value.expected


def test_a_file_with_units_reads_like_one_without(tmp_path) -> None:
    path = tmp_path / "bar.toml"
    path.write_text(FILE, encoding="utf-8")
    bar = read_bar(path)
    assert (bar.name, bar.drawing, bar.revision, bar.source) == ("demo", "D-17", "B", str(path))
    assert bar.section.diameter_mm == pytest.approx(24.003)
    assert bar.steel.density_kg_per_m3 == pytest.approx(7850)
    assert bar.steel.yield_strength_MPa == pytest.approx(1200)
    assert bar.right.holes[0].from_tip_mm == pytest.approx(19.05)
    assert bar.mounts[0].radial_stiffness_N_per_mm == pytest.approx(28000 * POUND_FORCE / INCH)
    assert bar.left_link.length_mm == pytest.approx(140) and bar.left_link.direction == (0.0, 0.0, -1.0)
    # 2 arms of 254, back of 1000, 4 tangents of 48 replaced by 2 quarter circles.
    assert bar.centreline.length_mm == pytest.approx(2 * 254 + 1000 - 4 * 48 + math.pi * 48)


def test_windows_line_ends_and_a_byte_order_mark_do_no_harm(tmp_path) -> None:
    path = tmp_path / "bar.toml"
    path.write_bytes(b"\xef\xbb\xbf" + FILE.strip().replace("\n", "\r\n").encode())
    assert read_bar(str(path)).name == "demo"


def test_reading_changes_nothing_of_what_is_read() -> None:
    data = changed(("ends.flat", FLAT), ("ends.left", {"flat": {"thickness": 10}}))
    before = deepcopy(data)
    assert bar_from_dict(data) == bar_from_dict(data)
    assert data == before


@pytest.mark.long
def test_reading_imports_nothing_heavy_and_pint_only_for_a_rare_unit(tmp_path) -> None:
    plain = FILE
    for text, value in (
        ("29.9e6 psi", "206e3"),
        ("7.85 g/cm3", "7850"),
        ("1.2 GPa", "1200"),
        ("0.945 in", "24"),
        ("-10 in", "-254"),
        ("4.8 cm", "48"),
        ("3/4 in", "19"),
        ("28000 lbf/in", "4900"),
        ("1 N*m/deg", "57e3"),
        ("14 cm", "140"),
    ):
        plain = plain.replace(f'"{text}"', value)
    code = (
        "import sys; from barfem.model.read import read_bar; read_bar(sys.argv[1]); "
        "print(*[m for m in ('pint', 'scipy', 'skfem', 'matplotlib', 'meshio', 'rich') if m in sys.modules])"
    )
    found = []
    rare = FILE.replace('"0.945 in"', '"945 thou"')
    assert rare != FILE
    for name, text in (("plain", plain), ("units of drawings", FILE), ("a rare unit", rare)):
        path = tmp_path / f"{name}.toml"
        path.write_text(text, encoding="utf-8")
        run = subprocess.run([sys.executable, "-c", code, str(path)], capture_output=True, text=True, check=True)
        found.append(run.stdout.split())
    assert found[:2] == [[], []]
    assert "pint" in found[2]


# --- sides ---------------------------------------------------------------------------------------------------------


def test_common_vectors_are_the_left_sides_and_the_right_takes_y_reversed() -> None:
    bar = bar_from_dict(
        changed(
            ("ends.holes", [{"name": "1", "from_tip": 20.0, "offset": [1, 15, 2]}]),
            ("ends.flat", {**FLAT, "normal": [0, 3, 4]}),
            ("links", {"length": 140, "direction": [0, 0.6, -0.8]}),
        )
    )
    assert bar.left.holes[0].offset_mm == (1.0, 15.0, 2.0)
    assert bar.right.holes[0].offset_mm == (1.0, -15.0, 2.0)
    assert bar.left.flat.normal == pytest.approx((0, 0.6, 0.8))
    assert bar.right.flat.normal == pytest.approx((0, -0.6, 0.8))
    assert bar.left_link.direction == pytest.approx((0, 0.6, -0.8))
    assert bar.right_link.direction == pytest.approx((0, -0.6, -0.8))


def test_common_pickup_is_mirrored_and_a_sides_own_is_taken_as_written() -> None:
    bar = bar_from_dict(changed(("links", {"pickup": [-230, 520, -140], "right": {"pickup": [-230, -510, -150]}})))
    assert bar.left_link.pickup_mm == (-230.0, 520.0, -140.0)
    assert bar.right_link.pickup_mm == (-230.0, -510.0, -150.0)
    bar = bar_from_dict(changed(("links", {"pickup": [-230, 520, -140]})))
    assert bar.right_link.pickup_mm == (-230.0, -520.0, -140.0)


def test_a_side_overrides_key_by_key() -> None:
    bar = bar_from_dict(
        changed(
            ("ends.flat", FLAT),
            ("ends.right", {"flat": {"thickness": 10.0, "normal": [0, 3, 4]}}),
            ("links.axial_stiffness", 2e4),
            ("links.left", {"length": 150.0}),
        )
    )
    assert (bar.right.flat.thickness_mm, bar.right.flat.width_mm) == (10.0, 40.0)
    assert bar.right.flat.normal == pytest.approx((0, 0.6, 0.8))  # as written
    assert bar.left.flat.thickness_mm == 12.0
    assert (bar.left_link.length_mm, bar.right_link.length_mm) == (150.0, 140.0)
    assert bar.left_link.axial_stiffness_N_per_mm == bar.right_link.axial_stiffness_N_per_mm == 2e4


def test_one_side_may_have_a_fixed_pickup_and_the_other_a_hanging_link() -> None:
    bar = bar_from_dict(changed(("links.left", {"pickup": [-230, 500, -140]})))
    assert bar.left_link.pickup_mm and bar.left_link.length_mm is None and bar.left_link.direction is None
    assert bar.right_link.pickup_mm is None and bar.right_link.length_mm == 140.0


def test_left_holes_replace_the_list_and_counts_may_differ() -> None:
    bar = bar_from_dict(changed(("ends.left", {"holes": [{"name": "A", "from_tip": 30.0}]})))
    assert [hole.name for hole in bar.right.holes] == ["1", "2"]
    assert [hole.name for hole in bar.left.holes] == ["A"]
    assert any("unequal" in text for text in bar.warnings)


def test_stations_run_from_the_right_tip() -> None:
    bar = bar_from_dict(changed())
    length = bar.centreline.length_mm
    assert [hole.station_mm for hole in bar.right.holes] == [20.0, 45.0]
    assert [hole.station_mm for hole in bar.left.holes] == [length - 20.0, length - 45.0]
    points, _ = bar.centreline.evaluate([bar.right.holes[0].station_mm, bar.left.holes[0].station_mm])
    assert points == pytest.approx(np.array([[-230, -500, 0], [-230, 500, 0]], float), abs=1e-9)


def test_from_middle_is_positive_towards_the_left_tip_and_y_says_the_same() -> None:
    bar = bar_from_dict(changed(("mounts.1", {"y": 380.0, "radial_stiffness": 5000.0})))
    assert bar.mounts[1].from_middle_mm == pytest.approx(380.0, abs=1e-9)
    points, _ = bar.centreline.evaluate([mount.station_mm for mount in bar.mounts])
    assert points == pytest.approx(np.array([[0, -380, 0], [0, 380, 0]], float), abs=1e-9)


def test_a_bracket_is_in_series_with_its_bushing() -> None:
    bar = bar_from_dict(changed(("mounts.0.bracket_stiffness", 15000.0), ("mounts.1.bracket_stiffness", 5000.0)))
    assert [mount.radial_total_N_per_mm for mount in bar.mounts] == pytest.approx([3750.0, 2500.0])


def test_a_mount_may_hold_the_bar_along_its_axis_alone() -> None:
    stop = {"from_middle": 0.0, "radial_stiffness": 0.0, "axial_stiffness": 500.0, "bracket_stiffness": 1000.0}
    bar = bar_from_dict(changed(("mounts", [*U_BAR["mounts"], stop])))
    assert bar.mounts[2].radial_total_N_per_mm == 0.0


# --- travel, duty, targets ------------------------------------------------------------------------------------------

UP = {"direction": [0, 0, 2]}


@pytest.mark.parametrize(
    ("travel", "up", "down", "one_wheel", "given"),
    [
        ({"pickup": 40.0}, 40.0, 40.0, 40.0, False),
        ({"wheel": 65.0, "motion_ratio": 0.6}, 39.0, 39.0, 39.0, False),
        ({"up": 45.0, "down": 35.0}, 45.0, 35.0, 45.0, False),
        ({"pickup": 40.0, "up": 45.0}, 45.0, 40.0, 45.0, False),
        ({"pickup": 40.0, "one_wheel": 55.0}, 40.0, 40.0, 55.0, True),
        ({"pickup": 40.0, "motion_ratio": 0.6}, 40.0, 40.0, 40.0, False),
        ({"wheel": 65.0, "motion_ratio": 0.6, "down": 30.0}, 39.0, 30.0, 39.0, False),
    ],
)
def test_every_way_to_give_the_travel(travel, up, down, one_wheel, given) -> None:
    bar = bar_from_dict(changed(("travel", {**travel, **UP})))
    found = bar.travel
    assert (found.up_mm, found.down_mm, found.one_wheel_mm) == pytest.approx((up, down, one_wheel))
    assert found.one_wheel_given is given
    assert found.direction == (0.0, 0.0, 1.0)
    assert found.motion_ratio == travel.get("motion_ratio")
    assert any(f"{up:g} mm up, {down:g} mm down" in text for text in bar.assumptions)
    words = any("travel of the pickup, not of the wheel" in text for text in bar.warnings)
    assert words is ("wheel" in travel and "down" in travel)


def test_defaults_are_taken_and_told() -> None:
    bar = bar_from_dict(changed())
    assert (bar.duty.target_cycles, bar.duty.ratio, bar.duty.blocks) == (200_000.0, -1.0, ())
    assert (bar.targets.yield_margin, bar.targets.survival) == (0.25, 0.9)
    words = "\n".join(bar.assumptions)
    for text in (
        "target_cycles is not given: 200 000",
        "ratio is not given: -1",
        "yield_margin is not given: 0.25",
        "survival is not given: 90 %",
        "goodman_safety_factor is not given",
        "Links hang alike at every hole",
        "Links are rigid",
        "turns freely in every bushing",
        "surface",
    ):
        assert text in words


def test_the_wall_of_a_tube_in_its_bends_is_thinned_unless_it_says_otherwise() -> None:
    tube = bar_from_dict(changed(*TUBE))
    assert tube.section.bend_wall == "thinned" and any("bend_wall is not given" in text for text in tube.assumptions)
    tube = bar_from_dict(changed(*TUBE, ("section.bend_wall", "uniform")))
    assert tube.section.bend_wall == "uniform" and not any("bend_wall" in text for text in tube.assumptions)


def test_what_is_given_is_not_told_as_a_default() -> None:
    given_keys = changed(
        ("duty", {"target_cycles": 5e5, "ratio": 0.0, "blocks": [{"pickup": 20.0, "cycles": 1e6}]}),
        ("targets", {"yield_margin": 0.3, "survival": 0.99, "goodman_safety_factor": 1.2, "critical_sum": 0.5}),
    )
    bar = bar_from_dict(given_keys)
    assert bar.duty.blocks[0].cycles == 1e6 and bar.targets.goodman_safety_factor == 1.2
    assert not any("is not given" in text for text in bar.assumptions)


def test_the_right_pickup_travels_along_the_mirrored_direction() -> None:
    # Links along the travel on both sides, both leaning inward by 53 deg: neither leans from its pickup's travel.
    bar = bar_from_dict(changed(("links.direction", [0, 0.8, 0.6]), ("travel.direction", [0, 0.8, 0.6])))
    assert not any("leans" in text for text in bar.warnings)
