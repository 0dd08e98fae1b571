"""From the [material] table of a bar file to a `Steel`: table lookup, overrides, and what has to be said about them."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import replace
from pathlib import Path

from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.hardness import HARDNESS_SOURCE, parse_hardness, tensile_from_hardness
from barfem.model.material import CyclicConstants, Scatter, Steel, StressLifeData
from barfem.model.material_table import Condition, Cyclic, GradeTable, find_table
from barfem.model.nearest import did_you_mean
from barfem.model.notes import Notes
from barfem.model.plausible import STEEL_UNITS, a_steels, can_be_a_steels
from barfem.model.process import with_process
from barfem.model.warned import Effect

__all__ = ["load_steel", "steel_from_table"]

_NUMBERS = ("E", "nu", "density", "yield_strength", "tensile_strength")
_TITLES = {
    "E": "E",
    "nu": "nu",
    "density": "density",
    "yield_strength": "yield strength",
    "tensile_strength": "tensile strength",
}
_FIELDS = {
    "E": "E_MPa",
    "nu": "nu",
    "density": "density_kg_per_m3",
    "yield_strength": "yield_strength_MPa",
    "tensile_strength": "tensile_strength_MPa",
}


def load_steel(
    table: Mapping[str, object], *, bar_dir: Path | str | None = None, tube: bool = False, size_mm: float = 0.0
) -> tuple[Steel, list[str], list[str]]:
    """The steel that a bar file's [material] table describes, with warnings and assumptions.

    Parameters
    ----------
    table
        Keys grade, condition; those of `barfem.model.process`; and the overrides E (MPa), nu, density (kg/m3),
        yield_strength (MPa), tensile_strength (MPa). Grade "custom" takes no condition and needs those five.
        hardness, such as "45 HRC", stands in place of tensile_strength.
    bar_dir
        Folder of the bar file: a grade may be a path relative to it, or a table file dropped there.
    tube
        True if the body is a tube: it has a bore, and must say whether it was bent before or after hardening.

    size_mm
        Diameter of the round that hardens as the body does: its own, or twice a tube's wall.

    Raises
    ------
    InputError
        Anything that cannot be right: unknown grade, condition or surface, missing or impossible numbers.
    """
    grade = str(table.get("grade", ""))
    overrides = {key: _plausible(key, table[key]) for key in _NUMBERS if table.get(key) is not None}
    notes = Notes()
    if table.get("hardness") is not None and "tensile_strength" in overrides:
        raise InputError(
            "both hardness and tensile_strength are given.",
            where="[material] hardness",
            expected="tensile_strength where it was measured, else hardness alone.",
        )
    if grade.lower() == "custom":
        hard = _converted(table.get("hardness"))
        steel = _custom(table, overrides | ({"tensile_strength": hard.tensile_MPa} if hard else {}))
        if hard:
            steel = replace(steel, hardness=hard.text, sources={**steel.sources, "tensile_strength": HARDNESS_SOURCE})
            notes.warn(hard.warning())
        notes.assume("steel: all five numbers are the bar file's own (grade custom)")
    else:
        found, path, own = find_table(grade, bar_dir=Path(bar_dir) if bar_dir is not None else None)
        name, condition = _condition(found, table.get("condition"), file=str(path))
        if own:
            notes.assume(f"material table: {path}, the user's own")
        if table.get("condition") is None:
            notes.assume(f"condition: {name}, the only one of the table")
        hard = _converted(table.get("hardness"))
        known = set(overrides) | ({"yield_strength", "tensile_strength"} if hard else set())
        _warn_of_table(found.grade, name, condition, notes, tube=tube, size_mm=size_mm, overridden=known)
        as_tabled = steel_from_table(found, name)
        steel = _overridden(as_tabled, overrides)
        if hard:
            steel = _by_hardness(steel, as_tabled, hard, yield_given="yield_strength" in overrides)
            _warn_of_hardness(steel, hard, condition, notes, yield_given="yield_strength" in overrides)
        for text in _stated(steel, as_tabled, overridden=overrides):
            notes.assume(text)
    if steel.yield_strength_MPa > steel.tensile_strength_MPa:
        raise InputError(
            f"yield strength {steel.yield_strength_MPa:g} MPa is above tensile strength "
            f"{steel.tensile_strength_MPa:g} MPa.",
            where="[material] yield_strength",
            expected="a yield strength at or below the tensile strength.",
        )
    return with_process(steel, table, tube=tube, notes=notes), notes.warnings, notes.assumptions


def steel_from_table(table: GradeTable, condition_name: str | None, *, where: str = "[material] condition") -> Steel:
    """The steel of one condition of a table, nothing overridden, with the default surface.

    Raises
    ------
    InputError
        The table has no such condition, or several and None is given.
    """
    name, condition = _condition(table, condition_name, where=where)
    quantities = {
        "E": table.E,
        "nu": table.nu,
        "density": table.density,
        "yield_strength": condition.yield_strength,
        "tensile_strength": condition.tensile_strength,
        "elongation": condition.elongation,
        "hardness": condition.hardness,
        "cyclic": condition.cyclic,
        "stress_life": condition.stress_life,
        "scatter": condition.scatter,
    }
    lines, spread = condition.stress_life, condition.scatter
    return Steel(
        grade=table.grade,
        condition=name,
        E_MPa=table.E.value,
        nu=table.nu.value,
        density_kg_per_m3=table.density.value,
        yield_strength_MPa=condition.yield_strength.value,
        tensile_strength_MPa=condition.tensile_strength.value,
        hardness=condition.hardness.text if condition.hardness else None,
        elongation_percent=condition.elongation.value if condition.elongation else None,
        typical=condition.typical,
        cyclic=_cyclic(condition.cyclic, table.sources[condition.cyclic.source]) if condition.cyclic else None,
        stress_life=None
        if lines is None
        else StressLifeData(
            strength_MPa=lines.strength,
            cycles=lines.cycles,
            exponent=lines.exponent,
            skin=lines.skin,
            knee=lines.knee,
            tensile_strength_MPa=lines.tensile_strength,
            diameter_mm=lines.diameter,
            source=table.sources[lines.source],
        ),
        scatter=None
        if spread is None
        else Scatter(
            spread.strength_deviation, spread.log10_life_deviation, spread.exponent, table.sources[spread.source]
        ),
        sources={key: table.sources[quantity.source] for key, quantity in quantities.items() if quantity},
    )


def _cyclic(cyclic: Cyclic, source: str) -> CyclicConstants:
    return CyclicConstants(
        E_MPa=cyclic.E,
        fatigue_strength_coefficient_MPa=cyclic.fatigue_strength_coefficient,
        fatigue_strength_exponent=cyclic.fatigue_strength_exponent,
        fatigue_ductility_coefficient=cyclic.fatigue_ductility_coefficient,
        fatigue_ductility_exponent=cyclic.fatigue_ductility_exponent,
        cyclic_strength_coefficient_MPa=cyclic.cyclic_strength_coefficient,
        cyclic_hardening_exponent=cyclic.cyclic_hardening_exponent,
        tensile_strength_MPa=cyclic.tensile_strength,
        source=source,
    )


def _custom(table: Mapping[str, object], numbers: dict[str, float]) -> Steel:
    if table.get("condition") is not None:
        raise InputError(
            "grade custom takes no condition.",
            where="[material] condition",
            expected="no condition; or a grade that has a table.",
        )
    missing = [key for key in _NUMBERS if key not in numbers]
    if missing:
        raise InputError(
            f"grade custom needs {', '.join(missing)} as well.",
            where="[material]",
            expected="E and both strengths in MPa (or hardness for the tensile one), nu, and density in kg/m3, such as "
            "E = 206000, nu = 0.3, density = 7850, yield_strength = 1200, tensile_strength = 1350.",
        )
    return Steel(
        grade="custom",
        condition="as given",
        E_MPa=numbers["E"],
        nu=numbers["nu"],
        density_kg_per_m3=numbers["density"],
        yield_strength_MPa=numbers["yield_strength"],
        tensile_strength_MPa=numbers["tensile_strength"],
        sources=dict.fromkeys(_NUMBERS, "the bar file"),
    )


@frozen
class _Hard:
    text: str
    tensile_MPa: float

    def warning(self) -> str:
        return (
            f"tensile strength {self.tensile_MPa:.0f} MPa is converted from a hardness of {self.text} by ISO 18265 "
            "Table A.1, which calls that column its least reliable: an estimate, and of the skin where it was measured"
        )


def _converted(given: object) -> _Hard | None:
    if given is None:
        return None
    value = parse_hardness(given)
    return _Hard(value.text, tensile_from_hardness(value.low, scale=value.scale))


def _by_hardness(steel: Steel, as_tabled: Steel, hard: _Hard, *, yield_given: bool) -> Steel:
    """The steel with the tensile strength of its hardness; yield by the ratio of the table's condition."""
    ratio = as_tabled.yield_strength_MPa / as_tabled.tensile_strength_MPa
    sources = {**steel.sources, "tensile_strength": HARDNESS_SOURCE}
    if not yield_given:
        sources["yield_strength"] = f"{ratio:.3f} x tensile strength, the ratio of the table's condition: an estimate"
    return replace(
        steel,
        tensile_strength_MPa=hard.tensile_MPa,
        yield_strength_MPa=steel.yield_strength_MPa if yield_given else ratio * hard.tensile_MPa,
        hardness=hard.text,
        typical=False,
        sources=sources,
    )


