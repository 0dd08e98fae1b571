"""Tubes that came back: the wall of a bend is held against the wall that the bend is to have, not the straight's."""

from __future__ import annotations

import pytest

from barfem.model.errors import InputError
from tests.vendor.bars import handed_bar
from tests.vendor.lots import judged, lot_text

# By hand: fibres keep their volume, t R / (R +- r), 24 x 4 mm at R 48, r = 10 mm to the middle of the wall.
OUTSIDE, INSIDE = 4.0 * 48.0 / 58.0, 4.0 * 48.0 / 38.0


@pytest.fixture(autouse=True)
def no_whole_check(monkeypatch):
    monkeypatch.setattr("barfem.vendor.inspect.check_received", lambda drawn, made, *_, **__: [None] * len(made))


def _found(tmp_path, *lines, fault="none"):
    text = lot_text(handed_bar(), [fault], seed=6) + "".join(f"B-001,{line},,\n" for line in lines)
    return judged(handed_bar(), tmp_path, text).bars[0]


def test_a_good_wall_of_a_bend_is_no_fault(tmp_path):
    lines = (f"wall,bend 1 outside,,,,{OUTSIDE:.3f},mm", f"wall,bend 2 inside,,,,{INSIDE:.3f},mm")
    found = _found(tmp_path, *lines)
    assert not found.faults
    limits = {each.what: (each.low, each.high) for each in found.judged}
    low, high = limits["wall, middle"]
    assert limits["wall, bend 1 outside"] == pytest.approx((low * OUTSIDE / 4.0, high * OUTSIDE / 4.0))
    assert limits["wall, bend 2 inside"] == pytest.approx((low * INSIDE / 4.0, high * INSIDE / 4.0))


def test_a_thin_wall_of_a_bend_is_and_the_bar_goes_by_it(tmp_path):
    """15 % thinner than the bend is to be: the bar as received has a wall 15 % thinner than drawn, 3.4 mm."""
    found = _found(tmp_path, f"wall,bend 1 outside,,,,{0.85 * OUTSIDE:.4f},mm")
    assert [each.kind for each in found.faults] == ["thin wall"] and found.verdict == "reject"
    assert found.faults[0].words == "thin wall, bend 1 outside: 2.81 instead of 3.31 mm"
    assert found.numbers["wall_mm"] == pytest.approx(3.4, abs=1e-3)


def test_bends_are_counted_from_the_drawing_s_tip_where_the_ends_are_exchanged(tmp_path):
    found = _found(tmp_path, f"wall,bend 2 outside,,,,{0.85 * OUTSIDE:.4f},mm", fault="exchanged")
    assert "thin wall, bend 1 outside" in [each.words.partition(":")[0] for each in found.faults]


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ("wall,bend 1,,,,3.3,mm", "which side of which bend"),
        ("wall,bend 3 outside,,,,3.3,mm", "bend 2 inside"),
        ("diameter,bend 1,,,,23.2,mm", "ovality"),
    ],
)
def test_what_a_reading_at_a_bend_does_not_say_is_asked(tmp_path, line, message):
    with pytest.raises(InputError, match=message):
        _found(tmp_path, line)
