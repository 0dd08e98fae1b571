"""What would make a failing hole setting pass: each way found by solving, rounded to what a drawing says.

A *way* is a list of bars, the one nearest to the drawing first, that an engineer could order: less travel, a hole
nearer the tip, a longer arm, the next stock size, a better skin. Along each way the first bar whose hole setting meets
every target is looked for: first where stress in proportion would let it pass, then by interpolation of how far it is
from its targets (`first_step`). Where passing comes and goes along a way, a passing bar is found all the same, if not
always the nearest.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from barfem.model.bar import Bar
from barfem.model.errors import BarfemError
from barfem.model.surfaces import SURFACES
from barfem.strength.fatigue.factors import strength_share
from barfem.study.change import change, tables_of
from barfem.study.evaluate import Evaluation, evaluate
from barfem.study.first_step import first_good
from barfem.study.sections import section_name
from barfem.study.stock import read_stock

__all__ = ["Advice", "advise", "travel_to_spare"]

STEP_MM = 0.5
"""What travels and hole positions are rounded to."""

ARM_STEP_MM = 5.0
LONGEST_ARM = 1.4  # times the drawn one
LEAST_TRAVEL = 0.2  # share of the drawn one
_HAIR = 1e-9
_EXPONENT = 6.0  # of a rough bar's line, for how far a life is from its target
SMALLEST = 0.6  # diameter over the drawn one
EDGE = 1.5  # hole diameters from a hole's middle to the cut end (common practice, no source)


@dataclass(frozen=True, kw_only=True)
class Advice:
    """One way that makes a hole setting pass, or what it has to spare.

    `kind` is "travel", "hole", "arm", "section", "skin" or "leave out"; `changes` are keys of the bar file with their
    new values, as `change` takes them (none for "leave out"); `rate_N_per_mm` is the hole setting's with them, and
    `rate_change_percent` how far that is from the drawn bar's.
    """

    left: str
    right: str
    case: str
    kind: str
    words: str
    changes: Mapping[str, Any]
    rate_N_per_mm: float | None = None
    rate_change_percent: float | None = None


@dataclass(frozen=True)
class _Step:
    """A bar along a way: what of the file changes, and how it is said."""

    changes: Mapping[str, Any]
    words: str
    share: float = math.nan
    """Stress over that of the drawn bar, by proportion: where to look first."""


def advise(bar: Bar, *, case: str | None = None, going: Callable[[], object] = lambda: None) -> tuple[Advice, ...]:
    """Ways for each hole setting that fails, in the order of the bar file; none for a bar that passes.

    `going` is called before each batch of bars; what it raises ends the search.

    Raises
    ------
    InputError
        The bar was not read from a bar file's tables.
    """
    (drawn,) = evaluate([bar], case=case, keep_failures=True)
    names = list(zip(drawn.left, drawn.right, drawn.cases, drawn.passes.tolist(), strict=True))
    failing = [j for j, name in enumerate(names) if not name[3]]
    found: list[Advice] = []
    for name in dict.fromkeys(names[j][2] for j in failing):
        some = [j for j in failing if names[j][2] == name]
        holes = {j: _spelled(*names[j][:2]) for j in some}
        # What changes the whole bar is judged at all failing holes at once, each bar once.
        shared = {
            kind: _Way(bar, list(way), list(holes.values()), name, going) for kind, way in _ways(bar, name).items()
        }
        for j in some:
            left, right = names[j][:2]
            own = _Way(bar, list(_nearer_the_tip(bar, left, right)), [holes[j]], name, going)
            for kind, way in {"travel": shared["travel"], "hole": own, **shared}.items():
                at = way.in_turn(holes[j]) if kind == "skin" else way.first(holes[j], score_of(drawn, j))
                if at is not None:
                    found.append(_advice(drawn, j, kind, way.steps[at[0]], at[1]))
            others = [ok for a, b, _, ok in names if (a, b) != (left, right)]
            if others and all(others):
                found.append(
                    _advice(drawn, j, "leave out", _Step({}, "leave this hole out: all others pass"), math.nan)
                )
    return tuple(sorted(found, key=lambda each: (each.case, _order(names, each))))


def _order(names: Sequence[tuple[str, str, str, bool]], each: Advice) -> int:
    """Place of an advice's hole setting among `names`."""
    return next(j for j, name in enumerate(names) if name[:3] == (each.left, each.right, each.case))


