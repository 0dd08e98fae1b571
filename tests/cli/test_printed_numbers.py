"""Every number of the printed tables is the one that its heading says, with its unit: read back from the tables."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import barfem
from barfem.check.api import check_bar
from barfem.check.result import CheckResult, SettingResult
from barfem.show.details import governing, tables
from barfem.show.report.html_table import prose
from barfem.show.table import settings_table
from barfem.study.change import change

ROOT = Path(__file__).parents[2]
BLOCKS = [{"pickup": 50.0, "cycles": 10.0}, {"pickup": 40.0, "cycles": 1000.0, "ratio": 0.0}]

Read = Callable[[SettingResult], Any]


def at(state: str) -> Read:
    def forces(setting: SettingResult) -> tuple[float, float]:
        found = next(each for each in setting.states if each.at == state)
        return found.link_force_left_N, found.link_force_right_N

    return forces


def life(place: Any) -> Any:
    """At survival and median; one of them beyond the knee is not stated as a number."""
    return (place.life_at_survival_cycles, place.life_cycles)


# Per hole setting, a row each: heading, unit included, and what it must be.
EACH: dict[str, dict[str, Read]] = {
    "Hole settings, roll": {
        "Rate N/mm": lambda s: s.rate_N_per_mm,
        "Next hole %": lambda s: s.step_to_next_percent,
        "Link force N": lambda s: max(abs(s.link_force_left_N), abs(s.link_force_right_N)),
        "Peak stress MPa": lambda s: s.peak.von_mises_MPa,
        "Yield margin": lambda s: s.yield_margin,
        "Safety factor": lambda s: s.fatigue.safety_factor_at_target,
        "Life, cycles 90 % survival to median": lambda s: life(s.fatigue),
        "Life, repeats 90 % survival to median": lambda s: (
            s.fatigue.duty.life_at_survival_repeats, s.fatigue.duty.life_repeats,
        ),
    },
    "Where each hole setting is worst": {
        "Where the peak stress is": lambda s: s.peak.where,
        "Stress ampl. MPa": lambda s: s.fatigue.amplitude_MPa,
        "Mean MPa": lambda s: s.fatigue.mean_MPa,
    },
    "The ends of the bar": {
        "Weakest place of the ends": lambda s: s.end.for_life.where,
        "Yield margin": lambda s: s.end.for_stress.yield_margin,
        "Safety factor": lambda s: s.end.for_life.safety_factor_at_target,
    },
    "Life at several survivals, cycles of full travel": {
        "50 % survival": lambda s: s.fatigue.lives[0].life,
        "90 % survival": lambda s: s.fatigue.lives[1].life,
        "99 % survival": lambda s: s.fatigue.lives[2].life,
    },
    "The bar at full travel": {
        "Roll rate N m/deg": lambda s: s.roll_rate_Nm_per_deg,
        "Twist deg": lambda s: s.twist_deg,
        "Torque N m": lambda s: s.torque_Nm,
        "Energy J": lambda s: s.strain_energy_J,
    },
    "How far arms, links and joints turn from rest, deg": {
        "Arm left": lambda s: s.arm_rotation_left_deg,
        "Arm right": lambda s: s.arm_rotation_right_deg,
        "Link left": lambda s: s.link_lean_left_deg,
        "Link right": lambda s: s.link_lean_right_deg,
        "Joint left": lambda s: s.joint_angle_left_deg,
        "Joint right": lambda s: s.joint_angle_right_deg,
    },
    "Whose share of the tip deflection, %": {
        "Torsion": lambda s: 100 * s.compliance.torsion,
        "Arm bending": lambda s: 100 * s.compliance.arm_bending,
        "Centre bending": lambda s: 100 * s.compliance.centre_bending,
        "Shear, axial": lambda s: 100 * s.compliance.shear_and_axial,
        "Mounts": lambda s: 100 * s.compliance.mounts,
        "Links": lambda s: 100 * s.compliance.links,
    },
    "Link forces left / right, N (+ tension, - compression)": {
        "At rest": at("rest"),
        "At full travel": at("travel"),
        "Other end of cycle": at("other end"),
    },
}  # fmt: skip

# Tables of one hole setting: the records of their rows, and each column.
OF_ONE: dict[str, tuple[Callable[[CheckResult], Any], dict[str, Callable[[Any], Any]]]] = {
    "by yield margin": (
        lambda r: r.governing_for_stress.next_for_stress,
        {
            "Von Mises MPa": lambda p: p.von_mises_MPa,
            "Yield MPa": lambda p: p.yield_strength_MPa,
            "Yield margin": lambda p: p.yield_margin,
            "Station mm": lambda p: p.station_mm,
        },
    ),
    "by life": (
        lambda r: r.governing_for_life.next_for_life,
        {
            "Ampl. MPa": lambda p: p.amplitude_MPa,
            "Safety factor": lambda p: p.safety_factor_at_target,
            "Life, cycles": life,
            "Station mm": lambda p: p.station_mm,
        },
    ),
    "Holes at hole": (
        lambda r: min(r.settings, key=lambda s: s.end.for_life.safety_factor_at_target).end.holes,
        {
            "Net MPa": lambda h: h.von_mises_MPa,
            "Yield margin": lambda h: h.yield_margin,
            "Ampl. MPa": lambda h: h.amplitude_MPa,
            "Safety factor": lambda h: h.safety_factor_at_target,
            "Bolt MPa": lambda h: h.bearing_MPa,
            "Edge, diam.": lambda h: h.edge_distance,
        },
    ),
    "The duty's blocks": (
        lambda r: min(r.settings, key=lambda s: s.fatigue.duty.life_at_survival_repeats or 1e300).fatigue.duty.blocks,
        {
            "Travel mm": lambda b: b.pickup_mm,
            "Ratio": lambda b: b.ratio,
            "Cycles": lambda b: b.cycles,
            "Ampl. MPa": lambda b: b.amplitude_MPa,
            "Mean MPa": lambda b: b.mean_MPa,
            "Damage of one repeat": lambda b: b.damage,
        },
    ),
}


@pytest.fixture(scope="module")
def result() -> CheckResult:
    """A bar whose sides differ in every number, with preload and a duty in blocks beside full travel."""
    bar = barfem.read_bar(ROOT / "geometries" / "pickup-rear-unequal.toml")
    return check_bar(barfem.change(bar, {"duty.blocks": BLOCKS}))


@pytest.fixture(scope="module")
def printed(result) -> dict[str, dict[str, list[str]]]:
    """Cells by title and heading."""
    made = {}
    for table in (settings_table(result, "roll"), *tables(result)):
        columns = [[prose(row[i].text).replace("\u00a0", " ") for row in table.rows] for i in table.drawn]
        heads = [table.columns[i].line for i in table.drawn]
        made[prose(table.title).replace("\u00a0", " ")] = dict(zip(heads, columns, strict=True))
    return made


def agrees(cell: str, wanted: Any) -> bool:
    """Whether a cell shows this number, pair of numbers or text, to the figures that it has."""
    if isinstance(wanted, str):
        return cell == wanted
    # ">10 000 000": past the knee, no number of the result's.
    shown = re.findall(r"[-+]?\d+(?: \d{3})*(?:\.\d+)?", re.sub(r">\d+(?: \d{3})*", "", cell))
    values = [value for value in (wanted if isinstance(wanted, tuple) else (wanted,)) if value is not None]
    if not values:
        return cell in ("-", "no end") or re.fullmatch(r"over \d+(?: \d{3})*", cell) is not None
    if len(shown) != len(values):
        return False
    for text, value in zip(shown, values, strict=True):
        decimals = len(text.partition(".")[2])
        # Lives have two figures, rounded down; a damage has two; the rest three or all of its whole numbers.
        slack = 0.1 if isinstance(wanted, tuple) and decimals <= 1 and value > 0 and value > 10 * decimals else 0.006
        if abs(float(text.replace(" ", "")) - value) > max(0.51 * 10.0**-decimals, slack * abs(value)):
            return False
    return True


def table_of(printed: dict[str, dict[str, list[str]]], title: str) -> dict[str, list[str]]:
    (found,) = [cells for name, cells in printed.items() if name.startswith(title) or name.endswith(title)]
    return found


@pytest.mark.parametrize("title", EACH)
def test_a_row_each_hole_setting(result, printed, title):
    cells = next(table for name, table in printed.items() if name.startswith(title))
    for heading, read in EACH[title].items():
        wanted = [read(setting) for setting in result.settings]
        slack = "survival" in heading or "Life" in heading
        for cell, value in zip(cells[heading], wanted, strict=True):
            assert agrees(cell, (value,) if slack and not isinstance(value, tuple) else value), (heading, cell, value)


@pytest.mark.parametrize("title", OF_ONE)
def test_rows_of_one_hole_setting(result, printed, title):
    cells = table_of(printed, title) if title.startswith("by") else next(
        table for name, table in printed.items() if name.startswith(title)
    )  # fmt: skip
    records, columns = OF_ONE[title]
    rows = list(records(result))
    assert rows
    for heading, read in columns.items():
        # The governing place stands above the next ones.
        for cell, record in zip(cells[heading][-len(rows) :], rows, strict=True):
            assert agrees(cell, read(record)), (heading, cell, read(record))


def test_mounts_must_hold_the_worst(result, printed):
    cells = next(table for name, table in printed.items() if name.startswith("Mount reactions"))
    for row, place in enumerate(cells["Mount, mm from middle"]):
        own = [r for s in result.settings for r in s.mount_reactions if agrees(place, r.from_middle_mm)]
        assert len(own) == len(result.settings)
        for heading, name in (("Radial N", "radial_N"), ("Axial N", "axial_N"), ("Moment N m", "moment_Nm")):
            assert agrees(cells[heading][row], max(getattr(r, name) for r in own)), heading


def test_a_life_that_the_bore_decides_is_said_to_be_the_bores():
    """A peened tube breaks from its bore, which peening does not reach: "this surface (unpeened)" misleads."""
    bar = change(
        barfem.read_bar(ROOT / "geometries" / "pickup-rear-tube.toml"),
        {"material.peening": "shot", "travel.wheel": 60.0},
    )
    result = check_bar(bar)
    assert result.governing_for_life.fatigue.surface == "bore"
    words = " ".join(governing(result))
    assert "Life with this bore (" in words and "With another bore" in words and "surface (" not in words
