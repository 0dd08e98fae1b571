"""What `barfem life` is asked: one record, and which numbers and mixtures cannot be."""

from __future__ import annotations

from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.skin import DEEPEST_DECARBURISED_MM
from barfem.model.survival import checked_survival

__all__ = ["LifeInputs", "check_numbers", "check_yield", "refuse"]


@frozen(kw_only=True)
class LifeInputs:
    """The question, in MPa and mm; None is what was not given."""

    amplitude_MPa: float
    mean_MPa: float = 0.0
    method: str = "goodman"
    survival: float = 0.90
    grade: str | None = None
    condition: str | None = None
    surface: str | None = None
    peening: str | None = None
    peening_residual_MPa: float | None = None
    decarburised_mm: float | None = None
    hardness: str | None = None
    load: str = "bar"
    diameter_mm: float | None = None
    torsion_share: float | None = None
    tensile_MPa: float | None = None
    yield_MPa: float | None = None
    endurance_MPa: float | None = None
    fraction: float | None = None
    coefficient_MPa: float | None = None
    exponent: float | None = None
    walker_gamma: float | None = None


def check_numbers(inputs: LifeInputs) -> None:
    """Refuse what no stress, strength or share can be.

    Raises
    ------
    InputError
        Names the option and what would be right.
    """
    if inputs.amplitude_MPa < 0.0:
        raise InputError(
            f"a stress amplitude of {inputs.amplitude_MPa:g} MPa is negative.",
            where="--amplitude",
            expected="half the stress range, zero or more.",
        )
    checked_survival(inputs.survival, where="--survival")
    for option, value in (
        ("--tensile", inputs.tensile_MPa),
        ("--yield", inputs.yield_MPa),
        ("--endurance", inputs.endurance_MPa),
        ("--fraction", inputs.fraction),
        ("--fatigue-strength-coefficient", inputs.coefficient_MPa),
        ("--diameter", inputs.diameter_mm),
    ):
        if value is not None and value <= 0.0:
            raise InputError(f"{value:g} is not possible.", where=option, expected="a number above zero.")
    if inputs.diameter_mm is not None and not 1.0 <= inputs.diameter_mm <= 1000.0:
        raise InputError(
            f"a diameter of {inputs.diameter_mm:g} mm is no bar's or specimen's.",
            where="--diameter",
            expected='1 to 1000 mm; another unit in quotes, such as "0.945 in".',
        )
    if inputs.fraction is not None and inputs.fraction > 1.0:
        raise InputError(f"a fraction of {inputs.fraction:g} is above 1.", where="--fraction", expected="0.7 to 0.9.")
    if inputs.torsion_share is not None and not 0.0 <= inputs.torsion_share <= 1.0:
        raise InputError(f"{inputs.torsion_share:g} is not a share.", where="--torsion-share", expected="0 to 1.")
    if inputs.load == "axial" and inputs.torsion_share:
        raise InputError(
            f"a specimen in push-pull has no torsion, and a share of {inputs.torsion_share:g} is given.",
            where="--torsion-share",
            expected="none of it with --load axial.",
        )
    if inputs.decarburised_mm is not None and not 0.0 <= inputs.decarburised_mm <= DEEPEST_DECARBURISED_MM:
        raise InputError(
            f"a decarburised depth of {inputs.decarburised_mm:g} mm is beyond what its model holds for.",
            where="--decarburised-depth",
            expected=f"0 to {DEEPEST_DECARBURISED_MM:g} mm.",
        )
    if inputs.exponent is not None and not -1.0 < inputs.exponent < 0.0:
        raise InputError(
            f"an exponent of {inputs.exponent:g} is not possible.",
            where="--fatigue-strength-exponent",
            expected="below 0, usually -0.05 to -0.12.",
        )
    if inputs.walker_gamma is not None and not 0.0 < inputs.walker_gamma <= 1.0:
        raise InputError(
            f"a gamma of {inputs.walker_gamma:g} is not possible.",
            where="--walker-gamma",
            expected="above 0, at most 1.",
        )
    if inputs.tensile_MPa and inputs.yield_MPa:
        check_yield(inputs.yield_MPa, tensile_MPa=inputs.tensile_MPa)


def check_yield(yield_MPa: float, *, tensile_MPa: float) -> None:
    """Refuse a yield strength above the tensile strength.

    Raises
    ------
    InputError
        Names both.
    """
    if yield_MPa > tensile_MPa:
        raise InputError(
            f"the yield strength {yield_MPa:.4g} MPa is above the tensile strength {tensile_MPa:.4g} MPa.",
            where="--yield",
            expected="a yield strength at or below it.",
        )


def refuse(inputs: LifeInputs, names: dict[str, str], because: str) -> None:
    """Refuse fields that were given and would go unused; `names` holds the option of each.

    Raises
    ------
    InputError
        Names the first that was given.
    """
    for field, option in names.items():
        if getattr(inputs, field) is not None:
            raise InputError(
                f"{option} goes with another source of strength; {because}.",
                where=option,
                expected="one source of strength with its own options.",
            )
