"""Validation errors of the tables, as one message that names table, key and value and says what would be right."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, get_args

from pydantic import ValidationError

from barfem.model.errors import InputError
from barfem.model.nearest import nearest
from barfem.model.schema import BarFile, Table
from barfem.model.units import as_written

__all__ = ["input_error", "place"]

_LISTS_OF_TABLES = {"mounts", "collars", "states"}  # written [[mounts]]; holes and blocks are inline
_SUBTABLES = {"left", "right", "front", "rear", "bar"}  # written [ends.left], [front.bar]
# Unknown keys first: a misspelt key is also reported as the missing one it stands for.
_ORDER = {"extra_forbidden": 0, "missing": 2}
MOST_KEYS = 6
"""Of a table that is named by all of its keys."""


def input_error(error: ValidationError, root: type[Table] = BarFile) -> InputError:
    """The most telling of the errors, and how many there are beside it; `root` is the whole file's table."""
    details = sorted(error.errors(include_url=False), key=lambda detail: _ORDER.get(detail["type"], 1))
    first = details[0]
    loc = first["loc"]
    problem, expected = _problem_of(first, root)
    unknown = {d["loc"] for d in details if d["type"] == "extra_forbidden"}
    others = [place(d["loc"], root) for d in details[1:] if not (d["type"] == "missing" and unknown)]
    if others:
        more = "; ".join(others[:3]) + ("; ..." if len(others) > 3 else "")
        problem += f" ({len(others)} more to mend: {more})"
    return InputError(problem, where=place(loc, root), expected=expected)


def place(loc: Sequence[str | int], root: type[Table] = BarFile) -> str:
    """("mounts", 1, "length") as "[[mounts]] 2, length"."""
    parts = [str(part) if isinstance(part, str) else part for part in loc]
    if not parts:
        return _file_name(root)
    head, rest = str(parts[0]), parts[1:]
    if len(loc) == 1 and _table(loc, root) is None:
        return head
    if head in _LISTS_OF_TABLES:
        text = f"[[{head}]]"
    elif rest and rest[0] in _SUBTABLES and _table(loc[:2], root) is not None:
        text = f"[{head}.{rest.pop(0)}]"
    else:
        text = f"[{head}]"
    for part in rest:
        if isinstance(part, int):
            text += f" {part + 1}"
        else:
            text += f" {part}" if text.endswith("]") else f", {part}"
    return text


def _file_name(root: type[Table]) -> str:
    return "the bar file" if root is BarFile else "the car file"


def _problem_of(detail: Any, root: type[Table]) -> tuple[str, str]:
    kind, loc, value = detail["type"], detail["loc"], detail["input"]
    if kind == "barfem":
        return detail["ctx"]["problem"], detail["ctx"]["expected"]
    if kind == "extra_forbidden":
        return _unknown_key(loc, root)
    if kind == "missing":
        what = "table" if _table(loc, root) else "key"
        return f"the required {what} is missing.", f"{_description(loc, root)}."
    if kind == "literal_error":
        return f"{as_written(value)} is not one of the values known here.", f"{detail['ctx']['expected']}."
    if kind == "too_long":
        return f"{detail['ctx']['actual_length']} are more than a bar has.", f"at most {detail['ctx']['max_length']}."
    shown = "a list" if isinstance(value, list) else as_written(value)
    wanted = {
        "model_type": "a table", "dict_type": "a table", "list_type": "a list", "bool_type": "true or false"
    }.get(kind)  # fmt: skip
    if loc and loc[-1] in _LISTS_OF_TABLES:
        wanted = f"a list of tables, each written [[{loc[-1]}]]"
    if wanted is None:
        return f"{shown}: {detail['msg']}.", f"{_description(loc, root)}."
    right = _description(loc, root) or (_keys_of(loc, root) if wanted == "a table" else "") or wanted
    return f"{shown} stands where {wanted} is needed.", f"{right}."


_ALSO_CALLED = {"steel": "grade", "alloy": "grade", "finish": "surface", "od": "diameter", "thickness": "wall"}
"""Keys by other words of the trade, whose letters are no help."""


def _unknown_key(loc: Sequence[str | int], root: type[Table]) -> tuple[str, str]:
    key, table = str(loc[-1]), _table(loc[:-1], root) or root
    known = [*table.model_fields]
    name = place(loc[:-1], root) if loc[:-1] else _file_name(root)
    elsewhere = sorted(_tables_with(key, root, root))
    meant = _ALSO_CALLED.get(key.lower())
    close = None if elsewhere else meant if meant in known else nearest(key, known)
    hint = f"{key} belongs in {' or '.join(elsewhere)}. " if elsewhere else ""
    if close:
        hint = f'"{close}", {"as it is called here" if close == meant else "the nearest known key"}. '
    listed = ", ".join(known)
    return f'unknown key "{key}" in {name}.', f"{hint}Known here: {listed}." if hint else f"one of {listed}."


def _tables_with(key: str, table: type[Table], root: type[Table], loc: tuple[str | int, ...] = ()) -> set[str]:
    found = set()
    for name in table.model_fields:
        inner = _model(table.model_fields[name].annotation)
        if inner is None or name in ("left", "right"):
            continue
        if key in inner.model_fields:
            found.add(place((*loc, name), root))
        found |= _tables_with(key, inner, root, (*loc, name))
    return found


def _table(loc: Sequence[str | int], root: type[Table]) -> type[Table] | None:
    """The table class that stands at a place of the file, if a table stands there."""
    table: type[Table] | None = root
    for part in loc:
        if isinstance(part, int):
            continue
        if table is None or part not in table.model_fields:
            return None
        table = _model(table.model_fields[part].annotation)
    return table


def _model(annotation: Any) -> type[Table] | None:
    if isinstance(annotation, type) and issubclass(annotation, Table):
        return annotation
    for argument in get_args(annotation):
        found = _model(argument)
        if found is not None:
            return found
    return None


def _keys_of(loc: Sequence[str | int], root: type[Table]) -> str:
    """A table by its keys, those that it must have where all of them would be a list to search; empty where none is."""
    table = _table(loc, root)
    if table is None:
        return ""
    fields = table.model_fields
    must = [key for key, field in fields.items() if field.is_required()]
    return f"a table with {', '.join(must if len(fields) > MOST_KEYS and must else fields)}"


def _description(loc: Sequence[str | int], root: type[Table]) -> str:
    keys = [part for part in loc if isinstance(part, str)]
    table = _table(keys[:-1], root)
    if table is None or not keys or keys[-1] not in table.model_fields:
        return ""
    return table.model_fields[keys[-1]].description or ""
