"""What a bar file and a material table may hold, and how they are read: units, names, sizes, damaged files."""

from __future__ import annotations

import datetime
import os
import threading

import pint
import pytest

from barfem.cli.main import main
from barfem.cli.values import number as argument
from barfem.model.errors import InputError
from barfem.model.material_table import read_table
from barfem.model.names import unprintable
from barfem.model.plain_units import plain_factor
from barfem.model.read import bar_from_dict, read_bar
from barfem.model.toml_file import LARGEST_BYTES
from barfem.model.units import LARGEST, UNITS, number
from barfem.study import change as studied
from tests.model.bar_data import changed

PLAIN = ["mm", "cm", "m", "in", "inch", "ft", "N/mm", "kN/mm", "N/m", "lbf/in", "lbf/ft", "N*mm/rad", "N*m/deg", "MPa",
         "GPa", "psi", "ksi", "N/mm**2", "rad", "deg", "kg/m**3", "g/cm^3", "lb/in**3", "lbf*in/deg",
         "N.m/rad"]  # fmt: skip


@pytest.mark.parametrize("unit", PLAIN)
def test_units_converted_here_are_those_of_a_units_library(unit):
    """Against pint's registry (NIST and ISO 80000 definitions), to the last digits of a float."""
    registry = pint.get_application_registry()
    given = registry.parse_units(unit.replace(".", "*"))
    base = next(b for b in UNITS.values() if b and plain_factor(unit, b) is not None)
    assert plain_factor(unit, base) == pytest.approx(float(registry.Quantity(1.0, given).to(base).magnitude), rel=1e-14)


def test_units_that_pint_alone_knows_still_work():
    assert number("2.5 thou", "length") == pytest.approx(0.0635)
    assert number("1 kgf/mm", "force per length") == pytest.approx(9.80665)


@pytest.mark.parametrize("text", ["1 1/16 in", "1-1/16 in", " 1  1/16in"])
def test_a_mixed_fraction_is_refused_with_the_one_fraction_that_it_is(text):
    """As drawings in inches have it. 1 1/16 = (16 + 1) / 16; "does not end in a unit" sent people after the unit."""
    with pytest.raises(InputError) as found:
        number(text, "length")
    assert found.value.problem == f'"{text}" is a mixed fraction.'
    assert found.value.expected.startswith('one fraction, "17/16 in", or ')
    assert number("17/16 in", "length") == pytest.approx(1.0625 * 25.4)


def test_a_unit_of_something_else_is_refused_by_what_the_number_is():
    with pytest.raises(InputError, match=r'"2 mm" is not an angle\.'):
        number("2 mm", "angle")


@pytest.mark.parametrize(
    ("value", "words"), [(datetime.date(2026, 1, 2), "2026-01-02"), ({"a": 1}, "a table"), ([3.0], r"\[3\.0\]")]
)
def test_what_stands_for_a_number_is_told_as_the_file_has_it(value, words):
    with pytest.raises(InputError, match=f"^{words} is not a number"):
        number(value, "length")


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        (("revision", datetime.date(2026, 1, 2)), '2026-01-02 is not text. Right would be: text in quotes, such as "'),
        (("revision", True), 'true is not text. Right would be: text in quotes, such as "true".'),
        (("name", {"a": 1}), "a table is not text. Right would be: text in quotes."),
        (("section.shape", False), "false is not one of the values known here"),
        (("section", datetime.time(7, 30)), "07:30:00 stands where a table is needed"),
        (("centreline.points", True), "true is not a list"),
        (("format", True), "format = true is not known"),
    ],
)  # fmt: skip
def test_what_stands_for_text_a_list_or_a_table_is_told_as_the_file_has_it(changes, words):
    """A date without quotes is TOML's own: as revision it is the commonest."""
    with pytest.raises(InputError) as found:
        bar_from_dict(changed(changes))
    assert words in str(found.value)


@pytest.mark.parametrize(("kind", "value"), [("speed", 5000), ("distance", 1e8), ("length", 12200)])
def test_a_number_beyond_anything_it_can_be_is_refused_with_the_limit(kind, value):
    with pytest.raises(InputError, match="far out of range") as found:
        number(value, kind)
    assert f"at most {LARGEST[kind]:g}" in str(found.value)


