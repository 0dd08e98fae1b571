"""Numbers and hole settings as JSON has them: finite or null."""

from __future__ import annotations

import math
from typing import Any

from barfem.check.result import SettingResult

__all__ = ["finite", "setting_json"]


def finite(value: Any) -> float | None:
    """The number, or None where there is none."""
    if value is None:
        return None
    number = float(value)
    return number if math.isfinite(number) else None


def setting_json(setting: SettingResult) -> dict[str, Any]:
    """The numbers of a hole setting that a study compares, under the keys that `check` gives them."""
    fatigue, peak = setting.fatigue, setting.peak
    return {
        "left": setting.left,
        "right": setting.right,
        "case": setting.case,
        "rate_N_per_mm": finite(setting.rate_N_per_mm),
        "rate_initial_N_per_mm": finite(setting.rate_initial_N_per_mm),
        "peak": {"von_mises_MPa": finite(peak.von_mises_MPa), "where": peak.where, "surface": peak.surface},
        "yield_margin": finite(setting.yield_margin),
        "fatigue": {
            "where": fatigue.where,
            "surface": fatigue.surface,
            "amplitude_MPa": finite(fatigue.amplitude_MPa),
            "mean_MPa": finite(fatigue.mean_MPa),
            "safety_factor_at_target": finite(fatigue.safety_factor_at_target),
            "life_cycles": finite(fatigue.life_cycles),
            "life_at_survival_cycles": finite(fatigue.life_at_survival_cycles),
            "runout": fatigue.runout,
            "reason": fatigue.reason,
        },
        "passes": setting.passes,
        "why": list(setting.why),
    }
