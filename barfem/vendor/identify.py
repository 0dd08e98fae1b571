"""Parameters of a bar from its measured curves: diameter, wall, bushing and link stiffness, with standard errors.

Nonlinear least squares of the rates over all curves, on the beam model, in logarithms of the parameters. What the data
cannot tell apart is said and not reported as two numbers: a pair whose estimates would correlate above 0.98, one whose
standard error would be more than half of itself, and as many unknowns as there are unlike curves fall short of.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import field, replace
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar, Link
from barfem.model.errors import BarfemError, InputError
from barfem.model.frozen import frozen
from barfem.model.plain import NOT_IN_JSON, Json, json_key
from barfem.solve.beam import HoleSetting, solve_bars
from barfem.solve.solid.nearby import bends_near
from barfem.study.change import change
from barfem.vendor.identify_curves import RateFound, drawn_curves, fit_curve, other_unit
from barfem.vendor.identify_misfit import moved_at_the_right, several_bars, strange_curves
from barfem.vendor.identify_reading import Curve

__all__ = [
    "PARAMETERS",
    "Apart",
    "Found",
    "Identified",
    "changed_bar",
    "identify",
    "solve_parameters",
    "with_parameters",
]

Array = NDArray[np.float64]
PARAMETERS = ("diameter_mm", "wall_mm", "mount_radial_stiffness_N_per_mm", "link_stiffness_N_per_mm")
DEFAULT_FREE = ("diameter_mm", "mount_radial_stiffness_N_per_mm")
ALIKE = 0.98
VAGUE = 0.5
FAR = {"diameter_mm": 0.25, "wall_mm": 0.5}
_FAR_STIFFNESS = 3.0
RIGID_N_PER_MM = 50_000.0
"""Where a search for a link's stiffness starts that the bar file has rigid."""


@frozen
class Found:
    """A parameter as found, its standard error and the drawing's value."""

    value: float
    se: float
    nominal: float


@frozen
class Apart:
    """Parameters that the data cannot tell apart (or one that they cannot tell), and the combination that they do.

    `combination` is the product of powers (`powers`, of each over its nominal) that is best known; with its value and
    standard error, both as a ratio to the drawing's.
    """

    names: tuple[str, ...]
    combination: str
    powers: tuple[float, ...]
    value: float
    se: float

    _json_also: ClassVar[Mapping[str, str]] = {"words": "words"}

    @property
    def words(self) -> str:
        """As it is told."""
        if len(self.names) == 1:
            return f"this data cannot tell {self.names[0]}: its standard error would be over {100 * VAGUE:.0f} %"
        *some, last = self.names
        return (
            f"this data cannot tell {', '.join(some)} from {last}; their combination is {self.combination} = "
            f"{self.value:.4f} of the drawing's (standard error {self.se:.4f})"
        )


@frozen
class Identified(Json):
    """Rates of the curves, what was found, and what could not be told; `notes` of how the files were read.

    `ask`: "unit" or "case" where that has to be settled before anything is fitted, else empty.
    """

    bar: Bar = field(metadata=NOT_IN_JSON)
    rates: tuple[RateFound, ...]
    free: tuple[str, ...]
    found: dict[str, Found] = field(metadata=json_key("identified"))
    correlation: tuple[tuple[float, ...], ...]
    cannot_tell: tuple[Apart, ...] = field(metadata=json_key("cannot_tell_apart"))
    warnings: tuple[str, ...]
    ask: str = field(metadata=NOT_IN_JSON)
    notes: tuple[str, ...] = ()

    _json_also: ClassVar[Mapping[str, str]] = {"name": "bar.name"}


def parameter_of(bar: Bar, name: str) -> float:
    """A parameter as drawn.

    Raises
    ------
    InputError
        This bar has no such thing.
    """
    if name not in PARAMETERS:
        raise InputError(f"{name} cannot be free.", where="--free", expected=f"of {', '.join(PARAMETERS)}.")
    if name == "diameter_mm":
        return bar.section.diameter_mm
    if name == "wall_mm":
        wall = bar.section.bore_mm and 0.5 * (bar.section.diameter_mm - bar.section.bore_mm)
        if not wall:
            raise InputError("a solid bar has no wall.", where="--free", expected="diameter_mm.")
        return wall
    if name == "link_stiffness_N_per_mm":
        return bar.left_link.axial_stiffness_N_per_mm or RIGID_N_PER_MM
    return bar.mounts[0].radial_stiffness_N_per_mm


