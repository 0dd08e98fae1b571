"""The cyclic stress-strain curve, strain = stress / E + (stress / K')^(1 / n') (Ramberg and Osgood), in amplitudes."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.frozen import frozen
from barfem.model.material import Steel

__all__ = ["CyclicCurve", "cyclic_curve", "estimated_cyclic_curve"]

Array = NDArray[np.float64]

FKM = "estimate for steel from the tensile strength: FKM guideline non-linear, 2019, table 2.7 ff."
# Constants serve a steel whose tensile strength is within this of the tested one (ours).
WITHIN = 0.15


@frozen
class CyclicCurve:
    """K' (`coefficient_MPa`) and n' (`exponent`) of amplitudes, with the E that they were fitted with."""

    E_MPa: float
    coefficient_MPa: float
    exponent: float
    source: str

    @property
    def yield_MPa(self) -> float:
        """0.2 % cyclic yield strength."""
        return self.coefficient_MPa * 0.002**self.exponent

    def strain(self, stress_MPa: ArrayLike) -> Array:
        """Strain amplitude of a stress amplitude."""
        stress = np.asarray(stress_MPa, float)
        return stress / self.E_MPa + (stress / self.coefficient_MPa) ** (1.0 / self.exponent)


def estimated_cyclic_curve(tensile_MPa: ArrayLike) -> tuple[Array, float]:
    """K' [MPa] and n' of a steel from its tensile strength.

    K' = 3.1148 Rm^0.897 / min(0.338, 1033 Rm^-1.235)^0.187, n' = 0.187: FKM guideline non-linear, 2019.
    """
    rm = np.asarray(tensile_MPa, float)
    return 3.1148 * rm**0.897 / np.minimum(0.338, 1033.0 * rm**-1.235) ** 0.187, 0.187


def cyclic_curve(steel: Steel) -> CyclicCurve:
    """The curve of a steel: from its table, or from its strain-life constants (n' = b / c), else the estimate.

    K' = sigma_f' / eps_f'^n' (compatibility of both curves; Dowling sec. 14.4). Constants of a steel more than 15 %
    stronger or weaker than this one are left aside.
    """
    found = steel.cyclic
    if found is not None and found.tensile_strength_MPa is not None:
        ratio = steel.tensile_strength_MPa / found.tensile_strength_MPa
        found = found if abs(ratio - 1.0) <= WITHIN else None
    if found is None:
        coefficient, exponent = estimated_cyclic_curve(steel.tensile_strength_MPa)
        return CyclicCurve(steel.E_MPa, float(coefficient), exponent, FKM)
    if found.cyclic_strength_coefficient_MPa and found.cyclic_hardening_exponent:
        return CyclicCurve(
            found.E_MPa, found.cyclic_strength_coefficient_MPa, found.cyclic_hardening_exponent, found.source
        )
    exponent = found.fatigue_strength_exponent / found.fatigue_ductility_exponent
    coefficient = found.fatigue_strength_coefficient_MPa / found.fatigue_ductility_coefficient**exponent
    return CyclicCurve(found.E_MPa, coefficient, exponent, f"from b / c of {found.source}")
