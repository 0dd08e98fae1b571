"""The fitted line as a material table, which every command then uses."""

from __future__ import annotations

import json
from pathlib import Path

from barfem.model.errors import InputError
from barfem.model.grouped import counted, grouped, percent
from barfem.model.material import CyclicConstants, Steel
from barfem.study.fit import Fit, TestedSkin

__all__ = ["fit_table_text"]


def fit_table_text(fit: Fit, path: Path) -> str:
    """The text of the table that is to stand at `path`: the steel's own numbers, the line and its scatter.

    The condition keeps its name, so that a bar file changes its grade alone.

    Raises
    ------
    InputError
        No steel, or a skin that nobody said: a line without its skin would have peening counted twice.
    """
    steel, line, skin = fit.steel, fit.line, fit.skin
    if steel is None:
        raise InputError(
            "a material table needs the steel's E, density and strengths.",
            where="--write",
            expected="--bar BAR.toml, or --grade and --condition, with it.",
        )
    if skin.surface is None or skin.peening is None:
        missing = "--surface" if skin.surface is None else "--peening"
        raise InputError(
            "the table must say what skin was tested, and neither tests nor options do.",
            where="--write",
            expected=f"{missing} with it, or a column of that name.",
        )
    if not 2.0 < line.exponent < 60.0:
        raise InputError(
            f"a slope of {line.exponent:.3g} is no material's.",
            where="--write",
            expected="between 2 and 60; more tests.",
        )
    broken = len(fit.points) - fit.stopped
    prior = "no prior" if fit.prior == "none" else "with the prior of slope and scatter"
    least, most = line.strength_at_survival_90
    tested = (
        f"{Path(fit.file).name}: {counted(len(fit.points), 'test')}, {broken} broken, {fit.stopped} stopped; {prior}; "
        f"{percent(line.survival)} of bars have {least:.0f} to {most:.0f} MPa at {grouped(line.at_cycles)} cycles"
    )
    intervals = [
        f"# 90 % intervals: strength at {line.at_cycles:.10g} cycles {line.strength_90[0]:.0f} to "
        f"{line.strength_90[1]:.0f} MPa, exponent {line.exponent_90[0]:.3g} to {line.exponent_90[1]:.3g},",
        f"# strength that {percent(line.survival)} of bars have {line.strength_at_survival_90[0]:.0f} to "
        f"{line.strength_at_survival_90[1]:.0f} MPa, by which checks judge as {line.strength_at_survival_MPa:.0f} MPa,",
        f"# deviation of log10 life {line.log10_life_deviation_90[0]:.2g} to {line.log10_life_deviation_90[1]:.2g}.",
        *([] if fit.prior == "none" else [f"# Prior: {fit.prior}."]),
    ]
    sources: dict[str, str] = {"tests": tested}

    def source(key: str) -> str:
        text = steel.sources.get(key, "")
        for name, known in sources.items():
            if known == text:
                return name
        name = {"E": "elastic", "yield_strength": "strength"}.get(key, key)
        sources[name] = text or "not said"
        return name

    typical = ", typical = true" if steel.typical else ""

    def quantity(key: str, value: float, more: str = "") -> str:
        return f'{key} = {{ value = {value:.10g}, source = "{source(key)}"{more} }}'

    shared = [
        quantity("E", steel.E_MPa),
        quantity("nu", steel.nu),
        quantity("density", steel.density_kg_per_m3),
    ]
    condition = json.dumps(steel.condition, ensure_ascii=False)
    of_condition = [
        f"[conditions.{condition}]",
        f"description = {_text(f'as {steel.grade} {steel.condition}, with a line of its own tests')}",
        quantity("yield_strength", steel.yield_strength_MPa, typical),
        quantity("tensile_strength", steel.tensile_strength_MPa, typical),
        "",
        f"[conditions.{condition}.stress_life]",
        f"strength = {line.strength_MPa:.8g}  # MPa, reversed amplitude, median",
        f"cycles = {line.at_cycles:.10g}",
        f"exponent = {line.exponent:.8g}",
        *_skin(skin),
        *([] if fit.diameter_mm is None else [f"diameter = {fit.diameter_mm:.10g}"]),
        f"tensile_strength = {steel.tensile_strength_MPa:.10g}",
        "knee = false  # the tests are read as a straight line",
        'source = "tests"',
        "",
        f"[conditions.{condition}.scatter]",
        f"log10_life_deviation = {line.log10_life_deviation:.6g}",
        f"exponent = {line.exponent:.8g}",
        'source = "tests"',
    ]
    if steel.cyclic is not None:
        of_condition += ["", f"[conditions.{condition}.cyclic]", *_cyclic(steel, steel.cyclic), 'source = "cyclic"']
        sources["cyclic"] = steel.cyclic.source
    grade = path.stem
    head = [
        f"# {steel.grade} {steel.condition} with a stress-life line fitted to tests, written by barfem fit.",
        f'# In a bar file: [material] grade = "{path.name}", condition and skin as tested.',
        "# The line holds for bars with the skin and size that were tested; others are scaled from it.",
        *intervals,
        "",
        "format = 1",
        f"grade = {_text(grade)}",
        f"standard = {_text(f'tests of the firm, on {steel.grade}')}",
        f"note = {_text('; '.join(fit.warnings) or 'no warnings')}",
        "",
        *shared,
        "",
        "[sources]",
        *(f"{key} = {_text(text)}" for key, text in sources.items()),
        "",
    ]
    return "\n".join([*head, *of_condition, ""])


def _skin(skin: TestedSkin) -> list[str]:
    depth = [] if skin.decarburised_mm is None else [f"decarburised_depth = {skin.decarburised_mm:.10g}"]
    return [f'surface = "{skin.surface}"', f'peening = "{skin.peening}"', *depth]


def _text(text: str) -> str:
    """A TOML basic string; JSON's escapes are TOML's."""
    return json.dumps(text, ensure_ascii=False)


def _cyclic(steel: Steel, cyclic: CyclicConstants) -> list[str]:
    values = {
        "E": cyclic.E_MPa,
        "fatigue_strength_coefficient": cyclic.fatigue_strength_coefficient_MPa,
        "fatigue_strength_exponent": cyclic.fatigue_strength_exponent,
        "fatigue_ductility_coefficient": cyclic.fatigue_ductility_coefficient,
        "fatigue_ductility_exponent": cyclic.fatigue_ductility_exponent,
        "cyclic_strength_coefficient": cyclic.cyclic_strength_coefficient_MPa,
        "cyclic_hardening_exponent": cyclic.cyclic_hardening_exponent,
        "tensile_strength": cyclic.tensile_strength_MPa or steel.tensile_strength_MPa,
    }
    return [f"{key} = {value:.10g}" for key, value in values.items() if value is not None]
