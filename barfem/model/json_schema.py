"""The bar file's tables as JSON Schema (draft 2020-12), made from the same models that read it.

It holds what can be said of one key or one table: names, kinds, ranges of plain numbers, text with units, what is
required. What keys mean together (a wall beyond the diameter, a hole beyond the flat) only the reader judges: a file
that the schema refuses is always refused, one that it takes may still be.
"""

from __future__ import annotations

from typing import Any

from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue

from barfem.model.schema import BarFile

__all__ = ["bar_file_schema"]


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
    for table in schema["$defs"].values():
        table.pop("description", None)  # a class's docstring speaks to contributors
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}
