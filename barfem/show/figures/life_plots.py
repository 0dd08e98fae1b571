"""The pictures of `barfem life`: the cycle on a Haigh diagram with every criterion, and its life on the line used."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure

from barfem.model.errors import InputError
from barfem.model.hardness import brinell_from_tensile
from barfem.show.figures import style
from barfem.show.figures.haigh_chart import CyclePoint, HaighChart, OwnLine, draw_haigh
from barfem.show.figures.picture import Picture
from barfem.show.figures.sn_chart import LifeChart, LifePoint, draw_lives
from barfem.show.numbers import printable, significant
from barfem.strength.fatigue.basquin import BasquinStrength
from barfem.strength.fatigue.factors import strength_share
from barfem.strength.fatigue.hand_estimate import LifeEstimate
from barfem.strength.fatigue.sn_line import BEND_CYCLES, LONGEST_LIFE_CYCLES
from barfem.strength.fatigue.strain_life import BY_HARDNESS, strength_coefficient_of_hardness

__all__ = ["life_pictures"]


def life_pictures(estimate: LifeEstimate) -> tuple[Picture, ...]:
    """Haigh diagram and stress-life diagram of one life by hand."""
    limit = estimate.endurance_limit_MPa
    level = "the endurance limit" if limit is not None else "the strength at 1 000 000 cycles"
    coefficient, estimated = _coefficient(estimate)
    missing = [
        name
        for name, value in (
            ("Goodman, Gerber", estimate.tensile_MPa),
            ("Soderberg and the yield line", estimate.yield_MPa),
            ("Morrow", coefficient),
        )
        if value is None
    ]
    left_out = f" Left out for want of a strength: {', '.join(missing)}." if missing else ""
    return (
        Picture(
            slug="haigh-diagram",
            title="Haigh diagram",
            caption=(
                f"The cycle as stress amplitude and mean. Lines: {level} (median) by every mean-stress rule that has "
                "its constants, and what does the harm of this cycle by the rule asked for."
                + (f" Morrow's coefficient: {BY_HARDNESS}." if estimated else "")
                + left_out
            ),
            alt=f"Amplitude {estimate.inputs.amplitude_MPa:g} MPa at a mean of {estimate.life.mean_used_MPa:g} MPa.",
            draw=lambda size: _haigh(estimate, coefficient, estimated, size),
        ),
        Picture(
            slug="stress-life-diagram",
            title="Stress-life diagram",
            caption=(
                "The line of the strength used, median and survivals; the band holds 98 % of bars. The bar runs from "
                "the life at survival to the median life. An arrow: over 10 000 000 cycles, no more is claimed. Below "
                "1 000 cycles the line is an orientation only."
            ),
            alt=f"Stress-life line; median life {printable(significant(estimate.life.life_cycles, 3))} cycles.",
            draw=lambda size: _lives(estimate, size),
        ),
    )


def _coefficient(estimate: LifeEstimate) -> tuple[float | None, bool]:
    """The fatigue strength coefficient, and whether it is an estimate; None where neither is to be had."""
    if estimate.coefficient_MPa is not None:
        return estimate.coefficient_MPa, False
    if estimate.tensile_MPa is None:
        return None, False
    try:
        return strength_coefficient_of_hardness(float(brinell_from_tensile(estimate.tensile_MPa))), True
    except InputError:
        return None, False


def _haigh(estimate: LifeEstimate, coefficient: float | None, estimated: bool, size: style.Size) -> Figure:
    life, inputs, limit = estimate.life, estimate.inputs, estimate.endurance_limit_MPa
    reversed_ = float(estimate.line.strength_at(BEND_CYCLES)) if limit is None else limit
    own: tuple[OwnLine, ...] = ()
    equivalent, skinned = life.equivalent_amplitude_MPa, estimate.skin is not None
    if equivalent and not skinned:
        own = (OwnLine(lambda mean: chart.line(estimate.rule, equivalent, mean), "as harmful as this cycle"),)
    elif equivalent and life.life_cycles is not None:
        cycles = life.life_cycles
        own = (OwnLine(lambda mean: estimate.amplitude_lasting(cycles, mean), "as harmful as this cycle"),)
    chart = HaighChart(
        reversed_MPa=reversed_,
        level="Endurance limit, median" if limit is not None else "1 000 000 cycles, median",
        judged=estimate.rule.method,
        points=(
            CyclePoint(
                "",
                "this cycle",
                inputs.mean_MPa if skinned else life.mean_used_MPa,
                inputs.amplitude_MPa,
                good=life.life_cycles is not None or life.runout,
            ),
        ),
        tensile_MPa=estimate.tensile_MPa,
        yield_MPa=estimate.yield_MPa,
        coefficient_MPa=coefficient,
        coefficient_estimated=estimated,
        gamma=inputs.walker_gamma,
        own_lines=own,
        judges="asked for",
        judging=(lambda mean: estimate.amplitude_lasting(BEND_CYCLES, mean)) if skinned else None,
        torsion_share=float(np.max(estimate.line.torsion_share)),
    )
    return draw_haigh(chart, size)


def _lives(estimate: LifeEstimate, size: style.Size) -> Figure:
    life, line = estimate.life, estimate.line
    points: tuple[LifePoint, ...] = ()
    if life.equivalent_amplitude_MPa:
        over = LONGEST_LIFE_CYCLES
        if isinstance(line, BasquinStrength) and line.limit_MPa > 0.0:
            over = float(line.life(line.limit_MPa)[0])
        median = over if life.runout else life.life_cycles
        points = (
            LifePoint(
                "",
                "this cycle",
                life.equivalent_amplitude_MPa,
                _drawable(life.life_at_survival_cycles),
                _drawable(median),
                life.runout,
                good=life.life_cycles is not None or life.runout,
            ),
        )
    chart = LifeChart(
        strength_at=line.strength_at,
        share_at=lambda survival: strength_share(survival, estimate.scatter),
        survival=estimate.inputs.survival,
        points=points,
        last_cycles=LONGEST_LIFE_CYCLES,
        judges="asked for",
    )
    return draw_lives(chart, size)


def _drawable(cycles: float | None) -> float | None:
    """Held where an axis can still show it."""
    return None if cycles is None else float(np.clip(cycles, 0.5, 1e15))
