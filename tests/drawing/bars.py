"""Bars of our own for the drawing's tests (invented), each awkward in its own way."""

from __future__ import annotations

from barfem.model.bar import Bar
from barfem.model.data_paths import demo_bars
from barfem.model.read import bar_from_dict, read_bar
from tests.model.bar_data import FLAT, TUBE, changed

__all__ = ["drawn_in_inches", "every_bar", "forward_tube", "small_kart", "unequal_in_space", "wide_with_drops"]


def forward_tube() -> Bar:
    """Tips ahead of the mounts, a drilled tube without flats, third angle, the longest words in every field."""
    return bar_from_dict(
        changed(
            *TUBE,
            ("name", "forward tube of an invented car whose name is long enough to need both lines of its box"),
            ("centreline.points", [[230, -430, 25], [0, -430, 0], [0, 430, 0], [230, 430, 25]]),
            ("mounts.0.from_middle", -300.0),
            ("mounts.1.from_middle", 300.0),
            ("ends.holes", [{"name": "1", "from_tip": 16.0, "diameter": 8.0}]),
            (
                "drawing",
                {
                    "company": "Invented Suspension Parts of a Very Long Name and Sons Limited",
                    "drawn_by": "somebody with a long name",
                    "approved_by": "somebody else",
                    "date": "2026-11-28",
                    "number": "FT-0001-LONG-NUMBER",
                    "projection": "third",
                    "general_tolerance": "ISO 13920 B",
                    "profile_tolerance": 4.5,
                    "tip_mismatch": 2.5,
                    "hardness": "43-48 HRC",
                    "coating": "zinc phosphate and epoxy powder, 60 to 90 micrometres, black; no runs at the holes",
                    "marking": "FT-0001 and batch, 4 mm letters",
                    "mark_at": "right",
                    "notes": ["100 % magnetic crack test of the bends, ± nothing left out."] * 4,
                },
            ),
        )
    )


def unequal_in_space() -> Bar:
    """Bends in space; a clocked flat with five close holes at the right, a round drilled end at the left."""
    five = [{"name": f"{i} of five", "from_tip": 14.0 + 16.0 * i, "diameter": 8.2} for i in range(5)]
    flat = {**FLAT, "normal": [0.0, 0.5, 0.866], "width": 30.0, "transition": 0.0}
    return bar_from_dict(
        changed(
            (
                "centreline.points",
                [[-260, -480, 40], [0, -480, 0], [60, -200, 80], [60, 150, 80], [0, 480, 0], [-210, 500, -30]],
            ),
            ("centreline.bend_radius", 50.0),
            ("mounts.0.from_middle", -120.0),
            ("mounts.1.from_middle", 120.0),
            ("ends", {"right": {"flat": flat, "holes": five}, "left": {"holes": five[1:4]}}),
        )
    )


def wide_with_drops() -> Bar:
    """A wide bar for a truck: thick, arms that only drop, so that the plan shows a line and the front a gate."""
    return bar_from_dict(
        changed(
            ("section.diameter", 48.0),
            ("centreline.points", [[0, -850, -420], [0, -850, 0], [0, 850, 0], [0, 850, -420]]),
            ("centreline.bend_radius", 120.0),
            ("mounts.0.from_middle", -500.0),
            ("mounts.1.from_middle", 500.0),
            (
                "ends.flat",
                {
                    **FLAT,
                    "normal": [0, 1, 0],
                    "thickness": 24.0,
                    "width": 70.0,
                    "length": 150.0,
                    "outline": "straight",
                    "fillet": 12.0,
                },
            ),
            ("ends.holes", [{"name": "soft", "from_tip": 30.0, "diameter": 18.5}]),
            ("links.direction", [1, 0, 0]),
            ("travel.direction", [1, 0, 0]),
        )
    )


def small_kart() -> Bar:
    """A thin rod for a kart, 360 mm wide, whose tips lie 180 mm from its middle."""
    mount = {"radial_stiffness": 3000.0, "axial_stiffness": 200.0, "length": 12.0}
    flat = {"kind": "forged", "thickness": 5.0, "width": 12.0, "length": 38.0, "transition": 8.0, "normal": [0, 1, 0]}
    holes = [{"name": "a", "from_tip": 8.0, "diameter": 5.0}, {"name": "b", "from_tip": 20.0, "diameter": 5.0}]
    return bar_from_dict(
        {
            **{key: value for key, value in changed().items() if key != "centreline"},
            "arms": {"width": 360.0, "length": 90.0, "bend_radius": 20.0},
            "section": {"shape": "round", "diameter": 8.0},
            "ends": {"holes": holes, "flat": flat},
            "mounts": [{"from_middle": -120.0, **mount}, {"from_middle": 120.0, **mount}],
            "links": {"length": 60.0, "direction": [0, 0, -1]},
            "travel": {"pickup": 6.0},
        }
    )


def drawn_in_inches() -> Bar:
    """Splayed arms with four holes, every length in inches."""
    mount = {"radial_stiffness": "30000 lbf/in", "axial_stiffness": "1000 lbf/in", "length": "1.5 in"}
    holes = [{"name": f"{i}", "from_tip": f"{i + 0.75} in", "diameter": "0.5 in"} for i in range(4)]
    flat = {"kind": "forged", "thickness": "0.5 in", "width": "1.5 in", "length": "5.5 in", "transition": "1 in"}
    return bar_from_dict(
        {
            **{key: value for key, value in changed().items() if key != "centreline"},
            "arms": {"width": "40.5 in", "length": "11 in", "splay": 20.0, "rise": "1.5 in", "bend_radius": "2.5 in"},
            "section": {"shape": "round", "diameter": "1.0 in"},
            "ends": {"holes": holes, "flat": {**flat, "normal": [0.34, 0.94, 0]}},
            "mounts": [{"y": "-13 in", **mount}, {"y": "13 in", **mount}],
            "drawing": {"projection": "third"},
        }
    )


def every_bar() -> dict[str, Bar]:
    """The demo bars by their files' names, and those of ours."""
    ours = (forward_tube, unequal_in_space, wide_with_drops, small_kart, drawn_in_inches)
    return {path.stem: read_bar(path) for path in demo_bars()} | {each.__name__: each() for each in ours}
