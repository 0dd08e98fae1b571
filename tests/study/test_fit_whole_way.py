"""From a firm's own tests to a verdict: the fitted line, used by the bar that was tested, gives the line's own life."""

from __future__ import annotations

from pathlib import Path

import pytest

from barfem.check.api import check_bar
from barfem.model.data_paths import geometries_dir
from barfem.model.read import read_bar
from barfem.study.change import change
from barfem.study.fit import fit_tests
from barfem.study.fit_table import fit_table_text
from tests.often import often

# Invented: bars run at three travels.
TESTS = """\
hole,travel_mm,cycles,result
stiff,44,52000,broken
stiff,40,71000,broken
stiff,34,160000,broken
stiff,34,210000,broken
stiff,30,400000,broken
"""
SKINS = {
    "scaled": {"material.surface": "as-hardened-scaled", "material.peening": "none"},
    "scaled and peened": {"material.surface": "as-hardened-scaled", "material.peening": "shot"},
    "peeled and peened": {"material.surface": "machined", "material.peening": "shot"},
    "decarburised and peened": {
        "material.surface": "as-hardened-scaled",
        "material.peening": "shot",
        "material.decarburised_depth": 0.25,
    },
}


@pytest.mark.parametrize("skin", often(SKINS.values(), 2), ids=SKINS)
@pytest.mark.long
def test_a_bar_like_those_tested_has_the_life_that_the_tests_say(skin: dict[str, object], tmp_path: Path) -> None:
    """Skin, peening and size are in the tests and are not counted again: within 0.1 % of the line, mean included."""
    demo = change(read_bar(geometries_dir() / "pickup-front-solid.toml"), skin)
    tests = tmp_path / "tests.csv"
    tests.write_text(TESTS, encoding="utf-8")
    fit = fit_tests(tests, bar=demo)
    own = tmp_path / "own.toml"
    own.write_text(fit_table_text(fit, own), encoding="utf-8")
    bar = change(demo, {"material.grade": str(own), "travel.pickup": 36.0})
    governing = next(one for one in check_bar(bar, case="roll").settings if one.left == "stiff").fatigue
    # The tests were run at this hole and cycle; Goodman takes the mean out, as the fit did.
    reversed_MPa = governing.amplitude_MPa / (1.0 - governing.mean_MPa / bar.steel.tensile_strength_MPa)
    of_the_line = fit.line.at_cycles * (fit.line.strength_MPa / reversed_MPa) ** fit.line.exponent
    assert governing.life_cycles == pytest.approx(of_the_line, rel=1e-3)
