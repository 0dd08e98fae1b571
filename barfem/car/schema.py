"""The tables of a car file: their keys, kinds and ranges. What keys mean together is checked where they are read."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from functools import partial
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, field_validator, model_validator

from barfem.model.schema import Table
from barfem.model.schema_types import (
    Acceleration,
    Format,
    MotionRatio,
    NonNegativeLength,
    Plain,
    PositiveStiffness,
    Text,
    checked,
    refusal,
)
from barfem.model.units import as_written

__all__ = [
    "AxleBarTable",
    "AxleTable",
    "CarFile",
    "CarTable",
    "CornersTable",
    "DriveTable",
    "RateTable",
    "StateTable",
    "TargetsTable",
    "TyreTable",
    "TyresTable",
    "UseTable",
]

LEAST_GRIP, MOST_GRIP = 0.1, 10.0

Mass = Annotated[float, BeforeValidator(checked("mass", above=0.0))]
PositiveForce = Annotated[float, BeforeValidator(checked("force", above=0.0))]
LoadLeft = Annotated[float, BeforeValidator(checked("force", at_least=0.0))]
_length, _force, _angle, _plain = (checked(kind) for kind in ("length", "force", "angle", "plain"))


def _share(value: Any) -> float:
    share = _plain(value)
    if not 0.0 <= share <= 1.0:
        raise refusal(f"{share:g} is not a share.", "a number from 0 to 1, such as 0.52 for 52 %.")
    return share


def _inner_share(value: Any) -> float:
    share = _plain(value)
    if not 0.0 < share < 1.0:
        raise refusal(
            f"{share:g} puts the centre of gravity outside the wheels.",
            "a share of the mass between 0 and 1, such as 0.51.",
        )
    return share


def _tyre_rate(value: Any) -> float:
    if value == "rigid":
        return math.inf
    rate = checked("force per length", example='210.0 (N/mm), or "1200 lbf/in", or "rigid" (a limit case)')(value)
    if rate <= 0.0:
        raise refusal(f"{rate:g} N/mm is not above 0.", 'the tyre\'s vertical rate in N/mm, or "rigid" (a limit case).')
    return rate


def _differential(value: Any) -> float:
    """Torque bias: 1 for open, infinite for locked."""
    expected = '"open", "locked" or { torque_bias = 2.5 }.'
    if value == "open":
        return 1.0
    if value == "locked":
        return math.inf
    if isinstance(value, dict) and set(value) == {"torque_bias"}:
        bias = _plain(value["torque_bias"])
        if bias < 1.0:
            raise refusal(f"a torque bias of {bias:g} is below that of an open differential, 1.", expected)
        return bias
    raise refusal(f"{as_written(value)} is no differential known here.", expected)


def _both_sides(convert: Callable[[Any], float]) -> Callable[[Any], tuple[float, float]]:
    """One number for both sides, or { left, right }."""

    def sides(value: Any) -> tuple[float, float]:
        if isinstance(value, dict):
            unknown = sorted(set(value) - {"left", "right"})
            if unknown or len(value) != 2:
                raise refusal(
                    f"a table with {', '.join(sorted(value)) or 'nothing'} in it.", "a number, or { left, right }."
                )
            return convert(value["left"]), convert(value["right"])
        both = convert(value)
        return both, both

    return sides


def _curve(value: Any) -> tuple[tuple[float, float], ...]:
    expected = "[[-60, 900], [0, 2500], [40, 5200]]: mm of wheel travel from zero, N at the wheel, travel rising."
    if not isinstance(value, list) or len(value) < 2:
        raise refusal("this is not a list of two points or more.", expected)
    points = []
    for number, point in enumerate(value, start=1):
        if not isinstance(point, list) or len(point) != 2:
            raise refusal(f"point {number} is {as_written(point)}.", expected)
        points.append((_length(point[0]), _force(point[1])))
    for number, (one, two) in enumerate(itertools.pairwise(points), start=2):
        if two[0] <= one[0] or two[1] <= one[1]:
            raise refusal(f"point {number} does not rise above the one before: the rate there is <= 0.", expected)
    if not points[0][0] <= 0.0 <= points[-1][0]:
        raise refusal("the curve does not hold the travel 0, the car as weighed.", expected)
    return tuple(points)


def _band(value: Any, convert: Callable[[Any], float] = _plain) -> tuple[float, float]:
    expected = "[least, greatest], two numbers, the smaller first."
    if not isinstance(value, list) or len(value) != 2:
        raise refusal(f"{as_written(value)} is not a pair of numbers.", expected)
    least, greatest = convert(value[0]), convert(value[1])
    if least > greatest:
        raise refusal(f"{least:g} is above {greatest:g}.", expected)
    return least, greatest


def _share_band(value: Any) -> tuple[float, float]:
    least, greatest = _band(value)
    return _share(least), _share(greatest)


def _grip(value: Any) -> float:
    grip = _plain(value)
    if not LEAST_GRIP <= grip <= MOST_GRIP:
        raise refusal(f"{grip:g} is no grip.", "side force / load, such as 1.15.")
    return grip


def _within(
    convert: Callable[[Any], float], most: float, unit: str, example: str, *, least: float = 0.0
) -> Callable[[Any], float]:
    """A number whose size is at most `most` and, where the statics divide by it, not below `least`."""

    def number(value: Any) -> float:
        found = convert(value)
        if not least <= abs(found) <= most:
            limit = f"at most {most:g}" if abs(found) > most else f"at least {least:g}"
            raise refusal(f"{found:g} {unit} is no car's.", f"{limit} {unit}, such as {example}.")
        return found

    return number


# Of any size here: what no car has is told where the file is read, with what cars have.
Size = Annotated[float, BeforeValidator(checked("length", above=0.0, most=math.inf))]
Height = Annotated[float, BeforeValidator(checked("length", most=math.inf))]
Share = Annotated[float, BeforeValidator(_share)]
InnerShare = Annotated[float, BeforeValidator(_inner_share)]
TyreRate = Annotated[Any, BeforeValidator(_tyre_rate)]
Differential = Annotated[Any, BeforeValidator(_differential)]
Camber = Annotated[Any, BeforeValidator(_both_sides(_within(_angle, 30.0, "deg", "-1.5")))]
CamberGain = Annotated[float, BeforeValidator(_within(checked("angle per length"), 1.0, "deg/mm", "-0.02"))]
Grip = Annotated[float, BeforeValidator(_grip)]
Pitch = Annotated[
    float,
    BeforeValidator(
        _within(checked("length", above=0.0, example="1.25 (mm a turn)"), 10.0, "mm a turn", "1.25", least=0.01)
    ),
]
Lever = Annotated[float, BeforeValidator(_within(checked("length", above=0.0), 1e4, "mm", "230", least=1.0))]
BarRate = Annotated[
    float, BeforeValidator(_within(checked("force per length", above=0.0), 1e12, "N/mm", "19.0", least=1e-3))
]
Laps = Annotated[float, BeforeValidator(_within(checked("plain", above=0.0), 1e6, "laps", "500"))]
PerLap = Annotated[float, BeforeValidator(_within(checked("plain", at_least=0.0), 1e3, "a lap", "14"))]
C1 = Annotated[
    float, BeforeValidator(checked("plain", above=0.0, unit="1/rad", example="c1 = 16.0, in 1/rad, no quotes"))
]
C2 = Annotated[
    float,
    BeforeValidator(checked("plain", at_least=0.0, unit="1/(N rad)", example="c2 = 1.1e-3, in 1/(N rad), no quotes")),
]
Sides = Annotated[Any, BeforeValidator(_both_sides(_length))]
Curve = Annotated[Any, BeforeValidator(_curve)]
RollBand = Annotated[Any, BeforeValidator(partial(_band, convert=checked("roll gradient")))]
ShareBand = Annotated[Any, BeforeValidator(_share_band)]


class CornersTable(Table):
    front_left: Mass = Field(description="front_left = 290.0 (kg, off the scales)")
    front_right: Mass = Field(description="front_right = 285.0 (kg, off the scales)")
    rear_left: Mass = Field(description="rear_left = 270.0 (kg, off the scales)")
    rear_right: Mass = Field(description="rear_right = 275.0 (kg, off the scales)")


class CarTable(Table):
    wheelbase: Size = Field(description="wheelbase = 2520.0 (mm)")
    corner_masses: CornersTable | None = None
    total_mass: Mass | None = None
    front_share: InnerShare | None = None
    weighed_with_bars: Literal["disconnected", "connected"] = "disconnected"
    cg_height: Size | None = None
    sprung_cg_height: Size | None = None


class BumpStopTable(Table):
    gap: NonNegativeLength = Field(description="gap = 30.0 (mm of wheel travel from zero to the stop)")
    rate: PositiveStiffness = Field(description="rate = 120.0 (N/mm at the wheel)")


class RateTable(Table):
    """A hole of a bar that is not ours: its rate with the convention in the key's name."""

    hole: Text = Field(description='hole = "1"')
    one_end_held: BarRate | None = None
    roll: BarRate | None = None
    lever: Lever | None = None

    @model_validator(mode="before")
    @classmethod
    def _says_its_convention(cls, value: Any) -> Any:
        if isinstance(value, dict) and "rate" in value:
            raise refusal(
                f"rate = {as_written(value['rate'])} does not say its convention.",
                "one_end_held = 19.0 (one end moves, the other is held) or roll = 38.0 (both move, opposite: twice as "
                "much for equal holes), N/mm at the bar's end.",
            )
        return value


