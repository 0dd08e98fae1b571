"""What can be changed on the page: a control for each key of the bar file that a designer moves, with a sensible range.

Ranges are those over which a bar of this kind is tuned, about the file's own value (common practice, no source); a
typed number may lie outside, and the reader of the bar file judges it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from typing import Any

from barfem.model.bar import Targets
from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.schema import BarFile
from barfem.model.surfaces import SURFACES
from barfem.model.units import UNITS, number
from barfem.page.session import Session

__all__ = ["field_at", "fields_of"]

Tables = Mapping[str, Any]


@frozen
class Control:
    """Keys that match `path` (* is every entry of a list), and how they are moved.

    `low` and `high` are shares of the file's value; with `span` they are its value less and plus that. `log` sliders
    run over decades. Words have `choices` instead.
    """

    path: str
    group: str
    label: str
    kind: str = "length"
    low: float = 0.6
    high: float = 1.6
    span: float | None = None
    step: float = 0.5
    log: bool = False
    least: float = -math.inf


WORDS = "words"
MOUNT, LINK = "Bushings", "Links"

CONTROLS: tuple[Control, ...] = (
    Control("section.diameter", "Section", "Outside diameter", low=0.7, high=1.5, step=0.1),
    Control("section.wall", "Section", "Wall", low=0.5, high=1.8, step=0.05),
    Control("arms.width", "Shape", "Width, cut end to cut end", low=0.8, high=1.2, step=1.0),
    Control("arms.length", "Shape", "Arm length", low=0.6, high=1.5, step=1.0),
    Control("arms.bend_radius", "Shape", "Bend radius", low=0.6, high=2.0, step=1.0),
    Control("arms.rise", "Shape", "Rise of the tips", span=100.0, step=1.0),
    Control("arms.splay", "Shape", "Splay", "angle", span=15.0, step=0.5),
    Control("arms.crank.x", "Shape", "Crank forward", span=60.0, step=1.0),
    Control("arms.crank.z", "Shape", "Crank up", span=60.0, step=1.0),
    Control("centreline.points.*.1", "Shape", "Point {1}, x", span=120.0, step=1.0),
    Control("centreline.points.*.2", "Shape", "Point {1}, y", span=120.0, step=1.0),
    Control("centreline.points.*.3", "Shape", "Point {1}, z", span=120.0, step=1.0),
    Control("centreline.bend_radius", "Shape", "Bend radius", low=0.6, high=2.0, step=1.0),
    Control("bends.rows.*.1", "Shape", "Row {1}, length", low=0.6, high=1.5, step=0.5),
    Control("bends.rows.*.2", "Shape", "Row {1}, rotation", "angle", span=30.0, step=0.5),
    Control("bends.rows.*.3", "Shape", "Row {1}, angle", "angle", span=30.0, step=0.5),
    Control("bends.rows.*.4", "Shape", "Row {1}, radius", low=0.6, high=1.8, step=1.0),
    Control("ends.holes.*.from_tip", "Holes and ends", "Hole {name}, from the cut end", span=30.0, least=0.0),
    Control("ends.right.holes.*.from_tip", "Holes and ends", "Right hole {name}", span=30.0, least=0.0),
    Control("ends.left.holes.*.from_tip", "Holes and ends", "Left hole {name}", span=30.0, least=0.0),
    Control("ends.flat.thickness", "Holes and ends", "Flat, thickness", step=0.1),
    Control("ends.flat.width", "Holes and ends", "Flat, width"),
    Control("ends.flat.length", "Holes and ends", "Flat, length with transition", low=0.7, high=1.5),
    Control("travel.pickup", "Travel", "Pickup, up and down", low=0.3, high=1.6),
    Control("travel.wheel", "Travel", "Wheel, up and down", low=0.3, high=1.6),
    Control("travel.motion_ratio", "Travel", "Motion ratio", "plain", low=0.6, high=1.5, step=0.01),
    Control("travel.up", "Travel", "Up", low=0.3, high=1.6),
    Control("travel.down", "Travel", "Down", low=0.3, high=1.6),
    Control("travel.one_wheel", "Travel", "One wheel alone", low=0.3, high=1.6),
    Control("travel.parallel", "Travel", "Both together", low=0.3, high=1.6),
    Control("material.grade", "Steel and skin", "Steel", WORDS),
    Control("material.condition", "Steel and skin", "Condition", WORDS),
    Control("material.surface", "Steel and skin", "Finish", WORDS),
    Control("material.peening", "Steel and skin", "Peening", WORDS),
    Control("material.bore_surface", "Steel and skin", "Finish of the bore", WORDS),
    Control("material.bent", "Steel and skin", "Bent", WORDS),
    Control("mounts.*.from_middle", MOUNT, "Bushing {1}, from the middle", span=80.0, step=1.0),
    Control("mounts.*.y", MOUNT, "Bushing {1}, y", span=80.0, step=1.0),
    Control("mounts.*.radial_stiffness", MOUNT, "Stiffness across", "force per length", 0.1, 10.0, log=True),
    Control("mounts.*.axial_stiffness", MOUNT, "Stiffness along", "force per length", 0.1, 10.0, log=True),
    Control("mounts.*.torsional_stiffness", MOUNT, "Stiffness in turning", "torsional stiffness", 0.1, 10.0, log=True),
    Control("mounts.*.bracket_stiffness", MOUNT, "Bracket stiffness", "force per length", 0.1, 10.0, log=True),
    Control("mounts.*.length", MOUNT, "Length of rubber", low=0.4, high=2.0, step=1.0),
    Control("links.length", LINK, "Length", low=0.5, high=1.8, step=1.0),
    Control("links.direction.1", LINK, "Leans forward (x, for z = -1)", "plain", span=0.5, step=0.01),
    Control("links.direction.2", LINK, "Leans to the left (y)", "plain", span=0.5, step=0.01),
    Control("links.pickup.1", LINK, "Pickup x", span=80.0, step=1.0),
    Control("links.pickup.2", LINK, "Pickup y", span=80.0, step=1.0),
    Control("links.pickup.3", LINK, "Pickup z", span=80.0, step=1.0),
    Control("links.axial_stiffness", LINK, "Stiffness", "force per length", 0.1, 10.0, log=True),
    Control("links.length_error", LINK, "Too long by", span=5.0, step=0.1),
    Control("duty.target_cycles", "Targets", "Cycles it must last", "plain", 0.1, 10.0, log=True),
    Control("targets.yield_margin", "Targets", "Yield margin", "plain", span=0.5, step=0.05, least=0.0),
    Control("targets.survival", "Targets", "Survival", "plain", low=0.9, high=1.1, step=0.01),
)
DEFAULTS: dict[str, Any] = {
    "material.surface": "as-hardened-scaled", "material.peening": "none", "links.length_error": 0.0,
    "arms.rise": 0.0, "arms.splay": 0.0,
    "targets.yield_margin": Targets.yield_margin, "targets.survival": Targets.survival,
}  # fmt: skip
"""Keys that a file may leave out and a designer still moves, with what then holds."""

FROM_NOTHING = {"force per length": 2000.0, "torsional stiffness": 500_000.0}
"""How far a slider over decades goes in the control's unit where the file says 0 (common practice, no source)."""


