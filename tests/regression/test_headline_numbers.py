"""The headline numbers of the demo bars are those recorded from barfem itself: a change shows here, right or wrong.

To record them anew: python -m tests.regression.refresh
"""

from __future__ import annotations

import json

import pytest

from barfem.model.data_paths import demo_bars
from tests.regression.refresh import RECORD, ROOT, headline, moved

RECORDED = json.loads(RECORD.read_text(encoding="utf-8"))


@pytest.mark.parametrize("name", sorted(RECORDED))
def test_headline_numbers_have_not_moved(name):
    lines = moved(RECORDED[name], headline(ROOT / "geometries" / f"{name}.toml"))
    assert not lines, "\n".join([*lines, "if this is meant: python -m tests.regression.refresh"])


def test_every_demo_bar_is_recorded():
    assert sorted(RECORDED) == sorted(path.stem for path in demo_bars())


def test_a_move_of_two_parts_in_a_million_is_seen():
    name = next(iter(RECORDED))
    nudged = json.loads(json.dumps(RECORDED[name]))
    setting = next(iter(nudged["settings"].values()))
    setting["rate_N_per_mm"] *= 1.0 + 2e-6
    (line,) = moved(RECORDED[name], nudged)
    assert "rate_N_per_mm" in line
    setting["passes"] = not setting["passes"]
    del nudged["mass_kg"]
    assert len(moved(RECORDED[name], nudged)) == 3
