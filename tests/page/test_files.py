"""The page beside other programs: a bar file that an editor saves meanwhile, files that it wrote, commands that run."""

from __future__ import annotations

import json
import shlex
import shutil
from pathlib import Path

import pytest

from barfem.cli.main import main
from barfem.cli.new_answers import gather
from barfem.cli.new_file import bar_file
from barfem.model.material_table import find_table
from barfem.page.session import open_file, start_afresh
from tests.page.conftest import TOKEN, Page
from tests.page.in_chromium import DESK, GEOMETRIES, OpenPage, Served

THINNER = {"section.diameter": 25.0}


def _edit(page: Page, old: str = "diameter = 26.0", new: str = "diameter = 27.0") -> None:
    path = page.session.path
    path.write_text(path.read_text(encoding="utf-8").replace(old, new), encoding="utf-8")


def _file(page: Page, **changes: object) -> dict:
    return page.post("/file", {"changes": {key.replace("__", "."): value for key, value in changes.items()}}).json()


def _new(folder) -> Page:
    answers, defaults = gather({})
    return Page(start_afresh(bar_file(answers, defaults, file="my-bar.toml"), folder))


def test_a_page_that_is_loaded_again_works_on_the_file_as_it_is(tube):
    assert tube.post("/check").json()["inputs"]["section"]["diameter_mm"] == 26.0
    _edit(tube)
    assert _file(tube)["on_disk"] == "changed on disk since this page read it"
    assert tube.post("/check").json()["inputs"]["section"]["diameter_mm"] == 26.0  # until the user says so
    assert tube.client.get(f"/?token={TOKEN}").status_code == 200
    assert _file(tube)["on_disk"] == ""
    assert tube.post("/check").json()["inputs"]["section"]["diameter_mm"] == 27.0
    assert "diameter = 27.0" in tube.post("/bar", {"changes": {}}).text


def test_a_file_that_is_no_bar_by_now_leaves_the_last_one_and_says_why(tube):
    _edit(tube, new="diameter = thick")
    assert tube.client.get(f"/?token={TOKEN}").status_code == 200
    said = _file(tube)["on_disk"]
    assert said.startswith("changed on disk since this page read it, and no bar as it stands: ") and "tube.toml" in said
    assert not said.endswith(".")  # sentences and brackets go on after it
    assert tube.post("/check").json()["inputs"]["section"]["diameter_mm"] == 26.0


def test_what_the_page_wrote_is_known_after_a_reload_and_until_somebody_edits_it(tube, tmp_path):
    assert _file(tube)["written"] is None
    tube.post("/write", {"changes": THINNER, "name": "thinner.toml"})
    assert _file(tube, section__diameter=25.0)["written"] == {"name": "thinner.toml", "same": True}
    assert _file(tube)["written"] == {"name": "thinner.toml", "same": False}
    tube.client.get(f"/?token={TOKEN}")
    found = _file(tube, section__diameter=25.0)
    assert found["written"]["same"] and found["commands"][-1].endswith("thinner.toml")
    (tmp_path / "thinner.toml").write_text("other = true", encoding="utf-8")
    found = _file(tube, section__diameter=25.0)
    assert found["written"] is None and len(found["commands"]) == 1


@pytest.mark.parametrize("changes", [{}, {"section.diameter": 22.0, "name": "a 'thick' bar"}])
@pytest.mark.parametrize("before", ["nothing", "written", "taken"])
def test_the_commands_of_a_bar_from_nothing_run_and_lead_to_its_numbers(tmp_path, monkeypatch, capsys, before, changes):
    """Where the starter's own name is taken, by the bar that was just written or by another, `new` refused it."""
    monkeypatch.chdir(tmp_path)
    page = _new(tmp_path)
    try:
        if before == "written":
            assert page.post("/write", {"changes": changes, "name": "my-bar.toml"}).status_code == 200
        elif before == "taken":
            shutil.copy(GEOMETRIES / "pickup-rear-tube.toml", tmp_path / "my-bar.toml")
        shown = page.post("/check", {"changes": changes, "page": True}).json()["page"]
    finally:
        page.answers.worker.close()
    for line in shown["commands"]:
        command, *words = shlex.split(line)
        assert command == "barfem" and main(words) == 0
    out = capsys.readouterr().out
    rates = [row["cells"]["rate"]["parts"][0]["text"] for row in shown["tables"][0]["rows"]]
    assert len(rates) == 3 and all(f" {rate} " in out for rate in rates)


