"""What the page answers: the check's own numbers, errors in its words at their control, and bar files that hold it."""

from __future__ import annotations

import asyncio
import json
import re
import shlex
import shutil
import threading
import time
import tomllib

import numpy as np
import pytest

from barfem.check.api import check_bar
from barfem.cli.main import main
from barfem.model.bar import Section
from barfem.model.schema import TolerancesTable
from barfem.page.controls import fields_of
from barfem.page.equal import _stocked
from barfem.page.session import open_file
from barfem.page.sketch import sketch_of
from barfem.page.work import _band
from barfem.page.worker import Asker, Superseded
from barfem.show.figures.data import FigureData
from barfem.show.lives import one_life
from barfem.show.report.scene_data import scene_data
from tests.page.conftest import ROOT, TOKEN, Page, in_a_loop

CHANGES = {"section.diameter": 24.0, "mounts.*.length": 45, "ends.holes.4.from_tip": "3.5 in"}


def without_names(data: dict) -> dict:
    """The check's JSON but for where it was read from."""
    found = {key: value for key, value in data.items() if key not in ("source", "input_sha256", "page")}
    return {**found, "inputs": {key: value for key, value in found["inputs"].items() if key != "source"}}


def test_it_is_the_check_of_the_file_that_it_writes(tube, tmp_path, capsys):
    answer = tube.post("/check", {"changes": CHANGES}).json()
    assert tube.post("/write", {"changes": CHANGES, "name": "new.toml"}).json()["written"] == "new.toml"
    main(["check", str(tmp_path / "new.toml"), "--json", "-"])
    assert without_names(answer) == without_names(json.loads(capsys.readouterr().out))


def test_a_written_bar_keeps_the_comments_and_says_what_changed(tube, tmp_path):
    tube.post("/write", {"changes": CHANGES, "name": "new.toml"})
    text = (tmp_path / "new.toml").read_text(encoding="utf-8")
    assert "# a tube must say when it was bent: here while soft" in text
    assert text.startswith("# From tube.toml, changed on the live page: section.diameter")
    found = tomllib.loads(text)
    assert found["section"]["diameter"] == 24.0
    assert [mount["length"] for mount in found["mounts"]] == [45, 45]
    assert tube.post("/bar", {"changes": CHANGES}).text == text
    assert tube.post("/bar", {"changes": {}}).text == (tmp_path / "tube.toml").read_text(encoding="utf-8")


def test_a_misspelt_key_of_the_request_is_no_request_for_the_bar_as_it_stands(tube):
    refused = tube.post("/check", {"change": {"section.diameter": 99.0}})
    assert refused.status_code == 422
    assert 'Did you mean "changes"?' in refused.json()["error"]["message"]


def test_a_page_that_is_stopped_while_it_computes_says_so(tube, monkeypatch):
    """Ctrl-C cancels what is running, which is neither a bug nor the bar's fault."""

    async def cancelled(*_, **__):
        raise asyncio.CancelledError

    monkeypatch.setattr(tube.answers.worker, "run", cancelled)
    stopped = tube.post("/check", {"changes": CHANGES})
    assert stopped.status_code == 503
    assert stopped.json()["error"]["message"] == "the page has been stopped."


def test_what_is_wrong_with_the_request_marks_no_field_of_the_bar(tube):
    for body in ({"changes": CHANGES}, {"changes": CHANGES, "name": "../up.toml"}):
        error = tube.post("/write", body).json()["error"]
        assert error["where"] == "name" and error["key"] is None


