"""Hole axes of bars that came back: they tell hand and ends where points cannot, and are judged by the drawing."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from barfem.model.bar import Bar
from barfem.model.read import bar_from_dict
from barfem.vendor.inspect_fit import Lie, _on_line, _stations, canonical, fit_function
from barfem.vendor.inspect_judge import clocking
from barfem.vendor.inspect_reading import read_inspection
from barfem.vendor.inspect_shape import drawn_points
from barfem.vendor.part import end_inward
from tests.model.bar_data import FLAT, U_BAR, changed
from tests.vendor.bars import handed_bar
from tests.vendor.lots import EXPECTED, judged, lot_text, written


def test_an_axis_off_the_named_bend_alone_is_judged_and_the_rotation_is_named(tmp_path):
    """Bend 2 turned 2.5 deg takes arm and hole along: off against the plane of bend 1 (x-y), right beside its own."""
    named = handed_bar(datum_bend=1, clocking_tolerance=0.3)
    (found,) = judged(named, tmp_path, lot_text(named, ["rotation"], seed=5)).bars
    assert [fault.kind for fault in found.faults] == EXPECTED["rotation"]
    (left,) = [each for each in found.judged if each.what == "clocking, left end, off by"]
    middle = named.centreline.evaluate(0.5 * named.centreline.length_mm)[1][0, 0]
    turn = Rotation.from_rotvec(np.radians(found.faults[0].measured - found.faults[0].nominal) * middle)
    u, axis = end_inward(named, named.left)[0], np.array(named.left.flat.normal)

    def to_the_plane(u, axis):
        zero = np.cross([0.0, 0.0, -1.0], u)  # met from the left tip bend 1 turns the other way
        return np.degrees(np.arctan2(u @ np.cross(zero, axis), zero @ axis))

    by_hand = to_the_plane(turn.apply(u), turn.apply(axis)) - to_the_plane(u, axis)
    assert left.passes is False and left.measured == pytest.approx(abs(by_hand), abs=0.05)
    (clocked,) = judged(named, tmp_path, lot_text(named, ["clocked"], seed=5)).bars
    assert [fault.kind for fault in clocked.faults] == EXPECTED["clocked"]


def clocked_u(right: float, left: float) -> Bar:
    """A plain U, which is its own mirror image and maps onto itself, its hole axes tilted so far along y."""
    tables = changed(base=U_BAR)
    tables["ends"]["flat"] = FLAT
    tables["ends"] |= {side: {"flat": {"normal": [0.0, y, 1.0]}} for side, y in (("right", right), ("left", left))}
    return bar_from_dict({**tables, "drawing": {"profile_tolerance": 3.0, "tip_mismatch": 2.0}})


@pytest.mark.parametrize("fit", ["function", "points"])
@pytest.mark.parametrize(
    ("tilts", "fault", "lie", "message"),
    [
        ((0.5, 0.5), "mirrored", ("other", "as named"), ["under a half turn"]),
        ((0.5, 0.5), "exchanged", ("as-drawn", "as named"), ["under a half turn"]),
        ((0.5, -0.5), "exchanged", ("as-drawn", "ends exchanged"), ["its own mirror image"]),
        ((0.5, -0.5), "mirrored", ("as-drawn", "as named"), ["its own mirror image"]),
        ((0.0, 0.0), "mirrored", ("as-drawn", "as named"), ["under a half turn", "its own mirror image"]),
    ],
)
def test_hole_axes_tell_hand_and_ends_where_points_fit_all(tmp_path, fit, tilts, fault, lie, message):
    bar = clocked_u(*tilts)
    (found,) = judged(bar, tmp_path, lot_text(bar, [fault], seed=3), fit=fit).bars
    assert (found.lie.hand, found.lie.order) == lie and found.fit.kind == fit
    kinds = {fault.kind for fault in found.faults}
    assert "clocking" not in kinds and ("other hand" in kinds) == (lie[0] == "other")
    assert ("ends exchanged" in kinds) == (lie[1] == "ends exchanged")
    assert len(found.notes) == len(message) and all(a in b for a, b in zip(message, found.notes, strict=True))


def test_what_points_alone_cannot_tell_is_said(tmp_path):
    for tilts, message in (((0.5, 0.5), "cannot tell the hand"), ((0.5, -0.5), "cannot tell the ends apart")):
        bar = clocked_u(*tilts)
        text = "\n".join(line for line in lot_text(bar, ["none"], seed=3).splitlines() if "hole axis" not in line)
        assert any(message in note for note in judged(bar, tmp_path, text).bars[0].notes)


def test_a_bar_that_maps_onto_itself_is_judged_in_its_better_position(tmp_path):
    """Mounts that lie unevenly: the right arm's 5 mm lie less far off the datums turned end for end, or as named."""
    tables = dict(clocked_u(0.0, 0.0).tables)
    mounts = [{**tables["mounts"][0], "from_middle": -400.0}, {**tables["mounts"][1], "from_middle": 100.0}]
    bar = bar_from_dict({**tables, "mounts": mounts})
    text = lot_text(bar, ["rotation"], seed=3)
    lies = [Lie("as-drawn", order, ()) for order in ("as named", "ends exchanged")]
    points = read_inspection(written(tmp_path, text), bar).bars[0].points_mm
    by_hand = [max(fit_function(bar, canonical(points, lie)).distance_mm) / 1.5 for lie in lies]
    by_hand = [
        max(one, abs(fit_function(bar, canonical(points, lie)).tip_mismatch_mm) / 2.0)
        for one, lie in zip(by_hand, lies, strict=True)
    ]
    found = judged(bar, tmp_path, text).bars[0]
    assert found.lie.order == lies[int(np.argmin(by_hand))].order
    assert "ends exchanged" not in {fault.kind for fault in found.faults}