def test_the_next_command_runs_where_the_page_was_started(tmp_path, monkeypatch):
    """The bar is written beside the bar file, which may lie in another folder than the user's shell."""
    (tmp_path / "bars").mkdir()
    shutil.copy(GEOMETRIES / "pickup-rear-tube.toml", tmp_path / "bars" / "tube.toml")
    monkeypatch.chdir(tmp_path)
    page = Page(open_file(Path("bars/tube.toml")))
    try:
        said = page.post("/write", {"changes": THINNER, "name": "dünner.toml"}).json()["next"]
    finally:
        page.answers.worker.close()
    assert main(shlex.split(said)[1:]) in (0, 1)


def test_a_name_that_is_refused_is_told_in_its_own_letters(tube):
    refused = tube.post("/write", {"changes": {}, "name": 'Träger ½".toml'}).json()["error"]
    assert "Träger ½" in refused["message"] and '"' in refused["expected"]


def test_a_file_saved_in_an_editor_is_told_when_the_user_comes_back(browser, tmp_path):
    shutil.copy(GEOMETRIES / "pickup-rear-tube.toml", tmp_path / "tube.toml")
    made = Served(tmp_path, "tube.toml")
    try:
        page = OpenPage(browser, made.url, **DESK)
        page.key("arms.length").fill("310")
        page.key("arms.length").press("Enter")
        page.settled(arms__length=310)
        page.page.click("#write")
        page.page.fill("#new-name", "longer.toml")
        page.page.click("#dialog button.chief")
        page.page.wait_for_function("() => document.getElementById('file').textContent.includes('as written')")
        page.page.click("#pin")
        assert page.page.get_by_role("button", name="Go to A").is_visible()
        page.page.dblclick("#commands")
        page.page.wait_for_selector("#dialog[open]")
        assert "longer.toml" in page.page.inner_text("#dialog pre")
        page.page.keyboard.press("Escape")

        text = (tmp_path / "tube.toml").read_text(encoding="utf-8")
        (tmp_path / "tube.toml").write_text(text.replace("diameter = 26.0", "diameter = 27.0"), encoding="utf-8")
        page.page.evaluate("window.dispatchEvent(new Event('focus'))")
        page.page.wait_for_selector("#reread")
        for button in ("#write", "#commands"):
            page.page.click(button)
            page.page.wait_for_selector("#dialog[open]")
            assert "tube.toml: changed on disk" in page.page.inner_text("#dialog .error")
            page.page.keyboard.press("Escape")
        page.page.click("#reread")
        page.page.wait_for_function("() => document.querySelector('[data-key=\"section.diameter\"]')?.value === '27'")
        page.settled(arms__length=310)
        assert page.page.locator("#reread").count() == 0
        # A is what it was, and the way to it is gone: its changes make another bar of the file by now.
        assert "tube, 26" in page.page.inner_text("#pinned") and "as it was before" in page.page.inner_text("#pinned")
        assert page.page.get_by_role("button", name="Go to A").count() == 0
        assert page.page.inner_text("#file") == "tube.toml; changed since longer.toml was written"
        page.context.close()
    finally:
        made.stop()


def test_a_page_that_was_stopped_says_where_the_changes_are_kept_and_they_are(browser, tmp_path):
    shutil.copy(GEOMETRIES / "pickup-rear-tube.toml", tmp_path / "tube.toml")
    made = Served(tmp_path, "tube.toml")
    page = OpenPage(browser, made.url, **DESK)
    field = page.key("arms.length")
    field.fill("310")
    field.press("Enter")
    page.settled(arms__length=310)
    made.stop()
    page.page.click("#equal")
    page.page.wait_for_selector("#toast:visible")
    assert page.page.locator(".control.wrong").count() == 0  # no field is wrong
    field.fill("311")
    field.press("Enter")
    page.page.wait_for_selector("#trouble:visible")
    assert "from its # on, behind the new one" in page.page.inner_text("#trouble")
    assert page.page.inner_text("#verdict").startswith("BEFORE THAT: fails at")
    made = Served(tmp_path, "tube.toml")
    try:
        page.page.goto(f"{made.url}#{page.page.url.partition('#')[2]}")
        page.page.wait_for_selector("[data-result]")
        page.settled(arms__length=311)
        page.context.close()
    finally:
        made.stop()


