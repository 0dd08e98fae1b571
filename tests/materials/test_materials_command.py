"""`barfem materials`: the list, one grade, and a grade that is not there."""

from __future__ import annotations

from pathlib import Path

import pytest

from barfem.cli.main import main
from barfem.model.material_table import known_tables, read_table


def test_the_list_names_every_grade_and_condition(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["materials"]) == 0
    shown = capsys.readouterr().out
    for name, path in known_tables().items():
        assert name in shown
        for condition in read_table(path).conditions:
            assert condition in shown
    assert max(map(len, shown.splitlines())) <= 80
    assert "\x1b" not in shown


@pytest.mark.parametrize("grade", sorted(known_tables()))
def test_one_grade_shows_every_source(grade: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["materials", grade]) == 0
    shown = capsys.readouterr().out
    flat = " ".join(shown.split())
    table = read_table(known_tables()[grade])
    for text in table.sources.values():
        assert text in flat
    assert str(known_tables()[grade]) in flat
    for name, condition in table.conditions.items():
        assert f'condition = "{name}"' in shown
        assert f"{condition.yield_strength.value:,.0f} MPa".replace(",", " ") in shown
    assert ("typical" in shown) == any(condition.typical for condition in table.conditions.values())


def test_other_names_lead_there(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["materials", "1.8159"]) == 0
    assert capsys.readouterr().out.startswith("51CrV4")


def test_your_own_table(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    text = known_tables()["SUP9"].read_text(encoding="utf-8")
    assert 'grade = "SUP9"' in text
    (tmp_path / "my.toml").write_text(text.replace('grade = "SUP9"', 'grade = "mine"'), encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    for grade in ("my", "my.toml"):
        assert main(["materials", grade]) == 0
        assert capsys.readouterr().out.startswith("mine")


def test_an_unknown_grade_names_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["materials", "55Cr"]) == 2
    message = capsys.readouterr().err
    assert 'mean "55Cr3"' in message and "GRADE" in message
