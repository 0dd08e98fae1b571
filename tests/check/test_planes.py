"""Critical planes of a bar: leaving points out by a bound changes nothing."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from barfem.check import planes
from barfem.check.points import checked_points
from barfem.check.solved import solve_states
from barfem.model.read import bar_from_dict
from tests.check.bar_files import BUILT
from tests.duty.examples import lines as some_lines
from tests.model.bar_data import changed
from tests.often import often

CHANGES = {
    "plain": (),
    "cold bent": (("material.bent", "after-hardening"),),
    "peened": (("material.surface", "shot-peened"),),
    "one-sided, soft ends": (("duty", {"ratio": 0.0}), ("ends.strength_scale", 0.6)),
}


def test_residual_tension_counts_by_its_share_across_the_plane():
    """A tension r in all directions of the skin, as a tensor: n . diag(r, r, 0) . n across a plane tilted out of it."""
    tilt = np.array([90.0, 60.0, 45.0])
    lines = replace(some_lines(3), residual_MPa=np.full(3, 200.0))
    normal = np.stack([np.sin(np.radians(tilt)), 0.0 * tilt, np.cos(np.radians(tilt))])
    across = np.einsum("ip,ij,jp->p", normal, np.diag([200.0, 200.0, 0.0]), normal)
    found = planes._with_tension(np.full(3, 500.0), lines, tilt)
    assert found == pytest.approx(500.0 + planes.FINDLEY_K * across)


@pytest.mark.parametrize("name", often(CHANGES, 1))
def test_the_points_searched_hold_the_worst_of_all(name, monkeypatch):
    solved = solve_states(bar_from_dict(changed(*CHANGES[name], base=BUILT)), cases=("roll",), one_wheel=True)
    points = checked_points(solved)
    searched = []
    whole = planes._may_govern
    monkeypatch.setattr(planes, "_may_govern", lambda *a: searched.append(whole(*a)) or searched[-1])
    found = planes.critical_planes(solved, 1, points)
    monkeypatch.setattr(planes, "_may_govern", lambda stress, lines: np.arange(lines.places))
    assert found == planes.critical_planes(solved, 1, points)
    assert 0 < len(searched[0]) < 0.8 * len(points)