def _spelled(left: str, right: str) -> str:
    return left if left == right else f"{left}/{right}"


def travel_to_spare(bar: Bar, *, case: str | None = None, going: Callable[[], object] = lambda: None) -> Advice | None:
    """The greatest travel at which a bar that passes still passes at all its holes; None where none is found.

    `going` as for `advise`.
    """
    name = case or "roll"
    (drawn,) = evaluate([bar], case=case, keep_failures=True)
    way = _Way(bar, list(_more_travel(bar, name)), None, case, going)
    at = way.last(_least_score(drawn)) if drawn.passes.all() else None
    if at is None:
        return None
    step = way.steps[at]
    return Advice(left="", right="", case=name, kind="travel", words=step.words, changes=step.changes)


def _advice(drawn: Evaluation, j: int, kind: str, step: _Step, rate: float) -> Advice:
    before = float(drawn.rate_N_per_mm[j])
    rise = 100.0 * (rate / before - 1.0) if before > 0.0 and math.isfinite(rate) else None
    return Advice(
        left=drawn.left[j],
        right=drawn.right[j],
        case=drawn.cases[j],
        kind=kind,
        words=step.words,
        changes=step.changes,
        rate_N_per_mm=rate if math.isfinite(rate) else None,
        rate_change_percent=rise,
    )


def _ways(bar: Bar, case: str) -> dict[str, Iterator[_Step]]:
    return {
        "travel": _less_travel(bar, case),
        "arm": _longer_arms(bar),
        "section": _smaller_sections(bar),
        "skin": _better_skins(bar),
    }


# --- searching -------------------------------------------------------------------------------------------------------


class _Way:
    """The bars along one way, each evaluated once, at the holes that are asked about."""

    def __init__(
        self,
        bar: Bar,
        steps: list[_Step],
        holes: list[str] | None,
        case: str | None,
        going: Callable[[], object] = lambda: None,
    ) -> None:
        self.bar, self.steps, self.holes, self.case, self.going = bar, steps, holes, case, going
        self._found: dict[int, Evaluation | None] = {}

    def evaluations(self, numbers: Sequence[int]) -> list[Evaluation | None]:
        """The bars of these steps, the new ones in one batch; None where there is no such bar."""
        self.going()
        new = [i for i in numbers if i not in self._found]
        made: list[Bar | None] = []
        for i in new:
            try:
                made.append(change(self.bar, self.steps[i].changes))
            except BarfemError:
                made.append(None)
        bars = [each for each in made if each is not None]
        found = evaluate(bars, holes=self.holes, case=self.case, keep_failures=True)
        self._found |= {i: None if each is None else next(found) for i, each in zip(new, made, strict=True)}
        return [self._found[i] for i in numbers]

    def first(self, hole: str, drawn: float) -> tuple[int, float] | None:
        """Number of the first step at which a hole setting passes, and its rate there; None where none does.

        `drawn` is its score as drawn.
        """

        def scores(numbers: Sequence[int]) -> list[float]:
            return [score_of(each, _place(each, hole)) if each else math.nan for each in self.evaluations(numbers)]

        done = [i for i, each in self._found.items() if each is not None]
        seen = dict(zip(done, scores(done), strict=True))
        at = first_good(len(self.steps), scores, before=drawn, guess=self._at(math.exp(drawn)), seen=seen)
        if at is None:
            return None
        each = self._found[at]
        return None if each is None else (at, float(each.rate_N_per_mm[_place(each, hole)]))

    def in_turn(self, hole: str) -> tuple[int, float] | None:
        """As `first`, of steps that do not get better one by one: peening alone may do where a finer finish does not.

        All of them after the first have its shape and its forces, so that they cost little.
        """
        for numbers in ([0], list(range(len(self.steps)))) if self.steps else ():
            for i, each in zip(numbers, self.evaluations(numbers), strict=True):
                if each is not None and each.passes[_place(each, hole)]:
                    return i, float(each.rate_N_per_mm[_place(each, hole)])
        return None

    def last(self, drawn: float) -> int | None:
        """Number of the last step before the first at which any hole setting fails; None where the first one fails.

        `drawn` is the least score of the hole settings as drawn.
        """

        def scores(numbers: Sequence[int]) -> list[float]:
            return [-_least_score(each) if each else math.inf for each in self.evaluations(numbers)]

        first = first_good(len(self.steps), scores, before=-drawn, guess=self._at(math.exp(min(drawn, 1.0))))
        at = len(self.steps) - 1 if first is None else first - 1
        return at if at >= 0 else None

    def _at(self, share: float) -> float | None:
        """Number of the step whose stress is nearest to a share of the drawn bar's."""
        off = {i: abs(step.share - share) for i, step in enumerate(self.steps) if math.isfinite(step.share)}
        return min(off, key=off.__getitem__) if off else None


