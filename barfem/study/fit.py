"""A firm's own stress-life line: from its table of tests, and its bar or steel, to the line with its intervals."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field, replace
from pathlib import Path
from typing import Any, ClassVar

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.material import Steel
from barfem.model.plain import NOT_IN_JSON, Json, plain
from barfem.model.skin import Skin, read_peening
from barfem.model.surfaces import DEFAULT_SURFACE, PEENED_SCALE
from barfem.strength.fatigue.fit.line import LineFit, fit_line
from barfem.strength.fatigue.fit.posterior import PRIOR
from barfem.strength.fatigue.mean_stress import MeanStress
from barfem.study.bar_tests import BarTest, read_bar_tests
from barfem.study.fit_handbook import HandbookLine, handbook_line
from barfem.study.fit_stress import LocalCycle, local_cycles
from barfem.study.fit_words import assumptions_of, strongest_MPa, warnings_of, warnings_of_bore

__all__ = ["DEFAULT_AT_CYCLES", "Fit", "TestPoint", "TestedSkin", "fit_tests"]

Array = NDArray[np.float64]

DEFAULT_AT_CYCLES = 200_000.0  # that of [duty] target_cycles
DEFAULT_SURVIVAL = 0.90  # that of [targets] survival
SHARE_UNSAID = 0.0  # of torsion, where a test gives local stress alone: bending, as `barfem life` takes it


@frozen(kw_only=True)
class TestPoint:
    """One test as it was fitted: local stress, and the reversed amplitude of the same harm."""

    __test__ = False  # a test of a bar, not of this program

    line: int
    bar: str | None
    amplitude_MPa: float
    mean_MPa: float
    reversed_MPa: float
    cycles: float
    broken: bool
    where: str | None


@frozen
class TestedSkin:
    """Finish, peening ("none" or "shot") and decarburised depth [mm] of the bars tested; None where nobody said."""

    __test__ = False

    surface: str | None
    peening: str | None
    decarburised_mm: float | None = None

    @classmethod
    def of(cls, surface: str | None, peening: str | None) -> TestedSkin:
        """Of the words of a file: "shot-peened" is short for scaled and peened."""
        if surface == PEENED_SCALE:
            return cls(DEFAULT_SURFACE, "shot")
        return cls(surface, peening)

    @classmethod
    def drawn(cls, bar: Bar | None) -> TestedSkin:
        """What the bar file says."""
        if bar is None:
            return cls(None, None)
        steel = bar.steel
        return cls(steel.surface, "shot" if steel.peening else "none", steel.decarburised_depth_mm)

    @property
    def text(self) -> str:
        finish = self.surface or "finish not said"
        depth = "" if not self.decarburised_mm else f", decarburised {self.decarburised_mm:g} mm"
        return (
            finish + {None: ", peening not said", "none": ", unpeened", "shot": ", shot-peened"}[self.peening] + depth
        )

    @property
    def skin(self) -> Skin:
        """The skin of the strength model; what nobody said is taken to be the default finish, unpeened."""
        finish = Skin.named(self.surface or DEFAULT_SURFACE)
        return replace(finish, peening=read_peening(self.peening, surface=None), decarburised_mm=self.decarburised_mm)


@frozen(kw_only=True)
class Fit(Json):
    """The fitted line with what it was fitted to; `steel` is None where neither bar nor grade was given."""

    line: LineFit = field(metadata=NOT_IN_JSON)
    points: tuple[TestPoint, ...]
    skin: TestedSkin = field(metadata=NOT_IN_JSON)
    diameter_mm: float | None
    steel: Steel | None = field(metadata=NOT_IN_JSON)
    handbook: HandbookLine | None = field(metadata=NOT_IN_JSON)
    prior: str
    file: str
    assumptions: tuple[str, ...]
    warnings: tuple[str, ...]

    _json_also: ClassVar[Mapping[str, str]] = {
        name: f"line.{name}"
        for name in (
            "exponent", "exponent_90", "strength_MPa", "at_cycles", "strength_90", "log10_life_deviation",
            "log10_life_deviation_90", "survival", "strength_at_survival_MPa", "strength_at_survival_90",
        )
    } | {"surface": "skin.surface", "peening": "skin.peening"} | {
        name: name for name in ("tests", "stopped", "maximum_likelihood")
    } | {"handbook": "of_handbook"}  # fmt: skip

    @property
    def tests(self) -> int:
        return len(self.points)

    @property
    def of_handbook(self) -> dict[str, Any]:
        """The handbook's line in numbers; empty without one."""
        return {} if self.handbook is None else plain(self.handbook)

    @property
    def maximum_likelihood(self) -> dict[str, float] | None:
        likely = self.line.most_likely
        names = ("exponent", "strength_MPa", "log10_life_deviation")
        return None if likely is None else dict(zip(names, likely, strict=True))

    @property
    def stopped(self) -> int:
        return sum(not point.broken for point in self.points)


