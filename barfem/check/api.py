"""One bar in, one whole check result out: the way in that the command line and `import barfem` share."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable
from contextlib import nullcontext
from dataclasses import fields, replace

from barfem.check.check import check_solved, check_unsolved
from barfem.check.endurance import mean_stress_of
from barfem.check.result import CheckResult, SettingResult
from barfem.check.solved import NothingSolved, Solved, solve_states
from barfem.check.timing import Timing
from barfem.model.bar import Bar
from barfem.model.dimensions import Dimensions, held_words, main_dimensions, shape_words
from barfem.model.errors import InputError
from barfem.model.given import CASE, measure, takes, text
from barfem.model.load_case import CASES, case_named
from barfem.model.odd_shape import odd_words
from barfem.model.read import AnyBar, bar_from_dict
from barfem.model.toml_file import parse_toml, read_bytes
from barfem.model.warned import told_above

__all__ = ["CAUTIONS", "MODELS", "cases_to_judge", "check_bar", "write_vtu_of"]

MODELS = ("beam", "solid")

CAUTIONS = (
    "This is an estimate for design, not a release: validate bars by test before anyone depends on them, and take "
    "forces from measurement where a bar has broken.",
    "Lives scatter by a factor of several between bars of one batch. Compare designs by safety factor, not by life.",
    "Corrosion, stone chips, wear, weld spatter, bad grips and abuse beyond full travel are not in these numbers.",
    "Where a licensed engineer's approval, a homologation or local rules apply, those decide, not this result.",
)


@takes(
    case=CASE,
    mean_stress=text('the name of a rule, such as "gerber".'),
    model=text('"beam" or "solid".'),
    refine=measure("a number, such as 2."),
)
def check_bar(
    bar: AnyBar,
    *,
    case: str | None = None,
    mixed: bool = False,
    timing: Timing | None = None,
    mean_stress: str | None = None,
    critical_plane: bool = False,
    quick: bool = False,
    model: str = "beam",
    refine: float = 1.0,
    vtu: str | os.PathLike[str] | None = None,
    tell: Callable[[str], None] | None = None,
    like: Solved | None = None,
) -> CheckResult:
    """Check a bar, or the bar file at a path: every hole setting's rate, loads, stress, margin and life.

    A hole setting that cannot follow its travel fails, and `CheckResult.unsolved` says why; the others are judged.

    Units stand in the names of the result's numbers: N, mm, MPa, N/mm, deg, N m, cycles. `CheckResult.solved` has the
    solved states and stresses, from which pictures are made.

    Parameters
    ----------
    bar
        A bar as `read_bar` returns it, or the path of a bar file.
    case
        "roll", "one-wheel" or "parallel" judges that case alone. None judges roll, and the others as well where the
        bar file gives travel.one_wheel or travel.parallel.
    mixed
        Adds every unequal hole pair.
    timing
        Collects the seconds of each stage.
    mean_stress
        Mean-stress rule of lives and of the safety factor at the target, such as "gerber"; None: the bar's, Goodman.
    critical_plane
        Adds Findley's critical plane and the largest principal stress, over one-wheel states as well.
    quick
        Bends by closed forms instead of their three-dimensional fields: unsafe for bent tubes, and a warning says so.
    model
        "beam" or "solid", the swept three-dimensional model.
    refine
        Of the solid: 2 halves its cells.
    vtu
        File of the solid at the hole setting with the least yield margin: displacement and stress at full travel,
        margin, safety factor and life over its cycle (`barfem.check.solid_fields.SolidFields`).
    tell
        Called with what the solid is at.
    like
        What was solved of a bar before, by the beam: of one with the same shape it is quicker; numbers are the same.

    Raises
    ------
    InputError
        If the bar file, the case, the rule, the model or an option of it cannot be right.
    BarfemError
        A VTU file that cannot be written.
    """
    if not isinstance(bar, Bar):
        with timing.stage("read") if timing is not None else nullcontext():
            raw = read_bytes(bar)  # once: it may be a pipe
            checked = bar_from_dict(parse_toml(raw, file=str(bar)), source=str(bar))
            digest = hashlib.sha256(raw).hexdigest()
    else:
        checked, digest = bar, None
    if mean_stress is not None:
        checked = replace(checked, targets=replace(checked.targets, mean_stress=mean_stress))
    mean_stress_of(checked)  # refused before anything is solved
    cases, not_judged = cases_to_judge(checked, case)
    if model not in MODELS:
        raise InputError(f"there is no model {model!r}.", where="--model", expected=" or ".join(MODELS) + ".")
    if model == "beam" and vtu is not None:
        raise InputError("the beam has no VTU file.", where="--vtu", expected="--model solid beside it.")
    if model == "beam" and refine != 1.0:
        raise InputError("the beam is not refined.", where="--refine", expected="--model solid beside it.")
    if model == "solid" and quick:
        raise InputError(
            "the solid has no closed forms.", where="--quick", expected="--quick with the beam, or --model solid."
        )
    solved: Solved | None = None
    try:
        if model == "solid":
            from barfem.check.solid import as_solid, solve_solid

            solved = solve_solid(
                checked, cases=cases, mixed=mixed, timing=timing, one_wheel=critical_plane, refinement=refine, tell=tell
            )
            result = as_solid(check_solved(solved, timing=timing, critical_plane=critical_plane), solved)
        else:
            solved = solve_states(
                checked,
                cases=cases,
                mixed=mixed,
                timing=timing,
                one_wheel=critical_plane,
                bend_fields=not quick,
                like=like,
            )
            result = check_solved(solved, timing=timing, critical_plane=critical_plane)
    except NothingSolved as error:
        result = replace(check_unsolved(checked, error.unsolved), model=model)
    if vtu is not None:
        write_vtu_of(vtu, replace(result, solved=solved))
    shape = main_dimensions(checked)
    asked = look_twice(checked, shape)
    return replace(
        result,
        solved=solved,
        warnings=told_above(result.warnings, asked),
        described=result.described or describe(checked, shape),
        look_twice=asked,
        cases={name: describe_case(checked, name) for name in cases},
        cautions=(*result.cautions, *CAUTIONS),
        not_judged=not_judged,
        drawing=checked.drawing,
        revision=checked.revision,
        source=checked.source,
        input_sha256=digest or result.input_sha256,
        inputs=result.inputs
        or {item.name: getattr(checked, item.name) for item in fields(checked) if item.name != "tables"},
    )


def write_vtu_of(path: str | os.PathLike[str], result: CheckResult) -> SettingResult:
    """Write the solid at the hole setting with the least yield margin; returns that setting.

    Raises
    ------
    BarfemError
        The file cannot be written.
    """
    from barfem.check.solid_fields import write_solid

    setting = result.governing_for_stress
    write_solid(path, result.states, result.settings.index(setting))
    return setting


def cases_to_judge(bar: Bar, case: str | None) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Load cases to judge, and those left out because one was asked for by name.

    Raises
    ------
    InputError
        There is no such load case.
    """
    if case is None:
        return tuple(name for name, one in CASES.items() if one.asked_for(bar.travel)), ()
    case_named(case)
    # A case in which the bar may rightly feel nothing is missed only where the bar file asks for it.
    left_out = (one for name, one in CASES.items() if name != case and (one.asked_for(bar.travel) or not one.may_rest))
    return (case,), tuple(one.name for one in left_out)