def _place(each: Evaluation, hole: str) -> int:
    return [_spelled(*names) for names in zip(each.left, each.right, strict=True)].index(hole)


def score_of(each: Evaluation, j: int) -> float:
    """How far hole setting `j` is from its targets: above zero it passes, zero or less it fails.

    Logarithm of the share by which stress could rise, as far as yield and life tell; a hint, but for its sign.
    """
    bar, life = each.bar, float(each.life_at_survival_cycles[j])
    yields = (1.0 + float(each.yield_margin[j])) / (1.0 + bar.targets.yield_margin)
    lasts = strength_share(bar.targets.survival, bar.steel.scatter) * float(each.safety_factor_at_target[j])
    if math.isfinite(life) and bar.duty.target_cycles_given:
        lasts = (max(life, _HAIR) / bar.duty.target_cycles) ** (1.0 / _EXPONENT)
    ratios = [ratio for ratio in (yields, lasts) if math.isfinite(ratio)]
    score = math.log(max(min(ratios), 1e-6)) if ratios else -math.inf
    return max(score, _HAIR) if each.passes[j] else min(score, -_HAIR)


def _least_score(each: Evaluation) -> float:
    return min(score_of(each, j) for j in range(len(each.settings)))


# --- the ways --------------------------------------------------------------------------------------------------------


def _travel_keys(bar: Bar, case: str) -> dict[str, float]:
    """Keys of [travel] that the load case goes by, with their values as numbers of the file's own kind."""
    table, travel = tables_of(bar)["travel"], bar.travel
    if case == "one-wheel" and "one_wheel" in table:
        return {"one_wheel": travel.one_wheel_mm}
    if case == "parallel" and "parallel" in table:
        return {"parallel": float(getattr(travel, "parallel_mm", None) or travel.up_mm)}
    if "up" in table or "down" in table:
        return {"up": travel.up_mm, "down": travel.down_mm}
    if "wheel" in table and travel.motion_ratio:
        return {"wheel": travel.up_mm / travel.motion_ratio}
    return {"pickup": travel.up_mm}


