"""What the maker's files say is explained: every number of the review's JSON and of the package's manifest."""

from __future__ import annotations

from fnmatch import fnmatchcase
from pathlib import Path

import pytest

import barfem
from barfem.model.read import read_bar
from barfem.show.explain import explanations
from barfem.vendor.review import review_bar

BAR = Path(__file__).parents[2] / "geometries" / "pickup-front-solid.toml"


def test_every_number_of_the_reviews_json_is_explained():
    data = review_bar(read_bar(BAR)).to_json_dict()
    numbers = {key for key, value in data.items() if isinstance(value, int | float) and key != "format"}
    numbers |= {
        f"findings.{key}"
        for each in data["findings"]
        for key, value in each.items()
        if isinstance(value, float) or key == "severity"
    }
    keys = [key for entry in explanations("maker") for key in entry.keys]
    assert sorted(name for name in numbers if not any(fnmatchcase(name, key) for key in keys)) == []


@pytest.mark.parametrize(
    "word",
    ["rotation of a bend", "clocking", "datum A-B-C", "tip mismatch", "profile tolerance", "manifest", "severity"],
)
def test_the_words_of_the_drawing_are_found(word):
    assert word.lower() in barfem.explain(word).title.lower()


def test_a_number_has_unit_sign_formula_and_source():
    for entry in explanations("maker"):
        given = [bool(part) for part in (entry.unit, entry.sign, entry.formula, entry.source)]
        assert all(given) or (not any(given) and entry.means), entry.title
