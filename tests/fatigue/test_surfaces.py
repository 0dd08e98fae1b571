"""Surface conditions: names, neighbours, and what they do to the endurance limit."""

from __future__ import annotations

import numpy as np
import pytest

from barfem.model.errors import InputError
from barfem.model.material import Steel
from barfem.model.skin import Skin
from barfem.model.surfaces import DEFAULT_BORE_SURFACE, DEFAULT_SURFACE, SURFACES, surface_condition
from barfem.strength.cycle import torsion_share, von_mises_MPa
from barfem.strength.fatigue.flaws import felt_share, flaw_limit, flaw_size_um, mean_stress_exponent
from barfem.strength.fatigue.strength import fatigue_strength

TENSILES = np.linspace(400.0, 2400.0, 21)


def steel(tensile: float = 1450.0) -> Steel:
    return Steel("custom", "as given", 206e3, 0.3, 7850.0, 0.9 * tensile, tensile)


def test_the_steel_of_the_foundation_has_the_default_surfaces() -> None:
    assert (steel().surface, steel().bore_surface) == (DEFAULT_SURFACE, DEFAULT_BORE_SURFACE)
    assert {DEFAULT_SURFACE, DEFAULT_BORE_SURFACE} <= set(SURFACES)


@pytest.mark.parametrize("name", SURFACES)
@pytest.mark.parametrize("share", [0.0, 1.0])
def test_neighbours_are_never_on_the_wrong_side(name: str, share: float) -> None:
    def limit(skin: Skin) -> np.ndarray:
        return np.array(
            [float(fatigue_strength(steel(rm), diameter_mm=24.0, torsion_share=share, skin=skin).at_1e6_cycles_MPa)
             for rm in TENSILES]
        )  # fmt: skip

    skin = Skin(name)
    assert np.all(limit(skin) <= 700.0)
    if skin.better:
        assert np.all(limit(skin.better) >= limit(skin))
    if skin.worse:
        assert np.all(limit(skin.worse) <= limit(skin))


def test_only_the_best_and_the_worst_lack_a_neighbour() -> None:
    assert [name for name in SURFACES if Skin(name).better is None] == ["polished"]
    assert [name for name in SURFACES if Skin(name).worse is None] == ["corroded"]


def test_unknown_surface_names_the_nearest() -> None:
    with pytest.raises(InputError, match=r'called "polisched".*"polished"') as error:
        surface_condition("polisched")
    assert "as-hardened-scaled" in str(error.value)


def test_a_flaw_by_hand() -> None:
    """0.1 mm deep in 450 HV: area^0.5 = 10^0.5 x 100 = 316.2 um, 316.2^(1/6) = 2.6102, 1.43 x 570 / 2.6102 = 312.3
    MPa.
    """
    assert flaw_size_um(0.1) == pytest.approx(316.23, abs=0.01)
    assert flaw_limit(hardness_HV=450.0, size_um=316.23) == pytest.approx(312.3, abs=0.05)
    # alpha = 0.226 + 0.045: at R = 0, half the amplitude over maximum, 312.3 x 0.5^0.271 = 258.8 MPa.
    assert float(flaw_limit(hardness_HV=450.0, size_um=316.23)) * 0.5 ** float(
        mean_stress_exponent(450.0)
    ) == pytest.approx(258.8, abs=0.1)
    # Torsion: sigma 1 = tau, sigma 2 = -tau, felt 1.18 tau; tau limit over bending limit 1 / 1.18 = 0.847.
    assert 1.0 / (np.sqrt(3.0) * felt_share(1.0)) == pytest.approx(0.847, abs=5e-4)
    assert felt_share(0.0) == pytest.approx(1.0)


def test_a_flaws_limit_rises_with_hardness_as_far_as_the_model_was_tested() -> None:
    """HV + 120: 820 / 520 from 400 to 700 HV. Murakami's range ends at 720 HV; harder steel is taken as that."""
    soft, hard, end, beyond = flaw_limit(hardness_HV=np.array([400.0, 700.0, 720.0, 760.0]), size_um=300.0)
    assert hard / soft == pytest.approx(820.0 / 520.0)
    assert beyond == end > hard
    assert mean_stress_exponent(760.0) == mean_stress_exponent(720.0) == pytest.approx(0.298)


def test_beyond_the_model_a_flaw_is_a_long_crack_without_a_step() -> None:
    """Threshold stress intensity held: four times the size, half the stress."""
    sizes = np.array([999.999, 1000.0, 1000.001])
    np.testing.assert_allclose(np.diff(flaw_limit(hardness_HV=450.0, size_um=sizes)), 0.0, atol=1e-3)
    one, four = flaw_limit(hardness_HV=450.0, size_um=np.array([1000.0, 4000.0]))
    assert four == pytest.approx(0.5 * one)


def test_a_corroded_bar_has_no_knee_and_no_endurance_limit() -> None:
    strength = fatigue_strength(steel(), diameter_mm=24.0, torsion_share=1.0, skin=Skin.named("corroded"))
    scaled = fatigue_strength(steel(), diameter_mm=24.0, torsion_share=1.0, skin=Skin.named("as-hardened-scaled"))
    assert strength.endurance_limit_MPa == 0.0
    assert strength.at_1e6_cycles_MPa < scaled.at_1e6_cycles_MPa
    at_1e6, at_1e7 = strength.strength_at(1e6), strength.strength_at(1e7)
    # The same slope: a decade costs the same ratio before and after a million cycles.
    assert at_1e7 / at_1e6 == pytest.approx(float(at_1e6 / strength.strength_at(1e5)), rel=1e-12)
    life, beyond = strength.life(1.001 * at_1e7)
    assert life == pytest.approx(1e7, rel=0.02) and not beyond
    _, beyond = strength.life(1e-3)
    assert beyond


