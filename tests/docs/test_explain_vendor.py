"""Every number of the commands on received and measured bars is explained, once; nothing that is not there is."""

from __future__ import annotations

import contextlib
import io
import json
from fnmatch import fnmatchcase
from pathlib import Path

import pytest

import barfem
from barfem.cli.main import main
from barfem.show.explain import explanations, matches
from tests.docs.test_explain_car import paths

GEOMETRIES = Path(__file__).parents[2] / "geometries"
WORDS = {
    "format", "barfem", "name", "drawing", "revision", "points", "ends_cannot_be_told_apart", "bar", "verdict", "why",
    "hand", "list_order", "kind", "what", "unit", "words", "said", "source", "outcome", "passes", "missing", "notes",
    "cautions", "faults", "judged", "rows_difference", "order", "plan", "accept", "how", "case", "hole_left",
    "hole_right", "free", "warnings", "cannot_tell_apart", "names", "combination", "problem", "fit", "as_received",
    "identified",
}  # fmt: skip


@pytest.fixture(scope="module")
def numbers(tmp_path_factory) -> set[str]:
    folder = tmp_path_factory.mktemp("curves")
    bar = str(GEOMETRIES / "pickup-front-solid.toml")
    lot = (GEOMETRIES / "pickup-front-solid-lot.csv").read_text(encoding="utf-8").splitlines()
    few = [line for line in lot if line.startswith(("#", "bar,", "B-006", "B-004"))]
    (folder / "lot.csv").write_text("\n".join(few) + "\n", encoding="utf-8")
    rows = "\n".join(f"{x},{11.0 * x + (-1) ** x:.1f}" for x in range(-20, 21))
    (folder / "curve.csv").write_text(
        f"# units = mm, N ; case = one_end_held ; hole = soft\nx_mm,force_N\n{rows}\n", encoding="utf-8"
    )
    found: set[str] = set()
    for words in (
        ["inspect", bar, str(folder / "lot.csv"), "--lot-size", "60"],
        ["identify", bar, str(folder / "curve.csv")],
        ["identify", bar, str(folder / "curve.csv"), "--free", "diameter_mm"],
    ):
        out = io.StringIO()
        with contextlib.redirect_stdout(out):
            assert main([*words, "--json", "-"]) in (0, 1)
        found |= paths(json.loads(out.getvalue()))
    return {each for each in found if each.rpartition(".")[2] not in WORDS}


def test_every_number_has_one_entry(numbers):
    wrong = {}
    for path in sorted(numbers):
        titles = [entry.title for entry in explanations("vendor") if matches(entry, path)]
        if len(titles) != 1:
            wrong[path] = titles
    assert wrong == {}


def test_nothing_is_explained_that_is_not_there(numbers):
    keys = [key for entry in explanations("vendor") for key in entry.keys]
    assert [key for key in keys if not any(fnmatchcase(path, key) for path in numbers)] == []


def test_they_are_found_by_title_and_key():
    assert barfem.explain("tip_mismatch_mm").title == "Inspect: tip mismatch"
    assert barfem.explain("sampling plan").title == "Inspect: sampling plan"
    for entry in explanations("vendor"):
        assert entry.unit and entry.sign and entry.formula and entry.source, entry.title