class ThreadTable(Table):
    pitch: Pitch = Field(description="pitch = 1.25 (mm a turn)")
    hands: Literal["single", "opposite"] = "single"


class AxleBarTable(Table):
    file: Text | None = None
    rates: list[RateTable] | None = None
    left: Text | None = None
    right: Text | None = None
    motion_ratio: MotionRatio | None = None
    roll_motion_ratio: MotionRatio | None = None
    mounted_on: Literal["body", "axle"] = "body"
    ride_offset: Sides = (0.0, 0.0)
    link_length_error: Sides | None = None
    link_thread: ThreadTable | None = None
    links: Literal["hang", "stand"] | None = None


class AxleTable(Table):
    track: Size = Field(description="track = 1490.0 (mm, between tyre centres on the road)")
    suspension: Literal["independent", "beam"] = Field(description='suspension = "independent" or "beam"')
    unsprung_mass: Mass = Field(description="unsprung_mass = 70.0 (kg, both wheels of the axle)")
    unsprung_height: Size | None = None
    roll_centre_height: Height = Field(description="roll_centre_height = 50.0 (mm above the road at rest)")
    spring_rate: PositiveStiffness | None = None
    spring_motion_ratio: MotionRatio | None = None
    wheel_rate: PositiveStiffness | None = None
    wheel_curve: Curve | None = None
    spring_base: Size | None = None
    tyre_rate: TyreRate = Field(description='tyre_rate = 210.0 (N/mm vertical, one tyre), or "rigid"')
    bump_stop: BumpStopTable | None = Field(
        default=None, description="bump_stop = { gap = 30.0, rate = 120.0 }; left out: no stop"
    )
    droop_stop: BumpStopTable | None = Field(
        default=None, description="droop_stop = { gap = 60.0, rate = 400.0 }; left out: no stop"
    )
    anti: Plain = 0.0
    camber: Camber | None = None
    camber_gain: CamberGain | None = None
    bar: AxleBarTable | None = None

    @field_validator("bar", mode="before")
    @classmethod
    def _none_or_a_table(cls, value: Any) -> Any:
        if value == "none":
            return None
        if value is not None and not isinstance(value, dict | AxleBarTable):
            shown = f'"{value}"' if isinstance(value, str) else as_written(value)
            raise refusal(f"bar = {shown} is not known.", 'bar = "none", or a table [front.bar] with file or rates.')
        return value


