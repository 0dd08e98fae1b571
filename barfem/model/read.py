"""A bar file, or the same data as a dict, into a validated `Bar`."""

from __future__ import annotations

import os
from collections.abc import Mapping
from copy import deepcopy
from dataclasses import replace
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from barfem.model.bar import Bar, Section
from barfem.model.bent_wall_reading import check_bent_walls, measured_walls
from barfem.model.collars import read_collars
from barfem.model.ends import read_end
from barfem.model.errors import InputError
from barfem.model.links import read_link, refuse_link_that_cannot_move, tell_of_equal_errors
from barfem.model.makeability import warn_of_making
from barfem.model.material import Steel
from barfem.model.materials import load_steel
from barfem.model.mounts import read_mounts
from barfem.model.notes import Notes
from barfem.model.schema import BarFile, MaterialTable, SectionTable
from barfem.model.schema_errors import input_error
from barfem.model.shape import read_centreline
from barfem.model.toml_file import nests_too_deeply, read_toml, refuse_huge_integers, without_numpy
from barfem.model.travel import read_duty, read_targets, read_travel
from barfem.model.warned import Effect

__all__ = ["AnyBar", "as_bar", "bar_from_dict", "read_bar"]

AnyBar = Bar | str | os.PathLike[str]
"""A bar, or the path of its file."""

# Outside these a slip of the unit is certain; nothing else is made of them.
_SMALLEST_DIAMETER_MM, _LARGEST_DIAMETER_MM = 2.0, 200.0
_LARGEST_OVALITY_PERCENT = 15.0


def read_bar(path: str | os.PathLike[str]) -> Bar:
    """The bar that a bar file (TOML) describes: lengths mm, forces N, stresses MPa, angles deg.

    Parameters
    ----------
    path
        The bar file.

    Raises
    ------
    InputError
        No such file, not a bar file, or a bar that cannot be; the message names file, table, key and value, and
        says what would be right.
    """
    return bar_from_dict(read_toml(path), source=str(path))


def bar_from_dict(data: Mapping[str, Any], *, source: str | None = None) -> Bar:
    """The bar that the tables of a bar file describe, as `tomllib` or `json` would read them.

    Parameters
    ----------
    data
        Keys and values as in a bar file: lengths in mm, or text with a unit.
    source
        A path for messages; material tables of your own are looked for beside it.

    Raises
    ------
    InputError
        As `read_bar`.
    """
    try:
        if not isinstance(data, Mapping):
            raise InputError(
                f"{type(data).__name__} in place of the tables of a bar file.",
                where="bar file",
                expected="a dictionary of tables, as tomllib or json reads them; read_bar takes a path.",
            )
        if not nests_too_deeply(data):  # what does is refused below, by its key
            data = without_numpy(data)
        refuse_huge_integers(data)
        return _bar(data, source)
    except InputError as error:
        raise (error.in_file(source) if source else error) from error.__cause__


def as_bar(bar: AnyBar) -> Bar:
    """A bar as it is, or the one that a file describes; raises as `read_bar`."""
    return bar if isinstance(bar, Bar) else read_bar(bar)


def _bar(data: Mapping[str, Any], source: str | None) -> Bar:
    if "car" in data and "section" not in data:
        raise InputError(
            "this is a car file.",
            where="[car]",
            expected="a bar file, with [section] and [ends]; a car file goes to barfem car.",
        )
    if "conditions" in data and "section" not in data:
        raise InputError(
            "this is a table of a steel.",
            where="[conditions]",
            expected="a bar file, whose [material] grade names the table; barfem materials shows it.",
        )
    try:
        file = BarFile.model_validate(data)
    except ValidationError as error:
        raise input_error(error) from None
    notes = Notes()
    section = _section(file.section, notes=notes)
    steel = _steel(file.material, section=section, source=source, notes=notes)
    centreline = read_centreline(file, section=section, notes=notes)
    check_bent_walls(section, centreline, notes=notes)
    right = read_end(file.ends, side="right", centreline=centreline, section=section, notes=notes)
    left = read_end(file.ends, side="left", centreline=centreline, section=section, notes=notes)
    mounts = read_mounts(file.mounts, centreline=centreline, notes=notes)
    collars = read_collars(file.collars, centreline=centreline)
    right_link = read_link(file.links, side="right", notes=notes)
    left_link = read_link(file.links, side="left", notes=notes)
    tell_of_equal_errors(left_link, right_link, notes=notes)
    travel = read_travel(file.travel, notes=notes)
    for link, end in ((right_link, right), (left_link, left)):
        refuse_link_that_cannot_move(file.links, link, end=end, travel=travel, centreline=centreline, notes=notes)
    duty = read_duty(file.duty, travel=travel, notes=notes)
    targets = read_targets(file.targets, duty=duty, notes=notes)
    bar = Bar(
        name=file.name,
        steel=steel,
        section=section,
        centreline=centreline,
        right=right,
        left=left,
        mounts=mounts,
        right_link=right_link,
        left_link=left_link,
        travel=travel,
        duty=duty,
        targets=targets,
        drawing=file.drawing.number,
        revision=file.revision or file.drawing.revision,
        source=source,
        collars=collars,
    )
    warn_of_making(bar, notes=notes)
    return replace(
        bar, warnings=tuple(notes.warnings), assumptions=tuple(notes.assumptions), tables=deepcopy(dict(data))
    )


