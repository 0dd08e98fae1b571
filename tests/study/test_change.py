"""A changed bar is the bar of the changed file, and what the reader refuses is refused."""

from __future__ import annotations

import math
from copy import deepcopy
from typing import Any

import pytest

from barfem.model.bar import Section
from barfem.model.errors import InputError
from barfem.model.read import bar_from_dict
from barfem.study.change import change
from barfem.study.sections import parse_section, section_name, with_section
from tests.model.bar_data import FLAT, TUBE, U_BAR, changed
from tests.study.bars import SPLAYED, demo

FLAT_BAR = changed(("ends.flat", FLAT), base=U_BAR)
PRESSED = changed(
    ("ends.flat", FLAT | {"kind": "pressed", "thickness": 8.0, "width": 35.0}), *TUBE, base=U_BAR
)  # 24 x 4 tube


def test_a_changed_key_is_that_of_a_changed_file() -> None:
    bar = bar_from_dict(U_BAR)
    moved = change(bar, {"mounts.2.from_middle": 350.0, "duty.target_cycles": 5e4, "section.diameter": "1 in"})
    same = bar_from_dict(
        changed(("mounts.1.from_middle", 350.0), ("duty", {"target_cycles": 5e4}), ("section.diameter", 25.4))
    )
    assert moved.mounts == same.mounts and moved.duty == same.duty
    assert moved.section.diameter_mm == pytest.approx(25.4)
    assert (bar.mounts[1].from_middle_mm, bar.section.diameter_mm) == (380.0, 24.0)


def test_entries_by_name_by_number_and_all() -> None:
    bar = demo(SPLAYED)
    assert change(bar, {"ends.holes.B.from_tip": 41.0}).left.holes[1].from_tip_mm == 41.0
    assert change(bar, {"ends.holes.2.from_tip": 41.0}).left.holes[1].from_tip_mm == 41.0
    stiff = change(bar, {"mounts.*.radial_stiffness": 9000.0})
    assert [mount.radial_stiffness_N_per_mm for mount in stiff.mounts] == [9000.0, 9000.0]


@pytest.mark.parametrize(
    ("key", "value", "word"),
    [
        ("section.diametre", 20.0, "diameter"),  # the reader's own suggestion
        ("mounts.3.from_middle", 1.0, "1 to 2"),
        ("mounts.0.from_middle", 1.0, "1 to 2"),
        ("ends.holes.soft.from_tip", 1.0, "1, 2"),
        ("ends.left.holes.1.from_tip", 1.0, "the bar file has no ends.left.holes"),
        ("section.diameter.mm", 20.0, "diameter"),
        ("section..diameter", 20.0, "path"),
        ("section.diameter", -3.0, "above 0"),
        ("section.diameter", "\udcff", "\\udcff"),  # a byte of a command line that is no text
        ("duty.target_cycles", None, "nothing stands"),
        ("duty", {"target_cycles": None}, "nothing stands"),
    ],
)
def test_what_cannot_be_changed_is_refused(key: str, value: Any, word: str) -> None:
    with pytest.raises(InputError) as error:
        change(bar_from_dict(U_BAR), {key: value})
    assert word in str(error.value)


def test_the_tables_given_are_left_alone() -> None:
    tables = deepcopy(U_BAR)
    bar = bar_from_dict(tables)
    tables["section"]["diameter"] = 99.0
    assert change(bar, {"travel.pickup": 30.0}).section.diameter_mm == 24.0
    assert U_BAR["travel"]["pickup"] == 40.0


@pytest.mark.parametrize(
    ("text", "section"),
    [
        ("round 24", Section("round", 24.0)),
        ("24", Section("round", 24.0)),
        ("tube 28x4.5", Section("tube", 28.0, 4.5)),
        ("28 × 4.5", Section("tube", 28.0, 4.5)),
        ("TUBE 1 in x 0.125 in", Section("tube", 25.4, 3.175)),
    ],
)
def test_sections_as_they_are_written(text: str, section: Section) -> None:
    found = parse_section(text)
    assert found.shape == section.shape
    assert found.diameter_mm == pytest.approx(section.diameter_mm)
    assert found.wall_mm == (None if section.wall_mm is None else pytest.approx(section.wall_mm))
    assert parse_section(section_name(section)) == section


@pytest.mark.parametrize("text", ["", "square 20", "round 24x4", "tube 28", "tube 28x14", "round -4", "tube 28xx4"])
def test_sections_that_are_none(text: str) -> None:
    with pytest.raises(InputError, match="--section"):
        parse_section(text)


def test_forged_flats_go_with_the_diameter() -> None:
    flat = with_section(bar_from_dict(FLAT_BAR), Section("round", 30.0)).bar.left.flat
    assert flat is not None and (flat.width_mm, flat.thickness_mm) == (50.0, 15.0)
    assert (flat.length_mm, flat.transition_mm) == (95.0, 25.0)
    kept = with_section(bar_from_dict(FLAT_BAR), Section("round", 30.0), flats="keep").bar.left.flat
    assert kept == bar_from_dict(FLAT_BAR).left.flat


def test_pressed_flats_go_with_the_tube() -> None:
    found = with_section(bar_from_dict(PRESSED), Section("tube", 30.0, 5.0))
    flat = found.bar.left.flat
    # Thickness 8 x 5 / 4, width 35 x (30 - 5) / (24 - 4), by hand.
    assert flat is not None and (flat.width_mm, flat.thickness_mm) == (43.75, 10.0)
    # And 35 x (30 - 4) / (24 - 4) of another wall: not as the diameters are.
    flat = with_section(bar_from_dict(PRESSED), Section("tube", 30.0, 4.0)).bar.left.flat
    assert flat is not None and (flat.width_mm, flat.thickness_mm) == (45.5, 8.0)
    assert any("Pressed flats" in text for text in found.notes)


def test_a_solid_bar_becomes_a_tube_and_back() -> None:
    tube = with_section(bar_from_dict(FLAT_BAR), Section("tube", 28.0, 4.0), bent="before-hardening")
    flat = tube.bar.left.flat
    assert flat is not None and flat.kind == "pressed"
    assert (flat.thickness_mm, flat.width_mm) == (8.0, pytest.approx(math.pi * 24.0 / 2.0 + 4.0, abs=1e-3))
    assert any("may not be sold" in text for text in tube.notes)
    solid = with_section(bar_from_dict(PRESSED), Section("round", 22.0)).bar.left.flat
    assert solid is not None and solid.kind == "forged"
    # As much steel as in the round: 380 mm2.
    assert solid.width_mm * solid.thickness_mm == pytest.approx(380.13, rel=1e-3)


def test_a_tube_must_say_when_it_was_bent() -> None:
    with pytest.raises(InputError, match="bent") as error:
        with_section(bar_from_dict(U_BAR), Section("tube", 28.0, 4.0))
    assert "--bent" in str(error.value)


def test_flats_of_one_side_alone() -> None:
    own = changed(("ends.left", {"flat": {"width": 48.0}}), base=FLAT_BAR)
    found = with_section(bar_from_dict(own), Section("round", 30.0)).bar
    assert found.left.flat is not None and found.right.flat is not None
    assert (found.left.flat.width_mm, found.right.flat.width_mm) == (60.0, 50.0)
    assert found.left.flat.thickness_mm == 15.0


def test_the_same_section_changes_nothing() -> None:
    bar = bar_from_dict(FLAT_BAR)
    found = with_section(bar, bar.section)
    assert found.bar == bar and found.notes == ()