def _warn_of_hardness(steel: Steel, hard: _Hard, condition: Condition, notes: Notes, *, yield_given: bool) -> None:
    words = hard.warning()
    if not yield_given:
        words += f"; yield strength {steel.yield_strength_MPa:.0f} MPa by {steel.sources['yield_strength']}"
    notes.warn(words)
    of, named = f"a hardness of {hard.text}", f"{steel.grade} {steel.condition}"
    least, most = condition.tensile_strength.value, condition.tensile_strength.upper
    if not condition.tensile_strength.typical and hard.tensile_MPa < least:
        limit = f"at least {least:g} MPa"
        notes.warn(f"{of} is softer than {named} may be ({limit})", Effect.STEEL)
    if most is not None and hard.tensile_MPa > most:
        limit = f"at most {most:g} MPa"
        brittle = "brittle, and prone to delayed cracking"
        notes.warn(f"{of} is harder than {named} may be ({limit}): {brittle}", Effect.CRACKS)


def _overridden(steel: Steel, numbers: Mapping[str, float]) -> Steel:
    """The steel with the bar file's own numbers in place of the table's."""
    return replace(
        steel,
        E_MPa=numbers.get("E", steel.E_MPa),
        nu=numbers.get("nu", steel.nu),
        density_kg_per_m3=numbers.get("density", steel.density_kg_per_m3),
        yield_strength_MPa=numbers.get("yield_strength", steel.yield_strength_MPa),
        tensile_strength_MPa=numbers.get("tensile_strength", steel.tensile_strength_MPa),
        sources={**steel.sources, **dict.fromkeys(numbers, "the bar file")},
    )


