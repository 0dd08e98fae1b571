"""The tables of a bar file: their keys, kinds and ranges. What keys mean together is checked where they are read."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field, StrictBool, field_validator

from barfem.model.schema_fields import (
    Angle,
    Density,
    Direction,
    Length,
    NonNegativeLength,
    NonNegativePlain,
    NonNegativeStiffness,
    NonNegativeTorsionalStiffness,
    Plain,
    Point,
    Points,
    PositiveLength,
    PositivePlain,
    PositiveStiffness,
    Radii,
    Rows,
    Stress,
    Text,
    refusal,
)
from barfem.model.tolerance_fields import (
    AngleBand,
    DepthBand,
    DiameterBand,
    HardnessBand,
    LengthBand,
    ShareBand,
    StressWindow,
)

__all__ = [
    "ArmsTable",
    "BarFile",
    "BendWallsTable",
    "BendsTable",
    "BlockTable",
    "CentrelineTable",
    "CollarTable",
    "CrankTable",
    "DutyTable",
    "EndTable",
    "EndsTable",
    "FlatTable",
    "HoleTable",
    "LinkTable",
    "LinksTable",
    "MaterialTable",
    "MountTable",
    "SectionTable",
    "Table",
    "TargetsTable",
    "TolerancesTable",
    "TravelTable",
]


MOST = {"holes": 24, "mounts": 16, "collars": 32, "blocks": 500, "bend_walls": 64}
"""How many of each a bar file may have: far more than any bar, so that a slip is told and not computed for hours."""


class Table(BaseModel):
    """Any table of the bar file. A field's description is what a message offers when the key is missing."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    def given(self) -> dict[str, Any]:
        """The keys that the file gives, with their converted values."""
        return {key: getattr(self, key) for key in type(self).model_fields if key in self.model_fields_set}


class MaterialTable(Table):
    grade: Text = Field(description='grade = "51CrV4" (a table in materials/, a path to your own, or "custom")')
    condition: Text | None = None
    surface: Text | None = None
    bent: Literal["before-hardening", "after-hardening"] | None = None
    stress_relieved: StrictBool | None = None
    bore_surface: Text | None = None
    E: Stress | None = None
    nu: Plain | None = None
    density: Density | None = None
    yield_strength: Stress | None = None
    tensile_strength: Stress | None = None
    hardness: Text | None = None
    decarburised_depth: NonNegativeLength | None = None
    plating: Literal["none", "zinc", "chromium", "nickel", "cadmium"] | None = None
    preset: StrictBool | None = None

    @field_validator("hardness", mode="before")
    @classmethod
    def _with_its_scale(cls, value: Any) -> Any:
        if isinstance(value, int | float) and not isinstance(value, bool):
            shown = f"{value:g}" if abs(value) < 1e9 else "the number"
            raise refusal(f"{shown} does not say its scale.", 'text with the scale, such as "45 HRC" or "430 HBW".')
        return value


class BendWallsTable(Table):
    outside: PositiveLength = Field(description="outside = 3.2 (mm, at the outside of the bend)")
    inside: PositiveLength = Field(description="inside = 4.6 (mm, at the inside of the bend)")


class SectionTable(Table):
    shape: Literal["round", "tube"] = Field(description='shape = "round" or "tube"')
    diameter: PositiveLength = Field(description="diameter = 24.0 (outside, mm)")
    wall: PositiveLength | None = None
    bend_wall: Literal["thinned", "uniform"] | None = None
    bend_walls: list[BendWallsTable] | None = Field(
        default=None,
        max_length=MOST["bend_walls"],
        description="bend_walls = { outside = 3.2, inside = 4.6 }, or a list of them, one for each bend",
    )
    ovality: NonNegativePlain | None = None

    @field_validator("bend_walls", mode="before")
    @classmethod
    def _one_for_all_bends(cls, value: Any) -> Any:
        return [value] if isinstance(value, dict) else value


class CentrelineTable(Table):
    points: Points = Field(description="points = [[x, y, z], ...] from the right tip to the left tip")
    bend_radius: Radii = Field(default=None, description="bend_radius = 48.0, or one for each interior point")


class CrankTable(Table):
    x: Length = 0.0
    z: Length = 0.0
    inner: NonNegativeLength = Field(description="inner = 300.0 (|y| within which the middle is offset)")
    outer: PositiveLength = Field(description="outer = 420.0 (|y| where the ramp ends)")


class ArmsTable(Table):
    width: PositiveLength = Field(description="width = 1000.0 (y, cut end to cut end)")
    length: Length = Field(description="length = 250.0 (x, middle axis to cut end; positive rearward)")
    splay: Angle = 0.0
    rise: Length = 0.0
    crank: CrankTable | None = None
    bend_radius: Radii = Field(description="bend_radius = 48.0 (to the centreline)")


class BendsTable(Table):
    start_tip: Literal["right", "left"] = Field(description='start_tip = "right" or "left"')
    start: Point = Field(description="start = [x, y, z] of that tip")
    direction: Direction = Field(description="direction = [x, y, z] of the first straight")
    first_bend_towards: Direction = Field(description="first_bend_towards = [x, y, z]")
    rows: Rows = Field(description="rows = [[length, rotation, angle, radius], ..., [length]]")


class HoleTable(Table):
    name: Text = Field(description='name = "1"')
    from_tip: NonNegativeLength = Field(description="from_tip = 20.0 (mm along the bar from that side's tip)")
    diameter: PositiveLength | None = None
    offset: Point | None = None


