"""Numbers that are worked out where they are printed, by hand: what is needed, how far it is off, what they mean."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy.stats import beta

from barfem.check.api import check_bar
from barfem.show import notes
from barfem.show.bench_sheet import _strain_table
from barfem.show.car.tables import stiffness_table
from barfem.show.end_details import worst_for_stress
from barfem.show.figures.data import FigureData
from barfem.show.holes import holes_tables
from barfem.show.inspect import _life, plan_words
from barfem.show.needed import needed_factor
from barfem.show.numbers import printable
from barfem.show.parts import change_cell
from barfem.show.tolerance import _percent
from barfem.strength.fatigue.life import InRepeats
from barfem.study.hole_plan import Rules
from barfem.study.holes import place_holes
from barfem.vendor.sampling import plan_lot
from tests.study.bars import TUBE, demo

SHARE = 0.8648  # of the median strength that nine of ten bars have: a factor of 1.156 without peening


def judged(*settings: tuple[float, float | None, bool], target: float = 2e5, asked: bool = True) -> Any:
    """A result of hole settings with safety factor, life at survival, and whether the median has no end."""
    rows = [
        SimpleNamespace(
            fatigue=SimpleNamespace(safety_factor_at_target=factor, life_at_survival_cycles=life, runout=runout)
        )
        for factor, life, runout in settings
    ]
    return SimpleNamespace(settings=rows, target_cycles=target, target_cycles_judged=asked, survival=0.9)


@pytest.mark.parametrize(
    ("settings", "needed"),
    [
        ([(1.30, 3e5, False), (1.00, 1e5, False)], 1 / SHARE),  # one over the share parts them
        ([(1.108, 3e5, False), (1.00, 1e5, False)], 1.10),  # peened: the setting that lasts has 1.108
        ([(1.108, 2e5, False), (1.30, 3e5, False)], 1.10),  # a life of just the target lasts
        ([(1.108, None, True)], 1.10),  # and one without an end
        ([(1.30, 1e5, False), (1.05, 9e4, False)], 1.31),  # one that breaks at 1.30 needs more, and shows no 1.30
        ([(1.2, 1e5, False)], 1.21),
        ([(1.10, 1e5, False)], 1 / SHARE),
    ],
)
def test_the_factor_that_is_needed_lies_between_what_lasts_and_what_breaks(settings, needed) -> None:
    assert needed_factor(judged(*settings), SHARE) == pytest.approx(needed)
    assert needed_factor(judged(*settings, asked=False), SHARE) == 1 / SHARE


@pytest.mark.parametrize(("ratio", "told"), [(0.98, True), (1.001, True), (1.003, False), (1.04, False), (None, False)])
def test_a_stronger_steel_is_called_no_help_only_where_it_is_none(ratio: float | None, told: bool) -> None:
    """5 % more strength that gives 0.3 % more of safety factor or more is some help."""
    result: Any = SimpleNamespace(
        governing_for_life=SimpleNamespace(holes="2", fatigue=SimpleNamespace(stronger_steel_ratio=ratio))
    )
    assert bool(notes._stronger(result)) is told


@pytest.mark.parametrize(
    ("better", "worse", "told"),
    [
        (2.9e5, 4e4, None), (3.1e5, 4e4, "3 times as long"), (None, 3.4e4, None), (None, 3.2e4, "1/3 as long"),
        (None, None, None),
    ],
)  # fmt: skip
def test_a_surface_decides_where_it_makes_three_times_the_life(monkeypatch, better, worse, told) -> None:
    """100 000 cycles, and with the next better or worse surface."""

    def of(life: float | None) -> Any:
        return None if life is None else SimpleNamespace(life_cycles=life, runout=False, surface="machined")

    fatigue = SimpleNamespace(
        life_cycles=1e5, better_surface=of(better), worse_surface=of(worse), stronger_steel_ratio=None
    )
    result: Any = SimpleNamespace(
        governing_for_stress=SimpleNamespace(compliance=None),
        governing_for_life=SimpleNamespace(holes="2", fatigue=fatigue),
    )
    monkeypatch.setattr(notes, "_stiffest", lambda _: [])
    said = " ".join(notes.lessons(result))
    assert ("Surface decides" in said) is (told is not None) and (told or "") in printable(said)


@pytest.mark.parametrize(
    ("share", "text"),
    [(0.0, "0"), (0.00005, "<0.01"), (0.0002, "0.020"), (0.5, "50"), (0.994, "99"), (0.997, "99.70"), (1.0, "100")],
)
def test_a_chance_is_never_rounded_to_certainty(share: float, text: str) -> None:
    assert printable(_percent(share)) == text


@pytest.mark.parametrize(
    ("value", "reference", "text"),
    [
        (60.0, 50.0, "+20"),
        (40.0, 50.0, "-20"),
        (50.1, 50.0, "0"),
        (25.0, 50.0, "-50"),
        (None, 50.0, "-"),
        (9.0, 0.0, "-"),
    ],
)
def test_a_change_is_a_share_of_what_it_is_held_against(value, reference, text) -> None:
    assert change_cell(value, reference) == text


def test_a_received_bars_life_is_that_at_survival_where_there_is_one() -> None:
    """The median bar has no end, nine of ten last 2 000 000 cycles: that is its number."""
    bar: Any = SimpleNamespace(as_received=SimpleNamespace(life_at_survival_cycles=2e6, runout=True))
    assert printable(_life(bar).text) == "2 000 000" and _life(bar).value == 2e6
    endless: Any = SimpleNamespace(as_received=SimpleNamespace(life_at_survival_cycles=None, runout=True))
    assert printable(_life(endless).text) == "over 10 000 000"


def test_what_may_lie_beyond_two_limits_together_is_told_in_per_cent() -> None:
    """Of a normal lot whose limit is k deviations of n bars off: Lieberman and Resnikoff's estimate of the tail beyond,
    a beta distribution (J. Am. Stat. Assoc. 50 (1955) 457, from memory), in per cent to a decimal.
    """
    plan = plan_lot("variables", lot=10_000, accept=0.01, reject=0.04)
    (rule, _) = plan_words(plan)
    told = float(rule.partition("an estimated ")[2].partition(" %")[0])
    half = 0.5 * plan.n - 1.0
    tail = beta.cdf(0.5 - 0.5 * plan.k * np.sqrt(plan.n) / (plan.n - 1.0), half, half)
    assert told == pytest.approx(100.0 * tail, abs=0.05) and told > 1.0


def test_strains_of_half_the_stroke_are_those_of_50_per_cent() -> None:
    gauge: Any = SimpleNamespace(where="straight 2, top", station_mm=500.0, from_middle_mm=-120.4)
    rows: Any = (SimpleNamespace(hole="1", rig="roll", strains=((0.5, 400.4, 10.0, -10.0), (1.0, 801.0, 20.0, -20.0))),)
    made = _strain_table(gauge, rows)
    assert [row[:6] for row in made.rows] == [
        ("1", "roll", "50 %", "400", "10", "-10"), ("1", "roll", "100 %", "801", "20", "-20"),
    ]  # fmt: skip
    assert "-120 from the middle" in made.title


def test_a_bars_share_of_an_axles_roll_stiffness() -> None:
    """300 of 300 + 500 N m/deg."""
    axle = SimpleNamespace(
        wheel_rate_spring_N_per_mm=20.0, ride_rate_N_per_mm=18.0, bar_roll_rate_at_wheel_N_per_mm=10.0,
        springs_Nm_per_deg=500.0, bar_Nm_per_deg=300.0, suspension_Nm_per_deg=800.0, with_tyres_Nm_per_deg=700.0,
    )  # fmt: skip
    made = stiffness_table(SimpleNamespace(stiffness=(axle, axle)))  # type: ignore[arg-type]
    assert made.rows[0][-1].text == "38"


def test_the_steps_of_a_plan_of_holes_are_from_hole_to_hole() -> None:
    """50, 61.24 and 75 N/mm: 22.5 per cent of the softer one each time."""
    plan = place_holes(
        demo(TUBE), softest_N_per_mm=50.0, stiffest_N_per_mm=75.0, count=3, rules=Rules(round_mm=0.0)
    )  # fmt: skip
    (made,) = holes_tables(plan)
    steps = [
        cell.value for row in made.rows for head, cell in zip(made.columns, row, strict=True) if "Step" in head.heading
    ]
    assert steps[1:] == pytest.approx([22.47, 22.47], abs=0.05)


@pytest.mark.parametrize(
    ("factor", "margin", "by_life"),
    [
        (1.3, 0.5, True),  # life leaves 1.3 x 0.865 = 1.12 of its target, yield 1.5 / 1.25 = 1.2
        (1.45, 0.5, False),  # 1.25 against 1.2
        (1.2, 0.2, False),  # 1.04 against 0.96
        (None, 0.5, False),
    ],
)
def test_life_governs_where_it_is_nearer_to_its_target_than_yield(factor, margin, by_life) -> None:
    result = SimpleNamespace(
        target_cycles_judged=True, yield_margin_target=0.25,
        governing_for_life=SimpleNamespace(fatigue=SimpleNamespace(safety_factor_at_target=factor)),
        governing_for_stress=SimpleNamespace(yield_margin=margin),
    )  # fmt: skip
    data: Any = SimpleNamespace(result=result, strength_share=SHARE)
    assert FigureData.governs_by_life.fget(data) is by_life  # type: ignore[attr-defined]


@pytest.mark.parametrize(("life", "runout", "reaches"), [(2e5, False, True), (1.9e5, True, False), (None, True, True)])
def test_a_hole_setting_reaches_its_target_by_the_weaker_bars_life(life, runout, reaches) -> None:
    result = judged((1.1, life, runout))
    data: Any = SimpleNamespace(result=result, bar=SimpleNamespace(duty=SimpleNamespace(target_cycles_given=True)))
    assert FigureData.reaches_target(data, 0) is reaches


def test_the_worst_places_for_stress_begin_with_the_least_margin() -> None:
    result = check_bar(TUBE)
    made = worst_for_stress(result)
    assert made is not None
    margins = [
        cell.value
        for row in made.rows
        for head, cell in zip(made.columns, row, strict=True)
        if "margin" in head.heading
    ]
    assert margins[0] == pytest.approx(result.governing_for_stress.yield_margin) and margins[0] == min(margins)


def test_a_duty_without_an_end_has_no_median_in_repeats() -> None:
    record = InRepeats()
    record.life_repeats, record.life_at_survival_repeats, record.runout, record.reason = 9e9, 2e5, True, "none"
    assert record.life.median is None and record.life.at_survival == 2e5 and record.life.unit == "repeats"
    assert not record.life.runout_at_survival and np.isfinite(record.life.order)
