"""Factors of contacts and ends, as slips of the pen leave them: asked about in "Look twice"."""

from __future__ import annotations

from typing import Any

import pytest

from barfem.check.api import look_twice
from barfem.model.read import bar_from_dict
from tests.model.test_dimensions import U_BAR


@pytest.mark.parametrize(
    ("change", "odd"),
    [
        ({"collars": [{"from_middle": 326.0, "length": 8.0, "kind": "pressed", "factor": 13.0}]},
         ("a [[collars]] factor of 13, where 1 to 4 is found: per cent written as a factor, or a slipped point?",)),
        ({"collars": [{"from_middle": 326.0, "length": 8.0, "kind": "pressed", "factor": 4.0}]}, ()),
        ({"mounts": [{**mount, "contact_factor": 130.0} for mount in U_BAR["mounts"]]},
         ("a [[mounts]] contact_factor of 130, where 1 to 4 is found: per cent",)),
        ({"ends": {**U_BAR["ends"], "strength_scale": 1.25}},
         ("strength_scale 1.25 makes the ends harder than the middle: the middle's strength over the end's",)),
        ({"ends": {**U_BAR["ends"], "strength_scale": 1.05}}, ()),
    ],
)  # fmt: skip
def test_factors_that_no_contact_and_no_end_has_are_asked_about(change: dict[str, Any], odd: tuple[str, ...]) -> None:
    told = look_twice(bar_from_dict({**U_BAR, **change}))
    assert len(told) == len(odd) and all(begin in text for text, begin in zip(told, odd, strict=True))
