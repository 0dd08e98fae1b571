"""What `barfem balance` prints: the pairs, nearest to the target first, what one hole does, and where to start."""

from __future__ import annotations

from collections.abc import Callable

from rich.console import Console

from barfem.car.balance_result import BalanceResult, PairResult
from barfem.show.car.words import CAUTION, bar_holes, print_head
from barfem.show.console import BAD, GOOD, print_table
from barfem.show.lives import one_life
from barfem.show.numbers import NONE, counted, whole
from barfem.show.parts import bullets, heading, paragraph, printing, titled_table, warned_and_assumed
from barfem.show.tables import Cell, Table, column, judged, paths, table, words, yes_no

__all__ = ["pair_name", "pairs_table", "print_balance", "steps_table"]

SHOWN = 24


def pair_name(pair: PairResult) -> str:
    """Front and rear holes: "2 | 1"."""
    return f"{bar_holes(pair.front)} | {bar_holes(pair.rear)}"


@printing
def print_balance(console: Console, found: BalanceResult, *, full: bool = False) -> None:
    """Print the pairs; `full` all of them, and the assumptions."""
    print_head(console, found.car)
    given = "target" if found.target_given else "starting point, not truth: static front share + 0.05 (Milliken)"
    paragraph(
        console,
        f"Shown in {found.at.name}: {found.at.words}. Front share "
        f"of the load transfer aimed at: {found.target_share:.3f} ({given}).",
    )
    shown = found.pairs if full else found.pairs[:SHOWN]
    heading(console, f"Pairs of holes, front | rear, nearest to it first ({len(shown)} of {whole(len(found.pairs))})")
    print_table(console, pairs_table(found, shown))
    steps = steps_table(found)
    if steps.rows:
        titled_table(console, steps)
    if found.grip is not None and found.old_roll_deg is not None:
        marked = sum(bool(pair.roll_not_above_old) for pair in found.pairs)
        paragraph(
            console,
            f"At the new grip of {found.grip:g}, a_y scaled with it: "
            f"{counted(marked, 'pair')} roll{'s' * (marked == 1)} no more than "
            f"the fitted pair did at the old limit ({abs(found.old_roll_deg):.2f} deg).",
        )
    heading(console, "Start pair")
    start = found.start.number
    if start is None:
        paragraph(console, "None.", style=BAD)
    else:
        paragraph(console, f"{pair_name(found.pairs[start])} (front | rear)", style=GOOD)
    bullets(console, found.start.reasons)
    warned_and_assumed(console, found, assumed=full)
    console.print()
    count = sum(pair.passes for pair in found.pairs)
    paragraph(
        console,
        f"VERDICT: {count} of {counted(len(found.pairs), 'pair')} meet{'s' * (len(found.pairs) == 1)} every "
        "target that is given.",
        style=GOOD if count else BAD,
    )
    if not count and found.pairs:
        named = dict.fromkeys([0] if start is None else [0, start])
        bullets(console, [f"{pair_name(found.pairs[i])}: {why}" for i in named for why in found.pairs[i].why])
    paragraph(console, CAUTION)


def _life(value: float | None, runout: bool) -> Cell:
    return Cell(NONE) if value is None and not runout else Cell(one_life(value, runout=runout), value)


def pairs_table(found: BalanceResult, shown: tuple[PairResult, ...] | None = None) -> Table:
    """A pair a row; files hold all of its numbers."""
    targets = [
        axle.bar.bar.targets.yield_margin
        for axle in found.car.axles
        if axle.bar is not None and axle.bar.bar is not None
    ]
    target = max(targets) if targets else None

    def margin(key: str) -> Callable[[PairResult], Cell]:
        return lambda pair: judged(getattr(pair, key), target)

    return table(
        "pairs",
        "",
        found.pairs if shown is None else shown,
        [
            words("Front|\nrear", pair_name, key="pair"),
            column("Roll", "deg/g", "roll_gradient_deg_per_g", show="{:.2f}".format),
            column("Share\nfront", "", "front_transfer_share", show="{:.3f}".format),
            column("Grip\nfront", "", "grip_used_front", show="{:.3f}".format, optional=True),
            column("Grip\nrear", "", "grip_used_rear", show="{:.3f}".format, optional=True),
            column("Under-\nsteer", "deg/g", "understeer_gradient_deg_per_g", show="{:+z.2f}".format, optional=True),
            column("Least\nload", "N", "least_wheel_load_N", show=whole),
            column("Margin\nhere", "", margin("yield_margin_state"), key="yield_margin_state", optional=True),
            column("Margin\nfull", "", margin("yield_margin_full"), key="yield_margin_full", optional=True),
            column("Life\nfull", "", lambda p: _life(p.life_full_cycles, p.life_full_runout), key="life_full_cycles"),
            column("Passes", "", lambda p: yes_no(p.passes), key="passes"),
            *paths(
                "roll_deg", "balance", "least_wheel_load_any_state_N", "life_state_cycles", "life_state_runout",
                "life_full_runout", "distance_from_target", "bars_pass", "step_front_share_points",
                "step_rear_share_points", "step_front_roll_deg_per_g", "step_rear_roll_deg_per_g", "roll_not_above_old",
                "why",
            ),
        ],
    )  # fmt: skip


def steps_table(found: BalanceResult) -> Table:
    """What one stiffer hole does from the fitted pair, else from the nearest one."""
    base = next(
        (pair for pair in found.pairs if (pair.front, pair.rear) == found.fitted),
        found.pairs[0] if found.pairs else None,
    )
    rows = []
    if base is not None:
        for axle in ("front", "rear"):
            share, roll = (getattr(base, f"step_{axle}_{what}") for what in ("share_points", "roll_deg_per_g"))
            if share is not None:
                rows.append((f"{axle} bar one hole stiffer", share, roll))
    name = "" if base is None else pair_name(base)
    return table(
        "steps",
        f"One hole from {name} (front | rear)",
        rows,
        [
            words("Step", lambda row: row[0]),
            column("Front share", "points", lambda row: row[1], show="{:+z.2f}".format),
            column("Roll", "deg/g", lambda row: row[2], show="{:+z.3f}".format),
        ],
    )
