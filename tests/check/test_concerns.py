"""Warnings by what they can do to the verdict: their size, what turns it, and those of one kind in one line."""

from __future__ import annotations

import copy
import io
import json
import pickle
from collections.abc import Callable
from dataclasses import replace

import pytest

from barfem.check.api import check_bar
from barfem.check.concerns import concerns, stress_to_spare
from barfem.check.result import CheckResult
from barfem.model.read import bar_from_dict
from barfem.model.warned import Effect, Warned
from barfem.show.reasons import reasons
from barfem.show.screen import print_screen
from barfem.show.table import warning_lines
from tests.model.bar_data import changed

FOLDS = Warned("The folded edges of a pressed flat, cracks included, are not in the number.", Effect.FOLDED_EDGES)
SPARE = Warned("Round steel is a condition of a tube; this body is a bar", Effect.WEAKER)


@pytest.fixture(scope="module")
def passing() -> CheckResult:
    result = check_bar(bar_from_dict(changed(("travel.pickup", 6.0), ("ends.holes", [{"name": "1", "from_tip": 20}]))))
    assert result.passes
    return result


def screen(result: CheckResult) -> str:
    stream = io.StringIO()
    print_screen(result, stream=stream)
    return " ".join(stream.getvalue().split())


def with_factor(result: CheckResult, factor: float) -> CheckResult:
    """The result with the safety factor `factor` at every hole, and three warnings."""
    rows = tuple(replace(row, fatigue=replace(row.fatigue, safety_factor_at_target=factor)) for row in result.settings)
    unequal = Warned("The ends are unequal: right and left flats differ.", Effect.UNEQUAL)
    return replace(result, settings=rows, warnings=(unequal, FOLDS, SPARE))


def test_to_spare_is_the_least_of_what_life_and_yield_leave(passing: CheckResult) -> None:
    share = passing.strength_share_at_survival
    assert (
        share is not None and 0.7 < share < 1.0
    )  # 0.8975 by 8 % of strength, Shigley Eq. 6-29; less where lives scatter
    assert stress_to_spare(with_factor(passing, 1.3)) == pytest.approx(1.3 * share)
    margins = [row.yield_margin for row in passing.settings]
    assert stress_to_spare(with_factor(passing, 99.0)) == pytest.approx((1.0 + min(margins)) / 1.25)


def test_what_may_add_half_turns_a_bar_with_a_third_to_spare_and_not_one_with_its_double(passing: CheckResult) -> None:
    near, far = with_factor(passing, 1.4), with_factor(passing, 2.2)
    by_text = {each.text: each.turns for each in concerns(near)}
    assert by_text == {FOLDS: True, SPARE: False, near.warnings[0]: False}
    assert not any(each.turns for each in concerns(far))
    assert concerns(near)[0].text == FOLDS
    assert "may add 50 % at the fold" in screen(near) and "2 more warnings (which cannot turn" in screen(near)
    assert "Warning:" not in screen(far) and "3 warnings (which cannot turn the verdict)" in screen(far)


def test_more_stress_cannot_turn_the_verdict_of_a_bar_that_fails_and_a_slip_of_units_can(passing: CheckResult) -> None:
    near = with_factor(passing, 1.4)
    failing = replace(near, settings=tuple(replace(row, passes=False, why=("x",)) for row in near.settings))
    assert stress_to_spare(failing) == 1.0 and not any(each.turns for each in concerns(failing))
    unusual = Warned("A diameter of 1 mm is unusual for an anti-roll bar: is it in mm?", Effect.UNITS)
    slip = replace(failing, warnings=(*near.warnings, unusual))
    first = concerns(slip)[0]
    assert first.turns and "is it in mm" in first.text and "changes every number" in screen(slip)


