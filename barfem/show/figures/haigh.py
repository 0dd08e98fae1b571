"""Haigh diagram of a check: every hole setting's cycle, and every mean-stress rule at the place that decides life."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from matplotlib.figure import Figure
from numpy.typing import NDArray

from barfem.model.errors import InputError
from barfem.show.figures import style
from barfem.show.figures.data import FigureData
from barfem.show.figures.haigh_chart import CyclePoint, HaighChart, OwnLine, draw_haigh
from barfem.show.figures.picture import Picture
from barfem.show.numbers import printable, whole
from barfem.strength.fatigue.criteria import CRITERIA as MEAN_STRESS
from barfem.strength.fatigue.sn_line import BEND_CYCLES
from barfem.strength.fatigue.strain_life import BY_HARDNESS, strain_life_constants

__all__ = ["picture"]

Array = NDArray[np.float64]

ALIKE = 0.03  # strengths this near share a line
MOST_OWN = 2  # lines of places with another strength


def picture(data: FigureData) -> Picture:
    """Where each hole setting's cycle lies against the strength at its governing place."""
    j = data.by_life
    point = data.endurance[j]
    cycles = printable(whole(data.result.target_cycles))
    return Picture(
        slug="haigh-diagram",
        title="Haigh diagram",
        caption=(
            "Von Mises stress amplitude and mean of the load at the place that decides each hole setting's life, "
            f"concentration included. Bold: what lasts {cycles} cycles at {100 * data.result.survival:g} % survival "
            f"at the place that decides at {data.name(j)}; it judges, by "
            f"{MEAN_STRESS[data.bar.targets.mean_stress].title} in sound steel, the skin's flaw and residual stress "
            "included, and a point on or below it lasts them. The other rules start from its amplitude at zero mean; "
            "where no cycle has a mean they are left out. "
            f"A hole setting whose place has another strength by more than {100 * ALIKE:.0f} % is judged by its own "
            f"line, thin. Beyond the yield line no life is stated. A cross misses its target.{_coefficient(data)}"
        ),
        alt=(
            f"Amplitude against mean stress. {data.name(j)}: amplitude {point.amplitude_MPa:.0f} MPa, mean "
            f"{point.mean_MPa:.0f} MPa; the line of the target life at survival begins at "
            f"{_at_target(data, j):.0f} MPa at zero mean."
        ),
        draw=lambda size: _draw(data, size),
    )


def _at_target(data: FigureData, j: int) -> float:
    """Reversed amplitude that lasts the target cycles at the survival judged, MPa."""
    return float(_allowed(data, j)(np.zeros(1))[0])


def _allowed(data: FigureData, j: int) -> Callable[[Array], Array]:
    """Amplitude at each mean that lasts the target cycles at the survival judged, where hole setting j decides."""
    cycles, share = data.result.target_cycles, data.strength_share
    return lambda mean: data.endurance[j].amplitude_lasting(cycles, mean, share=share)


def _morrow(data: FigureData) -> tuple[float | None, bool]:
    """The fatigue strength coefficient, and whether it is an estimate; None where no estimate holds."""
    cyclic = data.bar.steel.cyclic
    if cyclic is not None:
        return cyclic.fatigue_strength_coefficient_MPa, False
    try:
        return strain_life_constants(data.bar.steel).strength_coefficient_MPa, True
    except InputError:
        return None, False


def _coefficient(data: FigureData) -> str:
    found, estimated = _morrow(data)
    if found is None:
        return " Morrow is left out: no fatigue strength coefficient is known, and none can be estimated."
    return f" Morrow's coefficient: {BY_HARDNESS}." if estimated else ""


def _draw(data: FigureData, size: style.Size) -> Figure:
    j = data.by_life
    lead = data.endurance[j]
    own = [OwnLine(lambda mean: lead.amplitude_lasting(data.result.target_cycles, mean), "median of what judges")]
    limit = float(lead.assessment.endurance_limit_MPa)
    if limit > 0.0 and abs(limit / own[0].reversed_MPa - 1.0) > ALIKE:
        forever = OwnLine(
            lambda mean: lead.amplitude_lasting(BEND_CYCLES, mean), "endurance limit, median", dashes=(0, (1, 2.5))
        )
        own.append(forever)
    coefficient, estimated = _morrow(data)
    chart = HaighChart(
        reversed_MPa=_at_target(data, j),
        level=f"{printable(whole(data.result.target_cycles))} cycles, {100 * data.result.survival:g} %",
        judged=data.bar.targets.mean_stress,
        points=tuple(
            CyclePoint(
                "hole",
                data.called(i),
                data.endurance[i].mean_MPa,
                data.endurance[i].amplitude_MPa,
                data.reaches_target(i),
                i == j,
            )
            for i in range(len(data.result.settings))
            if data.feels(i)
        ),
        tensile_MPa=lead.tensile_strength_MPa,
        yield_MPa=lead.yield_strength_MPa,
        coefficient_MPa=coefficient,
        coefficient_estimated=estimated,
        torsion_share=float(lead.strength.torsion_share),
        judging=_allowed(data, j),
        own_lines=(*own, *_other_strengths(data)),
    )
    return draw_haigh(chart, size)


def _other_strengths(data: FigureData) -> list[OwnLine]:
    """Lines of hole settings whose governing place has another strength: the lowest first, at most two."""
    lead = _at_target(data, data.by_life)
    groups: list[tuple[float, list[int]]] = []
    for j in sorted(range(len(data.result.settings)), key=lambda i: _at_target(data, i)):
        own = _at_target(data, j)
        if abs(own / lead - 1.0) <= ALIKE:
            continue
        if groups and own / groups[-1][0] - 1.0 <= ALIKE:
            groups[-1][1].append(j)
        else:
            groups.append((own, [j]))
    lines = []
    for _, members in groups[:MOST_OWN]:
        more = f" +{len(members) - 1}" if len(members) > 1 else ""
        name = f"at hole {data.called(members[0])}{more}"
        lines.append(OwnLine(_allowed(data, members[0]), name, style.LEAD, (0, (4, 1, 1, 1))))
    return lines