def _travels(bar: Bar, case: str, steps: Iterable[int]) -> Iterator[_Step]:
    """Travel so many half millimetres less (more, where negative) than drawn, up and down in proportion."""
    keys = _travel_keys(bar, case)
    most = max(keys.values())
    for step in steps:
        value = math.floor(most / STEP_MM + 1e-9) * STEP_MM - STEP_MM * step
        share = value / most
        if not LEAST_TRAVEL <= share <= 3.0 or abs(share - 1.0) < 1e-9:
            continue
        new = {key: math.floor(each * share / STEP_MM + 1e-9) * STEP_MM for key, each in keys.items()}
        if min(new.values()) <= 0.0:
            continue
        said = ", ".join(f"{key.replace('_', ' ')} {each:g} mm" for key, each in new.items())
        drawn = ", ".join(f"{each:g}" for each in keys.values())
        yield _Step({f"travel.{key}": each for key, each in new.items()}, f"travel {said} (drawn {drawn})", share)


def _less_travel(bar: Bar, case: str) -> Iterator[_Step]:
    return _travels(bar, case, range(int(max(_travel_keys(bar, case).values()) / STEP_MM)))


def _more_travel(bar: Bar, case: str) -> Iterator[_Step]:
    most = int(2.0 * max(_travel_keys(bar, case).values()) / STEP_MM)
    return _travels(bar, case, (-step for step in range(1, most)))


def _hole_keys(bar: Bar, left: str, right: str) -> dict[str, Any]:
    """The key of each side's hole in the bar file."""
    ends = tables_of(bar)["ends"]
    keys = {}
    for side, name in (("left", left), ("right", right)):
        own = isinstance(ends.get(side), dict) and "holes" in ends[side]
        keys[side] = f"ends.{side + '.' if own else ''}holes.{name}.from_tip"
    return keys


def _nearer_the_tip(bar: Bar, left: str, right: str) -> Iterator[_Step]:
    """The hole nearer to the cut end, as far as its edge and the next hole allow: a longer arm."""
    keys = _hole_keys(bar, left, right)
    holes = [
        next(hole for hole in end.holes if hole.name == name) for end, name in ((bar.left, left), (bar.right, right))
    ]
    if "." in left or "." in right:  # a name that no key can hold
        return
    least = []
    for end, hole in zip((bar.left, bar.right), holes, strict=True):
        size = hole.diameter_mm or 0.0
        inner = [other for other in end.holes if other.from_tip_mm < hole.from_tip_mm]
        room = [other.from_tip_mm + size + 0.5 * (other.diameter_mm or 0.0) for other in inner]
        least.append(max([EDGE * size, *room]))
    room_mm = min(hole.from_tip_mm - low for hole, low in zip(holes, least, strict=True))
    arm_mm = _arm_mm(bar, holes[0].station_mm)
    for step in range(1, int(room_mm / STEP_MM + 1e-9) + 1):
        new = [round(hole.from_tip_mm - STEP_MM * step, 3) for hole in holes]
        changes = dict(zip(keys.values(), new, strict=True))
        said = f"{new[0]:g} mm" if new[0] == new[1] else f"{new[0]:g} mm left, {new[1]:g} mm right"
        was = f"{holes[0].from_tip_mm:g}" if new[0] == new[1] else " and ".join(f"{h.from_tip_mm:g}" for h in holes)
        share = (arm_mm / (arm_mm + STEP_MM * step)) ** 2  # at equal travel stress goes with one over the arm's square
        yield _Step(changes, f"hole {said} from the cut end (drawn {was})", share)


def _longer_arms(bar: Bar) -> Iterator[_Step]:
    """Both arms longer at their tips, in the form that the file gives the centreline in."""
    tables = tables_of(bar)
    straight = min(bar.centreline.segments[i].length_mm for i in (0, -1))
    most = int((LONGEST_ARM - 1.0) * max(straight, 100.0) / ARM_STEP_MM)
    ends, _ = bar.centreline.evaluate([0.0, bar.centreline.length_mm])
    _, frames = bar.centreline.evaluate([0.0, bar.centreline.length_mm])
    arm_mm = _arm_mm(bar, bar.left.holes[0].station_mm)
    for step in range(1, most + 1):
        more = ARM_STEP_MM * step
        if "arms" in tables:
            splay = math.radians(_splay(tables))
            changes: dict[str, Any] = {"arms.length": _plain(tables["arms"]["length"]) + more * math.cos(splay)}
            if not math.isfinite(changes["arms.length"]):
                return
        elif "centreline" in tables:
            points = list(tables["centreline"]["points"])
            points[0] = np.round(ends[0] - more * frames[0, 0], 3).tolist()
            points[-1] = np.round(ends[1] + more * frames[1, 0], 3).tolist()
            changes = {"centreline.points": points}
        else:
            return  # the bender's rows are his own numbers
        yield _Step(changes, f"arms {more:g} mm longer", (arm_mm / (arm_mm + more)) ** 2)


