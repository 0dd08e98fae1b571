"""The page by its address, in a real Chromium: its state, the token, a script in a name, a bar from nothing."""

from __future__ import annotations

import json
import re
import time

import pytest

from barfem.cli.main import main
from tests.page.in_chromium import DESK, GEOMETRIES, OpenPage, Served

NAME = '<img src=x onerror="document.title=1"> & <script>alert(1)</script>'


@pytest.mark.long
def test_undo_redo_and_a_reload_keep_the_state(opened):
    page = opened()
    page.key("material.peening").select_option("shot")
    page.settled(material__peening="shot")
    assert "passes at all 4" in page.page.inner_text("#verdict")
    page.page.keyboard.press("Control+z")
    page.settled()
    assert "fails at 2 of 4" in page.page.inner_text("#verdict")
    page.page.keyboard.press("Control+y")
    page.settled(material__peening="shot")
    page.page.reload()
    page.page.wait_for_selector("[data-result]")
    page.settled(material__peening="shot")
    assert page.key("material.peening").input_value() == "shot"


@pytest.mark.long
def test_an_undone_field_shows_its_value_before_the_bar_is_judged(opened):
    page = opened()
    field, drawn = page.key("section.diameter"), page.key("section.diameter").input_value()
    field.fill("23.5")
    field.press("Enter")
    page.settled(section__diameter=23.5)
    field.blur()
    at_once = page.page.evaluate(
        """() => [["undo"], ["redo"]].map(([button]) => {
          document.getElementById(button).click();
          return document.querySelector('[data-key="section.diameter"]').value;
        })"""
    )
    assert at_once == [drawn, "23.5"]


@pytest.mark.long
def test_a_wrong_value_in_the_address_leaves_a_way_back_to_the_file(opened, served):
    """A reload while a field holds a value that makes no bar, or a link that was cut short, is no dead end."""
    page = opened()
    changes = json.dumps({"c": {"section.diameter": "thick"}, "a": {"cells": None}})
    page.page.goto(f"{served.url}#{changes}")
    page.page.reload()
    page.page.wait_for_selector("#trouble:visible")
    assert '"thick" is not a number with a unit' in page.page.inner_text("#trouble")
    assert "As in the file" in page.page.inner_text("#verdict")
    page.page.click("#reset")
    page.page.wait_for_selector("[data-result]")
    assert page.page.locator("#trouble").is_hidden() and "fails at 2 of 4" in page.page.inner_text("#verdict")


@pytest.mark.long
def test_after_a_reload_a_wrong_value_is_mended_at_its_field_and_nothing_else_is_lost(opened, served):
    page = opened()
    changes = json.dumps({"c": {"arms.length": 310, "section.diameter": "thick", "travel.wheel": 45}})
    page.page.goto(f"{served.url}#{changes}")
    page.page.reload()
    page.page.wait_for_selector(".control.wrong .error:visible")
    assert page.key("section.diameter").input_value() == "thick" and page.key("arms.length").input_value() == "310"
    assert page.page.locator("#results").is_hidden()  # no empty pictures
    page.key("section.diameter").fill("25")
    page.key("section.diameter").press("Enter")
    page.settled(arms__length=310, travel__wheel=45, section__diameter=25)
    assert page.page.locator("#trouble").is_hidden() and page.page.locator("#tables").is_visible()


def test_a_bar_file_that_cannot_be_judged_is_mended_on_the_page(browser, tmp_path):
    """Links too short to reach: the page stood empty, with nothing that could be changed."""
    text = (GEOMETRIES / "pickup-front-solid.toml").read_text(encoding="utf-8")
    (tmp_path / "short.toml").write_text(text.replace("length = 210.0", "length = 15.0"), encoding="utf-8")
    served = Served(tmp_path, "short.toml")
    try:
        context = browser.new_context(**DESK)
        page = context.new_page()
        page.goto(served.url)
        page.wait_for_selector("#trouble:visible")
        assert page.inner_text("#verdict") == "No answer yet: the bar file cannot be judged as it stands."
        page.click("summary:has-text('Links')")
        page.fill('[data-key="links.length"]', "210")
        page.press('[data-key="links.length"]', "Enter")
        page.wait_for_selector("[data-result]")
        assert "passes at all 3" in page.inner_text("#verdict")
        context.close()
    finally:
        served.stop()


@pytest.mark.long
def test_holes_called_by_other_letters_have_fields_of_their_own(browser, tmp_path):
    text = (GEOMETRIES / "pickup-rear-tube.toml").read_text(encoding="utf-8")
    for old, new in (("1", "ä"), ("2", "ö"), ("3", "größer, fest"), ("4", "+")):
        text = text.replace(f'name = "{old}"', f'name = "{new}"')
    (tmp_path / "tube.toml").write_text(text, encoding="utf-8")
    served = Served(tmp_path, "tube.toml")
    try:
        page = OpenPage(browser, served.url, **DESK)
        twice = "(all) => all.map((each) => each.id).filter((id, i, ids) => ids.indexOf(id) !== i)"
        assert page.page.locator("[id]").evaluate_all(twice) == []
        page.page.get_by_label("Hole ö, from the cut end", exact=True).fill("43")
        page.page.keyboard.press("Enter")
        page.waits("changes['ends.holes.ö.from_tip'] === 43")
        page.context.close()
    finally:
        served.stop()


