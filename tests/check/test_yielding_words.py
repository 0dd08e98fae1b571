"""What is said of a place that yields: in every cycle, or once, by its mean and residual stress."""

from __future__ import annotations

import pytest

from barfem.check import local_yielding
from barfem.check.local_yielding import yield_warnings
from barfem.check.solved import solve_states
from barfem.model.read import bar_from_dict
from tests.check.bar_files import PLAIN, check

ONCE, ALWAYS = "yields in its first cycles", "yields in every cycle"


def words(found):
    return [line for line in found["warnings"] if "strain-life is judged beside" in line]


def test_a_cold_bend_yields_once():
    """Residual tension and load pass the cyclic yield, the amplitude alone does not: no plastic loop in each cycle."""
    found = check(("material.bent", "after-hardening"))
    fatigue = found["settings"][2]["fatigue"]
    local = fatigue["strain_life"]
    assert fatigue["amplitude_MPa"] < local["cyclic_yield_MPa"] < local["elastic_max_MPa"]
    assert all(ONCE in line and ALWAYS not in line for line in words(found)) and words(found)
    assert local["stress_amplitude_MPa"] == pytest.approx(fatigue["amplitude_MPa"], rel=2e-3)


def test_great_travel_yields_always():
    found = check(("travel.pickup", 75.0))
    loud = [s for s in found["settings"] if s["fatigue"]["strain_life"]]
    always = [s for s in loud if s["fatigue"]["amplitude_MPa"] > s["fatigue"]["strain_life"]["cyclic_yield_MPa"]]
    assert always
    lines = " ".join(words(found))
    assert ALWAYS in lines
    assert (ONCE in lines) == (len(always) < len(loud))


def test_the_sections_energies_add_up_to_what_the_solver_stored(monkeypatch):
    """Rigid mounts and links: all but a hundredth, that of shear, is in bending and torsion of the sections."""
    seen = []
    monkeypatch.setattr(local_yielding, "set_share", lambda **given: seen.append(given["energy"].sum()) or 0.0)
    local_yielding._set_share(solve_states(bar_from_dict(PLAIN), cases=("roll",)), 0)
    assert seen == pytest.approx([1.0, 1.0], abs=0.015)


def test_an_elastic_bar_has_nothing_to_say():
    assert words(check()) == []
    assert yield_warnings(()) == ()
