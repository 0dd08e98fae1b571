"""Whether a stronger steel helps: said where it does not, with the ratio that two checks of two bars give."""

from __future__ import annotations

from typing import Any

import pytest

from barfem.check.api import check_bar
from barfem.model.hardness import vickers_from_tensile
from barfem.model.read import bar_from_dict
from barfem.show.notes import lessons
from tests.check.bar_files import BUILT
from tests.model.bar_data import changed
from tests.often import often

SURFACES = ("as-hardened-scaled", "shot-peened", "ground", "machined")


def checked(tensile: float, surface: str, **duty: Any):
    steel = (("material.tensile_strength", tensile), ("material.yield_strength", 0.9 * tensile))
    made = changed(*steel, ("material.surface", surface), ("duty", duty), base=BUILT)
    return check_bar(bar_from_dict(made))


@pytest.mark.parametrize("surface", SURFACES)
@pytest.mark.parametrize("tensile", often([1000.0, 1350.0, 1600.0], {1350.0}))
def test_the_ratio_is_that_of_two_bars(surface, tensile):
    now, then = checked(tensile, surface), checked(1.05 * tensile, surface)
    for one, other in zip(now.settings, then.settings, strict=True):
        if abs(one.fatigue.amplitude_MPa / other.fatigue.amplitude_MPa - 1.0) > 1e-9:  # another place decides
            continue
        ratio = other.fatigue.safety_factor_at_target / one.fatigue.safety_factor_at_target
        assert one.fatigue.stronger_steel_ratio == pytest.approx(ratio, rel=1e-6)


def test_a_flaw_gains_with_hardness_by_hand():
    """At a million cycles under scale: (HV + 120) of both steels, Murakami; HV by ISO 18265 from tensile strength."""
    million = {"target_cycles": 1e6}
    for tensile in (1200.0, 1600.0):
        found = checked(tensile, "as-hardened-scaled", **million).governing_for_life.fatigue
        weak, strong = (float(vickers_from_tensile(share * tensile)) + 120.0 for share in (1.0, 1.05))
        assert found.stronger_steel_ratio == pytest.approx(strong / weak, rel=1e-6)


def test_it_is_said_where_it_is_true_and_nowhere_else():
    """Above 1,400 MPa a sound skin gains nothing; a scaled one gains with its hardness, and weaker steel always."""
    for surface, tensile in (("as-hardened-scaled", 1600.0), ("as-hardened-scaled", 1000.0), ("polished", 1200.0)):
        assert not [line for line in lessons(checked(tensile, surface)) if line.startswith("A stronger steel")]
    polished = checked(1600.0, "polished", target_cycles=1e6)
    (line,) = (line for line in lessons(polished) if line.startswith("A stronger steel"))
    assert "polished specimen" in line and "scaled" not in line
    assert f"{100.0 * (polished.governing_for_life.fatigue.stronger_steel_ratio - 1.0):.1f} %" in line


def test_damage_and_life_in_repeats_go_together_by_name():
    blocks = [{"pickup": 25.0, "cycles": 20000}, {"pickup": 20.0, "cycles": 1e5}]
    fatigue = checked(1350.0, "as-hardened-scaled", blocks=blocks).governing_for_life.fatigue
    total = fatigue.duty.critical_sum
    assert fatigue.damage_per_repeat * fatigue.life_at_survival_repeats == pytest.approx(total)
    assert fatigue.damage_per_repeat_median * fatigue.life_repeats == pytest.approx(total)
    assert fatigue.damage_per_repeat > fatigue.damage_per_repeat_median
