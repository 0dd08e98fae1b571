"""What has to be said of a fit: what was taken for granted, and what the tests cannot tell."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from barfem.model.bar import Bar
from barfem.model.grouped import grouped, percent
from barfem.model.material import Steel
from barfem.strength.fatigue.fit.line import LineFit
from barfem.strength.fatigue.sn_line import SHORTEST_LIFE_CYCLES

if TYPE_CHECKING:
    from barfem.study.bar_tests import BarTest
    from barfem.study.fit import TestedSkin, TestPoint
    from barfem.study.fit_handbook import HandbookLine
    from barfem.study.fit_stress import LocalCycle

__all__ = ["assumptions_of", "levels_of", "strongest_MPa", "warnings_of", "warnings_of_bore"]

_ONE_LEVEL = 0.005  # loads as near as this (share) are one
_SMALL_MEAN = 0.05  # share of the amplitude
_FAR = 3.0  # a test further from the line than so many deviations stands out
_BEYOND = 2.0  # the line is carried beyond the tests when asked for more than this factor outside their lives
_FEW = 1.05  # of the strength by which checks judge over the lower end of its interval
_UNLIKE = 2.0  # a line so many times the handbook's, or less than one over that, is a slip more often than a steel
_WEAKEST_MPA = 120.0  # at 200 000 cycles or so: what no local stress of a bar's tests comes down to
_STRONGEST_MPA = 2050.0  # the hardest that spring steels of bars are ordered (SAE 9254's upper end)


def strongest_MPa(steel: Steel | None) -> tuple[float, str]:
    """The tensile strength that no amplitude of a fatigue test exceeds, and whose it is."""
    if steel is None:
        return _STRONGEST_MPA, "the tensile strength of the hardest spring steels"
    return steel.tensile_strength_MPa, "the steel's tensile strength"


def levels_of(amplitudes: Sequence[float]) -> list[float]:
    """The loads of tests, each once: those within half a percent of each other are one."""
    found: list[float] = []
    for amplitude in sorted(amplitudes):
        if not found or amplitude > found[-1] * (1.0 + _ONE_LEVEL):
            found.append(amplitude)
    return found


def assumptions_of(
    tests: Sequence[BarTest], cycles: Mapping[int, LocalCycle], rule: str, bar: Bar | None
) -> tuple[str, ...]:
    """What was taken for granted."""
    notes = [
        "log10 life is normal about a straight line in log-log, with one deviation at all loads; a stopped bar counts "
        "as having lasted at least so long",
        "the bars' own skin, peening and size are in the line: it holds for bars like these",
    ]
    means = [test.mean_MPa or 0.0 for test in tests] + [cycle.mean_MPa for cycle in cycles.values()]
    if any(mean > 0.5 for mean in means):
        notes.append(f"mean stress becomes a reversed amplitude of the same harm by {rule}")
    if any(mean < 0.0 for mean in means):
        notes.append("a compressive mean earns no credit")
    if not any(abs(mean) > 0.5 for mean in means):
        notes.append("no mean stress: tests are taken as fully reversed")
    if cycles and bar is not None:
        ratio = f"{bar.duty.ratio:g}"
        notes.append(
            f"travel and force became stress through {bar.name}: nonlinear beam, concentration included, the other end "
            f"of the cycle at {ratio} times full travel ([duty] ratio)"
        )
        for where in dict.fromkeys(cycle.where for cycle in cycles.values() if not cycle.named):
            notes.append(f"no place of fracture is said: taken where the life is shortest, {where}")
    if any(test.case is None for test in tests if test.line in cycles):
        notes.append("no load case is said: roll")
    return tuple(notes)


def warnings_of_bore(
    tests: Sequence[BarTest], cycles: Mapping[int, LocalCycle], skin: TestedSkin, bar: Bar | None
) -> list[str]:
    """What has to be said of breaks in a tube's bore, whose skin is another than the outside's."""
    inside = [test.line for test in tests if test.line in cycles and cycles[test.line].in_bore]
    if bar is None or not inside or bar.steel.bore_skin.title == skin.skin.title:
        return []
    outside = [test.line for test in tests if test.line not in inside]
    bore = f"of the bore ({bar.steel.bore_skin.title})"
    if not outside:
        return [
            f"every test is {bore}, and the line, its name and the handbook's beside it are those of the outside, "
            f"{skin.text}: it holds for bars that break in such a bore"
        ]
    return [
        f"{_lines(inside)} {'are' if len(inside) > 1 else 'is'} {bore}, {_lines(outside)} of the outside "
        f"({skin.skin.title}): two skins have no common line. Say in column place where each bar broke, and fit those "
        "of one skin at a time"
    ]


def _lines(numbers: Sequence[int]) -> str:
    return f"line{'s' * (len(numbers) > 1)} {', '.join(map(str, numbers))}"


def warnings_of(
    line: LineFit,
    points: Sequence[TestPoint],
    diameters: Sequence[float],
    kinds: Sequence[str],
    rule: str,
    *,
    prior: bool,
    steel: Steel | None,
    handbook: HandbookLine | None = None,
) -> tuple[str, ...]:
    """What the tests cannot tell, and what stands out in them."""
    notes = []
    broken = [point for point in points if point.broken]
    strongest, whose = strongest_MPa(steel)
    strong = [str(point.line) for point in points if point.amplitude_MPa > strongest]
    if strong:
        notes.append(
            f"line {', '.join(strong)}: the amplitude is above {whose}, {strongest:.0f} MPa, where no bar lasts its "
            "first cycle: is it the range (twice the amplitude), or another unit? Check load, place and steel"
        )
    if handbook is not None:
        ratio = line.strength_MPa / handbook.strength_MPa
        if not 1.0 / _UNLIKE <= ratio <= _UNLIKE:
            notes.append(
                f"the line is {ratio:.2g} times the handbook's: are the loads in the unit that their column says (1 "
                "ksi is 6.89 MPa), amplitudes and not ranges, and local at the place that broke?"
            )
    elif line.strength_MPa < _WEAKEST_MPA:
        notes.append(
            f"the line lies at {line.strength_MPa:.0f} MPa, where pitted and decarburised bars still have 200: are the "
            "loads in the unit that their column says (1 ksi is 6.89 MPa)?"
        )
    logs = np.log10([[point.reversed_MPa, point.cycles] for point in broken])
    if np.ptp(logs[:, 0]) > 1e-6 and np.polyfit(logs[:, 0], logs[:, 1], 1)[0] >= 0.0:
        notes.append("the broken bars lasted no shorter at higher load: their slope is the prior's; check the columns")
    if len(levels_of([point.reversed_MPa for point in broken])) == 1:
        loads = (
            "one load only" if len(levels_of([point.reversed_MPa for point in points])) == 1 else "one load only broke"
        )
        notes.append(
            f"bars of {loads}: their slope cannot be told from that, and is the prior's; test at a second load that "
            "gives a life ten times as long or short"
        )
    if len(broken) < 3:
        notes.append(
            f"{len(broken)} broken bar{'s' if len(broken) > 1 else ''}: scatter and slope are mostly the prior's"
        )
    elif len(points) < 6 and not prior:
        share = 100.0 * (1.0 - np.sqrt(max(len(broken) - 2, 1) / len(broken)))
        notes.append(
            f"{len(broken)} broken bars: the most likely deviation is low by about {share:.0f} % with so few, read its "
            "interval"
        )
    least, taken = line.strength_at_survival_90[0], line.strength_at_survival_MPa
    if taken > _FEW * least:
        notes.append(
            f"checks take {taken:.0f} MPa for what {percent(line.survival)} of bars have, and so few tests leave open "
            f"that it is {least:.0f} MPa or less (one chance in twenty): more bars, or a margin"
        )
    if line.open_upwards:
        notes.append(
            "nothing in the tests bounds the slope from above: the upper end of its interval is the method's own"
        )
    lives = [point.cycles for point in points]
    if not min(lives) / _BEYOND <= line.at_cycles <= max(lives) * _BEYOND:
        notes.append(
            f"strength at {grouped(line.at_cycles)} cycles lies beyond the tests ({grouped(min(lives))} to "
            f"{grouped(max(lives))}): the line is carried on straight"
        )
    short = [point.line for point in broken if point.cycles < SHORTEST_LIFE_CYCLES]
    if short:
        notes.append(
            f"line {', '.join(map(str, short))}: below 1 000 cycles plastic strain decides, and a line in stress does "
            "not hold"
        )
    for point in broken:
        expected = np.log10(line.at_cycles) - line.exponent * np.log10(point.reversed_MPa / line.strength_MPa)
        off = (np.log10(point.cycles) - expected) / line.log10_life_deviation
        if abs(off) > _FAR:
            notes.append(
                f"line {point.line}: life is {abs(off):.1f} deviations {'above' if off > 0 else 'below'} the line; "
                "look at its fracture before it is believed"
            )
    if len(diameters) > 1:
        notes.append(
            f"diameters of {diameters[0]:g} to {diameters[-1]:g} mm in one line, not corrected for size; the table is "
            "written for the smallest, so that larger bars are not flattered"
        )
    if len(kinds) > 1:
        notes.append(
            f"bars broke at places of {len(kinds)} kinds ({', '.join(kinds)}): what rubs or notches one of them is not "
            "in the others; fit each kind by itself once there are enough"
        )
    mean = max(point.mean_MPa for point in points)
    if mean > _SMALL_MEAN * min(point.amplitude_MPa for point in points) and rule != "swt":
        notes.append(
            f"means of up to {mean:.0f} MPa were taken out by {rule}. Where that rule is harder on the mean than the "
            "steel is, the reversed line comes out too strong: it holds best for bars of the mean that was tested"
        )
    return tuple(notes)
