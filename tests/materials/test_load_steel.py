"""From a bar file's [material] to a steel: lookup, overrides, process, and every refusal."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest

from barfem.model.errors import InputError
from barfem.model.material_table import known_tables
from barfem.model.materials import load_steel

PLAIN: dict[str, Any] = {"grade": "51CrV4", "condition": "QT EN 10089"}
CUSTOM: dict[str, Any] = {
    "grade": "custom",
    "E": 206_000.0,
    "nu": 0.3,
    "density": 7850.0,
    "yield_strength": 1100.0,
    "tensile_strength": 1300.0,
}


def test_a_plain_bar() -> None:
    steel, warnings, assumptions = load_steel(PLAIN)
    assert (steel.grade, steel.condition) == ("51CrV4", "QT EN 10089")
    assert (steel.yield_strength_MPa, steel.tensile_strength_MPa) == (1200.0, 1350.0)
    assert (steel.surface, steel.bent, steel.cyclic) == ("as-hardened-scaled", "before-hardening", None)
    assert warnings == []
    wording = "\n".join(assumptions)
    for word in ("EN 10089:2002", "E 206000 MPa", "density 7850 kg/m3", "unpeened", "bent before hardening"):
        assert word in wording


@pytest.mark.parametrize("condition", ["qt en 10089", "  QT  EN 10089 "])
def test_a_condition_is_found_whatever_its_capitals(condition: str) -> None:
    assert load_steel({**PLAIN, "condition": condition})[0].condition == "QT EN 10089"


def test_the_only_condition_of_a_table_need_not_be_named() -> None:
    steel, _, assumptions = load_steel({"grade": "54SiCr6"})
    assert steel.condition == "QT EN 10089"
    assert any("only one" in line for line in assumptions)


def test_overrides_are_used_and_said() -> None:
    steel, _, assumptions = load_steel({**PLAIN, "yield_strength": 1150.0, "E": 205_000.0})
    assert (steel.yield_strength_MPa, steel.E_MPa, steel.tensile_strength_MPa) == (1150.0, 205_000.0, 1350.0)
    assert "yield strength 1150 MPa from the bar file, not from the table (1200 MPa)" in assumptions
    assert "E 205000 MPa from the bar file, not from the table (206000 MPa)" in assumptions
    assert steel.sources["yield_strength"] == "the bar file" != steel.sources["tensile_strength"]


def test_typical_values_warn_until_they_are_overridden() -> None:
    bar = {"grade": "5160", "condition": "QT 425 C"}
    assert any("not a guaranteed minimum" in line for line in load_steel(bar)[1])
    measured = {**bar, "yield_strength": 1400.0, "tensile_strength": 1550.0}
    assert load_steel(measured)[1] == []


def test_custom_takes_five_numbers_and_says_so() -> None:
    steel, warnings, assumptions = load_steel(CUSTOM)
    assert (steel.grade, steel.tensile_strength_MPa, steel.E_MPa) == ("custom", 1300.0, 206_000.0)
    assert set(steel.sources.values()) == {"the bar file"}
    assert warnings == [] and any("custom" in line for line in assumptions)


def test_a_table_beside_the_bar_file_or_at_a_path_is_the_users_own(tmp_path: Path) -> None:
    text = known_tables()["51CrV4"].read_text(encoding="utf-8").replace("value = 1200", "value = 1234")
    (tmp_path / "my-steel.toml").write_text(text, encoding="utf-8")
    (tmp_path / "51CrV4.toml").write_text(text, encoding="utf-8")
    for grade in ("my-steel", "my-steel.toml", "./my-steel.toml", str(tmp_path / "my-steel.toml"), "51CrV4"):
        steel, _, assumptions = load_steel({**PLAIN, "grade": grade}, bar_dir=tmp_path)
        assert steel.yield_strength_MPa == 1234.0
        assert any("user's own" in line for line in assumptions)


def test_a_bar_file_with_a_steels_name_is_not_taken_for_a_table(tmp_path: Path) -> None:
    (tmp_path / "51CrV4.toml").write_text('format = 1\nname = "front bar"\n', encoding="utf-8")
    assert load_steel(PLAIN, bar_dir=tmp_path)[0].yield_strength_MPa == 1200.0


def test_a_broken_table_beside_the_bar_file_is_named(tmp_path: Path) -> None:
    shutil.copy(known_tables()["51CrV4"], tmp_path / "mine.toml")
    broken = (tmp_path / "mine.toml").read_text(encoding="utf-8").replace("format = 1", "format = 7")
    (tmp_path / "mine.toml").write_text(broken, encoding="utf-8")
    with pytest.raises(InputError, match=r"mine\.toml"):
        load_steel({**PLAIN, "grade": "mine"}, bar_dir=tmp_path)


TUBE: dict[str, Any] = {"grade": "34MnB5", "bent": "before-hardening"}


def test_a_tube_has_a_bore() -> None:
    steel, _, assumptions = load_steel(TUBE, tube=True)
    # A tube hardened after bending scales inside too, unless the file says otherwise.
    assert steel.bore_surface == ("as-hardened-scaled" if TUBE["bent"] == "before-hardening" else "as-drawn")
    assert any("bore" in line and "scales inside" in line for line in assumptions)
    steel, _, _ = load_steel({**TUBE, "bore_surface": "as-drawn"}, tube=True)
    assert steel.bore_surface == "as-drawn"
    assert load_steel({**TUBE, "bent": "after-hardening"}, tube=True)[0].bore_surface == "as-drawn"


def test_cold_bending_is_said_and_not_relieved_by_default() -> None:
    bar = {**PLAIN, "bent": "after-hardening"}
    steel, warnings, assumptions = load_steel(bar)
    assert (steel.bent, steel.stress_relieved) == ("after-hardening", False)
    assert any("tensile residual stress" in line for line in warnings)
    assert any("not stress-relieved" in line for line in assumptions)
    steel, warnings, _ = load_steel({**bar, "stress_relieved": True})
    assert steel.stress_relieved is True and warnings == []


def test_a_tubes_condition_on_a_bar_warns() -> None:
    bar = {"grade": "E355", "condition": "+SR"}
    assert any("condition of a tube" in line for line in load_steel(bar)[1])
    cold = {**bar, "bent": "after-hardening", "stress_relieved": True}
    assert not any("condition of a tube" in line for line in load_steel(cold, tube=True)[1])


@pytest.mark.parametrize(
    ("table", "tube", "where", "words"),
    [
        ({**PLAIN, "grade": "51CrV"}, False, "grade", ['"51CrV4"', "55Cr3", "custom"]),
        ({**PLAIN, "grade": "nowhere/mine.toml"}, False, "", ["nowhere/mine.toml", "no such"]),
        ({**PLAIN, "condition": "QT EN 10098"}, False, "condition", ['"QT EN 10089"']),
        ({"grade": "51CrV4"}, False, "condition", ["several conditions", "QT EN 10083-3 up to 16 mm"]),
        ({**PLAIN, "surface": "pollished"}, False, "surface", ['"polished"', "hot-rolled"]),
        ({**PLAIN, "bore_surface": "as-drawn"}, False, "bore_surface", ["no bore"]),
        ({**TUBE, "bore_surface": "shot-peened"}, True, "bore_surface", ["does not reach the bore"]),
        ({**TUBE, "bore_surface": "as-drwn"}, True, "bore_surface", ['"as-drawn"']),
        ({"grade": "34MnB5"}, True, "bent", ["before-hardening or after-hardening"]),
        ({**PLAIN, "bent": "cold"}, False, "bent", ["before-hardening or after-hardening"]),
        ({**PLAIN, "stress_relieved": "yes"}, False, "stress_relieved", ["true nor false"]),
        ({**PLAIN, "E": 206.0}, False, "E", ["206", "150000 to 250000 MPa"]),
        ({**PLAIN, "nu": 0.5}, False, "nu", ["0.2 to 0.4"]),
        ({**PLAIN, "density": 7.85}, False, "density", ["7000 to 8500 kg/m3"]),
        ({**PLAIN, "yield_strength": -1.0}, False, "yield_strength", ["100 to 3000 MPa"]),
        ({**PLAIN, "yield_strength": 1400.0}, False, "yield_strength", ["above tensile strength 1350"]),
        ({**PLAIN, "tensile_strength": float("nan")}, False, "tensile_strength", ["nan"]),
        ({**CUSTOM, "condition": "QT"}, False, "condition", ["takes no condition"]),
        ({"grade": "custom", "E": 206e3}, False, "", ["nu, density, yield_strength, tensile_strength"]),
    ],
)
def test_what_cannot_be_right_is_refused(table: dict[str, Any], tube: bool, where: str, words: list[str]) -> None:
    with pytest.raises(InputError) as error:
        load_steel(table, tube=tube)
    text = str(error.value)
    assert where in (error.value.where or "")
    for word in words:
        assert word in text


@pytest.mark.parametrize(
    ("condition", "body", "told"),
    [
        ("up to 16 mm", {"size_mm": 16.0}, False),
        ("up to 16 mm", {"size_mm": 22.0}, True),
        ("16 to 40 mm", {"size_mm": 22.0}, False),
        ("16 to 40 mm", {"size_mm": 45.0}, True),
        ("up to 16 mm", {"size_mm": 8.0, "tube": True}, False),
    ],
)
def test_a_condition_is_that_of_its_thickness(condition: str, body: dict[str, Any], told: bool) -> None:
    """EN 10083-3 states 42CrMo4 by size: 900 MPa of yield up to 16 mm, 750 to 40: thicker hardens less inside."""
    table = {"grade": "42CrMo4", "condition": f"QT EN 10083-3 {condition}", "bent": "before-hardening"}
    _, warnings, _ = load_steel(table, **body)
    assert [text for text in warnings if "hardens less" in text] == [text for text in warnings if told]
    _, warnings, _ = load_steel(table | {"hardness": "33 HRC"}, **body)
    assert not any("hardens less" in text for text in warnings)
