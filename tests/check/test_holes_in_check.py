"""Holes, contacts and the next places in the whole check: one story, and what fails because of them."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from barfem.check.api import check_bar
from barfem.check.duty_life import solve_blocks
from barfem.check.solved import solve_states
from barfem.model.data_paths import geometries_dir
from barfem.model.errors import InputError
from barfem.model.read import bar_from_dict
from barfem.strength.holes import flat_hole
from tests.check.bar_files import BUILT, check
from tests.model.bar_data import FLAT, changed

TRAVEL = ("travel.pickup", 45.0)
THIN = {**FLAT, "thickness": 6.0, "width": 30.0, "normal": [0, 0, 1]}


def drilled(*sizes: float | None, flat: dict[str, Any] | None = None) -> tuple[tuple[str, Any], ...]:
    holes = [
        {"name": str(i + 1), "from_tip": 20.0 + 25.0 * i, **({} if size is None else {"diameter": size})}
        for i, size in enumerate(sizes)
    ]
    return (("ends.holes", holes), *([("ends.flat", flat)] if flat else []))


def test_the_next_places_are_others_in_order_and_follow_the_governing_one() -> None:
    found = check(TRAVEL, *drilled(8.0, 8.0, 8.0))
    for setting in found["settings"]:
        stress, life = setting["next_for_stress"], setting["next_for_life"]
        assert len(stress) == len(life) == 3
        margins = [setting["yield_margin"], *(place["yield_margin"] for place in stress)]
        assert all(b >= a - 1e-5 for a, b in pairwise(margins))
        lives = [place["life_at_survival_cycles"] or np.inf for place in (setting["fatigue"], *life)]
        assert all(b >= a * (1.0 - 1e-9) for a, b in pairwise(lives))
        assert np.isfinite(lives[0])
        stations = [setting["fatigue"]["station_mm"], *(place["station_mm"] for place in life)]
        assert min(abs(a - b) for i, a in enumerate(stations) for b in stations[i + 1 :]) > 1.0
        # Each is one of the places, of a kind that is known.
        kinds = {place["kind"] for place in setting["places"]}
        assert {place["kind"] for place in (*stress, *life)} <= kinds


def test_an_unused_hole_inboard_may_govern_life_but_not_stress() -> None:
    found = check(TRAVEL, *drilled(8.0, 8.0, 8.0, flat=THIN))
    soft = found["settings"][0]
    assert "edge of hole 3" in soft["fatigue"]["where"]
    # What is shown is what was used: a bolt's pressure on that wall is felt by its notch sensitivity.
    bar = bar_from_dict(changed(TRAVEL, *drilled(8.0, 8.0, 8.0, flat=THIN), base=BUILT))
    felt = flat_hole(bar, bar.right, bar.right.holes[2], n_around=48).felt[0, -1]
    assert soft["fatigue"]["factors"]["notch_sensitivity_q"] == pytest.approx(felt, rel=1e-9)
    assert felt == pytest.approx(0.95, abs=0.05)
    end = soft["end"]
    assert "edge of hole 3" in end["for_life"]["where"]
    factor = soft["fatigue"]["safety_factor_at_target"]
    assert end["for_life"]["safety_factor_at_target"] == pytest.approx(factor, rel=1e-12)
    right = {hole["name"]: hole for hole in end["holes"] if hole["side"] == "right"}
    assert [right[name]["in_use"] for name in "123"] == [True, False, False]
    assert right["3"]["amplitude_MPa"] > 1.15 * right["3"]["von_mises_MPa"]  # concentration in the one alone
    assert right["1"]["safety_factor_at_target"] > right["2"]["safety_factor_at_target"]
    assert right["2"]["safety_factor_at_target"] > right["3"]["safety_factor_at_target"]
    # At the inmost hole in use the flat's holes carry next to nothing, and the story is another.
    stiff = found["settings"][2]
    assert "hole" not in stiff["fatigue"]["where"]
    outboard = [hole for hole in stiff["end"]["holes"] if hole["name"] != "3"]
    assert all(hole["von_mises_MPa"] is None and hole["yield_margin"] is None for hole in outboard)


@pytest.mark.parametrize(("scale", "kind"), [(1.0, "elastic"), (0.6, "local")])
def test_the_first_travel_yields_at_the_edge_of_a_hole_in_a_softer_end(scale: float, kind: str) -> None:
    """The edge of an unused hole feels 806 MPa: below 1200 MPa of yield, above the 720 MPa of an end at 0.6 of it."""
    soft = check(TRAVEL, ("ends.strength_scale", scale), *drilled(8.0, 8.0, 8.0, flat=THIN))["settings"][0]
    assert "edge of hole 3" in soft["fatigue"]["where"] and soft["yield_margin"] > 0.4
    assert 720.0 < soft["fatigue"]["amplitude_MPa"] + soft["fatigue"]["mean_MPa"] < 1200.0
    assert soft["first_travel"]["kind"] == kind


def test_bearing_and_edge_distance_by_hand() -> None:
    found = check(TRAVEL, *drilled(8.0, 8.0, 8.0, flat=FLAT))
    for i, setting in enumerate(found["settings"]):
        used = [hole for hole in setting["end"]["holes"] if hole["in_use"]]
        assert [hole["name"] for hole in used] == [str(i + 1)] * 2
        for hole in used:
            force = max(abs(state[f"link_force_{hole['side']}_N"]) for state in setting["states"])
            assert hole["bearing_MPa"] == pytest.approx(force / (8.0 * 12.0))
            assert hole["edge_distance"] == pytest.approx((20.0 + 25.0 * i) / 8.0)
    assert not any("presses its wall" in text for text in found["warnings"])
    paper = check(TRAVEL, ("material.yield_strength", 100.0), ("material.tensile_strength", 400.0),
                  *drilled(2.0, 2.0, 2.0, flat={**FLAT, "thickness": 3.0}))  # fmt: skip
    assert any("presses its wall" in text for text in paper["warnings"])


def test_unused_holes_of_a_demo_flat_by_hand() -> None:
    """The flat is on edge: the link's force along z bends it in its plane, what the link leans to y across it.

    Net section, hole on the middle of a rectangle: 12 M y / (t (H^3 - d^3)) at its edge, 6 M / ((H - d) t^2) on its
    face, both at the same corner (Roark; any textbook). The link hangs as at rest, the hand takes no shear and no tilt.
    """
    found = check_bar(geometries_dir() / "pickup-front-solid.toml")
    setting = found.settings[0]
    end, links = setting.end, np.array([0.0, 0.05, -1.0])
    assert setting.left == "soft" and end is not None
    force = abs(setting.link_force_left_N or 0.0) * np.abs(links) / np.linalg.norm(links)
    t, width, hole = 12.0, 36.0, 12.2
    for name, lever in (("middle", 30.0), ("stiff", 60.0)):
        in_plane = 12.0 * force[2] * lever * 0.5 * width / (t * (width**3 - hole**3))
        across = 6.0 * force[1] * lever / ((width - hole) * t**2)
        ours = next(each for each in end.holes if each.name == name and each.side == "left")
        assert ours.von_mises_MPa == pytest.approx(in_plane + across, rel=0.03)
        # Concentration is in fatigue alone: the hole's edge, nearer the axis, has as much as the net section's corner.
        assert (ours.amplitude_MPa or 0.0) > 0.95 * ours.von_mises_MPa


@pytest.mark.parametrize(("transition", "more"), [(25.0, 1.02), (12.5, 1.2)])
def test_a_transitions_shoulders_are_in_its_fatigue_alone(transition: float, more: float) -> None:
    """A link near the tip bends the flat across: what the shoulder adds is in the amplitude, nothing in the peak."""
    flat = {**THIN, "transition": transition, "length": 100.0 + transition}
    found = check(TRAVEL, *drilled(None, None, None, flat=flat))
    setting = found["settings"][0]
    place = next(each for each in setting["places"] if each["kind"] == "transition")
    rows = [setting["fatigue"], *setting["next_for_life"], setting["end"]["for_life"]]
    life = [row for row in rows if row is not None and "transition" in row["where"]]
    assert life and life[0]["amplitude_MPa"] > more * place["von_mises_MPa"]
    assert not any("shoulders" in text for text in found["warnings"])
    short = check(TRAVEL, *drilled(None, None, None, flat={**flat, "transition": 3.0}))
    assert any("shoulders of a transition shorter" in text for text in short["warnings"])


def test_fillets_sharper_than_any_that_was_modelled_are_warned_of() -> None:
    """The models end at a tenth of the diameter: a fillet of 0.5 mm was given the stress of 2 mm, without a word."""
    sharp, least = (
        check(TRAVEL, *drilled(None, None, None, flat={**THIN, "outline": "straight", "fillet": fillet}))["warnings"]
        for fillet in (0.5, 2.0)
    )
    assert sum("those of 0.5 mm concentrate more stress than is in the number" in text for text in sharp) == 1
    assert not any("fillets" in text for text in least)


def test_a_hole_without_a_diameter_stays_not_checked() -> None:
    found = check(TRAVEL, *drilled(None, 8.0, 8.0))
    for setting in found["settings"]:
        assert any('"1"' in text for text in setting["not_checked"])
        holes = [hole for hole in setting["end"]["holes"] if hole["name"] == "1"]
        assert all(not hole["checked"] and hole["life_cycles"] is None for hole in holes)
        assert not any(hole["runout"] for hole in holes)


@pytest.mark.parametrize("contact", ["bonded", "slipping", "clamped"])
def test_contact_decides_where_it_is_said(contact: str) -> None:
    plain = check(TRAVEL)
    found = check(TRAVEL, *((f"mounts.{i}.contact", contact) for i in range(2)))
    assert any("fretting" in text.lower() for text in plain["warnings"])
    assert not any("fretting" in text.lower() for text in found["warnings"])
    assert any(text.startswith(f"Contact, {contact}") for text in found["assumptions"])
    for a, b in zip(plain["settings"], found["settings"], strict=True):
        assert a["peak"] == b["peak"] and a["yield_margin"] == b["yield_margin"]
        if contact == "clamped":
            assert "edge of the" in b["fatigue"]["where"]
            assert b["fatigue"]["factors"]["contact_factor_in_the_amplitude"] == 2.0
            assert b["fatigue"]["safety_factor_at_target"] < a["fatigue"]["safety_factor_at_target"]
        else:
            assert b["fatigue"]["safety_factor_at_target"] <= a["fatigue"]["safety_factor_at_target"]


def test_a_pressed_collar_may_govern() -> None:
    collar = {"from_middle": -345.0, "length": 8.0, "kind": "pressed"}
    found = check(TRAVEL, ("collars", [collar]))
    assert any("collar 1" in setting["fatigue"]["where"] for setting in found["settings"])
    assert {"collar"} <= {place["kind"] for place in found["settings"][0]["places"]}


def test_blocks_are_held_against_yield_without_concentration() -> None:
    """At an edge the peak is the section's: concentration alone never takes a life away as if the bar yielded."""
    duty = {"blocks": [{"pickup": 45.0, "cycles": 500.0}]}
    bar = bar_from_dict(changed(TRAVEL, ("duty", duty), *drilled(8.0, 8.0, 8.0, flat=THIN), base=BUILT))
    solved = solve_states(bar, cases=("roll",))
    found = solve_blocks(solved, 0)
    edge = solved.samples.edge[found.points.sample] > 0
    net = solved.samples.net[found.points.sample]
    peaks = np.zeros(len(solved.samples.station_mm))
    np.maximum.at(peaks, found.points.sample[~edge], found.lines.peak_MPa[~edge])
    assert edge.any()
    assert found.lines.peak_MPa[edge] == pytest.approx(peaks[net[edge]])
    # A fully reversed cycle: the amplitude at the worst edge is above the peak of its section.
    assert np.any(found.amplitude_MPa[0, edge] > 1.2 * found.lines.peak_MPa[edge])


@pytest.mark.parametrize(
    ("change", "word"),
    [
        (("mounts.0.contact", "glued"), "contact"),
        (("mounts.0.contact_factor", 0.8), "1 or more"),
        (("collars", [{"from_middle": -900.0, "length": 8.0, "kind": "pressed"}]), "off the bar"),
        (("collars", [{"from_middle": 0.0, "length": 8.0, "kind": "pressed", "factor": 0.5}]), "1 or more"),
        (("collars", [{"from_middle": 0.0, "length": 8.0, "kind": "welded"}]), "moulded"),
        (("collars", [{"from_middle": 0.0, "kind": "pressed"}]), "length"),
    ],
)
def test_what_cannot_be_is_refused(change: tuple[str, Any], word: str) -> None:
    with pytest.raises(InputError, match=word):
        bar_from_dict(changed(change, base=BUILT))
