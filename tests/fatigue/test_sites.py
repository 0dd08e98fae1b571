"""Which of a place's sites decides, what its load leaves there, and what the load may grow to."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy.optimize import brentq

from barfem.model.material import Steel, StressLifeData
from barfem.model.skin import Peening, Skin
from barfem.strength.fatigue.assess import LifeStatus, assess, equivalent_and_factor, life_rank, lives_at
from barfem.strength.fatigue.cycle_load import loaded
from barfem.strength.fatigue.mean_stress import MeanStress
from barfem.strength.fatigue.sites import deciding_exponent, felt, log_harm
from barfem.strength.fatigue.strength import FatigueStrength, fatigue_strength

YIELD, TENSILE = 1300.0, 1450.0
STEEL = Steel("custom", "as given", 206e3, 0.3, 7850.0, YIELD, TENSILE)
LIMITS = {"yield_MPa": YIELD, "tensile_MPa": TENSILE, "cyclic_yield_MPa": 950.0}


def strength_of(skin: Skin, torsion_share: float = 0.4) -> FatigueStrength:
    return fatigue_strength(STEEL, diameter_mm=24.0, torsion_share=torsion_share, skin=skin)


SKINS = {
    "scaled": (Skin("as-hardened-scaled"), 0.0),
    "scaled, peened": (Skin("as-hardened-scaled", Peening()), -500.0),
    "scaled, peened, half of it left": (Skin("as-hardened-scaled", Peening()), -250.0),
    "ground, peened": (Skin("ground", Peening()), -500.0),
    "polished": (Skin("polished"), 0.0),
}


@pytest.mark.parametrize("skin", SKINS)
@pytest.mark.parametrize("cycles", [1e4, 1e5, 5e5])
@pytest.mark.parametrize(("amplitude", "mean"), [(350.0, 0.0), (350.0, 200.0), (500.0, 60.0)])
def test_the_deciding_exponent_is_the_slope_of_life_over_strength(skin, cycles, amplitude, mean) -> None:
    """Bars with ever less of the median strength under one load, until they last just so long: by how many per cent
    their life falls with one per cent of strength is k of the line that decides there, whichever site's it is.
    """
    finish, residual = SKINS[skin]
    strength = strength_of(finish)
    stresses: dict[str, Any] = {
        "amplitude_MPa": amplitude, "mean_MPa": mean, "residual_MPa": residual,
        "max_von_mises_MPa": amplitude + mean, **LIMITS,
    }  # fmt: skip

    def log_life(log_share: float) -> float:
        return float(np.log(lives_at(strength, [np.exp(log_share)], **stresses)[0][0]))

    at = brentq(lambda log_share: log_life(log_share) - np.log(cycles), -1.5, 1.5, xtol=1e-14)
    slope = (log_life(at + 1e-4) - log_life(at - 1e-4)) / 2e-4
    load = loaded(strength, **stresses)
    found = float(load.deciding_exponent(MeanStress(), cycles=cycles))
    assert found == pytest.approx(slope, rel=1e-5)


def test_the_exponent_is_asked_where_lines_slope() -> None:
    """Below a thousand cycles and beyond a million the same as there, from a flaw that decides to one pressed shut."""
    residual = np.linspace(-500.0, 0.0, 400)
    load = loaded(strength_of(SKINS["scaled, peened"][0]), amplitude_MPa=400.0, mean_MPa=0.0, residual_MPa=residual,
                  max_von_mises_MPa=400.0, **LIMITS)  # fmt: skip
    k = [load.deciding_exponent(MeanStress(), cycles=cycles) for cycles in (1.0, 1e3, 1e6, 1e9)]
    np.testing.assert_array_equal(k[0], k[1])
    np.testing.assert_array_equal(k[2], k[3])
    assert len(set(k[2].tolist())) == 2


def harm(sites: Any, **stresses: float) -> float:
    given = {"amplitude_MPa": 300.0, "mean_MPa": 0.0, "residual_MPa": 0.0, "tensile_MPa": TENSILE, "yield_MPa": 1000.0}
    return float(np.exp(log_harm(sites, MeanStress(), **{**given, **stresses})))


def test_tension_under_peening_goes_as_the_whole_load_comes_to_yield() -> None:
    """Yield 1000 MPa; 400 MPa of amplitude about a mean of 300 leave 300 MPa of whatever tension was there."""
    sites = strength_of(Skin("polished", Peening())).sites
    under = {left: replace(sites, below_tension_MPa=np.array(left)) for left in (300.0, 400.0, 600.0, 900.0)}
    load = {"amplitude_MPa": 400.0, "mean_MPa": 300.0, "residual_MPa": -500.0}
    assert harm(under[300.0], **load) == harm(under[600.0], **load) == harm(under[900.0], **load)
    assert harm(under[300.0], **load) > harm(sites, **load)
    small = {**load, "amplitude_MPa": 300.0}
    assert harm(under[400.0], **small) == harm(under[900.0], **small) > harm(under[300.0], **small)


def test_compression_beyond_the_mean_earns_by_goodmans_line_carried_on() -> None:
    """Sound steel, 300 MPa of amplitude, a mean of 100 and 400 MPa of compression: 300 / (1 + 300 / 1450) = 248.6; in a
    bar so thin that half of its stress is left where the compression ends, and nothing decides there.
    """
    sites = replace(strength_of(Skin("polished")).sites, below_share=np.array(0.5))
    assert harm(sites, mean_MPa=100.0, residual_MPa=-400.0) == pytest.approx(300.0 / (1.0 + 300.0 / TENSILE), rel=1e-9)
    assert harm(sites, mean_MPa=100.0) == pytest.approx(300.0 / (1.0 - 100.0 / TENSILE), rel=1e-9)


def test_under_a_peened_skin_stress_counts_as_it_has_fallen_there() -> None:
    """All of the skin pressed shut: sound steel 0.3 mm down in a bar of 24 mm, 1 - 0.6 / 24 = 0.975 of 300 MPa."""
    sites = strength_of(Skin("polished", Peening(depth_mm=0.3)), torsion_share=0.0).sites
    assert harm(sites, residual_MPa=-500.0) == pytest.approx(0.975 * 300.0, rel=1e-9)


def test_a_flaw_feels_the_compression_and_the_tension_of_its_own_depth() -> None:
    """A flaw at a depth with 0.4 of the skin's compression and so with 0.6 of the tension below: across it stand, in
    bending, 300 MPa of load and 0.6 x 200 - 0.4 x 500 = - 80 MPa: 300 x (220 / 300)^alpha on its own line.
    """
    whole = strength_of(Skin("as-hardened-scaled", Peening()), torsion_share=0.0).sites
    sites = replace(whole, flaw_residual_share=np.array(0.4), below_tension_MPa=np.array(200.0))
    load = {"amplitude_MPa": 300.0, "mean_MPa": 0.0, "residual_MPa": -500.0, "tensile_MPa": TENSILE, "yield_MPa": YIELD}
    sound, flaw = felt(sites, MeanStress(), **load)
    assert flaw is not None
    assert float(flaw) == pytest.approx(300.0 * (220.0 / 300.0) ** float(sites.alpha), rel=1e-9)
    # Under the skin 200 MPa of tension: by a flaw's term 300 x (500 / 300)^alpha, by Goodman 300 / (1 - 200 / 1450),
    # whichever is milder, of the stress that is left there. It counts without any compression above it too.
    by_both = (
        300.0 * min((500.0 / 300.0) ** float(sites.alpha), 1.0 / (1.0 - 200.0 / TENSILE)) * float(sites.below_share)
    )
    assert float(sound) == pytest.approx(by_both, rel=1e-9)
    bare = felt(replace(sites, below_share=np.array(1.0)), MeanStress(), **{**load, "residual_MPa": 0.0})[0]
    assert float(bare) == pytest.approx(by_both / float(sites.below_share), rel=1e-9) and float(bare) > 310.0


def judged(**changes: Any) -> Any:
    given = {
        "amplitude_MPa": 400.0, "mean_MPa": 0.0, "max_von_mises_MPa": 400.0, **LIMITS, "target_cycles": 2e5,
        "survival": 0.9,
    }  # fmt: skip
    return assess(strength_of(Skin("as-hardened-scaled")), **{**given, **changes})


def test_a_mean_is_one_of_von_mises_stress_and_has_no_sign() -> None:
    plus, minus = judged(mean_MPa=200.0), judged(mean_MPa=-200.0)
    assert plus.life_cycles == minus.life_cycles < judged().life_cycles
    signed = judged(mean_MPa=-200.0, signed_mean=True)
    assert signed.life_cycles > judged().life_cycles or bool(signed.runout)


def test_no_steel_softens_to_more_than_it_yields_at() -> None:
    """A cyclic yield strength above the static one, as an estimate may give it: the static one holds."""
    press = {"residual_MPa": -500.0, "amplitude_MPa": 550.0, "max_von_mises_MPa": 550.0, "yield_MPa": 700.0}
    over, same = (judged(**press, cyclic_yield_MPa=softened) for softened in (2000.0, 700.0))
    assert over.residual_left_MPa == same.residual_left_MPa and -500.0 < over.residual_left_MPa < 0.0
    assert over.endurance_limit_MPa == same.endurance_limit_MPa


@pytest.mark.parametrize("method", ["goodman", "gerber", "swt", "walker"])
def test_by_no_rule_has_a_place_a_life_whose_mean_is_the_tensile_strength(method: str) -> None:
    """Some rules end there, some would go on."""
    found = judged(amplitude_MPa=50.0, mean_MPa=1450.0, rule=MeanStress(method))
    assert LifeStatus(int(found.status)) is LifeStatus.MEAN_AT_TENSILE
    assert np.isnan(found.life_cycles) and np.isnan(found.life_at_survival_cycles)
    assert not (found.runout or found.runout_at_survival)


def test_what_has_no_life_for_its_mean_stands_before_every_life() -> None:
    load = loaded(
        strength_of(Skin("polished")),
        amplitude_MPa=np.array([100.0, 1300.0, 600.0, 0.0]),
        mean_MPa=np.array([1500.0, 0.0, 0.0, 0.0]),
        residual_MPa=0.0,
        max_von_mises_MPa=0.0,
        **LIMITS,
    )
    rank = life_rank(load, target_cycles=2e5, survival=0.9)
    assert np.argsort(-rank).tolist() == [0, 1, 2, 3] and rank[3] == 0.0


@pytest.mark.parametrize("residual", [0.0, -500.0])
@pytest.mark.parametrize("share", [0.8, 1.0, 1.2])
def test_weaker_bars_bear_the_load_at_which_they_last_as_long(share: float, residual: float) -> None:
    """No mean; the cycles of a greater load leave less of the peening, from a cyclic yield of 600 MPa on."""
    strength = strength_of(Skin("as-hardened-scaled", Peening()))
    stresses = {"mean_MPa": 0.0, "residual_MPa": residual, **LIMITS, "cyclic_yield_MPa": 600.0}
    n = float(
        equivalent_and_factor(strength, strength.strength_at(2e5), strength_share=share, amplitude_MPa=300.0,
                              max_von_mises_MPa=300.0, **stresses)[1]
    )  # fmt: skip
    grown = {**stresses, "amplitude_MPa": 300.0 * n, "max_von_mises_MPa": 300.0 * n}
    assert float(lives_at(strength, [share], **grown)[0][0]) == pytest.approx(2e5, rel=1e-6)
    assert abs(n - 1.0) > 0.02


def test_exponents_of_sites_by_their_two_points() -> None:
    """k = 3 / log10(strength at 1e3 over that at 1e6), the flaw's of a scaled skin, sound steel's under peening."""
    strength = strength_of(Skin("as-hardened-scaled", Peening()))
    sites = strength.sites
    steep, flat = (3.0 / np.log10(sites.at_1e3_MPa / own) for own in (sites.flaw_MPa, sites.sound_MPa))
    given = {"mean_MPa": 0.0, "tensile_MPa": TENSILE, "yield_MPa": YIELD, "cycles": 2e5}
    bare = deciding_exponent(sites, MeanStress(), amplitude_MPa=400.0, residual_MPa=0.0, **given)
    shut = deciding_exponent(sites, MeanStress(), amplitude_MPa=400.0, residual_MPa=-600.0, **given)
    assert (float(bare), float(shut)) == pytest.approx((float(steep), float(flat))) and steep < 0.7 * flat


def test_plating_lowers_sound_steel_as_it_lowers_a_flaw() -> None:
    """Chromium takes half of the limit of a polished bar, which has no flaw, and of a scaled one, which is one."""
    for finish in ("polished", "as-hardened-scaled"):
        bare, plated, zinc = (strength_of(Skin(finish, plating=plating)) for plating in (None, "chromium", "zinc"))
        assert plated.at_1e6_cycles_MPa == pytest.approx(0.5 * float(bare.at_1e6_cycles_MPa), rel=1e-12)
        assert plated.at_1e3_cycles_MPa == bare.at_1e3_cycles_MPa and zinc.at_1e6_cycles_MPa == bare.at_1e6_cycles_MPa


def test_stress_falls_under_the_skin_of_a_round_and_not_of_a_flat() -> None:
    """A decarburised skin of 0.6 mm on a bar of 24 mm: its flaw sits at 1 - 1.2 / 24 = 0.95 of the stress, in a flat of
    the same bar at all of it.
    """
    skin = Skin("as-hardened-scaled", decarburised_mm=0.6)
    limit = fatigue_strength(
        STEEL, diameter_mm=24.0, torsion_share=0.3, skin=skin, equivalent_diameter_mm=np.array([np.nan, 18.0])
    ).at_1e6_cycles_MPa
    assert limit[1] == pytest.approx(0.95 * limit[0], rel=1e-9)
    bore = fatigue_strength(STEEL, diameter_mm=24.0, torsion_share=0.3, skin=skin, outside=False).at_1e6_cycles_MPa
    assert bore == pytest.approx(float(limit[1]), rel=1e-9)


@pytest.mark.parametrize(("depth", "share"), [(0.05, 1.0), (0.08, 1.0), (0.19, 0.575), (0.30, 0.0), (0.5, 0.0)])
def test_a_flaw_has_the_compression_of_its_depth(depth: float, share: float) -> None:
    """Peened to 0.30 mm: whole down to the peak at 0.08 and a little beyond, half of the peak's 1.15 half way from
    there to the end, none beyond it.
    """
    skin = Skin("polished", Peening(depth_mm=0.30), decarburised_mm=depth)
    assert float(strength_of(skin).sites.flaw_residual_share) == pytest.approx(share, abs=1e-9)


def test_a_tested_line_of_thicker_bars_earns_nothing_in_a_thinner_one() -> None:
    """Tested at 40 mm: a bar of 15 mm has what was tested, one of 60 mm less by the size factors of both."""
    own = StressLifeData(400.0, 1e6, 8.0, Skin("polished"), True, TENSILE, 40.0, "invented")
    steel = replace(STEEL, stress_life=own)
    thin, same, thick = (
        float(fatigue_strength(steel, diameter_mm=d, torsion_share=1.0, skin=Skin("polished")).at_1e6_cycles_MPa)
        for d in (15.0, 40.0, 60.0)
    )
    assert thin == same == pytest.approx(400.0)
    assert thick == pytest.approx(400.0 * (1.51 * 60.0**-0.157) / (1.24 * 40.0**-0.107), rel=1e-9)


def test_a_tested_line_keeps_its_slope_above_its_start() -> None:
    """Exponent 4 through 300 MPa at 1e5 cycles: 300 x 100^(1/4) = 948.7 MPa at 1 000, 1687 at 100."""
    own = StressLifeData(300.0, 1e5, 4.0, Skin("polished"), True, TENSILE, 24.0, "invented")
    line = fatigue_strength(replace(STEEL, stress_life=own), diameter_mm=24.0, torsion_share=0.4, skin=Skin("polished"))
    for cycles in (10.0, 100.0, 1e3, 1e4, 1e6):
        assert float(line.strength_at(cycles)) == pytest.approx(300.0 * (1e5 / cycles) ** 0.25, rel=1e-9)


def scaled_bars(strength_MPa: float = 300.0) -> Steel:
    """A firm's line of scaled bars, decarburised 0.15 mm, unpeened."""
    skin = Skin("as-hardened-scaled", decarburised_mm=0.15)
    return replace(STEEL, stress_life=StressLifeData(strength_MPa, 1e6, 8.0, skin, True, TENSILE, 24.0, "invented"))


