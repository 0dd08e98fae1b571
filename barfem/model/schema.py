"""The tables of a bar file: their keys, kinds and ranges. What keys mean together is checked where they are read.

`barfem schema` writes them as JSON Schema: a key's description is read by people.
"""

from typing import Any, Literal

from pydantic import Field, field_validator

from barfem.model.schema_material import MaterialTable, PeeningTable, text_or_table
from barfem.model.schema_table import Table
from barfem.model.schema_tolerances import TolerancesTable
from barfem.model.schema_types import (
    Angle,
    Direction,
    Format,
    Length,
    MotionRatio,
    NonNegativeLength,
    NonNegativePercent,
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
    Text,
    Wall,
)
from barfem.model.vendor_tables import (
    BendingTable,
    BoxTable,
    CylinderTable,
    DrawingTable,
    InspectionTable,
    KeepOutTable,
    ReviewTable,
    SphereTable,
)

__all__ = [
    "ArmsTable",
    "BarFile",
    "BendWallsTable",
    "BendingTable",
    "BendsTable",
    "BlockTable",
    "BoxTable",
    "CentrelineTable",
    "CollarTable",
    "CrankTable",
    "CylinderTable",
    "DrawingTable",
    "DutyTable",
    "EndTable",
    "EndsTable",
    "FlatTable",
    "HoleTable",
    "InspectionTable",
    "KeepOutTable",
    "LinkTable",
    "LinksTable",
    "MaterialTable",
    "MountTable",
    "PeeningTable",
    "ReviewTable",
    "SectionTable",
    "SphereTable",
    "Table",
    "TargetsTable",
    "TolerancesTable",
    "TravelTable",
]


MOST = {"holes": 24, "mounts": 16, "collars": 32, "blocks": 500, "bend_walls": 64}
"""How many of each a bar file may have: far more than any bar, so that a slip is told and not computed for hours."""


class BendWallsTable(Table):
    outside: PositiveLength = Field(description="outside = 3.2 (mm, at the outside of the bend)")
    inside: PositiveLength = Field(description="inside = 4.6 (mm, at the inside of the bend)")


def _alone_or_listed(schema: dict[str, Any]) -> None:
    """In JSON Schema: one entry may stand without its list."""
    listed = {key: schema.pop(key) for key in ("type", "items", "maxItems") if key in schema}
    schema["anyOf"] = [listed["items"], {**listed, "minItems": 1}]


class SectionTable(Table):
    shape: Literal["round", "tube"] = Field(description='shape = "round" or "tube"')
    diameter: PositiveLength = Field(description="diameter = 24.0 (outside, mm)")
    wall: Wall | None = Field(default=None, description="wall of the tube as delivered (mm)")
    bend_wall: Literal["thinned", "uniform"] | None = Field(
        default=None,
        description="of a tube in its bends: thinner outside and thicker inside (thinned, the default), or uniform",
    )
    bend_walls: list[BendWallsTable] | None = Field(
        default=None,
        description="bend_walls = { outside = 3.2, inside = 4.6 }, or a list of them, one for each bend",
        max_length=MOST["bend_walls"],
        json_schema_extra=_alone_or_listed,
    )
    ovality: NonNegativePercent | None = Field(
        default=None, description="tubes: % by which bends are flattened as made, greatest less least diameter"
    )

    @field_validator("bend_walls", mode="before")
    @classmethod
    def _one_for_all_bends(cls, value: Any) -> Any:
        return [value] if isinstance(value, dict) else value


class CentrelineTable(Table):
    points: Points = Field(description="points = [[x, y, z], ...] from the right tip to the left tip")
    bend_radius: Radii = Field(default=None, description="bend_radius = 48.0, or one for each interior point")


class CrankTable(Table):
    x: Length = Field(default=0.0, description="offset of the middle (mm), positive forward")
    z: Length = Field(default=0.0, description="offset of the middle (mm), positive up")
    inner: NonNegativeLength = Field(description="inner = 300.0 (|y| within which the middle is offset)")
    outer: PositiveLength = Field(description="outer = 420.0 (|y| where the ramp ends)")


class ArmsTable(Table):
    width: PositiveLength = Field(description="width = 1000.0 (y, cut end to cut end)")
    length: Length = Field(description="length = 250.0 (x, middle axis to cut end; positive rearward)")
    splay: Angle = Field(default=0.0, description="deg in plan, tips outward positive")
    rise: Length = Field(default=0.0, description="z of the tips above the middle axis (mm)")
    crank: CrankTable | None = Field(default=None, description="offset of the middle between the mounts")
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
    diameter: PositiveLength | None = Field(default=None, description="of the hole (mm)")
    offset: Point | None = Field(default=None, description="[x, y, z] (mm) from the hole to the joint centre")