def fields_of(session: Session, tables: Tables) -> list[dict[str, Any]]:
    """Every control of a bar's tables, with its value there and in the file.

    `key` is the bar file's; `also` are keys that move with it, with a factor: bushings that mirror each other. `value`
    is as it stands there, `at` as a number in `unit`; ranges are in `unit`, those of `log` controls decades.
    """
    base = session.bar.tables or {}
    found: list[dict[str, Any]] = []
    for control in CONTROLS:
        made = [
            _field(control, place, key, tables, base, session)
            for place, key in _there(tables, control.path.split("."), control.path in DEFAULTS)
        ]
        found += _together([each for each in made if each is not None])
    # Point by point and row by row, not all x first.
    order = {group: i for i, group in enumerate(dict.fromkeys(map(_group, found)))}
    return sorted(found, key=lambda each: order[_group(each)])


def _group(field: Mapping[str, Any]) -> str:
    key = str(field["key"])
    return key.rpartition(".")[0] if key.startswith(("centreline.points.", "bends.rows.")) else field["group"]


def field_at(fields: Sequence[Mapping[str, Any]], where: str) -> str | None:
    """The key of the control that an error's place names: "[[mounts]] 2, length" is mounts.2.length."""
    text = where.replace("[", " ").replace("]", " ").replace(",", " ").replace(".", " ")
    words = [word for word in text.split() if word]
    if not words:
        return None
    best: tuple[int, str | None] = (1, None)
    for each in fields:
        for place in (each["key"], *each["places"]):
            parts = place.split(".")
            same = 0
            while same < min(len(parts), len(words)) and parts[same] in (words[same], "*"):
                same += 1
            if same > best[0]:
                best = (same, each["key"])
    return best[1]


