"""The page as people use it: in a real Chromium, by mouse, keyboard and touch, against `barfem page` as a process."""

from __future__ import annotations

import json
import re
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from barfem.cli.main import main

ROOT = Path(__file__).parents[2]
DESK = {"viewport": {"width": 1400, "height": 900}}
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
NAME = '<img src=x onerror="document.title=1"> & <script>alert(1)</script>'


class Served:
    """`barfem page` of a bar, as a process of its own in a folder of its own."""

    def __init__(self, folder: Path, *words: str) -> None:
        self.folder = folder
        self.process = subprocess.Popen(
            [sys.executable, "-m", "barfem", "page", *words, "--no-browser"],
            cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        )  # fmt: skip
        self.url = self.process.stdout.readline().rstrip("\n")  # type: ignore[union-attr]

    def stop(self) -> tuple[int, str, str]:
        self.process.send_signal(signal.SIGINT)
        out, err = self.process.communicate(timeout=20)
        return self.process.returncode, out, err


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """The rear tube: four holes, of which two fail."""
    folder = tmp_path_factory.mktemp("page")
    shutil.copy(ROOT / "geometries" / "pickup-rear-tube.toml", folder / "tube.toml")
    made = Served(folder, "tube.toml")
    yield made
    made.stop()


@pytest.fixture(scope="session")
def axe(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The rules of axe-core, from the npm registry; nothing of it is kept here."""
    if shutil.which("npm") is None:
        pytest.skip("npm is not installed: axe-core cannot be had")
    folder = tmp_path_factory.mktemp("axe")
    command = ["npm", "install", "--silent", "--no-audit", "--no-fund", "--prefix", str(folder), "axe-core@4"]
    try:
        subprocess.run(command, check=True, capture_output=True, timeout=60)
    except (subprocess.SubprocessError, OSError) as error:
        pytest.skip(f"axe-core cannot be had from the npm registry: {error}")
    return (folder / "node_modules" / "axe-core" / "axe.min.js").read_text(encoding="utf-8")


class Page:
    """An open page with everything it said and asked for."""

    def __init__(self, browser: Any, url: str, **options: Any) -> None:
        self.context = browser.new_context(**options)
        self.page = self.context.new_page()
        self.said: list[str] = []
        self.asked: list[str] = []
        self.page.on("console", lambda message: self.said.append(message.text))
        self.page.on("pageerror", lambda error: self.said.append(str(error)))
        self.page.on("dialog", lambda dialog: (self.said.append(dialog.message), dialog.dismiss()))
        self.page.on("request", lambda request: self.asked.append(request.url))
        self.page.goto(url)
        self.page.wait_for_selector("[data-result]")

    def settled(self, **changes: Any) -> None:
        """Wait for the answer to exactly these changes (keys with __ for a dot)."""
        wanted = json.dumps({key.replace("__", "."): value for key, value in changes.items()}, separators=(",", ":"))
        self.page.wait_for_function(
            "w => document.getElementById('answer').dataset.changes === w"
            " && document.getElementById('answer').getAttribute('aria-busy') === 'false'",
            arg=wanted,
        )

    def waits(self, condition: str) -> None:
        """Wait until a condition on `changes`, those of the answer that is shown, holds."""
        shown = "JSON.parse(document.getElementById('answer').dataset.changes || '{}')"
        self.page.wait_for_function(f"() => {{ const changes = {shown}; return {condition}; }}")

    def key(self, key: str) -> Any:
        return self.page.locator(f'[data-key="{key}"]')

    def cell(self, key: str, hole: str) -> str:
        return self.page.locator(f'[data-result="{key}"][data-hole="{hole}"]').first.inner_text()


@pytest.fixture
def opened(browser: Any, served: Served) -> Iterator[Callable[..., Page]]:
    made: list[Page] = []

    def open_page(url: str | None = None, **options: Any) -> Page:
        made.append(Page(browser, url or served.url, **(options or DESK)))
        return made[-1]

    yield open_page
    for each in made:
        each.context.close()
        # What a refused value answers with is told at its field, and by the browser's own console.
        assert [text for text in each.said if "422" not in text and "409" not in text] == []
        assert [url for url in each.asked if not url.startswith("http://127.0.0.1:")] == []


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
    page.page.click("#undo")
    page.settled(arms__length="11.811 in")
    assert page.page.locator("#trouble").is_hidden() and page.page.locator(".control.wrong").count() == 0


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


def test_solid_against_hollow_at_equal_rate_in_two_clicks(opened):
    page = opened()
    tube = page.page.locator('[data-result="rate_N_per_mm"][data-hole="4/4"]').inner_text()
    page.page.click("#pin")
    page.page.click("#equal")
    page.waits("changes.section?.shape === 'round'")
    assert page.cell("rate_N_per_mm", "4/4") == tube
    row = page.page.locator("tbody tr", has_text=tube).first
    assert f"A {tube}" in row.inner_text() and "same" in row.inner_text()
    assert re.search(r"Mass .* kg \(A 3\.\d+ kg, \+\d", page.page.inner_text("#pinned"))
    # Lives stand as the bands they are, without a difference: designs are compared by safety factor.
    then = row.locator("td", has=page.page.locator('[data-result^="fatigue.life"]')).locator(".beside")
    assert re.fullmatch(r"A (over )?[\d\s]+( to >?[\d\s]+)?", then.inner_text())
    page.page.get_by_role("button", name="Go to A").click()
    page.settled()


def test_advice_is_tried_with_a_click_and_the_bar_passes(opened):
    page = opened()
    page.page.wait_for_selector("#advice .ways button", timeout=60_000)
    page.key("section.diameter").fill("25")
    page.key("section.diameter").press("Enter")
    assert page.page.locator("#advice button:enabled").count() == 0  # advice for another bar is not to be tried
    page.page.click("#undo")
    page.page.wait_for_selector("#advice .ways button:enabled", timeout=60_000)
    page.page.get_by_role("button", name=re.compile("peening")).first.click()
    page.page.wait_for_function("() => document.getElementById('verdict').textContent.includes('passes at all')")


def test_every_number_says_why_and_commands_lead_there(opened):
    page = opened()
    page.page.locator("td button.figure").nth(1).click()
    page.page.wait_for_selector("#dialog[open]")
    text = page.page.inner_text("#dialog")
    assert "formula" in text and "source" in text
    # First the number itself, and the place that decides it.
    assert page.cell("fatigue.safety_factor_at_target", "1/1") + ": " in text and "in the right mount" in text
    page.page.keyboard.press("Escape")
    page.page.click("#commands")
    page.page.wait_for_selector("#dialog[open]")
    assert "barfem check tube.toml" in page.page.inner_text("#dialog")


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


def test_the_ends_of_a_benders_straights_are_dragged_along_them(browser, tmp_path):
    shutil.copy(ROOT / "geometries" / "coupe-front-bends.toml", tmp_path / "rows.toml")
    made = Served(tmp_path, "rows.toml")
    try:
        page = Page(browser, made.url, **DESK)
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


def test_the_view_shows_the_chosen_hole(opened):
    page = opened()
    page.page.wait_for_function("() => document.getElementById('bar3d').dataset.mark")
    before = page.page.locator("#bar3d").get_attribute("data-mark")
    page.page.locator("button.hole", has_text="1").first.click()
    page.page.wait_for_function("b => document.getElementById('bar3d').dataset.mark !== b", arg=before)
    assert page.page.input_value("#setting") == "0"
    assert "hole 1" in page.page.inner_text("#along")


@pytest.mark.parametrize(("options", "scheme"), [(DESK, "dark"), (PHONE, "light")], ids=["desk", "phone"])
def test_nothing_spills_and_touch_moves_it(opened, options, scheme):
    page = opened(**options, color_scheme=scheme)
    width = options["viewport"]["width"]
    assert page.page.evaluate("document.documentElement.scrollWidth") <= width
    assert page.page.locator(".swipe").first.is_visible() == (options is PHONE)  # a table that goes on is said to
    slider = page.page.locator('[data-slider="section.diameter"]')
    slider.scroll_into_view_if_needed()
    box = slider.bounding_box()
    where = (box["x"] + 0.8 * box["width"], box["y"] + 0.5 * box["height"])
    (page.page.touchscreen.tap if "has_touch" in options else page.page.mouse.click)(*where)
    page.waits("changes['section.diameter'] > 30")
    if "has_touch" in options:
        small = page.page.evaluate(
            "[...document.querySelectorAll('button, select, input')].filter(e => e.offsetParent && "
            "e.getBoundingClientRect().height < 24).map(e => e.outerHTML.slice(0, 80))"
        )
        assert small == []


CHANGES = "() => JSON.parse(decodeURIComponent(location.hash.slice(1)) || '{}').c || {}"
OPEN_ALL = "() => document.querySelectorAll('#controls details').forEach((each) => { each.open = true; })"


def _by_mouse(page: Any, slider: Any, share: float) -> None:
    box = slider.bounding_box()
    page.mouse.click(box["x"] + share * box["width"], box["y"] + 0.5 * box["height"])


def _by_touch(page: Any, slider: Any, share: float) -> None:
    box = slider.bounding_box()
    page.touchscreen.tap(box["x"] + share * box["width"], box["y"] + 0.5 * box["height"])


def _by_keyboard(page: Any, slider: Any, share: float) -> None:
    slider.focus()
    page.keyboard.press("ArrowRight" if share > 0.5 else "ArrowLeft")


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
        slider.scroll_into_view_if_needed()
        # Another value than the file's; again where an answer that came meanwhile pushed the control along.
        for share in (0.8, 0.3, 0.7, 0.4):
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


def test_a_hole_more_and_a_hole_less(opened):
    page = opened()
    page.page.evaluate("() => document.querySelectorAll('#controls details').forEach((d) => { d.open = true; })")
    page.page.click("#more-holes")
    page.page.wait_for_selector('[data-hole="5/5"]')
    assert page.key("ends.holes.5.from_tip").input_value() == "108"
    page.page.click("#less-holes")
    page.page.wait_for_selector('[data-hole="5/5"]', state="detached")


@pytest.mark.parametrize(("options", "scheme"), [(DESK, "light"), (PHONE, "dark")], ids=["desk", "phone"])
def test_axe_finds_no_serious_fault(opened, axe, options, scheme):
    """With everything open: a pinned bar, advice, an error at its field and the last result greyed."""
    page = opened(**options, color_scheme=scheme, bypass_csp=True)  # the rules are injected, which its policy forbids
    page.page.wait_for_selector("#advice .ways button", timeout=60_000)
    page.page.evaluate("() => document.querySelectorAll('details').forEach((each) => { each.open = true; })")
    page.page.click("#pin")
    page.key("section.diameter").fill("wide")
    page.key("section.diameter").press("Enter")
    page.page.wait_for_selector(".control.wrong")
    page.page.wait_for_timeout(300)
    page.page.evaluate(axe)
    found = page.page.evaluate("async () => (await axe.run()).violations.map((v) => [v.impact, v.id, v.nodes[0].html])")
    assert [each for each in found if each[0] in ("serious", "critical")] == []


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


def test_a_script_in_a_name_is_text(browser, tmp_path):
    text = (ROOT / "geometries" / "pickup-front-solid.toml").read_text(encoding="utf-8")
    text = text.replace('"front bar of an invented gravel-rally pickup"', json.dumps(NAME)).replace(
        '"soft"', '"<b>soft"'
    )
    (tmp_path / "x.toml").write_text(text, encoding="utf-8")
    served = Served(tmp_path, "x.toml")
    try:
        page = Page(browser, served.url, **DESK)
        assert page.page.inner_text("#name") == NAME
        assert page.page.locator("button.hole").first.inner_text() == "<b>soft"
        assert page.page.locator("img, b:has-text('soft')").count() == 0
        assert page.said == []
        page.context.close()
    finally:
        served.stop()


def test_a_bar_from_nothing_gets_its_name_at_the_first_write(browser, tmp_path):
    began = time.monotonic()
    served = Served(tmp_path)
    try:
        assert re.fullmatch(r"http://127\.0\.0\.1:\d+/\?token=[\w-]{20,}", served.url)
        page = Page(browser, served.url, **DESK)
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