def _arm_mm(bar: Bar, station_mm: float) -> float:
    """Distance of a place of the centreline from the line through the outermost mounts."""
    stations = [mount.station_mm for mount in bar.mounts]
    (one, other, place), _ = bar.centreline.evaluate([min(stations), max(stations), station_mm])
    along = (other - one) / np.linalg.norm(other - one)
    return max(float(np.linalg.norm(place - one - along * ((place - one) @ along))), 1.0)


def _splay(tables: Mapping[str, Any]) -> float:
    """[arms] splay in deg, where it is a plain number."""
    value = tables["arms"].get("splay", 0.0)
    return float(value) if isinstance(value, int | float) else math.nan


def _plain(value: Any) -> float:
    """A length of the file in mm, where it is a plain number; NaN for one with a unit."""
    return float(value) if isinstance(value, int | float) else math.nan


def _smaller_sections(bar: Bar) -> Iterator[_Step]:
    """Stock sizes, the nearest first: at equal travel less section is less stress (and less rate)."""
    here = bar.section
    sizes = [
        size
        for size in read_stock().of(here.shape)
        if SMALLEST * here.diameter_mm <= size.diameter_mm <= here.diameter_mm
        and (size.diameter_mm < here.diameter_mm or (size.wall_mm or 0.0) < (here.wall_mm or 0.0))
    ]
    # By diameter first: at equal travel that is what stress goes with; of one diameter the stiffest costs least rate.
    sizes.sort(key=lambda size: (-size.diameter_mm, -_stiffness(size.diameter_mm, size.wall_mm)))
    drawn = _stiffness(here.diameter_mm, here.wall_mm)
    for size in sizes:
        if _stiffness(size.diameter_mm, size.wall_mm) >= drawn:
            continue
        changes: dict[str, Any] = {"section.diameter": size.diameter_mm}
        if size.wall_mm is not None:
            changes["section.wall"] = size.wall_mm
        yield _Step(changes, section_name(size), size.diameter_mm / here.diameter_mm)


def _stiffness(diameter: float, wall: float | None) -> float:
    bore = 0.0 if wall is None else diameter - 2.0 * wall
    return diameter**4 - bore**4


def _better_skins(bar: Bar) -> Iterator[_Step]:
    """What can be ordered of the skin: peening, better finishes, and both; peening that is there stays."""
    peened = bar.steel.peening is not None
    # surface = "shot-peened" says peening by its name alone, which another finish's name would take away.
    said = "peening" in (bar.tables or {}).get("material", {})
    keep: dict[str, Any] = {"material.peening": "shot"} if peened and not said else {}
    finishes = []
    name = SURFACES[bar.steel.surface].better
    while name is not None and name != "polished":  # nobody polishes a bar
        finishes.append(name)
        name = SURFACES[name].better
    shot = {"material.peening": "shot"}
    if not peened:
        yield _Step(shot, "shot peening")
    for name in finishes:
        yield _Step({"material.surface": name, **keep}, f'surface "{name}" ({SURFACES[name].title})')
    if not peened:
        for name in finishes:
            yield _Step({"material.surface": name, **shot}, f'surface "{name}" ({SURFACES[name].title}), shot-peened')
