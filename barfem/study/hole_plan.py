"""A plan of holes: where they are drilled, what rates they were to have and have, and why they do not fit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from typing import Any, ClassVar

from barfem.model.bar import Bar
from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.plain import NOT_IN_JSON, Json, json_key, plain
from barfem.model.shown import Shown
from barfem.study.evaluation import Evaluation
from barfem.study.json_values import flat, hole_setting_json

__all__ = ["HolePlan", "Rules"]


@frozen(kw_only=True)
class Rules:
    """Room for holes, in hole diameters; `round_mm` is the step of the drawing."""

    edge: float = 1.5
    spacing: float = 2.0
    inboard: float = 1.0
    round_mm: float = 0.5


@frozen(kw_only=True, repr=False)
class HolePlan(Shown, Json):
    """Holes and what they give.

    Attributes
    ----------
    bar
        The bar with the new holes, softest first; None where they do not fit.
    evaluation
        Of every hole of it, in the first load case asked.
    from_tip_mm, wanted_N_per_mm
        Where they are drilled, rounded; and the rates they were to have, in equal percent steps.
    step_percent
        From one wanted rate to the next.
    lowest_mm, highest_mm, softest_N_per_mm, stiffest_N_per_mm
        Where holes may be, and what the two ends of that give.
    hole_mm
        Diameter that the rules were applied with; None where no hole has one (then only the cut end and the flat bind).
    problems
        Why the asked holes do not fit, and what would.
    nearest
        Where they do not: the plan that does and comes nearest, with the range cut to what can be reached and as many
        holes as find room; None where not even two do.
    """

    name: str
    bar: Bar | None = field(metadata=NOT_IN_JSON)
    evaluation: Evaluation | None = field(metadata=NOT_IN_JSON)
    case: str
    from_tip_mm: tuple[float, ...] = field(metadata=NOT_IN_JSON)
    wanted_N_per_mm: tuple[float, ...] = field(metadata=NOT_IN_JSON)
    step_percent: float
    lowest_mm: float = field(metadata=NOT_IN_JSON)
    highest_mm: float = field(metadata=NOT_IN_JSON)
    softest_N_per_mm: float = field(metadata=NOT_IN_JSON)
    stiffest_N_per_mm: float = field(metadata=NOT_IN_JSON)
    hole_mm: float | None = field(metadata=json_key("hole_diameter_mm"))
    rules: Rules
    problems: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    nearest: HolePlan | None = None

    _json_also: ClassVar[Mapping[str, str]] = {name: name for name in ("fits", "passes", "room", "holes")}

    @property
    def fits(self) -> bool:
        """The holes that were asked for find room."""
        return not self.problems

    @property
    def passes(self) -> bool:
        """They fit, and every one meets the targets."""
        return self.fits and self.evaluation is not None and bool(self.evaluation.passes.all())

    @property
    def drilled(self) -> Bar:
        """The bar with these holes.

        Raises
        ------
        InputError
            They do not fit; `problems` says why, and `nearest` is the plan that does.
        """
        if self.bar is None:
            problem = " ".join(self.problems) or "the holes do not fit."
            raise InputError(problem, where="place_holes", expected="holes that fit.")
        return self.bar

    def records(self) -> list[dict[str, Any]]:
        """A row a hole: place [mm], rate wanted and found [N/mm], stress [MPa], margin, life [cycles], and if they fit.

        Of holes that do not fit, places and wanted rates alone: nothing is drilled; `nearest` has rows that do.
        """
        return [flat(row) | {"fits": self.fits} for row in plain(self.holes)]

    @property
    def holes(self) -> list[dict[str, Any]]:
        """A row a hole: its place, the rate that it was to have, and the check's numbers."""
        found = self.evaluation
        rows = []
        for i, (place, wanted) in enumerate(zip(self.from_tip_mm, self.wanted_N_per_mm, strict=True)):
            row: dict[str, Any] = {"from_tip_mm": place, "wanted_N_per_mm": wanted}
            rows.append(row if found is None else row | {"name": found.left[i], **hole_setting_json(found, i)})
        return rows

    @property
    def room(self) -> dict[str, Any]:
        """Where holes may be, and the rates that both ends of it give."""
        return {
            "from_tip_mm": (self.lowest_mm, self.highest_mm),
            "rate_N_per_mm": (self.softest_N_per_mm, self.stiffest_N_per_mm),
        }
