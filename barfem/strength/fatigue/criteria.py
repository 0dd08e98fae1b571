"""The mean-stress rules, each once: name, formula, source, what it needs, and the function that holds it.

The check, `barfem life`, the figures and the help of the commands read them here. A rule judges sound steel. A flaw in
the skin has a mean-stress term of its own (`flaws`), which the handbook's default (Goodman) and Sines leave to it; the
other rules, asked for by name, judge the load's mean at flaws too.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property
from importlib import import_module
from typing import Any

from barfem.model.frozen import frozen

__all__ = ["CRITERIA", "DEFAULT_CRITERION", "NEEDS", "Criterion"]

DEFAULT_CRITERION = "goodman"


@frozen
class Criterion:
    """One rule. `needs` names the strengths and constants that its function takes beside amplitude and mean.

    `limit` is the need at which no amplitude is left, where the rule has one; `leaves_flaws` says that a flaw keeps its
    own mean-stress term; `signed`, that the formula itself takes a compressive mean.
    """

    name: str
    title: str
    formula: str
    source: str
    needs: tuple[str, ...]
    function_name: str
    limit: str | None = None
    leaves_flaws: bool = False
    signed: bool = False

    @cached_property
    def function(self) -> Callable[..., Any]:
        """(amplitude_MPa, mean_MPa, and the needs) to the reversed amplitude of the same harm; imports numpy."""
        found: Callable[..., Any] = getattr(import_module("barfem.strength.fatigue.mean_stress"), self.function_name)
        return found


# What each need is called, and by which option of `barfem life` it is given.
NEEDS = {
    "tensile_MPa": ("tensile strength", "--tensile"),
    "yield_MPa": ("yield strength", "--yield"),
    "fatigue_strength_coefficient_MPa": ("fatigue strength coefficient", "--fatigue-strength-coefficient"),
    "gamma": ("tensile strength for its gamma", "--walker-gamma"),
    "torsion_share": ("share of torsion", "--torsion-share"),
}

_ALL = (
    Criterion(
        "goodman",
        "Goodman",
        "amplitude / (1 - mean / tensile strength)",
        "Shigley Eq. 6-46; Dowling Eq. 9.17",
        ("tensile_MPa",),
        "goodman_equivalent",
        limit="tensile_MPa",
        leaves_flaws=True,
    ),
    Criterion(
        "gerber",
        "Gerber",
        "amplitude / (1 - (mean / tensile strength)^2)",
        "Shigley Eq. 6-47",
        ("tensile_MPa",),
        "gerber_equivalent",
        limit="tensile_MPa",
    ),
    Criterion(
        "soderberg",
        "Soderberg",
        "amplitude / (1 - mean / yield strength)",
        "Shigley Eq. 6-45",
        ("yield_MPa",),
        "soderberg_equivalent",
        limit="yield_MPa",
    ),
    Criterion(
        "morrow",
        "Morrow",
        "amplitude / (1 - mean / fatigue strength coefficient)",
        "Dowling Eq. 9.20",
        ("fatigue_strength_coefficient_MPa",),
        "morrow_equivalent",
        limit="fatigue_strength_coefficient_MPa",
        signed=True,
    ),
    Criterion(
        "swt",
        "Smith, Watson and Topper",
        "(amplitude x (mean + amplitude))^0.5",
        "Smith, Watson and Topper; Dowling Eq. 9.18",
        (),
        "swt_equivalent",
        signed=True,
    ),
    Criterion(
        "walker",
        "Walker (gamma 0.883 - 0.0002 x tensile strength)",
        "(mean + amplitude)^(1 - gamma) x amplitude^gamma",
        "Dowling Eq. 9.19; gamma 0.883 - 0.0002 x tensile strength (Eq. 9.21) unless given",
        ("gamma",),
        "walker_equivalent",
        signed=True,
    ),
    Criterion(
        "sines",
        "Sines (a mean torsion counts for nothing in sound steel)",
        "amplitude / (1 - mean x (1 - torsion share)^0.5 / tensile strength)",
        "Sines 1959: the mean counts by its normal stress; Dowling Eq. 9.40 (from memory, sure)",
        ("tensile_MPa", "torsion_share"),
        "sines_equivalent",
        limit="tensile_MPa",
        leaves_flaws=True,
    ),
)

CRITERIA: dict[str, Criterion] = {criterion.name: criterion for criterion in _ALL}
