"""What no steel or skin of a bar can be, as slips of the pen leave it: another unit, a range for an amplitude, two
numbers of one table that contradict each other.

A user's own material table is taken at its word everywhere else. Limits are common practice, no source, unless one is
named.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from barfem.model.bar import Bar
from barfem.model.errors import InputError
from barfem.model.grouped import grouped
from barfem.model.hardness import HARDNESS_SOURCE, parse_hardness, tensile_from_hardness
from barfem.model.material import CyclicConstants, Steel, StressLifeData
from barfem.model.schema import TolerancesTable
from barfem.model.skin import Peening

__all__ = ["odd_steel", "odd_strengths"]

LEAST_TENSILE_MPA = 350.0  # mild steel has more; spring steel has 190 to 260 ksi
MOST_TENSILE_MPA = 2300.0  # steels of bars have 1200 to 2000 MPa; harder ones break as glass does
LEAST_YIELD = 0.3  # of the tensile strength; annealed steels have 0.4 or more, hardened ones 0.8
WINDOW = 0.95, 1.3
"""Of the tensile strength that the check takes: no bar is as strong where the greatest delivered lies below; one heat
treatment spans 1.25."""

OWN_WINDOW = 0.8, 1.3
"""The same of a table's own hardness: published pairs of hardness and tensile strength lie within 0.87 and 1.05."""

MOST_SCALE = 1.1  # of the ends over the middle: they are made alike or softer, and one furnace spans 5 HRC
LEAST_DECARBURISED_MM = 0.01  # a grain of hardened steel
TESTED_LINE = 0.08, 0.7
"""Of the tensile strength, the amplitude of a tested line at a million cycles: polished steels have 0.4 to 0.6 (Shigley
Fig. 6-17, from memory), pitted and deeply decarburised ones 0.15."""

MOST_AT_1000_CYCLES = 2.0  # of the tensile strength; a line that is steep from a rough skin reaches 1.3 there
LEAST_COEFFICIENT = 0.7
"""Of the tensile strength, a fatigue strength coefficient: 1.04 to 1.6 of the steels of SAE J1099."""

PEENING_MPA = 100.0  # shot peening leaves 400 to 900
DEEPEST_PEENING_MM = 0.6  # it reaches 0.1 to 0.5
LEAST_COVERAGE_PERCENT = 10.0


def odd_steel(bar: Bar) -> Iterator[str]:
    """What is odd about the steel, its skin and what the file says of them, in short sentences with the numbers."""
    tensile = bar.steel.tensile_strength_MPa
    yield from odd_strengths(bar.steel)
    yield from _off(_windows(bar), tensile)
    depth = bar.steel.decarburised_depth_mm
    if depth is not None and 0.0 < depth < LEAST_DECARBURISED_MM:
        yield f"a decarburised depth of {depth:.3g} mm, less than a micrograph tells: inches written as mm?"
    if bar.steel.peening is not None:
        yield from _peening(bar.steel.peening, bar.steel.yield_strength_MPa)
    least, most = (pick(end.strength_scale for end in bar.ends) for pick in (min, max))
    if most > MOST_SCALE:
        yield (
            f"strength_scale {most:g} makes the ends harder than the middle: the middle's strength over the end's "
            "written for the end's over the middle's?"
        )
    if least < 1.0 and least * tensile < LEAST_TENSILE_MPA <= tensile:
        yield (
            f"strength_scale {least:g} leaves the ends {least * tensile:.0f} MPa of tensile strength: the share that "
            "is lost written for the one that is left?"
        )


def odd_strengths(steel: Steel) -> Iterator[str]:
    """What is odd about a steel by its own numbers."""
    found, tensile = steel.yield_strength_MPa, steel.tensile_strength_MPa
    if tensile < LEAST_TENSILE_MPA:
        yield f"a steel of {tensile:.4g} MPa tensile strength: ksi written as MPa?"
    if found < LEAST_YIELD * tensile:
        yield f"yield {found:.4g} MPa of tensile {tensile:.4g} MPa: ksi written as MPa?"
    if tensile > MOST_TENSILE_MPA:
        yield f"a steel of {tensile:.4g} MPa tensile strength, beyond 58 HRC: another unit, or a slipped point?"
    yield from _off(_own_window(steel), tensile)
    if steel.stress_life is not None:
        yield from _tested_line(steel.stress_life)
    if steel.cyclic is not None:
        yield from _coefficient(steel.cyclic)


_Window = tuple[str, float, float, tuple[float, float]]