def _there(tables: Any, parts: list[str], made: bool, place: str = "", key: str = "") -> Iterator[tuple[str, str]]:
    """(place by numbers, key as the page names it) of what `parts` finds in the tables."""
    if not parts:
        yield place, key
        return
    part, rest = parts[0], parts[1:]

    def on(into: Any, at: str, name: str) -> Iterator[tuple[str, str]]:
        return _there(into, rest, made, f"{place}.{at}".lstrip("."), f"{key}.{name}".lstrip("."))

    if isinstance(tables, Mapping):
        if part in tables or (made and (not rest or part == "targets")):  # no bar file must have that table
            yield from on(tables.get(part, {}), part, part)
    elif isinstance(tables, list):
        numbers = range(1, len(tables) + 1) if part == "*" else [int(part)] if part.isdecimal() else []
        for i in numbers:
            if i <= len(tables):
                entry = tables[i - 1]
                name = str(entry.get("name", "")) if isinstance(entry, Mapping) else ""
                plain = bool(name) and "." not in name and name != "*"  # a name is looked for before a number
                yield from on(entry, str(i), name if plain else str(i))


def value_at(tables: Any, place: str) -> Any:
    """What stands at a place by numbers; None where nothing does."""
    for part in place.split("."):
        if isinstance(tables, Mapping):
            tables = tables.get(part)
        elif isinstance(tables, list) and part.isdecimal() and 1 <= int(part) <= len(tables):
            tables = tables[int(part) - 1]
        else:
            return None
    return tables


def _field(
    control: Control, place: str, key: str, tables: Tables, base: Tables, session: Session
) -> dict[str, Any] | None:
    value, was = (_value_at(each, place, control.path) for each in (tables, base))
    if isinstance(value, Mapping | list):
        return None
    parts = place.split(".")
    stars = [parts[i] for i, part in enumerate(control.path.split(".")) if part == "*"]
    owner = value_at(tables, ".".join(parts[:-1]))
    name = owner.get("name", "") if isinstance(owner, Mapping) else ""
    label = control.label.replace("{1}", stars[0] if stars else "").replace("{name}", str(name))
    field = {
        "key": key, "places": [place], "also": [], "group": control.group, "label": label, "kind": control.kind,
        "value": value, "was": was, "about": _about(control.path),
    }  # fmt: skip
    if control.kind == WORDS:
        field |= {"unit": "", "choices": _choices(control.path, tables, str(value), session)}
        if control.path == "material.grade":
            field["follow"] = {
                "key": "material.condition",
                "values": {grade: some[0] for grade, some in session.conditions.items()},
            }
        if control.path == "material.surface" and value == PEENED and "peening" not in tables["material"]:
            # Another finish's name must not take the peening away unsaid.
            field["follow"] = {"key": "material.peening", "values": dict.fromkeys(SURFACES, "shot")}
        return field
    at, was_at = _plain(value, control.kind), _plain(was, control.kind)
    middle = was_at if was_at is not None else at if at is not None else 0.0
    field["unit"] = UNITS[control.kind].replace("**", "").replace("N*mm", "N·mm")
    return {**field, "at": at, "was_at": was_at, **_range(control, middle)}


PEENED = "shot-peened"
"""A surface of this name alone says peening too."""


def _value_at(tables: Tables, place: str, path: str) -> Any:
    """What stands at a place, or holds where nothing does."""
    found = value_at(tables, place)
    if found is None and path == "material.peening" and value_at(tables, "material.surface") == PEENED:
        return "shot"
    return DEFAULTS.get(path) if found is None else found


