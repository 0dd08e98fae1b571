"""The centreline from whichever of [centreline], [arms] and [bends] the file gives."""

from __future__ import annotations

from typing import Any

from barfem.model.arms import Crank, arm_points
from barfem.model.bar import Section
from barfem.model.bend_rows import rows_centreline
from barfem.model.centreline import Centreline
from barfem.model.errors import InputError
from barfem.model.grouped import counted
from barfem.model.makeability import SMALLEST_RADIUS
from barfem.model.notes import Notes
from barfem.model.points import STRAIGHT_DEG, polyline, polyline_centreline
from barfem.model.schema import ArmsTable, BarFile, BendsTable, CentrelineTable
from barfem.model.warned import Effect

__all__ = ["read_centreline"]

LONGEST_MM = 6000.0
"""Along the centreline; bars of lorries have 2 500 (common practice, no source)."""


def read_centreline(file: BarFile, *, section: Section, notes: Notes) -> Centreline:
    """Exactly one of the three forms, as straights and true arcs from the right tip.

    Raises
    ------
    InputError
        No form or more than one, or a shape that cannot be.
    """
    forms = [name for name in ("centreline", "arms", "bends") if getattr(file, name) is not None]
    if len(forms) != 1:
        tables = " and ".join(f"[{name}]" for name in forms)
        raise InputError(
            f"{tables} are given: a bar has one centreline." if forms else "no centreline is given.",
            where=tables or "[centreline]",
            expected="exactly one of [centreline] (points), [arms] (drawing dimensions) and [bends] (bender's rows).",
        )
    try:
        if file.centreline is not None:
            centreline = _from_points(file.centreline, notes)
        elif file.arms is not None:
            centreline = _from_arms(file.arms, notes)
        else:
            centreline = _from_rows(file.bends, notes)  # type: ignore[arg-type]
    except InputError as error:
        where = f"[{forms[0]}]" + (f" {error.where}" if error.where else "")
        raise InputError(error.problem, where=where, expected=error.expected) from error
    _refuse_longer_than_a_car(centreline, file)
    _refuse_tight_bends(
        centreline, section, where=f"[{forms[0]}] {'rows' if file.bends is not None else 'bend_radius'}"
    )
    ends, _ = centreline.evaluate([0.0, centreline.length_mm])
    if not ends[0, 1] < ends[1, 1]:
        raise InputError(
            f"the right tip lies at y = {ends[0, 1]:g} mm, the left tip at y = {ends[1, 1]:g} mm; left is positive.",
            where=f"[{forms[0]}]" + (" points" if file.centreline is not None else ""),
            expected="the tip with the smaller y as the right one: list the points the other way round."
            if file.centreline is not None
            else "start_tip naming the tip at which the rows start, in axes with y to the left.",
        )
    return centreline


def _refuse_longer_than_a_car(centreline: Centreline, file: BarFile) -> None:
    """Numbers that each could be a bar's may make none together: what is a slip is not solved for minutes."""
    if centreline.length_mm <= LONGEST_MM:
        return
    if file.arms is not None:
        arms, crank = file.arms, file.arms.crank
        sizes = {"width": arms.width, "length": arms.length, "rise": arms.rise}
        sizes |= {} if crank is None else {"crank x": crank.x, "crank z": crank.z}
        name = max(sizes, key=lambda key: abs(sizes[key]))
        key, _, part = name.partition(" ")
        where, what = f"[arms] {key}", f"{part or key} = {sizes[name]:g} mm makes"
    else:
        where = "[centreline] points" if file.centreline is not None else "[bends] rows"
        longest = max(centreline.segments, key=lambda segment: segment.length_mm)
        what = f"{f'bend {longest.bend}' if longest.bend else 'a straight'} of {longest.length_mm:.0f} mm makes"
    raise InputError(
        f"{what} a bar {centreline.length_mm:.0f} mm long along its centreline.",
        where=where,
        expected=f"at most {LONGEST_MM:g} mm, more than a car is long; is the point right, and the unit?",
    )


def _refuse_tight_bends(centreline: Centreline, section: Section, *, where: str) -> None:
    own = 0.5 * section.diameter_mm
    for bend in centreline.bends:
        if bend.radius_mm is not None and bend.radius_mm <= own:
            raise InputError(
                f"bend {bend.bend} has a radius of {bend.radius_mm:g} mm, not above the bar's own {own:g} mm: its "
                "inside would fold.",
                where=where,
                expected=f"a centreline radius above {own:g} mm; from {SMALLEST_RADIUS[section.shape] * 2 * own:g} mm "
                "it can be made.",
            )


def _from_points(table: CentrelineTable, notes: Notes) -> Centreline:
    if table.bend_radius is None and len(table.points) > 2:
        raise InputError(
            "bend_radius is missing.",
            where="bend_radius",
            expected="bend_radius = 48.0, or one for each interior point.",
        )
    radii: Any = () if table.bend_radius is None else table.bend_radius
    line = polyline(points_mm=table.points, bend_radii_mm=radii)
    for number in line.straight_points:
        notes.warn(
            f"[centreline] point {number} lies on a straight (a corner below {STRAIGHT_DEG:g} deg): read as no bend.",
            Effect.NOTHING_IF_MEANT,
        )
    return polyline_centreline(points_mm=table.points, bend_radii_mm=radii)


def _from_arms(table: ArmsTable, notes: Notes) -> Centreline:
    crank = None
    notes.assume("[arms] puts the origin in the middle of the axis of the bar's mounts, x forward and z up.")
    if table.crank is not None:
        crank = Crank(table.crank.x, table.crank.z, table.crank.inner, table.crank.outer)
        notes.assume("[arms] length and rise are measured from the axis outside the crank, where mounts usually sit.")
    points = arm_points(
        width_mm=table.width, length_mm=table.length, splay_deg=table.splay, rise_mm=table.rise, crank=crank
    )
    return polyline_centreline(points_mm=points, bend_radii_mm=table.bend_radius)


def _from_rows(table: BendsTable, notes: Notes) -> Centreline:
    centreline = rows_centreline(
        table.rows,
        start_tip=table.start_tip,
        start_mm=table.start,
        direction=table.direction,
        first_bend_towards=table.first_bend_towards,
    )
    dropped = len(table.rows) - 1 - len(centreline.bends)
    if dropped:
        words = f"[bends] {counted(dropped, 'row')} below {STRAIGHT_DEG:g} deg of bend: read as straight."
        notes.warn(words, Effect.NOTHING_IF_MEANT)
    return centreline