class FlatTable(Table):
    """Every key may come from [ends] or from the side's own table; none may be missing in the end."""

    kind: Literal["forged", "pressed"] | None = Field(default=None, description='kind = "forged" or "pressed"')
    thickness: PositiveLength | None = Field(default=None, description="thickness = 12.0")
    width: PositiveLength | None = Field(default=None, description="width = 40.0")
    length: PositiveLength | None = Field(default=None, description="length = 95.0 (from the tip, with transition)")
    transition: NonNegativeLength | None = Field(default=None, description="transition = 25.0 (to the round body)")
    normal: Direction | None = Field(default=None, description="normal = [0, 1, 0] (the hole axis)")


class EndTable(Table):
    holes: list[HoleTable] | None = Field(
        default=None, max_length=MOST["holes"], description='holes = [{ name = "1", from_tip = 20.0 }]'
    )
    flat: FlatTable | None = None
    strength_scale: PositivePlain | None = None


class EndsTable(EndTable):
    right: EndTable | None = None
    left: EndTable | None = None


class MountTable(Table):
    from_middle: Length | None = None
    y: Length | None = None
    radial_stiffness: NonNegativeStiffness = Field(description="radial_stiffness = 5000.0 (N/mm, across the bar)")
    axial_stiffness: NonNegativeStiffness = 0.0
    torsional_stiffness: NonNegativeTorsionalStiffness = 0.0
    conical_stiffness: NonNegativeTorsionalStiffness = 0.0
    length: NonNegativeLength = 0.0
    bracket_stiffness: PositiveStiffness | None = None
    contact: Literal["bonded", "slipping", "clamped"] | None = None
    contact_factor: PositivePlain | None = None


class CollarTable(Table):
    from_middle: Length = Field(description="from_middle = -345.0 (mm, of the collar's middle)")
    length: PositiveLength = Field(description="length = 8.0 (mm along the bar)")
    kind: Literal["pressed", "clamped", "moulded"] = Field(description='kind = "pressed", "clamped" or "moulded"')
    factor: PositivePlain | None = None


class LinkTable(Table):
    length: PositiveLength | None = None
    direction: Direction | None = None
    pickup: Point | None = None
    axial_stiffness: PositiveStiffness | None = None
    length_error: Length | None = None


class LinksTable(LinkTable):
    right: LinkTable | None = None
    left: LinkTable | None = None


class TravelTable(Table):
    pickup: PositiveLength | None = None
    wheel: PositiveLength | None = None
    motion_ratio: PositivePlain | None = None
    up: PositiveLength | None = None
    down: PositiveLength | None = None
    one_wheel: PositiveLength | None = None
    direction: Direction = Field(description="direction = [0, 0, 1] (of the left pickup's travel)")


class BlockTable(Table):
    pickup: PositiveLength = Field(description="pickup = 40.0 (mm of pickup travel)")
    cycles: PositivePlain = Field(description="cycles = 20000")
    ratio: Plain | None = None


class DutyTable(Table):
    target_cycles: PositivePlain | None = None
    ratio: Plain | None = None
    blocks: list[BlockTable] | None = Field(default=None, max_length=MOST["blocks"])
    repeats: PositivePlain | None = None


class TargetsTable(Table):
    yield_margin: NonNegativePlain | None = None
    survival: PositivePlain | None = None
    goodman_safety_factor: PositivePlain | None = None
    critical_sum: PositivePlain | None = None


class TolerancesTable(Table):
    """Bands about the drawing; a key that is left out takes its default (`barfem.study.bands`), 0 switches one off."""

    distribution: Literal["normal", "uniform"] | None = None
    diameter: DiameterBand = None
    wall: DiameterBand = None
    flat_thickness: LengthBand = None
    flat_width: LengthBand = None
    straight_length: LengthBand = None
    tip_position: LengthBand = None
    bend_radius: LengthBand = None
    bend_angle: AngleBand = None
    bend_rotation: AngleBand = None
    hole_position: LengthBand = None
    mount_position: LengthBand = None
    mount_stiffness: ShareBand = None
    E: ShareBand = None
    tensile_strength: StressWindow = None
    hardness: HardnessBand = None
    yield_ratio: ShareBand = None
    decarburised_depth: DepthBand = None
    rate_band: ShareBand = None


class BarFile(Table):
    format: int = Field(description="format = 1")
    name: Text = Field(description='name = "..."')
    drawing: Text | None = None
    revision: Text | None = None
    material: MaterialTable = Field(description='[material] with grade and condition, such as grade = "51CrV4"')
    section: SectionTable = Field(description='[section] with shape = "round", diameter = 24.0')
    centreline: CentrelineTable | None = None
    arms: ArmsTable | None = None
    bends: BendsTable | None = None
    ends: EndsTable = Field(description='[ends] with holes = [{ name = "1", from_tip = 20.0 }]')
    mounts: list[MountTable] = Field(
        max_length=MOST["mounts"], description="[[mounts]], two or more, each with from_middle and radial_stiffness"
    )
    collars: list[CollarTable] = Field(
        default=[], max_length=MOST["collars"], description="[[collars]], each with from_middle, length and kind"
    )
    links: LinksTable = Field(description="[links] with length = 140.0 and direction = [0, 0, -1]")
    travel: TravelTable = Field(description="[travel] with pickup = 40.0 and direction = [0, 0, 1]")
    duty: DutyTable = DutyTable()
    targets: TargetsTable = TargetsTable()
    tolerances: TolerancesTable = TolerancesTable()

    @field_validator("format", mode="before")
    @classmethod
    def _format_is_one(cls, value: Any) -> Any:
        if isinstance(value, bool) or not isinstance(value, int) or value != 1:
            raise refusal(f"format = {value!r} is not known to this barfem.", "format = 1.")
        return value
