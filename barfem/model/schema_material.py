"""[material]: steel, condition, and what the bar went through; and what is known of its peening."""

from typing import Any, Literal

from pydantic import Field, StrictBool, field_validator

from barfem.model.schema_table import Table
from barfem.model.schema_types import (
    Density,
    PoissonsRatio,
    PositiveLength,
    PositivePercent,
    ResidualStress,
    SkinDepth,
    Stress,
    Text,
    YoungsModulus,
    refusal,
)

__all__ = ["MaterialTable", "PeeningTable", "text_or_table"]


def text_or_table(schema: dict[str, Any]) -> None:
    """In JSON Schema: one word alone, or the whole table."""
    table = {key: schema.pop(key) for key in ("$ref", "allOf") if key in schema}
    schema.pop("default", None)
    schema["anyOf"] = [{"type": "string"}, table]


class PeeningTable(Table):
    """What is known of the peening; `read_peening` says how far each number can go."""

    kind: Literal["none", "shot"] = Field(default="shot", description="none or shot")
    residual: ResidualStress | None = Field(
        default=None, description="MPa at the surface, negative in compression; default -500"
    )
    depth: PositiveLength | None = Field(default=None, description="mm to where compression ends; default 0.3")
    coverage: PositivePercent | None = Field(default=None, description="%, below 98 peening earns nothing")


class MaterialTable(Table):
    grade: Text = Field(description='grade = "51CrV4" (a table in materials/, a path to your own, or "custom")')
    condition: Text | None = Field(
        default=None, description="one heat-treated condition of that table, such as QT EN 10089"
    )
    surface: Text | None = Field(
        default=None,
        description="finish of the skin, which decides life more than anything else; default as-hardened-scaled",
    )
    peening: PeeningTable = Field(
        default=PeeningTable(),
        description='"none" or "shot", a treatment on top of any finish; or what is known of it: '
        "{ kind, residual (MPa, negative), depth (mm to zero), coverage (%) }",
        json_schema_extra=text_or_table,
    )
    bent: Literal["before-hardening", "after-hardening"] | None = Field(
        default=None,
        description="bent before hardening, or after it (cold), which leaves tension at the inside of a bend",
    )
    stress_relieved: StrictBool | None = Field(
        default=None, description="whether the bar was stress-relieved after cold bending"
    )
    bore_surface: Text | None = Field(
        default=None, description="tubes: finish of the bore, which outside peening does not reach"
    )
    E: YoungsModulus | None = Field(default=None, description="Young's modulus (MPa) instead of the table's")
    nu: PoissonsRatio | None = Field(default=None, description="Poisson's ratio instead of the table's")
    density: Density | None = Field(default=None, description="kg/m3, instead of the table's")
    yield_strength: Stress | None = Field(default=None, description="MPa, instead of the table's")
    tensile_strength: Stress | None = Field(default=None, description="MPa, instead of the table's")
    hardness: Text | None = Field(
        default=None,
        description="hardness of a certificate with its scale, such as 45 HRC, instead of tensile_strength",
    )
    decarburised_depth: SkinDepth | None = Field(
        default=None, description="mm, 0 to 1; in place of what the finish is taken to hold"
    )
    plating: Literal["none", "zinc", "chromium", "nickel", "cadmium"] | None = Field(
        default=None, description="plating on the skin; zinc, nickel, chromium and cadmium warn of hydrogen"
    )
    preset: StrictBool | None = Field(default=None, description="overloaded on purpose before use")

    @field_validator("hardness", mode="before")
    @classmethod
    def _with_its_scale(cls, value: Any) -> Any:
        if isinstance(value, int | float) and not isinstance(value, bool):
            shown = f"{value:g}" if abs(value) < 1e9 else "the number"
            raise refusal(f"{shown} does not say its scale.", 'text with the scale, such as "45 HRC" or "430 HBW".')
        return value

    @field_validator("peening", mode="before")
    @classmethod
    def _kind_alone(cls, value: Any) -> Any:
        return value if isinstance(value, dict | PeeningTable) else {"kind": value}
