"""Numbers that are each below 10 m make no bar longer than a car: the one that does is named."""

from __future__ import annotations

import pytest

from barfem.model.errors import InputError
from barfem.model.read import bar_from_dict
from tests.model.bar_data import changed
from tests.model.test_refusals import arms, bends

CRANK = {"x": 0, "z": 3000, "inner": 100, "outer": 300}


# Two arms of 4000 mm and 1000 across, less 2 x 21 in the bends, are 8959.
@pytest.mark.parametrize(
    ("changes", "where", "problem"),
    [
        (arms(rise=5000), "[arms] rise", "rise = 5000 mm makes a bar 10"),
        (arms(length=-4000), "[arms] length", "length = -4000 mm makes a bar 8959 mm long along its centreline"),
        (arms(crank=CRANK), "[arms] crank", "z = 3000 mm makes"),
        ((("centreline.points.0.0", -5600),), "[centreline] points", "a straight of 5552 mm makes"),
        (bends(rows=[[202, 0, 90, 48], [9040, 0, 90, 48], [202]]), "[bends] rows", "a straight of 9040 mm makes"),
        (bends(rows=[[202, 0, 90, 4800], [904, 0, 90, 48], [202]]), "[bends] rows", "bend 1 of 7540 mm makes"),
    ],
)  # fmt: skip
def test_a_bar_longer_than_a_car_is_refused(changes, where: str, problem: str) -> None:
    with pytest.raises(InputError) as caught:
        bar_from_dict(changed(*changes), source="front.toml")
    told = str(caught.value)
    assert told.startswith(f"front.toml: {where}: {problem}")
    assert "Right would be: at most 6000 mm" in told
