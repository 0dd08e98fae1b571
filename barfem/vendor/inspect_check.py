"""The whole check of bars as received: every hole setting judged, and the one that governs.

The rate is that with what was not measured as drawn, stress and life those with it at the worse edge of its band.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from barfem.check.hole_names import pair_name
from barfem.model.bar import Bar
from barfem.model.errors import BarfemError
from barfem.model.frozen import frozen
from barfem.model.plain import finite
from barfem.solve.beam import all_settings, solve_bars
from barfem.solve.solid.nearby import bends_near
from barfem.study.evaluate import evaluate
from barfem.study.evaluation import Evaluation
from barfem.study.workers import run_chunks
from barfem.vendor.inspect_received import Received, drawn_bands, made_with, worse_edges

__all__ = ["AsReceived", "DrawnPasses", "check_received"]

_MOVES_RATE = ("diameter", "wall", "flat_thickness", "flat_width", "hole_position", "straight_length")
_A_CHUNK = 3


@frozen
class AsReceived:
    """The whole check of a bar as received: the hole setting that governs, and all of them.

    `rate_N_per_mm` with what was not measured as drawn; `preload_N` of a link at rest, from the mismatch of the tips.
    """

    holes: str
    case: str
    rate_N_per_mm: float | None
    yield_margin: float | None
    safety_factor_at_target: float | None
    life_at_survival_cycles: float | None
    runout: bool
    passes: bool
    preload_N: float | None
    settings: tuple[Mapping[str, Any], ...]
    problem: str | None = None


@frozen
class _Chunks:
    """Bars as received, a few a chunk: what a worker process is given."""

    drawn: Bar
    bars: tuple[Bar, ...]

    @property
    def count(self) -> int:
        return -(-len(self.bars) // _A_CHUNK)

    def __call__(self, number: int) -> list[Evaluation]:
        with bends_near(self.drawn):
            return list(evaluate(self.bars[_A_CHUNK * number : _A_CHUNK * (number + 1)]))


def check_received(
    drawn: Bar,
    bars: Sequence[Received],
    mismatch_mm: Sequence[float | None],
    *,
    progress: Callable[[int], None] | None = None,
    workers: int = 1,
) -> list[AsReceived | None]:
    """The whole check of each bar as received, in batches, on so many processes."""
    made = tuple(each.bar for each in bars if each.bar is not None)
    chunks = _Chunks(drawn, made)
    evaluated: dict[int, list[Evaluation]] = {}
    for number, several in run_chunks(chunks, range(chunks.count), workers=workers):
        evaluated[number] = several
        if progress:
            progress(len(several))
    found = iter([one for number in range(chunks.count) for one in evaluated[number]])
    with bends_near(drawn):
        as_drawn = _Softer(drawn)
        out: list[AsReceived | None] = []
        for each, mismatch in zip(bars, mismatch_mm, strict=True):
            if each.bar is None:
                out.append(_impossible(each.problem or "there can be no such bar"))
                continue
            one = next(found)
            out.append(_summary(one, as_drawn.ratio(each.unmeasured), mismatch, each.bar.travel.over_alike))
    return out


class DrawnPasses:
    """Whether the drawn bar passes every target with these alone at their worse edges; each set is checked once."""

    def __init__(self, drawn: Bar) -> None:
        self._drawn, self._limits = drawn, drawn_bands(drawn)
        self._known: dict[tuple[tuple[str, int], ...], bool] = {}

    def __call__(self, unmeasured: tuple[tuple[str, int], ...]) -> bool:
        if unmeasured not in self._known:
            made = made_with(self._drawn, worse_edges(self._limits, unmeasured))
            with bends_near(self._drawn):
                (one,) = evaluate([made])
            self._known[unmeasured] = bool(one.passes.all()) and not any(one.problems)
        return self._known[unmeasured]


class _Softer:
    """Rates with what was not measured at its worse edge over those of the drawing, by hole setting; each set once.

    Taken on the drawn bar: the product of two small changes, a ten-thousandth or so, is left out.
    """

    def __init__(self, drawn: Bar) -> None:
        self._drawn, self._limits = drawn, drawn_bands(drawn)
        self._known: dict[tuple[tuple[str, int], ...], dict[tuple[int, int, str], float]] = {}
        self._base: dict[tuple[int, int, str], float] = {}

    def ratio(self, unmeasured: tuple[tuple[str, int], ...]) -> Mapping[tuple[int, int, str], float]:
        wanted = tuple(key for key in unmeasured if key[0] in _MOVES_RATE)
        if not wanted:
            return {}
        if wanted not in self._known:
            if not self._base:
                self._base = self._rates(self._drawn)
            worse = self._rates(made_with(self._drawn, worse_edges(self._limits, wanted)))
            self._known[wanted] = {setting: worse[setting] / rate for setting, rate in self._base.items()}
        return self._known[wanted]

    def _rates(self, bar: Bar) -> dict[tuple[int, int, str], float]:
        settings = all_settings(bar, cases=("roll", "one-wheel"))
        try:
            solution = next(solve_bars([(bar, settings)]))
        except BarfemError:
            return {}
        return {
            (s.left, s.right, s.case): float(rate) for s, rate in zip(settings, solution.rate_N_per_mm, strict=True)
        }


def _impossible(problem: str) -> AsReceived:
    return AsReceived("", "", None, None, None, None, False, False, None, (), problem)


def _summary(
    one: Evaluation, ratio: Mapping[tuple[int, int, str], float], mismatch: float | None, over_alike: float
) -> AsReceived:
    if (problem := next(filter(None, one.problems), None)) is not None:  # at one hole is enough to hold the bar back
        return _impossible(problem)
    settings: list[dict[str, Any]] = []
    for j, setting in enumerate(one.settings):
        rate = float(one.rate_N_per_mm[j]) / ratio.get((setting.left, setting.right, setting.case), 1.0)
        settings.append(
            {
                "left": one.left[j],
                "right": one.right[j],
                "case": setting.case,
                "rate_N_per_mm": finite(rate),
                "yield_margin": finite(one.yield_margin[j]),
                "safety_factor_at_target": finite(one.safety_factor_at_target[j]),
                "life_at_survival_cycles": finite(one.life_at_survival_cycles[j]),
                "runout": bool(one.runout_at_survival[j]),
                "passes": bool(one.passes[j]),
            }
        )
    # The one that fails, then the shortest life, then the least margin.
    order = sorted(range(len(settings)), key=lambda j: (one.passes[j], one.ordered_life[j], _high(one.yield_margin[j])))
    worst = settings[order[0]]
    holes = pair_name(worst["left"], worst["right"])
    roll = [j for j in order[:1] if one.settings[j].case == "roll"] or [
        j for j, s in enumerate(one.settings) if s.case == "roll"
    ]
    preload = None
    if mismatch is not None and roll:
        # Both links are off alike, whatever bump and droop are.
        preload = abs(0.5 * mismatch * float(one.rate_initial_N_per_mm[roll].max()) / over_alike)
    governs = {key: worst[key] for key in worst if key not in ("left", "right", "passes")}
    return AsReceived(
        holes=str(holes), passes=bool(one.passes.all()), preload_N=preload, settings=tuple(settings), **governs
    )


def _high(value: Any) -> float:
    return float(value) if np.isfinite(value) else np.inf
