"""Check results with INVENTED numbers, to test what is printed and written. No number here is an answer to anything."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from barfem.check.fatigue import Fatigue, SurfaceLife
from barfem.check.result import (
    CheckResult,
    Compliance,
    Mesh,
    MountReaction,
    Peak,
    Place,
    SettingResult,
    Solver,
    StateLoads,
    steps_to_next_percent,
)


def made_up_fatigue(**changes: Any) -> Fatigue:
    """A place with a finite life."""
    numbers: dict[str, Any] = dict(  # noqa: C408 - keywords read better here
        station_mm=1212.5,
        where="left arm, bend 2, inside, 14 mm past the tangent",
        surface="outside",
        amplitude_MPa=612.3,
        mean_MPa=0.0,
        goodman_safety_factor=0.71,
        safety_factor_at_target=0.94,
        life_cycles=185_432.0,
        life_at_survival_cycles=121_987.0,
        runout=False,
        from_middle_mm=511.1,
        surface_condition="as-hardened-scaled",
        residual_stress_MPa=0.0,
        endurance_limit_MPa=433.0,
        strength_at_target_MPa=575.6,
        knee_cycles=1_000_000.0,
        factors={"surface": 0.62, "size": 0.83, "load": 1.0},
        better_surface=SurfaceLife(surface="ground", life_cycles=None, life_at_survival_cycles=None, runout=True),
        worse_surface=SurfaceLife(surface="corroded", life_cycles=41_111.0, life_at_survival_cycles=27_200.0),
    )
    return Fatigue(**(numbers | changes))


def made_up_setting(left: str = "1", right: str = "1", *, rate: float | None = 41.234, **changes: Any) -> SettingResult:
    """A hole setting in roll that fails on life."""
    where = "left arm, bend 2, inside, 14 mm past the tangent"
    stress = 15.0 * (rate or 40.0)
    numbers: dict[str, Any] = dict(  # noqa: C408 - keywords read better here
        left=left,
        right=right,
        case="roll",
        rate_N_per_mm=rate,
        rate_initial_N_per_mm=rate,
        link_force_left_N=-40.0 * (rate or 40.0),
        link_force_right_N=39.0 * (rate or 40.0),
        peak=Peak(
            von_mises_MPa=stress, station_mm=1212.5, from_middle_mm=511.1, where=where, surface="outside", at="travel"
        ),
        places=(
            Place(
                kind="bend", index=2, where=where, von_mises_MPa=stress, station_mm=1212.5, surface="outside",
                from_middle_mm=511.1, at="travel", yield_strength_MPa=1200.0, yield_margin=1200.0 / stress - 1.0,
            ),
            Place(
                kind="hole", index=1, where="left end, hole 1", von_mises_MPa=211.0, station_mm=1380.0,
                surface="outside", at="travel", yield_strength_MPa=1200.0, yield_margin=4.7,
            ),
        ),
        yield_margin=1200.0 / stress - 1.0,
        fatigue=made_up_fatigue(),
        passes=False,
        why=("life at 90 % survival of 121 987 cycles is below the target of 200 000",),
        wheel_rate_N_per_mm=15.8,
        twist_deg=18.21,
        torque_Nm=402.2,
        roll_rate_Nm_per_deg=359.0,
        states=(
            StateLoads(at="rest", link_force_left_N=0.0, link_force_right_N=0.0),
            StateLoads(at="travel", link_force_left_N=-40.0 * (rate or 40.0), link_force_right_N=1611.0),
            StateLoads(at="other end", link_force_left_N=1611.0, link_force_right_N=-40.0 * (rate or 40.0)),
        ),
        mount_reactions=tuple(
            MountReaction(
                mount=i, from_middle_mm=place, radial_N=2711.0, radial_at="travel", axial_N=axial, axial_at="rest",
                moment_Nm=9.31, moment_at="other end",
            )
            for i, place, axial in ((1, -380.0, 12.4), (2, 380.0, 0.0))
        ),
        link_lean_left_deg=2.11,
        link_lean_right_deg=2.34,
        joint_angle_left_deg=11.9,
        joint_angle_right_deg=12.1,
        arm_rotation_left_deg=9.1,
        arm_rotation_right_deg=9.2,
        strain_energy_J=33.1,
        compliance=Compliance(
            torsion=0.612, arm_bending=0.201, centre_bending=0.083, shear_and_axial=0.006, mounts=0.06, links=0.038
        ),
    )  # fmt: skip
    return SettingResult(**(numbers | changes))


def made_up_result(settings: tuple[SettingResult, ...] | None = None, **changes: Any) -> CheckResult:
    """Three equal hole settings of an invented front bar; the softest passes."""
    if settings is None:
        settings = (
            made_up_setting(
                "1", "1", rate=36.2, passes=True, why=("every target is met",),
                fatigue=made_up_fatigue(
                    life_cycles=None, life_at_survival_cycles=None, runout=True, safety_factor_at_target=1.21,
                    reason=None, amplitude_MPa=411.0,
                ),
            ),
            made_up_setting("2", "2", rate=39.1),
            made_up_setting(
                "3", "3", rate=42.4,
                fatigue=made_up_fatigue(
                    life_cycles=None, life_at_survival_cycles=None, safety_factor_at_target=None,
                    reason="the peak of 1 310 MPa is above the yield strength of 1 200 MPa: no life is claimed",
                ),
                why=("the yield margin of -0.08 is below the target of 0.25", "no life can be stated above yield"),
            ),
        )  # fmt: skip
    steps = steps_to_next_percent([s.rate_N_per_mm for s in settings], [s.case for s in settings])
    settings = tuple(replace(s, step_to_next_percent=step) for s, step in zip(settings, steps, strict=True))
    numbers: dict[str, Any] = dict(  # noqa: C408 - keywords read better here
        barfem="0.1.0",
        name="invented front bar",
        model="beam",
        mass_kg=5.123,
        developed_length_mm=1402.8,
        settings=settings,
        target_cycles=200_000.0,
        survival=0.9,
        yield_margin_target=0.25,
        assumptions=(
            "Yield margin target 0.25 (default; common practice, no source).",
            "Endurance limit 0.5 x tensile strength, at most 700 MPa (Shigley, 10th ed., Eq. 6-8).",
        ),
        cautions=("This is an invented result.",),
        warnings=("Hole 1 has no diameter: its net section and concentration are not in the numbers.",),
        described=(
            "51CrV4, invented condition: yield 1200 MPa, tensile 1350 MPa; surface as-hardened-scaled",
            "round, 24 mm diameter; 2 bends; mounts at -380, +380 mm from the middle",
        ),
        cases={
            "roll": "left pickup up 40 mm, right pickup down 40 mm; the other end of the cycle is the same in the "
            "opposite sense",
            "one-wheel": "left pickup up 55 mm, right pickup stays; the other end of the cycle is rest",
        },
        drawing="PF-001",
        revision="A",
        source="front.toml",
        input_sha256="0" * 64,
        inputs={"section": {"shape": "round", "diameter_mm": 24.0}},
        mesh=Mesh(elements=60, nodes=121, unknowns=726),
        solver=Solver(
            states_solved=9, load_steps=3, newton_iterations=11, force_residual=1e-11, moment_residual=1e-11,
            link_length_residual=1e-13,
        ),
    )  # fmt: skip
    return CheckResult(**(numbers | changes))
