"""Bars that differ from their drawing within its bands, made from it directly: what a drawing checks is checked here.

The reader of bar files is not asked again (it would take longer than is left for the rest); what it would refuse is
refused here, and tests hold both against each other.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar, Collar, End, Flat, Hole, Mount, Section, Vector
from barfem.model.bar_geometry import end_straight_mm
from barfem.model.bent_wall_reading import refuse_a_filled_bore
from barfem.model.centreline import Centreline
from barfem.model.collars import mount_beside
from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.material import Steel
from barfem.model.skin import DEEPEST_DECARBURISED_MM
from barfem.study.bands import Variable
from barfem.study.tolerance_shape import RowErrors, Skeleton, shapes, skeleton_of

__all__ = ["BarMaker"]

Array = NDArray[np.float64]


@frozen
class BarMaker:
    """Makes bars of one drawing from the deviations of its variables."""

    bar: Bar
    variables: tuple[Variable, ...]

    @cached_property
    def skeleton(self) -> Skeleton:
        return skeleton_of(self.bar)

    def made(self, deviations: Array) -> list[Bar | InputError]:
        """Bars of deviations (n, v) in the variables' order; where there can be no such bar, the error that says so."""
        take = self._taker(deviations)
        bends = len(self.skeleton.radius_mm)
        laid = shapes(
            self.skeleton,
            RowErrors(
                straight_mm=take("straight_length", bends + 1),
                radius_mm=take("bend_radius", bends),
                angle_rad=np.radians(take("bend_angle", bends)),
                rotation_rad=np.radians(take("bend_rotation", max(bends - 1, 0))),
                tip_mm=take("tip_position", 4),
            ),
        )
        holes = take("hole_position", sum(len(end.holes) for end in self.bar.ends))
        flats = np.stack([take("flat_thickness", 2), take("flat_width", 2)], axis=2)
        mounts = np.stack([take(key, len(self.bar.mounts)) for key in ("mount_position", "mount_stiffness")], axis=2)
        body = np.concatenate([take("diameter", 1), take("wall", 1)], axis=1)
        steel = np.concatenate(
            [take(key, 1) for key in ("E", "tensile_strength", "yield_ratio", "decarburised_depth")], axis=1
        )
        out: list[Bar | InputError] = []
        for i, centreline in enumerate(laid.centrelines):
            try:
                if centreline is None:
                    raise InputError("a straight between its bends has no length left.")
                section = _section(self.bar.section, *body[i].tolist())
                made = replace(
                    self.bar,
                    section=section,
                    steel=_steel(self.bar.steel, *steel[i].tolist()),
                    centreline=centreline,
                    right=self._end(0, centreline, holes[i], flats[i], laid.turned[i, 0]),
                    left=self._end(1, centreline, holes[i], flats[i], laid.turned[i, 1]),
                    mounts=self._mounts(centreline, float(laid.middle_station_mm[i]), mounts[i]),
                )
                made = replace(made, collars=self._collars(made))
                made = _flats_before_bends(made)
                _refuse_what_cannot_be(made)
            except InputError as error:
                out.append(error)
            else:
                out.append(made)
        return out

    def _taker(self, deviations: Array) -> Callable[[str, int], Array]:
        def take(key: str, count: int) -> Array:
            """Deviations (n, count) of the key, zero where the drawing's own value holds."""
            out = np.zeros((len(deviations), count))
            for column, variable in enumerate(self.variables):
                if variable.key == key:
                    out[:, variable.index] = deviations[:, column]
            return out

        return take

    def _end(self, number: int, centreline: Centreline, errors: Array, flats: Array, turned: Array) -> End:
        end = self.bar.ends[number]
        first = 0 if number == 0 else len(self.bar.right.holes)
        flat = (
            end.flat if end.flat is None else _flat(end.flat, float(flats[number, 0]), float(flats[number, 1]), turned)
        )
        holes = tuple(
            _hole(hole, float(errors[first + i]), end.side, centreline.length_mm, turned)
            for i, hole in enumerate(end.holes)
        )
        return End(end.side, holes, flat, end.strength_scale)

    def _mounts(self, centreline: Centreline, middle_mm: float, errors: Array) -> tuple[Mount, ...]:
        """Mounts keep their distance from the drawing's middle, as the car has them there."""
        from_new_middle = middle_mm - 0.5 * centreline.length_mm
        return tuple(
            _mount(mount, mount.from_middle_mm + moved + from_new_middle, 0.5 * centreline.length_mm, stiffer)
            for mount, (moved, stiffer) in zip(self.bar.mounts, errors.tolist(), strict=True)
        )

    def _collars(self, made: Bar) -> tuple[Collar, ...]:
        """Collars keep their distance from the mount beside them, as they are fitted to it."""
        middle, out = 0.5 * made.centreline.length_mm, []
        for collar in self.bar.collars:
            i = mount_beside(collar.from_middle_mm, self.bar.mounts)
            moved = made.mounts[i].from_middle_mm - self.bar.mounts[i].from_middle_mm
            from_middle = collar.from_middle_mm + moved
            out.append(replace(collar, station_mm=middle + from_middle, from_middle_mm=from_middle))
        return tuple(out)


