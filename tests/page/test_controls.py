"""What changes the bar on the page, in a real Chromium: every control by mouse, keyboard and touch, and the sketch."""

from __future__ import annotations

import json
import re
import shutil
import sys
from pathlib import Path
from typing import Any

import pytest

from barfem.cli.main import main
from tests.page.in_chromium import DESK, GEOMETRIES, PHONE, OpenPage, Served

CHANGES = """async () => {
  await new Promise((go) => setTimeout(go, 200)); // the address follows a hand that moves on at intervals
  return JSON.parse(decodeURIComponent(location.hash.slice(1)) || '{}').c || {};
}"""
OPEN_ALL = "() => document.querySelectorAll('#controls details').forEach((each) => { each.open = true; })"


def test_a_slider_moves_the_table_and_the_file_says_the_same(opened, served, capsys):
    page = opened()
    before = page.cell("rate_N_per_mm", "4/4")
    slider = page.page.locator('[data-slider="section.diameter"]')
    slider.focus()
    for _ in range(5):
        page.page.keyboard.press("ArrowLeft")
    page.settled(section__diameter=25.5)
    assert page.cell("rate_N_per_mm", "4/4") != before
    assert page.key("section.diameter").input_value() == "25.5"
    assert page.page.locator(".was:visible").all_inner_texts() == ["was 26"]

    page.page.click("#write")
    page.page.fill("#new-name", "moved.toml")
    page.page.click("#dialog button.chief")
    page.page.wait_for_selector("#toast:visible")
    main(["check", str(served.folder / "moved.toml"), "--json", "-"])
    settings = {f"{s['left']}/{s['right']}": s for s in json.loads(capsys.readouterr().out)["settings"]}
    for hole, setting in settings.items():
        assert page.cell("rate_N_per_mm", hole) == f"{setting['rate_N_per_mm']:.1f}"
        assert page.cell("peak.von_mises_MPa", hole) == f"{setting['peak']['von_mises_MPa']:.0f}"
        assert (
            page.cell("fatigue.safety_factor_at_target", hole)[:3]
            == (f"{setting['fatigue']['safety_factor_at_target']:.2f}"[:3])
        )
        link = page.page.locator(f'[data-hole="{hole}"][data-result^="link_force"]')
        shown = int(link.inner_text().replace("\u00a0", ""))
        assert abs(shown - setting[link.get_attribute("data-result")]) <= 0.5


@pytest.mark.parametrize(("key", "there"), [("Enter", True), pytest.param("Escape", False, marks=pytest.mark.long)])
def test_a_name_is_written_by_the_keyboard_alone(opened, served, key, there):
    page = opened()
    page.page.click("#write")
    page.page.fill("#new-name", f"by-{key}.toml")
    page.page.press("#new-name", key)
    page.page.wait_for_selector("#dialog", state="hidden")
    if there:
        page.page.wait_for_selector("#toast:visible", timeout=5000)
    assert (served.folder / f"by-{key}.toml").is_file() == there


@pytest.mark.long
def test_a_question_without_a_name_can_be_left(opened):
    page = opened()
    page.page.click("#write")
    page.page.fill("#new-name", "")
    page.page.click("#dialog button:has-text('Cancel')")
    page.page.wait_for_selector("#dialog", state="hidden", timeout=5000)


@pytest.mark.long
def test_typed_numbers_take_units_and_a_wrong_one_keeps_the_last_result(opened):
    page = opened()
    field = page.key("arms.length")
    field.fill("11.811 in")
    field.press("Enter")
    page.settled(arms__length="11.811 in")
    good = page.cell("rate_N_per_mm", "1/1")
    field.fill("a lot")
    field.press("Enter")
    page.page.wait_for_selector("#trouble:visible")
    error = page.page.locator(".control.wrong .error")
    assert '"a lot" is not a number with a unit' in error.inner_text() and "Right would be" in error.inner_text()
    assert field.get_attribute("aria-invalid") == "true"
    assert page.cell("rate_N_per_mm", "1/1") == good
    assert "stale" in (page.page.locator("#results").get_attribute("class") or "")
    assert not page.page.locator("#helps", has_text="Looking").is_visible()  # for what passes, with no bar to judge
    field.fill("1e999")  # more than JSON holds: said as it was typed, at its field
    field.press("Enter")
    page.page.wait_for_function("() => document.querySelector('.control.wrong .error')?.textContent.includes('1e999')")
    page.page.click("#undo")
    page.page.click("#undo")
    page.settled(arms__length="11.811 in")
    assert page.page.locator("#trouble").is_hidden() and page.page.locator(".control.wrong").count() == 0


