"""Record the headline numbers of the demo bars anew:

    python -m tests.regression.refresh

from the top of the repository. It prints what moved. Numbers recorded here are barfem's own: they show that something
changed, never that it is right (tests/validation does that). Refresh them only when you know why they moved, and say so
in DEVELOPERS.md under "What moved": moved.json remembers in which version each number last did, and a test looks for
the reason there.
"""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

from barfem.check.api import check_bar
from barfem.model.data_paths import demo_bars
from barfem.version import __version__

ROOT = Path(__file__).parents[2]
RECORD, MOVED = Path(__file__).with_name("headline.json"), Path(__file__).with_name("moved.json")
PER_SETTING = (
    "rate_N_per_mm",
    "rate_initial_N_per_mm",
    "link_force_left_N",
    "link_force_right_N",
    "yield_margin",
    "twist_deg",
    "torque_Nm",
    "roll_rate_Nm_per_deg",
    "strain_energy_J",
)
OF_FATIGUE = (
    "amplitude_MPa",
    "goodman_safety_factor",
    "safety_factor_at_target",
    "life_cycles",
    "life_at_survival_cycles",
)


def headline(path: Path) -> dict[str, Any]:
    """The numbers of one bar that its user acts on, by hole setting."""
    result = check_bar(path).to_json_dict()
    settings = {}
    for setting in result["settings"]:
        name = f"{setting['left']} left, {setting['right']} right, {setting['case']}"
        settings[name] = {key: setting[key] for key in PER_SETTING}
        settings[name] |= {"peak_von_mises_MPa": setting["peak"]["von_mises_MPa"], "passes": setting["passes"]}
        settings[name] |= {key: setting["fatigue"][key] for key in OF_FATIGUE}
    return {
        "mass_kg": result["mass_kg"],
        "developed_length_mm": result["developed_length_mm"],
        "passes": result["passes"],
        "settings": settings,
    }


def headlines() -> dict[str, Any]:
    """Headline numbers of every demo bar."""
    return {path.stem: headline(path) for path in demo_bars()}


def moved(old: Any, new: Any, *, path: str = "", rel: float = 1e-6) -> list[str]:
    """Where two records differ by more than `rel`, a line each."""
    if isinstance(old, dict) and isinstance(new, dict):
        lines = [f"{path}/{key}: gone" for key in old if key not in new]
        lines += [f"{path}/{key}: new" for key in new if key not in old]
        return lines + [
            line for key in old if key in new for line in moved(old[key], new[key], path=f"{path}/{key}", rel=rel)
        ]
    if isinstance(old, float) and isinstance(new, float) and math.isclose(old, new, rel_tol=rel):
        return []
    return [] if old == new else [f"{path}: {old} -> {new}"]


def moves(old: dict[str, Any], new: dict[str, Any]) -> dict[str, list[str]]:
    """The bars of which each quantity moved: {"amplitude_MPa": ["coupe-rear-cranked"]}. New bars have moved nothing."""
    found: dict[str, set[str]] = {}
    for bar in old.keys() & new.keys():
        for line in moved(old[bar], new[bar]):
            found.setdefault(line.partition(":")[0].rpartition("/")[2], set()).add(bar)
    return {quantity: sorted(bars) for quantity, bars in sorted(found.items())}


if __name__ == "__main__":
    found = headlines()
    recorded = json.loads(RECORD.read_text(encoding="utf-8")) if RECORD.exists() else {}
    for line in moved(recorded, found):
        print(line)
    last: dict[str, dict[str, str]] = json.loads(MOVED.read_text(encoding="utf-8")) if MOVED.exists() else {}
    for quantity, bars in moves(recorded, found).items():
        last.setdefault(quantity, {}).update(dict.fromkeys(bars, __version__))
    for path, data in ((RECORD, found), (MOVED, last)):
        path.write_text(json.dumps(data, indent=1, sort_keys=path == MOVED) + "\n", encoding="utf-8")
    print(f'{len(found)} bars recorded in {RECORD}; why they moved belongs in DEVELOPERS.md, "What moved"')
