"""The estimated error against the true one, from a finer mesh."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from barfem.solve.solid.error import coarser, richardson_error
from barfem.solve.solid.mesh import Density
from barfem.solve.solid.model import JointLoad, SolidModel, build_solid
from tests.solid.made_up import u_bar, von_mises

ANGLES = np.radians(np.arange(0.0, 360.0, 5.0))


@pytest.mark.long
def test_estimate_is_of_the_true_errors_size() -> None:
    bar = u_bar(radius=36.0, arm=120.0, half=250.0)
    bar = replace(bar, mounts=tuple(_inboard(bar)))
    force = np.array([[0.0, 0.0, 1000.0], [0.0, 300.0, 1000.0]])
    loads = [JointLoad(bar.right.holes[0], -force), JointLoad(bar.left.holes[0], force)]
    peaks = []
    for refinement in (1.0, 1.34):
        model = build_solid(bar, density=Density(refinement=refinement))
        peaks.append(greatest(model, loads))
        if refinement == 1.0:
            companion = coarser(model)
            estimate = richardson_error(peaks[0], greatest(companion, loads))
    true = np.abs(peaks[0] / peaks[1] - 1.0)
    assert np.all(estimate < 0.01)
    assert np.all(estimate > 0.5 * true)
    assert np.all(true < 0.01)


def test_richardson_finds_a_quadratic_error() -> None:
    """Values 3 + 0.1 h^2 at h = 1 and 1.5: 0.1 is left of 3.1; nothing of nothing."""
    found = richardson_error(np.array([3.1, 0.0]), np.array([3.0 + 0.1 * 1.5**2, 0.0]))
    assert found == pytest.approx([0.1 / 3.1, 0.0])


def test_the_companion_is_the_same_bar() -> None:
    """Its walls, ovality and all, of fewer cells."""
    bar = u_bar(wall=4.0)
    bar = replace(bar, section=replace(bar.section, ovality_percent=6.0))
    model = build_solid(bar, density=Density(around=12, layers=1))
    companion = coarser(model)
    assert companion.mesh.n_unknowns < 0.7 * model.mesh.n_unknowns
    for one in (model, companion):
        bend = bar.centreline.bends[0]
        plane = int(np.abs(one.mesh.stations - 0.5 * (bend.start_station_mm + bend.end_station_mm)).argmin())
        radius = np.linalg.norm(one.mesh.across[plane, one.mesh.grid.outer], axis=1)
        assert np.ptp(radius) == pytest.approx(0.06 * 12.0, rel=0.01)


def greatest(model: SolidModel, loads: list[JointLoad]) -> np.ndarray:
    """Greatest von Mises stress outside, (n_cases,)."""
    stress = model.surface(model.solve(loads), ANGLES).values
    return von_mises(np.moveaxis(stress, 2, -1)).max(axis=(0, 1))


def _inboard(bar):  # type: ignore[no-untyped-def]
    for mount, y in zip(bar.mounts, (-170.0, 170.0), strict=True):
        yield replace(mount, station_mm=bar.middle_mm + y, from_middle_mm=y)
