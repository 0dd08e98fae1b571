"""What is typed into the page's fields and pressed at its points, in a real Chromium: nothing of it is lost."""

from __future__ import annotations

import shutil
import time

import pytest

from barfem.page.controls import fields_of
from barfem.page.session import open_file
from barfem.study.change import tables_of
from tests.page.in_chromium import DESK, GEOMETRIES, OpenPage, Served
from tests.page.test_controls import CHANGES


def _slowly(route):
    """An answer that takes as long as that of a bend that is solved for the first time."""
    time.sleep(1.0)
    route.continue_()


def test_an_answer_that_comes_while_a_number_is_typed_leaves_it_alone(opened):
    """Diameter, Tab, wall: with the diameter's answer the half-typed "3." became the file's 4, and "45" was taken."""
    page = opened()
    page.page.route("**/check", _slowly)
    page.key("section.diameter").fill("25")
    page.key("section.diameter").press("Enter")
    wall = page.key("section.wall")
    wall.select_text()
    page.page.keyboard.type("3.")
    page.settled(section__diameter=25)
    page.page.keyboard.type("5")
    page.page.keyboard.press("Enter")
    page.settled(section__diameter=25, section__wall=3.5)
    assert wall.input_value() == "3.5"


@pytest.mark.long
def test_escape_takes_back_what_is_typed_and_hides_no_error(opened):
    page = opened()
    field = page.key("section.diameter")
    field.fill("2")
    field.press("Escape")
    assert field.input_value() == "26" and page.page.evaluate(CHANGES) == {}
    field.fill("wide")
    field.press("Enter")
    page.page.wait_for_selector(".control.wrong .error:visible")
    field.fill("wider")
    field.press("Escape")
    assert field.input_value() == "wide" and page.page.locator(".control.wrong .error").is_visible()
    page.page.keyboard.press("Control+z")  # what was given is the page's to undo, also in its own field
    page.settled()
    assert field.input_value() == "26" and page.page.locator(".control.wrong").count() == 0


def test_no_slider_leads_to_a_stiffness_below_nothing(tmp_path):
    """Of a bar that slides in a bushing, axial_stiffness 0, the slider went from -100 to 100 N/mm."""
    text = (GEOMETRIES / "pickup-rear-tube.toml").read_text(encoding="utf-8")
    for drawn in ("axial_stiffness = 400.0", "torsional_stiffness = 60000.0"):
        text = text.replace(drawn, f"{drawn.partition('=')[0]}= 0.0", 1)  # the other mount holds the bar
    (tmp_path / "bar.toml").write_text(text, encoding="utf-8")
    session = open_file(tmp_path / "bar.toml")
    fields = {field["key"]: field for field in fields_of(session, tables_of(session.bar))}
    for key, most in (("mounts.1.axial_stiffness", 2000.0), ("mounts.1.torsional_stiffness", 500_000.0)):
        field = fields[key]
        assert (field["at"], field["low"], field["high"], field["log"]) == (0.0, 0.0, most, False)
    for key in ("mounts.1.axial_stiffness", "mounts.1.torsional_stiffness"):
        session.changed({key: fields[key]["high"]})


@pytest.mark.parametrize("between", [0, 30])
def test_arrow_keys_that_come_faster_than_answers_all_count(opened, between):
    """A key that is held repeats thirty times a second, a bar is answered ten times: each step was counted from the
    last answer, so that five presses moved the tip by 1 mm."""
    page = opened()
    page.page.locator('[data-handle="0 left tip"]').focus()
    for _ in range(5):
        page.page.keyboard.press("ArrowDown", delay=between)
    page.settled(arms__length=305)
    for _ in range(5):
        page.page.keyboard.press("ArrowUp", delay=between)
    page.settled()
    assert page.key("arms.length").input_value() == "300"


@pytest.mark.long
def test_an_address_without_changes_is_the_file_and_can_be_undone(opened):
    """Who takes what follows # out of the address, or goes back to one without, wants the file."""
    page = opened()
    page.key("section.diameter").fill("25")
    page.key("section.diameter").press("Enter")
    page.settled(section__diameter=25)
    page.page.evaluate("location.hash = ''")
    page.settled()
    assert page.key("section.diameter").input_value() == "26"
    page.page.click("#undo")
    page.settled(section__diameter=25)


def test_a_number_alone_in_a_field_of_inches_is_in_inches(browser, tmp_path):
    """0.85 typed over "0.80 in" was a travel of 0.85 mm, at which every bar passes."""
    shutil.copy(GEOMETRIES / "coupe-front-bends.toml", tmp_path / "inches.toml")
    served = Served(tmp_path, "inches.toml")
    try:
        page = OpenPage(browser, served.url, **DESK)
        for key, text, value in (
            ("travel.pickup", "0.85", "0.85 in"),
            ("travel.pickup", "21 mm", "21 mm"),
            ("travel.pickup", "22", 22),  # the field shows mm by now
        ):
            page.key(key).fill(text)
            page.key(key).press("Enter")
            page.settled(**{key: value})
            assert page.key(key).input_value() == str(value)
        page.page.click("#reset")
        page.settled()
        page.page.click("summary:has-text('Bushings')")
        field = page.key("mounts.*.radial_stiffness")
        field.fill("5e4")
        field.press("Enter")
        page.settled(**{"mounts.*.radial_stiffness": "5e4 lbf/in"})
        page.context.close()
    finally:
        served.stop()


@pytest.mark.long
def test_thousands_are_typed_as_the_page_prints_them(opened):
    """300 000, taken from the table: "does not end in a unit; right would be a number without quotes", and had none."""
    page = opened()
    page.page.click("summary:has-text('Targets')")
    for text, value in (("250 000", 250000), ("1\u00a0250\u202f000", 1250000), ("300000", None)):
        page.key("duty.target_cycles").fill(text)
        page.key("duty.target_cycles").press("Enter")
        page.settled(**({} if value is None else {"duty.target_cycles": value}))
