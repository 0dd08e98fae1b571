"""What an engineer would act on is not hidden: greater link forces, why a hole cannot follow, each target, slips."""

from __future__ import annotations

import io
import re
from typing import Any

from barfem.check.api import check_bar
from barfem.check.result import CheckResult
from barfem.model.read import bar_from_dict
from barfem.show.figures import along, style
from barfem.show.figures.data import FigureData
from barfem.show.figures.files import figure_files
from barfem.show.lives import one_life
from barfem.show.numbers import printable, whole
from barfem.show.report.page import report_page
from barfem.show.screen import print_screen
from tests.check.bar_files import BUILT, without_pictures
from tests.model.bar_data import changed

ONE_WHEEL, TOO_FAR = ("travel.one_wheel", 30.0), ("travel.one_wheel", 400.0)
ANOTHER = ("links.left", {"length_error": -4.0})


def checked(*changes: tuple[str, Any]) -> CheckResult:
    return check_bar(bar_from_dict(changed(*changes, base=BUILT)))


def screen(result: CheckResult) -> str:
    stream = io.StringIO()
    print_screen(result, stream=stream)
    return re.sub(r"\s+", " ", stream.getvalue())


def first_page(result: CheckResult) -> str:
    with without_pictures():
        return re.sub(r"<(style|script|svg)\b.*?</\1>", "", report_page(result, one_page=True), flags=re.DOTALL)


def test_a_link_that_carries_more_at_the_other_end_of_the_cycle_is_told_of_below_the_table() -> None:
    """A left link 4 mm too short pulls the bar where the left pickup goes down: 18 % above the force at full travel."""
    for changes in ((ANOTHER,), (ANOTHER, ONE_WHEEL, ("travel.pickup", 60.0))):
        result = checked(*changes)
        stiffest = result.settings[2]
        forces = [abs(state.link_force_left_N) for state in stiffest.states]
        assert max(forces) > 1.05 * max(abs(stiffest.link_force_left_N), abs(stiffest.link_force_right_N))
        told = f"up to {printable(whole(max(forces)))} N (hole 3, left)"
        assert f"Greater link force at the other end of the cycle: {told}." in screen(result)
    assert "Greater link force" not in screen(checked())


def test_why_a_hole_cannot_follow_comes_before_why_others_fail() -> None:
    """Its row has no number: the screen ends with four reasons, and this one stood behind "and 1 more"."""
    result = checked(TOO_FAR, ("travel.pickup", 95.0))
    assert result.unsolved and any(not row.passes for row in result.settings)
    text = screen(result)
    assert 0 < text.index("no equilibrium found") < text.index("falls short")


def test_a_load_case_in_which_no_hole_can_follow_has_its_table_in_the_report() -> None:
    result = checked(TOO_FAR)
    assert {row.case for row in result.unsolved} == {"one-wheel"} == {row.case for row in result.rows if not row.passes}
    page = first_page(result)
    assert "<h2>Hole settings, one-wheel</h2>" in page and page.count(">NO<") == len(result.unsolved)


def test_a_target_of_the_goodman_factor_stands_among_the_targets_and_is_never_shown_as_reached() -> None:
    plain = checked()
    factors = [setting.fatigue.least_goodman_safety_factor or 0.0 for setting in plain.settings]
    rounded_up = next(each for each in factors if round(each, 2) > each)
    asked = round(rounded_up, 2)
    result = checked(("targets.goodman_safety_factor", asked))
    assert f"yield margin 0.25, Goodman safety factor {asked:g}." in screen(result)
    why = result.settings[factors.index(rounded_up)].why
    assert any(f"limit {asked - 0.01:.2f}, target {asked:g}" in text for text in why)


def test_what_the_verdict_says_to_look_at_twice_stands_on_page_one() -> None:
    result = checked(("links.length", 15.0), ("travel.pickup", 5.0))
    assert result.look_twice
    page = first_page(result)
    assert page.index("Look twice: ") < page.index("Hole settings")


def test_the_line_of_the_yield_margin_says_the_stress_that_it_has_at_its_label() -> None:
    """Ends of 0.5 of the strength: 480 MPa is asked of them, of the middle twice as much."""
    result = checked(("ends.strength_scale", 0.5), ("travel.pickup", 90.0))
    strength = bar_from_dict(changed(base=BUILT)).steel.yield_strength_MPa / 1.25
    with style.context("wide"):
        figure = along.picture(FigureData(result)).draw("wide")
    words = [text.get_text() for axes in figure.axes for text in (*axes.texts, axes.title, axes._right_title)]
    (label,) = [text for text in words if text.startswith("yield margin")]
    assert label.startswith(f"yield margin 0.25 at {strength:.0f} MPa, {0.5 * strength:.0f} where softer")


def test_the_stamp_of_a_figure_begins_with_the_bars_name_however_long_it_is() -> None:
    result = checked(("name", "front bar " + "of a long name " * 12), ("drawing", "PF-001"))
    _, drawing = next(figure_files(result))
    assert isinstance(drawing, str)
    (stamp,) = set(re.findall(r"front bar of a long name[^<>]*barfem \d[\d.]*", drawing))
    assert len(stamp) < 160 and "\u2026, drawing PF-001, " in stamp


def test_a_life_of_a_few_cycles_is_rounded_down_too() -> None:
    assert one_life(9.6) == "9"
