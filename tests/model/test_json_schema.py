"""`barfem schema`: what it takes and refuses is what the reader does, as far as one key or one table can say."""

from __future__ import annotations

import datetime
import json
import tomllib
from collections.abc import Iterator
from copy import deepcopy
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from barfem.cli.main import main
from barfem.model.data_paths import demo_bars
from barfem.model.errors import InputError
from barfem.model.json_schema import bar_file_schema
from barfem.model.read import bar_from_dict
from barfem.model.schema import BarFile
from barfem.model.surfaces import SURFACE_NAMES
from tests.model.bar_data import DELETE, FLAT, changed

ROOT = Path(__file__).parents[2]
SOLID = ROOT / "geometries" / "pickup-front-solid.toml"


@pytest.fixture(scope="module")
def validator():
    schema = bar_file_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    # A date of TOML is text to JSON Schema, as editors hand it over.
    types = jsonschema.Draft202012Validator.TYPE_CHECKER.redefine(
        "string", lambda _, value: isinstance(value, str | datetime.date)
    )
    return jsonschema.validators.extend(jsonschema.Draft202012Validator, type_checker=types)(schema)


def test_every_demo_bar_is_valid(validator):
    demos = [tomllib.loads(path.read_text(encoding="utf-8")) for path in demo_bars()]
    assert len(demos) >= 6
    for data in demos:
        validator.validate(data)


