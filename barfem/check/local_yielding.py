"""Where a bar yields: strain-life at a place that yields under cyclic load, and what the first full travel leaves."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from barfem.check.fatigue import Fatigue
from barfem.check.lives import FirstTravel, StrainLifeCheck
from barfem.check.ranking import RegionLife
from barfem.check.result import SettingResult
from barfem.check.solved import Solved
from barfem.model.bar import Bar
from barfem.model.errors import InputError
from barfem.model.load_case import CYCLE, Instant
from barfem.model.sentences import with_capital
from barfem.model.warned import Effect, Warned
from barfem.strength.cycle import von_mises_MPa
from barfem.strength.fatigue.assess import LifeStatus
from barfem.strength.fatigue.cyclic_curve import cyclic_curve
from barfem.strength.fatigue.residual import cyclic_yield
from barfem.strength.fatigue.strain_life import local_loop, strain_life_constants
from barfem.strength.first_travel import set_share
from barfem.strength.recover import Recovery

__all__ = ["first_travel_of", "strain_life_of", "yield_warnings", "yielding_words"]

Array = NDArray[np.float64]


def strain_life_of(bar: Bar, recovery: Recovery, judged: RegionLife, copy: int) -> StrainLifeCheck | None:
    """Strain-life at a region's worst place, where its elastic stress exceeds the cyclic yield strength; else None.

    The surface and size factors of the place lower the elastic line of the constants, and a softer end scales them.
    None above yield, where no life is stated at all, and for a steel that has no constants and no estimate of them.
    """
    at = (copy, judged.region)
    # Residual stress counts as mean stress, as far as it lasts.
    amplitude, mean = float(recovery.cycle_amplitude_MPa[at]), float(judged.assessment.mean_used_MPa)
    scale = float(recovery.cycle_strength_scale[at])
    limit = cyclic_yield(bar.steel) * scale
    if amplitude + mean <= limit or LifeStatus(int(judged.assessment.status)) is LifeStatus.ABOVE_YIELD:
        return None
    try:
        constants = strain_life_constants(bar.steel)
    except InputError:
        return None
    factors = {factor.name: float(np.asarray(factor.value)) for factor in judged.strength.factors}
    lowered = factors.get("surface factor ka", 1.0) * factors.get("size factor kb", 1.0)
    constants = constants.with_factor(min(lowered, 1.0))
    curve = cyclic_curve(bar.steel)
    lives = []
    for factor in (1.0, judged.strength.survival_factor(bar.targets.survival)):
        # Softer and weaker bars are met by a load that is greater in proportion.
        up = 1.0 / (scale * factor)
        loop = local_loop(amplitude_MPa=up * amplitude, mean_MPa=up * mean, curve=curve)
        lives.append(
            float(constants.life(strain_amplitude=loop.strain_amplitude, max_MPa=loop.max_MPa, mean_MPa=loop.mean_MPa))
        )
    loop = local_loop(amplitude_MPa=amplitude / scale, mean_MPa=mean / scale, curve=curve)
    return StrainLifeCheck(
        elastic_max_MPa=amplitude + mean,
        cyclic_yield_MPa=limit,
        stress_amplitude_MPa=float(loop.stress_amplitude_MPa) * scale,
        strain_amplitude=float(loop.strain_amplitude),
        max_MPa=float(loop.max_MPa) * scale,
        life_cycles=lives[0],
        life_at_survival_cycles=lives[1],
        source=constants.source,
        curve_source=curve.source,
    )


def yielding_words(fatigue: Fatigue) -> str:
    """How a place with `strain_life` yields: both ways in every cycle, or at the start alone, mean stress and all."""
    if fatigue.strain_life is not None and fatigue.amplitude_MPa <= fatigue.strain_life.cyclic_yield_MPa:
        return "the place yields in its first cycles, mean and residual stress included, and is elastic from then on"
    return "the place yields in every cycle"


def first_travel_of(solved: Solved, setting: int, *, margin: float, fatigue: Fatigue) -> FirstTravel:
    """What the first full travel of hole setting number `setting` does."""
    bar, recovery = solved.bar, solved.recovery
    if margin >= 0.0:
        scale = float(recovery.cycle_strength_scale[setting, int(solved.ranking.order[setting, 0])])
        local = fatigue.amplitude_MPa + fatigue.mean_MPa
        if local <= bar.steel.yield_strength_MPa * scale:
            return FirstTravel(kind="elastic", words="the first full travel stays elastic everywhere")
        stays = fatigue.strain_life is None or fatigue.amplitude_MPa <= fatigue.strain_life.cyclic_yield_MPa
        then = "and stays elastic from then on (shakedown)" if stays else "and goes on yielding in every cycle"
        return FirstTravel(
            kind="local", words=f"on the first full travel the governing place yields locally {then}", shakes_down=stays
        )
    share = _set_share(solved, setting)
    travel = float(np.abs(solved.solution.pickup_move_mm[setting, Instant.TRAVEL]).max())
    at = (setting, int(recovery.governing_yield()[setting]))
    sample = int(recovery.yield_sample[at])
    strength = bar.steel.yield_strength_MPa * float(solved.samples.strength_scale[sample])
    ends = np.array([von.max() for von in _von_mises_at(solved, setting, sample)])
    one, other = (solved.resultants[setting, end, sample] for end in CYCLE)
    amplitude = _von_mises(solved, sample, 0.5 * (one - other)[None])[0].max()
    stays = bool(amplitude <= strength)
    then = (
        "and then stays elastic (shakedown)"
        if stays
        else "and yields again both ways in every cycle: no shakedown, it will not last"
    )
    words = (
        f"the first full travel, {ends.max():.0f} MPa elastically against {strength:.0f} MPa of yield, leaves a set of "
        f"about {share * travel:.2g} mm at each pickup and carries about {100.0 * share:.2g} % less force at full "
        f"travel than the elastic rate says, {then}; an estimate (ideally plastic, elastic deformation kept)"
    )
    return FirstTravel(
        kind="set", words=words, set_mm=share * travel, force_lost_percent=100.0 * share, shakes_down=stays
    )


def yield_warnings(settings: Sequence[SettingResult]) -> tuple[Warned, ...]:
    """What yielding does to the hole settings, for the result's warnings: the worst of each kind."""
    warnings = []
    lost = [setting for setting in settings if setting.fatigue.peening_lost]
    if lost:
        holes = ", ".join(dict.fromkeys(setting.holes for setting in lost))
        warnings.append(
            Warned(
                f"Peening earns nothing where life is decided at hole {holes}: the load alone yields there in every "
                "cycle and leaves none of its residual stress.",
                Effect.COUNTED,
            )
        )
    by_kind: dict[str, list[str]] = {}
    for setting in settings:
        if setting.fatigue.strain_life is not None:
            by_kind.setdefault(yielding_words(setting.fatigue), []).append(setting.holes)
    for words, names in by_kind.items():
        holes = ", ".join(dict.fromkeys(names))
        warnings.append(
            Warned(
                f"{with_capital(words)} where life is decided at hole {holes}: strain-life is judged beside "
                "stress-life.",
                Effect.COUNTED,
            )
        )
    sets = [s.first_travel for s in settings if s.first_travel is not None and s.first_travel.kind == "set"]
    if sets:
        worst = max(sets, key=lambda first: first.set_mm or 0.0)
        warnings.append(Warned(worst.words, Effect.COUNTED).sentence)
    return tuple(warnings)


