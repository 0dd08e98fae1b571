"""A bar and histories for the tests of duty in the whole check."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np

from barfem.check.history_life import Asked, HistoryLife, history_lives
from barfem.model.bar import Bar
from barfem.model.read import bar_from_dict
from barfem.solve.beam import HoleSetting
from barfem.strength.duty.history import History
from tests.check.bar_files import BUILT, check
from tests.duty.examples import history_from_arrays
from tests.model.bar_data import changed

TRAVEL = 45.0


def bar(*changes: tuple[str, Any]):
    return bar_from_dict(changed(("travel.pickup", TRAVEL), *changes, base=BUILT))


def result(*changes: tuple[str, Any], **options: Any) -> dict[str, Any]:
    return check(("travel.pickup", TRAVEL), *changes, **options)


def fatigues(found: dict[str, Any]) -> list[dict[str, Any]]:
    return [setting["fatigue"] for setting in found["settings"]]


@cache
def plain_result() -> dict[str, Any]:
    """Without any duty but the target."""
    return result()


def history(amplitude: float, *, cycles: int = 40, heave: float = 0.0) -> History:
    time = np.arange(cycles * 40 + 1) / 40.0
    wave = amplitude * np.sin(2.0 * np.pi * time)
    bump = heave * np.sin(2.0 * np.pi * 0.31 * time)
    return history_from_arrays(time_s=time, left_mm=wave + bump, right_mm=-wave + bump)


def history_life(bar: Bar, history: History, setting: HoleSetting, **asked: Any) -> HistoryLife:
    """Of one hole setting; `asked` as in `Asked`."""
    return history_lives(bar, history, (setting,), Asked(**asked))[0][0]