def test_a_name_that_is_taken_is_asked_about_once(tube, tmp_path):
    (tmp_path / "other.toml").write_text("as it was", encoding="utf-8")
    refused = tube.post("/write", {"changes": CHANGES, "name": "other.toml"})
    assert refused.status_code == 409 and refused.json()["error"]["exists"] is True
    assert "--force" not in refused.text  # the page has no command line
    assert (tmp_path / "other.toml").read_text(encoding="utf-8") == "as it was"
    assert tube.post("/write", {"changes": CHANGES, "name": "other.toml", "replace": True}).status_code == 200
    assert "live page" in (tmp_path / "other.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("changes", "key", "message"),
    [
        ({"section.wall": 14.0}, "section.wall", "wall"),
        ({"section.diameter": -3}, "section.diameter", "not above 0"),
        ({"section.diameter": "26,5 mm"}, "section.diameter", "decimals are written with a point"),
        ({"material.surface": "shiny"}, "material.surface", "shiny"),
        ({"mounts.*.length": -1}, "mounts.*.length", "below 0"),
        ({"ends.holes.2.from_tip": "far"}, "ends.holes.2.from_tip", "not a number"),
        ({"arms.splay": 88}, "arms.splay", "splay"),
        ({"section.diameter": 25.0, "links.length": "x"}, "links.length", "not a number"),
        # Of two holes that do not go together the one that was moved, not the one that the message names first.
        ({"ends.holes.2.from_tip": 25.0}, "ends.holes.2.from_tip", "run into each other"),
        ({"ends.holes.1.from_tip": 35.0}, "ends.holes.1.from_tip", "run into each other"),
    ],
)
def test_an_error_names_its_control_in_the_words_of_the_command_line(tube, changes, key, message):
    answer = tube.post("/check", {"changes": changes})
    assert answer.status_code == 422
    error = answer.json()["error"]
    assert error["key"] == key
    assert message in error["message"] and error["expected"]


def test_the_copied_commands_name_the_written_files_that_hold_this_bar_alone(tube):
    other = {"section.diameter": 24.0}
    for name, changes in (("this.toml", CHANGES), ("other.toml", other)):
        assert tube.post("/write", {"changes": changes, "name": name}).status_code == 200
    lines = tube.post("/check", {"changes": CHANGES, "page": True}).json()["page"]["commands"]
    assert [line.rpartition("/")[2] for line in lines if line.startswith("barfem check")] == ["this.toml"]


@pytest.mark.long
def test_a_bar_file_that_is_edited_or_deleted_beneath_the_page_is_said(tube):
    """The page goes on with what it read, so that what it shows is no longer the check of that file."""

    def on_disk():
        return tube.post("/check", {"changes": {}, "page": True}).json()["page"]["on_disk"]

    assert on_disk() == ""
    path, text = tube.session.path, tube.session.text
    path.write_text(text.replace("diameter = 26.0", "diameter = 25.0"), encoding="utf-8")
    assert on_disk().startswith("changed on disk since this page read it")
    path.write_text(text, encoding="utf-8")
    assert on_disk() == ""
    path.unlink()
    assert on_disk() == "no longer there"


def test_the_controls_say_what_stands_in_the_file(tube):
    page = tube.post("/check", {"changes": {"section.diameter": 24.0}, "page": True}).json()["page"]
    fields = {field["key"]: field for field in page["controls"]["fields"]}
    diameter = fields["section.diameter"]
    assert (diameter["at"], diameter["was_at"]) == (24.0, 26.0)
    assert diameter["low"] < 24.0 < diameter["high"]
    assert fields["mounts.2.from_middle"]["also"] == [{"key": "mounts.1.from_middle", "factor": -1}]
    assert "mounts.*.radial_stiffness" in fields
    assert fields["material.peening"]["value"] == "none" and "shot" in fields["material.peening"]["choices"]
    assert page["commands"] == [f"barfem sweep {tube.session.file} section.diameter=24.0"]
    for field in fields.values():
        assert field["about"], field["key"]


def test_what_a_file_leaves_out_can_be_moved_and_is_written(tmp_path, capsys):
    """Rise and splay are none where [arms] has none, targets those of a check: a designer moves them all the same."""
    text = (ROOT / "geometries" / "pickup-rear-unequal.toml").read_text(encoding="utf-8")
    assert "\nrise" not in text and "\nsplay" not in text and "[targets]" not in text
    (tmp_path / "bar.toml").write_text(text, encoding="utf-8")
    page = Page(open_file(tmp_path / "bar.toml"))
    changes = {"arms.rise": 12.0, "arms.splay": 3.0, "targets.yield_margin": 0.5, "targets.survival": 0.99}
    try:
        before = page.post("/check", {"page": True}).json()["page"]["controls"]["fields"]
        answer = page.post("/check", {"changes": changes}).json()
        page.post("/write", {"changes": changes, "name": "new.toml"})
    finally:
        page.answers.worker.close()
    assert {field["key"]: field["value"] for field in before if field["key"] in changes} == {
        "arms.rise": 0.0, "arms.splay": 0.0, "targets.yield_margin": 0.25, "targets.survival": 0.9,
    }  # fmt: skip
    main(["check", str(tmp_path / "new.toml"), "--json", "-"])
    written = json.loads(capsys.readouterr().out)
    assert written["settings"] == answer["settings"] and (written["survival"], written["yield_margin_target"]) == (
        0.99,
        0.5,
    )


