"""The details below the verdict: the governing places in full, and what the bar, its mounts and links do."""

from __future__ import annotations

from collections.abc import Callable

from rich.table import Table

from barfem.check.result import CheckResult, Fatigue, MountReaction, SettingResult, SurfaceLife
from barfem.show import end_details, life_details
from barfem.show.console import plain_table
from barfem.show.numbers import life, life_band, ratio, signed, significant, whole

__all__ = ["TOPICS", "governing", "place", "solution", "table", "tables"]

Titled = tuple[str, Table, str]


def place(where: str, surface: str) -> str:
    """A place in words; the outside surface goes without saying, the bore does not."""
    return where if surface in ("", "outside") else f"{where} ({surface})"


def governing(result: CheckResult) -> list[str]:
    """The governing hole setting and place for stress and for life, in full sentences."""
    stress, by_life = result.governing_for_stress, result.governing_for_life
    peak = stress.peak
    worst = min(
        (item for item in stress.places if item.yield_margin is not None),
        key=lambda item: round(item.yield_margin, 5) if item.yield_margin is not None else 0.0,
        default=None,
    )
    text = (
        f"Stress: hole {stress.holes}, {stress.case}. Peak von Mises {whole(peak.von_mises_MPa)} MPa at "
        f"{place(peak.where, peak.surface)}; station {peak.station_mm:.0f} mm from the right tip, "
        f"{_from_middle(peak.from_middle_mm)}; at {_state(peak.at)}. Yield margin "
        f"{ratio(stress.yield_margin, result.yield_margin_target)} (0.25 means that yield strength is 1.25 times the "
        "stress)"
    )
    if worst is not None and worst.where != peak.where and worst.yield_strength_MPa is not None:
        text += (
            f", least at {place(worst.where, worst.surface)}: {whole(worst.von_mises_MPa)} MPa against "
            f"{whole(worst.yield_strength_MPa)} MPa"
        )
    lines = [text + "."]
    fatigue = by_life.fatigue
    text = (
        f"Life: hole {by_life.holes}, {by_life.case}, at {place(fatigue.where, fatigue.surface)}; station "
        f"{fatigue.station_mm:.0f} mm. Stress amplitude {whole(fatigue.amplitude_MPa)} MPa, mean "
        f"{whole(fatigue.mean_MPa)} MPa (von Mises, concentration included"
    )
    if fatigue.residual_stress_MPa:
        text += f"; beside the mean of the load a residual stress of {signed(fatigue.residual_stress_MPa)} MPa"
    lines.append(text + ").")
    lines.append(_strength(fatigue, result))
    lines.append(f"{_life_sentence(fatigue, result)} {_surfaces(fatigue)}".strip())
    lines += life_details.paragraphs(result)
    return [line for line in lines if line]


def _strength(fatigue: Fatigue, result: CheckResult) -> str:
    parts = []
    if fatigue.endurance_limit_MPa is not None:
        goodman = (
            "none"
            if fatigue.goodman_safety_factor is None
            else ratio(fatigue.goodman_safety_factor, result.goodman_target)
        )
        judged = "judged" if result.goodman_target is not None else "shown, not judged"
        parts.append(
            f"Endurance limit there {whole(fatigue.endurance_limit_MPa)} MPa (amplitude at zero mean): Goodman safety "
            f"factor {goodman} ({judged})."
        )
    if fatigue.strength_at_target_MPa is not None:
        parts.append(
            f"Strength at {whole(result.target_cycles)} cycles {whole(fatigue.strength_at_target_MPa)} MPa: safety "
            f"factor {_factor(fatigue.safety_factor_at_target, 1.0)}."
        )
    if fatigue.factors:
        parts.append(
            "Built up from (MPa, mm, factors): "
            + "; ".join(f"{name} {significant(value)}" for name, value in fatigue.factors.items())
            + "."
        )
    return " ".join(parts)


def _factor(value: float | None, target: float | None) -> str:
    return "none" if value is None else ratio(value, target)


def _life_sentence(fatigue: Fatigue, result: CheckResult) -> str:
    return f"Life with this surface{_named(fatigue.surface_condition)}: {_life_words(fatigue, result.survival)}."


def _surfaces(fatigue: Fatigue) -> str:
    parts = []
    for word, other in (("better", fatigue.better_surface), ("worse", fatigue.worse_surface)):
        if other is not None:
            parts.append(f"next {word}{_named(other.surface)}: {_life_words(other)}")
    return ("With another surface, " + "; ".join(parts) + ".") if parts else ""


def _named(surface: str | None) -> str:
    return f" ({surface})" if surface else ""