def _section(section: Section, diameter: float, wall: float) -> Section:
    """Measured walls of bends go with the wall as delivered."""
    share = 1.0 if section.wall_mm is None else 1.0 + wall / section.wall_mm
    return replace(
        section,
        diameter_mm=section.diameter_mm + diameter,
        wall_mm=None if section.wall_mm is None else section.wall_mm + wall,
        bend_walls_mm=tuple((outside * share, inside * share) for outside, inside in section.bend_walls_mm),
    )


def _steel(steel: Steel, E: float, tensile: float, yield_ratio: float, depth: float) -> Steel:
    """Yield strength goes with tensile strength, as both go with hardness, and its ratio to it varies beside."""
    strong = steel.tensile_strength_MPa + tensile
    ratio = min(steel.yield_strength_MPa / steel.tensile_strength_MPa * (1.0 + yield_ratio), 1.0)
    stated = steel.decarburised_depth_mm
    skin = max((stated or 0.0) + depth, 0.0)
    if skin > DEEPEST_DECARBURISED_MM:
        raise InputError(f"its decarburised depth, {skin:.3g} mm, is beyond what its model holds for.")
    return replace(
        steel,
        E_MPa=steel.E_MPa * (1.0 + E),
        tensile_strength_MPa=strong,
        yield_strength_MPa=ratio * strong,
        decarburised_depth_mm=None if stated is None and depth == 0.0 else skin,
    )


def _hole(hole: Hole, error: float, side: str, length: float, turned: Array) -> Hole:
    from_tip = max(hole.from_tip_mm + error, 0.0)
    return Hole(
        hole.name,
        from_tip,
        from_tip if side == "right" else length - from_tip,
        hole.diameter_mm,
        _turned(hole.offset_mm, turned) if any(hole.offset_mm) else hole.offset_mm,
    )


def _flat(flat: Flat, thickness: float, width: float, turned: Array) -> Flat:
    return replace(
        flat,
        thickness_mm=flat.thickness_mm + thickness,
        width_mm=flat.width_mm + width,
        normal=_turned(flat.normal, turned),
    )


def _mount(mount: Mount, from_middle: float, middle: float, stiffer: float) -> Mount:
    factor = 1.0 + stiffer
    return replace(
        mount,
        station_mm=middle + from_middle,
        from_middle_mm=from_middle,
        radial_stiffness_N_per_mm=mount.radial_stiffness_N_per_mm * factor,
        axial_stiffness_N_per_mm=mount.axial_stiffness_N_per_mm * factor,
        torsional_stiffness_Nmm_per_rad=mount.torsional_stiffness_Nmm_per_rad * factor,
        conical_stiffness_Nmm_per_rad=mount.conical_stiffness_Nmm_per_rad * factor,
    )


def _turned(vector: Vector, turned: Array) -> Vector:
    x, y, z = (np.array(vector) @ turned).tolist()
    return x, y, z


def _flats_before_bends(bar: Bar) -> Bar:
    """A flat as long as its straight ends where a shorter straight does: the bend is made first, or stops the die."""
    ends: dict[str, End] = {}
    for end in bar.ends:
        if end.flat is None or not bar.centreline.bends:
            continue
        over = end.flat.length_mm - end_straight_mm(bar, end)
        if over > 0.0:
            shorter = replace(
                end.flat,
                length_mm=end.flat.length_mm - over,
                transition_mm=max(end.flat.transition_mm - over, 0.0),
            )
            ends[end.side] = replace(end, flat=shorter)
    return replace(bar, right=ends.get("right", bar.right), left=ends.get("left", bar.left)) if ends else bar


def _refuse_what_cannot_be(bar: Bar) -> None:
    """What the reader of bar files refuses and a deviation can bring about."""
    section = bar.section
    if section.wall_mm is not None and not 0.0 < section.wall_mm < 0.5 * section.diameter_mm:
        raise InputError(f"its wall, {section.wall_mm:.4g} mm, does not fit its diameter.")
    for bend in bar.centreline.bends:
        if bend.radius_mm is not None and bend.radius_mm <= 0.5 * section.diameter_mm:
            raise InputError(f"bend {bend.bend} has a radius, {bend.radius_mm:.4g} mm, not above the bar's own.")
    refuse_a_filled_bore(section)
    for end in bar.ends:
        flat = end.flat
        if flat is not None and not 0.0 < flat.thickness_mm <= flat.width_mm:
            raise InputError(f"the {end.side} flat is {flat.thickness_mm:.4g} mm thick, {flat.width_mm:.4g} wide.")
        drilled = sorted((h.from_tip_mm, h.diameter_mm) for h in end.holes if h.diameter_mm is not None)
        for (one, across), (two, other) in itertools.pairwise(drilled):
            if 0.0 < two - one < 0.5 * (across + other):
                raise InputError(f"two holes of the {end.side} end run into each other.")
    order = sorted(bar.mounts, key=lambda mount: mount.station_mm)
    for mount in order:
        half = 0.5 * mount.length_mm
        if mount.station_mm < half - 1e-9 or mount.station_mm > bar.centreline.length_mm - half + 1e-9:
            raise InputError("a mount lies off the bar.")
    for collar in bar.collars:
        if abs(collar.from_middle_mm) > 0.5 * (bar.centreline.length_mm - collar.length_mm):
            raise InputError("a collar lies off the bar.")
    for mount, following in itertools.pairwise(order):
        if following.station_mm - mount.station_mm < 0.5 * (mount.length_mm + following.length_mm) - 1e-6:
            raise InputError("two mounts overlap.")