def _off(windows: Iterator[_Window], tensile_MPa: float) -> Iterator[str]:
    for key, low, high, (least, most) in windows:
        if high < least * tensile_MPa or low > most * tensile_MPa:
            yield (
                f"{key} is {low:.0f} to {high:.0f} MPa of tensile strength, where the check takes {tensile_MPa:.0f}: a "
                "digit, a scale or a unit off?"
            )


def _tested_line(line: StressLifeData) -> Iterator[str]:
    """A line of tests that no tests have: it takes the place of every estimate, twice too strong as it may be."""
    tensile, k = line.tensile_strength_MPa, line.exponent
    at_1e3, at_1e6 = (line.strength_MPa * (line.cycles / cycles) ** (1.0 / k) / tensile for cycles in (1e3, 1e6))
    said = f"a tested line of {line.strength_MPa:.4g} MPa at {grouped(line.cycles)} cycles"
    steels = f"the tensile strength of {tensile:.4g} MPa"
    if at_1e6 > TESTED_LINE[1]:
        yield (
            f"{said} leaves {at_1e6:.2g} of {steels} at a million, where polished steel has 0.4 to 0.6: ranges written "
            "as amplitudes, or another unit?"
        )
    elif at_1e6 < TESTED_LINE[0]:
        yield f"{said} leaves {at_1e6:.2g} of {steels} at a million: ksi written as MPa?"
    if at_1e3 > MOST_AT_1000_CYCLES:
        yield f"{said} and exponent {k:.4g} is {at_1e3:.2g} times {steels} at 1 000: the exponent of another line?"


def _coefficient(cyclic: CyclicConstants) -> Iterator[str]:
    """It caps the strength of the steel's polished specimens."""
    coefficient, tensile = cyclic.fatigue_strength_coefficient_MPa, cyclic.tensile_strength_MPa
    if tensile is not None and coefficient < LEAST_COEFFICIENT * tensile:
        yield (
            f"a fatigue strength coefficient of {coefficient:.4g} MPa, below the tensile strength tested of "
            f"{tensile:.4g}: ksi written as MPa?"
        )


def _peening(peening: Peening, yield_MPa: float) -> Iterator[str]:
    residual, coverage = peening.residual_MPa, peening.coverage_percent
    if residual is not None and -residual > yield_MPa:
        yield (
            f"peening that leaves {-residual:.4g} MPa of compression in steel that yields at {yield_MPa:.4g}: another "
            "unit, or a slipped point?"
        )
    if residual is not None and -residual < PEENING_MPA:
        left = abs(residual)
        yield f"peening that leaves {left:.4g} MPa of compression, where it leaves 400 to 900: ksi written as MPa?"
    if peening.depth_mm > DEEPEST_PEENING_MM:
        yield f"peening {peening.depth_mm:.3g} mm deep, where it reaches 0.1 to 0.5: a slipped point?"
    if coverage is not None and coverage < LEAST_COVERAGE_PERCENT:
        yield f"a coverage of {coverage:.3g} % of the peening: a share written as per cent?"


def _windows(bar: Bar) -> Iterator[_Window]:
    """Each window of strength that the file names beside its steel, [MPa]: what the maker is told, or delivers."""
    tables = bar.tables or {}
    given = TolerancesTable.model_validate(tables.get("tolerances", {}))
    for key, band in (("tensile_strength", given.tensile_strength), ("hardness", given.hardness)):
        if band is not None and not band.off:
            yield f"[tolerances] {key}", band.low, band.high, WINDOW
    drawing = tables.get("drawing")
    if isinstance(drawing, Mapping) and drawing.get("hardness") is not None:
        found = parse_hardness(drawing["hardness"], where="[drawing] hardness")
        low, high = (
            tensile_from_hardness(end, scale=found.scale, where="[drawing] hardness") for end in (found.low, found.high)
        )
        yield "[drawing] hardness", low, high, WINDOW


def _own_window(steel: Steel) -> Iterator[_Window]:
    """The hardness of the steel's own table beside its tensile strength, unless the bar file has its own of either."""
    if steel.hardness is None or steel.sources.get("tensile_strength") in (None, "the bar file", HARDNESS_SOURCE):
        return
    try:
        found = parse_hardness(steel.hardness)
        low, high = (tensile_from_hardness(end, scale=found.scale) for end in (found.low, found.high))
    except InputError:  # beyond ISO 18265: a table may say so, and no strength is taken from it
        return
    yield f"hardness of {steel.grade} {steel.condition}, {found.text},", low, high, OWN_WINDOW