@pytest.mark.long
def test_an_answer_that_breaks_off_is_said_in_words(opened):
    """The page was stopped while it answered, or another program has its port by now."""
    page = opened()
    page.page.route("**/check", lambda route: route.fulfill(status=200, body='{"passes": tr'))
    page.key("section.diameter").fill("25")
    page.key("section.diameter").press("Enter")
    page.page.wait_for_selector("#trouble:visible")
    assert page.page.inner_text("#trouble").startswith("barfem page does not answer")
    assert "The last good result stays below" in page.page.inner_text("#trouble")


@pytest.mark.long
def test_a_name_that_is_refused_or_thought_better_of_changes_nothing(opened):
    page = opened()
    name = page.page.inner_text("#name")
    page.page.click("#write")
    page.page.fill("#bar-name", "x" * 500)
    page.page.click("#dialog button.chief")
    page.page.wait_for_selector("#dialog .error:visible")
    assert "at most 400 characters" in page.page.inner_text("#dialog .error")
    page.page.keyboard.press("Escape")
    assert page.page.inner_text("#name") == name and page.page.is_disabled("#undo")
    assert page.page.locator("#trouble").is_hidden()


@pytest.mark.long
def test_a_script_in_a_name_is_text(browser, tmp_path):
    text = (GEOMETRIES / "pickup-front-solid.toml").read_text(encoding="utf-8")
    text = text.replace('"front bar of an invented gravel-rally pickup"', json.dumps(NAME)).replace(
        '"soft"', '"<b>soft"'
    )
    (tmp_path / "x.toml").write_text(text, encoding="utf-8")
    served = Served(tmp_path, "x.toml")
    try:
        page = OpenPage(browser, served.url, **DESK)
        assert page.page.inner_text("#name") == NAME
        assert page.page.locator("button.hole").first.inner_text() == "<b>soft"
        assert page.page.locator("img, b:has-text('soft')").count() == 0
        assert page.messages == []
        page.context.close()
    finally:
        served.stop()


def test_a_bar_from_nothing_gets_its_name_at_the_first_write(browser, tmp_path):
    began = time.monotonic()
    served = Served(tmp_path)
    try:
        assert re.fullmatch(r"http://127\.0\.0\.1:\d+/\?token=[\w-]{20,}", served.url)
        page = OpenPage(browser, served.url, **DESK)
        assert "not written yet" in page.page.inner_text("#file")
        page.key("travel.pickup").fill("10")
        page.key("travel.pickup").press("Enter")
        page.settled(travel__pickup=10)
        page.page.click("#write")
        assert page.page.input_value("#new-name") == "my-bar.toml"
        page.page.fill("#new-name", "my-bar")  # the ending may be left out
        page.page.click("#dialog button.chief")
        page.page.wait_for_selector("#toast:visible")
        assert main(["check", str(tmp_path / "my-bar.toml")]) in (0, 1)
        assert page.page.inner_text("#file") == "a new bar; as written: my-bar.toml"
        page.key("travel.pickup").fill("11")
        page.key("travel.pickup").press("Enter")
        page.settled(travel__pickup=11)
        assert page.page.inner_text("#file") == "a new bar; changed since my-bar.toml was written"
        page.context.close()
    finally:
        status, _, err = served.stop()
    assert status == 0 and "stopped" in err and "Traceback" not in err and time.monotonic() - began < 120


@pytest.mark.long
def test_a_long_drag_asks_for_fewer_addresses_than_a_browser_takes_and_its_end_is_kept(opened):
    """Browsers take a hundred to two hundred new addresses in ten seconds; one has any more be an error, another drops
    them unsaid: a slider that is dragged for some seconds stood still, or a reload led back to where it was half-way.
    """
    page = opened()
    page.page.evaluate(
        """async () => {
          const slider = document.querySelector('[data-slider="section.diameter"]');
          const put = history.replaceState.bind(history);
          let taken = 0;
          history.replaceState = (...given) => {
            if ((taken += 1) > 100) throw new DOMException("more than 100 times per 10 seconds", "SecurityError");
            put(...given);
          };
          const slide = (kind) => slider.dispatchEvent(new Event(kind, { bubbles: true }));
          for (let i = 0; i < 250; i += 1) {
            slider.value = 22 + 0.1 * (i % 50);
            slide("input");
            await new Promise((go) => setTimeout(go, 8));
          }
          slider.value = 29.5;
          slide("input");
          slide("change");
        }"""
    )
    page.settled(section__diameter=29.5)
    page.page.wait_for_function('() => decodeURIComponent(location.hash) === \'#{"c":{"section.diameter":29.5}}\'')
    page.page.reload()
    page.page.wait_for_selector("[data-result]")
    assert page.key("section.diameter").input_value() == "29.5"