def with_parameters(bar: Bar, names: Sequence[str], ratios: Sequence[float]) -> Bar:
    """The bar with parameters at so many times the drawing's; all mounts by the same ratio, links alike."""
    for name, ratio in zip(names, ratios, strict=True):
        if name == "diameter_mm":
            bar = replace(bar, section=replace(bar.section, diameter_mm=bar.section.diameter_mm * ratio))
        elif name == "wall_mm":
            bar = replace(bar, section=replace(bar.section, wall_mm=parameter_of(bar, name) * ratio))
        elif name == "link_stiffness_N_per_mm":
            bar = replace(bar, left_link=_link(bar.left_link, ratio), right_link=_link(bar.right_link, ratio))
        else:
            mounts = tuple(
                replace(mount, radial_stiffness_N_per_mm=mount.radial_stiffness_N_per_mm * ratio)
                for mount in bar.mounts
            )
            bar = replace(bar, mounts=mounts)
    return bar


def _link(link: Link, ratio: float) -> Link:
    return replace(link, axial_stiffness_N_per_mm=(link.axial_stiffness_N_per_mm or RIGID_N_PER_MM) * ratio)


def identify(bar: Bar, curves: Sequence[Curve], *, free: Sequence[str] = DEFAULT_FREE) -> Identified:
    """Rates of each curve, then parameters from all of them together. Both ends of a bench's roll move as far.

    Raises
    ------
    InputError
        A name that is no parameter, or none of this bar's; a tube's diameter and wall both free.
    BarfemError
        The drawn bar cannot follow a measured travel.
    """
    names = tuple(dict.fromkeys(free))
    if {"diameter_mm", "wall_mm"} <= set(names):
        raise InputError(
            "diameter and wall both free.", where="--free", expected="one of them: rates alone cannot tell both."
        )
    drawn_bar, bar = bar, replace(bar, travel=bar.travel.alike)
    nominal = {name: parameter_of(bar, name) for name in names}
    rates = tuple(fit_curve(curve, drawn) for curve, drawn in zip(curves, drawn_curves(bar, list(curves)), strict=True))
    warnings = (*several_bars(rates), *_warnings(rates), *moved_at_the_right(bar, rates))
    for ask, question in (("case", _other_case(bar, rates)), ("unit", other_unit(rates))):
        if question:
            return Identified(drawn_bar, rates, names, {}, (), (), (*warnings, question), ask)
    settings = [HoleSetting(curve.left, curve.right, curve.case) for curve in curves]
    with bends_near(bar):
        model = _model(bar, names, settings)
        found, correlation, apart, more = _solved(model, names, nominal, rates)
        if len(found) == len(names):
            # The curve that is fitted is bent as the bar's own: once more, with that of the bar that was found.
            shaped = with_parameters(bar, names, [found[name].value / found[name].nominal for name in names])
            again = drawn_curves(shaped, list(curves))
            rates = tuple(_reshaped(rate, drawn) for rate, drawn in zip(rates, again, strict=True))
            found, correlation, apart, more = _solved(model, names, nominal, rates)
        if len(found) == len(names) and len({rate.curve.bar for rate in rates}) == 1:
            logs = [np.log(found[name].value / found[name].nominal) for name in names]
            more = (*more, *strange_curves(bar, rates, model(np.array([logs]))[0]))
    return Identified(drawn_bar, rates, names, found, correlation, apart, (*warnings, *more), "")


def _solved(
    model: Callable[[Array], Array], names: Sequence[str], nominal: dict[str, float], rates: Sequence[RateFound]
) -> tuple[dict[str, Found], tuple[tuple[float, ...], ...], tuple[Apart, ...], tuple[str, ...]]:
    scales, errors = (np.array([getattr(rate, of) for rate in rates]) for of in ("scale", "scale_se"))
    return solve_parameters(model, names, nominal, scales, errors, unlike=_unlike([rate.curve for rate in rates]))


def _reshaped(rate: RateFound, drawn: tuple[Array, Array, float]) -> RateFound:
    """The curve fitted by another bar's shape, its rate still over the drawing's."""
    new = fit_curve(rate.curve, drawn)
    share = new.expected_N_per_mm / rate.expected_N_per_mm
    return replace(
        new, expected_N_per_mm=rate.expected_N_per_mm, scale=new.scale * share, scale_se=new.scale_se * share
    )


