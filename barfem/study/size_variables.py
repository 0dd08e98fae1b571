"""What `size` may turn: section, arms, mount span. Each makes the bar for a factor on its length."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, Literal

from barfem.model.bar import Bar
from barfem.model.collars import mount_beside
from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.units import number
from barfem.study.change import rebuilt, tables_of
from barfem.study.resize import scaled
from barfem.study.sections import section_name, with_section

__all__ = ["SIZE_VARIABLES", "SizeVariable", "size_variable_of"]

SIZE_VARIABLES = ("section", "arm", "span")

ROUNDED_MM = 1.0


@frozen
class SizeVariable:
    """One thing to turn.

    Attributes
    ----------
    make
        The bar for a factor on the thing's length (1: as the file has it); raises InputError where it cannot be.
    name
        The thing in words for a factor.
    rounded
        The nearest factor that a drawing would show.
    step
        One step of that rounding, as a factor; zero where nothing is rounded.
    rate_slope
        About d ln(rate) / d ln(factor), to start a search with.
    notes
        What has to be said of it.
    """

    make: Callable[[float], Bar]
    name: Callable[[float], str]
    rounded: Callable[[float], float]
    step: float
    rate_slope: float
    notes: tuple[str, ...] = ()


def size_variable_of(bar: Bar, what: str, *, flats: Literal["scale", "keep"] = "scale") -> SizeVariable:
    """The variable called `what` (of `SIZE_VARIABLES`) of a bar.

    Raises
    ------
    InputError
        No such variable, or one that this bar does not have.
    """
    if what == "section":
        return _section(bar, flats)
    if what == "arm":
        return _arm(bar)
    if what == "span":
        return _span(bar)
    raise InputError(
        f"there is nothing called {what!r} to vary.", where="--vary", expected=", ".join(SIZE_VARIABLES) + "."
    )


def _section(bar: Bar, flats: Literal["scale", "keep"]) -> SizeVariable:
    section = bar.section
    notes = () if section.wall_mm is None else ("The wall goes in proportion to the outside diameter.",)
    return SizeVariable(
        make=lambda factor: with_section(bar, scaled(section, factor), flats=flats).bar,
        name=lambda factor: section_name(scaled(section, factor)),
        rounded=lambda factor: factor,
        step=0.0,
        rate_slope=4.0,
        notes=notes,
    )


def _arm(bar: Bar) -> SizeVariable:
    """Both arms longer by one amount at their tips, so that the middle and the mounts stay where they are."""
    tables = tables_of(bar)
    lengths = _tip_lengths(tables)
    mean = sum(lengths) / len(lengths)

    def make(factor: float) -> Bar:
        changed = tables_of(bar)
        _lengthen(changed, (factor - 1.0) * mean)
        return rebuilt(bar, changed)

    meant = {
        "arms": "[arms] length, middle axis to cut end",
        "centreline": "corner to tip",
        "bends": "the straight at the tip, up to its bend",
    }
    key = next(name for name in meant if name in tables)
    notes = [
        f"Arm: {meant[key]}{'' if len(set(lengths)) == 1 else ', the mean of both sides'}. Both tips move, and the "
        "holes keep their distance from them."
    ]
    if any(link.pickup_mm is not None for link in (bar.left_link, bar.right_link)):
        notes.append("The pickups stay where the bar file has them: the links lean as the holes move.")
    return SizeVariable(
        make=make,
        name=lambda factor: f"arm {factor * mean:.5g} mm",
        rounded=lambda factor: round(factor * mean / ROUNDED_MM) * ROUNDED_MM / mean,
        step=ROUNDED_MM / mean,
        rate_slope=-2.0,
        notes=tuple(notes),
    )


def _tip_lengths(tables: dict[str, Any]) -> list[float]:
    """What is lengthened: [arms] length, or the first and last straight as the file gives them."""
    if "arms" in tables:
        return [abs(number(tables["arms"]["length"], "length"))]
    if "centreline" in tables:
        points = [[number(x, "length") for x in point] for point in tables["centreline"]["points"]]
        return [math.dist(points[0], points[1]), math.dist(points[-1], points[-2])]
    rows = tables["bends"]["rows"]
    return [number(rows[0][0], "length"), number(rows[-1][0], "length")]


def _lengthen(tables: dict[str, Any], by_mm: float) -> None:
    """Move both tips outwards along their straights, in place."""
    if "arms" in tables:
        length = number(tables["arms"]["length"], "length")
        # Positive is rearward: an arm that points forward grows the other way.
        tables["arms"]["length"] = _tidy(length * (1.0 + by_mm / abs(length)))
    elif "centreline" in tables:
        points = tables["centreline"]["points"]
        for tip, corner in ((0, 1), (-1, -2)):
            one, two = ([number(x, "length") for x in points[i]] for i in (tip, corner))
            share = 1.0 + by_mm / math.dist(one, two)
            points[tip] = [_tidy(b + (a - b) * share) for a, b in zip(one, two, strict=True)]
    else:
        bends = tables["bends"]
        rows = bends["rows"]
        for row in (rows[0], rows[-1]):
            row[0] = _tidy(number(row[0], "length") + by_mm)
        way = [number(x, "plain") for x in bends["direction"]]
        size = math.hypot(*way)
        start = [number(x, "length") for x in bends["start"]]
        bends["start"] = [_tidy(a - by_mm * b / size) for a, b in zip(start, way, strict=True)]


def _tidy(value: float) -> float:
    return round(value, 6) + 0.0


def _span(bar: Bar) -> SizeVariable:
    """All mounts moved in proportion to their distance from the middle of the bar, along it.

    Where the file gives all by y: from midway between the two outermost, across the car, wherever its y begins. A
    collar keeps its distance from the mount beside it.
    """
    given = tables_of(bar)["mounts"]
    across = all("y" in mount for mount in given)
    places = [number(mount["y"], "length") for mount in given] if across else [m.from_middle_mm for m in bar.mounts]
    middle = 0.5 * (min(places) + max(places)) if across else 0.0
    outermost = max(abs(place - middle) for place in places)

    def make(factor: float) -> Bar:
        tables = tables_of(bar)
        for mount, place in zip(tables["mounts"], places, strict=True):
            mount.pop("y", None)
            mount["y" if across else "from_middle"] = _tidy(middle + (place - middle) * factor)
        if tables.get("collars"):
            moved = rebuilt(bar, {**tables, "collars": []}).mounts
            for collar in tables["collars"]:
                from_middle = number(collar["from_middle"], "length")
                i = mount_beside(from_middle, bar.mounts)
                collar["from_middle"] = _tidy(from_middle + moved[i].from_middle_mm - bar.mounts[i].from_middle_mm)
        return rebuilt(bar, tables)

    what = (
        "half of what lies between the two outermost across the car, in y"
        if across
        else "the outermost one from the middle of the bar, along it"
    )
    return SizeVariable(
        make=make,
        name=lambda factor: f"mounts at {factor * outermost:.5g} mm",
        rounded=lambda factor: round(factor * outermost / ROUNDED_MM) * ROUNDED_MM / outermost,
        step=ROUNDED_MM / outermost,
        rate_slope=0.7,
        notes=(
            f"Mounts at: {what}; all move in proportion.",
            *(["Each collar goes with the mount beside it."] if bar.collars else []),
        ),
    )
