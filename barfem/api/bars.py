"""Bars for the keyboard: read, made, changed by the keys of their file."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import fields
from typing import Any

from barfem.model.bar import Bar as ModelBar
from barfem.model.read import bar_from_dict as _bar_from_dict
from barfem.model.read import read_bar as _read_bar

__all__ = ["Bar", "bar_from_dict", "change", "read_bar", "shown"]


class Bar(ModelBar):
    """One bar, read and found possible; immutable.

    `name`, `section`, `centreline`, `mounts`, `steel`, `travel` and the rest hold what the bar file says, in mm, N and
    MPa. `warnings` are things that can be solved but should not be made, `assumptions` what the file left open. In a
    notebook a bar shows itself in a few lines.
    """

    def __repr__(self) -> str:
        from barfem.api.display import bar_text

        return bar_text(self)

    def _repr_html_(self) -> str:
        from barfem.api.display import bar_html

        return bar_html(self)


def read_bar(path: str | os.PathLike[str]) -> Bar:
    """The bar that a bar file describes: lengths mm, forces N, stresses MPa, angles deg.

    Parameters
    ----------
    path
        The bar file (TOML).

    Raises
    ------
    InputError
        No such file, not a bar file, or a bar that cannot be. The message names file, table, key and value, and says
        what would be right.
    """
    return shown(_read_bar(path))


def bar_from_dict(tables: Mapping[str, Any], *, source: str | None = None) -> Bar:
    """The bar that the tables of a bar file describe, as `tomllib` or `json` would read them.

    Parameters
    ----------
    tables
        Keys and values as in a bar file: lengths in mm, or text with a unit.
    source
        A path for messages; material tables of your own are looked for beside it.

    Raises
    ------
    InputError
        As `read_bar`.
    """
    return shown(_bar_from_dict(tables, source=source))


def change(bar: ModelBar, values: Mapping[str, Any]) -> Bar:
    """A bar with some keys of its file changed; the bar itself stays as it is.

    Parameters
    ----------
    bar
        A bar from `read_bar`, `bar_from_dict` or `change`.
    values
        New values by key: ``{"section.diameter": 24, "mounts.*.radial_stiffness": 6000}``. Units as in the file. List
        entries count from 1, holes go by name (``"ends.holes.stiff.from_tip"``), ``*`` is every entry. A table that the
        file leaves out is made; give a whole one to replace it: ``{"section": {"shape": "round", "diameter": 24}}``.

    Raises
    ------
    InputError
        No such key, or a bar that cannot be, in the words of `read_bar`.
    """
    from barfem.study.change import with_values

    return shown(with_values(bar, values))


def shown(bar: ModelBar) -> Bar:
    """The same bar, which shows itself."""
    return Bar(**{item.name: getattr(bar, item.name) for item in fields(bar)})
