"""The bar as a validated, immutable description: what the drawing says, in mm, N, MPa and kg.

Everything below `model` reads these classes and nothing else of a bar file.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field, replace
from typing import Any, Literal

from barfem.model.centreline import Centreline
from barfem.model.frozen import frozen
from barfem.model.material import Steel
from barfem.model.shown import Shown

__all__ = [
    "Bar",
    "Block",
    "Collar",
    "Duty",
    "End",
    "Flat",
    "Hole",
    "Link",
    "Mount",
    "Section",
    "Targets",
    "Travel",
    "Vector",
    "drawing_words",
]

Vector = tuple[float, float, float]
Side = Literal["left", "right"]
Contact = Literal["bonded", "slipping", "clamped"]


@frozen
class Section:
    """The body of the bar: round or tube. `bend_wall` is "thinned", "uniform" or "measured" (tube only).

    `bend_walls_mm` are the measured ones, (outside, inside), one pair for all bends or one for each from the right
    tip. `ovality_percent` of its bends as made: greatest less least diameter over the nominal one, flattened in the
    plane of the bend.
    """

    shape: Literal["round", "tube"]
    diameter_mm: float
    wall_mm: float | None = None
    bend_wall: Literal["thinned", "uniform", "measured"] = "thinned"
    ovality_percent: float = 0.0
    bend_walls_mm: tuple[tuple[float, float], ...] = ()

    @property
    def bore_mm(self) -> float:
        """Bore diameter, zero for a solid bar."""
        return 0.0 if self.wall_mm is None else self.diameter_mm - 2.0 * self.wall_mm


@frozen
class Flat:
    """A flat end. `length_mm` runs from the tip and includes the transition; `normal` is the hole axis (unit).

    `outline` is the form of a forged one's transition seen from any side: a half cosine, or straight sides with a
    `fillet_mm` where they begin and end; None: not said, and judged as the worse of both.
    """

    kind: Literal["forged", "pressed"]
    thickness_mm: float
    width_mm: float
    length_mm: float
    transition_mm: float
    normal: Vector
    outline: Literal["cosine", "straight"] | None = None
    fillet_mm: float | None = None


@frozen
class Hole:
    """A link hole. `station_mm` is measured from the right tip, `from_tip_mm` from this side's tip.

    `offset_mm` runs from the hole to the joint centre in drawing axes, already mirrored for the right side.
    """

    name: str
    from_tip_mm: float
    station_mm: float
    diameter_mm: float | None = None
    offset_mm: Vector = (0.0, 0.0, 0.0)

    @property
    def breaks_out(self) -> bool:
        """Whether it is open at the cut end, so that nothing holds the bolt."""
        return self.diameter_mm is not None and self.from_tip_mm < 0.5 * self.diameter_mm


@frozen
class End:
    """One end of the bar. Holes are ordered as in the bar file."""

    side: Side
    holes: tuple[Hole, ...]
    flat: Flat | None = None
    strength_scale: float = 1.0


@frozen
class Mount:
    """A bushing on the bar, its stiffnesses in the bar's own axes at rest, fixed in the car.

    `radial_stiffness_N_per_mm` is the bushing's own; `radial_total_N_per_mm` has the bracket in series. `contact` is
    how it lies on the bar (None: not said), `contact_factor` the file's own factor on the stress that fatigue sees.
    """

    station_mm: float
    from_middle_mm: float
    radial_stiffness_N_per_mm: float
    axial_stiffness_N_per_mm: float = 0.0
    torsional_stiffness_Nmm_per_rad: float = 0.0
    conical_stiffness_Nmm_per_rad: float = 0.0
    length_mm: float = 0.0
    bracket_stiffness_N_per_mm: float | None = None
    contact: Contact | None = None
    contact_factor: float | None = None

    @property
    def radial_total_N_per_mm(self) -> float:
        if self.bracket_stiffness_N_per_mm is None:
            return self.radial_stiffness_N_per_mm
        bushing, bracket = self.radial_stiffness_N_per_mm, self.bracket_stiffness_N_per_mm
        return bushing * bracket / (bushing + bracket)


@frozen
class Collar:
    """A collar or stop ring seated on the bar over `length_mm`; `factor` as a mount's `contact_factor`."""

    station_mm: float
    from_middle_mm: float
    length_mm: float
    kind: Literal["pressed", "clamped", "moulded"]
    factor: float | None = None


