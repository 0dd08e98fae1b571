"""Every number of the commands on a car is explained, once; nothing is explained that is not there."""

from __future__ import annotations

import json
from fnmatch import fnmatchcase
from pathlib import Path
from typing import Any

import pytest

import barfem
from barfem.cli.main import main
from barfem.show.explain import explanations, matches

GEOMETRIES = Path(__file__).parents[2] / "geometries"
WORDS = {
    "format", "barfem", "name", "conventions", "assumptions", "warnings", "why", "reasons", "reason", "passes",
    "bars_pass", "target_given", "where", "side", "governs", "first_wheel", "stops", "lifted", "front", "rear", "holes",
    "blocks", "bar_file", "use", "moved_hole",
}  # fmt: skip
"""Keys that are words, or lists of them, or records that are not there."""


def paths(value: Any, path: str = "") -> set[str]:
    if isinstance(value, dict) and value:
        return set().union(*(paths(v, f"{path}.{key}" if path else key) for key, v in value.items()))
    if isinstance(value, list) and any(isinstance(item, dict) for item in value):
        return set().union(*(paths(item, path) for item in value))
    return {path}


@pytest.fixture(scope="module")
def numbers() -> set[str]:
    import contextlib
    import io

    found: set[str] = set()
    for command in ("car", "balance", "links", "travel"):
        for car in ("coupe", "pickup"):
            out = io.StringIO()
            with contextlib.redirect_stdout(out):
                main([command, str(GEOMETRIES / f"{car}-car.toml"), "--json", "-"])
            found |= paths(json.loads(out.getvalue()))
    return {each for each in found if each.rpartition(".")[2] not in WORDS and not each.startswith("conventions")}


@pytest.mark.long
def test_every_number_of_the_four_commands_has_one_entry(numbers):
    wrong = {}
    for path in sorted(numbers):
        titles = [entry.title for entry in explanations("car") if matches(entry, path)]
        if len(titles) != 1:
            wrong[path] = titles
    assert wrong == {}


@pytest.mark.long
def test_every_number_is_found_by_its_own_key(numbers):
    """As it stands in the JSON: a rate of an axle was explained, and asking for ride_rate_N_per_mm was refused."""
    wheels_and_ways = {"front_left", "front_right", "rear_left", "rear_right", "left", "right", "whole", "lift"}
    keys = {path.rpartition(".")[2] for path in numbers} - wheels_and_ways
    unknown = set()
    for key in keys:
        try:
            barfem.explain(key)
        except barfem.InputError:
            unknown.add(key)
    assert unknown == set()


@pytest.mark.long
def test_nothing_is_explained_that_is_not_there(numbers):
    keys = [key for entry in explanations("car") for key in entry.keys]
    assert [key for key in keys if not any(fnmatchcase(path, key) for path in numbers)] == []


def test_they_are_found_by_title_and_key_and_have_unit_sign_formula_and_source():
    assert barfem.explain("front_transfer_share").title == "Car: front transfer share"
    assert barfem.explain("roll gradient").title == "Car: roll gradient"
    assert barfem.explain("link_change_mm").title == "Links: length to change"
    assert barfem.explain("yield_margin").title == "Yield margin"  # the check's own comes first
    for entry in explanations("car"):
        assert entry.unit and entry.sign and entry.formula and entry.source, entry.title
