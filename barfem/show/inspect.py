"""What `barfem inspect` prints: verdicts and reasons of each bar, the lot in numbers, the plan, the verdict last."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from rich.console import Console

from barfem.model.bar import drawing_words
from barfem.model.frozen import frozen
from barfem.show.console import BAD, GOOD, print_table
from barfem.show.lives import one_life
from barfem.show.numbers import NONE, significant, whole
from barfem.show.parts import bullets, heading, listed, paragraph, printing
from barfem.show.tables import Cell, Table, column, table, words
from barfem.vendor.inspect import CAUTION, InspectedBar, Inspection
from barfem.vendor.inspect_lot import DRIFT_CHANCE, LEAST_FOR_INDEX, Lot, Quantity
from barfem.vendor.sampling import Plan, bad_allowed, share_beyond

__all__ = ["bars_table", "lot_table", "plan_words", "print_inspection", "print_sampling"]

MOST_MISSING = 6


def bars_table(found: Inspection) -> Table:
    """A bar a line: how it lies, and the bar as received at its governing hole setting."""
    return table(
        "bars",
        "Bars",
        found.bars,
        [
            words("Bar", "bar"),
            words(
                "Verdict",
                lambda b: Cell(b.verdict, b.verdict, "good" if b.verdict == "accept" else "bad"),
                key="verdict",
            ),
            column("Most\noff", "mm", _largest, show="{:.2f}".format, key="largest_mm", optional=True),
            column(
                "Tip mis-\nmatch",
                "mm",
                lambda bar: bar.tip_mismatch_mm,
                show="{:+z.2f}".format,
                key="tip_mismatch_mm",
                optional=True,
            ),
            column("Preload", "N", _received("preload_N"), show=whole, key="preload_N", optional=True),
            column("Rm", "MPa", "strength_MPa", show=whole, optional=True),
            words("Hole", lambda bar: bar.as_received.holes if bar.as_received else NONE, key="hole"),
            column("Rate", "N/mm", _received("rate_N_per_mm"), key="rate_N_per_mm"),
            column("Yield\nmargin", "", _received("yield_margin"), show="{:.2f}".format, key="yield_margin"),
            column("Life,\ncycles", "", _life, key="life_at_survival_cycles"),
            words("Passes", _passes, key="passes"),
        ],
    )


def lot_table(quantities: Sequence[Quantity]) -> Table:
    """A quantity a line."""
    return table(
        "lot",
        "The lot",
        quantities,
        [
            words("Quantity", lambda q: _in_words(q.name), key="quantity"),
            column("n", "", "n", show=str),
            column("Mean", "", "mean", show=_digits),
            column("s", "", lambda q: q.s if q.n > 1 else None, show=lambda s: significant(s, 2), key="s"),
            column("From", "", "lower", show=_digits),
            column("to", "", "upper", show=_digits),
            column("Ppk", "", "Ppk", show="{:.1f}".format, optional=True),
            words("95 %", _interval, key="Ppk_95", optional=True),
            column("Cpk", "", "Cpk", show="{:.1f}".format, optional=True),
            words("Out", _outside, key="outside"),
        ],
    )


def to_look_at(quantities: Sequence[Quantity]) -> list[Quantity]:
    """Those that are no row of the bend table, and rows that are out, off, drifting or not surely capable."""
    return [
        q
        for q in quantities
        if not q.name.startswith(("straight", "bend"))
        or q.outliers
        or q.share_outside
        or (q.drift_p is not None and q.drift_p < DRIFT_CHANCE)
        or (q.Ppk_95 is not None and q.Ppk_95[0] < 1.0)
    ]


@printing
def print_sampling(console: Console, plan: Plan) -> None:
    """Print a plan without bars."""
    for line in plan_words(plan):
        paragraph(console, line)


@printing
def print_inspection(console: Console, found: Inspection, *, plan: Plan | None = None) -> None:
    """Print bars and, where it was worked out, their lot."""
    lot = found.lot
    drawing = drawing_words(found.drawing, found.revision)
    paragraph(console, f"{found.name}{f' ({drawing})' if drawing else ''}: {lot.n} bar{'s' * (lot.n > 1)} measured.")
    for note in found.notes:
        paragraph(console, f"read: {note}.")
    console.print()
    print_table(console, bars_table(found))
    paragraph(
        console,
        "Most off: of the tangent points, in datums A-B-C of the mounts unless --fit points. Tip mismatch: left hole "
        "less right along the travel; preload: the link force that it makes at rest. Rm: by hardness. Hole, rate, "
        "margin, life: the bar as received, where it is worst; life at the survival asked.",
    )
    named = [bar for bar in found.bars if bar.verdict != "accept" or bar.faults or len(bar.why) > 1]
    if named:
        heading(console, "Why, and what to tell the bender")
    for group in _alike(named):
        paragraph(console, f"{', '.join(bar.bar for bar in group.bars)}: {group.verdict}")
        bullets(console, _reasons(group))
    notes = [
        (note, [bar.bar for bar in found.bars if note in bar.notes])
        for note in dict.fromkeys(n for b in found.bars for n in b.notes)
    ]
    in_words = [f"{note} ({'every bar' if len(bars) == lot.n else ', '.join(bars)})" for note, bars in notes]
    listed(console, "Notes", in_words)
    listed(console, "Not measured", _missing(found.bars))
    if lot.n > 1:
        heading(console, "The lot")
        watched = to_look_at(lot.quantities)
        print_table(console, lot_table(watched))
        if len(watched) < len(lot.quantities):
            paragraph(console, f"{len(lot.quantities) - len(watched)} more rows are inside and off by little (--json).")
        for line in _lot_words(lot):
            paragraph(console, line)
    if plan is not None:
        heading(console, "The plan")
        for line in plan_words(plan):
            paragraph(console, line)
        if lot.plan_accepts is None and lot.n < plan.n:
            paragraph(console, f"{lot.n} bars were measured, the plan asks for {plan.n}: no verdict on the lot by it.")
        if lot.too_few:
            few = "; ".join(f"{_in_words(q.name)}: {q.n}" for q in lot.quantities if q.name in lot.too_few)
            paragraph(console, f"Measured on fewer than the {plan.n} bars that the plan asks for: {few}. No verdict.")
        if plan.c is not None and (most := bad_allowed(plan, lot.n)) > plan.c:
            paragraph(console, f"{lot.n} bars were measured, more than the plan asks for: at most {most} bad of them.")
    console.print()
    paragraph(console, CAUTION)
    counts = ", ".join(f"{count} {verdict}" for verdict, count in lot.counts.items() if count)
    bad = [f"{bar.bar} {bar.verdict}" for bar in found.bars if bar.verdict not in ("accept",)]
    lots = f"; lot by the plan: {lot.verdict}" if plan is not None else ""
    unjudged = [what for what in ("points", "hardness", "crack test") if any(_lacks(bar, what) for bar in found.bars)]
    open_ends = f"; NOT judged on every bar: {', '.join(unjudged)}" if unjudged else ""
    shown = f" ({'; '.join(bad)})" if 0 < len(bad) <= 8 and lot.n > 1 else ""
    paragraph(
        console,
        f"VERDICT: {counts}{shown}{lots}{open_ends}",
        style=GOOD if found.accepted and lot.verdict == "accept" else BAD,
    )


@frozen
class _Group:
    bars: list[InspectedBar]
    verdict: str
    faults: tuple[str, ...]
    why: tuple[str, ...]


def _reasons(group: _Group) -> list[str]:
    """Faults that no reason begins with, then the reasons."""
    faults = [fault for fault in group.faults if not any(why.startswith(fault) for why in group.why)]
    return list(dict.fromkeys((*faults, *group.why)))


def _alike(bars: Sequence[InspectedBar]) -> list[_Group]:
    """Bars with the same verdict and words stand together."""
    groups: dict[tuple[str, tuple[str, ...], tuple[str, ...]], list[InspectedBar]] = {}
    for bar in bars:
        groups.setdefault((bar.verdict, tuple(f.words for f in bar.faults), bar.why), []).append(bar)
    return [_Group(several, verdict, faults, why) for (verdict, faults, why), several in groups.items()]


def _lacks(bar: InspectedBar, what: str) -> bool:
    """Whether something was not measured, or points of it were not, so that it was not judged."""
    return any(text.startswith((f"{what}: ", f"{what} ")) and "not judged" in text for text in bar.missing)


def _missing(bars: Sequence[InspectedBar]) -> list[str]:
    bars_by_text: dict[str, list[str]] = {}
    for bar in bars:
        for text in bar.missing:
            bars_by_text.setdefault(text, []).append(bar.bar)
    first = [(text, who) for text, who in bars_by_text.items() if " for the rate, " not in text]
    edges = [(text, who) for text, who in bars_by_text.items() if " for the rate, " in text]
    out = [f"{text}{_of(who, bars)}" for text, who in first]
    if edges:
        shown = [
            text.replace(" for the rate", "").replace(" for stress", " at its edge") for text, _ in edges[:MOST_MISSING]
        ]
        more = f"; and {len(edges) - MOST_MISSING} more (--json)" if len(edges) > MOST_MISSING else ""
        out.append(f"as drawn for the rate, at the worse edge for stress: {'; '.join(shown)}{more}")
    return out


def _of(who: Sequence[str], bars: Sequence[InspectedBar]) -> str:
    return "" if len(who) == len(bars) else f" ({', '.join(who[:8])}{', ...' if len(who) > 8 else ''})"


def _lot_words(lot: Lot) -> list[str]:
    out = []
    if any(q.Ppk is not None for q in lot.quantities):
        out.append("Ppk by s over all bars, its interval approximate (Bissell); Cpk by the moving range.")
    if all(q.n < LEAST_FOR_INDEX for q in lot.quantities):
        out.append(f"Fewer than {LEAST_FOR_INDEX} bars: no capability index; it would say more than they can.")
    out += [f"Order: {lot.order}."] if lot.order and lot.n >= LEAST_FOR_INDEX else []
    out += [
        f"{_in_words(q.name)}: {', '.join(q.outliers)} lies off the others (Grubbs, 5 %)."
        for q in lot.quantities
        if q.outliers
    ]
    out += [
        f"{_in_words(q.name)}: drifts by {significant(q.drift_per_bar, 2)} a bar (p = {q.drift_p:.2g})."
        for q in lot.quantities
        if q.drift_p is not None and q.drift_p < DRIFT_CHANCE
    ]
    return out


def plan_words(plan: Plan) -> list[str]:
    """What to measure, when the lot is taken, and the chances."""
    if plan.n >= plan.lot:
        return [f"Lot of {plan.lot}: measure all of them ({plan.how})."]
    rule = (
        f"take the lot with at most {plan.c} bad (any verdict but accept)"
        if plan.k is None
        else f"take the lot where (limit - mean) / s of each number judged is at least {plan.k:.3f}, between two "
        f"limits an estimated {100.0 * share_beyond(plan.k, plan.n):.1f} % at most lie beyond both together, and "
        "nothing else that is judged is out on any bar"
    )
    (good, high), (bad, low) = plan.risks
    return [
        f"Lot of {plan.lot}: measure {plan.n} taken at random, {rule}. ({plan.how}.)",
        f"A lot with {100 * good:.3g} % bad is taken with a chance of {100 * high:.1f} %, one with {100 * bad:.3g} % "
        f"bad with {100 * low:.1f} %. Hardness and cracks: always all bars.",
    ]


def _received(name: str) -> Callable[[InspectedBar], Any]:
    return lambda bar: None if bar.as_received is None else getattr(bar.as_received, name)


def _passes(bar: InspectedBar) -> str:
    return NONE if bar.as_received is None else "yes" if bar.as_received.passes else "NO"


def _largest(bar: InspectedBar) -> float | None:
    return None if bar.fit is None else float(np.nanmax(bar.fit.distance_mm))


def _life(bar: InspectedBar) -> Cell:
    found = bar.as_received
    if found is None:
        return Cell(NONE)
    lasts = found.life_at_survival_cycles
    return Cell(one_life(lasts, runout=lasts is None and found.runout), lasts)


def _digits(value: float) -> str:
    return f"{value:.1f}" if abs(value) >= 100 else f"{value:.2f}"


def _in_words(name: str) -> str:
    """A quantity with its unit in the trade's words: tip mismatch, mm."""
    named = {"largest_mm": "farthest off, mm", "strength_MPa": "strength by hardness, MPa"}
    if name in named:
        return named[name]
    base, _, unit = name.rpartition("_")
    if name.endswith("_N_per_mm"):
        base, unit = name.removesuffix("_N_per_mm"), "N/mm"
    return f"{base.replace('_', ' ')}, {unit}"


def _interval(q: Quantity) -> str | None:
    return None if q.Ppk_95 is None else f"{q.Ppk_95[0]:.1f} to {q.Ppk_95[1]:.1f}"


def _outside(q: Quantity) -> str | None:
    return None if q.share_outside is None else f"{round(q.share_outside * q.n)} of {q.n}"