def test_one_warning_of_several_bends_is_one_line(passing: CheckResult) -> None:
    words = "radius {} mm is 1.2 diameters; below 1.5 a round bar is hard to bend (common practice, no source)."
    same = tuple(f"Bend {number}: {words.format(30)}" for number in (1, 2, 4))
    other = (f'Hole "{name}" of the right end is 1.2 diameters from the cut end; it may tear out.' for name in "ab")
    found = [each.text for each in concerns(replace(passing, warnings=(*same, *other)))]
    assert found[0] == f"Bend 1 (and bend 2, bend 4): {words.format(30)}"
    assert found[1].startswith('Hole "a" of the right end (and hole "b" of the right end) is 1.2') and len(found) == 2
    links = tuple(f'The {side} link at hole "1" is 140 mm long; it may not reach.' for side in ("right", "left"))
    no_size = tuple(f'NOT CHECKED: left hole "{name}" has no diameter' for name in "ab")
    stiff = tuple(
        f"Hole {name}, roll: mounts and links take {share} % of the travel" for name, share in (("1", 2), ("3", 4))
    )
    found = [each.text for each in concerns(replace(passing, warnings=(*links, *no_size, *stiff)))]
    assert 'NOT CHECKED: left hole "a" (and left hole "b") has no diameter' in found
    assert 'The right link at hole "1" (and the left link at hole "1") is 140 mm long; it may not reach.' in found
    assert "Hole 1, roll (and with their own numbers hole 3, roll): mounts and links take 2 % of the travel" in found
    short = tuple(f"The straight between bends {i} and {i + 1} is 21 mm, below one diameter." for i in (2, 4))
    (found,) = [each.text for each in concerns(replace(passing, warnings=short))]
    assert found == (
        "The straight between bends 2 and 3 (and the straight between bends 4 and 5) is 21 mm, below one diameter."
    )
    touch = tuple(f"Bends {i} and {i + 1} touch: there is no straight between them to grip." for i in (2, 4))
    (found,) = [each.text for each in concerns(replace(passing, warnings=touch))]
    assert found.startswith("Bends 2 and 3 (and bends 4 and 5) touch: there is")
    unlike = tuple(f"Bend {number}: {words.format(radius)}" for number, radius in ((1, 30), (2, 28)))
    assert "and with their own numbers bend 2" in concerns(replace(passing, warnings=unlike))[0].text


def test_every_warning_with_a_size_is_a_sentence_before_it(passing: CheckResult) -> None:
    told_typical = "a steel: yield strength and tensile strength are typical values, not a guaranteed minimum"
    lines = warning_lines(replace(passing, warnings=(*passing.warnings, told_typical)))
    sized = [line for line in lines if "Size: " in line]
    assert len(sized) > 1 and all(". Size: " in line and ".. " not in line for line in sized)


def test_a_bar_that_does_nothing_says_so_once(passing: CheckResult) -> None:
    row = passing.settings[0]
    rows = [
        replace(row, left=name, right=name, passes=False, why=(f"roll does not work this bar: torsion takes {s} %", w))
        for name, s, w in (("1", 0.3, "yield margin 9"), ("2", 0.4, "yield margin 8"), ("3", 0.4, "life 7"))
    ]
    (line,) = reasons(rows, not_checked=False)
    assert line.startswith("At all 3 hole settings: roll does not work this bar: torsion takes 0.3 (hole 1) to 0.4")
    assert "yield margin 9" in reasons(rows[:1])[0]


@pytest.mark.parametrize("right", ["1", "x"])
def test_a_hole_that_no_pair_holds_is_named_and_can_turn_the_verdict_until_it_is_judged(right: str) -> None:
    """Three holes left and one right, of the first one's name or of another: the other two are in no pair."""
    drilled = [{"name": str(i + 1), "from_tip": 20.0 + 25.0 * i} for i in range(3)]
    ends = {"left": {"holes": drilled}, "right": {"holes": [{"name": right, "from_tip": 25.0}]}}
    bar = bar_from_dict(changed(("travel.pickup", 6.0), ("ends", ends)))
    found = [each for each in concerns(check_bar(bar)) if "judged only where unequal pairs" in each.text]
    assert [each.turns for each in found] == [True]
    assert found[0].text.startswith('Hole "2" of the left end (and hole "3" of the left end) has no hole')
    assert not any("judged only where" in each.text for each in concerns(check_bar(bar, mixed=True)))