class FlatTable(Table):
    """Every key may come from [ends] or from the side's own table; none but outline and fillet may be missing."""

    kind: Literal["forged", "pressed"] | None = Field(default=None, description='kind = "forged" or "pressed"')
    thickness: PositiveLength | None = Field(default=None, description="thickness = 12.0")
    width: PositiveLength | None = Field(default=None, description="width = 40.0")
    length: PositiveLength | None = Field(default=None, description="length = 95.0 (from the tip, with transition)")
    transition: NonNegativeLength | None = Field(default=None, description="transition = 25.0 (to the round body)")
    normal: Direction | None = Field(default=None, description="normal = [0, 1, 0] (the hole axis)")
    outline: Literal["cosine", "straight"] | None = Field(
        default=None,
        description='outline = "cosine" or "straight" (of a forged transition; absent: the worse of both is judged)',
    )
    fillet: PositiveLength | None = Field(
        default=None, description="fillet = 8.0 (radius where a straight transition begins and ends)"
    )


class EndTable(Table):
    holes: list[HoleTable] | None = Field(
        default=None, max_length=MOST["holes"], description='holes = [{ name = "1", from_tip = 20.0 }]'
    )
    flat: FlatTable | None = Field(default=None, description="the flat that the holes are in; round ends have none")
    strength_scale: PositivePlain | None = Field(
        default=None, description="strength of the ends over that of the middle; below 1 where they are softer"
    )


class EndsTable(EndTable):
    right: EndTable | None = Field(default=None, description="what differs at the right end")
    left: EndTable | None = Field(default=None, description="what differs at the left end")


class MountTable(Table):
    from_middle: Length | None = Field(
        default=None, description="mm along the bar from its middle, positive to the left"
    )
    y: Length | None = Field(default=None, description="instead of from_middle: the drawing's y (mm) of the mount")
    radial_stiffness: NonNegativeStiffness = Field(description="radial_stiffness = 5000.0 (N/mm, across the bar)")
    axial_stiffness: NonNegativeStiffness = Field(
        default=0.0, description="N/mm along the bar; at least one mount needs some"
    )
    torsional_stiffness: NonNegativeTorsionalStiffness = Field(
        default=0.0, description="N mm/rad about the bar; 0: the bar turns freely in its bushing"
    )
    conical_stiffness: NonNegativeTorsionalStiffness = Field(
        default=0.0, description="N mm/rad about axes across the bar, beyond what the length gives"
    )
    length: NonNegativeLength = Field(default=0.0, description="of the bushing along the bar (mm)")
    bracket_stiffness: PositiveStiffness | None = Field(
        default=None, description="N/mm, in series with the radial stiffness; without it the bracket is rigid"
    )
    contact: Literal["bonded", "slipping", "clamped"] | None = Field(
        default=None, description="what holds the bar, for fatigue at its edges"
    )
    contact_factor: PositivePlain | None = Field(
        default=None, description="fatigue stress at the edge over nominal, instead of the contact's"
    )


class CollarTable(Table):
    from_middle: Length = Field(description="from_middle = -345.0 (mm, of the collar's middle)")
    length: PositiveLength = Field(description="length = 8.0 (mm along the bar)")
    kind: Literal["pressed", "clamped", "moulded"] = Field(description='kind = "pressed", "clamped" or "moulded"')
    factor: PositivePlain | None = Field(
        default=None, description="fatigue stress at the edge over nominal, instead of the kind's"
    )


class LinkTable(Table):
    length: PositiveLength | None = Field(default=None, description="of the link, between joint centres (mm)")
    direction: Direction | None = Field(
        default=None, description="[x, y, z] from the bar to the pickup at rest, of the left link"
    )
    pickup: Point | None = Field(
        default=None, description="[x, y, z] (mm) of the left pickup, fixed in the car, instead of length and direction"
    )
    axial_stiffness: PositiveStiffness | None = Field(
        default=None, description="N/mm of rod and joints together; without it the link is rigid"
    )
    length_error: Length | None = Field(
        default=None, description="mm too long (+) or too short (-) as fitted: preload at rest"
    )


class LinksTable(LinkTable):
    right: LinkTable | None = Field(default=None, description="what differs at the right link")
    left: LinkTable | None = Field(default=None, description="what differs at the left link")


