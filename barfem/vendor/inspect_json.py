"""An inspection as JSON, as the contract of its file has it."""

from __future__ import annotations

from typing import Any

import numpy as np

from barfem.model.plain import plain
from barfem.vendor.inspect import CAUTION, InspectedBar, Inspection
from barfem.vendor.inspect_lot import Lot
from barfem.vendor.inspect_rows import RowDifference
from barfem.vendor.sampling import Plan

__all__ = ["inspection_json"]


def inspection_json(found: Inspection, lot: Lot | None, plan: Plan | None) -> dict[str, Any]:
    """The bars as the contract of the JSON has them."""
    return {
        "name": found.name,
        "drawing": found.drawing,
        "revision": found.revision,
        "points": list(found.point_names),
        "ends_cannot_be_told_apart": found.two_fold,
        "bars": [_bar_json(each) for each in found.bars],
        "lot": None
        if lot is None and plan is None
        else {**({} if lot is None else _lot_json(lot)), "plan": None if plan is None else _plan_json(plan, lot)},
        "notes": list(found.notes),
        "cautions": [CAUTION],
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


def _plan_json(plan: Plan, lot: Lot | None) -> dict[str, Any]:
    return {**plain(plan), "accept": None if lot is None else lot.plan_accepts}