@pytest.mark.long
def test_a_hole_more_and_a_hole_less(opened):
    page = opened()
    page.page.evaluate(OPEN_ALL)
    page.page.click("#more-holes")
    page.page.wait_for_selector('[data-hole="5/5"]')
    assert page.key("ends.holes.5.from_tip").input_value() == "108"
    page.page.click("#less-holes")
    page.page.wait_for_selector('[data-hole="5/5"]', state="detached")


@pytest.mark.long
def test_a_point_of_the_sketch_is_dragged_and_moved_by_keys(opened):
    page = opened()
    handle = page.page.locator('[data-handle="0 left tip"]')
    handle.focus()
    page.page.keyboard.press("ArrowDown")  # rearward: a longer arm
    page.settled(arms__length=301)
    dot = handle.locator(".dot").bounding_box()
    page.page.mouse.move(dot["x"] + 6, dot["y"] + 6)
    page.page.mouse.down()
    page.page.mouse.move(dot["x"] + 6, dot["y"] + 26, steps=4)
    page.page.mouse.up()
    page.page.wait_for_function(
        "() => JSON.parse(document.getElementById('answer').dataset.changes)['arms.length'] > 305"
    )
    page.page.click("#undo")
    page.settled(arms__length=301)  # one drag is one step


@pytest.mark.long
def test_the_ends_of_a_benders_straights_are_dragged_along_them(browser, tmp_path):
    shutil.copy(GEOMETRIES / "coupe-front-bends.toml", tmp_path / "rows.toml")
    made = Served(tmp_path, "rows.toml")
    try:
        page = OpenPage(browser, made.url, **DESK)
        tip = page.page.locator('[data-handle="0 end of straight 7"]')
        tip.focus()
        page.page.keyboard.press("ArrowDown")  # 7.50 in, and rearward
        page.settled(bends__rows__7__1=191.5)
        page.page.keyboard.press("ArrowLeft")  # across it: it cannot go there
        page.page.keyboard.press("Shift+ArrowUp")
        page.settled(bends__rows__7__1=181.5)
        assert page.page.locator('[data-handle="1 end of straight 7"]').count() == 0  # in front view it is end on
        page.context.close()
    finally:
        made.stop()


def _by_mouse(page: Any, slider: Any, share: float) -> None:
    box = slider.bounding_box()
    page.mouse.click(box["x"] + share * box["width"], box["y"] + 0.5 * box["height"])


def _by_touch(page: Any, slider: Any, share: float) -> None:
    box = slider.bounding_box()
    page.touchscreen.tap(box["x"] + share * box["width"], box["y"] + 0.5 * box["height"])


def _by_keyboard(page: Any, slider: Any, share: float) -> None:
    slider.focus()
    page.keyboard.press("ArrowRight" if share > 0.5 else "ArrowLeft")


@pytest.mark.long
@pytest.mark.parametrize(
    ("moved", "options"),
    [(_by_mouse, DESK), (_by_keyboard, DESK), (_by_touch, PHONE)],
    ids=["mouse", "keyboard", "touch"],
)
def test_every_control_is_moved_by_mouse_keyboard_and_touch(opened, moved, options):
    page = opened(**options).page
    page.evaluate(OPEN_ALL)
    sliders = page.locator("[data-slider]").evaluate_all("(all) => all.map((each) => each.dataset.slider)")
    assert len(sliders) >= 25
    for key in sliders:
        slider = page.locator(f'[data-slider="{key}"]')
        # Another value than the file's; again where an answer that came meanwhile pushed the control along.
        for share in (0.8, 0.3, 0.7, 0.4):
            slider.scroll_into_view_if_needed()
            moved(page, slider, share)
            if key in page.evaluate(CHANGES):
                break
        value = page.evaluate(CHANGES)[key]
        assert page.locator(f'[data-key="{key}"]').input_value() == str(value).removesuffix(".0")
    words = page.locator("#controls select").evaluate_all("(all) => all.map((each) => each.dataset.key)")
    for key in words:
        select = page.locator(f'[data-key="{key}"]')
        values = select.locator("option").evaluate_all("(all) => all.map((each) => each.value)")
        if len(values) < 2:
            continue
        if moved is _by_keyboard:
            select.focus()
            page.keyboard.press("ArrowUp" if select.input_value() == values[-1] else "ArrowDown")
        else:
            select.select_option(next(value for value in values if value != select.input_value()))
        assert key in page.evaluate(CHANGES)
    page.evaluate("() => document.querySelector('#reset').click()")
    page.wait_for_function("() => document.getElementById('answer').dataset.changes === '{}'")


