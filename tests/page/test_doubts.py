"""What stands against a verdict is seen with it: slips of the pen, and warnings that can turn it, as in `check`."""

from __future__ import annotations

import shutil

import pytest

from barfem.cli.main import main
from barfem.page.session import open_file
from tests.page.conftest import Page
from tests.page.in_chromium import GEOMETRIES


def _plain(text: str) -> str:
    return " ".join(text.replace("\N{NO-BREAK SPACE}", " ").split())


@pytest.mark.parametrize(("name", "asked"), [("coupe-front-bends", 0), ("coupe-front-splayed", 0), ("slip", 1)])
def test_the_page_doubts_what_the_first_screen_of_check_doubts(tmp_path, capsys, name, asked):
    file = tmp_path / "bar.toml"
    if name == "slip":
        text = (GEOMETRIES / "pickup-rear-tube.toml").read_text(encoding="utf-8")
        file.write_text(text.replace("wheel = 50.0", "wheel = 2.0"), encoding="utf-8")
    else:
        shutil.copy(GEOMETRIES / f"{name}.toml", file)
    main(["check", str(file)])
    screen = _plain(capsys.readouterr().out)
    page = Page(open_file(file))
    try:
        shown = page.post("/check", {"page": True}).json()["page"]
    finally:
        page.answers.worker.close()
    warnings = [line for line in shown["why"] if line.startswith("Warning: ")]
    assert len(shown["twice"]) == asked and screen.count("Look twice: ") == asked
    assert screen.count("Warning: ") == len(warnings)
    for line in (*shown["twice"], *warnings):
        assert _plain(line) in screen
    assert not any(line.startswith("Look twice") for line in shown["head"])  # said once


def test_a_slip_of_the_pen_is_asked_about_beside_the_verdict(opened):
    """It stood below all pictures, out of sight of the verdict that a mistaken unit made."""
    page = opened()
    assert page.page.locator("#twice").is_hidden()
    field = page.key("travel.wheel")
    field.fill("2")  # in, of what is 50 mm
    field.press("Enter")
    page.settled(travel__wheel=2)
    assert "passes at all 4" in page.page.inner_text("#verdict")
    asked, verdict, table = (page.page.locator(each).bounding_box() for each in ("#twice", "#verdict", "#tables"))
    assert _plain(page.page.inner_text("#twice")) == "Look twice: travel of 1 mm: inches written as mm?"
    assert verdict["y"] < asked["y"] < table["y"]


def test_a_life_that_is_an_orientation_only_is_said_to_be_one(opened, served, capsys):
    """Below a thousand cycles, where plastic strain decides: `check` says so under its table."""
    page = opened()
    page.key("travel.wheel").fill("160")
    page.key("travel.wheel").press("Enter")
    page.settled(travel__wheel=160)
    bar = served.folder / "far.toml"
    bar.write_text((served.folder / "tube.toml").read_text("utf-8").replace("wheel = 50.0", "wheel = 160.0"), "utf-8")
    main(["check", str(bar)])
    said = _plain(page.page.inner_text(".settings .hint:not(.swipe)"))
    assert "the life is an orientation only" in said and said in _plain(capsys.readouterr().out)
