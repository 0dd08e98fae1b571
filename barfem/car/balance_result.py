"""What `barfem balance` finds: every pair of front and rear holes, and its JSON."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from typing import Any, ClassVar

from barfem.car.car import AXLES, Car, State
from barfem.car.car_json import CarJson
from barfem.car.start_pair import StartPair
from barfem.model.frozen import frozen
from barfem.model.plain import NOT_IN_JSON, json_key, plain
from barfem.model.shown import Shown

__all__ = ["BalanceResult", "PairResult"]


@frozen
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


@frozen(repr=False)
class BalanceResult(Shown, CarJson):
    """All pairs, nearest to the target share first."""

    car: Car = field(metadata=NOT_IN_JSON)
    at: State
    target_share: float = field(metadata=json_key("target_front_transfer_share"))
    target_given: bool
    fitted: tuple[tuple[str, str] | None, tuple[str, str] | None] = field(metadata=NOT_IN_JSON)
    pairs: tuple[PairResult, ...]
    start: StartPair = field(metadata=NOT_IN_JSON)
    grip: float | None
    old_roll_deg: float | None
    assumptions: tuple[str, ...]
    warnings: tuple[str, ...]

    _json_also: ClassVar[Mapping[str, str]] = {
        **CarJson._json_also,
        "fitted": "fitted_pairs",
        "start_pair": "start_pair",
        "reasons": "start.reasons",
        "passes": "passes",
    }

    @property
    def passes(self) -> bool:
        """Whether any pair meets every target."""
        return any(pair.passes for pair in self.pairs)

    def records(self) -> list[dict[str, Any]]:
        """A row a pair: roll gradient [deg/g], front share, grip used, least load [N], margin, life [cycles], steps."""
        return list(plain(self.pairs))

    @property
    def fitted_pairs(self) -> dict[str, tuple[str, str] | None]:
        """The holes that are fitted now, by axle."""
        return dict(zip(AXLES, self.fitted, strict=True))

    @property
    def start_pair(self) -> dict[str, tuple[str, str] | None] | None:
        """The holes to start from; None where no pair passes."""
        number = self.start.number
        return None if number is None else {axle: getattr(self.pairs[number], axle) for axle in AXLES}