def _by_finger(page: Any, start: tuple[float, float], end: tuple[float, float]) -> None:
    """A finger that is put down, moved and lifted."""
    tools = page.context.new_cdp_session(page)

    def touch(kind: str, *points: tuple[float, float]) -> None:
        tools.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [{"x": x, "y": y} for x, y in points]})

    touch("touchStart", start)
    for step in range(1, 11):
        touch("touchMove", tuple(a + (b - a) * step / 10 for a, b in zip(start, end, strict=True)))
        page.wait_for_timeout(16)
    touch("touchEnd")


@pytest.mark.long
def test_a_finger_that_scrolls_the_page_over_a_slider_changes_nothing(opened):
    """On a phone the sliders lie where the thumb scrolls: only a finger that goes along one moves it."""
    page = opened(**PHONE)
    slider = page.page.locator('[data-slider="section.diameter"]')
    field = page.key("section.diameter")
    for across in (0, 40):
        slider.scroll_into_view_if_needed()
        box, before = slider.bounding_box(), page.page.evaluate("scrollY")
        start = (box["x"] + 0.8 * box["width"], box["y"] + 0.5 * box["height"])
        _by_finger(page.page, start, (start[0] + across, start[1] - 200))
        page.page.wait_for_function("y => scrollY > y + 50", arg=before)
        page.settled()
        assert slider.input_value() == field.input_value() == "26"
        assert page.page.is_disabled("#undo") and page.page.evaluate(CHANGES) == {}
    slider.scroll_into_view_if_needed()
    box = slider.bounding_box()
    start = (box["x"] + 0.5 * box["width"], box["y"] + 0.5 * box["height"])
    _by_finger(page.page, start, (start[0] + 40, start[1] + 3))
    page.waits("changes['section.diameter'] > 28")
    page.page.click("#undo")
    page.settled()  # one movement, one step


@pytest.mark.long
def test_an_undone_slider_stands_where_its_number_says(opened):
    """The keyboard stays at the slider, and its next step goes on from there."""
    page = opened()
    slider = page.page.locator('[data-slider="section.diameter"]')
    slider.focus()
    for _ in range(5):
        page.page.keyboard.press("ArrowLeft")
    page.settled(section__diameter=25.5)
    for _ in range(5):
        page.page.keyboard.press("Control+z")
    page.settled()
    assert slider.input_value() == page.key("section.diameter").input_value() == "26"
    page.page.keyboard.press("ArrowRight")
    page.settled(section__diameter=26.1)


@pytest.mark.long
def test_two_hundred_fast_changes_show_the_last_and_leave_no_memory(opened, served):
    page = opened()

    def resident() -> float:
        text = Path(f"/proc/{served.process.pid}/status").read_text(encoding="utf-8")
        return float(re.search(r"VmRSS:\s+(\d+)", text)[1]) / 1024  # type: ignore[index]

    page.page.evaluate(
        """async () => { const slider = document.querySelector('[data-slider="section.diameter"]');
        window.shake = async (n) => { for (let i = 0; i < n; i += 1) { slider.value = 22 + 0.1 * (i % 50);
        slider.dispatchEvent(new Event('input', { bubbles: true })); await new Promise((r) => setTimeout(r, 4)); }
        slider.dispatchEvent(new Event('change', { bubbles: true })); }; await window.shake(60); }"""
    )
    page.settled(section__diameter=22.9)
    tools = page.context.new_cdp_session(page.page)
    tools.send("Performance.enable")

    def kept() -> dict[str, float]:
        """What the page itself holds once its rubbish is collected."""
        tools.send("HeapProfiler.collectGarbage")
        return {each["name"]: each["value"] for each in tools.send("Performance.getMetrics")["metrics"]}

    before, held = resident() if sys.platform == "linux" else 0.0, kept()
    page.page.evaluate("window.shake(200)")
    page.settled(section__diameter=26.9)
    assert page.key("section.diameter").input_value() == "26.9"
    assert kept()["JSHeapUsedSize"] < held["JSHeapUsedSize"] + 2e6 and kept()["Nodes"] < 1.2 * held["Nodes"]
    if sys.platform == "linux":
        assert resident() < before + 40.0
    page.page.click("#undo")  # one movement, one step
    page.page.wait_for_function(
        "() => document.getElementById('answer').dataset.changes !== '{\"section.diameter\":26.9}'"
    )
