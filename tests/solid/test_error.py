"""The estimated error against the true one, from a finer mesh."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from barfem.solve.solid.error import estimated_error, greatest_von_mises
from barfem.solve.solid.mesh import Density
from barfem.solve.solid.model import JointLoad, build_solid
from tests.solid.made_up import u_bar

ANGLES = np.radians(np.arange(0.0, 360.0, 5.0))


def test_estimate_is_of_the_true_errors_size() -> None:
    bar = u_bar(radius=36.0, arm=120.0, half=250.0)
    bar = replace(bar, mounts=tuple(_inboard(bar)))
    force = np.array([[0.0, 0.0, 1000.0], [0.0, 300.0, 1000.0]])
    loads = [JointLoad(bar.right.holes[0], -force), JointLoad(bar.left.holes[0], force)]
    peaks = []
    for refinement in (1.0, 1.34):
        model = build_solid(bar, density=Density(refinement=refinement))
        peaks.append(greatest_von_mises(model.surface(model.solve(loads), ANGLES)))
        if refinement == 1.0:
            estimate = estimated_error(model, loads, peaks[0], ANGLES)
    true = np.abs(peaks[0] / peaks[1] - 1.0)
    assert np.all(estimate < 0.01)
    assert np.all(estimate > 0.5 * true)
    assert np.all(true < 0.01)


def test_no_load_no_error() -> None:
    bar = u_bar()
    model = build_solid(bar, density=Density(core=2))
    nothing = [JointLoad(bar.left.holes[0], np.zeros((1, 3)))]
    assert estimated_error(model, nothing, np.zeros(1), ANGLES) == pytest.approx([0.0])


def _inboard(bar):  # type: ignore[no-untyped-def]
    for mount, y in zip(bar.mounts, (-170.0, 170.0), strict=True):
        yield replace(mount, station_mm=bar.middle_mm + y, from_middle_mm=y)