def _life_words(item: Fatigue | SurfaceLife, survival: float | None = None) -> str:
    at_survival = item.life_at_survival_cycles
    if item.runout:
        knee = getattr(item, "knee_cycles", None)
        beyond = "beyond the knee" + (f", over {whole(knee)} cycles" if knee is not None else "")
        return beyond if at_survival is None else f"{life(at_survival)} cycles to {beyond}"
    if item.life_cycles is None or at_survival is None:
        return f"none ({item.reason or 'no reason was recorded'})"
    scale = "" if survival is None else f" ({100 * survival:g} % survival to median)"
    return f"{life_band(at_survival, item.life_cycles)} cycles{scale}"


def solution(result: CheckResult) -> list[str]:
    """How the numbers were reached: mesh, iterations, residuals, and which input they belong to."""
    lines = []
    mesh, solver = result.mesh, result.solver
    if mesh is not None:
        lines.append(f"Mesh of each hole setting: {mesh.elements} elements, {mesh.unknowns} unknowns.")
    if solver is not None:
        lines.append(
            f"{solver.states_solved} states, {solver.load_steps} load steps, {solver.newton_iterations} Newton "
            f"iterations; residuals left: force {solver.force_residual:.0e}, moment {solver.moment_residual:.0e}, "
            f"link length {solver.link_length_residual:.0e}."
        )
    if result.input_sha256 is not None:
        lines.append(f"Bar file {result.source or ''} (SHA-256 begins {result.input_sha256[:12]}).".replace("  ", " "))
    return lines


def tables(result: CheckResult) -> list[Titled]:
    """(title, table, remark) of each table that the result has numbers for."""
    return [made for topic in TOPICS if (made := table(result, topic)) is not None]


def table(result: CheckResult, topic: str) -> Titled | None:
    """The table of one of `TOPICS`; None where the result has no numbers for it."""
    return _MAKERS[topic](result)


def _rows(
    title: str,
    result: CheckResult,
    columns: dict[str, Callable[[SettingResult], str | None]],
    remark: str,
) -> Titled | None:
    """A table with a row a hole setting; a column that no hole setting has a number for is left out."""
    cells = {heading: [make(setting) for setting in result.settings] for heading, make in columns.items()}
    kept = {heading: column for heading, column in cells.items() if any(cell is not None for cell in column)}
    if not kept:
        return None
    several = len({setting.case for setting in result.settings}) > 1
    table = plain_table("Hole", *(["Case"] if several else []), *kept, first_left=2 if several else 1)
    for i, setting in enumerate(result.settings):
        names = [setting.left if setting.left == setting.right else f"{setting.left}/{setting.right}"]
        table.add_row(*names, *([setting.case] if several else []), *(column[i] or "-" for column in kept.values()))
    return title, table, remark


def _where(result: CheckResult) -> Titled:
    """Where each hole setting is worst, for stress and for life, with the amplitude and mean that decide it."""
    several = len({setting.case for setting in result.settings}) > 1
    table = plain_table(
        "Hole",
        *(["Case"] if several else []),
        "Where the peak stress is",
        "Where life is decided",
        "Stress\nampl.\nMPa",
        "Mean\nMPa",
        first_left=4 if several else 3,
    )
    for setting in result.settings:
        peak, fatigue = setting.peak, setting.fatigue
        same = fatigue.where == peak.where and fatigue.surface == peak.surface
        table.add_row(
            setting.left if setting.left == setting.right else f"{setting.left}/{setting.right}",
            *([setting.case] if several else []),
            place(peak.where, peak.surface),
            "the same place" if same else place(fatigue.where, fatigue.surface),
            whole(fatigue.amplitude_MPa),
            whole(fatigue.mean_MPa),
        )
    remark = "Amplitude and mean: von Mises, over one cycle, where life is decided, concentration included."
    return "Where each hole setting is worst", table, remark


def _travel(result: CheckResult) -> Titled | None:
    return _rows(
        "The bar at full travel",
        result,
        {
            "Wheel rate\nN/mm": lambda s: _number(s.wheel_rate_N_per_mm),
            "Roll rate\nN m/deg": lambda s: _number(s.roll_rate_Nm_per_deg),
            "Twist\ndeg": lambda s: _number(s.twist_deg),
            "Torque\nN m": lambda s: None if s.torque_Nm is None else whole(s.torque_Nm),
            "Energy\nJ": lambda s: _number(s.strain_energy_J),
        },
        "Roll rate: couple of the link forces per degree of the line that joins the joints. Twist is that between the "
        "outermost mounts, torque that at the middle, energy that of bar, mounts and links.",
    )


