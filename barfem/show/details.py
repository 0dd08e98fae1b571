"""The details below the verdict: the governing places in full, and what the bar, its mounts and links do."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from barfem.check.fatigue import Fatigue
from barfem.check.result import CheckResult, SettingResult
from barfem.check.setting_records import MountReaction
from barfem.check.weak_places import by_margin
from barfem.show import end_details, life_details
from barfem.show.lives import life_words
from barfem.show.numbers import ratio, signed, significant, whole
from barfem.show.parts import NOTHING_GOVERNS, hole_name, place, settings_table
from barfem.show.tables import Cell, Entry, Table, column, table, words

__all__ = ["TOPICS", "elsewhere_words", "governing", "place", "solution", "tables", "topic_table"]


def governing(result: CheckResult) -> list[str]:
    """The governing hole setting and place for stress and for life, in full sentences."""
    if result.feels_nothing:
        return [NOTHING_GOVERNS]
    stress, by_life = result.governing_for_stress, result.governing_for_life
    peak = stress.peak
    worst = next(iter(by_margin(stress.places)), None)
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
        goodman = _factor(fatigue.goodman_safety_factor, result.goodman_target)
        judged = "judged" if result.goodman_target is not None else "shown, not judged"
        least = fatigue.least_goodman_safety_factor
        elsewhere = fatigue.least_goodman_where
        if result.goodman_target is not None and least is not None and elsewhere not in (None, fatigue.where):
            judged = f"judged is the least, {ratio(least, result.goodman_target)}: {elsewhere}"
        parts.append(
            f"Endurance limit there {whole(fatigue.endurance_limit_MPa)} MPa (amplitude at zero mean): Goodman safety "
            f"factor {goodman} ({judged})."
        )
    if fatigue.strength_at_target_MPa is not None:
        parts.append(
            f"Strength at {whole(result.target_cycles)} cycles {whole(fatigue.strength_at_target_MPa)} MPa: safety "
            f"factor {_factor(fatigue.safety_factor_at_target, 1.0)}{elsewhere_words(fatigue)}."
        )
    if fatigue.factors:
        parts.append(
            "Built up from (MPa, mm, factors): "
            + "; ".join(f"{name} {significant(value)}" for name, value in fatigue.factors.items())
            + "."
        )
    return " ".join(parts)


def elsewhere_words(fatigue: Fatigue) -> str:
    """Where the safety factor is, if not where life is decided."""
    at = fatigue.factor_elsewhere
    return f", which another place has, where more load breaks the bar first ({at})" if at else ""


def _factor(value: float | None, target: float | None) -> str:
    return "none" if value is None else ratio(value, target)


def _life_sentence(fatigue: Fatigue, result: CheckResult) -> str:
    skin = "bore" if fatigue.surface == "bore" else "surface"
    return f"Life with this {skin}{_named(fatigue.surface_condition)}: {life_words(fatigue.life, result.survival)}."


def _surfaces(fatigue: Fatigue) -> str:
    parts = []
    for word, other in (("better", fatigue.better_surface), ("worse", fatigue.worse_surface)):
        if other is not None:
            parts.append(f"next {word}{_named(other.surface)}: {life_words(other.life)}")
    skin = "bore" if fatigue.surface == "bore" else "surface"
    return (f"With another {skin}, " + "; ".join(parts) + ".") if parts else ""


def _named(surface: str | None) -> str:
    return f" ({surface})" if surface else ""


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


def tables(result: CheckResult) -> list[Table]:
    """Each table that the result has numbers for."""
    return [made for topic in TOPICS if (made := topic_table(result, topic)) is not None]


def topic_table(result: CheckResult, topic: str) -> Table | None:
    """The table of one of `TOPICS`; None where the result has no numbers for it."""
    return _MAKERS[topic](result)


def _where(result: CheckResult) -> Table:
    """Where each hole setting is worst, for stress and for life, with the amplitude and mean that decide it."""

    def for_life(setting: SettingResult) -> str:
        peak, fatigue = setting.peak, setting.fatigue
        same = fatigue.where == peak.where and fatigue.surface == peak.surface
        return "the same place" if same else place(fatigue.where, fatigue.surface)

    return settings_table(
        result,
        "where",
        "Where each hole setting is worst",
        [
            words("Where the peak stress is", lambda s: place(s.peak.where, s.peak.surface)),
            words("Where life is decided", for_life),
            column("Stress\nampl.", "MPa", lambda s: s.fatigue.amplitude_MPa, show=whole),
            column("Mean", "MPa", lambda s: s.fatigue.mean_MPa, show=whole),
        ],
        "Amplitude and mean: von Mises, over one cycle, where life is decided, concentration included.",
    )


def _travel(result: CheckResult) -> Table | None:
    return _some(
        result,
        "travel",
        "The bar at full travel",
        [
            column("Wheel rate", "N/mm", "wheel_rate_N_per_mm", optional=True),
            column("Roll rate", "N m/deg", "roll_rate_Nm_per_deg", optional=True),
            column("Twist", "deg", "twist_deg", optional=True),
            column("Torque", "N m", "torque_Nm", show=whole, optional=True),
            column("Energy", "J", "strain_energy_J", key="energy_J", optional=True),
        ],
        "Roll rate: couple of the pickups' forces along their travel, per degree that the travel makes over the "
        "distance of the joints. Twist is that between the outermost mounts, torque that at the middle, energy that of "
        "bar, mounts and links.",
    )


def _angles(result: CheckResult) -> Table | None:
    def angle(heading: str, name: str) -> Entry:
        return column(heading, "", name, show="{:.1f}".format, optional=True)

    return _some(
        result,
        "angles",
        "How far arms, links and joints turn from rest, deg",
        [
            angle("Arm\nleft", "arm_rotation_left_deg"),
            angle("Arm\nright", "arm_rotation_right_deg"),
            angle("Link\nleft", "link_lean_left_deg"),
            angle("Link\nright", "link_lean_right_deg"),
            angle("Joint\nleft", "joint_angle_left_deg"),
            angle("Joint\nright", "joint_angle_right_deg"),
        ],
        "The greater of both ends of the cycle. A joint must allow its angle both ways, beyond its angle at rest.",
    )


def _compliance(result: CheckResult) -> Table | None:
    def share(heading: str, name: str) -> Entry:
        def get(setting: SettingResult) -> float | None:
            return None if setting.compliance is None else 100.0 * float(getattr(setting.compliance, name))

        return column(heading, "", get, show="{:.1f}".format, key=f"{name}_percent", optional=True)

    return _some(
        result,
        "compliance",
        "Whose share of the tip deflection, %",
        [
            share("Torsion", "torsion"),
            share("Arm\nbending", "arm_bending"),
            share("Centre\nbending", "centre_bending"),
            share("Shear,\naxial", "shear_and_axial"),
            share("Mounts", "mounts"),
            share("Links", "links"),
        ],
    )


def _links(result: CheckResult) -> Table | None:
    def pair(heading: str, at: str) -> Entry:
        def cell(setting: SettingResult) -> str | None:
            for state in setting.states:
                if state.at == at:
                    return f"{signed(state.link_force_left_N)} / {signed(state.link_force_right_N)}"
            return None

        return column(heading, "", cell, key="", optional=True)

    return _some(
        result,
        "links",
        "Link forces left / right, N (+ tension, - compression)",
        [pair("At rest", "rest"), pair("At full travel", "travel"), pair("Other end of cycle", "other end")],
        "Joints, pickups and their bolts must hold these.",
    )


def _mounts(result: CheckResult) -> Table | None:
    by_mount: dict[int, list[tuple[SettingResult, MountReaction]]] = {}
    for setting in result.settings:
        for reaction in setting.mount_reactions:
            by_mount.setdefault(reaction.mount, []).append((setting, reaction))
    if not by_mount:
        return None
    several = len({setting.case for setting in result.settings}) > 1
    Found = list[tuple[SettingResult, MountReaction]]

    def worst(heading: str, unit: str, name: str) -> tuple[Entry, Entry]:
        def found(rows: Found) -> tuple[SettingResult, MountReaction, float]:
            setting, reaction = max(rows, key=lambda item: abs(getattr(item[1], name)))
            return setting, reaction, abs(getattr(reaction, name))

        def value(rows: Found) -> Cell:
            greatest = found(rows)[2]
            return Cell(whole(greatest) if greatest >= 1.0 else significant(greatest, 1), greatest)

        def at(rows: Found) -> str | None:
            setting, reaction, greatest = found(rows)
            where = f"{hole_name(setting)}, {getattr(reaction, name.rsplit('_', 1)[0] + '_at')}"
            return (f"{where}, {setting.case}" if several else where) if greatest > 0.0 else None

        return column(heading, unit, value, key=name), words("at hole", at, key=f"{name}_at")

    return table(
        "mounts",
        "Mount reactions, worst of all hole settings and states",
        [by_mount[mount] for mount in sorted(by_mount)],
        [
            words("Mount, mm\nfrom middle", lambda rows: f"{rows[0][1].from_middle_mm:+z.0f}"),
            *worst("Radial", "N", "radial_N"),
            *worst("Axial", "N", "axial_N"),
            *worst("Moment", "N m", "moment_Nm"),
        ],
        "Clamps and their bolts must hold these: radial across the bar, axial along it.",
    )


def _some(result: CheckResult, name: str, title: str, columns: Sequence[Entry], *remarks: str) -> Table | None:
    """A table with a row a hole setting, where it says more than their names."""
    made = settings_table(result, name, title, columns, *remarks)
    return made if any(not each.text and each.drawn for each in made.columns) else None


def _from_middle(distance_mm: float) -> str:
    side = "left" if distance_mm > 0 else "right"
    return "at the middle" if abs(distance_mm) < 0.5 else f"{abs(distance_mm):.0f} mm {side} of the middle"


def _state(at: str) -> str:
    return {"travel": "full travel", "other end": "the other end of the cycle"}.get(at, at)


_MAKERS: dict[str, Callable[[CheckResult], Table | None]] = {
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
