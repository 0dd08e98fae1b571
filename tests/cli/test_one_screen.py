"""`barfem check` is one screen for four holes and two mounts, whatever fails and in however many load cases."""

from __future__ import annotations

import json
from io import BytesIO, TextIOWrapper
from pathlib import Path
from typing import Any

import pytest

from barfem.check.api import check_bar
from barfem.cli.main import main
from barfem.model.read import bar_from_dict
from barfem.show.screen import print_screen
from tests.check.bar_files import BUILT, toml
from tests.model.bar_data import changed

MOST = 40

FOUR = ("ends.holes", [{"name": str(i + 1), "from_tip": 20.0 + 22.0 * i} for i in range(4)])
TOO_FAR = ("travel.pickup", 48.0)
ONE_WHEEL = ("travel.one_wheel", 60.0)
PARALLEL = ("travel.parallel", 30.0)
UNEQUAL = (
    "centreline",
    {
        "points": [[-270, -550, 0], [0, -540, 0], [0, -300, 0], [40, -250, -30], [40, 250, -30], [0, 300, 0],
                   [0, 540, 0], [-230, 552, 10]],
        "bend_radius": 60.0,
    },
)  # fmt: skip


@pytest.mark.parametrize(
    "changes",
    [
        (TOO_FAR,),
        pytest.param((TOO_FAR, UNEQUAL), marks=pytest.mark.long),
        pytest.param((TOO_FAR, ONE_WHEEL), marks=pytest.mark.long),
        (TOO_FAR, ONE_WHEEL, UNEQUAL),
        pytest.param((ONE_WHEEL, ("travel.pickup", 5.0)), marks=pytest.mark.long),
        (("travel.pickup", 5.0), UNEQUAL, ("travel.one_wheel", 8.0)),
    ],
    ids=["fails", "unequal", "two cases", "all", "one case fails", "passes"],
)
def test_four_holes_and_two_mounts_are_forty_lines(
    changes: Any, tmp_path: Any, monkeypatch: pytest.MonkeyPatch, capsys: Any
) -> None:
    monkeypatch.chdir(tmp_path)  # the screen names the file as it was given
    Path("bar.toml").write_text(toml(changed(FOUR, *changes, base=BUILT)), encoding="utf-8")
    status = main(["check", "bar.toml"])
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) <= MOST, "\n".join(lines)
    text = " ".join(" ".join(lines).split())
    assert lines[-1].startswith("VERDICT: ")
    assert text.count("yes") + text.count(" NO ") >= 4
    assert status == 0 or ("pass with" in text or "passes with" in text)
    assert status == 0 or "falls short of the target" in text
    assert status == 0 or ("Hole 1" in text and "passes with" in text) or "what each hole passes with" in text


def test_where_blocks_alone_are_judged_the_first_screen_says_where_they_decide(tmp_path: Any, capsys: Any) -> None:
    """Not where full travel would, which is shown and not judged: the two may be places apart."""
    blocks = [{"pickup": 30.0, "cycles": 20_000}, {"pickup": 40.0, "cycles": 10_000, "ratio": 0.6}]
    path, found = tmp_path / "bar.toml", tmp_path / "found.json"
    path.write_text(toml(changed(FOUR, ("duty", {"blocks": blocks, "repeats": 50}), base=BUILT)), encoding="utf-8")
    main(["check", str(path), "--json", str(found)])
    text = " ".join(capsys.readouterr().out.split())
    duties = [row["fatigue"]["duty"] for row in json.loads(found.read_text(encoding="utf-8"))["settings"]]
    shortest = min(duties, key=lambda duty: duty["life_at_survival_repeats"] or float("inf"))
    assert f"Life: the blocks decide it at hole 4, {shortest['where']}." in text and "Life: decided" not in text
    harmless = {"blocks": [{"pickup": 5.0, "cycles": 20_000}], "repeats": 50}
    path.write_text(toml(changed(FOUR, ("duty", harmless), base=BUILT)), encoding="utf-8")
    main(["check", str(path)])
    assert "Life: no cycle of the blocks lies above the endurance limit." in " ".join(capsys.readouterr().out.split())


@pytest.mark.long
def test_full_says_what_each_hole_passes_with_and_what_is_to_spare(tmp_path: Any, capsys: Any) -> None:
    path = tmp_path / "bar.toml"
    for travel, words in ((48.0, "Hole 4 passes with travel pickup"), (5.0, "To spare: it passes up to travel")):
        path.write_text(toml(changed(FOUR, ("travel.pickup", travel), base=BUILT)), encoding="utf-8")
        main(["check", str(path), "--full"])
        assert words in " ".join(capsys.readouterr().out.split())


def test_the_command_for_all_details_is_of_the_same_check(tmp_path: Any, monkeypatch: pytest.MonkeyPatch, capsys: Any):
    """Without its options the same file has other numbers than those on the screen."""
    monkeypatch.chdir(tmp_path)
    Path("bar.toml").write_text(toml(changed(("travel.one_wheel", 8.0), base=BUILT)), encoding="utf-8")
    for options in ("", " --case one-wheel --mean-stress gerber --mixed --quick"):
        main(["check", "bar.toml", *options.split()])
        told = " ".join(capsys.readouterr().out.replace("\N{NO-BREAK SPACE}", " ").split())
        assert f"all details: barfem check bar.toml{options} --full " in told


def test_lines_of_a_table_are_drawn_with_what_the_terminal_can_show() -> None:
    """Where the output takes ASCII alone, rules are dashes: other characters would come out as question marks."""
    raw = BytesIO()
    stream = TextIOWrapper(raw, encoding="ascii", errors="replace", newline="\n")
    print_screen(check_bar(bar_from_dict(changed(FOUR, base=BUILT))), stream=stream)
    text = raw.getvalue().decode("ascii")
    assert "-----+-" in text and "?" not in text
