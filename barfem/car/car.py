"""The car as a validated, immutable description: what the car file says, in mm, N, kg, deg and g (9.81 m/s2).

Wheels are ordered front left, front right, rear left, rear right (`WHEELS`); sides of an axle left, right.
"""

from __future__ import annotations

import math
from dataclasses import field
from functools import cached_property
from typing import Literal

from barfem.model.bar import Bar
from barfem.model.frozen import frozen

__all__ = [
    "AXLES", "GRAVITY", "LINK_ASSUMPTION", "WHEELS", "Axle", "AxleBar", "Car", "Drive", "Spring", "State", "Stop",
    "Targets", "Tyre", "Use",
]  # fmt: skip

GRAVITY = 9.81
"""m/s2, as the car file's g."""
AXLES = ("front", "rear")
WHEELS = ("front_left", "front_right", "rear_left", "rear_right")
RIGID_N_PER_MM = 1e8
"""A rigid tyre in the equations: stiff enough to give nothing, soft enough for double precision."""
LINK_ASSUMPTION = (
    "A link length error moves the bar's end by as much, up where the link hangs and down where it stands."
)

Pair = tuple[float, float]


@frozen
class Spring:
    """One side's spring as a force over its own travel: `rate_N_per_mm`, or a table of (mm, N) from zero.

    `heave_ratio` and `roll_ratio` are its travel over wheel travel with both wheels moving alike, and opposite.
    """

    heave_ratio: float
    roll_ratio: float
    rate_N_per_mm: float | None = None
    curve: tuple[Pair, ...] = ()

    @property
    def rate_at_rest_N_per_mm(self) -> float:
        """dF/dtravel of the spring at zero; at a corner of the table the mean of both sides."""
        if self.rate_N_per_mm is not None:
            return self.rate_N_per_mm
        slopes = [
            (two[1] - one[1]) / (two[0] - one[0])
            for one, two in zip(self.curve, self.curve[1:], strict=False)
            if one[0] <= 0.0 <= two[0]
        ]
        return sum(slopes) / len(slopes)

    @property
    def wheel_rate_N_per_mm(self) -> float:
        """Force at the wheel over its travel, both wheels moving alike."""
        return self.rate_at_rest_N_per_mm * self.heave_ratio**2


@frozen
class Stop:
    """A one-sided spring at the wheel: mm of wheel travel from zero to contact, N/mm."""

    gap_mm: float
    rate_N_per_mm: float


@frozen
class AxleBar:
    """The anti-roll bar of an axle. `bar` is ours; else `rates`: hole, roll rate N/mm of an equal pair, lever mm.

    Sides are (left, right). `sense` is what a link a mm too long does to the bar's end: +1 raises it (the link hangs),
    -1 lowers it. `mm_per_turn` of the link's thread, None if it has none.
    """

    axle: str
    left_holes: tuple[str, ...]
    right_holes: tuple[str, ...]
    fitted: tuple[int, int]
    motion_ratio: float
    roll_motion_ratio: float
    sense: Pair
    ride_offset_mm: Pair = (0.0, 0.0)
    link_error_mm: Pair = (0.0, 0.0)
    mm_per_turn: float | None = None
    mounted_on: Literal["body", "axle"] = "body"
    bar: Bar | None = None
    rates: tuple[tuple[str, float, float | None], ...] = ()

    def names(self, pair: tuple[int, int]) -> tuple[str, str]:
        return self.left_holes[pair[0]], self.right_holes[pair[1]]

    def pickups_mm(self, wheels_mm: Pair) -> Pair:
        """Pickup travel (left, right) of these wheel travels: moving alike, and opposite, by its own ratio."""
        mean, half = 0.5 * (wheels_mm[0] + wheels_mm[1]), 0.5 * (wheels_mm[0] - wheels_mm[1])
        alike, opposite = self.motion_ratio * mean, self.roll_motion_ratio * half
        return alike + opposite, alike - opposite

    @property
    def offset_mm(self) -> Pair:
        """Pickup travel (left, right) at wheel travel zero: of standing off the drawing's rest, and of the links."""
        left, right = (
            pickup + sense * error
            for pickup, sense, error in zip(
                self.pickups_mm(self.ride_offset_mm), self.sense, self.link_error_mm, strict=True
            )
        )
        return left, right