def _other_case(bar: Bar, rates: Sequence[RateFound]) -> str:
    """Where all rates are far off and right if the case were the other one, or near twice or half: the question."""
    scales = np.array([rate.scale for rate in rates])
    if not (np.all(scales > 1.4) or np.all(scales < 0.7)):
        return ""
    swap = {"roll": "one-wheel", "one-wheel": "roll"}
    settings = [HoleSetting(r.curve.left, r.curve.right, swap[r.curve.case]) for r in rates]
    with bends_near(bar):
        others = np.array([next(solve_bars([(bar, [each])])).initial.rate_N_per_mm[0] for each in settings])
    as_other = np.array([rate.rate_N_per_mm for rate in rates]) / others
    near = np.all((scales > 1.7) & (scales < 2.35)) or np.all((scales > 0.43) & (scales < 0.59))
    if not near and np.any(np.abs(as_other - 1.0) > 0.25):
        return ""
    return (
        f"every rate is about {scales.mean():.2g} times the computed one: was it measured in the other case (one_end_"
        "held is half of roll for a symmetric bar)? Nothing is fitted until the case is settled"
    )


def _unlike(curves: Sequence[Curve]) -> int:
    return len({(curve.left, curve.right, curve.case) for curve in curves})


def _warnings(rates: Sequence[RateFound]) -> tuple[str, ...]:
    out = []
    for rate in rates:
        what = rate.curve.words
        if rate.scale < 0.0:
            raise InputError(
                f"{what}: the force falls as the travel rises.",
                where=f"line {rate.curve.line}",
                expected="the force that the pickup exerts, of the same sign as its travel.",
                file=rate.curve.file,
            )
        if rate.runs_p < 0.01:
            out.append(
                f"{what}: residuals have a pattern (runs test, p = {rate.runs_p:.1g}): clamps that slip, friction, a "
                "stop, or a curve that the bar does not have"
            )
        if rate.slack_is_sure:
            out.append(f"{what}: {rate.slack_mm:.2f} mm of free travel; taken out of the rate")
    return tuple(out)


def _model(bar: Bar, names: Sequence[str], settings: Sequence[HoleSetting]) -> Callable[[Array], Array]:
    """Rates at rest (m, g) over the drawing's, of log ratios (m, p) of the parameters."""
    unlike = list(dict.fromkeys(settings))
    place = [unlike.index(setting) for setting in settings]

    def rates(logs: Array) -> Array:
        bars = [with_parameters(bar, names, np.exp(row).tolist()) for row in np.atleast_2d(logs)]
        solved = solve_bars([(each, unlike) for each in bars])
        return np.array([solution.initial.rate_N_per_mm[place] for solution in solved])

    base = rates(np.zeros((1, len(names))))[0]
    return lambda logs: rates(logs) / base


def solve_parameters(
    model: Callable[[Array], Array],
    names: Sequence[str],
    nominal: dict[str, float],
    scales: Array,
    errors: Array,
    *,
    unlike: int,
) -> tuple[dict[str, Found], tuple[tuple[float, ...], ...], tuple[Apart, ...], tuple[str, ...]]:
    """Gauss-Newton in log parameters; then what can be told and what not.

    Parameters
    ----------
    model
        Rates (m, g) over the drawing's, of log ratios (m, p).
    scales, errors
        Measured rates over the drawing's (g,), and their standard errors.
    unlike
        How many curves are of unlike hole pairs or cases.
    """
    p = len(names)
    at = np.zeros(p)
    reach = np.array([FAR.get(name, _FAR_STIFFNESS) for name in names])
    errors = np.maximum(errors, 1e-9)
    jacobian = np.zeros((len(scales), p))
    stopped = False
    for _ in range(12):
        value, jacobian = _differences(model, at, p)
        weighted, residual = jacobian / errors[:, None], (scales - value) / errors
        # What the data hardly tell is left where it is: it would run away and take the rest with it.
        step = np.linalg.pinv(weighted, rcond=1e-4) @ residual
        new = np.clip(at + np.clip(step, -0.5, 0.5), -reach, reach)
        moved, at = np.abs(new - at).max(), new
        if moved < 1e-7:
            break
    value, jacobian = _differences(model, at, p)
    weighted, residual = jacobian / errors[:, None], (scales - value) / errors
    information = np.asarray(weighted.T @ weighted, float)
    covariance = np.asarray(np.linalg.pinv(information, rcond=1e-14), float)
    warnings = []
    spare = len(scales) - p
    if spare > 0:
        from scipy.stats import chi2

        misfit = float(residual @ residual)
        if chi2.sf(misfit, spare) < 0.01:
            covariance, information = covariance * (misfit / spare), information * (spare / misfit)
            warnings.append(
                "the curves differ from the beam model by more than their scatter: standard errors are widened by "
                f"{np.sqrt(misfit / spare):.1f}"
            )
    se = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    with np.errstate(invalid="ignore", divide="ignore"):
        correlation = np.nan_to_num(covariance / np.outer(se, se))
    stopped = bool(np.any(np.abs(at) >= reach - 1e-9))
    groups = _cannot(names, se, correlation, unlike, np.abs(at) >= reach - 1e-9)
    apart = tuple(_apart(names, group, information, at, covariance) for group in groups)
    grouped = {i for group in groups for i in group}
    found = {
        name: Found(nominal[name] * float(np.exp(at[i])), nominal[name] * float(np.exp(at[i]) * se[i]), nominal[name])
        for i, name in enumerate(names)
        if i not in grouped
    }
    if stopped and not grouped:
        raise BarfemError("no parameters near the drawing's give these rates: another bar, hole or case?")
    return found, tuple(tuple(row) for row in correlation.tolist()), apart, tuple(warnings)