def test_the_pages_table_is_that_of_the_check_figure_by_figure(tube, capsys):
    """The same number reads the same: rate, next hole, link force, stress, margin, factor, life and verdict."""
    answer = tube.post("/check", {"changes": {}, "page": True}).json()["page"]
    main(["check", str(tube.session.path), "--full"])
    out = capsys.readouterr().out
    order = ("rate", "next", "link", "stress", "margin", "safety", "life", "passes")
    for row in answer["tables"][0]["rows"]:
        texts = ["".join(part["text"] for part in row["cells"][name]["parts"]) for name in order]
        line = next(each for each in out.splitlines() if each.startswith(f"{row['name']} "))
        assert " ".join(line.split()) == f"{row['name']} {' '.join(' '.join(texts).split())}"


def test_the_copied_commands_of_a_bar_with_a_hole_more_run(tube, tmp_path, monkeypatch, capsys):
    """Tables given whole stand on one line, as a shell and `barfem sweep` take them."""
    holes = [{"name": name, "from_tip": at, "diameter": 10.2} for name, at in (("1", 22.0), ("2", 48.0))]
    changes = {"ends.holes": holes, "ends.holes.2.from_tip": 50.0}
    answer = tube.post("/check", {"changes": changes, "page": True}).json()
    monkeypatch.chdir(tmp_path)
    (line,) = answer["page"]["commands"]
    command, *words = shlex.split(line)
    assert command == "barfem" and "\n" not in line
    main(words)
    out = capsys.readouterr().out
    rates = [row["cells"]["rate"]["parts"][0]["text"] for row in answer["page"]["tables"][0]["rows"]]
    assert len(rates) == 2 and all(f" {rate} " in out for rate in rates)


def test_another_finish_keeps_the_peening_that_a_surfaces_name_says():
    bar = open_file(ROOT / "geometries" / "pickup-front-solid.toml")
    fields = {field["key"]: field for field in fields_of(bar, bar.bar.tables)}
    assert fields["material.peening"]["value"] == "shot"
    assert fields["material.surface"]["follow"]["key"] == "material.peening"
    assert fields["material.surface"]["follow"]["values"]["ground"] == "shot"


def test_every_printed_number_is_that_of_the_json(tube):
    """A cell's text is its value rounded to the digits that it shows; lives are rounded down, as printed."""
    answer = tube.post("/check", {"changes": {}, "page": True}).json()
    found = tube.post("/check", {"changes": {}}).json()["settings"]
    settings = {f"{each['left']}/{each['right']}": each for each in found}
    seen = set()
    for table in answer["page"]["tables"]:
        for row in table["rows"]:
            for cell in row["cells"].values():
                for part in cell["parts"]:
                    value = settings[row["hole"]]
                    for name in part["key"].split(".") if "key" in part else ():
                        value = value[name]
                    if "key" not in part or value is None or isinstance(value, bool) or "over" in part["text"]:
                        continue
                    seen.add(part["key"])
                    assert part["value"] == value
                    text = part["text"].replace("\u00a0", "").replace("+", "")
                    digits = 10.0 ** -len(text.partition(".")[2]) if "." in text else 1.0
                    step = 10.0 ** (len(text) - 2) if "life" in part["key"] else digits
                    assert abs(float(text) - value) <= step
    assert {"fatigue.safety_factor_at_target", "fatigue.life_cycles", "yield_margin", "rate_N_per_mm"} <= seen