def _plausible(key: str, value: object) -> float:
    number = float(value) if isinstance(value, (int, float)) and not isinstance(value, bool) else math.nan
    if not can_be_a_steels(key, number):
        raise InputError(
            f"{_TITLES[key]} {value!r} cannot be a steel's.",
            where=f"[material] {key}",
            expected=f"{a_steels(key)}.",
        )
    return number


def _condition(
    table: GradeTable, given: object, *, file: str | None = None, where: str = "[material] condition"
) -> tuple[str, Condition]:
    names = list(table.conditions)
    if given is None:
        if len(names) == 1:
            return names[0], table.conditions[names[0]]
        raise InputError(
            f"{table.grade} has several conditions, and none is named.",
            where=where,
            expected="one of " + ", ".join(names) + ".",
        )
    wanted = _squeezed(str(given))
    for name in names:
        if _squeezed(name) == wanted:
            return name, table.conditions[name]
    raise InputError(
        f'{table.grade} has no condition "{given}".{did_you_mean(str(given), names)}',
        where=where,
        expected="one of " + ", ".join(names) + ("." if file is None else f" (from {file})."),
    )


def _squeezed(text: str) -> str:
    return " ".join(text.lower().split())


def _stated(steel: Steel, as_tabled: Steel, *, overridden: Mapping[str, float]) -> list[str]:
    """The steel's numbers with their sources, as the result prints them: a line a source."""
    by_source: dict[str, list[str]] = {}
    lines = []
    for key in _NUMBERS:
        value = f"{_TITLES[key]} {_with_unit(key, getattr(steel, _FIELDS[key]))}"
        if key in overridden:
            instead = _with_unit(key, getattr(as_tabled, _FIELDS[key]))
            lines.append(f"{value} from the bar file, not from the table ({instead})")
        else:
            by_source.setdefault(steel.sources[key], []).append(value)
    return [
        *lines,
        *(
            f"{steel.grade} {steel.condition}: {', '.join(quantities)} ({source})"
            for source, quantities in by_source.items()
        ),
    ]


def _with_unit(key: str, value: float) -> str:
    return f"{value:g} {STEEL_UNITS[key]}".rstrip() if key != "E" else f"{value:.0f} MPa"


def _warn_of_table(
    grade: str,
    name: str,
    condition: Condition,
    notes: Notes,
    *,
    tube: bool,
    size_mm: float,
    overridden: Collection[str],
) -> None:
    typical = [
        _TITLES[key]
        for key in ("yield_strength", "tensile_strength")
        if getattr(condition, key).typical and key not in overridden
    ]
    if typical:
        words = "are typical values, not a guaranteed minimum: a bar may be weaker"
        notes.warn(f"{grade} {name}: {' and '.join(typical)} {words}", Effect.WEAKER)
    if condition.form and condition.form != ("tube" if tube else "bar"):
        notes.warn(
            f"{grade} {name} is a condition of a {condition.form}; this body is a {'tube' if tube else 'bar'}",
            Effect.WEAKER,
        )
    largest = condition.largest_diameter
    if largest is not None and size_mm > largest and "tensile_strength" not in overridden:
        notes.warn(
            f"{grade} {name} is stated for rounds up to {largest:g} mm, and this body, as a round of {size_mm:.4g} mm, "
            "hardens less: take the condition of its size, or give the hardness that is measured",
            Effect.THICKER,
        )
