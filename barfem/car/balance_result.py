"""What `barfem balance` finds: every pair of front and rear holes, and its JSON."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from barfem.car.car import AXLES, Car, State
from barfem.car.result import CONVENTIONS
from barfem.car.start_pair import StartPair
from barfem.model.shown import Shown

__all__ = ["BalanceResult", "PairResult"]


@dataclass(frozen=True)
class PairResult:
    """One pair of hole pairs; holes (left, right) or None without a bar; numbers None where there are none.

    Steps are to the next stiffer holes of one bar, the other's kept: share in percentage points, roll in deg/g.
    """

    front: tuple[str, str] | None
    rear: tuple[str, str] | None
    roll_gradient_deg_per_g: float | None
    front_transfer_share: float | None
    roll_deg: float | None
    grip_used_front: float | None
    grip_used_rear: float | None
    balance: float | None
    understeer_gradient_deg_per_g: float | None
    least_wheel_load_N: float | None
    least_wheel_load_any_state_N: float | None
    yield_margin_state: float | None
    yield_margin_full: float | None
    life_state_cycles: float | None
    life_state_runout: bool
    life_full_cycles: float | None
    life_full_runout: bool
    distance_from_target: float | None
    passes: bool
    bars_pass: bool
    why: tuple[str, ...]
    step_front_share_points: float | None = None
    step_rear_share_points: float | None = None
    step_front_roll_deg_per_g: float | None = None
    step_rear_roll_deg_per_g: float | None = None
    roll_not_above_old: bool | None = None


@dataclass(frozen=True, repr=False)
class BalanceResult(Shown):
    """All pairs, nearest to the target share first."""

    car: Car
    at: State
    target_share: float
    target_given: bool
    fitted: tuple[tuple[str, str] | None, tuple[str, str] | None]
    pairs: tuple[PairResult, ...]
    start: StartPair
    grip: float | None
    old_roll_deg: float | None
    assumptions: tuple[str, ...]
    warnings: tuple[str, ...]

    @property
    def passes(self) -> bool:
        """Whether any pair meets every target."""
        return any(pair.passes for pair in self.pairs)

    def records(self) -> list[dict[str, Any]]:
        """A row a pair: roll gradient [deg/g], front share, grip used, least load [N], margin, life [cycles], steps."""
        return list(self.to_json_dict()["pairs"])

    def to_json_dict(self) -> dict[str, Any]:
        """As plain dictionaries, lists, strings and finite numbers or null."""
        start = self.start.number
        return {
            "format": 1,
            "name": self.car.name,
            "conventions": dict(CONVENTIONS),
            "at": vars(self.at),
            "target_front_transfer_share": self.target_share,
            "target_given": self.target_given,
            "fitted": {axle: _listed(pair) for axle, pair in zip(AXLES, self.fitted, strict=True)},
            "grip": self.grip,
            "old_roll_deg": self.old_roll_deg,
            "pairs": [
                {**vars(pair), "front": _listed(pair.front), "rear": _listed(pair.rear), "why": list(pair.why)}
                for pair in self.pairs
            ],
            "start_pair": None
            if start is None
            else {"front": _listed(self.pairs[start].front), "rear": _listed(self.pairs[start].rear)},
            "reasons": list(self.start.reasons),
            "passes": self.passes,
            "assumptions": list(self.assumptions),
            "warnings": list(self.warnings),
        }


def _listed(pair: tuple[str, str] | None) -> list[str] | None:
    return None if pair is None else list(pair)
