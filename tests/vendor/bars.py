"""Bars in space for the maker's tests: a plain U, and random ones from rows."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import numpy as np
from hypothesis import reject
from hypothesis import strategies as st

from barfem.model.bar import Bar
from barfem.model.errors import InputError
from barfem.model.read import bar_from_dict
from tests.model.bar_data import FLAT, TUBE, U_BAR, changed

# reference: 3-D polyline of the project's list of published values, reproduced there to four decimals
LRA_POINTS = [[0, 0, 0], [250, 0, 0], [300, 200, 50], [300, 800, 50], [250, 1000, 0], [0, 1000, 0]]
LRA_ROWS = [
    (210.6772, 0.0, 76.3670),
    (164.2306, -46.6861, 19.4712),
    (582.8427, 0.0, 19.4712),
    (164.2306, 46.6861, 76.3670),
]


def lra_bar(**more: Any) -> Bar:
    """The published example as a bar, moved so that its tips are right and left."""
    tables = deepcopy(U_BAR)
    tables["centreline"] = {"points": LRA_POINTS, "bend_radius": 50.0}
    tables["mounts"][0]["from_middle"], tables["mounts"][1]["from_middle"] = -250.0, 250.0
    return bar_from_dict({**tables, **more})


def flat_bar(**more: Any) -> Bar:
    """The plain U with forged flats of 95 mm."""
    tables = deepcopy(U_BAR)
    tables["ends"]["flat"] = FLAT
    return bar_from_dict({**tables, **more})


@st.composite
def bars_in_space(draw: Any) -> Bar:
    """Bars of one to five bends of any rotation and radius, laid out along a turned axis, with flats clocked anyhow."""
    floats = lambda low, high: draw(st.floats(low, high, allow_nan=False))  # noqa: E731
    count = draw(st.integers(1, 5))
    rows = [
        [floats(100.0, 200.0), 0.0 if i == 0 else floats(-180.0, 180.0), floats(6.0, 40.0), floats(40.0, 90.0)]
        for i in range(count)
    ]
    towards = np.array([floats(-1.0, 1.0), 0.0, 1.0])
    tables = deepcopy(U_BAR)
    del tables["centreline"]
    tables["bends"] = {
        "start_tip": "right",
        "start": [floats(-100.0, 100.0), -500.0, floats(-50.0, 50.0)],
        "direction": [0.1, 1.0, 0.05],
        "first_bend_towards": list(towards),
        "rows": [*rows, [floats(100.0, 200.0)]],
    }
    tables["mounts"][0]["from_middle"], tables["mounts"][1]["from_middle"] = -30.0, 30.0
    try:
        return bar_from_dict(tables)
    except InputError as error:
        if "left is positive" not in error.problem:
            raise
        reject()  # five bends of one sense lead back past the tip where the rows start


def handed_bar(**drawing: object) -> Bar:
    """A tube with unlike arms and a twist between its bends: neither hand nor end can be taken for the other."""
    tables = changed(*TUBE, base=U_BAR)
    del tables["centreline"]
    tables["bends"] = {
        "start_tip": "right",
        "start": [-250.0, -500.0, 0.0],
        "direction": [1.0, 0.0, 0.0],
        "first_bend_towards": [0.0, 1.0, 0.0],
        "rows": [[202.0, 0, 90, 48], [904.0, 25.0, 80, 48], [240.0]],
    }
    tables["material"] |= {"yield_strength": 1300.0, "tensile_strength": 1460.0}
    tables["ends"]["right"] = {"flat": {**FLAT, "normal": [0, 0, 1]}}
    tables["ends"]["left"] = {"flat": {**FLAT, "normal": [0.3, 0.2, 1.0]}}
    tables["drawing"] = {"number": "T-1", "revision": "B", "profile_tolerance": 3.0, "tip_mismatch": 2.0, **drawing}
    tables["drawing"]["hardness"] = "43-48 HRC"
    return bar_from_dict(_across(tables))


def _across(tables: dict) -> dict:
    """Flat normals that lie across their ends."""
    plain = {**tables, "ends": {k: v for k, v in tables["ends"].items() if k not in ("right", "left")}}
    line = bar_from_dict(plain).centreline
    for side, at in (("right", 0.0), ("left", line.length_mm)):
        u = line.evaluate(at)[1][0, 0]
        n = np.array(tables["ends"][side]["flat"]["normal"], float)
        n = n - (n @ u) * u
        tables["ends"][side]["flat"]["normal"] = (n / np.linalg.norm(n)).tolist()
    return tables
