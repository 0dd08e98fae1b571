"""Life in more than one number: survivals, blocks of the duty, yielding, peening, other criteria, the test to make."""

from __future__ import annotations

from barfem.check.lives import DutyLife
from barfem.check.local_yielding import yielding_words
from barfem.check.plan import plan_of, plan_words
from barfem.check.result import CheckResult, SettingResult
from barfem.model.sentences import with_capital
from barfem.show.lives import life_cell, life_ends, life_words, one_life
from barfem.show.numbers import NONE, whole
from barfem.show.parts import hole_name, settings_table
from barfem.show.tables import Cell, Entry, Table, column, table, words

__all__ = ["blocks", "lasting", "paragraphs", "planes", "shortest_duty", "survivals"]


def paragraphs(result: CheckResult) -> list[str]:
    """What else there is to say of the governing hole setting's life, in full sentences."""
    setting = result.governing_for_life
    fatigue = setting.fatigue
    lines = []
    if fatigue.mean_stress_rule != "goodman":
        lines.append(
            f"Lives and safety factors at the target are by {fatigue.mean_stress_rule}; the safety factor against the "
            "endurance limit stays Goodman's."
        )
    if fatigue.peening_holds_to_MPa is not None:
        holds = (
            f"{whole(fatigue.peening_holds_to_MPa)} MPa of load (von Mises), where load and residual stress together "
            "reach the cyclic yield"
        )
        lines.append(
            f"Peening earns nothing at this place: the load alone yields; its residual stress relaxes from {holds} on."
            if fatigue.peening_lost
            else f"Peening counts at this place with {whole(fatigue.residual_stress_MPa)} MPa: its residual stress "
            "holds up "
            f"to {holds}, and what is above that takes it away gradually."
        )
    local = fatigue.strain_life
    if local is not None:
        how = yielding_words(fatigue)
        lines.append(
            f"{with_capital(how)} ({whole(local.elastic_max_MPa)} MPa elastic at most against a cyclic yield of "
            f"{whole(local.cyclic_yield_MPa)} MPa). Strain-life by Neuber's rule and Smith, Watson and Topper: strain "
            f"amplitude {100.0 * local.strain_amplitude:.2f} %, stress amplitude "
            f"{whole(local.stress_amplitude_MPa)} MPa, {life_words(local.life)}; `passes` asks this of the target "
            f"too. Constants: {local.source}. Cyclic curve: {local.curve_source}."
        )
    words = _first_travels(result)
    if words:
        lines.append(words)
    if result.target_cycles_judged and (fatigue.runout or fatigue.life_cycles is not None):
        lines.append(plan_words(plan_of(result)))
    return lines


def _first_travels(result: CheckResult) -> str:
    """The worst first travel, where it is not elastic."""
    order = ("elastic", "local", "set")
    known = [(setting, setting.first_travel) for setting in result.settings if setting.first_travel is not None]
    worst = max(known, key=lambda item: (order.index(item[1].kind), item[1].set_mm or 0.0), default=None)
    if worst is None or worst[1].kind == "elastic":
        return ""
    return f"First full travel, hole {worst[0].holes}: {worst[1].words}."


def survivals(result: CheckResult) -> Table | None:
    """Lives at 50, 90 and 99 % survival of every hole setting."""
    shares = next(([item.survival for item in s.fatigue.lives] for s in result.settings if s.fatigue.lives), None)
    if shares is None:
        return None

    def life_at(number: int, share: float) -> Entry:
        def cell(setting: SettingResult) -> Cell:
            if not setting.fatigue.lives:
                return Cell(NONE)
            item = setting.fatigue.lives[number]
            return Cell(one_life(item.life, runout=item.runout), item.life)

        return column(f"{100 * share:g} %\nsurvival", "", cell, key=f"life_at_{100 * share:g}_percent_cycles")

    return settings_table(
        result,
        "survivals",
        "Life at several survivals, cycles of full travel",
        [life_at(number, share) for number, share in enumerate(shares)],
        "50 % is the median. Rounded down.",
    )


def shortest_duty(result: CheckResult) -> tuple[SettingResult, DutyLife] | None:
    """The hole setting with the shortest life in repeats of the blocks, and that life; None without blocks."""
    known = [(setting, setting.fatigue.duty) for setting in result.settings if setting.fatigue.duty is not None]
    return min(known, key=lambda item: item[1].life.order, default=None)


def lasting(duty: DutyLife, survival: float) -> str:
    """Life in repeats, in words."""
    share = f"{100 * survival:g} %"
    if duty.runout_at_survival:
        end = "no end" if duty.reaches_target else f"{one_life(duty.runout_repeats, unit='repeats')} shown, no more,"
        return f"{end} at {share} survival: no cycle lies above the endurance limit"
    if duty.life_at_survival_repeats is None:
        return life_words(duty.life)
    low, median = life_ends(duty.life)
    return f"{low} ({share} survival) to {median} (median)"


def blocks(result: CheckResult) -> Table | None:
    """The duty's blocks at the hole setting with the shortest life in repeats."""
    found = shortest_duty(result)
    if found is None:
        return None
    setting, duty = found
    total = duty.damage_per_repeat or 0.0
    return table(
        "blocks",
        f"The duty's blocks, hole {setting.holes}, {setting.case}",
        list(enumerate(duty.blocks, start=1)),
        [
            words("Block", lambda row: str(row[0])),
            column("Travel", "mm", lambda row: row[1].pickup_mm),
            column("Ratio", "", lambda row: row[1].ratio, show="{:g}".format),
            column("Cycles", "", lambda row: row[1].cycles, show=whole),
            column("Ampl.", "MPa", lambda row: row[1].amplitude_MPa, show=whole),
            column("Mean", "MPa", lambda row: row[1].mean_MPa, show=whole),
            column("Damage of\none repeat", "", lambda row: row[1].damage, show="{:.2g}".format),
            column(
                "Share",
                "%",
                lambda row: None if row[1].damage is None or total <= 0.0 else 100.0 * row[1].damage / total,
                show="{:.0f}".format,
            ),
        ],
        f"Decided at {duty.where}. Life in repeats: {lasting(duty, result.survival)}; target {duty.target_repeats:g}. "
        f"Damage at {100 * result.survival:g} % survival, failure at a sum of {duty.critical_sum:g}.",
    )


def planes(result: CheckResult) -> Table | None:
    """Where and how long by other criteria, for every hole setting."""
    rows = [(setting, item) for setting in result.settings for item in setting.critical_planes]
    if not rows:
        return None
    return table(
        "planes",
        "By other criteria",
        rows,
        [
            words("Hole", lambda row: hole_name(row[0])),
            words("Criterion", lambda row: row[1].criterion),
            words("Where", lambda row: row[1].where),
            column("Reversed\nampl.", "MPa", lambda row: row[1].equivalent_amplitude_MPa, show=whole),
            column("Plane", "deg", lambda row: f"{row[1].angle_deg:.0f}/{row[1].tilt_deg:.0f}"),
            column("Median life\ncycles", "", lambda row: life_cell(row[1].life)),
        ],
        "Over rest, both ends of the cycle, and either wheel alone. Plane: its normal, from the bar's axis towards its "
        "circumference / from the surface's normal.",
    )
