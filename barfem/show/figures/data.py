"""What every figure draws from: one check's result, and its fields over the bar."""

from __future__ import annotations

from functools import cached_property

from barfem.check.hole_names import pair_name
from barfem.check.result import CheckResult, SettingResult
from barfem.check.solved import Solved
from barfem.check.whole_bar import (
    EndurancePoint,
    HotSection,
    SurfaceFields,
    endurance_points,
    hot_section,
    surface_fields,
)
from barfem.model.bar import Bar
from barfem.model.frozen import frozen

__all__ = ["FigureData", "Mark"]


@frozen
class Mark:
    """Something on the bar that a figure names: "bend 1", "mount", "hole 2"; from one station to another."""

    kind: str
    name: str
    start_mm: float
    end_mm: float

    @property
    def middle_mm(self) -> float:
        return 0.5 * (self.start_mm + self.end_mm)


@frozen
class FigureData:
    """One check of one bar, ready to be drawn; safety factors all over it of the hole settings `factors_of`, or all."""

    result: CheckResult
    factors_of: tuple[int, ...] | None = None

    @property
    def solved(self) -> Solved:
        return self.result.states

    @property
    def bar(self) -> Bar:
        return self.solved.bar

    @cached_property
    def fields(self) -> SurfaceFields:
        return surface_fields(self.solved, factors_of=self.factors_of)

    @cached_property
    def endurance(self) -> tuple[EndurancePoint, ...]:
        return endurance_points(self.solved)

    @cached_property
    def by_stress(self) -> int:
        """Number of the hole setting that governs stress."""
        return self.result.settings.index(self.result.governing_for_stress)

    @cached_property
    def by_life(self) -> int:
        """Number of the hole setting that governs life."""
        return self.result.settings.index(self.result.governing_for_life)

    def feels(self, setting: int) -> bool:
        """Whether the bar feels anything in a hole setting."""
        return self.result.settings[setting].peak.von_mises_MPa > 0.0

    @property
    def governs_by_life(self) -> bool:
        """Whether fatigue is nearer to its target than yield, each as a factor on stress.

        With a duty in blocks alone the safety factor at the target cycles is not judged, and governs nothing.
        """
        if not self.result.target_cycles_judged:
            return False
        life = self.result.governing_for_life.fatigue.safety_factor_at_target
        by_yield = (1.0 + self.result.governing_for_stress.yield_margin) / (1.0 + self.result.yield_margin_target)
        return life is not None and life * self.strength_share < by_yield

    @cached_property
    def hot(self) -> HotSection:
        return hot_section(self.solved, self.by_stress)

    @cached_property
    def several_cases(self) -> bool:
        return len({setting.case for setting in self.result.settings}) > 1

    def name(self, setting: int) -> str:
        """ "hole 2", with the load case where there are several."""
        found = self.result.settings[setting]
        hole = pair_name(found.left, found.right)
        return f"hole {hole}" + (f", {found.case}" if self.several_cases else "")

    @staticmethod
    def short(setting: SettingResult) -> str:
        """The pair as a chart has room for: "2", "1/3", a long name cut."""
        names = [setting.left] if setting.left == setting.right else [setting.left, setting.right]
        return "/".join(name if len(name) <= LONGEST_NAME else name[: LONGEST_NAME - 1] + "\u2026" for name in names)

    def called(self, setting: int) -> str:
        """The same, with the load case where there are several."""
        found = self.result.settings[setting]
        return self.short(found) + (f" {found.case}" if self.several_cases else "")

    @property
    def rate_words(self) -> str:
        """Which rate `rate` gives."""
        return "Rate at rest" if self.result.model == "solid" else "Rate"

    def rate(self, setting: SettingResult) -> float | None:
        """Over the whole travel; of a swept solid, which is linear, at rest."""
        return setting.rate_initial_N_per_mm if self.result.model == "solid" else setting.rate_N_per_mm

    def shown(self, lead: int) -> tuple[int, ...]:
        """Hole settings that a figure with a line each shows: of `lead`'s load case; of many, the telling ones."""
        settings = self.result.settings
        alike = [j for j, setting in enumerate(settings) if setting.case == settings[lead].case]
        if len(alike) <= MOST_LINES:
            return tuple(alike)
        rates = {j: self.rate(settings[j]) or 0.0 for j in alike}
        return tuple(sorted({min(rates, key=lambda j: rates[j]), max(rates, key=lambda j: rates[j]), lead}))

    @cached_property
    def rows(self) -> tuple[int, ...]:
        """Hole settings that charts with a row each and the view show.

        All; of more than `MOST_ROWS`, those that govern and equal pairs first.
        """
        settings = self.result.settings
        telling = (self.by_life, self.by_stress)
        order = sorted(range(len(settings)), key=lambda j: (j not in telling, settings[j].left != settings[j].right))
        return tuple(sorted(order[:MOST_ROWS]))

    def rows_note(self) -> str:
        """ " 16 of 49 hole settings; the tables have all." where some are left out."""
        count = len(self.result.settings)
        return f" {len(self.rows)} of {count} hole settings; the tables have all." if len(self.rows) < count else ""

    def case_note(self, lead: int) -> str:
        """ " Load case roll." where there are several; nothing where there is one."""
        return f" Load case {self.result.settings[lead].case}." if self.several_cases else ""

    def reaches_target(self, setting: int) -> bool:
        """Whether a hole setting's life at the survival judged reaches its target."""
        fatigue = self.result.settings[setting].fatigue
        if not self.bar.duty.target_cycles_given:
            return fatigue.duty is None or fatigue.duty.reaches_target  # the blocks are judged, full travel is not
        at_survival = fatigue.life_at_survival_cycles
        return fatigue.runout if at_survival is None else at_survival >= self.result.target_cycles

    @cached_property
    def strength_share(self) -> float:
        """Share of the median fatigue strength at the survival that is judged, of the steel's scatter."""
        if self.result.strength_share_at_survival is not None:
            return self.result.strength_share_at_survival
        return float(self.endurance[self.by_life].strength.survival_factor(self.result.survival))

    @cached_property
    def marks(self) -> tuple[Mark, ...]:
        """Bends, mounts, flats and holes along the bar."""
        found = []
        for region in self.solved.samples.regions:
            if region.kind == "bend":
                found.append(Mark("bend", f"bend {region.index}", region.start_mm, region.end_mm))
            elif region.kind in ("flat", "transition"):
                found.append(Mark("flat", "flat", region.start_mm, region.end_mm))
            elif region.kind == "hole" and region.hole is not None:
                found.append(Mark("hole", region.hole.name, region.start_mm, region.end_mm))
        for mount in self.bar.mounts:
            half = 0.5 * mount.length_mm
            found.append(Mark("mount", "mount", mount.station_mm - half, mount.station_mm + half))
        return tuple(sorted(found, key=lambda mark: mark.middle_mm))


MOST_LINES = 6
MOST_ROWS = 16  # a chart is to fit a sheet, and a page to be sent by mail
LONGEST_NAME = 18  # letters of a hole's name in a chart
