"""Stress, margin and shape over the whole bar, as arrays for drawing: what the check reduces to its worst places.

Taken from the same solved states by the same functions, so that no picture can disagree with the table.
Copies (j) are the hole settings, states (k) rest, travel and the cycle's other end.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.check.endurance import mean_stress_of, safety_factors
from barfem.check.loads import STATE_NAMES
from barfem.check.ranking import judge
from barfem.check.solved import CYCLE, Solved
from barfem.model.frozen import frozen
from barfem.solve.resultants import centreline_mm, section_turns
from barfem.strength.cycle import von_mises_MPa
from barfem.strength.fatigue.assess import FatigueAssessment, amplitude_lasting
from barfem.strength.fatigue.mean_stress import MeanStress
from barfem.strength.fatigue.residual import cyclic_yield
from barfem.strength.fatigue.strength import FatigueStrength
from barfem.strength.places import Region
from barfem.strength.recover import UNLOADED
from barfem.strength.section_map import BORE, OUTSIDE
from barfem.strength.worst_points import Points

__all__ = ["EndurancePoint", "HotSection", "Spot", "SurfaceFields", "endurance_points", "hot_section", "surface_fields"]

Array = NDArray[np.float64]

BODY = ("straight", "bend", "transition", "flat")  # the regions that cover the bar; holes and mount edges lie in them


@frozen(kw_only=True)
class Spot:
    """The worst that one hole or contact adds to the section it lies in, as `Recovery` found it; arrays (j,).

    Stress and margin are the net section's; the safety factor is that of its edge. Nothing of a hole that is not
    checked is here.
    """

    region: Region
    station_mm: float
    von_mises_MPa: Array
    yield_margin: Array
    safety_factor: Array


@frozen(kw_only=True)
class SurfaceFields:
    """Fields at m sections in order of station and p points round each, outside first, then the bore of a tube.

    A tangent has two sections, the straight's and the bend's. Holes and contacts, which lie in them, are `spots`.

    Attributes
    ----------
    station_mm, region, strength_scale : (m,)
        `region` indexes `regions`; `strength_scale` is the local factor on the steel's strength.
    spots
        The holes and the edges of mounts and collars.
    surface : (p,)
        OUTSIDE or BORE.
    exists : (m, p)
        False where that section has no such point (the bore of a forged flat): its fields mean nothing.
    von_mises_MPa : (j, k, m, p)
    yield_margin : (j, m, p)
        Least over the states of local yield strength / von Mises stress - 1; `UNLOADED` where there is no stress.
    safety_factor : (j, m, p)
        On the stress amplitude, at the target cycles; infinite where there is no load.
    at_rest_mm, at_travel_mm : (m, p, 3), (j, m, p, 3)
        The points in drawing axes: as drawn, and at full travel.
    """

    regions: tuple[Region, ...]
    station_mm: Array
    region: NDArray[np.intp]
    strength_scale: Array
    surface: NDArray[np.intp]
    exists: NDArray[np.bool_]
    von_mises_MPa: Array
    yield_margin: Array
    safety_factor: Array
    at_rest_mm: Array
    at_travel_mm: Array
    spots: tuple[Spot, ...]

    def along_MPa(self, surface: int) -> Array:
        """Greatest von Mises stress round the outside or the bore at each section, (j, k, m); NaN where it has none."""
        points = self.exists & (self.surface == surface)
        greatest = np.where(points, self.von_mises_MPa, -1.0).max(axis=-1)
        return np.where(greatest < 0.0, np.nan, greatest)


@frozen(kw_only=True)
class HotSection:
    """Stress round the section that holds the peak of one hole setting, in the state in which it occurs.

    Arrays are (p,), p points round one surface, from 0 to below 360 deg: `angle_deg` from the inside of the bend, or
    on a straight from the section's own first point. `sides` names the points at 0, 90, 180 and 270 deg. `stress_MPa`
    (3, p) is sigma_ss (along the bar), sigma_thetatheta (round it) and tau_stheta.
    """

    setting: int
    station_mm: float
    state: str
    sides: tuple[str, str, str, str]
    surfaces: tuple[str, ...]
    angle_deg: tuple[Array, ...]
    stress_MPa: tuple[Array, ...]
    von_mises_MPa: tuple[Array, ...]


@frozen(kw_only=True)
class EndurancePoint:
    """The place that decides one hole setting's life: its stress-life line and where its cycle lies against it.

    `residual_MPa` is what the surface model gives before the cycle; `assessment` says what is left of it. `peak_share`
    is the greatest stress held against yield over mean + amplitude.
    """

    strength: FatigueStrength
    assessment: FatigueAssessment
    amplitude_MPa: float
    residual_MPa: float
    mean_MPa: float
    peak_share: float
    yield_strength_MPa: float
    tensile_strength_MPa: float
    cyclic_yield_MPa: float
    rule: MeanStress

    def amplitude_lasting(self, cycles: float, mean_MPa: ArrayLike, *, share: float = 1.0) -> NDArray[np.float64]:
        """Amplitudes [MPa] that last `cycles` here at a load mean, by the engine that judges."""
        return amplitude_lasting(
            self.strength,
            cycles,
            mean_MPa=mean_MPa,
            residual_MPa=self.residual_MPa,
            peak_share=self.peak_share,
            yield_MPa=self.yield_strength_MPa,
            tensile_MPa=self.tensile_strength_MPa,
            cyclic_yield_MPa=self.cyclic_yield_MPa,
            rule=self.rule,
            share=share,
        )


def surface_fields(solved: Solved, *, factors_of: Sequence[int] | None = None) -> SurfaceFields:
    """Fields over the whole bar in every hole setting; safety factors of those numbered in `factors_of` alone.

    Where it is given they are of the outside alone, and NaN elsewhere: they take most of the time.
    """
    samples, maps, bar = solved.samples, solved.maps, solved.bar
    body = np.array([region.kind in BODY for region in samples.regions])
    here = np.flatnonzero(body[samples.region])
    here = here[np.argsort(samples.station_mm[here], kind="stable")]
    stress = maps.stress(slice(0, len(samples.station_mm)), np.moveaxis(solved.resultants, 2, 0))
    # At a transition's end, too, stress and margin are the section's own, and the safety factor has its shoulder in it.
    von_mises = np.moveaxis(von_mises_MPa(*stress)[samples.net[here]], 0, 2)  # (j, k, m, p)
    scale = samples.strength_scale[here]
    strength = bar.steel.yield_strength_MPa * scale[:, None]
    greatest = von_mises.max(axis=1)
    margin = np.where(greatest > 0.0, strength / np.where(greatest > 0.0, greatest, 1.0) - 1.0, UNLOADED)
    stations = samples.station_mm[here]
    across = maps.position_mm[maps.index[here]] @ samples.frame[here, 1:]
    points, _ = bar.centreline.evaluate(stations)
    moved = centreline_mm(solved.solution, stations)[:, 1]
    turned = section_turns(solved.solution, stations)[:, 1]
    return SurfaceFields(
        regions=samples.regions,
        station_mm=stations,
        region=samples.region[here],
        strength_scale=scale,
        surface=maps.surface,
        exists=maps.exists[maps.index[here]],
        von_mises_MPa=von_mises,
        yield_margin=np.minimum(margin, UNLOADED),
        safety_factor=_safety_factors(solved, here, factors_of),
        spots=_spots(solved),
        at_rest_mm=points[:, None] + across,
        at_travel_mm=moved[:, :, None] + across @ np.swapaxes(turned, -1, -2),
    )


def _spots(solved: Solved) -> tuple[Spot, ...]:
    recovery = solved.recovery
    safe = solved.ranking.assessment.safety_factor_at_target
    factors = np.where(np.isfinite(safe), safe, np.inf)
    return tuple(
        Spot(
            region=region,
            station_mm=0.5 * (region.start_mm + region.end_mm),
            von_mises_MPa=recovery.peak_MPa[:, number],
            yield_margin=recovery.yield_margin[:, number],
            safety_factor=factors[:, number],
        )
        for number, region in enumerate(solved.samples.regions)
        if region.kind not in BODY and region.checked
    )


def _safety_factors(solved: Solved, rows: NDArray[np.intp], only: Sequence[int] | None) -> Array:
    """Safety factor at the target cycles at every point of samples, (j, n, p), as the check states it at its places."""
    count = len(solved.resultants)
    which = range(count) if only is None else only
    points = Points(solved.samples, solved.maps, solved.resultants[list(which)].transpose(2, 1, 0, 3), CYCLE)
    out = np.full((count, len(rows), len(solved.maps.surface)), np.nan)
    for surface in points.surfaces if only is None else (OUTSIDE,):
        part = points.surfaces[surface]
        factors = safety_factors(solved.bar, points.cycle_everywhere(rows, part), within=3e-4)  # which no colour shows
        found = factors.reshape(len(rows), len(which), -1)
        out[list(which), :, part] = np.moveaxis(found, 1, 0)
    return out


def hot_section(solved: Solved, setting: int) -> HotSection:
    """Stress round the section that holds the peak of hole setting number `setting`."""
    recovery, samples, maps = solved.recovery, solved.samples, solved.maps
    at = (setting, int(recovery.governing_peak()[setting]))
    sample, state = int(recovery.peak_sample[at]), int(recovery.peak_state[at])
    rows = solved.resultants[setting, state, sample][None]
    ss, hoop, shear = (None if part is None else part[0] for part in maps.stress(slice(sample, sample + 1), rows))
    index = maps.index[sample]
    in_bend = bool(samples.in_bend[sample])
    surfaces, angles, stresses, von_mises = [], [], [], []
    zero_rad = float(samples.inward_angle_rad[sample]) if in_bend else float(maps.angle_rad[index, 0])
    for surface, name in ((OUTSIDE, "outside"), (BORE, "bore")):
        points = np.flatnonzero((maps.surface == surface) & maps.exists[index])
        if len(points) == 0 or ss is None or shear is None:
            continue
        angle = np.degrees(maps.angle_rad[index, points] - zero_rad) % 360.0
        angle = np.where(angle > 360.0 - 1e-6, 0.0, angle)
        points, angle = points[np.argsort(angle)], np.sort(angle)
        surfaces.append(name)
        angles.append(angle)
        none = np.zeros(len(points))
        stresses.append(np.stack([ss[points], none if hoop is None else hoop[points], shear[points]]))
        von_mises.append(von_mises_MPa(ss[points], None if hoop is None else hoop[points], shear[points]))
    return HotSection(
        setting=setting,
        station_mm=float(samples.station_mm[sample]),
        state=STATE_NAMES[state],
        sides=_sides(solved, sample, zero_rad, in_bend),
        surfaces=tuple(surfaces),
        angle_deg=tuple(angles),
        stress_MPa=tuple(stresses),
        von_mises_MPa=tuple(von_mises),
    )


def _sides(solved: Solved, sample: int, zero_rad: float, in_bend: bool) -> tuple[str, str, str, str]:
    """Names of the points at 0, 90, 180 and 270 deg: inside and outside of a bend, else the nearest drawing axis."""
    _, a, b = solved.samples.frame[sample]
    names = []
    for quarter in range(4):
        angle = zero_rad + 0.5 * np.pi * quarter
        direction = np.cos(angle) * a + np.sin(angle) * b
        axis = int(np.argmax(np.abs(direction)))
        names.append((("rear", "front"), ("right", "left"), ("bottom", "top"))[axis][int(direction[axis] > 0.0)])
    first, second, third, fourth = names
    return ("inside", second, "outside", fourth) if in_bend else (first, second, third, fourth)


def endurance_points(solved: Solved) -> tuple[EndurancePoint, ...]:
    """For each hole setting the place with the shortest life, its stress-life line and its cycle."""
    bar, recovery = solved.bar, solved.recovery
    ranking = solved.ranking
    points = []
    for j in range(len(solved.solution.settings)):
        region = int(ranking.order[j, 0])
        judged = judge(bar, recovery, j, region)
        scale = float(recovery.cycle_strength_scale[j, region])
        amplitude, mean = float(recovery.cycle_amplitude_MPa[j, region]), float(recovery.cycle_mean_MPa[j, region])
        points.append(
            EndurancePoint(
                strength=judged.strength,
                assessment=judged.assessment,
                amplitude_MPa=amplitude,
                residual_MPa=judged.residual_MPa,
                mean_MPa=mean,
                peak_share=float(recovery.cycle_max_MPa[j, region]) / max(amplitude + mean, 1e-9),
                yield_strength_MPa=bar.steel.yield_strength_MPa * scale,
                tensile_strength_MPa=bar.steel.tensile_strength_MPa * scale,
                cyclic_yield_MPa=cyclic_yield(bar.steel) * scale,
                rule=mean_stress_of(bar),
            )
        )
    return tuple(points)