def test_which_wheel_moves_alone_is_said_where_that_is_judged() -> None:
    ends = {"left": {"holes": [{"name": "1", "from_tip": 20.0}]}, "right": {"holes": [{"name": "1", "from_tip": 25.0}]}}
    for case, said in (("roll", False), ("one-wheel", True)):
        found = check_bar(bar_from_dict(changed(("travel.pickup", 6.0), ("ends", ends))), case=case)
        (unequal,) = (each for each in concerns(found) if "ends are unequal" in each.text)
        assert unequal.size.startswith("counted in the verdict") and ("left wheel" in unequal.size) is said


@pytest.mark.parametrize("copied", [copy.deepcopy, lambda text: pickle.loads(pickle.dumps(text))])
def test_a_warning_keeps_what_it_may_do_in_copies_and_other_processes(copied: Callable[[Warned], Warned]) -> None:
    again = copied(SPARE)
    assert again == SPARE and again.effect is Effect.WEAKER and json.dumps([again]) == json.dumps([str(SPARE)])


def test_a_link_at_dead_centre_is_told_before_what_cannot_turn_the_verdict() -> None:
    """Links and travel fore and aft, along the arms: at rest nothing twists."""
    along = (("links.direction", [1.0, 0.0, 0.04]), ("travel", {"pickup": 2.0, "direction": [1.0, 0.0, 0.0]}))
    result = check_bar(bar_from_dict(changed(*along)))
    told = next(each for each in concerns(result) if "points nearly at the line of the mounts" in each.text)
    assert told.turns and told.size == "the rate changes along the travel"


@pytest.mark.parametrize(
    ("changes", "asked", "warned"),
    [
        ((("links.length_error", 24.0),), "length_error +24 mm on a link of 140 mm", "is 17 % of its length"),
        ((("travel", {"wheel": 4.0, "motion_ratio": 1.5, "direction": [0, 0, 1]}),),
         "a motion ratio of 1.5", "motion_ratio 1.5 is above 1.2"),
        ((("section.diameter", 4.0),), "a bar of 4 mm diameter", "A diameter of 4 mm is unusual"),
        ((("centreline.points", [[-250, -2100, 0], [0, -2100, 0], [0, 2100, 0], [-250, 2100, 0]]),
          ("mounts.0.from_middle", -1500.0), ("mounts.1.from_middle", 1500.0)),
         "a bar 4659 mm long along its centreline", "A developed length of 4658.8 mm is unusual"),
    ],
)  # fmt: skip
def test_what_is_asked_above_is_not_warned_of_again_on_the_screen(changes, asked: str, warned: str) -> None:
    """The warning stands in --full and among the result's, as before; the screen has the question alone."""
    found = check_bar(bar_from_dict(changed(("travel.pickup", 6.0), *changes)))
    told = screen(found)
    assert any(text.startswith(asked) for text in found.look_twice)
    assert told.count(asked) == 1 and warned not in told
    assert any(warned in text for text in found.warnings)
    (line,) = (line for line in warning_lines(found) if warned in line)
    assert line.endswith("Size: asked about above.")


def test_a_warning_that_no_question_says_is_on_the_screen() -> None:
    """5 mm of a link of 45 mm are set by its thread and not asked about, and yet 11 % of it."""
    link = {"length": 45.0, "direction": [0, 0, -1], "length_error": 5.0}
    found = check_bar(bar_from_dict(changed(("travel.pickup", 6.0), ("links", link))))
    assert not any("length_error" in text for text in found.look_twice)
    assert "[links] length_error of 5 mm is 11 % of its length" in screen(found)