def _range(control: Control, middle: float) -> dict[str, Any]:
    if control.log and middle > 0.0:
        low, high = math.log10(control.low * middle), math.log10(control.high * middle)
        return {"low": round(low, 3), "high": round(high, 3), "step": 0.01, "log": True}
    if control.log:  # of a bar that slides or turns freely: no decades lead away from nothing
        high = FROM_NOTHING.get(control.kind, 100.0)
        return {"low": 0.0, "high": high, "step": high / 1000.0, "log": False}
    if control.span is not None or middle == 0.0:
        span = control.span or 100.0
        low, high = middle - span, middle + span
    else:
        low, high = sorted((control.low * middle, control.high * middle))
    step = control.step
    low = max(step * math.floor(low / step + 1e-9), control.least)
    high = step * math.ceil(high / step - 1e-9)
    return {"low": round(low, 4), "high": round(high, 4), "step": step, "log": False}


def _plain(value: Any, kind: str) -> float | None:
    try:
        return number(value, kind)
    except InputError:
        return None


def _choices(path: str, tables: Tables, value: str, session: Session) -> list[str]:
    key = path.rpartition(".")[2]
    if key == "grade":
        known: tuple[str, ...] = session.grades
    elif key == "condition":
        known = session.conditions.get(str(tables["material"].get("grade")), ())
    elif key == "peening":
        known = ("none", "shot")
    elif key == "bent":
        known = ("before-hardening", "after-hardening")
    else:
        known = tuple(SURFACES)
    return list(dict.fromkeys([*known, value]))


def _together(fields: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Entries of a list that are alike as one control: equal numbers, or two that mirror each other."""
    if len(fields) > 2 and fields[0]["key"].startswith("centreline.points."):
        return _mirrored(fields)
    if len(fields) < 2 or not fields[0]["key"].startswith("mounts."):
        return fields
    first, last = fields[0], fields[-1]
    leaf = first["key"].rpartition(".")[2]
    places = [place for each in fields for place in each["places"]]
    alike = all(each["value"] == first["value"] and each["was"] == first["was"] for each in fields)
    if alike and leaf not in ("from_middle", "y"):
        return [{**first, "key": f"mounts.*.{leaf}", "places": places}]
    mirrored = len(fields) == 2 and leaf in ("from_middle", "y")
    if mirrored and first["at"] is not None and last["at"] is not None and first["at"] == -last["at"]:
        one, other = (first, last) if first["at"] > 0.0 else (last, first)
        label = "Bushings, from the middle" if leaf == "from_middle" else "Bushings, y, both sides"
        return [{**one, "label": label, "also": [{"key": other["key"], "factor": -1}], "places": places}]
    for number_, each in enumerate(fields, start=1):
        if leaf not in ("from_middle", "y"):
            each["label"] = f"Bushing {number_}: {each['label'][0].lower()}{each['label'][1:]}"
    return fields


def _mirrored(fields: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """One coordinate of the points of a symmetrical bar: each pair as one control, named from the outside in."""
    sign = -1 if fields[0]["key"].endswith(".2") else 1
    values = [each["at"] for each in fields]
    if any(value is None for value in values) or values != [sign * value for value in values[::-1]]:
        return fields
    half, axis = len(fields) // 2, "xyz"[int(fields[0]["key"][-1]) - 1]
    made = []
    for i in range(half):
        right, left = fields[i], fields[-1 - i]
        name = "Tips" if i == 0 else "Corners" if half == 2 else f"Corners {i}"
        places = [*right["places"], *left["places"]]
        also = [{"key": right["key"], "factor": sign}]
        made.append({**left, "label": f"{name}, {axis}", "also": also, "places": places})
    return [*made, *fields[half : len(fields) - half]]


@cache
def _about(path: str) -> str:
    """What the bar file's schema says of a key."""
    model: Any = BarFile
    text = ""
    for part in path.split("."):
        if part == "*" or part.isdecimal():
            continue
        field = getattr(model, "model_fields", {}).get(part)
        if field is None:
            return text
        text = field.description or ""
        model = _inner(field.annotation)
    return text


def _inner(annotation: Any) -> Any:
    from typing import get_args

    from barfem.model.schema_table import Table

    if isinstance(annotation, type) and issubclass(annotation, Table):
        return annotation
    return next((found for found in map(_inner, get_args(annotation)) if found is not None), None)