class TravelTable(Table):
    pickup: PositiveLength | None = Field(default=None, description="mm of the pickup up and down from rest")
    wheel: PositiveLength | None = Field(
        default=None, description="mm of the wheel, with motion_ratio, instead of pickup"
    )
    motion_ratio: MotionRatio | None = Field(default=None, description="pickup travel over wheel travel")
    up: PositiveLength | None = Field(default=None, description="mm up, where bump and droop differ")
    down: PositiveLength | None = Field(default=None, description="mm down, where bump and droop differ")
    one_wheel: PositiveLength | None = Field(
        default=None, description="mm of one pickup while the other stays; given, the one-wheel case is judged as well"
    )
    parallel: PositiveLength | None = Field(
        default=None, description="mm of both pickups up together; given, the parallel case is judged as well"
    )
    direction: Direction = Field(
        default=(0.0, 0.0, 1.0), description="direction = [0, 0, 1] (of the left pickup's travel; default: straight up)"
    )


class BlockTable(Table):
    pickup: PositiveLength = Field(description="pickup = 40.0 (mm of pickup travel)")
    cycles: PositivePlain = Field(description="cycles = 20000")
    ratio: Plain | None = Field(
        default=None, description="other end of the cycle over the travel: -1 both ways, 0 from rest"
    )


class DutyTable(Table):
    target_cycles: PositivePlain | None = Field(
        default=None, description="cycles of full articulation that the bar must last"
    )
    ratio: Plain | None = Field(
        default=None, description="other end of the cycle over full travel: -1 both ways, 0 from rest"
    )
    blocks: list[BlockTable] | None = Field(
        default=None,
        max_length=MOST["blocks"],
        description="one repeat of a mixed duty: pickup travel, cycles, ratio",
        json_schema_extra={"minItems": 1},
    )
    repeats: PositivePlain | None = Field(default=None, description="of the blocks that the bar must last")


class TargetsTable(Table):
    yield_margin: NonNegativePlain | None = Field(default=None, description="least yield strength over stress, less 1")
    survival: PositivePlain | None = Field(default=None, description="share of bars that must reach the target life")
    goodman_safety_factor: PositivePlain | None = Field(
        default=None, description="against the endurance limit; left out, it is shown and not judged"
    )
    critical_sum: PositivePlain | None = Field(
        default=None, description="Miner's sum of damage at failure, with blocks"
    )


class BarFile(Table):
    format: Format = Field(description="format = 1", json_schema_extra={"const": 1})
    name: Text = Field(description='name = "..."')
    drawing: DrawingTable = Field(
        default=DrawingTable(),
        description='number of the drawing: drawing = "PF-001"; or [drawing], the fields of the drawing, with number',
        json_schema_extra=text_or_table,
    )
    revision: Text | None = Field(default=None, description="of the drawing")
    material: MaterialTable = Field(description='[material] with grade and condition, such as grade = "51CrV4"')
    section: SectionTable = Field(description='[section] with shape = "round", diameter = 24.0')
    centreline: CentrelineTable | None = Field(
        default=None, description="[centreline]: where the axes of the straights meet; or [arms], or [bends]"
    )
    arms: ArmsTable | None = Field(default=None, description="[arms]: a symmetric bar from drawing dimensions")
    bends: BendsTable | None = Field(default=None, description="[bends]: the bender's own rows")
    ends: EndsTable = Field(description='[ends] with holes = [{ name = "1", from_tip = 20.0 }]')
    mounts: list[MountTable] = Field(
        description="[[mounts]], two or more, each with from_middle and radial_stiffness",
        max_length=MOST["mounts"],
        json_schema_extra={"minItems": 2},
    )
    collars: list[CollarTable] = Field(
        default=[], max_length=MOST["collars"], description="[[collars]], each with from_middle, length and kind"
    )
    links: LinksTable = Field(description="[links] with length = 140.0 and direction = [0, 0, -1]")
    travel: TravelTable = Field(description="[travel] with pickup = 40.0 and direction = [0, 0, 1]")
    duty: DutyTable = Field(default=DutyTable(), description="[duty]: how long the bar must last")
    targets: TargetsTable = Field(default=TargetsTable(), description="[targets]: what passes is judged against")
    tolerances: TolerancesTable = Field(
        default=TolerancesTable(), description="[tolerances]: bands about the drawing, for barfem tolerance"
    )
    bending: BendingTable = Field(default=BendingTable(), description="[bending]: how the maker bends it")
    inspection: InspectionTable = Field(default=InspectionTable(), description="[inspection]: of bars that come back")
    keep_out: KeepOutTable = Field(default=KeepOutTable(), description="[keep_out]: bodies that the bar must not touch")
    review: ReviewTable = Field(default=ReviewTable(), description="[review]: other limits of barfem review")

    @field_validator("drawing", mode="before")
    @classmethod
    def _number_alone(cls, value: Any) -> Any:
        return value if isinstance(value, dict | DrawingTable) else {"number": value}
