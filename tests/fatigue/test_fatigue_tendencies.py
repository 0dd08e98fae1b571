"""Rougher, more mean, thicker, more survival, softer: never a longer life."""

from __future__ import annotations

import math

import hypothesis.strategies as st
import numpy as np
import pytest
from hypothesis import example, given, settings
from numpy.typing import NDArray

from barfem.model.material import Steel
from barfem.model.skin import Peening, Skin
from barfem.model.surfaces import SURFACE_NAMES, SURFACES
from barfem.strength.fatigue.assess import assess
from barfem.strength.fatigue.residual import surface_residual
from barfem.strength.fatigue.strength import fatigue_strength

tensiles = st.floats(450.0, 2000.0)
surfaces = st.sampled_from(SURFACE_NAMES)
fractions = st.floats(0.01, 0.9)
many = settings(max_examples=60, deadline=None)


def life(
    *,
    tensile: float,
    surface: str = "polished",
    skin: Skin | None = None,
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
    skin = skin or Skin.named(surface)
    left = surface_residual(steel, skin=skin) if residual is None else residual
    strength = fatigue_strength(steel, diameter_mm=diameter, torsion_share=share, skin=skin, strength_scale=scale)
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
    better = Skin.named(surface)
    if better.worse:
        assert not_longer(life(**common, skin=better.worse), life(**common, skin=better))


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
    strength = fatigue_strength(steel, diameter_mm=d, torsion_share=share, skin=Skin.named(surface))
    values = strength.strength_at(np.logspace(0.0, 9.0, 60))
    assert np.all(np.isfinite(values)) and np.all(values > 0.0) and np.all(np.diff(values) <= 0.0)


finishes = st.sampled_from(list(SURFACES))
peenings = st.builds(Peening, st.floats(-900.0, -50.0), st.floats(0.05, 0.6))


@many
@given(tensiles, finishes, fractions, st.floats(0.0, 0.4), st.floats(0.0, 1.0), st.floats(0.0, 1.0), peenings)
def test_peened_is_never_worse_than_the_same_finish_unpeened(
    tensile: float, finish: str, fraction: float, mean: float, share: float, decarburised: float, peening: Peening
) -> None:
    bare = Skin(finish, decarburised_mm=decarburised)
    common = {"tensile": tensile, "amplitude": fraction * tensile, "mean": mean * tensile, "share": share}
    assert not_longer(life(**common, skin=bare), life(**common, skin=Skin(finish, peening, decarburised)))


@many
@given(tensiles, finishes, fractions, st.floats(0.0, 1.0), peenings, st.floats(1.0, 2.0), st.floats(1.0, 2.0))
def test_more_and_deeper_compression(
    tensile: float, finish: str, fraction: float, share: float, peening: Peening, more: float, deeper: float
) -> None:
    common = {"tensile": tensile, "amplitude": fraction * tensile, "share": share}
    better = Peening((peening.residual_MPa or 0.0) * more, peening.depth_mm * deeper)
    assert not_longer(life(**common, skin=Skin(finish, peening)), life(**common, skin=Skin(finish, better)))


@many
@given(tensiles, finishes, fractions, st.floats(0.0, 1.0), st.floats(0.0, 1.0), st.floats(0.0, 1.0), st.booleans())
def test_deeper_decarburised(
    tensile: float, finish: str, fraction: float, share: float, one: float, other: float, peened: bool
) -> None:
    common = {"tensile": tensile, "amplitude": fraction * tensile, "share": share}
    low, high = sorted((one, other))
    peening = Peening() if peened else None
    deep, shallow = (life(**common, skin=Skin(finish, peening, depth)) for depth in (high, low))
    assert not_longer(deep, shallow)


@many
@given(tensiles, finishes, fractions, st.floats(1.0, 1.3), st.floats(0.0, 1.0))
def test_a_finish_never_makes_a_harder_steel_weaker(
    tensile: float, finish: str, fraction: float, harder: float, share: float
) -> None:
    """At a million cycles; at few, the handbook's fraction f falls as the steel gets harder."""
    limits = [
        fatigue_strength(
            Steel("custom", "", 206e3, 0.3, 7850.0, 0.9 * rm, rm),
            diameter_mm=24.0,
            torsion_share=share,
            skin=Skin(finish),
        ).at_1e6_cycles_MPa
        for rm in (tensile, harder * tensile)
    ]
    assert limits[0] <= limits[1] * (1.0 + 1e-9)


@many
@given(tensiles, finishes, fractions, st.floats(0.0, 1.0), st.floats(0.0, 0.3), peenings, st.booleans())
@example(965.0, "corroded", 0.6410693499904366, 1.0, 0.0, Peening(residual_MPa=-50.0, depth_mm=0.5), True)
@pytest.mark.long
def test_no_step_in_life(
    tensile: float, finish: str, fraction: float, share: float, mean: float, peening: Peening, peened: bool
) -> None:
    """Over loads up to three tenths greater life falls, and nowhere at once, wherever another site takes over.

    Of the many short ranges of load each is halved again and again, to the half that holds more of the fall. (In pure
    torsion compression is lost as a square root: as steeply as you like, but in no step.)
    """
    skin = Skin(finish, peening if peened else None)
    steel = Steel("custom", "as given", 206e3, 0.3, 7850.0, 0.9 * tensile, tensile)
    strength = fatigue_strength(steel, diameter_mm=24.0, torsion_share=share, skin=skin)

    def log_life(amplitude: NDArray[np.float64]) -> NDArray[np.float64]:
        found = assess(
            strength,
            amplitude_MPa=amplitude,
            mean_MPa=mean * tensile,
            residual_MPa=surface_residual(steel, skin=skin),
            max_von_mises_MPa=amplitude + mean * tensile,
            yield_MPa=2.0 * tensile,
            tensile_MPa=tensile,
            target_cycles=2e5,
            survival=0.5,
        )
        lives = np.where(found.runout_at_survival, np.inf, np.nan_to_num(found.life_at_survival_cycles))
        return np.log(np.clip(lives, 2e3, 1e6))

    loads = fraction * tensile * np.linspace(1.0, 1.3, 33)
    low, high = loads[:-1], loads[1:]
    long, short = log_life(low), log_life(high)
    assert (short <= long + 1e-9).all()
    for _ in range(24):
        middle = 0.5 * (low + high)
        between = log_life(middle)
        assert ((short <= between + 1e-9) & (between <= long + 1e-9)).all()
        first = long - between > between - short
        low, long = np.where(first, low, middle), np.where(first, long, between)
        high, short = np.where(first, middle, high), np.where(first, between, short)
    assert (long - short < 1e-4).all()