def test_a_scaled_bar_by_hand() -> None:
    """1450 MPa, 24 mm, reversed bending of 500 MPa, each step worked on paper.

    HV 448.6 (ISO 18265: 1450 between 1385 and 1455); flaw 0.10 mm, 0.99167 of the stress at that depth:
    1.43 x 568.6 / 2.6102 / 0.99167 = 314.1 MPa. At 1 000 cycles f = 0.7753 (Shigley, held at 200 kpsi) x 1450 = 1124
    MPa. k = 3 / log10(1124 / 314.1) = 5.418; N = 1e6 (314.1 / 500)^5.418 = 80,500.
    """
    strength = fatigue_strength(steel(1450.0), diameter_mm=24.0, torsion_share=0.0, skin=Skin("as-hardened-scaled"))
    assert strength.at_1e6_cycles_MPa == pytest.approx(314.1, abs=0.3)
    life, _ = strength.life(500.0)
    assert life == pytest.approx(80_500, rel=0.01)
    polished = fatigue_strength(steel(1450.0), diameter_mm=24.0, torsion_share=0.0, skin=Skin("polished"))
    assert polished.life(600.0)[1]


def test_every_factor_is_a_record_with_its_source() -> None:
    strength = fatigue_strength(
        steel(), diameter_mm=[24.0, 12.0], torsion_share=0.5, skin=Skin.named("ground"), strength_scale=0.9
    )
    names = [factor.name for factor in strength.factors]
    for wanted in ("surface factor ka", "size factor kb", "load factor kc", "strength scale"):
        assert wanted in names
    product = np.prod([f.value for f in strength.factors[1:] if not f.unit and "fraction" not in f.name], axis=0)
    specimen = strength.factors[1].value
    np.testing.assert_allclose(product * specimen, strength.at_1e6_cycles_MPa)
    assert all(factor.value.shape == (2,) for factor in strength.factors)
    assert all(factor.source for factor in strength.factors[1:])


def test_a_softer_end_is_weaker_at_every_life_by_its_scale() -> None:
    cycles = np.logspace(0.0, 7.0, 15)
    full, soft = (
        fatigue_strength(
            steel(), diameter_mm=24.0, torsion_share=0.3, skin=Skin.named("machined"), strength_scale=scale
        )
        for scale in (1.0, 0.8)
    )
    np.testing.assert_allclose(soft.strength_at(cycles), 0.8 * full.strength_at(cycles))


def test_an_equivalent_diameter_is_used_as_it_stands() -> None:
    # A flat of 40 x 12 mm: 0.808 (40 x 12)^0.5 = 17.70 mm (Shigley Table 6-3), whatever torsion's share.
    equivalent = 0.808 * np.sqrt(40.0 * 12.0)
    flat = fatigue_strength(
        steel(), diameter_mm=24.0, torsion_share=0.2, skin=Skin("polished"), equivalent_diameter_mm=equivalent
    )
    round_in_torsion = fatigue_strength(steel(), diameter_mm=equivalent, torsion_share=1.0, skin=Skin("polished"))
    assert flat.endurance_limit_MPa == round_in_torsion.endurance_limit_MPa
    assert flat.torsion_share == 0.2
    no_size = fatigue_strength(steel(), diameter_mm=None, torsion_share=0.2, skin=Skin.named("ground"))
    assert no_size.endurance_limit_MPa == pytest.approx(
        float(flaw_limit(hardness_HV=448.57, size_um=flaw_size_um(0.003)) / felt_share(0.2)), rel=1e-4
    )


def test_a_flaw_feels_the_principal_stresses_of_any_state() -> None:
    """Where a tube's bend ovalises the skin may be pulled both ways: von Mises, which falls there, is less than what
    stands across a crack. sigma_1 - 0.18 sigma_2 (Endo) of the tensor itself, whatever its components.
    """
    ss, hoop, shear = np.random.default_rng(7).uniform(-1.0, 1.0, (3, 400))
    principal = np.linalg.eigvalsh(np.moveaxis(np.array([[ss, shear], [shear, hoop]]), -1, 0))
    first = principal[np.arange(400), np.abs(principal).argmax(axis=1)]
    second = principal.sum(axis=1) - first
    mises = von_mises_MPa(ss, hoop, shear)
    felt = felt_share(torsion_share(ss, hoop, shear, mises**2)) * mises
    assert felt == pytest.approx((first - 0.18 * second) * np.sign(first))


def test_a_tube_that_ovalises_stands_less_where_its_wall_is_pulled_both_ways() -> None:
    """0.35 of the stress along the bar round it, no shear: 1 - 0.18 x 0.35 over (1 - 0.35 + 0.35^2)^0.5 is 1.066."""
    one, zero = np.ones(1), np.zeros(1)
    share = torsion_share(one, 0.35 * one, zero, von_mises_MPa(one, 0.35 * one, zero) ** 2)

    def limit(share: np.ndarray) -> float:
        strength = fatigue_strength(steel(), diameter_mm=24.0, torsion_share=share, skin=Skin.named("hot-rolled"))
        return float(strength.at_1e6_cycles_MPa[0])

    assert limit(zero) / limit(share) == pytest.approx(1.0661, abs=1e-4)