class DriveTable(Table):
    driven: Literal["front", "rear", "all"] = Field(description='driven = "front", "rear" or "all"')
    front_torque_share: Share | None = None
    front_differential: Differential = 1.0
    rear_differential: Differential = 1.0
    brake_front_share: Share | None = None


class StiffnessTable(Table):
    c1: C1 = Field(description="c1 = 16.0 (1/rad; a tyre's cornering stiffness is c1 F - c2 F^2)")
    c2: C2 = Field(description="c2 = 1.1e-3 (1/(N rad))")


class TyreTable(Table):
    grip: Grip | None = None
    load: PositiveForce | None = None
    grip_loss: Share | None = None
    cornering_stiffness: StiffnessTable | None = None


class TyresTable(TyreTable):
    front: TyreTable | None = None
    rear: TyreTable | None = None


class StateTable(Table):
    name: Text = Field(description='name = "mid"')
    a_y: Acceleration = Field(default=0.0, description="a_y = 0.9 (g, left turn > 0)")
    a_x: Acceleration = Field(default=0.0, description="a_x = -0.4 (g, braking < 0)")

    @field_validator("a_y", "a_x")
    @classmethod
    def _in_g(cls, value: float) -> float:
        if abs(value) > 5.0:
            raise refusal(f"{value:g} g is no car's.", "an acceleration in g (9.81 m/s2), such as 0.9.")
        return value


class TargetsTable(Table):
    roll_gradient: RollBand | None = None
    front_transfer_share: ShareBand | None = None
    cross_weight: ShareBand | None = None
    lift_margin: LoadLeft | None = None


class UseTable(Table):
    laps: Laps = Field(description="laps = 500")
    corners_per_lap: PerLap = Field(description="corners_per_lap = 14")
    kerbs_per_lap: PerLap = Field(description="kerbs_per_lap = 6")


class CarFile(Table):
    format: Format = Field(description="format = 1")
    name: Text = Field(description='name = "..."')
    car: CarTable = Field(description="[car] with wheelbase, corner_masses and cg_height")
    front: AxleTable = Field(description="[front] with track, suspension, unsprung_mass, spring and tyre rates")
    rear: AxleTable = Field(description="[rear] with track, suspension, unsprung_mass, spring and tyre rates")
    drive: DriveTable | None = None
    tyres: TyresTable | None = None
    states: list[StateTable] | None = None
    targets: TargetsTable = TargetsTable()
    use: UseTable | None = None
