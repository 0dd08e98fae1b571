"""Another section on the same bar: how it is written, what becomes of the flats, and what has to be said of it.

Flats go with the section, because they are forged or pressed from it:
- forged, on a body of the same kind: width and thickness in proportion to the outside diameter;
- pressed, on another tube: thickness in proportion to the wall (it stays as many walls thick as it was), width in
  proportion to the middle of the wall, D - t;
- a solid bar becomes a tube: its forged flats become pressed ones, two walls thick and as wide as a flattened tube is,
  pi (D - t) / 2 + t;
- a tube becomes a solid bar: its pressed flats become forged ones, as wide as before and with the area of the round.
Their length, transition and hole axis stay.
"""

from __future__ import annotations

import math
import re
from typing import Any, Literal

from barfem.model.bar import Bar, Section
from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.units import number
from barfem.study.change import rebuilt, tables_of

__all__ = ["Resized", "parse_section", "section_name", "with_section"]


_WRITTEN = re.compile(r"\s*(round|tube|)\s*([^x×*]+?)\s*(?:[x×*]\s*(.+?))?\s*", re.IGNORECASE)
_EXPECTED = '"round 24" or "tube 28x4.5" (outside diameter x wall, mm; or with a unit: "tube 1.125 in x 0.156 in").'


@frozen
class Resized:
    """A bar with another section, and what was done to it beside, a sentence each."""

    bar: Bar
    notes: tuple[str, ...]


def parse_section(text: str, *, where: str = "--section") -> Section:
    """A section as it is written on a command line: "round 24", "tube 28x4.5".

    Raises
    ------
    InputError
        Not a section, or a wall that leaves no bore.
    """
    match = _WRITTEN.fullmatch(text)
    if match is None:
        raise InputError(f"{text!r} is no section.", where=where, expected=_EXPECTED)
    kind, diameter, wall = match[1].lower(), match[2], match[3]
    if (kind == "round" and wall is not None) or (kind == "tube" and wall is None):
        problem = "a round has no wall" if kind == "round" else "a tube needs its wall"
        raise InputError(f"{text!r}: {problem}.", where=where, expected=_EXPECTED)
    outer = _length(diameter, text, where)
    if wall is None:
        return Section("round", outer)
    thick = _length(wall, text, where)
    if not 0.0 < thick < 0.5 * outer:
        raise InputError(
            f"{text!r}: a wall of {thick:g} mm does not fit into {outer:g} mm outside diameter.",
            where=where,
            expected=f"a wall above 0 and below {0.5 * outer:g} mm.",
        )
    return Section("tube", outer, thick)


def _length(written: str, text: str, where: str) -> float:
    try:
        value = number(float(written) if re.fullmatch(r"[\d.]+", written) else written, "length")
    except (InputError, ValueError) as error:
        raise InputError(f"{text!r} is no section.", where=where, expected=_EXPECTED) from error
    if value <= 0.0:
        raise InputError(f"{text!r}: a diameter of {value:g} mm is not possible.", where=where, expected=_EXPECTED)
    return value


def section_name(section: Section) -> str:
    """As it is written: "round 24", "tube 28 x 4.5"."""
    if section.wall_mm is None:
        return f"round {section.diameter_mm:.5g}"
    return f"tube {section.diameter_mm:.5g} x {section.wall_mm:.4g}"


