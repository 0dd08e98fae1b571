"""A measured history on a demo bar, recounted from states solved one by one: no interpolation, screening, or our count.

The cycles are those of the package rainflow, the sums plain Python.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from barfem.check.points import Points, checked_points, damage_lines_of, stress_at
from barfem.check.solved import Solved, recover_stress
from barfem.model.bar import Bar
from barfem.model.data_paths import geometries_dir
from barfem.model.read import read_bar
from barfem.solve.beam import HoleSetting, solve_bar
from barfem.strength.duty.history import History
from tests.check.duty_bars import history_life
from tests.duty.examples import history_from_arrays
from tests.fatigue.life_by_hand import share
from tests.often import often

Compare = Callable[..., None]

SETTING = HoleSetting(1, 1)
SURVIVAL = 0.9


def demo_bar() -> Bar:
    return read_bar(geometries_dir() / "coupe-rear-cranked.toml")


def soft_and_sound(bar: Bar) -> Bar:
    """Of a steel so soft that a few mm tell, without flaw or peening in its skin: Goodman and one line."""
    steel = replace(
        bar.steel, surface="polished", peening=None, yield_strength_MPa=590.0, tensile_strength_MPa=600.0, sources={}
    )
    return replace(bar, steel=steel)


def waves(roll_mm: float, heave_mm: float, left_mm: float) -> History:
    """Sums of a few sines: roll, heave, and the left wheel alone; 200 samples of 20 ms."""
    time = 0.02 * np.arange(200)
    roll = roll_mm * (np.sin(5.0 * time) + 0.4 * np.sin(17.0 * time + 1.0))
    heave = heave_mm * (np.sin(8.0 * time + 0.5) + 0.3 * np.sin(23.0 * time))
    left = left_mm * np.maximum(np.sin(11.0 * time), 0.0)
    return history_from_arrays(time_s=time, left_mm=heave + roll + left, right_mm=heave - roll)


def directly(bar: Bar, history: History) -> tuple[Solved, Points, np.ndarray]:
    """The bar solved at every sample: stress (samples, places, 3)."""
    moves = np.stack([history.right_mm, history.left_mm], axis=1)
    solved = recover_stress(solve_bar(bar, (SETTING,), more_moves=lambda bar, setting: moves))
    points = checked_points(solved)
    assert solved.further is not None
    return solved, points, stress_at(solved, points, solved.further[0])


def von_mises(tensor: np.ndarray) -> float:
    along, around, shear = (float(value) for value in tensor)
    return math.sqrt(along**2 - along * around + around**2 + 3.0 * shear**2)


def product(a: np.ndarray, b: np.ndarray) -> float:
    """Of the deviators of plane stress, times 3/2, written out."""
    mean_a, mean_b = (float(x[0] + x[1]) / 3.0 for x in (a, b))
    normal = sum((p - mean_a) * (q - mean_b) for p, q in ((a[0], b[0]), (a[1], b[1]), (0.0, 0.0)))
    return 1.5 * (normal + 2.0 * float(a[2] * b[2]))


CASES = {"roll and heave": (14.0, 15.0, 0.0), "left wheel": (0.0, 0.0, 60.0)}


@pytest.mark.parametrize("case", often(CASES, {"left wheel"}))
def test_damage_of_a_short_history(case: str, compare: Compare) -> None:
    library = pytest.importorskip("rainflow", reason="an optional library for tests, in barfem[test]")
    bar, history = soft_and_sound(demo_bar()), waves(*CASES[case])
    found = history_life(bar, history, SETTING, hysteresis_mm=0.0)
    solved, points, stress = directly(bar, history)
    place = np.flatnonzero(solved.samples.station_mm[points.sample] == found.station_mm)
    reference = stress_at(solved, points, solved.resultants[0, 1:2])[0]
    # The point of that station that is stressed most: there the history is counted.
    peaks = np.array([max(von_mises(tensor) for tensor in stress[:, q]) for q in place])
    everywhere = np.zeros(len(points))
    everywhere[place] = peaks
    lines = damage_lines_of(solved, 0, points, peak_MPa=everywhere, amplitude_MPa=everywhere)
    results = []
    for q in place[np.argsort(-peaks)[:4]]:
        tensors = stress[:, q]
        signed = [math.copysign(von_mises(t), product(t, reference[q])) for t in tensors]
        strength = share(SURVIVAL)
        s3, s6 = (float(getattr(lines, name)[q]) for name in ("at_1e3_MPa", "at_1e6_MPa"))
        residual, tensile = float(lines.residual_MPa[q]), float(lines.tensile_MPa[q])
        k = 3.0 / math.log10(s3 / s6)
        total = 0.0
        for _, _, count, i, j in library.extract_cycles(signed):
            amplitude = von_mises(0.5 * (tensors[i] - tensors[j]))
            mean = max(von_mises(0.5 * (tensors[i] + tensors[j])) + residual, 0.0)
            equivalent = amplitude / (1.0 - mean / tensile) / strength
            slope = k if equivalent > s6 else 2.0 * k - 1.0
            total += count * 1e-6 * (equivalent / s6) ** slope
        results.append(total)
    compare(
        case=f"damage of one repeat of a short history, {case}",
        source="rainflow 3.2.0 on stress solved directly at every sample; Goodman, Miner, Haibach in plain Python",
        ours=found.damage_per_repeat,
        theirs=max(results),
        allowed=1e-3,
        why="interpolation between solved travels: 0.004 % of stress, times the slope of the line",
    )


@pytest.mark.parametrize("name", often(["coupe-rear-cranked", "pickup-rear-unequal"], 1))
def test_stress_between_solved_travels(name: str, compare: Compare) -> None:
    from barfem.strength.duty.interpolate import TravelResponse, travel_nodes

    bar = read_bar(geometries_dir() / f"{name}.toml")
    reach = bar.travel.up_mm
    rng = np.random.default_rng(5)
    travel = rng.uniform(-reach, reach, (60, 2))
    # Roll, heave, either wheel alone, and the other corners among them.
    travel[:6] = reach * np.array([[1, -1], [-1, 1], [1, 1], [-1, -1], [1, 0], [0, 1]])
    history = history_from_arrays(time_s=np.arange(60), left_mm=travel[:, 0], right_mm=travel[:, 1])
    found, _, direct = directly(bar, history)
    left, right = travel_nodes(history.left_mm), travel_nodes(history.right_mm)
    grid = np.stack(np.meshgrid(left, right, indexing="ij"), axis=-1).reshape(-1, 2)
    nodes = history_from_arrays(time_s=np.arange(25), left_mm=grid[:, 0], right_mm=grid[:, 1])
    _, points, solved = directly(bar, nodes)
    response = TravelResponse(left, right, solved.reshape(5, 5, len(points), 3))
    off = response.stress(history.left_mm, history.right_mm) - direct
    # A bolt presses one side of its hole or the other: there stress goes with the size of its force, which has a kink.
    regions = [found.samples.regions[number] for number in found.samples.region[points.sample]]
    wall = np.array([region.kind == "hole" for region in regions]) & (found.samples.edge[points.sample] > 0)
    size = np.sqrt(
        direct[..., 0] ** 2 - direct[..., 0] * direct[..., 1] + direct[..., 1] ** 2 + 3 * direct[..., 2] ** 2
    )
    compare(
        case=f"stress at 60 pairs of travel between 25 solved ones, {name}: worst error over the peak range",
        source="the bar solved at each of the 60",
        ours=np.abs(off[:, ~wall]).max() / (2.0 * size.max()),
        theirs=0.0,
        allowed=1e-4,
        absolute=True,
        why="a quartic each way; 0.5 % would be tolerable",
    )
    if wall.any():
        compare(
            case=f"the same at the walls of holes, {name}: worst error over the error that is estimated there",
            source="the bar solved at each of the 60",
            ours=max(np.abs(off[:, wall]).max() / response.error_MPa()[wall].max(), 1.0),
            theirs=1.0,
            allowed=1e-9,
            why="not smooth where a bolt changes sides: up to 4 % of the wall's own range, which the estimate bounds",
        )
    assert response.error_MPa().max() > np.abs(off).max()
    # Mirror bars: heave leaves the bar nearly free, one wheel gives half of roll.
    roll, heave, alone = size[0].max(), size[2].max(), size[4].max()
    if name == "coupe-rear-cranked":
        assert heave < 1e-3 * roll and alone == pytest.approx(0.5 * roll, rel=0.05)