def _angles(result: CheckResult) -> Titled | None:
    return _rows(
        "How far arms, links and joints turn from rest, deg",
        result,
        {
            "Arm\nleft": lambda s: _degrees(s.arm_rotation_left_deg),
            "Arm\nright": lambda s: _degrees(s.arm_rotation_right_deg),
            "Link\nleft": lambda s: _degrees(s.link_lean_left_deg),
            "Link\nright": lambda s: _degrees(s.link_lean_right_deg),
            "Joint\nleft": lambda s: _degrees(s.joint_angle_left_deg),
            "Joint\nright": lambda s: _degrees(s.joint_angle_right_deg),
        },
        "The greater of both ends of the cycle. A joint must allow its angle both ways, beyond its angle at rest.",
    )


def _compliance(result: CheckResult) -> Titled | None:
    def share(name: str) -> Callable[[SettingResult], str | None]:
        return lambda s: None if s.compliance is None else f"{100.0 * getattr(s.compliance, name):.1f}"

    return _rows(
        "Whose share of the tip deflection, %",
        result,
        {
            "Torsion": share("torsion"),
            "Arm\nbending": share("arm_bending"),
            "Centre\nbending": share("centre_bending"),
            "Shear,\naxial": share("shear_and_axial"),
            "Mounts": share("mounts"),
            "Links": share("links"),
        },
        "",
    )


def _links(result: CheckResult) -> Titled | None:
    def pair(at: str) -> Callable[[SettingResult], str | None]:
        def cell(setting: SettingResult) -> str | None:
            for state in setting.states:
                if state.at == at:
                    return f"{signed(state.link_force_left_N)} / {signed(state.link_force_right_N)}"
            return None

        return cell

    return _rows(
        "Link forces left / right, N (+ tension, - compression)",
        result,
        {"At rest": pair("rest"), "At full travel": pair("travel"), "Other end of cycle": pair("other end")},
        "Joints, pickups and their bolts must hold these.",
    )


def _mounts(result: CheckResult) -> Titled | None:
    by_mount: dict[int, list[tuple[SettingResult, MountReaction]]] = {}
    for setting in result.settings:
        for reaction in setting.mount_reactions:
            by_mount.setdefault(reaction.mount, []).append((setting, reaction))
    if not by_mount:
        return None
    several = len({setting.case for setting in result.settings}) > 1

    def worst(found: list[tuple[SettingResult, MountReaction]], name: str) -> list[str]:
        setting, reaction = max(found, key=lambda item: abs(getattr(item[1], name)))
        hole = setting.left if setting.left == setting.right else f"{setting.left}/{setting.right}"
        value = abs(getattr(reaction, name))
        at = f"{hole}, {getattr(reaction, name.rsplit('_', 1)[0] + '_at')}"
        shown = whole(value) if value >= 1.0 else significant(value, 1)
        return [shown, (f"{at}, {setting.case}" if several else at) if value > 0.0 else "-"]

    table = plain_table(
        "Mount, mm\nfrom middle", "Radial\nN", "at hole", "Axial\nN", "at hole", "Moment\nN m", "at hole"
    )
    for column in (2, 4, 6):
        table.columns[column].justify = "left"
    for mount in sorted(by_mount):
        found = by_mount[mount]
        table.add_row(
            f"{found[0][1].from_middle_mm:+.0f}",
            *worst(found, "radial_N"),
            *worst(found, "axial_N"),
            *worst(found, "moment_Nm"),
        )
    return (
        "Mount reactions, worst of all hole settings and states",
        table,
        "Clamps and their bolts must hold these: radial across the bar, axial along it.",
    )


def _from_middle(distance_mm: float) -> str:
    side = "left" if distance_mm > 0 else "right"
    return "at the middle" if abs(distance_mm) < 0.5 else f"{abs(distance_mm):.0f} mm {side} of the middle"


def _state(at: str) -> str:
    return {"travel": "full travel", "other end": "the other end of the cycle"}.get(at, at)


def _number(value: float | None) -> str | None:
    return None if value is None else significant(value)


def _degrees(value: float | None) -> str | None:
    return None if value is None else f"{value:.1f}"


_MAKERS: dict[str, Callable[[CheckResult], Titled | None]] = {
    "where": _where,
    "places": end_details.worst_for_stress,
    "life places": end_details.worst_for_life,
    "ends": end_details.ends,
    "holes": end_details.holes,
    "survivals": life_details.survivals,
    "blocks": life_details.blocks,
    "planes": life_details.planes,
    "travel": _travel,
    "angles": _angles,
    "compliance": _compliance,
    "links": _links,
    "mounts": _mounts,
}
TOPICS = tuple(_MAKERS)
"""What there are tables of, in the order in which they are printed."""