@frozen
class Axle:
    name: str
    track_mm: float
    suspension: Literal["independent", "beam"]
    unsprung_mass_kg: float
    unsprung_height_mm: float
    roll_centre_height_mm: float
    spring: Spring
    tyre_rate_N_per_mm: float  # infinite: rigid
    bump_stop: Stop | None = None
    droop_stop: Stop | None = None
    anti: float = 0.0
    camber_deg: Pair = (0.0, 0.0)
    camber_gain_deg_per_mm: float = 0.0
    bar: AxleBar | None = None

    @property
    def solved_tyre_rate_N_per_mm(self) -> float:
        return RIGID_N_PER_MM if math.isinf(self.tyre_rate_N_per_mm) else self.tyre_rate_N_per_mm


@frozen
class Drive:
    """Torque biases: 1 is an open differential, infinite a locked one."""

    driven: Literal["front", "rear", "all"]
    front_torque_share: float
    torque_bias: Pair
    brake_front_share: float


@frozen
class Tyre:
    """Two lines: grip over load, and cornering stiffness over load (N/rad). None: not given."""

    grip: float | None = None
    load_N: float | None = None
    grip_loss: float = 0.0
    c1_per_rad: float | None = None
    c2_per_N_rad: float = 0.0


@frozen
class State:
    name: str
    a_y_g: float
    a_x_g: float

    @property
    def words(self) -> str:
        """Its accelerations in a sentence; those given in other units than g in four figures."""
        return f"a_y {self.a_y_g:z.4g} g, a_x {self.a_x_g:z.4g} g"


@frozen
class Targets:
    roll_gradient_deg_per_g: Pair | None = None
    front_transfer_share: Pair | None = None
    cross_weight: Pair | None = None
    lift_margin_N: float | None = None


@frozen
class Use:
    laps: float
    corners_per_lap: float
    kerbs_per_lap: float


@frozen
class Car:
    """A car, checked for everything that can be checked without solving it.

    `odd` are those of its warnings that may be slips of the pen or of the unit, and are told first.
    """

    name: str
    wheelbase_mm: float
    corner_masses_kg: tuple[float, float, float, float]
    sprung_cg_height_mm: float
    front: Axle
    rear: Axle
    states: tuple[State, ...]
    weighed_with_bars: bool = False
    drive: Drive | None = None
    tyres: tuple[Tyre, Tyre] | None = None
    targets: Targets = Targets()
    use: Use | None = None
    source: str | None = None
    warnings: tuple[str, ...] = field(default=())
    assumptions: tuple[str, ...] = field(default=())
    odd: tuple[str, ...] = field(default=())

    @property
    def axles(self) -> tuple[Axle, Axle]:
        return self.front, self.rear

    @property
    def total_mass_kg(self) -> float:
        return sum(self.corner_masses_kg)

    @property
    def weight_N(self) -> float:
        return self.total_mass_kg * GRAVITY

    @property
    def front_share(self) -> float:
        return (self.corner_masses_kg[0] + self.corner_masses_kg[1]) / self.total_mass_kg

    @property
    def left_share(self) -> float:
        return (self.corner_masses_kg[0] + self.corner_masses_kg[2]) / self.total_mass_kg

    @property
    def cross_weight(self) -> float:
        return (self.corner_masses_kg[1] + self.corner_masses_kg[2]) / self.total_mass_kg

    @property
    def sprung_mass_kg(self) -> float:
        return self.total_mass_kg - self.front.unsprung_mass_kg - self.rear.unsprung_mass_kg

    @cached_property
    def sprung_front_share(self) -> float:
        front = self.corner_masses_kg[0] + self.corner_masses_kg[1] - self.front.unsprung_mass_kg
        return front / self.sprung_mass_kg

    @property
    def cg_height_mm(self) -> float:
        moment = self.sprung_mass_kg * self.sprung_cg_height_mm
        moment += sum(axle.unsprung_mass_kg * axle.unsprung_height_mm for axle in self.axles)
        return moment / self.total_mass_kg

    @cached_property
    def sprung_cg_left_mm(self) -> float:
        """y of the sprung centre of gravity: the unsprung masses lie in the middle plane."""
        moment = sum(
            0.5 * axle.track_mm * (self.corner_masses_kg[2 * i] - self.corner_masses_kg[2 * i + 1])
            for i, axle in enumerate(self.axles)
        )
        return moment / self.sprung_mass_kg

    @cached_property
    def roll_arm_mm(self) -> float:
        """Height of the sprung centre of gravity above the line through both roll centres."""
        share = self.sprung_front_share
        axis = share * self.front.roll_centre_height_mm + (1.0 - share) * self.rear.roll_centre_height_mm
        return self.sprung_cg_height_mm - axis

    @property
    def overturning_Nm_per_rad(self) -> float:
        """m_s g d: what gravity takes from the roll stiffness."""
        return self.sprung_mass_kg * GRAVITY * self.roll_arm_mm / 1000.0
