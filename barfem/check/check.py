"""The check of a bar: solve every hole setting, find the stress everywhere, ask the steel, say whether it passes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from barfem.check.duty_life import critical_sum_of, duty_life
from barfem.check.fatigue import Fatigue
from barfem.check.lives import DutyLife
from barfem.check.loads import STATE_NAMES, angles, mount_reactions, roll_rates_Nm_per_deg
from barfem.check.local_yielding import first_travel_of, yield_warnings
from barfem.check.planes import CRITERIA, critical_planes
from barfem.check.points import checked_points
from barfem.check.result import (
    CheckResult,
    Compliance,
    Mesh,
    Peak,
    Place,
    SettingResult,
    Solver,
    StateLoads,
    UnsolvedSetting,
    steps_to_next_percent,
)
from barfem.check.right_wheel import right_wheel_warnings
from barfem.check.solved import NoTiming, Solved, Unsolved
from barfem.check.strength_words import strength_assumptions
from barfem.check.timing import Timing
from barfem.check.unpaired import unpaired_warnings
from barfem.check.verdict import fatigue_records, verdict_of
from barfem.check.weakest import UNSTRESSED_MPA, bearing_warnings, end_state, next_for_life, next_for_stress
from barfem.check.worked import how_worked
from barfem.model.bar import Bar
from barfem.model.bar_geometry import mass_kg
from barfem.model.load_case import CASES, TELLING, End, Instant
from barfem.model.warned import Effect, Warned
from barfem.strength.bend_fields import bend_stress, closed_form_bends, closed_forms_short
from barfem.strength.bend_record import BendStress
from barfem.strength.duty.miner import CRITICAL_SUM_SOURCE
from barfem.strength.fatigue.criteria import CRITERIA as MEAN_STRESS
from barfem.strength.fatigue.factors import scatter_words, strength_share
from barfem.strength.hole_words import hole_problems
from barfem.strength.places import Samples
from barfem.strength.shoulder_words import shoulder_problems
from barfem.strength.stress_maps import stress_assumptions
from barfem.version import __version__

__all__ = ["check_solved", "check_unsolved"]


def check_solved(found: Solved, *, timing: Timing | None = None, critical_plane: bool = False) -> CheckResult:
    """Judge a bar whose hole settings are solved; `critical_plane` needs the one-wheel states of `solve_states`."""
    clock = timing or NoTiming()
    bar, solution, samples = found.bar, found.solution, found.samples
    with clock.stage("fatigue"):
        rows = _rows(found, critical_plane=critical_plane)
    bends, bend_warnings = _bends(found)
    cases = [CASES[name] for name in dict.fromkeys(setting.case for setting in solution.settings)]
    unlike = [words for case in cases if (words := case.unlike(bar.travel))]
    telling = bar.travel.over_alike > TELLING
    return replace(
        check_unsolved(bar, found.unsolved),
        settings=rows,
        assumptions=(
            *bar.assumptions,
            *(words for case in cases if (words := case.assumed(bar.travel))),
            *(() if telling else unlike),
            *_assumptions(found),
            *strength_assumptions(bar),
            *_bend_assumptions(bends),
            *stress_assumptions(bar, solid=found.model == "solid"),
            *(f"Beside it, over one-wheel states too: {text}." for text in CRITERIA.values() if critical_plane),
        ),
        warnings=(
            *bar.warnings,
            *(Warned(words, Effect.COUNTED) for words in unlike if telling),
            *bend_warnings,
            *_warnings(bar, samples),
            *yield_warnings(rows),
            *right_wheel_warnings(solution),
            *unpaired_warnings(bar, (*solution.settings, *(setting for setting, _ in found.unsolved))),
            *dict.fromkeys(
                Warned(f"Hole {row.holes}, {row.case}: {row.supports_work}.", Effect.SUPPORTS)
                for row in rows
                if row.supports_work is not None
            ),
            *bearing_warnings(bar, (row.end for row in rows if row.end is not None)),
        ),
        bends=bends,
        mesh=Mesh(
            elements=solution.mesh.n_elements,
            nodes=solution.mesh.n_nodes,
            unknowns=solution.mesh.size,
            sections_with_stress=len(samples.station_mm),
            points_round_section=len(found.maps.surface),
        ),
        solver=Solver(
            states_solved=len(solution.settings) * len(STATE_NAMES),
            load_steps=int(solution.norms.steps.max()),
            newton_iterations=int(solution.norms.iterations.max()),
            force_residual=float(solution.norms.force.max()),
            moment_residual=float(solution.norms.moment.max()),
            link_length_residual=float(solution.norms.misfit.max()),
        ),
    )


def check_unsolved(bar: Bar, unsolved: Unsolved) -> CheckResult:
    """What stands of a bar before any of its hole settings is solved: its targets, and which cannot follow, and why."""
    return CheckResult(
        barfem=__version__,
        name=bar.name,
        model="beam",
        mass_kg=mass_kg(bar),
        developed_length_mm=bar.centreline.length_mm,
        settings=(),
        target_cycles=bar.duty.target_cycles,
        survival=bar.targets.survival,
        yield_margin_target=bar.targets.yield_margin,
        goodman_target=bar.targets.goodman_safety_factor,
        target_repeats=bar.duty.repeats if bar.duty.blocks else None,
        target_cycles_judged=bar.duty.target_cycles_given,
        strength_share_at_survival=strength_share(bar.targets.survival, bar.steel.scatter),
        assumptions=bar.assumptions,
        warnings=bar.warnings,
        unsolved=tuple(
            UnsolvedSetting(
                left=bar.left.holes[setting.left].name,
                right=bar.right.holes[setting.right].name,
                case=setting.case,
                why=(reason,),
            )
            for setting, reason in unsolved
        ),
    )


def _rows(found: Solved, *, critical_plane: bool) -> tuple[SettingResult, ...]:
    bar, solution, recovery = found.bar, found.solution, found.recovery
    turns, roll = angles(solution), roll_rates_Nm_per_deg(solution)
    reactions = mount_reactions(solution)
    ranking = found.ranking
    rates = solution.rate_N_per_mm
    steps = steps_to_next_percent(rates.tolist(), [setting.case for setting in solution.settings])
    peak_region = recovery.governing_peak()
    not_checked = tuple(region.caution or "a place is not checked" for region in recovery.regions if not region.checked)
    ratio = bar.travel.motion_ratio
    points = checked_points(found) if bar.duty.blocks or critical_plane else None
    records = fatigue_records(bar, recovery, ranking, found.words)
    rows = []
    for j, setting in enumerate(solution.settings):
        at = (j, int(peak_region[j]))
        margin = float(recovery.yield_margin[j][recovery.checked].min())
        fatigue = _with_duty(records[j], duty_life(found, j, points))
        passes, why = verdict_of(bar, setting, margin=margin, fatigue=fatigue, not_checked=not_checked)
        worked = how_worked(
            bar, setting, shares=solution.initial.shares[j].tolist(),
            rate_N_per_mm=float(solution.initial.rate_N_per_mm[j]),
        )  # fmt: skip
        if worked.fails:
            passes, why = False, (*worked.fails, *(() if passes else why))
        force = solution.link_force_N[j]
        places = _places(found, j)
        rows.append(
            SettingResult(
                left=bar.left.holes[setting.left].name,
                right=bar.right.holes[setting.right].name,
                case=setting.case,
                rate_N_per_mm=float(rates[j]),
                rate_initial_N_per_mm=float(solution.initial.rate_N_per_mm[j]),
                link_force_left_N=float(force[Instant.TRAVEL, End.LEFT]),
                link_force_right_N=float(force[Instant.TRAVEL, End.RIGHT]),
                peak=Peak(
                    **found.spot(
                        int(recovery.peak_sample[at]), int(recovery.peak_point[at]), float(recovery.peak_evenness[at])
                    ),
                    von_mises_MPa=float(recovery.peak_MPa[at]),
                    at=STATE_NAMES[int(recovery.peak_state[at])],
                ),
                places=places,
                yield_margin=margin,
                fatigue=fatigue,
                passes=passes,
                why=why,
                not_checked=not_checked,
                does_nothing=worked.fails[0] if worked.fails else None,
                supports_work=worked.warns[0] if worked.warns else None,
                step_to_next_percent=steps[j],
                wheel_rate_N_per_mm=None if ratio is None else float(rates[j]) * ratio**2,
                twist_deg=float(turns.twist_deg[j]),
                torque_Nm=float(turns.torque_Nm[j]),
                roll_rate_Nm_per_deg=None if np.isnan(roll[j]) else float(roll[j]),
                states=tuple(
                    StateLoads(
                        at=state.words,
                        link_force_left_N=float(force[state, End.LEFT]),
                        link_force_right_N=float(force[state, End.RIGHT]),
                    )
                    for state in Instant
                ),
                mount_reactions=reactions[j],
                link_lean_left_deg=float(turns.link_lean_deg[j, End.LEFT]),
                link_lean_right_deg=float(turns.link_lean_deg[j, End.RIGHT]),
                joint_angle_left_deg=float(turns.joint_angle_deg[j, End.LEFT]),
                joint_angle_right_deg=float(turns.joint_angle_deg[j, End.RIGHT]),
                arm_rotation_left_deg=float(turns.arm_rotation_deg[j, End.LEFT]),
                arm_rotation_right_deg=float(turns.arm_rotation_deg[j, End.RIGHT]),
                strain_energy_J=float(solution.strain_energy_Nmm[j, Instant.TRAVEL]) / 1000.0,
                critical_planes=() if points is None or not critical_plane else critical_planes(found, j, points),
                first_travel=first_travel_of(found, j, margin=margin, fatigue=fatigue),
                compliance=_compliance(solution.initial.shares[j].tolist()),
                next_for_stress=next_for_stress(places, bar.centreline.length_mm),
                next_for_life=next_for_life(found, ranking, j),
                end=end_state(found, ranking, j, places),
            )
        )
    return tuple(rows)


def _with_duty(fatigue: Fatigue, duty: DutyLife | None) -> Fatigue:
    if duty is None:
        return fatigue
    return replace(
        fatigue,
        duty=duty,
        damage_per_repeat=duty.damage_per_repeat,
        damage_per_repeat_median=duty.damage_per_repeat_median,
        life_repeats=duty.life_repeats,
        life_at_survival_repeats=duty.life_at_survival_repeats,
    )


def _compliance(shares: list[float]) -> Compliance | None:
    if not any(shares):
        return None  # nothing is deflected
    torsion, arms, centre, shear, mounts, links = shares
    return Compliance(
        torsion=torsion, arm_bending=arms, centre_bending=centre, shear_and_axial=shear, mounts=mounts, links=links
    )


def _places(found: Solved, j: int) -> tuple[Place, ...]:
    """The worst point of each checked region that carries stress."""
    bar, recovery = found.bar, found.recovery
    places = []
    for number, region in enumerate(recovery.regions):
        if not region.checked:
            continue
        at = (j, number)
        sample, point = int(recovery.peak_sample[at]), int(recovery.peak_point[at])
        stressed = recovery.peak_MPa[at] > UNSTRESSED_MPA
        places.append(
            Place(
                kind=region.kind,
                index=region.index,
                # Where nothing is stressed no side of the section is worse than another.
                **found.spot(sample, point, float(recovery.peak_evenness[at]) if stressed else 1.0),
                von_mises_MPa=float(recovery.peak_MPa[at]) if stressed else 0.0,
                at=STATE_NAMES[int(recovery.peak_state[at])],
                yield_strength_MPa=float(bar.steel.yield_strength_MPa * found.samples.strength_scale[sample]),
                yield_margin=float(recovery.yield_margin[at]) if stressed else None,
            )
        )
    return tuple(places)


QUICK = "quick: the closed forms were asked for"


def _bends(found: Solved) -> tuple[tuple[BendStress, ...], tuple[Warned, ...]]:
    """Where the stress of each bend comes from, and what has to be said of it."""
    if found.model == "solid":
        return (), ()
    if found.bend_fields:
        records, problems = bend_stress(found.bar)
        refused = dict.fromkeys((*hole_problems(found.bar), *shoulder_problems(found.bar)))
        return records, (*problems, *(Warned(text, Effect.NOTHING) for text in refused))
    records = closed_form_bends(found.bar, QUICK)
    if found.bar.section.wall_mm is None or not records:
        return records, ()
    short = [share for _, share in closed_forms_short(found.bar)]
    much = (
        f"by up to {100.0 * max(short):.0f} % of the greatest stress of one kind of load, outside or in the bore"
        if short
        else "by a tenth to a half of the stress of one kind of load where the bend is tight or the wall thin"
    )
    words = (
        "Quick check of a bent tube is UNSAFE for release: its closed forms leave out that the section ovalises, "
        f"and give too little stress in the bends, {much}. Run it without --quick."
    )
    return records, (Warned(words, Effect.BENDS_UNSAFE),)


def _bend_assumptions(bends: tuple[BendStress, ...]) -> tuple[str, ...]:
    alone = [bend for bend in bends if not bend.with_bends]
    of = {name: [bend for bend in alone if bend.source == name] for name in ("grid", "computed", "closed forms")}

    def named(some: list[BendStress]) -> str:
        return "all bends" if len(some) == len(bends) else "bend " + ", ".join(str(bend.index) for bend in some)

    out = []
    if of["grid"]:
        error = max(bend.stated_error or 0.0 for bend in of["grid"])
        out.append(
            f"Stress of {named(of['grid'])}: shipped three-dimensional fields, interpolated within {100.0 * error:.2g} "
            "% of the bend's greatest stress; they reach a diameter into the straights."
        )
    if together := dict.fromkeys(bend.with_bends for bend in bends if bend.with_bends):
        which = "; ".join(", ".join(str(index) for index in group) for group in together)
        out.append(
            f"Stress and flexibility of bends that see each other (bend {which}): one three-dimensional field of them "
            "all and of the straights between, computed for this bar."
        )
    if of["computed"]:
        out.append(
            f"Stress of {named(of['computed'])}: three-dimensional fields of these very bends, computed since they lie "
            "outside the shipped ones."
        )
    if of["closed forms"]:
        out.append(
            f"Stress of {named(of['closed forms'])}: closed forms ({of['closed forms'][0].why}): plane sections with "
            "fibres of unequal length, torsion as in a helical spring without its direct shear; the section does not "
            "distort, and the ends of a bend are as its middle."
        )
    return tuple(out)


def _assumptions(found: Solved) -> tuple[str, ...]:
    bar = found.bar
    steel = bar.steel
    tube = ""
    if bar.section.wall_mm is not None:
        tube = (
            " A tube's bends are softer than the straight tube by the factors of their three-dimensional fields."
            if found.bend_fields
            else " A tube's bends have the straight tube's stiffness."
        )
    return (
        "Beam: Timoshenko, geometrically exact (Simo-Reissner), true arcs; shear coefficients of Cowper (1966)." + tube,
        "Mounts: linear springs spread evenly over the bushing, in the bar's axes at rest, fixed in the car. "
        "Links: two-force members that swing exactly.",
        f"Steel: linear elastic, E {steel.E_MPa:g} MPa, Poisson's ratio {steel.nu:g}.",
        "Amplitude: von Mises stress of half the difference of the stress tensors at the cycle's two ends; mean: that "
        f"of their average, taken positive. Mean stress by {MEAN_STRESS[bar.targets.mean_stress].title}.",
        f"Scatter: {scatter_words(steel.scatter)}; no reliability factor as well.",
        *_duty_assumptions(bar),
        "Compliance split: share of the strain energy of a small travel from rest, which is the share of the "
        "deflection (Clapeyron).",
    )


def _duty_assumptions(bar: Bar) -> tuple[str, ...]:
    if not bar.duty.blocks:
        return ()
    given = bar.targets.critical_sum is not None
    source = "the bar file" if given else f"default; {CRITICAL_SUM_SOURCE}"
    return (
        f"Blocks: each at its own travel and ratio at every place, damage added by Miner's rule, failure at a sum of "
        f"{critical_sum_of(bar):g} ({source}). Cycles below the endurance limit do harm once others lie above it "
        "(exponent 2 k - 1, Haibach).",
    )


def _warnings(bar: Bar, samples: Samples) -> tuple[Warned, ...]:
    cautions = [
        region.caution if region.checked else region.caution.reworded(f"NOT CHECKED: {region.caution}")
        for region in samples.regions
        if region.caution
    ]
    warnings = dict.fromkeys(text.sentence for text in cautions)
    bore = "The bore is a place where cracks start: scratches and laps there are not in the number."
    return (*warnings, *((Warned(bore, Effect.BORE),) if bar.section.shape == "tube" else ()))
