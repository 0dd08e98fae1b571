"""The last line: what passes, what fails, and what a pass hangs on."""

from __future__ import annotations

import pytest

from barfem.show.notes import verdict
from tests.cli.made_up import made_up_result, made_up_setting
from tests.cli.test_table import printed


@pytest.mark.parametrize(
    ("passes", "sentence"),
    [
        ((True, True), "VERDICT: passes at all 2 hole settings judged."),
        ((False, False), "VERDICT: fails at all 2 hole settings judged."),
        ((True, False), "VERDICT: fails at 1 of 2 hole settings judged: hole 2."),
    ],
)
def test_verdict(passes, sentence):
    settings = tuple(made_up_setting(str(i + 1), str(i + 1), passes=p) for i, p in enumerate(passes))
    assert verdict(made_up_result(settings)) == sentence
    assert sentence in printed(made_up_result(settings))


def test_a_pass_of_a_file_with_an_odd_number_says_what_it_hangs_on():
    """The verdict stands above the prompt: whoever reads it alone is sent back to the question."""
    asked = made_up_result((made_up_setting(passes=True),), look_twice=("is the bar of 2 mm meant?",))
    assert verdict(asked) == (
        "VERDICT: passes at the only hole setting judged, if the file says what is meant (see Look twice)."
    )
    fails = made_up_result((made_up_setting(passes=False),), look_twice=("is the bar of 2 mm meant?",))
    assert verdict(fails) == "VERDICT: fails at the only hole setting judged."


def test_a_hole_keeps_the_letters_of_its_name_in_every_sentence():
    """Hole S is not hole s: a drawing may have both."""
    idle = "the links do not work the bar"
    settings = (made_up_setting("S", "S", passes=False, does_nothing=idle), made_up_setting("s", "s", passes=True))
    assert verdict(made_up_result(settings)).endswith("Fails at 1 of 2 hole settings judged: hole S.")


def test_a_number_that_is_not_finite_never_passes():
    setting = made_up_setting(passes=True, twist_deg=float("nan"))
    result = made_up_result((setting,))
    assert not result.passes
    assert "could not be computed" in verdict(result)
