"""The result of a check: every hole setting's rate, loads, stress, margin and life, and why it passes or not.

Everything here is an immutable record. A field's name is its key in the JSON, its unit is part of the name, and
the contract's keys keep their meaning. `to_json_dict` never lets a number out that is not finite.

Signs: link forces are positive in tension; angles, reactions and stresses named worst or peak are magnitudes;
a station is measured along the developed centreline from the right tip, `from_middle` positive to the left.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import field, fields
from functools import cached_property
from typing import TYPE_CHECKING, Any

from barfem.check.fatigue import Fatigue
from barfem.check.hole_names import pair_words
from barfem.check.lives import CriticalPlaneLife, FirstTravel
from barfem.check.setting_records import Compliance, MountReaction, Peak, StateLoads
from barfem.check.solid_record import SolidRecord
from barfem.check.weak_places import EndState, LifePlace, Place
from barfem.model.errors import BarfemError, InputError
from barfem.model.frozen import frozen
from barfem.model.plain import NOT_IN_JSON, plain
from barfem.model.shown import Shown
from barfem.strength.bend_record import BendStress
from barfem.strength.fatigue.life import Life

if TYPE_CHECKING:
    from barfem.check.solved import Solved

__all__ = [
    "CheckResult",
    "Mesh",
    "Place",
    "SettingResult",
    "Solver",
    "UnsolvedSetting",
    "steps_to_next_percent",
]


@frozen(kw_only=True)
class SettingResult:
    """One hole setting in one load case.

    Rates: [F(travel) - F(rest)] / travel, F at a pickup along the travel direction. At full travel: `twist_deg` is the
    rotation of the bar between its outermost mounts, `torque_Nm` the torque at the bar's middle;
    `roll_rate_Nm_per_deg` is the couple of the pickups' forces over the angle of their travel across the joints'
    distance. From rest, the greater of both ends of the cycle: lean is how far a link swings, the joint angle how far
    it swings as seen from the bar's end, arm rotation the turn of the bar at its hole. `next_for_stress` and
    `next_for_life` are the places after the governing ones; `end` is the weakest place of the bar's ends, with each
    hole in use and not. `does_nothing` says why roll does not work the bar, where it does not; `supports_work` that
    mounts and links take much of its travel.
    """

    left: str
    right: str
    case: str
    rate_N_per_mm: float | None
    rate_initial_N_per_mm: float | None
    link_force_left_N: float
    link_force_right_N: float
    peak: Peak
    places: tuple[Place, ...]
    yield_margin: float
    fatigue: Fatigue
    passes: bool
    why: tuple[str, ...]
    not_checked: tuple[str, ...] = ()
    does_nothing: str | None = None
    supports_work: str | None = None
    step_to_next_percent: float | None = None
    wheel_rate_N_per_mm: float | None = None
    twist_deg: float | None = None
    torque_Nm: float | None = None
    roll_rate_Nm_per_deg: float | None = None
    states: tuple[StateLoads, ...] = ()
    mount_reactions: tuple[MountReaction, ...] = ()
    link_lean_left_deg: float | None = None
    link_lean_right_deg: float | None = None
    joint_angle_left_deg: float | None = None
    joint_angle_right_deg: float | None = None
    arm_rotation_left_deg: float | None = None
    arm_rotation_right_deg: float | None = None
    strain_energy_J: float | None = None
    first_travel: FirstTravel | None = None
    critical_planes: tuple[CriticalPlaneLife, ...] = ()
    compliance: Compliance | None = None
    next_for_stress: tuple[Place, ...] = ()
    next_for_life: tuple[LifePlace, ...] = ()
    end: EndState | None = None

    @property
    def holes(self) -> str:
        """The pair as it is spoken of: "2", or "1 left, 3 right" when unequal."""
        return pair_words(self.left, self.right)


@frozen(kw_only=True)
class UnsolvedSetting:
    """A hole setting that cannot follow its travel: it fails, and `why` says where it stops and what would be right."""

    left: str
    right: str
    case: str
    why: tuple[str, ...]
    passes: bool = False
    not_checked: tuple[str, ...] = ()

    @property
    def holes(self) -> str:
        """The pair as `SettingResult.holes` has it."""
        return pair_words(self.left, self.right)

    @property
    def life(self) -> Life:
        """None, for the reason that it fails."""
        return Life(None, None, reason=self.why[0])


@frozen(kw_only=True)
class Mesh:
    """Size of the discretisation, of one hole setting."""

    elements: int
    nodes: int
    unknowns: int
    sections_with_stress: int | None = None
    points_round_section: int | None = None


@frozen(kw_only=True)
class Solver:
    """How the solution converged: the worst over all hole settings and states, residuals relative."""

    states_solved: int
    load_steps: int
    newton_iterations: int
    force_residual: float
    moment_residual: float
    link_length_residual: float


@frozen(kw_only=True, repr=False)
class CheckResult(Shown):
    """Everything one check found, with what it was asked and what it assumed.

    In a notebook it shows its verdict and its table of hole settings.

    `look_twice` is what may be a slip of the bar file, `described` the bar in words and `cases` each judged load case
    in words; `not_judged` names load cases that this run left out. `target_repeats` is that of blocks, beside which
    `target_cycles` is judged only where it was given; `strength_share_at_survival` is the share of the median strength
    that `survival` of all bars have. `inputs` echoes the bar as it was solved; `input_sha256` is the hash of the bar
    file's bytes. `bends` says where the stress of each bend comes from; `solid` is the swept solid's record. `solved`
    are the states and stresses that it was judged from, for pictures and further questions; neither JSON nor a pickle
    has them.
    """

    barfem: str
    name: str
    model: str
    mass_kg: float
    developed_length_mm: float
    settings: tuple[SettingResult, ...]
    target_cycles: float
    survival: float
    yield_margin_target: float
    goodman_target: float | None = None
    target_repeats: float | None = None
    target_cycles_judged: bool = True
    strength_share_at_survival: float | None = None
    assumptions: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    look_twice: tuple[str, ...] = ()
    described: tuple[str, ...] = ()
    cases: Mapping[str, str] = field(default_factory=dict)
    not_judged: tuple[str, ...] = ()
    drawing: str | None = None
    revision: str | None = None
    source: str | None = None
    input_sha256: str | None = None
    inputs: Mapping[str, Any] = field(default_factory=dict)
    bends: tuple[BendStress, ...] = ()
    solid: SolidRecord | None = None
    mesh: Mesh | None = None
    solver: Solver | None = None
    unsolved: tuple[UnsolvedSetting, ...] = ()
    solved: Any = field(default=None, compare=False, metadata=NOT_IN_JSON)

    @property
    def rows(self) -> tuple[SettingResult | UnsolvedSetting, ...]:
        """Every hole setting, those that could not be solved last."""
        return (*self.settings, *self.unsolved)

    @property
    def json_rows(self) -> list[dict[str, Any]]:
        """Every hole setting as the JSON has it, one that could not be solved with null for its numbers."""
        return list(self.to_json_dict()["settings"])

    @cached_property  # it walks the whole result, and every printed part asks for it
    def passes(self) -> bool:
        """Every hole setting judged meets its targets, and every number of the result is finite."""
        return all(setting.passes for setting in self.rows) and not self.non_finite()

    @property
    def feels_nothing(self) -> bool:
        """Whether no hole setting that could be solved stresses the bar: then no place governs."""
        return bool(self.settings) and not any(setting.peak.von_mises_MPa > 0.0 for setting in self.settings)

    @property
    def governing_for_stress(self) -> SettingResult:
        """The hole setting with the least yield margin; an error as `governing_for_life`."""
        return min(self._solved_settings, key=lambda setting: _nan_first(setting.yield_margin))

    @property
    def governing_for_life(self) -> SettingResult:
        """The hole setting with the shortest life at survival; of several beyond the knee the least safety factor.

        One that feels nothing has no safety factor and comes last.

        Raises
        ------
        BarfemError
            None could be solved.
        """
        return min(self._solved_settings, key=_life_order)

    @property
    def _solved_settings(self) -> tuple[SettingResult, ...]:
        if not self.settings:
            raise BarfemError(f"no hole setting can follow its travel. {self.unsolved[0].why[0]}")
        return self.settings

    @property
    def states(self) -> Solved:
        """What was solved.

        Raises
        ------
        BarfemError
            No hole setting could be.
        InputError
            The result was read back (a pickle, another process): it holds its numbers alone.
        """
        if self._solved_settings and self.solved is None:
            raise InputError(
                f"this result of {self.name} holds its numbers alone, not what was solved.",
                where="plot",
                expected="the result that check_bar returned.",
            )
        found: Solved = self.solved
        return found

    def records(self, rows: str = "settings") -> list[dict[str, Any]]:
        """The result as flat rows; ``pandas.DataFrame(check.records())`` is a table.

        Keys are those of the JSON, with their units; what is nested has the path in its name: ``peak_von_mises_MPa``,
        ``fatigue_life_cycles``. Every row begins with name, left, right and case. Values are numbers, text, booleans or
        None, where the reason or runout beside it says why there is no number.

        Parameters
        ----------
        rows
            "settings": a row a hole setting; one that cannot follow its travel comes last, failed and without numbers,
            and is in no other rows. Or a row for each of the "places" (the worst point of each region),
            "states" (link forces in N), "mount_reactions" (N, N m), "lives" (at 50, 90 and 99 % survival, cycles),
            "blocks" of the duty, or "critical_planes".

        Raises
        ------
        InputError
            There are no such rows.
        """
        from barfem.check.records import records

        return records(self, rows)

    def __getstate__(self) -> dict[str, Any]:
        # A factorised solid does not pickle, and the fields of a bar are large.
        return super().__getstate__() | {"solved": None}

    def non_finite(self) -> list[str]:
        """Where a number is not finite, as paths such as ``settings[0].rate_N_per_mm``; empty when all is well."""
        paths: list[str] = []
        plain(self, not_finite=paths)
        return paths

    def to_json_dict(self) -> dict[str, Any]:
        """The result as plain dictionaries, lists, strings, booleans and finite numbers, in a fixed key order.

        A number that is not finite becomes null, and a warning names it: it is never passed on silently.
        """
        paths: list[str] = []
        found = plain(self, not_finite=paths)
        warnings = found["warnings"] + [
            f"{path} could not be computed (it is not finite) and is null" for path in paths
        ]
        # The same keys as the others', with null for every number that there is none of.
        empty: dict[str, Any] = {
            item.name: [] if str(item.type).startswith("tuple") else None for item in fields(SettingResult)
        }
        found["settings"] += [{**empty, **each} for each in found.pop("unsolved")]
        first = ("barfem", "name", "model", "mass_kg", "developed_length_mm", "settings", "assumptions")
        rest = {key: value for key, value in found.items() if key not in (*first, "warnings")}
        return {
            "format": 1,
            **{key: found[key] for key in first},
            "warnings": warnings,
            "passes": self.passes,
            "governing": {
                "stress": _setting_name(self.governing_for_stress) if self.settings else None,
                "life": _setting_name(self.governing_for_life) if self.settings else None,
            },
            **rest,
        }


def steps_to_next_percent(rates_N_per_mm: Sequence[float | None], cases: Sequence[str]) -> tuple[float | None, ...]:
    """Rise of the rate, in %, from each hole setting to the next stiffer one of the same load case.

    Settings whose rates differ by less than one part in 10 000 (the mirrored pairs of a symmetric bar) are the same
    rung. None for the stiffest, and where there is no rate.
    """
    steps: list[float | None] = []
    for rate, case in zip(rates_N_per_mm, cases, strict=True):
        if rate is None or not rate > 0.0:
            steps.append(None)
            continue
        stiffer = [
            other
            for other, other_case in zip(rates_N_per_mm, cases, strict=True)
            if other is not None and other_case == case and other > rate * (1.0 + 1e-4)
        ]
        steps.append(100.0 * (min(stiffer) / rate - 1.0) if stiffer else None)
    return tuple(steps)


def _setting_name(setting: SettingResult) -> dict[str, str]:
    return {"left": setting.left, "right": setting.right, "case": setting.case}


def _nan_first(value: float | None) -> float:
    return value if value is not None and math.isfinite(value) else -math.inf


def _life_order(setting: SettingResult) -> tuple[float, float]:
    fatigue = setting.fatigue
    unloaded = fatigue.runout and fatigue.safety_factor_at_target is None
    return fatigue.life.order, math.inf if unloaded else _nan_first(fatigue.safety_factor_at_target)
