"""Solid against beam on every demo bar: rate at rest, and the peak of every bend at every hole setting."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from barfem.check.api import check_bar
from barfem.model.read import read_bar
from tests.solid.made_up import u_bar

Compare = Callable[..., None]
DEMOS = sorted((Path(__file__).parents[2] / "geometries").glob("*.toml"))


@pytest.mark.parametrize("path", [*DEMOS, None], ids=lambda path: path.stem if path else "made-up")
def test_solid_against_beam(compare: Compare, path: Path | None) -> None:
    bar = u_bar(diameter=22.0, radius=48.0) if path is None else read_bar(path)
    beam, solid = check_bar(bar, case="roll"), check_bar(bar, case="roll", model="solid")
    compare(
        case=f"{bar.name}: rate at rest, solid over beam, N/mm",
        source="the swept solid; computed",
        ours=[row.rate_initial_N_per_mm for row in beam.settings],
        theirs=[row.rate_initial_N_per_mm for row in solid.settings],
        allowed=0.01,
        why="flats and their transitions are plane sections in the beam",
    )
    outside = {bend.index for bend in beam.bends if not bend.superposes}
    for index in range(1, len(beam.bends) + 1):
        peaks = [
            [p.von_mises_MPa for row in result.settings for p in row.places if p.kind == "bend" and p.index == index]
            for result in (beam, solid)
        ]
        if index in outside:
            continue
        compare(
            case=f"{bar.name}: peak of bend {index}, MPa",
            source="the swept solid; computed",
            ours=peaks[0],
            theirs=peaks[1],
            allowed=0.03,
            why="what bend fields promise: both meshes, interpolation, and forces turned back with the section",
        )
