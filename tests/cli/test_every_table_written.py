"""Every JSON and CSV that a command offers is written whole, whatever the bar: one that passes, one that fails."""

from __future__ import annotations

import csv
import json
import math
from importlib import import_module
from pathlib import Path

import pytest

from barfem.cli.main import COMMANDS, main
from tests.often import often

GEOMETRIES = Path(__file__).parents[2] / "geometries"
BARS = ("pickup-front-solid", "pickup-rear-tube", "pickup-rear-unequal", "coupe-front-bends")
FILES = ("--json", "--csv")

# What a command is asked beside its file. {bar} and {car} stand for demo files, {stage} for a measured history.
ASKED = {
    "balance": ["{car}"],
    "bends": ["{bar}"],
    "car": ["{car}"],
    "check": ["{bar}"],
    "compare": ["{bar}", "--section", "20"],
    "duty": ["{bar}", "--history", "{stage}"],
    "holes": ["{bar}"],
    "life": ["--amplitude", "300", "--grade", "51CrV4", "--condition", "QT EN 10089"],
    "links": ["{car}"],
    "plan": ["{bar}"],
    "review": ["{bar}"],
    "setup-sheet": ["{car}"],
    "size": ["{bar}"],
    "sweep": ["{bar}", "travel.one_wheel=10,12"],
    "tolerance": ["{bar}", "--samples", "128", "--workers", "1"],
    "travel": ["{car}"],
}
LIKE_A_RATE = {"size": ["{bar}", "--rate", "45"]}
OTHERS = {"fit", "identify", "inspect"}  # of tests and measured bars: tests/cli/test_fit_command.py, tests/vendor


def offered(command):
    declared = getattr(import_module(COMMANDS[command][0]), "OUTPUTS", ())
    return [each.option for each in declared if each.option in FILES]


def cases():
    for command, words in [*ASKED.items(), *LIKE_A_RATE.items()]:
        for bar in BARS if "{bar}" in words and command != "tolerance" else BARS[:1]:
            yield command, words, bar


SHORT = {("size", BARS[0]), ("check", BARS[1]), ("holes", BARS[0]), ("compare", BARS[1]), ("plan", BARS[0])}


@pytest.fixture
def stage(tmp_path):
    path = tmp_path / "stage.csv"
    rows = [f"{0.01 * i:.2f},{8 * math.sin(i / 3):.3f},{-8 * math.sin(i / 3.3):.3f}" for i in range(24)]
    path.write_text("time_s,left_mm,right_mm\n" + "\n".join(rows) + "\n", encoding="utf-8")
    return path


def test_every_command_that_writes_numbers_is_asked_here():
    assert {command for command in COMMANDS if offered(command)} == {*ASKED} | OTHERS


@pytest.mark.usefixtures("unadvised", "unpictured")
@pytest.mark.parametrize(
    "case",
    often(list(cases()), [case for case in cases() if (case[0], case[2]) in SHORT]),
    ids=lambda case: f"{case[0]}-{case[2]}-{len(case[1])}",
)
def test_numbers_are_written_whole(case, tmp_path, stage, capsys):
    command, words, bar = case
    files = {"bar": GEOMETRIES / f"{bar}.toml", "car": GEOMETRIES / "pickup-car.toml", "stage": stage}
    line = [command, *(word.format(**files) for word in words)]
    for option in offered(command):
        line += [option, str(tmp_path / f"found.{option[2:]}")]
    assert main(line) in (0, 1), capsys.readouterr().err
    if "--json" in offered(command):
        text = (tmp_path / "found.json").read_text(encoding="utf-8")
        assert json.loads(text, parse_constant=lambda name: pytest.fail(f"{name} in the JSON"))
    if "--csv" in offered(command):
        text = (tmp_path / "found.csv").read_text(encoding="utf-8")
        rows = list(csv.reader(row for row in text.splitlines() if not row.startswith("#")))
        assert len(rows) > 1 and all(rows)
        assert not {cell.lower() for row in rows for cell in row} & {"nan", "inf", "-inf", "none"}
        if command != "bends":  # two tables of their own width
            assert len({len(row) for row in rows}) == 1
