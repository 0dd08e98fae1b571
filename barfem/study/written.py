"""A changed bar as a bar file: the original's text with the changed keys, its comments kept where they stand."""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from barfem.model.bar import Bar
from barfem.model.errors import BarfemError
from barfem.model.material_table import own_table
from barfem.study.change import tables_of

__all__ = ["bar_file_text", "carried", "changed_text"]


def bar_file_text(bar: Bar, original: Path, *, head: str, folder: Path | None = None) -> str:
    """The text of `original` with every key that `bar` has otherwise, under a comment line `head`.

    `folder` is where it will be written, if not beside the original: a steel of the user's own is named from there.

    Raises
    ------
    BarfemError
        The text does not read back as the bar's tables.
    """
    text = changed_text(bar, original.read_text(encoding="utf-8-sig"), head=head, named=str(original))
    return carried(text, original.parent, folder)


def carried(text: str, home: Path, folder: Path | None) -> str:
    """The text of a bar file of the folder `home` as it must stand in `folder`: the same steel named from there."""
    import tomlkit

    grade = tomllib.loads(text)["material"]["grade"]
    own = own_table(grade, home)
    if own is None or folder is None or folder.resolve() == home.resolve() or Path(grade).expanduser().is_absolute():
        return text
    try:
        way = os.path.relpath(own.resolve(), folder.resolve())
    except ValueError:  # on another drive
        way = str(own.resolve())
    document: Any = tomlkit.parse(text)
    document["material"]["grade"] = Path(way).as_posix()
    return tomlkit.dumps(document)


def changed_text(bar: Bar, text: str, *, head: str, named: str) -> str:
    """The same of a text, which errors call `named`.

    Raises
    ------
    BarfemError
        As `bar_file_text`.
    """
    import tomlkit

    text = text.replace("\r\n", "\n")
    document = tomlkit.parse(text)
    wanted = _plain(tables_of(bar))
    _update(document, wanted, tomllib.loads(text))
    lines = "".join(f"# {line}\n" for line in head.splitlines())
    body = tomlkit.dumps(document).lstrip("\n")
    first = re.match(r"#:schema .*\n|", body)[0]  # type: ignore[index]  # editors look for it on the first line
    out = first + lines + "#\n" + body.removeprefix(first)
    if tomllib.loads(out) != wanted:
        raise BarfemError(f"the new bar file could not be written as TOML from {named}; write it by hand.")
    return out


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    return value


def _update(target: Any, wanted: Any, old: Any) -> None:
    """Make a TOML table or list hold what is wanted, touching only what differs."""
    for key in [key for key in old if key not in wanted] if isinstance(old, dict) else ():
        del target[key]
    for key, value in wanted.items() if isinstance(wanted, dict) else enumerate(wanted):
        before = old.get(key) if isinstance(old, dict) else old[key]
        if before == value:
            continue
        if _alike(value, before):
            _update(target[key], value, before)
        else:
            target[key] = _written(value)
            _date(target, key, before)


def _date(target: Any, key: Any, before: Any) -> None:
    """Say beside a changed value which one the comment on its line spoke of: "measured" was another number."""
    import tomlkit

    item: Any = target.value.item(key) if isinstance(target, tomlkit.items.Table) and before is not None else None
    if item is not None and item.trivia.comment:
        old = tomlkit.item(before).as_string()
        told = re.sub(r"^was [^:]*: ", "", item.trivia.comment.lstrip("# "))
        room = len(item.trivia.comment_ws.expandtabs()) + len(old) - len(item.as_string())
        item.trivia.comment_ws = " " * max(1, room)
        item.trivia.comment = f"# was {old}: {told}"


def _alike(one: Any, other: Any) -> bool:
    """Two tables, or two lists of as many entries: what differs in them can be changed by itself."""
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other)
    return isinstance(one, dict) and isinstance(other, dict)


def _written(value: Any) -> Any:
    """Lists of lists or tables a line each, as a person would write them."""
    import tomlkit

    if isinstance(value, list) and value and isinstance(value[0], list | dict):
        array = tomlkit.array()
        for item in value:
            if isinstance(item, dict):
                table = tomlkit.inline_table()
                table.update(item)
                array.append(table)
            else:
                array.append(item)
        return array.multiline(True)
    return value
