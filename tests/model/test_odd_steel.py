"""A user's own steel and peening, as slips of the pen leave them: told before any number is believed."""

from __future__ import annotations

import pytest

from barfem.check.api import look_twice
from barfem.model.data_paths import materials_dir
from barfem.model.material_table import known_tables, read_table
from barfem.model.read import bar_from_dict
from tests.model.test_dimensions import U_BAR

OWN = """
format = 1
grade = "own"
standard = "ours"
E = {{ value = 206000, source = "s" }}
nu = {{ value = 0.3, source = "s" }}
density = {{ value = 7850, source = "s" }}
[sources]
s = "our certificates"
[conditions.QT]
description = "quenched and tempered"
yield_strength = {{ value = 1200, source = "s" }}
tensile_strength = {{ value = 1350, source = "s" }}
{more}
"""
LINE = """[conditions.QT.stress_life]
strength = {strength}
cycles = {cycles}
exponent = {exponent}
surface = "ground"
diameter = 8
tensile_strength = {tensile}
knee = false
source = "s"
"""
CYCLIC = """[conditions.QT.cyclic]
E = 205000
fatigue_strength_coefficient = {coefficient}
fatigue_strength_exponent = -0.071
fatigue_ductility_coefficient = 0.4
fatigue_ductility_exponent = -0.57
tensile_strength = 1350
source = "s"
"""


def hardness(low, high, scale="HRC"):
    return f'hardness = {{ min = {low}, max = {high}, scale = "{scale}", source = "s" }}'


def line(strength=560, cycles=1e6, exponent=12, tensile=1350):
    return LINE.format(strength=strength, cycles=cycles, exponent=exponent, tensile=tensile)


def asked_of(more, tmp_path, **material):
    (tmp_path / "own.toml").write_text(OWN.format(more=more), encoding="utf-8")
    table = {"grade": "own.toml", "condition": "QT", **material}
    return look_twice(bar_from_dict({**U_BAR, "material": table}, source=str(tmp_path / "bar.toml")))


@pytest.mark.parametrize(
    ("more", "message"),
    [
        # by ISO 18265 28 and 32 HRC are 914 and 1027 MPa, 43 and 48 HRC 1363 and 1567
        (hardness(28, 32), ("hardness of own QT, 28-32 HRC, is 9",)),
        (hardness(43, 48), ()),
        (hardness(120, 150, "HBW"), ()),  # beyond the table of ISO 18265: nothing to hold it against
        (line(), ()),
        (line(strength=1120),  # the range: 0.83 of the tensile strength at a million cycles
         ("a tested line of 1120 MPa at 1 000 000 cycles leaves 0.83 of the tensile strength of 1350 MPa at a million, "
          "where polished steel has 0.4 to 0.6: ranges written as amplitudes, or another unit?",)),
        (line(strength=81),  # ksi
         ("a tested line of 81 MPa at 1 000 000 cycles leaves 0.06 of the tensile strength of 1350 MPa at a million: "
          "ksi written as MPa?",)),
        (line(strength=560, tensile=700),  # of another steel: taken as it stands, and never scaled up
         ("a tested line of 560 MPa at 1 000 000 cycles leaves 0.8 of the tensile strength of 700 MPa",)),
        (line(exponent=3),  # of a weld: 560 x 1000^(1/3) = 5 600 MPa at 1 000 cycles
         ("a tested line of 560 MPa at 1 000 000 cycles and exponent 3 is 4.1 times the tensile strength of 1350 MPa "
          "at 1 000: the exponent of another line?",)),
        (line(strength=507, cycles=2e5, exponent=7.2), ()),  # as barfem fit writes one of peened bars
        (line(strength=230, cycles=1e6, exponent=4.5), ()),  # of deeply decarburised ones
        (CYCLIC.format(coefficient=1930), ()),
        (CYCLIC.format(coefficient=280),
         ("a fatigue strength coefficient of 280 MPa, below the tensile strength tested of 1350: ksi written as MPa?",
          )),
    ],
)  # fmt: skip
def test_a_steel_of_ones_own_that_no_steel_is_is_asked_about(tmp_path, more, message):
    """A range typed for an amplitude stood in the tested line's place in silence, twice as strong as the bar."""
    asked = asked_of(more, tmp_path)
    assert len(asked) == len(message) and all(part in text for part, text in zip(message, asked, strict=True))


def test_a_certificate_takes_the_place_of_the_tables_hardness(tmp_path):
    assert asked_of(hardness(28, 32), tmp_path, hardness="44 HRC") == ()
    assert asked_of(hardness(28, 32), tmp_path, tensile_strength=1400.0) == ()


@pytest.mark.parametrize(
    ("peening", "message"),
    [
        ({"residual": -1900}, "peening that leaves 1900 MPa of compression in steel that yields at 1200: another unit"),
        ({"residual": -80}, "peening that leaves 80 MPa of compression, where it leaves 400 to 900: ksi"),
        ({"residual": 0}, "peening that leaves 0 MPa of compression, where it leaves 400 to 900: ksi"),
        ({"residual": "-80 ksi"}, ""),
        ({"depth": 0.9}, "peening 0.9 mm deep, where it reaches 0.1 to 0.5: a slipped point?"),
        ({"coverage": 1.5}, "a coverage of 1.5 % of the peening: a share written as per cent?"),
        ({"residual": -700, "depth": 0.25, "coverage": 200}, ""),
    ],
)
def test_peening_that_no_shot_leaves_is_asked_about(tmp_path, peening, message):
    asked = asked_of("", tmp_path, surface="machined", peening={"kind": "shot", **peening})
    assert (len(asked) == 1 and message in asked[0]) if message else asked == ()


@pytest.mark.parametrize(
    ("grade", "condition"),
    [(name, one) for name, path in known_tables(materials_dir()).items() for one in read_table(path).conditions],
)
def test_no_shipped_steel_is_odd(grade, condition):
    table = {"grade": grade, "condition": condition}
    assert look_twice(bar_from_dict({**U_BAR, "material": table})) == ()
