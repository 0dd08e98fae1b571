"""What `barfem life` prints can be worked out again by hand: each number follows from those beside it.

Sources: Shigley Eq. 6-46 (Goodman) and 6-47 (Gerber); Murakami and Endo's limit of a flaw and Murakami's mean-stress
term (Metal Fatigue, 2002; from memory, sure).
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest

from barfem.model.skin import Skin
from barfem.show.life import life_tables
from barfem.strength.fatigue import measured
from barfem.strength.fatigue.fit.posterior import PRIOR
from barfem.strength.fatigue.hand_estimate import estimate
from barfem.strength.fatigue.hand_inputs import LifeInputs


def rows(mean_MPa: float = 0.0, **asked: Any) -> dict[str, tuple[Any, str]]:
    """Value and source of each row that is printed, of 24 mm of 51CrV4 under 500 MPa."""
    steel = {"grade": "51CrV4", "condition": "QT EN 10089", "diameter_mm": 24.0}
    inputs = LifeInputs(amplitude_MPa=500.0, mean_MPa=mean_MPa, **(steel | asked))
    found = [row for made in life_tables(estimate(inputs, folder=Path())) for row in made.rows]
    return {row[0].text: (row[1].value, row[3].text) for row in found}


def test_what_decides_is_told_with_its_own_formula() -> None:
    """Sound steel by Goodman, the flaw by Murakami's term: each number follows from what is printed beside it."""
    found = rows(150.0, surface="machined", torsion_share=0.4)
    sound, by_goodman = found["felt by sound steel"]
    assert sound == pytest.approx(500.0 / (1.0 - 150.0 / 1350.0), rel=1e-9) and "Shigley Eq. 6-46" in by_goodman
    flaw, own = found["felt by the flaw"]
    a = 0.226 + 420.0 / 10_000.0  # HV, printed beside the surface factor
    assert "at 420 HV" in found["surface factor ka"][1] and "a = 0.226 + HV / 10 000" in own
    assert flaw == pytest.approx(500.0 ** (1.0 - a) * 650.0**a, rel=1e-3)  # HV is printed in full
    equivalent, which = found["equivalent amplitude"]
    assert equivalent == pytest.approx(flaw, rel=1e-9) and which.endswith(": the flaw")
    limit = found["strength at 1e6 cycles"][0]
    factor, formula = found["safety factor"]
    assert factor == pytest.approx(1.0 / (500.0 / limit + 150.0 / 1350.0), rel=1e-9) and f"{limit:.1f} MPa" in formula
    # Goodman asked of both by another rule's name: Gerber's mean counts at the flaw as well.
    found = rows(150.0, surface="machined", torsion_share=0.4, method="gerber")
    assert [found[f"felt by {what}"][0] for what in ("the flaw", "sound steel")] == pytest.approx([506.25] * 2)
    # A polished skin has no flaw: one line, by the rule.
    found = rows(150.0, surface="polished", torsion_share=0.4)
    assert "felt by sound steel" not in found and found["equivalent amplitude"][0] == pytest.approx(sound)


def test_the_surface_factor_follows_from_its_line() -> None:
    """ka = Murakami and Endo's limit, over what the flaw feels of the stress at its depth, over the sound steel's."""
    found = rows(surface="machined", torsion_share=0.0)
    ka, words = found["surface factor ka"]
    depth_um = 12.5
    size = math.sqrt(10.0) * depth_um
    assert f"10^0.5 x {depth_um:g} = {size:.0f} micrometres" in words
    own = 1.43 * (420.0 + 120.0) / size ** (1.0 / 6.0) / (1.0 - 2.0 * depth_um / 24_000.0)
    sound = found["endurance limit of a polished specimen"][0] * found["size factor kb"][0]
    assert ka == pytest.approx(own / sound, rel=2e-3)