@pytest.mark.parametrize(
    "text",
    ["22 mm**(9**9**9)", "22 mm**99", "22 mm**-12", "22 (mm)", "22 mm+mm", "22 __import__('os')", "22 mm;mm", "22 mm!",
     "22 " + "m*" * 4000 + "m", "22 mm**9**9"],
)  # fmt: skip
def test_a_unit_is_letters_one_digit_powers_and_joints_and_is_refused_at_once(text):
    with pytest.raises(InputError) as found:
        number(text, "length")
    assert "unit" in str(found.value)


@pytest.mark.parametrize(
    "name", ["a\u202eb", "a\u200bb", "\u2066x\u2069", "a\ufeffb", "soft\u00adhyphen", "line\nbreak"]
)
def test_names_that_do_not_look_like_what_they_are_are_refused(name):
    assert unprintable(name) is not None
    with pytest.raises(InputError, match=r"name"):
        bar_from_dict(changed(("name", name)))
    with pytest.raises(InputError, match=r"holes 1"):
        bar_from_dict(changed(("ends.holes.0.name", name)))


def test_names_in_other_scripts_are_names():
    assert unprintable("Stabilisator Größe 2, 前") is None


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ((("ends.flat", {"kind": "forged", "thickness": 12.0, "width": 40.0, "length": 95.0, "transition": 5e-324,
                         "normal": [0, 1, 0]}),), ("transition", "0.1 mm")),
        ((("material.hardness", "9" * 400 + " HRC"),), ("hardness",)),
        ((("material.hardness", 10**400),), ("hardness", "scale")),
        ((("material.grade", "x" * 100_000),), ("grade", "400 characters")),
        ((("ends.strength_scale", 1e-300),), ("strength_scale", "softer")),
        ((("centreline.points", [[0, -20_000, 0], [0, 20_000, 0]]),), ("point 1", "points")),
        ((("centreline.points", [[0, y, 0] for y in range(-500, 500, 5)]),), ("points", "200 entries", "66")),
        ((("ends.holes", [{"name": str(i), "from_tip": 5.0 * i} for i in range(30)]),), ("holes", "30", "at most 24")),
        ((("mounts", [{"from_middle": 10.0 * i, "radial_stiffness": 1.0} for i in range(17)]),), ("at most 16",)),
        ((("duty", {"blocks": [{"pickup": 1.0, "cycles": 10.0}] * 501}),), ("blocks", "at most 500")),
    ],
)  # fmt: skip
def test_what_no_bar_has_is_refused_with_its_place_and_what_would_be_right(change, words):
    with pytest.raises(InputError) as found:
        bar_from_dict(changed(*change))
    for word in words:
        assert word in str(found.value)


BROKEN = {
    "not UTF-8": (b"format = 1\n\xff\xfe", "line 2"),
    "empty": (b"  \n", "empty"),
    "cut": (b"format = 1\n[section", "not TOML"),
    "too large": (b"# " + b"x" * LARGEST_BYTES, "larger than 1 MB"),
    "too deep": (b"a = " + b"[" * 40 + b"]" * 40, "deep"),
    "far too deep": (b"a = " + b"[" * 5000 + b"]" * 5000, "deep"),
    "a control character": (b'name = "a\x07b"\n', "not TOML"),
    "a number of 5000 digits": (b"x = " + b"9" * 5000, "digits"),
}


@pytest.mark.parametrize("reader", [read_bar, read_table], ids=["bar file", "material table"])
@pytest.mark.parametrize("kind", BROKEN)
def test_bar_files_and_material_tables_are_refused_alike(kind, reader, tmp_path):
    content, word = BROKEN[kind]
    path = tmp_path / "file.toml"
    path.write_bytes(content)
    with pytest.raises(InputError) as found:
        reader(path)
    assert word in str(found.value) and str(path) in str(found.value)


@pytest.mark.parametrize("reader", [read_bar, read_table], ids=["bar file", "material table"])
def test_folders_devices_and_impossible_names_are_refused(reader, tmp_path):
    for path in (tmp_path, tmp_path / "none.toml", tmp_path / ("x" * 400 + ".toml")):
        with pytest.raises(InputError):
            reader(path)
    if os.path.exists("/dev/zero"):
        from pathlib import Path

        with pytest.raises(InputError, match="device"):
            reader(Path("/dev/zero"))


