"""In parallel a symmetric bar turns in its bushings and feels nothing: every command says so, and none breaks."""

from __future__ import annotations

import json
import warnings
from pathlib import Path

import pytest

from barfem.cli.main import main

DEMO = Path(__file__).parents[2] / "geometries" / "pickup-front-solid.toml"


@pytest.fixture(params=["parallel alone", "beside roll"])
def line(request, tmp_path):
    """The bar and the load case: parallel alone, or judged beside roll, as [travel] parallel asks."""
    if request.param == "parallel alone":
        return [str(DEMO), "--case", "parallel"]
    path = tmp_path / "bar.toml"
    text = DEMO.read_text(encoding="utf-8").replace("[travel]\n", "[travel]\nparallel = 20.0\n")
    path.write_text(text, encoding="utf-8")
    return [str(path)]


def said(capsys, *words):
    """What a command prints; no library's warning is among it."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        status = main([str(word) for word in words])
    shown = capsys.readouterr()
    return status, " ".join((shown.out + shown.err).split())


def test_the_check_passes_it_and_names_no_place_where_nothing_is_felt(line, capsys):
    status, text = said(capsys, "check", *line)
    assert status == 0 and "feels nothing" in text
    assert ("no place governs" in text) == ("--case" in line)
    assert ("To spare" in text) == ("--case" not in line)  # what is not felt has no travel to spare


def test_the_pictures_leave_out_what_is_not_felt(line, tmp_path, capsys):
    status, _ = said(capsys, "check", *line, "--plots", tmp_path / "pictures")
    names = {path.stem for path in (tmp_path / "pictures").iterdir()}
    assert status == 0 and ("stress-life-diagram" in names) == ("--case" not in line)


@pytest.mark.long
def test_the_report_is_written(line, tmp_path, capsys):
    status, _ = said(capsys, "report", *line, "--out", tmp_path / "bar.html")
    text = (tmp_path / "bar.html").read_text(encoding="utf-8")
    assert status == 0 and "feels nothing" in text
    assert ("no place governs" in text) == ("--case" in line)


@pytest.mark.parametrize("command", ["compare", "sweep"])
def test_tables_stand_with_zeros(command, line, tmp_path, capsys):
    if command == "compare":
        status, text = said(capsys, "compare", *line, "--section", "20")
    else:
        status, text = said(capsys, "sweep", *line, "section.diameter=20,22", "--csv", tmp_path / "rows.csv")
    assert status == 0 and "nan" not in text.lower().split()


@pytest.mark.parametrize(
    "words",
    [
        ["size", "--rate", "30"],
        ["size"],
        ["size", "--free", "--rate", "30"],
        ["holes"],
        ["compare", "--section", "20", "--equal-rate"],
        ["compare", "--section", "20", "--equal-stress"],
    ],
    ids=" ".join,
)
def test_no_size_or_hole_is_looked_for_by_what_is_not_felt(words, capsys):
    status, text = said(capsys, words[0], DEMO, *words[1:], "--case", "parallel")
    assert status == 2 and "feels nothing" in text and "Right would be: roll or one-wheel" in text


@pytest.mark.long
def test_a_tolerance_of_nothing_is_nothing(tmp_path, capsys):
    found = tmp_path / "found.json"
    words = ["tolerance", DEMO, "--case", "parallel", "--samples", "32", "--workers", "1", "--json", found]
    status, _ = said(capsys, *words)
    assert status == 0
    json.loads(found.read_text(encoding="utf-8"), parse_constant=lambda name: pytest.fail(f"{name} in the JSON"))