def test_a_steel_of_ones_own_counts_as_it_is_on_disk(tmp_path, capsys):
    """The bar as it stands kept the steel that was read first, a changed one had the new: a move of 0.001 mm seemed to
    cost a tenth of the yield margin, and the file that the page wrote had other numbers than the page.
    """
    steel = (Path(find_table("51CrV4")[1])).read_text(encoding="utf-8")
    (tmp_path / "own.toml").write_text(steel, encoding="utf-8")
    bar = (GEOMETRIES / "pickup-rear-unequal.toml").read_text(encoding="utf-8")
    (tmp_path / "bar.toml").write_text(bar.replace('grade = "51CrV4"', 'grade = "own"'), encoding="utf-8")
    page = Page(open_file(tmp_path / "bar.toml"))

    def margins(**changes):
        answer = page.post("/check", {"changes": {key.replace("__", "."): value for key, value in changes.items()}})
        return [round(each["yield_margin"], 3) for each in answer.json()["settings"]]

    try:
        before, base = margins(), _file(page)["base"]
        (tmp_path / "own.toml").write_text(steel.replace("value = 1200", "value = 1100"), encoding="utf-8")
        after = margins()
        assert after == margins(section__diameter=24.00001) and all(a < b for a, b in zip(after, before, strict=True))
        assert _file(page)["base"] != base and _file(page)["on_disk"] == ""  # the page tells by it that all has moved
        main(["check", str(tmp_path / "bar.toml"), "--json", "-"])
        assert after == [round(each["yield_margin"], 3) for each in json.loads(capsys.readouterr().out)["settings"]]
        (tmp_path / "own.toml").write_text(steel.replace("value = 1200", "value = twelve"), encoding="utf-8")
        assert margins() == after
        assert _file(page)["on_disk"].startswith("changed on disk in the steel that it names, since this page read it")
        assert "own.toml" in page.post("/check", {"changes": {"section.diameter": 23.0}}).json()["error"]["message"]
    finally:
        page.answers.worker.close()


def test_a_tab_says_that_another_one_has_read_the_file_again(browser, tmp_path):
    """Its numbers were those of the old file, its lines and what it wrote those of the new one, and nothing said so."""
    shutil.copy(GEOMETRIES / "pickup-rear-tube.toml", tmp_path / "tube.toml")
    made = Served(tmp_path, "tube.toml")
    try:
        mine, other = OpenPage(browser, made.url, **DESK), OpenPage(browser, made.url, **DESK)
        text = (tmp_path / "tube.toml").read_text(encoding="utf-8")
        (tmp_path / "tube.toml").write_text(text.replace("wall = 4.0", "wall = 3.0"), encoding="utf-8")
        other.page.reload()
        other.page.wait_for_selector("[data-result]")
        before = mine.cell("rate_N_per_mm", "1/1")
        mine.page.click("#write")
        mine.page.wait_for_selector("#dialog[open]")
        assert "The bar file, or the steel that it names, was read again" in mine.page.inner_text("#toast")
        assert mine.key("section.wall").input_value() == "3"
        assert mine.cell("rate_N_per_mm", "1/1") == other.cell("rate_N_per_mm", "1/1") != before
        for each in (mine, other):
            each.context.close()
    finally:
        made.stop()


def test_a_page_whose_server_was_started_again_says_where_it_goes_on(browser, tmp_path):
    """At the same port another token holds: "missing or wrong" said neither what to do nor that nothing is lost."""
    shutil.copy(GEOMETRIES / "pickup-rear-tube.toml", tmp_path / "tube.toml")
    made = Served(tmp_path, "tube.toml")
    port = made.url.partition("/?")[0].rpartition(":")[2]
    page = OpenPage(browser, made.url, **DESK)
    made.stop()
    made = Served(tmp_path, "tube.toml", "--port", port)
    try:
        page.key("arms.length").fill("310")
        page.key("arms.length").press("Enter")
        page.page.wait_for_selector("#trouble:visible")
        said = page.page.inner_text("#trouble")
        assert "the address that the new one printed" in said and "from its # on, behind the new one" in said
        page.page.reload()
        said = page.page.inner_text("body")
        assert said.startswith("barfem page: the token is missing or wrong: open the whole address") and "{" not in said
        assert "from its # on, behind it" in said
        page.page.goto(f"{made.url}#{page.page.url.partition('#')[2]}")
        page.page.wait_for_selector("[data-result]")
        page.settled(arms__length=310)
        page.context.close()
    finally:
        made.stop()