def fit_tests(
    path: Path,
    *,
    bar: Bar | None = None,
    steel: Steel | None = None,
    surface: str | None = None,
    peening: str | None = None,
    at_cycles: float | None = None,
    prior: bool = True,
    mean_stress: str | None = None,
) -> Fit:
    """Fit the line to the tests of a CSV file.

    Parameters
    ----------
    bar
        Through it tests given as travel or force become local stress; its steel, skin and diameter stand for what the
        table does not say.
    steel
        For the mean stress and the handbook's line, where there is no bar.
    surface, peening
        Fit the tests with this finish, and "shot" or "none", alone; what a test does not say is taken to be so.
    at_cycles
        Where strength is stated; default: the bar's target, or 200 000.
    prior
        Whether the prior on slope and scatter is used.
    mean_stress
        Rule by which a test's mean becomes a reversed amplitude; default: the bar's, or Goodman.

    Raises
    ------
    InputError
        The file, a line of it, or what is asked of it cannot be right.
    """
    file = str(path)
    if mean_stress is not None:
        MeanStress(mean_stress, 1.0)  # refuses an unknown rule also where no test has a mean
    every, warnings = read_bar_tests(path)
    steel = bar.steel if bar is not None else steel
    tests, skin = _alike(every, bar, surface, peening, file)
    needs_bar = next((test for test in tests if test.load[0] != "amplitude_MPa"), None)
    if needs_bar is not None and bar is None:
        raise InputError(
            f"{needs_bar.load[0]} becomes a stress through a bar file, and none is given.",
            file=file,
            where=f"line {needs_bar.line}",
            expected="--bar BAR.toml, or amplitude_MPa, the local stress amplitude.",
        )
    if not any(test.broken for test in tests):
        raise InputError(
            f"{'the only test was' if len(tests) == 1 else f'all {len(tests)} tests were'} stopped: no "
            "bar broke, and no line can be told.",
            file=file,
            expected="at least one broken bar; barfem plan says what unbroken bars show.",
        )
    cycles = {} if bar is None else local_cycles(bar, tests, file=file)
    rule = mean_stress or (bar.targets.mean_stress if bar is not None else "goodman")
    points = _points(tests, cycles, steel, rule, file)
    target = at_cycles or (bar.duty.target_cycles if bar is not None else DEFAULT_AT_CYCLES)
    try:
        line = fit_line(
            amplitude_MPa=[point.reversed_MPa for point in points],
            cycles=[point.cycles for point in points],
            broken=[point.broken for point in points],
            at_cycles=target,
            prior=PRIOR if prior else None,
            survival=DEFAULT_SURVIVAL if bar is None else bar.targets.survival,
        )
    except InputError as error:
        raise error.in_file(file) from error
    of_bar = bar.section.diameter_mm if bar is not None else None
    diameters = sorted({known for test in tests if (known := test.diameter_mm or of_bar) is not None})
    kinds = sorted({cycles[test.line].kind for test in tests if test.broken and test.line in cycles})
    shares = [cycle.torsion_share for cycle in cycles.values()]
    handbook = None
    if steel is not None:
        handbook = handbook_line(
            steel,
            skin=skin.skin,
            diameter_mm=diameters[0] if diameters else None,
            torsion_share=float(np.median(shares)) if shares else SHARE_UNSAID,
            at_cycles=target,
        )
    return Fit(
        line=line,
        points=points,
        skin=skin,
        diameter_mm=diameters[0] if diameters else None,
        steel=steel,
        handbook=handbook,
        prior=PRIOR.text if prior else "none",
        file=file,
        assumptions=assumptions_of(tests, cycles, rule, bar),
        warnings=(
            *warnings_of_bore(tests, cycles, skin, bar),
            *warnings,
            *warnings_of(line, points, diameters, kinds, rule, prior=prior, steel=steel, handbook=handbook),
        ),
    )