@frozen
class Link:
    """One side's link, its vectors already those of its own side.

    Either `length_mm` and `direction` (unit, joint at the bar to pickup, at rest: a hanging link), or `pickup_mm`.
    `axial_stiffness_N_per_mm` None means rigid.
    """

    side: Side
    length_mm: float | None = None
    direction: Vector | None = None
    pickup_mm: Vector | None = None
    axial_stiffness_N_per_mm: float | None = None
    length_error_mm: float = 0.0


@frozen
class Travel:
    """Pickup travel from rest. `direction` is the left pickup's unit vector; the right one has y reversed.

    `one_wheel_given` says that the bar file asked for the one-wheel case to be judged as well; so does a `parallel_mm`.
    """

    up_mm: float
    down_mm: float
    one_wheel_mm: float
    direction: Vector
    motion_ratio: float | None = None
    one_wheel_given: bool = False
    parallel_mm: float | None = None

    @property
    def alike(self) -> Travel:
        """Both ends moving as far, together as far as here: what a bench does, and a rate by hand is of."""
        mean = 0.5 * (self.up_mm + self.down_mm)
        return replace(self, up_mm=mean, down_mm=mean)

    def times(self, factor: float) -> Travel:
        """All of it so many times as far."""
        parallel = None if self.parallel_mm is None else factor * self.parallel_mm
        moves = {name: factor * getattr(self, name) for name in ("up_mm", "down_mm", "one_wheel_mm")}
        return replace(self, parallel_mm=parallel, **moves)

    @property
    def over_alike(self) -> float:
        """Rate in roll, each end over its own travel, over that of `alike`, of a bar with equal arms: 1 or more."""
        return (self.up_mm + self.down_mm) ** 2 / (4.0 * self.up_mm * self.down_mm)


@frozen
class Block:
    """`cycles` of pickup travel `pickup_mm`, other end at `ratio` times it; one list of blocks is one repeat."""

    pickup_mm: float
    cycles: float
    ratio: float = -1.0


@frozen
class Duty:
    """How often. With blocks `repeats` of them are the target, and `target_cycles` is one only where it was given."""

    target_cycles: float = 200_000.0
    ratio: float = -1.0
    blocks: tuple[Block, ...] = ()
    repeats: float = 1.0
    target_cycles_given: bool = True


@frozen
class Targets:
    yield_margin: float = 0.25
    survival: float = 0.90
    goodman_safety_factor: float | None = None
    critical_sum: float | None = None
    mean_stress: str = "goodman"


def drawing_words(drawing: str | None, revision: str | None) -> str:
    """The drawing's number and revision in words; empty where there is none."""
    return " ".join(filter(None, (drawing, revision and f"revision {revision}")))


@frozen(repr=False)
class Bar(Shown):
    """One bar, checked for everything that can be checked without solving it; it shows itself in a few lines.

    Lengths mm, forces N, stresses MPa, as the names say.
    `warnings` are things that can be solved but should not be made; `assumptions` are defaults and readings that
    the result must print. `tables` are those of the bar file as it was read, from which a changed bar can be made.
    """

    name: str
    steel: Steel
    section: Section
    centreline: Centreline
    right: End
    left: End
    mounts: tuple[Mount, ...]
    right_link: Link
    left_link: Link
    travel: Travel
    duty: Duty = Duty()
    targets: Targets = Targets()
    drawing: str | None = None
    revision: str | None = None
    source: str | None = None
    warnings: tuple[str, ...] = field(default=())
    assumptions: tuple[str, ...] = field(default=())
    collars: tuple[Collar, ...] = ()
    tables: Mapping[str, Any] | None = field(default=None, compare=False, repr=False)

    @property
    def ends(self) -> tuple[End, End]:
        """(right, left), in the order of stations."""
        return self.right, self.left

    @property
    def hole_pairs(self) -> tuple[tuple[int, int], ...]:
        """Holes, (left, right) by their numbers, that make hole settings: of equal name, in the left end's order.

        Ends whose holes share no names are paired in the order of the bar file.
        """
        left, right = self.left.holes, self.right.holes
        names = {hole.name: j for j, hole in enumerate(right)}
        by_name = tuple((i, names[hole.name]) for i, hole in enumerate(left) if hole.name in names)
        return by_name or tuple((i, i) for i in range(min(len(left), len(right))))

    @property
    def middle_mm(self) -> float:
        """Station of the middle of the developed length, from which `from_middle` is measured."""
        return 0.5 * self.centreline.length_mm
