"""The safety factor that a survival needs never contradicts the verdict, though load takes peening away."""

from __future__ import annotations

from pathlib import Path

import pytest

from barfem.check.api import check_bar
from barfem.cli.main import main
from barfem.model.read import read_bar
from barfem.show.needed import needed_factor
from barfem.show.scene3d import safety_bands
from barfem.show.table import column_notes
from barfem.study.change import change

OPTIONS = (
    "--width 900 --arm-length 250 --section 24 --holes 18,36,54,72 --mounts 290 --link-length 140 --travel 28 --yes"
)


@pytest.fixture(scope="module")
def starter(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("needed") / "coupe.toml"
    assert main(["new", str(path), *OPTIONS.split()]) == 0
    return path


def test_unpeened_it_is_one_over_the_share_at_survival(starter):
    result = check_bar(starter)
    share = result.strength_share_at_survival
    assert needed_factor(result, share) == pytest.approx(1.0 / share, abs=1e-12)
    assert f"survival needs {1.0 / share:.2f}." in " ".join(column_notes(result))


@pytest.mark.parametrize("travel", [26.0, 28.0, 29.0])
def test_peened_it_lies_between_the_settings_that_last_and_those_that_break(starter, travel):
    """At 28 mm hole 4 lasts with 1.06, where one over the share is 1.16: its colour must not say that it misses."""
    result = check_bar(change(read_bar(starter), {"material.peening": "shot", "travel.pickup": travel}))
    share = result.strength_share_at_survival
    needed = needed_factor(result, share)
    for row in result.settings:
        enough = row.fatigue.runout or row.fatigue.life_at_survival_cycles >= result.target_cycles
        assert enough == (row.fatigue.safety_factor_at_target >= needed)
    if travel == 28.0:
        assert result.passes and min(row.fatigue.safety_factor_at_target for row in result.settings) < 1.1
        assert needed < 1.0 / share and f"needs {needed:.2f} at most here" in " ".join(column_notes(result))
        assert safety_bands(result, share).target == needed