def _alike(
    tests: Sequence[BarTest], bar: Bar | None, surface: str | None, peening: str | None, file: str
) -> tuple[tuple[BarTest, ...], TestedSkin]:
    """The tests of one skin: all, or those asked for."""
    wanted = TestedSkin.of(surface, peening)
    drawn = TestedSkin.drawn(bar)
    by_skin: dict[TestedSkin, list[BarTest]] = {}
    for test in tests:
        given = TestedSkin.of(test.surface, test.peening)
        finish = given.surface or wanted.surface or drawn.surface
        skin = TestedSkin(
            finish,
            given.peening or wanted.peening or drawn.peening,
            drawn.decarburised_mm if finish == drawn.surface else None,
        )
        by_skin.setdefault(skin, []).append(test)
    fitting = {
        skin: some
        for skin, some in by_skin.items()
        if wanted.surface in (None, skin.surface) and wanted.peening in (None, skin.peening)
    }
    kinds = "; ".join(f"{skin.text} (line {some[0].line})" for skin, some in by_skin.items())
    if not fitting:
        raise InputError(
            f"no test has the skin that is asked for; there are {kinds}.", file=file, expected="one of these."
        )
    if len(fitting) > 1:
        raise InputError(
            f"tests of {len(fitting)} skins in one file: {kinds}. They have no common line.",
            file=file,
            expected="--surface or --peening for one of them at a time.",
        )
    skin, some = next(iter(fitting.items()))
    return tuple(some), skin


def _points(
    tests: Sequence[BarTest], cycles: dict[int, LocalCycle], steel: Steel | None, rule: str, file: str
) -> tuple[TestPoint, ...]:
    points = []
    for test in tests:
        local = cycles.get(test.line)
        amplitude = local.amplitude_MPa if local else float(test.amplitude_MPa or 0.0)
        share = local.torsion_share if local else SHARE_UNSAID
        mean = local.mean_MPa if local else float(test.mean_MPa or 0.0)
        _believable(test, amplitude, steel, file)
        points.append(
            TestPoint(
                line=test.line,
                bar=test.bar,
                amplitude_MPa=amplitude,
                mean_MPa=mean,
                reversed_MPa=_reversed(amplitude, mean, share, steel, rule, test.line, file),
                cycles=test.cycles,
                broken=test.broken,
                where=local.where if local else test.place,
            )
        )
    return tuple(points)


def _believable(test: BarTest, amplitude_MPa: float, steel: Steel | None, file: str) -> None:
    """No test lasts at an amplitude above the tensile strength; above twice that it is no range either."""
    strongest, whose = strongest_MPa(steel)
    if amplitude_MPa <= 2.0 * strongest:
        return
    column, value = test.load
    gives = "" if column == "amplitude_MPa" else f" gives a local amplitude of {amplitude_MPa:.0f} MPa, and"
    raise InputError(
        f"{value:g} {column.rpartition('_')[2]}{gives} is more than twice {whose}, {strongest:.0f} MPa.",
        file=file,
        where=f"line {test.line}, column {column}",
        expected="the amplitude, half the range, in the unit of the column's name (1 ksi is 6.89 MPa)."
        if column == "amplitude_MPa"
        else "the load of the test, in the unit of the column's name, and the bar that was tested.",
    )


def _reversed(
    amplitude: float, mean: float, torsion_share: float, steel: Steel | None, rule: str, line: int, file: str
) -> float:
    """The reversed amplitude of the same harm. A compressive mean earns no credit."""
    tension = max(mean, 0.0)
    if tension == 0.0:
        return amplitude
    where = f"line {line}"
    if steel is None and rule != "swt":
        raise InputError(
            f"a mean of {mean:g} MPa becomes a reversed amplitude by {rule} with the steel's strength, and no steel is "
            "given.",
            file=file,
            where=f"{where}, column mean_MPa",
            expected="--bar, or --grade and --condition; --mean-stress swt needs none.",
        )
    coefficient = steel.cyclic.fatigue_strength_coefficient_MPa if steel and steel.cyclic else None
    found = MeanStress(rule, coefficient).equivalent(
        amplitude_MPa=np.asarray(amplitude),
        mean_MPa=np.asarray(tension),
        tensile_MPa=np.asarray(steel.tensile_strength_MPa if steel else np.inf),
        yield_MPa=np.asarray(steel.yield_strength_MPa if steel else np.inf),
        torsion_share=torsion_share,
    )
    if not np.isfinite(found):
        raise InputError(
            f"a mean of {mean:g} MPa reaches the steel's strength: {rule} leaves no amplitude.",
            file=file,
            where=where,
            expected="a smaller mean, or the steel that was tested.",
        )
    return float(found)