def look_twice(bar: Bar, shape: Dimensions | None = None) -> tuple[str, ...]:
    """What does not look like an anti-roll bar, or like a slip of the pen, the likeliest first."""
    return tuple(odd_words(bar, shape or main_dimensions(bar)))


def describe(bar: Bar, shape: Dimensions | None = None) -> tuple[str, ...]:
    """What was checked, in lines of words: steel, section, the shape to hold against the drawing."""
    steel, section = bar.steel, bar.section
    body = f"round, {section.diameter_mm:g} mm diameter"
    if section.wall_mm is not None:
        body = f"tube, {section.diameter_mm:g} mm diameter, {section.wall_mm:g} mm wall, {section.bend_wall} in bends"
    strengths = f"yield {steel.yield_strength_MPa:.0f} MPa, tensile {steel.tensile_strength_MPa:.0f} MPa"
    surface = f"surface {steel.skin.title}"
    if section.wall_mm is not None:
        surface += f"; bore {steel.bore_skin.title}"
    *lines, mounts = shape_words(shape or main_dimensions(bar))
    return (
        f"{steel.grade}, {steel.condition}: {strengths}{' (typical, not minimum)' if steel.typical else ''}; {surface}",
        body,
        *lines,
        f"{mounts}; {held_words(bar)}",
    )


def describe_case(bar: Bar, case: str) -> str:
    """A load case and its cycle in words, travel in mm at the pickups."""
    found = CASES[case]
    return "; ".join(filter(None, (found.describe(bar.travel, bar.duty.ratio), found.rate_note(bar.travel))))
