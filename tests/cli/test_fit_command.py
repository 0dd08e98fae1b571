"""`barfem fit` from the command line: what it prints and writes."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from barfem.cli.main import main
from tests.study.test_fit import SIX

CONTRACT = {
    "exponent", "exponent_90", "strength_MPa", "at_cycles", "strength_90", "log10_life_deviation",
    "log10_life_deviation_90", "tests", "stopped", "prior", "handbook", "warnings",
}  # fmt: skip
STEEL = ["--grade", "51CrV4", "--condition", "QT EN 10089"]


@pytest.fixture
def tests_csv(tmp_path: Path) -> Path:
    path = tmp_path / "tests.csv"
    path.write_text(SIX, encoding="utf-8")
    return path


def test_the_line_is_printed_with_its_intervals_and_written_in_every_form(
    tests_csv: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    json_file, table, plot, csv = (tmp_path / name for name in ("fit.json", "own.toml", "line.png", "fit.csv"))
    skin = ["--surface", "shot-peened"]
    outputs = ["--json", str(json_file), "--write", str(table), "--plot", str(plot), "--csv", str(csv)]
    assert main(["fit", str(tests_csv), *STEEL, *skin, *outputs]) == 0
    printed = capsys.readouterr().out
    assert "6 bars, 5 broken and 1 stopped: as-hardened-scaled, shot-peened." in printed
    assert "strength at 200 000 cycles, MPa" in printed and "Handbook" in printed
    found = json.loads(json_file.read_text(encoding="utf-8"))
    assert set(found) >= CONTRACT
    assert (found["tests"], found["stopped"], found["at_cycles"]) == (6, 1, 200_000)
    assert found["strength_90"][0] < found["strength_MPa"] < found["strength_90"][1]
    assert found["handbook"]["strength_MPa"] > 0.0
    assert "the same that 90 % of bars have, MPa" in printed and found["survival"] == 0.9
    least, most = found["strength_at_survival_90"]
    assert least < found["strength_at_survival_MPa"] < most < found["strength_90"][1]
    assert any("of bars have, and so few tests leave open" in each for each in found["warnings"])
    assert plot.read_bytes().startswith(b"\x89PNG")
    assert csv.read_text(encoding="utf-8").count("broken") == 5
    # The table is a steel that other commands take.
    assert main(["materials", str(table)]) == 0
    assert "tests.csv: 6 tests" in capsys.readouterr().out


def test_without_a_prior_the_numbers_are_those_of_greatest_likelihood(
    tests_csv: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["fit", str(tests_csv), "--prior", "none", "--json", "-"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["prior"] == "none" and found["handbook"] == {}
    assert found["exponent"] == found["maximum_likelihood"]["exponent"]


def test_nothing_is_written_where_the_table_cannot_be(
    tests_csv: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    target, json_file = tmp_path / "own.toml", tmp_path / "fit.json"
    assert main(["fit", str(tests_csv), *STEEL, "--write", str(target), "--json", str(json_file)]) == 2
    assert "--surface with it" in capsys.readouterr().err
    assert not target.exists() and not json_file.exists()
    assert main(["fit", str(tmp_path / "none.csv")]) == 2
    assert "there is no such file" in capsys.readouterr().err
