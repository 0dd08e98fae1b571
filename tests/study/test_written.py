"""A bar file written into another folder means the same bar: its own steel is named from there."""

from __future__ import annotations

from pathlib import Path

import pytest

from barfem.cli.main import main
from barfem.model.read import bar_from_dict, read_bar
from barfem.study.change import change
from barfem.study.written import bar_file_text, carried
from tests.model.bar_data import U_BAR

ROOT = Path(__file__).parents[2]
DRAWN = (ROOT / "geometries" / "pickup-front-solid.toml").read_text(encoding="utf-8")
TABLE = (ROOT / "materials" / "51CrV4.toml").read_text(encoding="utf-8").replace("1350", "1390")
STRONGER = "1390"


def home(tmp_path: Path, grade: str, table: str) -> Path:
    """A bar file whose steel is the user's own table `table` beside it, called `grade`."""
    folder = tmp_path / "home"
    (folder / table).parent.mkdir(parents=True)
    assert STRONGER in TABLE
    (folder / table).write_text(TABLE, encoding="utf-8")
    path = folder / "bar.toml"
    path.write_text(DRAWN.replace('grade = "51CrV4"', f'grade = "{grade}"'), encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("grade", "table"),
    [("own.toml", "own.toml"), ("own", "own.toml"), ("51CrV4", "51CrV4.toml"), ("steels/own.toml", "steels/own.toml")],
)
def test_the_steel_of_a_bar_written_elsewhere_is_the_same(tmp_path, grade, table):
    """A table of the user's own that bears a shipped steel's name was left behind unsaid: the shipped one was read."""
    path, there = home(tmp_path, grade, table), tmp_path / "there" / "new.toml"
    there.parent.mkdir()
    thicker = change(read_bar(path), {"section.diameter": 23.0})
    there.write_text(bar_file_text(thicker, path, head="thicker", folder=there.parent), encoding="utf-8")
    new = read_bar(there)
    assert new.section.diameter_mm == 23.0
    assert new.steel.tensile_strength_MPa == thicker.steel.tensile_strength_MPa == float(STRONGER)
    assert "# barfem materials lists the steels" in there.read_text(encoding="utf-8")
    beside = bar_file_text(thicker, path, head="thicker", folder=path.parent)
    assert f'grade = "{grade}"' in beside and beside == bar_file_text(thicker, path, head="thicker")


def test_a_steel_that_is_not_beside_the_bar_stays_as_it_is_named(tmp_path):
    path = home(tmp_path, (tmp_path / "home" / "own.toml").as_posix(), "own.toml")
    for text in (path.read_text(encoding="utf-8"), DRAWN):
        assert carried(text, path.parent, tmp_path) == text
    assert bar_from_dict(U_BAR).steel.tensile_strength_MPa == 1350


def test_commands_write_it_so(tmp_path):
    path, new = home(tmp_path, "own.toml", "own.toml"), tmp_path / "new.toml"
    assert main(["bends", str(path), "--csv", str(tmp_path / "rows.csv")]) == 0
    assert main(["bends", str(tmp_path / "rows.csv"), "--to", str(new), "--like", str(path)]) == 0
    assert read_bar(new).steel.tensile_strength_MPa == float(STRONGER)
    car = path.with_name("car.toml")
    text = (ROOT / "geometries" / "pickup-car.toml").read_text(encoding="utf-8")
    text = text.replace('"pickup-front-solid.toml"', '"bar.toml"').replace(
        '"pickup-rear-tube.toml"', f'"{(ROOT / "geometries" / "pickup-rear-tube.toml").as_posix()}"'
    )
    car.write_text(text, encoding="utf-8")
    assert main(["travel", str(car), "--write-front", str(tmp_path / "moved.toml")]) == 0
    assert read_bar(tmp_path / "moved.toml").steel.tensile_strength_MPa == float(STRONGER)


def test_a_comment_beside_a_changed_value_says_of_which_number_it_spoke(tmp_path):
    """ "Measured across the bar" stood unchanged beside a stiffness that nobody had measured."""
    path = tmp_path / "bar.toml"
    path.write_text(DRAWN, encoding="utf-8")
    for stiffness, was in ((3000.0, "4500.0"), ("3 kN/mm", "3000.0")):  # the second from what the first wrote
        changed = change(read_bar(path), {"mounts.1.radial_stiffness": stiffness})
        path.write_text(bar_file_text(changed, path, head="softer"), encoding="utf-8")
        (line,) = [line for line in path.read_text(encoding="utf-8").splitlines() if "measured across" in line]
        assert line.endswith(f" # was {was}: measured across the bar")
        assert line.index("#") == DRAWN.splitlines()[54].index("#")  # comments stay in their column


def test_the_schema_that_editors_look_for_stays_on_the_first_line(tmp_path):
    path = tmp_path / "bar.toml"
    assert main(["new", str(path), "--yes"]) == 0
    first = path.read_text(encoding="utf-8").splitlines()[0]
    text = bar_file_text(change(read_bar(path), {"section.diameter": 21.0}), path, head="thicker")
    assert first.startswith("#:schema ") and text.splitlines()[:3] == [first, "# thicker", "#"]
