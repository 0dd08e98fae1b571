"""A bend's peak where a mount or a flat lies within its reach: by the bend's field, against the bar as one solid.

The solid has the mount's rubber round its surface and the forged flat's section where they are; the field is that of a
bend between round straights without load. All bars invented. `python -m tests.validation.test_beside_bends` takes all
42 (ten minutes): the fields were from 1.3 % above the solid to 0.6 % below it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
import pytest

from barfem.check.api import check_bar
from barfem.model.bar import Bar
from barfem.model.read import bar_from_dict
from tests.check.bar_files import BUILT
from tests.model.bar_data import changed

Compare = Callable[..., None]
SECTIONS = {
    "solid, R/d 1.1": (20.0, None, 1.1),
    "solid, R/d 1.3": (22.0, None, 1.3),
    "solid, R/d 2": (24.0, None, 2.0),
    "tube t/d 0.075, R/d 2": (28.0, 2.1, 2.0),
    "tube t/d 0.1, R/d 1.6": (28.0, 2.8, 1.6),
    "tube t/d 0.16, R/d 1.8": (28.0, 4.5, 1.8),
    "tube t/d 0.25, R/d 1.5": (26.0, 6.5, 1.5),
}
ARM, HALF, RUBBER = 200.0, 420.0, 40.0


def bar_of(section: str, beside: str, gap: float, stiffness: float) -> Bar:
    """A U-bar; the rubber's edge or the flat's end lies `gap` diameters from a tangent, below zero over it."""
    d, wall, ratio = SECTIONS[section]
    radius = ratio * d
    middle = HALF - radius - gap * d - 0.5 * RUBBER if beside == "a mount" else 250.0
    across = {"radial_stiffness": stiffness, "axial_stiffness": 300.0, "length": RUBBER}
    points = [[-ARM, -HALF, 0.0], [0.0, -HALF, 0.0], [0.0, HALF, 0.0], [-ARM, HALF, 0.0]]
    changes = [
        ("material.bent", "before-hardening"),
        (
            "section",
            {"shape": "round", "diameter": d} if wall is None else {"shape": "tube", "diameter": d, "wall": wall},
        ),
        ("centreline", {"points": points, "bend_radius": radius}),
        ("travel.pickup", 25.0),
        ("mounts", [{"from_middle": at, **across} for at in (-middle, middle)]),
    ]
    if beside == "a flat":
        size = {"thickness": 0.5 * d, "width": 1.5 * d, "length": ARM - radius - gap * d, "transition": d}
        changes.append(("ends.flat", {"kind": "forged", **size, "normal": [0, 0, 1]}))
    return bar_from_dict(changed(*changes, base=BUILT))


def bars() -> Iterator[tuple[str, str, float, float]]:
    for section in SECTIONS:
        for gap, stiffness in ((-0.5, 5000.0), (0.0, 2000.0), (0.0, 20000.0), (0.5, 5000.0)):
            yield section, "a mount", gap, stiffness
            if gap >= 0.0 and stiffness != 2000.0:
                yield section, "a flat", gap, stiffness


def peaks(bar: Bar) -> tuple[np.ndarray, np.ndarray]:
    """Greatest stress of each bend at every hole, by the fields and by the solid, MPa."""
    found = []
    for model in ("beam", "solid"):
        states = check_bar(bar, model=model).states
        bends = [number for number, region in enumerate(states.samples.regions) if region.kind == "bend"]
        found.append(states.recovery.peak_MPa[:, bends])
    return found[0], found[1]


@pytest.mark.parametrize(
    ("section", "beside", "gap", "stiffness"),
    [
        ("solid, R/d 1.1", "a mount", 0.0, 20000.0),
        ("tube t/d 0.25, R/d 1.5", "a mount", -0.5, 5000.0),
        ("tube t/d 0.16, R/d 1.8", "a flat", 0.0, 20000.0),
    ],
)
def test_a_bend_beside_a_mount_or_a_flat(
    compare: Compare, section: str, beside: str, gap: float, stiffness: float
) -> None:
    ours, theirs = peaks(bar_of(section, beside, gap, stiffness))
    compare(
        case=f"{section}, {beside} {gap:g} d from the tangent: peak of each bend, MPa",
        source="the bar as one solid, mounts and flats in it (its own stated error 1 %); computed",
        ours=ours,
        theirs=theirs,
        allowed=0.015,
        why="what the warning of bends beside mounts and flats says",
    )


def main() -> None:
    for each in bars():
        ours, theirs = peaks(bar_of(*each))
        off = 100.0 * (theirs / ours - 1.0)
        print(each, f"solid over field: {off.min():+.2f} to {off.max():+.2f} %", flush=True)


if __name__ == "__main__":
    main()