def of_tested(skin: Skin, strength_MPa: float = 300.0) -> FatigueStrength:
    return fatigue_strength(scaled_bars(strength_MPa), diameter_mm=24.0, torsion_share=0.4, skin=skin)


def test_peened_bars_of_a_finer_finish_are_taken_as_peened_bars_of_the_finish_that_was_tested() -> None:
    """What a finer skin would do for this firm's bars nobody tested; what peening does is reckoned."""
    fine, scaled = (of_tested(skin).sites for skin in (
        Skin("polished", Peening()), Skin("as-hardened-scaled", Peening(), decarburised_mm=0.15)))  # fmt: skip
    assert np.isfinite(fine.flaw_MPa) and fine.flaw_MPa == pytest.approx(float(scaled.flaw_MPa))


def test_what_was_tested_is_what_sound_steel_has_too_without_peening() -> None:
    """From tests of one skin nobody knows how strong the steel is without its flaws: no stronger than they were."""
    sites = of_tested(Skin("polished")).sites
    assert sites.sound_MPa == pytest.approx(300.0) and sites.at_1e6_MPa == pytest.approx(300.0)


def test_tests_twice_as_strong_make_every_site_of_another_skin_twice_as_strong() -> None:
    one, two = (of_tested(Skin("ground", Peening()), strength).sites for strength in (200.0, 400.0))
    for name in ("sound_MPa", "flaw_MPa", "at_1e6_MPa"):
        assert getattr(two, name) == pytest.approx(2.0 * float(getattr(one, name)), rel=1e-9), name


@pytest.mark.parametrize(
    ("depth", "strength"), [(0.15, 300.0), (0.10, 300.0), (0.30, 300.0 * 2.0 ** (-1 / 6) * 0.9875 / 0.975)]
)
def test_a_deeper_decarburised_bar_is_not_the_bar_that_was_tested(depth: float, strength: float) -> None:
    """0.30 against 0.15 mm: a flaw twice as deep stands 2^(-1/6) = 0.891 of it, and in a bar of 24 mm sits at 0.975 of
    the skin's stress and not at 0.9875. A shallower one earns nothing.
    """
    found = of_tested(Skin("as-hardened-scaled", decarburised_mm=depth)).at_1e6_cycles_MPa
    assert found == pytest.approx(strength, rel=1e-6)