@pytest.mark.parametrize(
    ("drawn", "off", "how"), [(-51.6, 3.0, "short"), (-51.6, -3.0, "too far"), (30.0, 3.0, "too far")]
)
def test_a_clocking_to_the_negative_sense_is_too_far_away_from_zero(drawn, off, how):
    """-48.6 instead of -51.6 deg is turned less than drawn, as a rotation of -87 instead of -90 is."""
    _, fault = clocking(clocked_u(0.5, 0.5), "right", drawn + off, drawn, off)
    assert f"3.0 deg {how} ({drawn + off:.1f} instead of {drawn:.1f})" in fault.words


def test_a_mount_within_a_bend_lies_on_the_drawn_arc():
    """The datum through such mounts stands off the chord by the arc's height, which the drawing's own points must give
    back."""
    bar = handed_bar()
    nominal, stations = drawn_points(bar), _stations(bar)
    for bend in bar.centreline.bends:
        for share in (0.0, 0.2, 0.5, 0.9, 1.0):
            at = bend.start_station_mm + share * bend.length_mm
            assert _on_line(nominal, nominal, stations, at) == pytest.approx(
                bar.centreline.evaluate(at)[0][0], abs=1e-9
            )


def test_an_axis_measured_in_a_round_end_is_said_to_be_left_out(tmp_path):
    """The drawing gives it no clocking: nothing can be judged by it, and nothing was said."""
    bar = bar_from_dict(U_BAR)
    head = "# barfem inspection, format 1\n# units = mm, N, deg, HRC\nbar,what,place,x_mm,y_mm,z_mm,value,unit\n"
    text = head + "B-001,diameter,middle,,,,24.0,mm\nB-001,hole axis,hole 1 left,0,0,1,,\n"
    (one,) = judged(bar, tmp_path, text).bars
    words = "hole axis left out: the drawing gives the holes of a round end none"
    assert one.verdict == "accept" and f"line 5: {words}" in one.notes