def hold_no_number_broken(part, lines):
    """No line may part a number from its thousands or its unit."""
    assert lines and all(not re.search(r"\d (?:\d{3}|%|mm)(?!\w)", line) for line in lines), part


def test_advice_leads_to_a_bar_that_passes(tube):
    found = tube.post("/advice", {"changes": {}}).json()
    assert found["passes"] is False
    hold_no_number_broken("advice", [each["words"] for each in found["advice"]])
    headings = list(dict.fromkeys(each["heading"] for each in found["advice"]))
    assert headings == ["All holes pass with", "Hole 3 passes with", "Hole 4 passes with"]
    skin = next(each for each in found["advice"] if each["kind"] == "skin")
    assert tube.post("/check", {"changes": skin["changes"]}).json()["passes"] is True
    spare = tube.post("/advice", {"changes": skin["changes"]}).json()
    assert spare["passes"] is True and spare["advice"][0]["words"].startswith("It passes up to travel")


def test_a_solid_bar_of_equal_rate_has_the_tubes_rate(tube):
    found = tube.post("/section", {"changes": {}, "shape": "round", "equal_rate": True}).json()
    solid = tube.post("/check", {"changes": found["changes"], "page": True}).json()
    drawn = tube.post("/check", {"changes": {}}).json()
    assert solid["page"]["controls"]["shape"] == {"now": "round", "was": "tube"}
    solid = tube.post("/check", {"changes": found["changes"]}).json()
    assert solid["settings"][-1]["rate_N_per_mm"] == pytest.approx(drawn["settings"][-1]["rate_N_per_mm"], rel=1e-3)
    # What equal rate asks for is no stock size: the nearest is named, with what it costs.
    asked, stocked, *_ = found["notes"]
    diameter = float(re.search(r"round ([\d.]+)", stocked)[1])
    size, side = re.search(r"some (\d+) % (higher|lower)\.", stocked).groups()
    off = float(size) if side == "higher" else -float(size)
    assert asked == f"round {found['changes']['section']['diameter']:g}."
    assert off == pytest.approx(100.0 * ((diameter / found["changes"]["section"]["diameter"]) ** 4 - 1.0), abs=0.6)
    back = tube.post("/section", {"changes": found["changes"], "shape": "tube", "equal_rate": False}).json()
    assert tube.post("/check", {"changes": back["changes"]}).status_code == 200
    assert tube.post("/section", {"changes": {}, "shape": "square"}).status_code == 422


def test_a_stocked_size_that_is_as_good_is_not_nought_percent_higher():
    """24 mm for 23.976 mm: by the fourth power 0.4 % stiffer, less than a bar's own tolerance."""
    assert _stocked(Section("round", 23.976)) == ["The nearest that is stocked, round 24, has a rate within 1 % of it."]
    assert _stocked(Section("round", 24.5))[0].endswith("round 25, has a rate some 8 % higher.")  # (25 / 24.5)^4


def test_the_scene_is_the_reports_of_one_hole_and_small(tube):
    answer = tube.post("/scene", {"changes": {}, "setting": 2})
    found = answer.json()
    assert found["setting"] == 2 and found["scene"]["settings"] == ["hole 3"]
    report = scene_data(FigureData(check_bar(tube.session.bar)), only=[2])
    assert found["scene"] == json.loads(json.dumps(report))
    assert len(answer.content) < 150_000
    assert len(found["along"]["stress"]) == 4 and len(found["along"]["stations"]) == len(found["along"]["stress"][0])


@pytest.mark.long
def test_a_tolerance_band_holds_the_bar_as_drawn(tmp_path, monkeypatch):
    monkeypatch.setattr("barfem.page.work.BAND_BARS", 24)
    path = tmp_path / "solid.toml"
    shutil.copy(ROOT / "geometries" / "pickup-front-solid.toml", path)
    page = Page(open_file(path))
    kept = {"distribution", "diameter", "hole_position", "rate_band"}
    kept |= {"tensile_strength", "hardness", "decarburised_depth"}
    off = {f"tolerances.{name}": 0 for name in TolerancesTable.model_fields if name not in kept}
    found = page.post("/band", {"changes": {**off, "tolerances.diameter": 0.2, "section.diameter": 23.0}}).json()
    assert page.post("/progress", {}).json() == {"done": 24, "of": 24}
    drawn = page.post("/check", {"changes": {"section.diameter": 23.0}}).json()["settings"]
    for row, setting in zip(found["rows"], drawn, strict=True):
        spread = row["spreads"]["rate_N_per_mm"]
        assert spread["low"] < setting["rate_N_per_mm"] < spread["high"]
    # Why margins of the band may all lie above the check's.
    assert any("takes the least tensile strength" in note for note in found["notes"])
    page.answers.worker.close()


