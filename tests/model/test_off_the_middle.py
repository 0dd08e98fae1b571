"""The left side's holds for the right one's mirror image about y = 0, wherever the bar lies; [arms] are symmetric."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import pytest

from barfem.check.api import look_twice
from barfem.model.data_paths import demo_bars
from barfem.model.read import bar_from_dict, read_bar
from tests.model.bar_data import U_BAR, changed

PICKUP = [-230.0, 500.0, -140.0]  # straight below the left hole "1"


def _drawn_at(y_mm: float, **links: Any) -> dict[str, Any]:
    """The U with the origin of its drawing `y_mm` right of its middle, and pickups fixed below its holes."""
    points = [[x, y + y_mm, z] for x, y, z in U_BAR["centreline"]["points"]]
    x, y, z = PICKUP
    return changed(("centreline.points", points), ("links", {"pickup": [x, y + y_mm, z], **links}))


@pytest.mark.parametrize("y_mm", [15.0, 50.0, -50.0, 500.0])
def test_a_right_pickup_mirrored_about_an_origin_that_is_not_the_bars_middle_is_asked_about(y_mm: float) -> None:
    """At 50 mm the right link leans by atan(100 / 140) = 36 deg, and the rate was 12 % low without a word."""
    told = look_twice(bar_from_dict(_drawn_at(y_mm)))
    side = "left" if y_mm > 0.0 else "right"
    assert told[0] == (
        f"mounts and cut ends lie {abs(y_mm):g} mm {side} of y = 0, and the right pickup is the left one's mirror "
        "image about y = 0: [links.right] pickup left out, or the drawing's origin off the car's middle?"
    )
    assert not any("wrong sign" in text or "lean" in text for text in told)


def test_a_right_pickup_of_its_own_is_not_asked_about() -> None:
    below = {"pickup": [-230.0, -500.0 + 50.0, -140.0]}
    assert look_twice(bar_from_dict(_drawn_at(50.0, right=below))) == ()


def test_an_origin_off_the_middle_is_none_of_links_that_hang() -> None:
    data = _drawn_at(50.0)
    data["links"] = deepcopy(U_BAR["links"])
    assert look_twice(bar_from_dict(data)) == ()


def test_a_bar_about_the_middle_is_not_asked_about() -> None:
    assert look_twice(bar_from_dict(_drawn_at(0.0))) == ()
    assert not [text for path in demo_bars() for text in look_twice(read_bar(path)) if "mirror image about y" in text]


ARMS = {"width": 1000.0, "length": 250.0, "bend_radius": 48.0}


@pytest.mark.parametrize(
    ("radii", "told"),
    [(48.0, ()), ([48.0, 48.0], ()),
     ([48.0, 84.0], ("[arms] bend_radius 48 and 84 mm of bends that are mirror images: one of them off?",))],
)  # fmt: skip
def test_radii_that_make_a_symmetric_bar_none_are_asked_about(radii: Any, told: tuple[str, ...]) -> None:
    data = {**deepcopy(U_BAR), "arms": {**ARMS, "bend_radius": radii}}
    del data["centreline"]
    assert look_twice(bar_from_dict(data)) == told