def with_section(
    bar: Bar, section: Section, *, flats: Literal["scale", "keep"] = "scale", bent: str | None = None
) -> Resized:
    """The bar with another section on the same centreline; see the module for what becomes of its flats.

    Parameters
    ----------
    flats
        "keep" leaves width and thickness as they are where solid stays solid and tube stays tube.
    bent
        "before-hardening" or "after-hardening" for [material] bent, which a tube must say.

    Raises
    ------
    InputError
        The bar cannot be: a tube whose file does not say when it was bent, a bend too tight, a hole too wide.
    """
    tables = tables_of(bar)
    notes: list[str] = []
    old = bar.section
    table: dict[str, Any] = {"shape": section.shape, "diameter": section.diameter_mm}
    material = dict(tables["material"])
    if section.wall_mm is not None:
        table["wall"] = section.wall_mm
        for key in ("bend_wall", "ovality"):
            if key in tables["section"]:
                table[key] = tables["section"][key]
        if old.bend_walls_mm and old.wall_mm is not None:
            share = section.wall_mm / old.wall_mm
            walls = [
                {"outside": round(outside * share, 6), "inside": round(inside * share, 6)}
                for outside, inside in old.bend_walls_mm
            ]
            table["bend_walls"] = walls if isinstance(tables["section"]["bend_walls"], list) else walls[0]
            if (old.diameter_mm, old.wall_mm) != (section.diameter_mm, section.wall_mm):
                notes.append("The measured walls of its bends go with the wall; another tube bends otherwise: measure.")
        if bent is not None and "bent" not in material:
            material["bent"] = bent
        if "bent" not in material:
            raise InputError(
                f"{section_name(section)} on a bar whose file does not say when it is bent: a tube must.",
                where="[material] bent",
                expected='bent = "before-hardening" or "after-hardening" in the bar file, or --bent for this run.',
                file=bar.source,
            )
    elif material.pop("bore_surface", None) is not None:
        notes.append("[material] bore_surface goes: a solid bar has no bore.")
    if section.shape != old.shape:
        notes.append(
            f"The steel stays {bar.steel.grade} {bar.steel.condition}, as the file says; a "
            f"{'tube' if section.wall_mm is not None else 'bar'} may not be sold in it."
        )
    tables["section"], tables["material"] = table, material
    changes = _change_flats(tables, old, section, keep=flats == "keep")
    return Resized(rebuilt(bar, tables), (*notes, *changes))


def _change_flats(tables: dict[str, Any], old: Section, new: Section, *, keep: bool) -> list[str]:
    """Change every [ends] flat in place; what was done, in words."""
    ends = tables["ends"]
    kinds = [end["flat"]["kind"] for end in _ends(ends) if "kind" in end.get("flat", {})]
    notes: list[str] = []
    for end in _ends(ends):
        if "flat" not in end:
            continue
        flat = dict(end["flat"])
        kind = flat.get("kind", kinds[0] if kinds else "forged")
        width, thickness = (number(flat[key], "length") if key in flat else None for key in ("width", "thickness"))
        if kind == "forged" and old.wall_mm is None and new.wall_mm is not None:
            changed = {"thickness": 2.0 * new.wall_mm, "width": _flattened_mm(new)}
            notes.append("Its forged flats become pressed ones: two walls thick, as wide as the flattened tube.")
            flat["kind"] = "pressed"
        elif kind == "pressed" and new.wall_mm is None:
            wide = width or _flattened_mm(old)
            changed = {"width": wide, "thickness": 0.25 * math.pi * new.diameter_mm**2 / wide}
            notes.append("Its pressed flats become forged ones: as wide as before, with the area of the round.")
            flat["kind"] = "forged"
        elif keep:
            continue
        else:
            changed = _in_proportion(kind, old, new, width, thickness)
            if kind == "pressed":
                notes.append("Pressed flats go with the tube: thickness with the wall, width with D - t.")
            else:
                notes.append("Forged flats go with the section: width and thickness with the diameter.")
        # A side's own flat may give a few keys alone; the others are those of [ends.flat].
        flat |= {key: round(value, 3) for key, value in changed.items() if key in flat or "kind" in flat}
        end["flat"] = flat
    return list(dict.fromkeys(notes)) if (old.diameter_mm, old.wall_mm) != (new.diameter_mm, new.wall_mm) else []


def _ends(ends: dict[str, Any]) -> list[dict[str, Any]]:
    """[ends] and its side tables, those that are there."""
    return [ends, *(ends[side] for side in ("right", "left") if isinstance(ends.get(side), dict))]


def _in_proportion(
    kind: str, old: Section, new: Section, width: float | None, thickness: float | None
) -> dict[str, float]:
    across = new.diameter_mm / old.diameter_mm
    through = across
    if kind == "pressed" and old.wall_mm is not None and new.wall_mm is not None:
        across = (new.diameter_mm - new.wall_mm) / (old.diameter_mm - old.wall_mm)
        through = new.wall_mm / old.wall_mm
    given = {"width": (width, across), "thickness": (thickness, through)}
    return {key: value * factor for key, (value, factor) in given.items() if value is not None}


def _flattened_mm(section: Section) -> float:
    """Width of a tube pressed flat, folded edges included: the middle of its wall keeps its length."""
    wall = section.wall_mm or 0.0
    return 0.5 * math.pi * (section.diameter_mm - wall) + wall