def _section(table: SectionTable, *, notes: Notes) -> Section:
    if not _SMALLEST_DIAMETER_MM <= table.diameter <= _LARGEST_DIAMETER_MM:
        raise InputError(
            f"a diameter of {table.diameter:g} mm is no anti-roll bar.",
            where="[section] diameter",
            expected='the outside diameter in mm, mostly 10 to 60; another unit is written as a string: "0.945 in".',
        )
    if table.shape == "round":
        for key in ("wall", "bend_wall", "bend_walls", "ovality"):
            given = getattr(table, key)
            if given is not None:
                shown = key if key == "bend_walls" else f"{key} = {given}"
                raise InputError(
                    f'{shown} is given for shape = "round".',
                    where=f"[section] {key}",
                    expected='shape = "tube", or no wall, bend_wall, bend_walls and ovality for a solid bar.',
                )
        return Section("round", table.diameter)
    if table.wall is None:
        raise InputError(
            "a tube needs its wall.", where="[section] wall", expected='wall = 4.0, or shape = "round" for a solid bar.'
        )
    if table.wall >= 0.5 * table.diameter:
        raise InputError(
            f"wall {table.wall:g} mm is too thick for a tube of {table.diameter:g} mm outside diameter.",
            where="[section] wall",
            expected=f'a wall below {0.5 * table.diameter:g} mm, or shape = "round" for a solid bar.',
        )
    if table.bend_wall is None and table.bend_walls is None:
        notes.assume("[section] bend_wall is not given: in bends the wall is thinned outside and thickened inside.")
    if table.ovality is None:
        notes.assume("[section] ovality is not given: bends are as round as the straights, as made.")
    elif table.ovality > _LARGEST_OVALITY_PERCENT:
        raise InputError(
            f"an ovality of {table.ovality:g} % is no bend of a bar.",
            where="[section] ovality",
            expected=f"greatest less least diameter of a bend over the nominal, 0 to {_LARGEST_OVALITY_PERCENT:g} %.",
        )
    bend_wall = table.bend_wall or ("thinned" if table.bend_walls is None else "measured")
    walls = measured_walls(table)
    return Section("tube", table.diameter, table.wall, bend_wall, table.ovality or 0.0, walls)


def _steel(table: MaterialTable, *, section: Section, source: str | None, notes: Notes) -> Steel:
    given = table.given()
    if "peening" in given:
        given["peening"] = table.peening.model_dump(exclude_none=True)
    try:
        steel, warnings, assumptions = load_steel(
            given,
            bar_dir=Path(source).resolve().parent if source else None,
            tube=section.shape == "tube",
            # EN 10083-3 has a wall in the column of rounds twice as thick (from memory).
            size_mm=section.diameter_mm if section.wall_mm is None else 2.0 * section.wall_mm,
        )
    except InputError as error:
        if error.where is not None:
            raise
        # A table that is not there or cannot be read: named as a file, and here by the key that asked for it.
        raise InputError(
            f"grade = {table.grade!r}: {error.problem}" + (f" ({error.file})" if error.file else ""),
            where="[material] grade",
            expected=error.expected or "the name of a shipped table, or the path of your own beside the bar file.",
        ) from error
    for text in warnings:
        notes.warn(text)
    for text in assumptions:
        notes.assume(text)
    if table.stress_relieved is not None and steel.bent != "after-hardening":
        notes.warn('[material] stress_relieved has no effect unless bent = "after-hardening".', Effect.NOTHING)
    return steel