def _differences(model: Callable[[Array], Array], at: Array, p: int) -> tuple[Array, Array]:
    """Value (g,) and Jacobian (g, p), by central differences in one batch."""
    step = 2e-3
    values = model(np.concatenate([at[None], at + step * np.eye(p), at - step * np.eye(p)]))
    return values[0], np.asarray((values[1 : p + 1] - values[p + 1 :]).T / (2.0 * step))


def _cannot(
    names: Sequence[str], se: Array, correlation: Array, unlike: int, at_end: NDArray[np.bool_]
) -> list[tuple[int, ...]]:
    """Groups of parameters that cannot be told."""
    p = len(names)
    if unlike < p:
        return [tuple(range(p))]
    groups: list[tuple[int, ...]] = []
    for i in range(p):
        for j in range(i + 1, p):
            if abs(correlation[i, j]) > ALIKE:
                groups.append((i, j))
    # Pairs that share a parameter are one group.
    merged: list[set[int]] = []
    for group in groups:
        touching = [each for each in merged if each & set(group)]
        merged = [each for each in merged if each not in touching] + [set(group).union(*touching)]
    taken = set().union(*merged) if merged else set()
    vague = [(i,) for i in range(p) if i not in taken and (se[i] > VAGUE or at_end[i] or se[i] == 0.0)]
    return [tuple(sorted(each)) for each in merged] + vague


def _apart(names: Sequence[str], group: tuple[int, ...], information: Array, at: Array, covariance: Array) -> Apart:
    """The best known product of powers of a group: the strongest eigenvector of its information matrix."""
    index = np.array(group)
    # Of some of the parameters: what is known of them whatever the others are.
    block = information if len(group) == len(at) else np.linalg.pinv(covariance[np.ix_(index, index)])
    values, vectors = np.linalg.eigh(block)
    vector = vectors[:, -1]
    vector = vector / vector[np.argmax(np.abs(vector))]
    strength = float(values[-1]) * float(vector @ vector)
    log = float(vector @ at[index])
    se = float(vector @ vector) / np.sqrt(strength) if strength > 0.0 else np.inf
    members = tuple(names[i] for i in group)
    words = " x ".join(f"{name}^{power:.3g}" for name, power in zip(members, vector.tolist(), strict=True))
    return Apart(members, words, tuple(vector.tolist()), float(np.exp(log)), float(np.exp(log) * se))


def changed_bar(bar: Bar, found: Identified) -> Bar:
    """The bar file's bar with what was found in its keys, each mount's and link's stiffness by the same ratio.

    Raises
    ------
    InputError
        The bar was not read from a file, or with what was found it is no bar.
    """
    values: dict[str, float] = {}
    for name, each in found.found.items():
        if name in ("diameter_mm", "wall_mm"):
            values[f"section.{name.removesuffix('_mm')}"] = round(each.value, 4)
        elif name == "link_stiffness_N_per_mm":
            links = dict((bar.tables or {}).get("links", {}))
            for side, link in (("left", bar.left_link), ("right", bar.right_link)):
                own = f".{side}" if "axial_stiffness" in (links.get(side) or {}) else ""  # it overrides [links]
                found_there = _link(link, each.value / each.nominal).axial_stiffness_N_per_mm or 0.0
                values[f"links{own}.axial_stiffness"] = round(found_there, 1)
        else:
            for i, mount in enumerate(bar.mounts):
                stiffness = mount.radial_stiffness_N_per_mm * each.value / each.nominal
                values[f"mounts.{i + 1}.radial_stiffness"] = round(stiffness, 1)
    return change(bar, values)
