"""The bar file's tables as JSON Schema (draft 2020-12), made from the same models that read it.

It holds what can be said of one key or one table: names, kinds, ranges of plain numbers, text with units, what is
required, and which keys of a table go together. What depends on numbers together (a wall beyond the diameter, a hole
beyond the flat) only the reader judges: a file that the schema refuses is always refused, one that it takes may still
be.
"""

from __future__ import annotations

from typing import Any

from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue

from barfem.model.plausible import STEEL_UNITS, range_of
from barfem.model.schema import BarFile
from barfem.model.surfaces import SURFACE_NAMES, SURFACES
from barfem.model.survival import MOST_SURVIVAL

__all__ = ["bar_file_schema"]


# Ranges that the reader holds plain numbers to once it knows what they are of; the tests hold both against each other.
_RANGES: dict[str, dict[str, dict[str, float]]] = {
    "MaterialTable": {
        **{key: dict(zip(("minimum", "maximum"), range_of(key), strict=True)) for key in STEEL_UNITS},
        "decarburised_depth": {"maximum": 1.0},
    },
    "PeeningTable": {
        "residual": {"minimum": -2000.0, "maximum": 0.0},
        "depth": {"minimum": 0.02, "maximum": 1.0},
        "coverage": {"minimum": 1.0, "maximum": 2000.0},
    },
    "SectionTable": {"diameter": {"minimum": 2.0, "maximum": 200.0}, "ovality": {"maximum": 15.0}},
    "HoleTable": {"diameter": {"minimum": 1.0}},
    "FlatTable": {"thickness": {"minimum": 1.0}},
    "EndTable": {"strength_scale": {"minimum": 0.1, "maximum": 1.5}},
    "EndsTable": {"strength_scale": {"minimum": 0.1, "maximum": 1.5}},
    "MountTable": {"contact_factor": {"minimum": 1.0}},
    "CollarTable": {"factor": {"minimum": 1.0}},
    "DutyTable": {"target_cycles": {"minimum": 1.0}, "ratio": {"minimum": -1.0, "exclusiveMaximum": 1.0}},
    "BlockTable": {"ratio": {"minimum": -1.0, "exclusiveMaximum": 1.0}},
    "TargetsTable": {"survival": {"maximum": MOST_SURVIVAL}},
}

# Text that is one of these names; the reader takes space around it.
_FINISHES = {"surface": SURFACE_NAMES, "bore_surface": tuple(SURFACES)}

_ONE_LINK = {"not": {"required": ["pickup"], "anyOf": [{"required": ["length"]}, {"required": ["direction"]}]}}

# Which keys of one table need or exclude each other.
_TOGETHER: dict[str, dict[str, Any]] = {
    "MountTable": {"oneOf": [{"required": ["from_middle"]}, {"required": ["y"]}]},
    "LinkTable": _ONE_LINK,
    "LinksTable": _ONE_LINK,
    "TravelTable": {
        "anyOf": [{"required": ["pickup"]}, {"required": ["wheel"]}, {"required": ["up", "down"]}],
        "not": {"required": ["pickup", "wheel"]},
        "dependentRequired": {"wheel": ["motion_ratio"]},
    },
    "SectionTable": {
        "if": {"properties": {"shape": {"const": "tube"}}},
        "then": {"required": ["wall"], "not": {"required": ["bend_wall", "bend_walls"]}},
        "else": {"properties": dict.fromkeys(("wall", "bend_wall", "bend_walls", "ovality"), False)},
    },
}


class _AsInToml(GenerateJsonSchema):
    """A key that may be left out: TOML has no null, and a default that only says "not given" is none."""

    def nullable_schema(self, schema: Any) -> JsonSchemaValue:
        return self.generate_inner(schema["schema"])

    def default_schema(self, schema: Any) -> JsonSchemaValue:
        made = super().default_schema(schema)
        if not isinstance(made.get("default"), int | float | str):
            made.pop("default", None)
        return made


def bar_file_schema() -> dict[str, Any]:
    """JSON Schema of a bar file: every key with its description, and text with a unit wherever a number may stand."""
    schema = BarFile.model_json_schema(schema_generator=_AsInToml)
    schema["title"] = "barfem bar file"
    schema["description"] = "An anti-roll bar: lengths mm, forces N, stresses MPa, angles deg, or text with its unit."
    schema["oneOf"] = [{"required": [name]} for name in ("centreline", "arms", "bends")]
    for name, table in schema["$defs"].items():
        table.pop("description", None)  # a class's docstring speaks to contributors
        for key, limits in _RANGES.get(name, {}).items():
            plain = table["properties"][key]["anyOf"][0]
            plain |= limits
            if "minimum" in limits:
                plain.pop("exclusiveMinimum", None)
        table |= _TOGETHER.get(name, {})
    material, peening = (schema["$defs"][name]["properties"] for name in ("MaterialTable", "PeeningTable"))
    for key, names in _FINISHES.items():
        material[key] |= {"pattern": rf"^\s*({'|'.join(names)})\s*$", "examples": list(names)}
    material["peening"]["anyOf"][0]["enum"] = peening["kind"]["enum"]
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}
