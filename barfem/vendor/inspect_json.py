"""An inspection as JSON, as the contract of its file has it."""

from __future__ import annotations

from typing import Any

import numpy as np

from barfem.model.plain import plain
from barfem.vendor.inspect import CAUTION, InspectedBar, Inspection
from barfem.vendor.inspect_lot import Lot
from barfem.vendor.inspect_rows import RowDifference
from barfem.vendor.sampling import Plan

__all__ = ["bar_row", "inspection_json"]


def inspection_json(found: Inspection, plan: Plan | None = None) -> dict[str, Any]:
    """The bars as the contract of the JSON has them."""
    return {
        "name": found.name,
        "drawing": found.drawing,
        "revision": found.revision,
        "points": list(found.point_names),
        "ends_cannot_be_told_apart": found.two_fold,
        "bars": [_bar_json(each) for each in found.bars],
        "lot": {**_lot_json(found.lot), "plan": None if plan is None else _plan_json(plan, found.lot)},
        "notes": list(found.notes),
        "cautions": [CAUTION],
    }


_OF_A_ROW = (
    "preload_N",
    "rate_N_per_mm",
    "yield_margin",
    "safety_factor_at_target",
    "life_at_survival_cycles",
    "passes",
)


def bar_row(each: InspectedBar) -> dict[str, Any]:
    """One bar as a flat row."""
    bar = _bar_json(each)
    came, fit = bar["as_received"] or {}, bar["fit"] or {}
    return {
        "bar": bar["bar"],
        "verdict": bar["verdict"],
        "faults": "; ".join(fault["words"] for fault in bar["faults"]),
        "largest_mm": fit.get("largest_mm"),
        "tip_mismatch_mm": bar["tip_mismatch_mm"],
        "strength_MPa": bar["strength_MPa"],
        **{key: came.get(key) for key in _OF_A_ROW},
    }


def _bar_json(each: InspectedBar) -> dict[str, Any]:
    fit = each.fit
    return {
        "bar": each.bar,
        "verdict": each.verdict,
        "why": list(each.why),
        "hand": each.lie.hand,
        "list_order": each.lie.order,
        "fit": None
        if fit is None
        else {
            "kind": fit.kind,
            "rms_mm": float(np.sqrt(np.nanmean(fit.distance_mm**2))),
            "largest_mm": float(np.nanmax(fit.distance_mm)),
            "at": int(np.nanargmax(fit.distance_mm)),
            "deviations_mm": [None if not np.isfinite(value) else float(value) for value in fit.distance_mm],
        },
        "tip_mismatch_mm": each.numbers.get("tip_mismatch_mm"),
        "rows_difference": [] if each.rows is None else [_difference(row) for row in each.rows.differences],
        "faults": [plain(fault) for fault in each.faults],
        "judged": [plain(one) | {"words": one.words} for one in each.judged],
        "strength_MPa": each.strength_MPa,
        "as_received": None if each.as_received is None else plain(each.as_received),
        "missing": list(each.missing),
        "notes": list(each.notes),
    }


def _difference(row: RowDifference) -> dict[str, Any]:
    return {
        "row": row.row,
        "what": row.what,
        "measured": row.measured,
        "nominal": row.nominal,
        "difference": row.difference,
        "se": row.se,
        "unit": row.unit,
    }


def _lot_json(lot: Lot) -> dict[str, Any]:
    quantities = {each.name: {k: v for k, v in plain(each).items() if k != "name"} for each in lot.quantities}
    return {"n": lot.n, "order": lot.order, "quantities": quantities, "verdict": lot.verdict}


def _plan_json(plan: Plan, lot: Lot) -> dict[str, Any]:
    return {**plain(plan), "accept": lot.plan_accepts}
