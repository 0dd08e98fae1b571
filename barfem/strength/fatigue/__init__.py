"""Stress-life: strength of a place, harm of a cycle, life with its scatter."""

from barfem.strength.fatigue.assess import FatigueAssessment, LifeStatus, assess
from barfem.strength.fatigue.factors import Factor, survival_factor
from barfem.strength.fatigue.mean_stress import goodman_equivalent
from barfem.strength.fatigue.residual import cyclic_yield, surface_residual
from barfem.strength.fatigue.strength import FatigueStrength, fatigue_strength

__all__ = [
    "Factor",
    "FatigueAssessment",
    "FatigueStrength",
    "LifeStatus",
    "assess",
    "cyclic_yield",
    "fatigue_strength",
    "goodman_equivalent",
    "surface_residual",
    "survival_factor",
]