def test_a_table_with_a_byte_order_mark_and_windows_line_ends_is_read(tmp_path):
    from barfem.model.material_table import known_tables

    text = known_tables()["51CrV4"].read_text(encoding="utf-8")
    path = tmp_path / "own.toml"
    path.write_bytes(b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode("utf-8"))
    assert read_table(path).grade == "51CrV4"


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_a_pipe_is_read_once_and_hashed(tmp_path):
    import hashlib
    from pathlib import Path

    from barfem.check.api import check_bar

    content = Path("geometries/pickup-front-solid.toml").read_bytes()
    pipe = tmp_path / "bar.toml"
    os.mkfifo(pipe)
    writer = threading.Thread(target=lambda: pipe.write_bytes(content))
    writer.start()
    result = check_bar(pipe)
    writer.join()
    assert result.input_sha256 == hashlib.sha256(content).hexdigest()


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_a_steel_out_of_a_pipe_is_read_once_for_all_bars_that_are_made_of_one(tmp_path):
    """Advice makes other bars of a bar, each of which waited for the pipe for ever."""
    from barfem.model.material_table import known_tables

    pipe = tmp_path / "own.toml"
    os.mkfifo(pipe)
    writer = threading.Thread(target=lambda: pipe.write_bytes(known_tables()["51CrV4"].read_bytes()))
    writer.start()
    bar = bar_from_dict(changed(("material", {"grade": str(pipe), "condition": "QT EN 10089"})))
    writer.join()
    assert studied.change(bar, {"section.diameter": 25.0}).steel == bar.steel


def test_whole_numbers_too_long_to_print_are_refused_by_name(tmp_path):
    """In hexadecimal a number may have any length, and Python will not print one of more than 4300 digits."""
    huge = int("f" * 5000, 16)
    for change in (("format", huge), ("travel.direction", [huge, [1], 1]), ("section.diameter", -huge), ("name", huge)):
        with pytest.raises(InputError, match="thousand digits"):
            bar_from_dict(changed(change))
    path = tmp_path / "steel.toml"
    path.write_text("format = 0x" + "f" * 5000 + "\n", encoding="utf-8")
    with pytest.raises(InputError, match=r"steel.toml: format: .*thousand digits"):
        read_table(path)


def test_a_message_does_not_repeat_a_page_of_text():
    for change in (("travel.pickup", "x" * 5000), ("mounts.0", "x" * 5000), ("links.direction", "y" * 5000)):
        with pytest.raises(InputError) as found:
            bar_from_dict(changed(change))
        assert len(str(found.value)) < 600


@pytest.mark.parametrize("given", [3, 3.0, "3 %", "3%", " 3.0 % "])
def test_a_number_in_percent_is_the_same_with_its_sign(given):
    """A share is 0.03 with or without %; what is said in % is 3, and "3 %" is no hundredth of it."""
    tube = {"shape": "tube", "diameter": 24.0, "wall": 4.0, "ovality": given}
    peening = {"kind": "shot", "coverage": 150 if isinstance(given, int | float) else given.replace("3", "150", 1)}
    bar = bar_from_dict(
        changed(("section", tube), ("material.bent", "before-hardening"), ("material.peening", peening))
    )
    assert bar.section.ovality_percent == 3.0
    assert bar.steel.peening is not None and bar.steel.peening.coverage_percent == 150.0
    assert [text for text in bar.warnings if "coverage" in text] == []


@pytest.mark.parametrize("given", ["3 mm", "3", "0.03 dimensionless", "3 deg"])
def test_a_number_in_percent_has_no_other_unit(given):
    tube = {"shape": "tube", "diameter": 24.0, "wall": 4.0, "ovality": given}
    with pytest.raises(InputError, match=r'\[section\] ovality: .* Right would be: 3\.0 \(%\) or "3 %"'):
        bar_from_dict(changed(("section", tube), ("material.bent", "before-hardening")))


def test_an_option_in_percent_takes_its_sign_and_no_other_unit(capsys):
    assert argument("percent", above=0.0)("20 %") == argument("percent")("20") == 20.0
    assert main(["size", "bar.toml", "--rate-window", "20 mm"]) == 2
    assert '--rate-window: "20 mm" is not a number in %.' in " ".join(capsys.readouterr().err.split())
