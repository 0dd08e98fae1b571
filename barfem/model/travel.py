"""[travel], [duty] and [targets]: articulation, how often, and what passes."""

from __future__ import annotations

from barfem.model.bar import Block, Duty, Targets, Travel
from barfem.model.errors import InputError
from barfem.model.grouped import grouped
from barfem.model.notes import Notes
from barfem.model.odd_shape import MOST_MOTION_RATIO
from barfem.model.schema import DutyTable, TargetsTable, TravelTable
from barfem.model.survival import checked_survival
from barfem.model.warned import Effect

__all__ = ["read_duty", "read_targets", "read_travel"]

_LEAST_TRAVEL_MM = 1e-6  # below it the forces of a travel drown in rounding
_FORMS = "pickup = 40.0, or wheel = 65.0 with motion_ratio = 0.62, or up = 45.0 with down = 35.0."


def read_travel(table: TravelTable, *, notes: Notes) -> Travel:
    """Pickup travel in mm, however the file gives it.

    Raises
    ------
    InputError
        No travel, two travels, or wheel travel without its motion ratio.
    """
    if table.pickup is not None and table.wheel is not None:
        raise InputError("both pickup and wheel travel are given.", where="[travel]", expected=_FORMS)
    if table.wheel is not None and table.motion_ratio is None:
        raise InputError(
            "wheel travel is given without motion_ratio.",
            where="[travel] motion_ratio",
            expected="motion_ratio = pickup travel / wheel travel, such as 0.62.",
        )
    travel = table.pickup
    if table.wheel is not None and table.motion_ratio is not None:
        travel = table.wheel * table.motion_ratio
        if table.up is not None and table.down is not None:
            notes.warn(
                "[travel] wheel is not used: up and down are both given, and they are travel of the pickup. Leave out "
                "wheel, or up and down.",
                Effect.TRAVEL,
            )
        else:
            notes.assume(
                f"Pickup travel is wheel travel x motion ratio: {table.wheel:g} x {table.motion_ratio:g} = "
                f"{travel:g} mm."
            )
    elif table.up is not None and table.down is not None and travel is not None:
        notes.warn(
            "[travel] pickup is not used: up and down are both given. Leave out pickup, or up and down.", Effect.TRAVEL
        )
    if travel is None and (table.up is None or table.down is None):
        only = "up" if table.up is not None else "down" if table.down is not None else None
        raise InputError(
            f"{only} is given alone." if only else "no travel is given.", where="[travel] pickup", expected=_FORMS
        )
    up = table.up if table.up is not None else travel
    down = table.down if table.down is not None else travel
    if up is None or down is None:  # excluded above; tells the type checker so
        raise InputError("no travel is given.", where="[travel] pickup", expected=_FORMS)
    for key, value in (("up", up), ("down", down), ("one_wheel", table.one_wheel), ("parallel", table.parallel)):
        if value is not None and value < _LEAST_TRAVEL_MM:
            raise InputError(
                f"a travel of {value:g} mm at the pickup is none.",
                where=f"[travel] {key if getattr(table, key) is not None else 'pickup' if table.pickup else 'wheel'}",
                expected=f"{_LEAST_TRAVEL_MM:g} mm or more; the rate at rest is printed in any case.",
            )
    if table.wheel is not None:
        for key in ("up", "down", "one_wheel", "parallel"):
            if getattr(table, key) is not None:
                notes.warn(
                    f"[travel] {key} = {getattr(table, key):g} mm is taken as travel of the pickup, not of the wheel.",
                    Effect.TRAVEL,
                )
    if table.motion_ratio is not None and table.motion_ratio > MOST_MOTION_RATIO:
        notes.warn(
            f"[travel] motion_ratio {table.motion_ratio:g} is above {MOST_MOTION_RATIO:g}: it is pickup travel / wheel "
            "travel, not the other way round.",
            Effect.TRAVEL,
            about="motion_ratio",
        )
    notes.assume(
        f"Travel is each pickup's own movement from rest along [travel] direction: {up:g} mm up, {down:g} mm down."
    )
    if "direction" not in table.model_fields_set:
        notes.assume("Travel goes straight up, [travel] direction = [0, 0, 1] (default: none is given).")
    one_wheel = up if table.one_wheel is None else table.one_wheel
    return Travel(up, down, one_wheel, table.direction, table.motion_ratio, table.one_wheel is not None, table.parallel)