def test_why_is_what_explain_says(tube):
    found = tube.client.get("/explain?key=yield_margin", headers={"x-token": TOKEN}).json()
    assert found["title"] == "Yield margin"
    assert any(what == "formula" for what, _ in found["lines"])
    assert tube.client.get("/explain?key=nonsense-of-all-kinds", headers={"x-token": TOKEN}).status_code == 422


def test_the_newest_change_wins_and_long_work_gives_up(tube):
    """While the worker is held, two changes come: the older one is dropped, and so is what was asked before both."""
    import asyncio

    worker = tube.answers.worker
    held, message = threading.Event(), []

    def long(going):
        message.append("began")
        while not held.is_set():
            time.sleep(0.005)
        going()  # overtaken by then
        return "long"

    async def everything():
        first = asyncio.create_task(worker.run(long, page=Asker("a")))
        while not message:
            await asyncio.sleep(0.005)
        old = asyncio.create_task(worker.run(lambda going: "old", page=Asker("a"), newest=True))
        await asyncio.sleep(0.01)
        new = asyncio.create_task(worker.run(lambda going: "new", page=Asker("a"), newest=True))
        other = asyncio.create_task(worker.run(lambda going: "another page's", page=Asker("b"), newest=True))
        await asyncio.sleep(0.01)
        held.set()
        return await asyncio.gather(first, old, new, other, return_exceptions=True)

    one, two, three, four = in_a_loop(everything)
    assert isinstance(one, Superseded) and isinstance(two, Superseded)
    assert (three, four) == ("new", "another page's")


CRANK = {"arms.crank": {"x": 20.0, "z": -40.0, "inner": 100.0, "outer": 180.0}}


@pytest.mark.parametrize(
    ("name", "given", "count"),
    [
        ("coupe-front-bends", {}, 7),
        ("coupe-rear-cranked", {}, 8),
        ("pickup-rear-tube", {}, 2),
        ("pickup-rear-tube", CRANK, 4),
    ],
)
def test_a_handle_of_the_sketch_moves_as_the_bar_does_when_its_key_grows(name, given, count):
    # A handle says along what it moves, a mm for a mm of its key: held against the handles of the bar made anew.
    session = open_file(ROOT / "geometries" / f"{name}.toml")

    def handles(changes: dict) -> dict:
        bar = session.changed({**given, **changes})
        return {each["name"]: each for each in sketch_of(bar, bar.tables)["handles"]}

    drawn = handles({})
    assert len(drawn) == count
    for which, handle in drawn.items():
        for move in handle["moves"]:
            moved = handles({each["key"]: each["value"] + each["factor"] for each in move["keys"]})[which]
            way = move.get("along") or np.eye(3)["xyz".index(move["axis"])]
            assert np.subtract(moved["at"], handle["at"]) == pytest.approx(way, abs=2e-3), (which, move)


def test_sentences_break_no_number_and_say_warnings_of_one_kind_once(tube):
    page = tube.post("/check", {"changes": {"arms.bend_radius": 46.0}, "page": True}).json()["page"]
    page |= {"about": [table["about"] for table in page["tables"]]}
    for part in ("why", "governing", "lessons", "head", "warnings", "about"):
        hold_no_number_broken(part, page[part])
    assert sum("below 2 a tube bar is hard to bend" in line for line in page["warnings"]) == 1


def test_a_band_whose_ends_are_both_past_what_is_claimed_is_one_life():
    assert _band(float("inf"), None, one_life) == _band(None, None, one_life)
    assert " to " not in _band(None, None, one_life) and " to " in _band(6e6, None, one_life)
