"""Solid against beam on demo bars and on invented ones: rate at rest, and the peak of every bend at every hole."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from barfem.check.api import check_bar
from barfem.model.bar import Bar
from barfem.model.data_paths import demo_bars
from barfem.model.read import bar_from_dict, read_bar
from tests.check.bar_files import BUILT
from tests.model.bar_data import changed

Compare = Callable[..., None]
# A tube in a wall that thins, a cranked bar, and bender's rows: of the others' kinds are invented ones.
DEMOS = {
    path.stem: path
    for path in demo_bars()
    if path.stem in ("pickup-rear-tube", "coupe-rear-cranked", "coupe-front-bends")
}


def u_points(arm: float, half: float) -> list[list[float]]:
    return [[-arm, -half, 0.0], [0.0, -half, 0.0], [0.0, half, 0.0], [-arm, half, 0.0]]


def mirrored(right: list[list[float]]) -> list[list[float]]:
    return [*right, *([x, -y, z] for x, y, z in reversed(right))]


def mounts(y: float, length: float) -> list[dict[str, float]]:
    return [
        {"from_middle": at, "radial_stiffness": 5000.0, "axial_stiffness": 300.0, "length": length} for at in (-y, y)
    ]


FLAT = {"kind": "forged", "thickness": 11.0, "width": 34.0, "length": 75.0, "transition": 20.0, "normal": [0, 0, 1]}
# Not demo bars: what is hard for superposed fields. All invented.
INVENTED: dict[str, list[tuple[str, Any]]] = {
    "cranked twice, eight bends in three dimensions, R/d 1.7": [
        ("section", {"shape": "round", "diameter": 22.0}),
        (
            "centreline",
            {
                "points": mirrored([[-220, -560, -30], [-60, -540, 40], [0, -440, 0], [0, -250, 0], [25, -180, 60]]),
                "bend_radius": 38.0,
            },
        ),
        ("ends.flat", FLAT),
        ("mounts", mounts(345.0, 35.0)),
    ],
    "solid, R/d 1.3": [
        ("section", {"shape": "round", "diameter": 26.0}),
        ("centreline", {"points": u_points(160.0, 420.0), "bend_radius": 33.8}),
        ("mounts", mounts(320.0, 40.0)),
    ],
    "thin tube, R/d 1.5, t/d 0.1, even wall": [
        ("section", {"shape": "tube", "diameter": 30.0, "wall": 3.0, "bend_wall": "uniform"}),
        ("material.bent", "before-hardening"),
        ("centreline", {"points": u_points(200.0, 450.0), "bend_radius": 45.0}),
        ("mounts", mounts(330.0, 40.0)),
    ],
    "joints offset, bends of 15 to 60 degrees, unlike ends": [
        (
            "centreline",
            {
                "points": [
                    [-260, -480, 0],
                    [-40, -470, 60],
                    [0, -380, 0],
                    [0, 380, 0],
                    [-40, 470, 60],
                    [-240, 500, 20],
                ],
                "bend_radius": 45.0,
            },
        ),
        ("ends.holes", [{"name": "1", "from_tip": 20.0, "diameter": 8.0, "offset": [5.0, 22.0, -6.0]}]),
        ("mounts", mounts(300.0, 30.0)),
        ("travel.one_wheel", 20.0),
    ],
}


def bar_of(name: str) -> Bar:
    if name in DEMOS:
        return read_bar(DEMOS[name])
    return bar_from_dict(changed(("name", f"{name} (invented)"), *INVENTED[name], base=BUILT))


LONG = (
    "coupe-front-bends",
    "coupe-rear-cranked",
    "pickup-rear-tube",
    "thin tube, R/d 1.5, t/d 0.1, even wall",
    "cranked twice, eight bends in three dimensions, R/d 1.7",
)


@pytest.mark.parametrize(
    "name", [pytest.param(name, marks=[pytest.mark.long] if name in LONG else []) for name in (*DEMOS, *INVENTED)]
)
def test_solid_against_beam(compare: Compare, name: str) -> None:
    bar = bar_of(name)
    beam, solid = check_bar(bar), check_bar(bar, model="solid")
    compare(
        case=f"{bar.name}: rate at rest, beam over solid, N/mm",
        source="the swept solid; computed",
        ours=[row.rate_initial_N_per_mm for row in beam.settings],
        theirs=[row.rate_initial_N_per_mm for row in solid.settings],
        allowed=0.01,
        why="flats and their transitions are plane sections in the beam",
    )
    assert [bend.near for bend in beam.bends] == len(bar.centreline.bends) * [None]  # no bend is outside the claim
    for index in range(1, len(beam.bends) + 1):
        peaks = [
            [p.von_mises_MPa for row in result.settings for p in row.places if p.kind == "bend" and p.index == index]
            for result in (beam, solid)
        ]
        compare(
            case=f"{bar.name}: peak of bend {index}, MPa",
            source="the swept solid; computed",
            ours=peaks[0],
            theirs=peaks[1],
            allowed=0.03,
            why="what bend fields promise: both meshes, interpolation, and forces turned back with the section",
        )
    compare(
        case=f"{bar.name}: greatest stress anywhere, MPa",
        source="the swept solid; computed",
        ours=[row.peak.von_mises_MPa for row in beam.settings],
        theirs=[row.peak.von_mises_MPa for row in solid.settings],
        allowed=0.03,
        why="the same, or straights under mounts, where both are within 1 % of the closed form",
    )
