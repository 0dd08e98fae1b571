"""A Haigh diagram of any cycles: points of amplitude and mean, every mean-stress rule as a line, and the yield line."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from barfem.model.frozen import frozen
from barfem.show.figures import style
from barfem.show.figures.labels import Named, name_points, room_for_names
from barfem.strength.fatigue.criteria import CRITERIA
from barfem.strength.fatigue.mean_stress import MeanStress, walker_gamma

__all__ = ["CyclePoint", "HaighChart", "OwnLine", "allowed_amplitude", "draw_haigh"]

Array = NDArray[np.float64]

NO_MEAN = 0.01
"""Share of the tensile strength up to which a mean stress is none: every rule then says the same within a percent."""

LOW = 0.7  # of the lines' start: below, points have room for their names beside them

_NAMES = {
    "goodman": "Goodman",
    "gerber": "Gerber",
    "soderberg": "Soderberg",
    "morrow": "Morrow",
    "walker": "Walker",
    "sines": "Sines",
    "swt": "Smith, Watson, Topper",
}
_LOOKS: dict[str, tuple[str, Any]] = {
    "goodman": (style.LEAD, "-"),
    "gerber": (style.OTHER, (0, (6, 1.5))),
    "soderberg": (style.SHEAR, (0, (3.5, 1.5))),
    "morrow": (style.BORE, (0, (6, 1.5, 1.2, 1.5))),
    "swt": (style.INK, (0, (1.2, 1.2))),
    "walker": (style.MUTED, (0, (3, 1.2, 1.2, 1.2, 1.2, 1.2))),
    "sines": (style.OTHER, (0, (1.2, 2.4))),
}


@frozen
class CyclePoint:
    """One cycle: stress amplitude and mean, MPa; whether it lasts what is asked of it. Called `noun` `name`."""

    noun: str
    name: str
    mean_MPa: float
    amplitude_MPa: float
    good: bool
    bold: bool = False


@frozen
class OwnLine:
    """A line of its own beside those of the criteria: the amplitude that it allows at each mean, and its name."""

    allowed: Callable[[Array], Array]
    name: str
    color: str = style.MUTED
    dashes: Any = (0, (5, 2))

    @property
    def reversed_MPa(self) -> float:
        """At zero mean."""
        return float(self.allowed(np.zeros(1))[0])


@frozen(kw_only=True)
class HaighChart:
    """What a Haigh diagram shows.

    Every criterion's line starts at `reversed_MPa` at zero mean, the strength that `level` names; `judged` is the rule
    that decides, and `judging` the amplitude that the engine allows at each mean by it, skin and residual stress
    included (None: the rule's own line). A criterion whose constant is None is left out. `coefficient_estimated`: the
    fatigue strength coefficient is an estimate, and its line says so.
    """

    reversed_MPa: float
    level: str
    judged: str
    points: tuple[CyclePoint, ...]
    tensile_MPa: float | None
    yield_MPa: float | None
    coefficient_MPa: float | None
    coefficient_estimated: bool = False
    gamma: float | None = None
    torsion_share: float | None = None
    own_lines: tuple[OwnLine, ...] = ()
    judges: str = "judges"
    judging: Callable[[Array], Array] | None = None

    def rules(self) -> dict[str, MeanStress]:
        """Each criterion that has its constants, by its method, in a fixed order."""
        has = {
            "tensile_MPa": self.tensile_MPa is not None,
            "yield_MPa": self.yield_MPa is not None,
            "fatigue_strength_coefficient_MPa": self.coefficient_MPa is not None,
            "gamma": self.tensile_MPa is not None or self.gamma is not None,
            "torsion_share": self.torsion_share is not None,
        }
        return {
            method: MeanStress(method, self.coefficient_MPa, self.gamma)
            for method in CRITERIA
            if all(has.get(need, False) for need in CRITERIA[method].needs)
        }

    def shown(self) -> dict[str, MeanStress]:
        """Those drawn: all, or where every point lies at zero mean, at which they agree, the rule that judges alone."""
        rules = self.rules()
        strength = self.tensile_MPa or self.yield_MPa or self.reversed_MPa
        if self.judged in rules and all(abs(point.mean_MPa) <= NO_MEAN * strength for point in self.points):
            return {self.judged: rules[self.judged]}
        return rules

    def line(self, rule: MeanStress, reversed_MPa: float, mean_MPa: Array) -> Array:
        """Amplitude at each mean that does the harm of `reversed_MPa` by `rule`; zero where the mean leaves none."""
        return allowed_amplitude(
            rule,
            reversed_MPa,
            mean_MPa,
            tensile_MPa=self.tensile_MPa or np.nan,
            yield_MPa=self.yield_MPa or np.nan,
            torsion_share=self.torsion_share or 0.0,
        )


def allowed_amplitude(
    rule: MeanStress,
    reversed_MPa: float,
    mean_MPa: Array,
    *,
    tensile_MPa: float,
    yield_MPa: float,
    torsion_share: float = 0.0,
) -> Array:
    """Amplitude at each mean that does the harm of a reversed amplitude by `rule`; zero if none.

    By bisection, since harm grows with the amplitude in every rule. A compressive mean earns no more than itself.
    """
    low, high = np.zeros(len(mean_MPa)), reversed_MPa + np.maximum(-mean_MPa, 0.0)
    for _ in range(40):
        middle = 0.5 * (low + high)
        harm = rule.equivalent(
            amplitude_MPa=middle,
            mean_MPa=mean_MPa,
            tensile_MPa=np.full(len(mean_MPa), tensile_MPa),
            yield_MPa=np.full(len(mean_MPa), yield_MPa),
            torsion_share=torsion_share,
        )
        low, high = np.where(harm <= reversed_MPa, middle, low), np.where(harm <= reversed_MPa, high, middle)
    return low


def draw_haigh(chart: HaighChart, size: style.Size) -> Figure:
    """The diagram; call within `style.context`."""
    canvas = style.new_figure(size, height_in=5.6 if size == "narrow" else 3.8)
    axes = canvas.figure.subplots()
    means = [point.mean_MPa for point in chart.points]
    strengths = [value for value in (chart.tensile_MPa, chart.yield_MPa) if value is not None]
    right = 1.04 * max([*strengths, *means, *([] if strengths else [2.0 * chart.reversed_MPa])])
    at_zero = [chart.reversed_MPa, *(line.reversed_MPa for line in chart.own_lines)]
    highest, amplitudes = max(at_zero), [point.amplitude_MPa for point in chart.points]
    # Names stand above all lines, which meet where most points lie.
    distinct = len({round(x, 3) for x in amplitudes if x >= LOW * chart.reversed_MPa})
    free = 1.0 - room_for_names(canvas, distinct, height_pt=240.0 if canvas.narrow else 205.0)
    top = max(highest / free, 1.1 * max(amplitudes), 1e-3)
    axes.set_xlim(min(0.0, 1.05 * min(means)), right)
    axes.set_ylim(0.0, top)
    style.axes_of(axes, x="Mean stress, MPa", y="Stress amplitude, MPa", grid="both")
    mean = np.linspace(axes.get_xlim()[0], right, 241)
    for method, rule in chart.shown().items():
        color, dashes = _LOOKS.get(method, (style.MUTED, (0, (8, 2))))
        judges = method == chart.judged
        allowed = chart.line(rule, chart.reversed_MPa, mean)
        if judges and chart.judging is not None:
            allowed = chart.judging(mean)
        _line(axes, mean, allowed, color, dashes, 2.2 if judges else 1.1, _named(chart, method))
    for own in chart.own_lines:
        _line(axes, mean, own.allowed(mean), own.color, own.dashes, 0.9, own.name)
    if chart.yield_MPa is not None:
        y = chart.yield_MPa
        axes.plot([0.0, y], [y, 0.0], color=style.BELOW, lw=1.1, ls=style.DOTTED, label="yield: mean + amplitude")
    for point in chart.points:
        axes.plot(
            [point.mean_MPa],
            [point.amplitude_MPa],
            "o" if point.good else "X",
            ms=6.5 if point.good else 7.5,
            color=style.INK if point.good else style.BELOW,
            zorder=7,
            clip_on=False,
        )
    style.key(canvas, axes, title=chart.level)
    named = [
        Named(p.mean_MPa, p.amplitude_MPa, p.noun, p.name, style.INK if p.good else style.BELOW, p.bold)
        for p in chart.points
    ]
    low = LOW * chart.reversed_MPa
    name_points(canvas, axes, [point for point in named if point.y >= low], above=lambda _: highest)
    name_points(canvas, axes, [point for point in named if point.y < low])
    return canvas.figure


def _line(axes: Axes, mean: Array, allowed: Array, color: str, dashes: Any, width: float, name: str) -> None:
    shown = np.where(allowed > 1e-6 * allowed.max(initial=0.0), allowed, 0.0)
    last = int(np.flatnonzero(shown > 0.0).max(initial=0))
    stop = min(last + 2, len(mean))  # to the axis, and no farther
    axes.plot(mean[:stop], shown[:stop], color=color, lw=width, ls=dashes, label=name, zorder=3 + width)


def _named(chart: HaighChart, method: str) -> str:
    name = _NAMES.get(method, CRITERIA[method].title)
    if method == "walker":
        gamma = chart.gamma if chart.gamma is not None else float(walker_gamma(chart.tensile_MPa or 0.0))
        name += f", gamma {gamma:.2f}"
    if method == "morrow" and chart.coefficient_MPa is not None:
        name += f", to {chart.coefficient_MPa:.0f} MPa" + (" (est.)" if chart.coefficient_estimated else "")
    if method != chart.judged:
        return name
    return f"{name}{', with the skin' if chart.judging is not None else ''}: {chart.judges}"