def _von_mises(solved: Solved, sample: int, rows: Array) -> Array:
    """(k, p) round one sample from resultants (k, 6)."""
    ss, hoop, shear = solved.maps.stress(slice(sample, sample + 1), rows[None])
    return von_mises_MPa(ss[0], None if hoop is None else hoop[0], shear[0])


def _von_mises_at(solved: Solved, setting: int, sample: int) -> Array:
    return _von_mises(solved, sample, solved.resultants[setting, :, sample])


def _set_share(solved: Solved, setting: int) -> float:
    """Energy-weighted loss over the round sections of bends and straights at the worse end of the cycle."""
    bar, samples = solved.bar, solved.samples
    steel, section = bar.steel, bar.section
    kinds = np.array([region.kind in ("straight", "bend") for region in samples.regions])
    rows = np.moveaxis(solved.resultants[setting, CYCLE], 1, 0)  # (n, 2, 6)
    ss, hoop, shear = solved.maps.stress(slice(0, len(samples.station_mm)), rows)
    von_mises = von_mises_MPa(ss, hoop, shear).max(axis=2)  # (n, 2)
    inertia = np.pi / 64.0 * (section.diameter_mm**4 - section.bore_mm**4)
    torque, bending = rows[..., 3], np.hypot(rows[..., 4], rows[..., 5])
    density = bending**2 / (2.0 * steel.E_MPa * inertia) + torque**2 / (4.0 * steel.G_MPa * inertia)
    overstress = von_mises / (steel.yield_strength_MPa * samples.strength_scale[:, None])
    share = 0.0
    for end, state in enumerate(CYCLE):
        total = float(solved.solution.strain_energy_Nmm[setting, state])
        if total <= 0.0:
            continue
        part = np.zeros(len(samples.station_mm))
        for number in np.flatnonzero(kinds):
            here = np.flatnonzero(samples.region == number)
            station = samples.station_mm[here]
            length = np.zeros(len(here))
            length[:-1] += 0.5 * np.diff(station)
            length[1:] += 0.5 * np.diff(station)
            part[here] = density[here, end] * length / total
        bore = section.bore_mm / section.diameter_mm
        share = max(share, set_share(energy=part, overstress=overstress[:, end], bore_ratio=bore))
    return share
