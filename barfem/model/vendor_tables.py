"""The tables of a bar file that speak to the maker: [drawing], [bending], [inspection], [keep_out] and [review]."""

import datetime
from typing import Annotated, Any, Literal

from pydantic import (
    BeforeValidator,
    ConfigDict,
    Field,
    StrictBool,
    ValidationInfo,
    WithJsonSchema,
    field_validator,
    model_validator,
)

from barfem.model.errors import InputError
from barfem.model.hardness import parse_hardness
from barfem.model.review_rules import rules_with
from barfem.model.schema_table import Table
from barfem.model.schema_types import (
    NonNegativeLength,
    Point,
    PositiveAngle,
    PositiveLength,
    PositivePlain,
    Text,
    refusal,
)

__all__ = [
    "BendingTable",
    "BoxTable",
    "CylinderTable",
    "DrawingTable",
    "InspectionTable",
    "KeepOutTable",
    "ReviewTable",
    "SphereTable",
]

MOST_KEPT_OUT = 64


def _date(value: Any) -> str:
    """A date as ISO 8601 text; TOML has dates of its own."""
    if isinstance(value, datetime.date) and not isinstance(value, datetime.datetime):
        return value.isoformat()
    try:
        return datetime.date.fromisoformat(str(value)).isoformat()
    except ValueError:
        raise refusal(f"{value!r} is not a date.", "date = 2026-11-28 (year, month, day).") from None


def _hardness(value: Any) -> str:
    try:
        return parse_hardness(value).text
    except InputError as error:
        raise refusal(error.problem, error.expected or 'a window with its scale: "43-48 HRC".') from None


Date = Annotated[str, BeforeValidator(_date), WithJsonSchema({"type": "string", "format": "date"})]
Hardness = Annotated[str, BeforeValidator(_hardness), WithJsonSchema({"type": "string", "pattern": r"(HRC|HBW?|HV)"})]


class DrawingTable(Table):
    """Fields of the drawing. `number` and `revision` also stand as drawing = "..." and revision = "..." of the file."""

    number: Text | None = Field(default=None, description='number = "PF-001" (TOML has no drawing = "..." beside it)')
    revision: Text | None = Field(default=None, description="of the drawing, unless the file's own revision says it")
    title: Text | None = Field(default=None, description="title; default the bar's name")
    company: Text | None = Field(default=None, description="legal owner, for the title block")
    drawn_by: Text | None = Field(default=None, description="who made the drawing")
    approved_by: Text | None = Field(default=None, description="who approved it")
    date: Date | None = Field(default=None, description="date = 2026-11-28 (of issue; never today by itself)")
    projection: Literal["first", "third"] = Field(default="first", description="first or third angle projection")
    paper: Literal["auto", "A4", "A3", "A2", "A1"] = Field(default="auto", description="size of the sheet")
    general_tolerance: Literal["ISO 2768-1 m", "ISO 2768-1 c", "ISO 13920 A", "ISO 13920 B", "none"] | None = Field(
        default=None, description="of dimensions that say no tolerance of their own"
    )
    profile_tolerance: PositiveLength | None = Field(
        default=None, description="mm, total zone of the tangent points from datum A-B-C"
    )
    tip_mismatch: PositiveLength | None = Field(
        default=None, description="mm, greatest difference of left and right hole along the travel"
    )
    clocking_tolerance: PositiveAngle | None = Field(
        default=None, description="deg, of the hole axis about its end; default 1.0 (common practice, no source)"
    )
    hardness: Hardness | None = Field(default=None, description='window at the middle: "43-48 HRC"')
    ends: Hardness | None = Field(default=None, description="window at the ends, where it differs")
    peening: Text | None = Field(default=None, description='peening = "0.40-0.50 mm A, 200 %" (intensity, coverage)')
    coating: Text | None = Field(default=None, description="coating, with its pretreatment")
    marking: Text | None = Field(default=None, description="what is marked on the bar")
    mark_at: Literal["right", "left"] | None = Field(default=None, description="the end that carries the marking")
    datum_bend: Annotated[int, Field(ge=1, strict=True)] | None = Field(
        default=None,
        description="bend (from the right tip) from whose plane hole axes are clocked; default each end's own",
    )
    notes: list[Text] = Field(default=[], max_length=20, description="further notes of the drawing")


class BendingTable(Table):
    process: Literal["cold", "cold-mandrel", "hot"] | None = Field(default=None, description="how the bar is bent")
    clamp_length: PositiveLength | None = Field(default=None, description="mm of straight that the clamp grips")
    end_allowance: NonNegativeLength = Field(default=0.0, description="mm at each end, cut off after bending")
    min_radius_over_diameter: PositivePlain | None = Field(
        default=None, description="least centreline radius over diameter that the maker bends"
    )


class InspectionTable(Table):
    rework: StrictBool = Field(default=False, description="whether a bar may be bent again")


class BoxTable(Table):
    name: Text = Field(description='name = "sump"')
    low: Point = Field(description="low = [x, y, z], the corner of least coordinates")
    high: Point = Field(description="high = [x, y, z], the opposite corner")

    @field_validator("high")
    @classmethod
    def _above_low(cls, high: tuple[float, ...], info: ValidationInfo) -> tuple[float, ...]:
        # A box turned inside out holds nothing, and everything would keep clear of it.
        for axis, one, other in zip("xyz", info.data.get("low", high), high, strict=True):
            if one > other:
                raise refusal(
                    f"{axis} ends at {other:g} mm, below its start of {one:g} mm in low.",
                    "low = the least x, y and z of the box, high = the greatest.",
                )
        return high


class SphereTable(Table):
    name: Text = Field(description='name = "joint"')
    centre: Point = Field(description="centre = [x, y, z]")
    radius: PositiveLength = Field(description="radius = 30.0 (mm)")


class CylinderTable(Table):
    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)

    name: Text = Field(description='name = "shaft"')
    start: Point = Field(alias="from", description="from = [x, y, z], the middle of one end")
    to: Point = Field(description="to = [x, y, z], the middle of the other end")
    radius: PositiveLength = Field(description="radius = 30.0 (mm)")

    @model_validator(mode="before")
    @classmethod
    def _begins_once(cls, value: Any) -> Any:
        if isinstance(value, dict) and {"from", "start"} <= set(value):
            raise refusal("from and start are both given.", "from alone; start is another name of it.")
        return value

    @field_validator("to")
    @classmethod
    def _elsewhere(cls, to: tuple[float, ...], info: ValidationInfo) -> tuple[float, ...]:
        if to == info.data.get("start"):
            raise refusal("from and to are one place.", "the middles of both ends; a ball stands under spheres.")
        return to


class KeepOutTable(Table):
    boxes: list[BoxTable] = Field(default=[], max_length=MOST_KEPT_OUT, description="boxes along the drawing's axes")
    spheres: list[SphereTable] = Field(default=[], max_length=MOST_KEPT_OUT, description="spheres")
    cylinders: list[CylinderTable] = Field(default=[], max_length=MOST_KEPT_OUT, description="cylinders, flat ends")
    gap: NonNegativeLength = Field(default=8.0, description="mm that the bar must keep from all of them")


class ReviewTable(Table):
    limits: dict[str, Any] = Field(
        default={}, description="other limits of barfem review by rule: radius = { stop = 1.2, ask = 1.6 }"
    )

    @field_validator("limits")
    @classmethod
    def _known(cls, limits: dict[str, Any]) -> dict[str, Any]:
        try:
            rules_with(limits)
        except InputError as error:
            raise refusal(error.problem, error.expected or "a limit of barfem review.") from None
        return limits