def read_duty(table: DutyTable, *, travel: Travel, notes: Notes) -> Duty:
    """Cycles, ratio and blocks; defaults are told.

    Raises
    ------
    InputError
        A ratio outside -1 <= ratio < 1, or an empty list of blocks.
    """
    default = Duty()
    ratio = _ratio(default.ratio if table.ratio is None else table.ratio, where="[duty] ratio")
    cycles = default.target_cycles if table.target_cycles is None else table.target_cycles
    if cycles < 1.0:
        raise InputError(
            f"target_cycles {cycles:g} is less than one cycle.", where="[duty] target_cycles", expected="1 or more."
        )
    if table.target_cycles is None and table.blocks is None:
        notes.assume(
            f"[duty] target_cycles is not given: {grouped(cycles)} of full articulation (common practice, no source)."
        )
    if table.ratio is None:
        notes.assume(f"[duty] ratio is not given: {ratio:g}, full travel both ways (the most that it can be).")
    if table.blocks is not None and not table.blocks:
        raise InputError(
            "blocks is an empty list.",
            where="[duty] blocks",
            expected="blocks = [{ pickup = 40.0, cycles = 20000 }, ...], or no blocks at all.",
        )
    blocks = tuple(
        Block(
            block.pickup,
            block.cycles,
            ratio if block.ratio is None else _ratio(block.ratio, where=f"[duty] blocks {number}, ratio"),
        )
        for number, block in enumerate(table.blocks or (), start=1)
    )
    if table.repeats is not None and not blocks:
        notes.warn("[duty] repeats has no effect without blocks.", Effect.NOTHING)
    repeats = default.repeats if table.repeats is None else table.repeats
    if blocks:
        notes.assume(
            f"[duty] blocks: one list is one repeat of the duty, and the target is {repeats:g} "
            f"repeat{'s' if repeats != 1.0 else ''}"
            + (
                "; target_cycles of full articulation is judged as well."
                if table.target_cycles is not None
                else "; full articulation is shown, not judged (target_cycles is not given)."
            )
        )
    limit = min(travel.up_mm, travel.down_mm)
    for number, block in enumerate(blocks, start=1):
        if block.pickup_mm > limit + 1e-9:
            notes.warn(
                f"[duty] blocks {number}: its pickup travel of {block.pickup_mm:g} mm is more than the maximum "
                f"articulation of {limit:g} mm in [travel], to which stress and yield are judged.",
                Effect.TRAVEL,
            )
    return Duty(cycles, ratio, blocks, repeats, table.target_cycles is not None or not blocks)


def _ratio(ratio: float, *, where: str) -> float:
    if not -1.0 <= ratio < 1.0:
        raise InputError(
            f"ratio {ratio:g} is not the other end of a cycle over its full travel.",
            where=where,
            expected="-1 <= ratio < 1: -1 for full travel both ways, 0 from rest to full travel.",
        )
    return ratio


def read_targets(table: TargetsTable, *, duty: Duty, notes: Notes) -> Targets:
    """What passes is judged against; defaults are told.

    Raises
    ------
    InputError
        A survival that is no probability.
    """
    default = Targets()
    survival = default.survival if table.survival is None else table.survival
    checked_survival(survival, where="[targets] survival")
    margin = default.yield_margin if table.yield_margin is None else table.yield_margin
    if table.yield_margin is None:
        notes.assume(f"[targets] yield_margin is not given: {margin:g} (common practice, no source).")
    if table.survival is None:
        notes.assume(f"[targets] survival is not given: {100.0 * survival:.0f} % (common practice, no source).")
    if table.goodman_safety_factor is None:
        notes.assume("[targets] goodman_safety_factor is not given: shown, not judged.")
    if table.critical_sum is not None and not duty.blocks:
        notes.warn("[targets] critical_sum has no effect without [duty] blocks, but in barfem duty.", Effect.NOTHING)
    return Targets(margin, survival, table.goodman_safety_factor, table.critical_sum)
