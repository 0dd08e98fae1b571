"""What `barfem check` prints, on results with invented numbers."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from typing import Any

import pytest

from barfem.check.fatigue import SurfaceLife
from barfem.check.lives import DutyLife
from barfem.check.setting_records import Compliance
from barfem.model.grouped import round_down
from barfem.show.console import make_console, print_table
from barfem.show.lives import life_text, life_words
from barfem.show.notes import lessons, verdict
from barfem.show.numbers import NO_BREAK, printable, ratio, significant, whole
from barfem.show.reasons import reasons
from barfem.show.table import print_result, settings_table
from barfem.show.tables import column, table, words
from barfem.strength.fatigue.life import Life
from tests.cli.made_up import made_up_fatigue, made_up_result, made_up_setting


class Terminal(io.StringIO):
    """A stream that says that it is a terminal."""

    encoding = "utf-8"

    def isatty(self) -> bool:
        return True


def printed(result=None, stream=None) -> str:
    stream = io.StringIO() if stream is None else stream
    print_result(made_up_result() if result is None else result, stream=stream)
    return stream.getvalue()


def many_pairs():
    holes = [str(i) for i in range(1, 7)]
    return tuple(
        made_up_setting(left, right, case=case, rate=30.0 + int(left) + int(right))
        for case in ("roll", "one-wheel")
        for left in holes
        for right in holes
    )


LONG_NAMES = tuple(
    made_up_setting(
        name,
        name,
        rate=rate,
        fatigue=made_up_fatigue(
            where="right arm, transition of the flat, inside, where the section is least, 3 mm from the edge",
            surface="bore",
            life_cycles=12_345_678.0,
            life_at_survival_cycles=9_876_543.0,
        ),
    )
    for name, rate in (("outermost-hole-for-wet-roads", 31.0), ("innermost-hole-for-dry-roads", 12345.6))
)


@pytest.mark.parametrize(
    "settings",
    [None, (made_up_setting(),), (made_up_setting("a", "b", case="one-wheel", rate=None),), many_pairs(), LONG_NAMES],
    ids=["three", "one", "solid model", "72 pairs", "long names"],
)
def test_piped_lines_are_at_most_80_wide_and_plain(settings, monkeypatch):
    monkeypatch.setenv("COLUMNS", "200")
    text = printed(made_up_result(settings))
    too_long = [line for line in text.splitlines() if len(line) > 80]
    assert too_long == []
    assert "\x1b" not in text
    assert NO_BREAK not in text
    assert "nan" not in text.lower().split()
    assert all(line == line.rstrip() for line in text.splitlines())


def test_colour_only_on_a_terminal_without_no_color(monkeypatch):
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.delenv("NO_COLOR", raising=False)
    coloured = printed(stream=Terminal())
    assert "\x1b[" in coloured
    monkeypatch.setenv("NO_COLOR", "1")
    bare = printed(stream=Terminal())
    assert "\x1b[31" not in bare and ";31m" not in bare and "\x1b[32m" not in bare


def test_a_terminal_without_unicode_still_gets_a_table():
    raw = io.BytesIO()
    stream = io.TextIOWrapper(raw, encoding="ascii", errors="strict")
    print_result(made_up_result(), stream=stream)
    assert b"VERDICT" in raw.getvalue()


def test_a_row_a_hole_setting_with_its_numbers():
    lines = printed().splitlines()
    rows = {line.split()[0]: line for line in lines if line.endswith(("yes", "NO"))}
    assert set(rows) == {"1", "2", "3"}
    assert "36.2" in rows["1"] and "over 10 000 000" in rows["1"] and rows["1"].endswith("yes")
    assert "+8.0" in rows["1"]  # 39.1 / 36.2 - 1
    assert "120 000 to 180 000" in rows["2"] and "1 564" in rows["2"]
    assert "no life" in rows["3"]
    text = " ".join(" ".join(lines).split())
    assert "above the yield strength of 1 200 MPa: no life is claimed" in text


def test_both_cases_have_their_own_table_and_pairs_their_own_names():
    text = printed(made_up_result((made_up_setting(passes=True), made_up_setting("1", "2", case="one-wheel"))))
    assert "Hole settings, roll: left pickup up 40 mm" in text
    assert "Hole settings, one-wheel: left pickup up 55 mm" in text
    assert "1/2" in text and "1 of 2 hole settings judged: hole 1 left, 2 right in one-wheel." in " ".join(text.split())


def test_failing_holes_are_listed_a_case():
    settings = tuple(
        made_up_setting(str(i), str(i), case=case, passes=(i == 1 and case == "one-wheel"))
        for case in ("roll", "one-wheel")
        for i in (1, 2, 3)
    )
    assert verdict(made_up_result(settings)).endswith(
        "fails at 5 of 6 hole settings judged: holes 1, 2 and 3 in roll; holes 2 and 3 in one-wheel."
    )


def test_a_number_is_never_broken_across_lines():
    fatigue = made_up_fatigue(life_cycles=None, life_at_survival_cycles=660_000.0, runout=True)
    settings = tuple(made_up_setting(name, name, fatigue=fatigue) for name in ("middle hole", "outer hole"))
    text = printed(made_up_result(settings))
    assert text.count(">10 000 000") == 2


def test_what_was_left_out_is_said():
    text = printed(made_up_result(not_judged=("one-wheel",)))
    assert "Not judged in this run: one-wheel." in text
    setting = made_up_setting(not_checked=("hole 1: no diameter is given",))
    assert "Not checked: hole 1: no diameter is given." in printed(made_up_result((setting,)))


def test_columns_without_numbers_are_left_out():
    setting = made_up_setting(
        wheel_rate_N_per_mm=None, compliance=None, mount_reactions=(), states=(), twist_deg=None, torque_Nm=None
    )
    text = printed(made_up_result((setting,)))
    for absent in ("Wheel", "Whose share", "Mount reactions", "Link forces left", "Twist  Torque"):
        assert absent not in text


def test_units_stand_in_every_heading():
    text = printed()
    for unit in ("N/mm", "MPa", "cycles", "N m/deg", "deg", "J", "N m", "mm"):
        assert unit in text


def test_thicker_is_more_stressed_is_said_only_where_it_is_true():
    def mentioned(mounts: float) -> bool:
        split = Compliance(
            torsion=0.9 - mounts, arm_bending=0.1, centre_bending=0.0, shear_and_axial=0.0, mounts=mounts, links=0.0
        )
        return any("thicker bar" in line for line in lessons(made_up_result((made_up_setting(compliance=split),))))

    # Force goes as 1 / (bar / d^4 + supports), stress as force / d^3: more stressed only below a quarter of supports.
    assert mentioned(0.0) and mentioned(0.2)
    assert not mentioned(0.25) and not mentioned(0.6)


def test_the_five_percent_in_the_lesson_is_that_of_springs_in_series():
    supports = 0.08
    split = Compliance(torsion=0.92, arm_bending=0.0, centre_bending=0.0, shear_and_axial=0.0, mounts=0.05, links=0.03)
    line = next(s for s in lessons(made_up_result((made_up_setting(compliance=split),))) if "thicker" in s)
    exact = (1.0 / (0.92 / 1.05**4 + supports)) / 1.05**3 - 1.0
    assert f"by about {100 * exact:.0f} %" in line


def test_which_hole_governs_is_said_only_where_there_is_a_choice():
    assert not any("stiffest" in line for line in lessons(made_up_result((made_up_setting(),))))
    assert any("The stiffest hole governs (hole 3)" in line for line in lessons(made_up_result()))
    soft_governs = (
        made_up_setting("1", "1", rate=30.0, yield_margin=0.1, fatigue=made_up_fatigue(life_at_survival_cycles=10.0)),
        made_up_setting("2", "2", rate=40.0, yield_margin=0.5),
    )
    found = lessons(made_up_result(soft_governs))
    assert any("the stiffest hole does not govern here; hole 1 does" in line for line in found)


def test_surface_lives_stand_beside_the_life():
    fatigue = made_up_fatigue(
        better_surface=SurfaceLife(surface="ground", life_cycles=9e5, life_at_survival_cycles=6e5),
        worse_surface=SurfaceLife(surface="corroded", life_cycles=None, life_at_survival_cycles=None, reason="no data"),
    )
    text = " ".join(printed(made_up_result((made_up_setting(fatigue=fatigue),))).split())
    assert "next better (ground): 600 000 to 900 000 cycles; next worse (corroded): no life (no data)." in text


def test_governing_for_life_takes_no_life_as_worst_and_runout_as_best():
    none = made_up_setting(
        "n", "n", fatigue=made_up_fatigue(life_cycles=None, life_at_survival_cycles=None, reason="above yield")
    )
    runout = made_up_setting(
        "r", "r", fatigue=made_up_fatigue(life_cycles=None, life_at_survival_cycles=None, runout=True)
    )
    finite = made_up_setting("f", "f")
    assert made_up_result((runout, finite, none)).governing_for_life.left == "n"
    assert made_up_result((runout, finite)).governing_for_life.left == "f"
    weaker = replace(runout, left="w", right="w", fatigue=replace(runout.fatigue, safety_factor_at_target=0.5))
    assert made_up_result((runout, weaker)).governing_for_life.left == "w"


def test_a_median_beyond_the_knee_does_not_hide_a_shorter_life_at_survival():
    half = made_up_setting(
        "h", "h", fatigue=made_up_fatigue(life_cycles=None, life_at_survival_cycles=410_000.0, runout=True)
    )
    beyond = made_up_setting(
        "b", "b", fatigue=made_up_fatigue(life_cycles=None, life_at_survival_cycles=None, runout=True)
    )
    result = made_up_result((beyond, half))
    assert result.governing_for_life.left == "h"
    text = printed(result)
    assert "410 000 to >10 000 000" in text and "410 000 to over 10 000 000 cycles" in " ".join(text.split())


def test_a_reason_beside_a_life_is_printed_and_its_digits_grouped_alike():
    fatigue = made_up_fatigue(life_cycles=900.0, life_at_survival_cycles=600.0, reason="below 1 000 cycles a hint only")
    text = printed(made_up_result((made_up_setting(fatigue=fatigue),)))
    assert "600 to 900" in text and "Hole 1: below 1 000 cycles a hint only." in text


def test_numbers_as_printed():
    assert printable(whole(1234567.4)) == "1 234 567"
    assert whole(-0.4) == "0"
    assert significant(9.996) == "10.0"
    assert significant(0.00012345) == "0.000123"
    assert ratio(0.2499999, 0.25) == "0.24" and ratio(0.25, 0.25) == "0.25" and ratio(0.29, 0.25) == "0.29"
    assert ratio(1.576) == "1.58" and ratio(-0.001) == "0.00"
    assert [round_down(x) for x in (199_999.0, 200_000.0, 1e6, 95.0, 9.0)] == [190_000.0, 200_000.0, 1e6, 95.0, 9.0]


def test_a_life_is_said_in_one_way():
    assert printable(life_text(Life(61_999.0, 85_999.0))) == "61 000 to 85 000"
    assert printable(life_text(Life(61_999.0, None, runout=True))) == "61 000 to >10 000 000"
    assert printable(life_words(Life(None, None, runout=True), 0.9)) == "over 10 000 000 cycles"
    assert printable(life_text(Life(None, None, runout=True))) == "over 10 000 000"  # nothing is claimed beyond
    assert life_text(Life(None, None, runout=True, unit="repeats")) == "no end"
    # Less than one cycle of full travel is no life; less than one repeat of a duty is one.
    assert life_text(Life(0.3, 900.0)) == "no life" and "below one" in life_words(Life(0.3, 900.0))
    assert printable(life_text(Life(0.7391, 1.049, unit="repeats"))) == "0.73 to 1.0"
    assert life_words(Life(None, None, reason="above yield")) == "no life (above yield)"
    lives = [Life(None, None, runout=True), Life(5.0, 9.0), Life(None, None), Life(5e4, None, runout=True)]
    assert sorted(lives, key=lambda each: each.order) == [lives[2], lives[1], lives[3], lives[0]]


def with_blocks(repeats: float | None, *, runout: bool = False) -> DutyLife:
    """An invented life in repeats, with a target of 4."""
    return DutyLife(
        station_mm=400.0, from_middle_mm=-300.0, where="right arm, bend 1", surface="outside", critical_sum=0.5,
        target_repeats=4.0, damage_per_repeat=0.1, damage_per_repeat_median=0.08,
        life_repeats=repeats and 1.4 * repeats,
        life_at_survival_repeats=repeats, runout=runout, runout_at_survival=runout,
    )  # fmt: skip


def test_blocks_that_are_judged_alone_show_repeats_and_no_cycles():
    lives = {"1": with_blocks(None, runout=True), "2": with_blocks(7.777), "3": with_blocks(0.7399)}
    settings = tuple(
        made_up_setting(name, name, fatigue=made_up_fatigue(duty=duty), passes=name != "3")
        for name, duty in lives.items()
    )
    result = made_up_result(settings, target_repeats=4.0, target_cycles_judged=False)
    text = printed(result)
    rows = {line.split()[0]: line for line in text.splitlines() if line.endswith(("yes", "NO"))}
    assert "no end" in rows["1"] and "7.7 to 10" in rows["2"] and "0.73 to 1.0" in rows["3"]
    assert "Life, cycles" not in text and "Life, repeats" in text and "120 000 to 180 000" not in rows["3"]
    assert "shown, not judged: the duty is in blocks" in " ".join(text.split())
    both = printed(made_up_result(settings, target_repeats=4.0))
    assert "Life, cycles" in both and "Life, repeats" in both and "not judged" not in rows["1"]
    assert max(len(line) for line in both.splitlines()) <= 80


def test_a_safety_factor_that_is_not_judged_is_not_marked(monkeypatch):
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("TERM", "xterm-256color")
    setting = made_up_setting(fatigue=made_up_fatigue(duty=with_blocks(5.0), safety_factor_at_target=0.94), passes=True)

    def red(result) -> bool:
        return re.search(r"31m *0\.94", printed(result, Terminal())) is not None

    assert red(made_up_result((setting,)))
    assert not red(made_up_result((setting,), target_repeats=4.0, target_cycles_judged=False))


def test_a_few_failing_holes_have_a_line_each_and_many_one():
    def failing(count: int, case: str = "roll"):
        words = "life at 90 % survival, {} cycles, is short"
        return [
            made_up_setting(str(i), str(i), case=case, why=(words.format(f"{50 - i} 000"),))
            for i in range(1, count + 1)
        ]

    assert reasons(failing(4)) == [
        f"Hole {i}: life at 90 % survival, {50 - i} 000 cycles, is short." for i in (1, 2, 3, 4)
    ]
    assert reasons(failing(5)) == [
        "At all 5 that fail: life at 90 % survival, 45 000 (hole 5) to 49 000 (hole 1) cycles, is short."
    ]
    mixed = [*failing(5), made_up_setting("6", "6", why=("yield margin -0.08 is below the target of 0.25",))]
    assert reasons(mixed)[0].startswith("At 5 of the 6 that fail: life at 90 % survival, 45 000 (hole 5)")
    assert reasons(mixed)[1] == "Hole 6: yield margin -0.08 is below the target of 0.25."
    cases = [*failing(3), *failing(3, "one-wheel")]
    assert "47 000 (hole 3, roll) to 49 000 (hole 1, roll)" in reasons(cases)[0]


def test_holes_that_are_not_checked_are_told_once_however_many_settings_fail():
    texts = tuple(
        f'{side} hole "{name}" has no diameter: its net section and edge are not checked'
        for side in ("right", "left")
        for name in "123456"
    )
    why = ("life at 90 % survival, 1 000 cycles, falls short", *(f"not checked: {text}" for text in texts))
    settings = tuple(
        made_up_setting(name, name, passes=False, why=why, not_checked=texts) for name in ("1", "2", "3", "4", "5", "6")
    )
    text = " ".join(printed(made_up_result(settings)).split())
    assert "At all 6 that fail: life at 90 % survival" in text and "of the 6 that fail" not in text
    assert text.lower().count("not checked: ") == 1
    assert 'Not checked: right hole "1" (and right hole "2",' in text


@pytest.mark.parametrize("name", ["B-1", "HV20-17", "HV20-26-17", "HV20-2611-0017", "HV20-2611-0017-A23-X"])
def test_a_number_in_a_crowded_table_is_not_broken(name):
    """10 000 00 above "0" is read as a million; the name gives way."""
    rows = [(name, "accept with note", "+223.46", "16 651", f"over 10{NO_BREAK}000{NO_BREAK}000", "yes")]
    made = table(
        "bars",
        "Bars",
        rows,
        [
            words("Bar", lambda row: row[0], key="bar"),
            words("Verdict", lambda row: row[1], key="verdict"),
            *(column(f"Number {i}", "mm", lambda row: 1.0, show=lambda _: "+223.46", key=f"n{i}") for i in range(4)),
            column("Life,\ncycles", "", lambda row: 1.0, show=lambda _: rows[0][4], key="life"),
            words("Passes", lambda row: row[5], key="passes"),
        ],
    )
    stream = io.StringIO()
    console = make_console(stream, piped=62)
    console.print("before")
    print_table(console, made)
    text = stream.getvalue()
    assert text.startswith("before") and max(map(len, text.splitlines())) <= 62
    assert f"10{NO_BREAK}000{NO_BREAK}000" in text and "Passes" in text
    assert text.count("+223.46") == 4


def test_a_life_that_falls_short_of_its_target_is_marked_and_one_that_reaches_it_is_not() -> None:
    """The safety factor is of the median: at 1.03 it is above 1 where the life at 90 % survival is not long enough."""

    def mood(**of_place: Any) -> str:
        row = made_up_setting(fatigue=made_up_fatigue(safety_factor_at_target=1.03, **of_place))
        made = settings_table(made_up_result(settings=(row,), target_cycles=200_000.0), row.case)
        cells = {column.heading: cell for column, cell in zip(made.columns, made.rows[0], strict=True)}
        return next(cell.mood for name, cell in cells.items() if name.startswith("Life"))

    assert mood(life_at_survival_cycles=199_999.0) == "bad" and mood(life_at_survival_cycles=200_001.0) == ""
    past = {"life_cycles": None, "runout": True}
    assert mood(life_at_survival_cycles=None, **past) == "" and mood(life_at_survival_cycles=1e5, **past) == "bad"
    assert mood(life_cycles=None, life_at_survival_cycles=None, reason="above yield") == "bad"
