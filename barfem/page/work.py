"""What the page asks for, computed: the check, its scene, advice, the other section, a tolerance band."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from barfem.check.api import check_bar
from barfem.check.result import CheckResult
from barfem.model.plain import finite
from barfem.page.equal import other_section
from barfem.page.session import Asked, Session
from barfem.page.view import advice_view, check_view
from barfem.show.figures.data import FigureData
from barfem.show.lives import one_life
from barfem.show.numbers import printable, ratio, significant, spaced, whole
from barfem.show.report.scene_data import scene_data
from barfem.strength.section_map import OUTSIDE
from barfem.study.advice import Advice, advise, travel_to_spare
from barfem.study.tolerance import tolerance
from barfem.version import __version__

__all__ = ["Work"]

BAND_BARS = 128
"""Bars of a tolerance band on the page: enough for a range, not for the chance of a miss."""

Going = Callable[[], None]


@dataclass
class Work:
    """Answers about one session; the last solved bar is kept, for its scene and advice."""

    session: Session
    band_done: int = 0
    """Bars of the tolerance band that is being made, so far."""
    _last: tuple[str, CheckResult] | None = field(default=None, repr=False)

    def _checked(self, asked: Asked) -> CheckResult:
        last = self._last  # the view's thread reads it too
        if last is None or last[0] != asked.key:
            bar = self.session.changed(asked.changes)
            like = None if last is None else last[1].solved
            self._last = last = (asked.key, check_bar(bar, case=asked.case, like=like))
        return last[1]

    def check(self, asked: Asked) -> dict[str, Any]:
        """The check's JSON, as `barfem check --json` writes it."""
        result = self._checked(asked)
        return {"format": 1, "barfem": __version__, **result.to_json_dict()}

    def shown(self, asked: Asked) -> dict[str, Any]:
        """What the page draws of the same check: its words and numbers, and of the JSON what names them."""
        result = self._checked(asked)
        life = result.governing_for_life
        return {
            "barfem": __version__,
            "passes": result.passes,
            "mass_kg": result.mass_kg,
            "settings": [
                {
                    "left": row.left,
                    "right": row.right,
                    "case": row.case,
                    "peak": {"where": row.peak.where},
                    "fatigue": {"where": row.fatigue.where},
                }
                for row in result.settings
            ],
            "governing": {"life": {"left": life.left, "right": life.right, "case": life.case}},
            "page": check_view(self.session, asked.changes, result.states.bar, result),
        }

    def scene(self, asked: Asked, *, setting: int) -> dict[str, Any]:
        """One hole setting for the view, and the stress along the bar at every one."""
        result = self._checked(asked)
        at = setting if setting in range(len(result.settings)) else FigureData(result).by_stress
        data = FigureData(result, factors_of=(at,))
        return {"scene": scene_data(data, only=[at]), "setting": at, "along": _along(data)}

    def advice(self, asked: Asked, going: Going) -> dict[str, Any]:
        """What would make failing hole settings pass; of a bar that passes, what there is to spare."""
        bar = self.session.changed(asked.changes)
        going()
        result = self._checked(asked)
        if any(row.does_nothing is not None for row in result.settings):
            return {"passes": result.passes, "advice": []}
        going()
        found: Sequence[Advice]
        if result.passes:
            spare = travel_to_spare(bar, case=asked.case, going=going, solved=result.solved)
            found = () if spare is None else (spare,)
        else:
            found = advise(bar, case=asked.case, going=going, solved=result.solved)
        several = len({row.case for row in result.settings}) > 1
        return {"passes": result.passes, "advice": advice_view(found, passes=result.passes, several_cases=several)}

    def other_section(self, asked: Asked, *, shape: str, equal_rate: bool) -> dict[str, Any]:
        """Changes that make a tube of a solid bar, or a solid bar of a tube."""
        bar = self.session.changed(asked.changes)
        changes, notes = other_section(bar, asked.changes, shape=shape, equal_rate=equal_rate)
        return {"changes": changes, "notes": notes}

    def band(self, asked: Asked, going: Going) -> dict[str, Any]:
        """The range of 95 % of bars of this drawing, at every hole setting."""

        def progress(done: int, of: int) -> None:
            self.band_done = done
            going()

        self.band_done = 0
        bar = self.session.changed(asked.changes)
        found = tolerance(bar, samples=BAND_BARS, exact=True, case=asked.case, progress=progress)
        rows = []
        for row in found.settings:
            spreads = {}
            for name, key in _SPREADS.items():
                spread = row.spreads.get(name)
                if spread is not None:
                    spreads[key[0]] = {"text": _band(spread.low, spread.high, key[1]), **_ends(spread.low, spread.high)}
            rows.append({"hole": f"{row.left}/{row.right}", "case": row.case, "spreads": spreads})
        return {"samples": BAND_BARS, "rows": rows, "notes": [printable(note) for note in found.notes]}

    def band_progress(self) -> dict[str, int]:
        """How many bars of the tolerance band are judged so far."""
        return {"done": self.band_done, "of": BAND_BARS}


_SPREADS: dict[str, tuple[str, Callable[[float], str]]] = {
    "rate_N_per_mm": ("rate_N_per_mm", significant),
    "peak_MPa": ("peak.von_mises_MPa", whole),
    "yield_margin": ("yield_margin", ratio),
    "safety_factor_at_target": ("fatigue.safety_factor_at_target", ratio),
    "life_at_survival_cycles": ("fatigue.life_at_survival_cycles", one_life),
}


def _ends(low: float | None, high: float | None) -> dict[str, float | None]:
    return {"low": finite(low), "high": finite(high)}


def _band(low: float | None, high: float | None, show: Callable[[float], str]) -> str:
    ends = [finite(low), finite(high)]
    lives = [one_life(None, runout=True) if end is None else show(end) for end in ends]  # lives alone have no number
    return spaced(" to ".join(dict.fromkeys(lives)))


def _along(data: FigureData) -> dict[str, Any]:
    """Greatest von Mises stress round the outside at every station, for each hole setting, MPa."""
    fields, result = data.fields, data.result
    outside = fields.along_MPa(OUTSIDE).max(axis=1)
    limit = data.bar.steel.yield_strength_MPa * fields.strength_scale / (1.0 + result.yield_margin_target)
    return {
        "stations": np.round(fields.station_mm, 1).tolist(),
        "stress": np.round(np.nan_to_num(outside), 1).tolist(),
        "names": [data.name(j) for j in range(len(result.settings))],
        "limit": round(float(np.min(limit)), 1),
        "margin": result.yield_margin_target,
        "marks": [
            {"kind": mark.kind, "name": mark.name, "from": round(mark.start_mm, 1), "to": round(mark.end_mm, 1)}
            for mark in data.marks
        ],
        "length": round(data.bar.centreline.length_mm, 1),
    }