def test_a_diameter_in_inches_is_asked_about() -> None:
    """1.1 for 27.9 mm: a bar that thin would have no size factor, and a skin that ends before its flaw does."""
    asked = {"amplitude_MPa": 500.0, "tensile_MPa": 1350.0, "surface": "machined"}
    inches, mm = (estimate(LifeInputs(**asked, diameter_mm=d), folder=Path()).warnings for d in (1.1, 27.9))
    assert any("a diameter of 1.1 mm is thinner than any bar: inches written as mm?" in each for each in inches)
    assert not any("inches" in each for each in mm)


@pytest.mark.parametrize(("tensile_MPa", "asked"), [(145.0, True), (620.0, False), (2600.0, False), (200_000.0, True)])
def test_a_tensile_strength_that_no_steel_has_is_asked_about(tensile_MPa: float, asked: bool) -> None:
    """145 ksi or 200 000 psi written as MPa; psi made every stress harmless, and nothing was said."""
    inputs = LifeInputs(amplitude_MPa=100.0, tensile_MPa=tensile_MPa, surface="machined")
    warnings = estimate(inputs, folder=Path()).warnings
    assert any("no steel's" in text for text in warnings) is asked


def test_a_table_s_steel_of_another_hardness_keeps_its_ratio_of_yield_to_tensile_strength() -> None:
    table, softer = (rows(surface="polished", **more) for more in ({}, {"diameter_mm": None, "hardness": "38 HRC"}))
    assert softer["tensile strength"][0] < 0.95 * table["tensile strength"][0]
    assert softer["yield strength"][0] / softer["tensile strength"][0] == pytest.approx(
        table["yield strength"][0] / table["tensile strength"][0]
    )
    assert table["effective diameter"][0] == pytest.approx(0.37 * 24.0)
    assert softer["size factor kb"][0] == 1.0 and "effective diameter" not in softer  # no size is given


@pytest.mark.parametrize(
    ("ratios", "words"),
    [
        ([0.7, 0.85, 1.0], "3 series of tests, predicted 0.70 to 1.00 of measured strength: on the safe side"),
        ([0.8, 1.1], "2 series of tests, predicted 0.80 to 1.10 of measured strength: on both sides"),
        ([1.02, 1.1], "2 series of tests, predicted 1.02 to 1.10 of measured strength: on the unsafe side"),
        ([0.9], "one series of tests, predicted 0.90 of measured strength: on the safe side"),
    ],
)
def test_which_way_an_estimate_leans_is_said_of_all_its_tests(monkeypatch, ratios, words) -> None:
    """Safe is what lies at or below the measured strength in every series, and not in the lowest alone."""
    monkeypatch.setattr(measured, "compared", lambda: {"machined": ratios})
    assert measured.comparison_words(Skin("machined")) == words


@pytest.mark.parametrize(("amplitude", "told"), [(130.0, False), (115.0, True), (100.0, True)])
def test_a_life_that_no_test_went_to_is_called_a_number_of_the_line(amplitude: float, told: bool) -> None:
    """1000 MPa x (2N)^-0.1 without a limit: 0.5 x (S / 1000)^-10 cycles, 3.6e8 at 130 MPa, 1.2e9 at 115, 5e9 at 100."""
    curve = LifeInputs(amplitude_MPa=amplitude, coefficient_MPa=1000.0, exponent=-0.1)
    life = estimate(curve, folder=Path()).life
    assert life.life_cycles == pytest.approx(0.5 * (amplitude / 1000.0) ** -10.0, rel=1e-9)
    assert ("no test went" in life.reason) is told


def test_what_is_taken_of_a_slope_before_any_test_spans_its_sources_and_little_more() -> None:
    """FKM's 5 and 8, Dowling's 7 to 15 of polished hardened steel: 90 % of it from just below 5 to just above 15."""
    low, high = PRIOR.exponent_90
    assert 0.8 * 5.0 < low < 5.0 and 15.0 < high < 1.2 * 15.0
    assert "90 % between 4.1 and 15" in PRIOR.text
