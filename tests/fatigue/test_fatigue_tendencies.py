"""Rougher, more mean, thicker, more survival, softer: never a longer life."""

from __future__ import annotations

import math

import hypothesis.strategies as st
import numpy as np
from hypothesis import given, settings

from barfem.model.material import Steel
from barfem.model.surfaces import SURFACES
from barfem.strength.fatigue.assess import assess
from barfem.strength.fatigue.residual import surface_residual
from barfem.strength.fatigue.strength import fatigue_strength

tensiles = st.floats(450.0, 2000.0)
surfaces = st.sampled_from(sorted(SURFACES))
fractions = st.floats(0.01, 0.9)
many = settings(max_examples=150, deadline=None)


def life(
    *,
    tensile: float,
    surface: str,
    amplitude: float,
    mean: float = 0.0,
    diameter: float = 24.0,
    share: float = 0.7,
    scale: float = 1.0,
    survival: float = 0.9,
    residual: float | None = None,
) -> float:
    """Life at survival; infinite beyond the knee, zero where there is none."""
    steel = Steel("custom", "as given", 206e3, 0.3, 7850.0, 0.9 * tensile, tensile)
    left = surface_residual(steel, surface=surface) if residual is None else residual
    strength = fatigue_strength(steel, diameter_mm=diameter, torsion_share=share, surface=surface, strength_scale=scale)
    found = assess(
        strength,
        amplitude_MPa=amplitude,
        mean_MPa=mean,
        residual_MPa=left,
        max_von_mises_MPa=amplitude + mean,
        yield_MPa=0.9 * tensile * scale,
        tensile_MPa=tensile * scale,
        target_cycles=2e5,
        survival=survival,
    )
    if found.runout_at_survival:
        return math.inf
    value = float(found.life_at_survival_cycles)
    assert math.isnan(value) == (bool(found.reason()) and value != value)
    return 0.0 if math.isnan(value) else value


def not_longer(worse: float, better: float) -> bool:
    return worse <= better * (1.0 + 1e-9)


@many
@given(tensiles, surfaces, fractions, st.floats(0.0, 0.5), st.floats(0.0, 0.5))
def test_more_mean(tensile: float, surface: str, fraction: float, low: float, more: float) -> None:
    common = {"tensile": tensile, "surface": surface, "amplitude": fraction * tensile}
    assert not_longer(life(**common, mean=(low + more) * tensile), life(**common, mean=low * tensile))


@many
@given(tensiles, surfaces, fractions, st.floats(1.0, 1.5), st.floats(0.0, 0.4))
def test_more_amplitude(tensile: float, surface: str, fraction: float, more: float, mean: float) -> None:
    common = {"tensile": tensile, "surface": surface, "mean": mean * tensile}
    longer = life(**common, amplitude=fraction * tensile)
    assert not_longer(life(**common, amplitude=fraction * more * tensile), longer)


@many
@given(tensiles, surfaces, fractions, st.floats(0.0, 0.4))
def test_rougher(tensile: float, surface: str, fraction: float, mean: float) -> None:
    common = {"tensile": tensile, "amplitude": fraction * tensile, "mean": mean * tensile}
    worse = SURFACES[surface].worse
    if worse:
        assert not_longer(life(**common, surface=worse), life(**common, surface=surface))


@many
@given(tensiles, surfaces, fractions, st.floats(1.0, 100.0), st.floats(1.0, 3.0), st.floats(0.0, 1.0))
def test_thicker(tensile: float, surface: str, fraction: float, d: float, more: float, share: float) -> None:
    common = {"tensile": tensile, "surface": surface, "amplitude": fraction * tensile, "share": share}
    assert not_longer(life(**common, diameter=d * more), life(**common, diameter=d))


@many
@given(tensiles, surfaces, fractions, st.floats(0.5, 0.999), st.floats(0.5, 0.999))
def test_more_survival(tensile: float, surface: str, fraction: float, one: float, other: float) -> None:
    common = {"tensile": tensile, "surface": surface, "amplitude": fraction * tensile}
    low, high = sorted((one, other))
    assert not_longer(life(**common, survival=high), life(**common, survival=low))


@many
@given(tensiles, surfaces, fractions, st.floats(0.4, 1.0))
def test_softer_end(tensile: float, surface: str, fraction: float, scale: float) -> None:
    common = {"tensile": tensile, "surface": surface, "amplitude": fraction * tensile}
    assert not_longer(life(**common, scale=scale), life(**common))


@many
@given(tensiles, surfaces, fractions, st.floats(0.0, 800.0), st.floats(0.0, 800.0))
def test_more_residual_tension(tensile: float, surface: str, fraction: float, one: float, other: float) -> None:
    common = {"tensile": tensile, "surface": surface, "amplitude": fraction * tensile}
    low, high = sorted((one, other))
    assert not_longer(life(**common, residual=high), life(**common, residual=low))


@many
@given(tensiles, surfaces, st.floats(1.0, 80.0), st.floats(0.0, 1.0))
def test_strength_falls_with_cycles_and_is_finite(tensile: float, surface: str, d: float, share: float) -> None:
    steel = Steel("custom", "as given", 206e3, 0.3, 7850.0, 0.9 * tensile, tensile)
    strength = fatigue_strength(steel, diameter_mm=d, torsion_share=share, surface=surface)
    values = strength.strength_at(np.logspace(0.0, 9.0, 60))
    assert np.all(np.isfinite(values)) and np.all(values > 0.0) and np.all(np.diff(values) <= 0.0)
