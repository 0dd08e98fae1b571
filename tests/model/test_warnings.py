"""What should not be made is read with a warning; what cannot be read gives a message, whatever stands in the file."""

from __future__ import annotations

import datetime
import math
from copy import deepcopy
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from barfem.model.bar import Bar
from barfem.model.errors import InputError
from barfem.model.makeability import crosses_itself
from barfem.model.read import bar_from_dict
from tests.model.bar_data import DELETE, FLAT, TUBE, U_BAR, changed

TIGHT = ("centreline.bend_radius", 30.0)
HOLE = {"name": "1", "from_tip": 20.0}
WARNINGS: dict[str, tuple[tuple[tuple[str, Any], ...], str]] = {
    "mount over a tangent": ((("mounts.1.from_middle", 440.0),), "Mount 2 (from_middle 440 mm, length 40 mm) reaches"),
    "mount in a bend": (
        (("mounts.1", {"from_middle": 490.0, "length": 10.0, "radial_stiffness": 5000.0}),),
        "sits in bend 2",
    ),
    "short straight between bends": (
        (("centreline", {"points": [[-250, -60, 0], [0, -60, 0], [0, 60, 0], [-250, 60, 0]], "bend_radius": 50.0}),
         ("mounts.0.from_middle", -150.0), ("mounts.1.from_middle", 150.0), ("mounts.0.length", 0)),
        "straight between bends 1 and 2 is 20 mm",
    ),
    "bends that touch": (
        (("centreline", {"points": [[-250, -60, 0], [0, -60, 0], [0, 60, 0], [-250, 60, 0]], "bend_radius": 60.0}),
         ("mounts.0.from_middle", -150.0), ("mounts.1.from_middle", 150.0)),
        "Bends 1 and 2 touch",
    ),
    "short end": (
        (("centreline.points", [[-60, -500, 0], [0, -500, 0], [0, 500, 0], [-60, 500, 0]]), ("ends.holes", [HOLE])),
        "right end has 12 mm of straight",
    ),
    "tight bend of a solid bar": ((TIGHT,), "Bend 1: radius 30 mm is 1.25 diameters; below 1.5"),
    "tight bend of a tube": ((*TUBE, ("centreline.bend_radius", 40.0)), "below 2 a tube bar"),
    "hole near the cut end": ((("ends.holes.0.diameter", 15.0),), "is 1.33 diameters from the cut end"),
    "hole through the cut end": ((("ends.holes", [{**HOLE, "from_tip": 0.0, "diameter": 12.0}]),), "breaks out"),
    "little metal beside a hole": ((("ends.holes", [{**HOLE, "diameter": 13.0}]),), "leaves 5.5 mm of metal"),
    "hole in a bend": ((("ends.holes.0.from_tip", 230.0),), "beyond the end's straight"),
    "hole in a transition": ((("ends.flat", FLAT), ("ends.holes.1.from_tip", 80.0)), "beyond the full flat"),
    "hole twice": ((("ends.holes.1.from_tip", 20.0),), "same place as another hole"),
    "unequal holes": ((("ends.left", {"holes": [HOLE]}),), "ends are unequal in their holes"),
    "unequal flats": ((("ends.flat", FLAT), ("ends.left", {"flat": {"width": 44.0}})), "flats differ"),
    "flat without transition": ((("ends.flat", {**FLAT, "transition": 0}),), "has no transition"),
    # A round of 24 mm has 452 mm2; 20 x 60 mm are 1200, 2.7 times as much, which no end of it holds without upsetting.
    "forged of more steel than there is": (
        (("ends.flat", {**FLAT, "thickness": 20.0, "width": 60.0}),),
        "right forged flat is 20 x 60 mm, 2.7 times the body's 452 mm2 of steel",
    ),
    # A tube of 24 x 4 mm has 251 mm2 of steel, its closed bore none.
    "forged of more steel than a tube has": (
        (*TUBE, ("ends.flat", {**FLAT, "thickness": 12.0, "width": 34.0})),
        "1.6 times the body's 251 mm2 of steel",
    ),
    "forged wider than a round spreads": (
        (("ends.flat", {**FLAT, "thickness": 5.0, "width": 84.0}),),
        "84 mm wide, 3.5 diameters: above 3 a round hardly spreads",
    ),
    "pressed thicker than two walls": (
        (*TUBE, ("ends.flat", {**FLAT, "kind": "pressed", "width": 34, "thickness": 12})),
        "two walls make 8 mm",
    ),
    "pressed wider than its girth": (
        (*TUBE, ("ends.flat", {**FLAT, "kind": "pressed", "width": 60, "thickness": 8})),
        "own girth flattens to about 35.4 mm",  # half of pi 20 mm, of the wall's middle, and a wall at the folds
    ),
    "fillets longer than their transition": (  # that meet amid it where R = L^2 / (2 |w - d|), of the steeper side
        (("ends.flat", {**FLAT, "outline": "straight", "fillet": 60.0}),),
        "fillets of 60 mm are longer than its transition of 25 mm: they are taken as 19.5 mm",
    ),
    "mount on a flat": (
        (("ends.flat", FLAT), ("mounts", [*U_BAR["mounts"], {"from_middle": 660, "radial_stiffness": 900}])),
        "Mount 3 sits on the left flat",
    ),
    "mount outboard of a hole": ((("ends.holes.0.from_tip", 360.0),), "Mount 1 lies outboard of a hole"),
    "leaning link": ((("links.direction", [0, 2, -1]),), "leans 63 deg"),
    "pickup of the wrong side": ((("links", {"pickup": [-230, -500, -140]}),), "check the side and the sign"),
    "link shorter than the travel": ((("links.length", 35.0),), "shorter than the pickup travel"),
    "link that pulls along its arm": ((("links.direction", [1, 0, -0.1]), ("travel.direction", [1, 0, 0])), "hardly"),
    "no arm": (
        (("centreline", {"points": [[0, -700, 0], [0, 700, 0]]}),),
        "lies on the line of the mounts",
    ),
    "ratio the wrong way round": (
        (("travel", {"wheel": 30, "motion_ratio": 1.5, "direction": [0, 0, 1]}),),
        "motion_ratio 1.5",
    ),
    "block beyond the articulation": ((("duty.blocks", [{"pickup": 50, "cycles": 10}]),), "more than the maximum"),
    "critical sum without blocks": ((("targets.critical_sum", 0.5),), "no effect without [duty] blocks"),
    "relief without cold bending": ((("material.stress_relieved", True),), "stress_relieved has no effect"),
    "thin bar": ((("section.diameter", 4.0),), "diameter of 4 mm is unusual"),
    "bar through itself": (
        (("centreline", DELETE),
         ("bends", {"start_tip": "right", "start": [0, -600, 0], "direction": [0, 1, 0],
                    "first_bend_towards": [1, 0, 0], "rows": [[700, 0, 350, 60], [700]]}),
         ("ends.holes", [HOLE]), ("travel.direction", [0, 0, 1])),
        "runs through itself",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", WARNINGS)
def test_what_should_not_be_made_is_read_with_a_warning(case: str) -> None:
    changes, warning = WARNINGS[case]
    bar = bar_from_dict(changed(*changes))
    assert any(warning in text for text in bar.warnings), bar.warnings
    # The good bar does not draw it.
    assert not any(warning in text for text in bar_from_dict(changed()).warnings)


def test_only_a_tube_s_forged_flat_is_said_to_close_its_bore() -> None:
    def said(*changes: tuple[str, Any]) -> bool:
        return any("the bore is closed" in text for text in bar_from_dict(changed(*changes)).assumptions)

    flat = ("ends.flat", FLAT)
    assert said(*TUBE, flat) and not said(flat)
    assert not said(*TUBE, ("ends.flat", {**FLAT, "kind": "pressed", "width": 34, "thickness": 8}))


def test_a_pressed_flat_as_wide_as_its_girth_goes_unremarked() -> None:
    bar = bar_from_dict(changed(*TUBE, ("ends.flat", {**FLAT, "kind": "pressed", "width": 34, "thickness": 8})))
    assert not any("own girth" in text for text in bar.warnings)


def leaves(table: Any, way: tuple[str, ...] = ()) -> list[str]:
    if isinstance(table, dict):
        return [leaf for key, value in table.items() for leaf in [".".join((*way, key)), *leaves(value, (*way, key))]]
    if isinstance(table, list):
        return [
            leaf for i, value in enumerate(table) for leaf in [".".join((*way, str(i))), *leaves(value, (*way, str(i)))]
        ]
    return []


WHOLE = changed(
    ("ends.flat", FLAT),
    ("ends.left", {"flat": {"width": 42.0}, "strength_scale": 0.9}),
    ("duty", {"target_cycles": 1e5, "ratio": -1.0, "blocks": [{"pickup": 20.0, "cycles": 1e6}]}),
    ("targets", {"survival": 0.95}),
    ("travel.one_wheel", 50.0),
    ("links.right", {"length_error": 1.0}),
    ("mounts.0.bracket_stiffness", 3e4),
)
JUNK = st.one_of(
    st.none(),
    st.booleans(),
    st.floats(allow_nan=True, allow_infinity=True),
    st.sampled_from(
        [0, -1, 10**400, 1e-300, 1e300, "", "x", "5", "5 mm", "5 N/mm", "0 in", [], [1], [[1]], {}, {"a": 1}]
    ),
    st.sampled_from([[0, 0, 0], [0.0, 1e-200, 0], [1, 2, 3], [[0, 0, 0]] * 3, datetime.date(2020, 1, 1), "1e400 mm"]),
    st.integers(-1000, 1000),
)


@settings(max_examples=400, deadline=None)
@given(where=st.lists(st.sampled_from(sorted(leaves(WHOLE))), min_size=1, max_size=2), junk=JUNK)
@pytest.mark.long
def test_any_other_value_gives_a_bar_of_finite_numbers_or_a_message(where: list[str], junk: Any) -> None:
    data = deepcopy(WHOLE)
    for path in where:
        try:
            data = changed((path, junk), base=data)
        except (TypeError, KeyError, IndexError, AttributeError):  # the first change took away what holds the second
            return
    try:
        bar = bar_from_dict(data, source="bar.toml")
    except InputError as error:
        assert error.where and error.problem and error.expected
        return
    assert isinstance(bar, Bar)
    points, frames = bar.centreline.evaluate(np.linspace(0, bar.centreline.length_mm, 20))
    assert np.isfinite(points).all() and np.isfinite(frames).all()
    assert all(math.isfinite(mount.radial_total_N_per_mm) for mount in bar.mounts)


def test_a_bar_that_runs_through_itself_is_found_wherever_it_does() -> None:
    """Bars of random corners, each looked at in points a quarter of a diameter apart, pair by pair."""
    rng = np.random.default_rng(3)
    tried: list[bool] = []
    while len(tried) < 60:
        corners = np.cumsum(np.vstack([np.zeros(3), rng.normal(size=(rng.integers(3, 8), 3)) * 60.0]), axis=0)
        shape = {"points": corners.round(2).tolist(), "bend_radius": float(rng.choice([24.0, 30.0]))}
        try:
            mounts = [(f"mounts.{i}.from_middle", at) for i, at in enumerate((-20.0, 20.0))]
            bar = bar_from_dict(changed(("centreline", shape), *mounts))
        except InputError:
            continue
        d = bar.section.diameter_mm
        at = np.arange(0.0, bar.centreline.length_mm, 0.25 * d)
        points, _ = bar.centreline.evaluate(at)
        near = np.linalg.norm(points[:, None] - points, axis=2) < 0.98 * d
        apart = np.abs(at[:, None] - at) > 3.0 * d
        tried.append(bool((near & apart).any()))
        assert crosses_itself(bar) == tried[-1]
    assert any(tried) and not all(tried)


def _unequal(*left: dict[str, Any]) -> bool:
    """Whether the reader says that right and left holes lie at different distances from their tips."""
    bar = bar_from_dict(changed(("ends.left", {"holes": list(left)})))
    return any("different distances from their tips" in text for text in bar.warnings)


def test_holes_are_compared_by_the_pairs_that_they_make() -> None:
    one, two = U_BAR["ends"]["holes"]
    assert not _unequal(two, one)  # the other way round in the file: pairs go by name
    assert not _unequal({**one, "name": "a"}, {**two, "name": "b"})  # no name in common: in the order of the file
    assert _unequal({**one, "from_tip": 21.0}, two)
    assert _unequal({**two, "name": "a"}, {**one, "name": "b"})


def test_an_end_with_fewer_holes_is_called_that() -> None:
    bar = bar_from_dict(changed(("ends.left", {"holes": U_BAR["ends"]["holes"][1:]})))
    assert "The ends are unequal in their holes: the right one has 2, the left one 1." in bar.warnings