def keys(schema: Any, path: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    """Every key of every table, of those inside a key too, with what the schema says of it."""
    if isinstance(schema, list):
        for item in schema:
            yield from keys(item, path)
    if isinstance(schema, dict):
        for name, key in schema.get("properties", {}).items() if schema.get("type") == "object" else ():
            yield f"{path}.{name}", key
        for name, item in schema.items():
            yield from keys(item, path if name in ("anyOf", "properties", "$defs") else f"{path}.{name}")


def test_every_key_is_described_and_none_may_be_null(validator):
    found = dict(keys(validator.schema))
    assert len(found) > 90
    assert [name for name, key in found.items() if not key.get("description")] == []
    text = json.dumps(validator.schema)
    assert '"null"' not in text and "in mm" in text
    assert set(validator.schema["properties"]) == set(BarFile.model_fields)


# What is broken, the key of the demo bar's data, and what stands there.
BROKEN = {
    "an unknown key": (("section", "diametre"), 20.0),
    "a diameter below zero": (("section", "diameter"), -20.0),
    "text without a unit": (("section", "diameter"), "20"),
    "a decimal comma": (("section", "diameter"), "20,5 mm"),
    "a shape that is none": (("section", "shape"), "square"),
    "true for a number": (("section", "diameter"), True),
    "one mount": (("mounts",), [{"from_middle": 0.0, "radial_stiffness": 5000.0, "axial_stiffness": 1.0}]),
    "a direction of two": (("travel", "direction"), [0, 1]),
    "a hole without its place": (("ends", "holes"), [{"name": "1"}]),
    "an empty name": (("name",), " "),
    "another format": (("format",), 2),
    "a table for a list": (("ends", "holes"), {"name": "1"}),
    "two centrelines": (("arms",), {"width": 1000.0, "length": 250.0, "bend_radius": 50.0}),
    "a band that is a switch": (("tolerances",), {"diameter": True}),
    "a band of three": (("tolerances",), {"bend_angle": [0, 1, 2]}),
    "a negative stiffness": (("links", "axial_stiffness"), -1.0),
    "a finish that is none": (("material", "surface"), "Ground"),  # names are written small
    "peening that is neither": (("material", "peening"), "yes"),
    "a bore peened from outside": (("material", "bore_surface"), "shot-peened"),
    "a survival of no share": (("targets",), {"survival": 0.0}),
}


def broken(where: tuple[str, ...], value: Any) -> dict[str, Any]:
    data = tomllib.loads(SOLID.read_text(encoding="utf-8"))
    place = data
    for key in where[:-1]:
        place = place.setdefault(key, {})
    place[where[-1]] = value
    return data


@pytest.mark.parametrize("finish", [*SURFACE_NAMES, " ground "])
def test_every_finish_that_the_reader_takes_is_in_the_schema(validator, finish):
    data = broken(("material", "surface"), finish)
    bar_from_dict(deepcopy(data))
    validator.validate(data)
    assert "ground" in validator.schema["$defs"]["MaterialTable"]["properties"]["surface"]["examples"]


@pytest.mark.parametrize("what", BROKEN)
def test_what_the_schema_refuses_the_reader_refuses_too(validator, what):
    data = broken(*BROKEN[what])
    assert not validator.is_valid(data)
    with pytest.raises(InputError):
        bar_from_dict(deepcopy(data))


@pytest.mark.parametrize("table", ["material", "section", "ends", "mounts", "links", "travel", "centreline"])
def test_a_table_that_is_missing_is_missed(validator, table):
    data = tomllib.loads(SOLID.read_text(encoding="utf-8"))
    data = {key: value for key, value in data.items() if key != (table if table in data else "arms")}
    assert not validator.is_valid(data)


WALLS = {"outside": 3.5, "inside": 4.6}


@pytest.mark.parametrize(
    ("where", "value"),
    [
        (("section", "diameter"), "0.75 in"), (("section", "diameter"), "15/16 in"),
        (("links", "axial_stiffness"), "85 kip/in"),
        (("centreline", "bend_radius"), "2 in"), (("travel", "one_wheel"), "1.5 cm"),
        (("tolerances",), {"diameter": "h9"}),
        (("tolerances",), {"mount_stiffness": "15 %"}), (("tolerances",), {"mount_stiffness": ["-5 %", "10 %"]}),
        (("tolerances",), {"bend_angle": {"band": 0.5, "distribution": "uniform"}}),
        (("section",), {"shape": "tube", "diameter": 24, "wall": 4, "bend_walls": WALLS}),
        (("section",), {"shape": "tube", "diameter": 24, "wall": 4, "bend_walls": [WALLS, WALLS]}),
    ],
)  # fmt: skip
def test_units_and_bands_are_taken_by_both(validator, where, value):
    data = broken(where, value)
    if where[0] == "centreline":
        data["centreline"] = {
            "points": [[-250, -500, 0], [0, -500, 0], [0, 500, 0], [-250, 500, 0]],
            "bend_radius": value,
        }
        data.pop("arms", None)
    validator.validate(data)
    bar_from_dict(data)


@pytest.mark.parametrize("text", ["24000 \u00b5m", "24000 \u03bcm", "24000um"])
def test_either_mu_is_micro_to_both(validator, text):
    """MICRO SIGN and GREEK SMALL LETTER MU look alike, and keyboards have either."""
    data = broken(("travel", "pickup"), text)
    validator.validate(data)
    assert bar_from_dict(data).travel.up_mm == pytest.approx(24.0)


TUBE = {"shape": "tube", "diameter": 24.0, "wall": 4.0}

# The key, its least and its greatest value, and the values just beyond them. None: no limit on that side.
RANGES = {
    "section.diameter": (None, None, 1.99, 200.1), "section.ovality": (0, 15, -0.1, 15.1),
    "ends.strength_scale": (0.1, 1.5, 0.099, 1.51), "ends.left.strength_scale": (0.1, 1.5, 0.099, 1.51),
    "ends.holes.0.diameter": (1, None, 0.99, None), "ends.flat.thickness": (1, None, 0.99, None),
    "mounts.0.contact_factor": (1, None, 0.99, None), "duty.target_cycles": (1, None, 0.9, None),
    "duty.ratio": (-1, 0.99, -1.01, 1), "duty.blocks.0.ratio": (-1, 0.99, -1.01, 1),
    "targets.survival": (0.1, 0.999999, 0, 1), "material.E": (150e3, 250e3, 149e3, 251e3),
    "material.nu": (0.2, 0.4, 0.19, 0.41), "material.density": (7000, 8500, 6999, 8501),
    "material.yield_strength": (100, None, 99, 3001), "material.tensile_strength": (None, 3500, 199, 3501),
    "material.decarburised_depth": (0, 1, -0.01, 1.01), "material.peening.residual": (-2000, 0, -2001, 1),
    "material.peening.depth": (0.02, 1, 0.019, 1.01), "material.peening.coverage": (1, 2000, 0.9, 2001),
    "collars.0.factor": (1, None, 0.99, None),
}  # fmt: skip


def with_value(key: str, value: Any) -> dict[str, Any]:
    base = changed(
        ("section", TUBE), ("material.bent", "before-hardening"), ("ends.flat", FLAT), ("material.peening", {}),
        ("ends.left", {}), ("duty", {"blocks": [{"pickup": 20.0, "cycles": 100}]}),
        ("collars", [{"from_middle": 300.0, "length": 8.0, "kind": "pressed"}]), ("centreline.bend_radius", 101.0),
    )  # fmt: skip
    return changed((key, value), base=base)


@pytest.mark.parametrize("key", RANGES)
def test_ranges_are_those_of_the_reader(validator, key):
    least, greatest, below, above = RANGES[key]
    for value in (least, greatest):
        if value is not None:
            validator.validate(with_value(key, value))
            bar_from_dict(with_value(key, value))
    for value in (below, above):
        if value is not None:
            assert not validator.is_valid(with_value(key, value))
            with pytest.raises(InputError, match=key.split(".")[-1]):
                bar_from_dict(with_value(key, value))


HANGING, PICKUP = {"length": 200, "direction": [0, 0, -1]}, [-240, 500, -200]


@pytest.mark.parametrize(
    ("changes", "right"),
    [
        ((("mounts.0.y", -380.0),), False), ((("mounts.0.from_middle", DELETE),), False),
        ((("mounts.0.from_middle", DELETE), ("mounts.0.y", -380.0)), True),
        ((("travel.pickup", DELETE),), False), ((("travel.wheel", 60.0),), False),
        ((("travel", {"wheel": 60.0}),), False), ((("travel", {"wheel": 60.0, "motion_ratio": 0.5}),), True),
        ((("travel", {"up": 30.0}),), False), ((("travel", {"up": 30.0, "down": 20.0}),), True),
        ((("travel", {"up": 30.0, "pickup": 20.0}),), True), ((("section.wall", 4.0),), False),
        ((("section.ovality", 1.0),), False), ((("section.shape", "tube"),), False),
        ((("section", TUBE), ("material.bent", "before-hardening")), True),
        ((("section", {**TUBE, "bend_wall": "uniform", "bend_walls": WALLS}),), False),
        ((("section", {**TUBE, "bend_walls": []}), ("material.bent", "before-hardening")), False),
        ((("duty", {"blocks": []}),), False),
        ((("links", {**HANGING, "pickup": PICKUP}),), False), ((("links", {"pickup": PICKUP}),), True),
        ((("links", {"length": 200, "pickup": PICKUP}),), False), ((("links", HANGING),), True),
        ((("links", {**HANGING, "left": {"pickup": PICKUP}}),), True),
        ((("links", {**HANGING, "left": {"pickup": PICKUP, "length": 90}}),), False),
    ],
)  # fmt: skip
def test_keys_of_a_table_that_need_or_exclude_each_other(validator, changes, right):
    data = changed(*changes)
    assert validator.is_valid(data) is right
    if right:
        bar_from_dict(data)
    else:
        with pytest.raises(InputError):
            bar_from_dict(data)


def test_the_command_prints_and_writes_it(capsys, tmp_path):
    assert main(["schema"]) == 0
    printed = capsys.readouterr().out
    assert json.loads(printed) == bar_file_schema()
    target = tmp_path / "bar.schema.json"
    assert main(["schema", "--out", str(target)]) == 0
    assert target.read_text(encoding="utf-8") == printed
    assert main(["schema", "--out", str(tmp_path)]) == 2


def test_a_new_bar_names_its_schema_and_is_valid(validator, tmp_path):
    target = tmp_path / "bar.toml"
    assert main(["new", str(target), "--yes"]) == 0
    text = target.read_text(encoding="utf-8")
    assert text.startswith("#:schema ./bar.schema.json\n")
    validator.validate(tomllib.loads(text))
