"""What `barfem size` reads and writes: stock lists, and bar files that keep their comments."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path

import pytest

from barfem.check.api import check_bar
from barfem.model.errors import InputError
from barfem.model.read import read_bar
from barfem.study.change import change
from barfem.study.evaluate import evaluate_one
from barfem.study.options import Option, why_not
from barfem.study.size import size_from_stock
from barfem.study.stock import default_stock_path, read_stock
from tests.study.bars import SOLID, TUBE, as_json, ran

STOCK = read_stock()


def test_files_are_not_overwritten(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    new = tmp_path / "new.toml"
    new.write_text("mine")
    status, _, err = ran(capsys, "size", SOLID, "--rate", "45", "--write", new)
    assert status == 2 and "exists" in err and new.read_text() == "mine"
    status, _, _ = ran(capsys, "size", SOLID, "--rate", "45", "--write", new, "--force")
    assert status == 0 and read_bar(new).section.diameter_mm == 23.0
    copy = tmp_path / "bar.toml"
    copy.write_bytes(SOLID.read_bytes())
    for name, word in (
        (copy, "is an input of this run"),
        (tmp_path / "new.txt", ".toml"),
        (tmp_path / "no" / "new.toml", "folder"),
    ):
        status, _, err = ran(capsys, "size", copy, "--rate", "45", "--write", name, "--force")
        assert status == 2 and word in err
    assert copy.read_bytes() == SOLID.read_bytes()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["bar.toml", "new.toml"]


def test_comments_and_layout_are_kept(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    new = tmp_path / "new.toml"
    ran(capsys, "size", SOLID, "--rate", "45", "--write", new)
    old, made = SOLID.read_text().splitlines(), new.read_text().splitlines()
    kept = [line for line in old if line not in made]
    assert [line.split("=")[0].strip() for line in kept] == ["diameter", "thickness", "width"]
    assert any(line.startswith("thickness = 12.54") and "# was 12.0: along the hole" in line for line in made)
    assert made[0].startswith("# Made by barfem size from pickup-front-solid.toml: round 23")
    changed_keys = tomllib.loads(new.read_text())
    assert changed_keys["section"] == {"shape": "round", "diameter": 23.0}


def test_keys_that_go_are_gone_and_the_rest_stays(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    new = tmp_path / "new.toml"
    status, out, err = ran(capsys, "size", TUBE, "--rate", "50", "--hole", "4", "--shape", "round", "--write", new)
    assert status == 0, out + err
    tables, old = tomllib.loads(new.read_text()), tomllib.loads(TUBE.read_text())
    assert set(old["section"]) - set(tables["section"]) == {"wall", "bend_wall"}
    assert "bore_surface" not in tables["material"] and tables["material"]["bent"] == "before-hardening"
    assert tables["ends"]["flat"]["kind"] == "forged" and tables["mounts"] == old["mounts"]
    assert check_bar(new).passes


def test_a_picture_and_json(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    picture = tmp_path / "front.png"
    status, data = as_json(capsys, "size", SOLID, "--rate", "30", "--hole", "stiff", "--plot", picture)
    assert status == 0 and data["answer"]["name"] == "round 21"
    assert len(data["options"]) == len(STOCK.of("round"))
    assert picture.read_bytes().startswith(b"\x89PNG")
    drawing = tmp_path / "front.svg"
    status, out, _ = ran(capsys, "size", SOLID, "--rate", "30", "--plot", drawing)
    assert "<svg" in drawing.read_text() and max(map(len, out.splitlines()[:-1])) <= 80
    assert ran(capsys, "size", SOLID, "--rate", "30", "--plot", tmp_path / "front.pdf")[0] == 2
    assert ran(capsys, "size", SOLID, "--rate", "30", "--free", "--plot", picture)[0] == 2


def test_a_stock_list_of_ones_own(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    own = tmp_path / "stock.toml"
    own.write_text('format = 1\nname = "ours"\n[round]\nsource = "invented"\ndiameters = [20.0, "0.875 in", 24.0]\n')
    status, data = as_json(capsys, "size", SOLID, "--rate", "36", "--stock", own)
    assert status == 0 and data["answer"]["diameter_mm"] == pytest.approx(22.225)
    assert len(data["options"]) == 3
    assert ran(capsys, "size", TUBE, "--rate", "36", "--stock", own)[0] == 2  # it has no tubes


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("format = 2\n", "format"),
        ("format = 1\n", "no sizes"),
        ("format = 1\n[round]\ndiameter = [20]\n", "diameters"),
        ("format = 1\n[round]\ndiameters = [0]\n", "above 0"),
        ("format = 1\n[tube]\nsizes = [{ diameter = 20, walls = [10] }]\n", "bore"),
        ("format = 1\n[tube]\nsizes = [20]\n", "sizes 1"),
        ("format = 1\n[bar]\n", "bar"),
        ("format 1", "TOML"),
    ],
)
def test_a_stock_list_that_is_none(tmp_path: Path, text: str, word: str) -> None:
    path = tmp_path / "stock.toml"
    path.write_text(text)
    with pytest.raises(InputError) as error:
        read_stock(path)
    assert word in str(error.value) and str(path) in str(error.value)


def test_the_shipped_list() -> None:
    assert default_stock_path().is_file() and len(STOCK.of("round")) >= 25 and len(STOCK.of("tube")) >= 60
    assert all("memory" in source for source in STOCK.sources.values())
    for tube in STOCK.of("tube"):
        assert tube.wall_mm is not None and 0.07 < tube.wall_mm / tube.diameter_mm < 0.26


def test_a_size_thicker_than_the_condition_is_stated_for_is_left_out() -> None:
    """42CrMo4 to EN 10083-3, "up to 16 mm": a 17 mm round of it is not sold to these strengths, and 16 mm is soft."""
    steel = {"grade": "42CrMo4", "condition": "QT EN 10083-3 up to 16 mm", "bent": "before-hardening"}
    bar = change(read_bar(SOLID), {"section.diameter": 16.0, "material": steel})
    rate = float(evaluate_one(change(bar, {"section.diameter": 17.0})).rate_N_per_mm.max())
    stock = replace(STOCK, sections=tuple(each for each in STOCK.sections if each.diameter_mm in (16.0, 17.0)))
    found = size_from_stock(bar, stock, rate_N_per_mm=rate, window_percent=10.0)
    thick = next(option for option in found.options if option.name == "round 17")
    assert thick.limit.startswith("42CrMo4 QT EN 10083-3 up to 16 mm is stated for rounds up to 16 mm")
    assert found.answer is None and "round 17 would" in found.missed[0] and "hardens less" in found.missed[0]


def test_a_margin_that_misses_is_not_printed_as_its_target() -> None:
    bars = (change(read_bar(SOLID), {"travel.pickup": 24.0 + 0.01 * i}) for i in range(20))
    bar, margins = next(
        (bar, margins)
        for bar in bars
        if round(least := float((margins := evaluate_one(bar).yield_margin).min()), 2) > least + 0.001
    )
    missed = change(bar, {"targets.yield_margin": float(margins.min()) + 0.001})
    said = why_not(Option("as drawn", missed.section, evaluation=evaluate_one(missed)))
    assert f"yield margin {float(margins.min()) - 0.005:.2f} at hole stiff" in said
