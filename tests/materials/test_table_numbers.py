"""Every number of a material table is one that a steel, or a test of one, can have."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from barfem.model.errors import InputError
from barfem.model.material_table import read_table

WHOLE = """
format = 1
grade = "mine"
standard = "EN 10089"
E = { value = 206000, source = "a" }
nu = { value = 0.3, source = "a" }
density = { value = 7850, source = "a" }
[sources]
a = "a certificate, invented"
[conditions.QT]
description = "quenched and tempered"
yield_strength = { value = 1200, source = "a" }
tensile_strength = { value = 1350, upper = 1650, source = "a" }
elongation = { value = 6, upper = 9, source = "a" }
hardness = { min = 43, max = 48, scale = "HRC", source = "a" }
[conditions.QT.cyclic]
E = 207000
fatigue_strength_coefficient = 2140
fatigue_strength_exponent = -0.0944
fatigue_ductility_coefficient = 0.637
fatigue_ductility_exponent = -0.761
cyclic_strength_coefficient = 2210
cyclic_hardening_exponent = 0.133
tensile_strength = 1413
source = "a"
[conditions.QT.stress_life]
strength = 640
cycles = 1e6
exponent = 13
surface = "ground"
decarburised_depth = 0.05
diameter = 8
tensile_strength = 1450
knee = false
source = "a"
[conditions.QT.scatter]
log10_life_deviation = 0.2
exponent = 9
source = "a"
"""
NUMBERS = [(m[1], m.span(2)) for m in re.finditer(r"(\w+) = (-?\d[\d.e]*)", WHOLE) if m[1] != "format"]


@pytest.mark.parametrize(
    "wrong", ["0", "-1.5", "1e308", "-1e308", "1e-308", "-1e-308", "nan", "inf", '"5 kg"', '"6 mm"']
)
def test_no_number_of_a_table_is_taken_whatever_it_is(tmp_path: Path, wrong: str) -> None:
    """Each number in turn is one that no steel and no test has. A skin that lost no carbon is none of them."""
    path = tmp_path / "mine.toml"
    path.write_text(WHOLE, encoding="utf-8")
    read_table(path)
    for key, (start, end) in NUMBERS:
        if key == "decarburised_depth" and wrong in ("0", "1e-308"):
            continue
        path = tmp_path / f"{start}.toml"
        path.write_text(WHOLE[:start] + wrong + WHOLE[end:], encoding="utf-8")
        with pytest.raises(InputError) as error:
            read_table(path)
        told = str(error.value)
        assert str(path) in told and "Right would be: " in told, told
        begins = WHOLE[:start].rpartition("\n")[2].partition(" ")[0]  # the key that its line begins with
        assert begins in told.replace(" ", "_"), told
        assert wrong.strip('"') in told or repr(float(wrong)) in told, told


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("value = 6,", "value = 0.06,", "QT.elongation = 0.06 cannot be a steel's. Right would be: 0.5 to 60 %"),
        ("max = 48", "max = 480", "QT.hardness.max = 480 cannot be a steel's. Right would be: 20 to 70 HRC"),
        ('"HRC"', '"HBW"', "QT.hardness.min = 43 cannot be a steel's. Right would be: 80 to 700 HBW"),
        ("upper = 1650", "upper = 1250", "the window 1350-1250 ends below its start"),
        ("upper = 1650", "upper = 240", "ends below its start"),
        ("= -0.0944", "= 0.0944", "strength_exponent: 0.0944 cannot be a steel's. Right would be: -0.3 to -0.02"),
        ("diameter = 8", "diameter = 0.3", "3 or more"),
    ],
)  # fmt: skip
def test_a_number_of_a_table_that_slipped_is_told_what_steels_have(
    tmp_path: Path, old: str, new: str, words: str
) -> None:
    """A share for per cent, Brinell called Rockwell, a window upside down, a sign that books leave out."""
    assert old in WHOLE
    path = tmp_path / "mine.toml"
    path.write_text(WHOLE.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(InputError) as error:
        read_table(path)
    assert words in str(error.value)
