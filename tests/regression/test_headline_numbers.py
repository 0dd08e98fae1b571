"""The headline numbers of the demo bars are those recorded from barfem itself: a change shows here, right or wrong.

To record them anew: python -m tests.regression.refresh
"""

from __future__ import annotations

import json
import re

import pytest

from barfem.model.data_paths import demo_bars
from barfem.version import __version__
from tests.regression.refresh import MOVED, RECORD, ROOT, headline, moved, moves

RECORDED = json.loads(RECORD.read_text(encoding="utf-8"))
LAST_MOVED = json.loads(MOVED.read_text(encoding="utf-8"))


@pytest.mark.parametrize("name", sorted(RECORDED))
def test_headline_numbers_have_not_moved(name):
    lines = moved(RECORDED[name], headline(ROOT / "geometries" / f"{name}.toml"))
    asks = f"if {__version__} means to: python -m tests.regression.refresh, and the reason in DEVELOPERS.md"
    assert not lines, "\n".join([*lines, asks])


def changes() -> dict[str, list[str]]:
    """The entries of each version in DEVELOPERS.md, "What moved"."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").partition("\n## What moved\n")[2].partition("\n## ")[0]
    versions = re.split(r"^### ", text, flags=re.MULTILINE)[1:]
    return {part.split()[0]: [" ".join(entry.split()) for entry in part.split("\n- ")[1:]] for part in versions}


@pytest.mark.parametrize("quantity", LAST_MOVED)
def test_every_move_has_its_version_and_its_reason(quantity):
    """A number that somebody leans on moves in a version that says so: quantity, bars and why, in one entry."""
    for bar, version in LAST_MOVED[quantity].items():
        entries = [entry for entry in changes().get(version, []) if f"`{quantity}`" in entry]
        assert any(f"`{bar}`" in entry or "every demo bar" in entry for entry in entries), (
            f"{quantity} of {bar} moved in {version}: DEVELOPERS.md does not say why"
        )


def test_this_version_is_in_the_list():
    assert __version__ in changes()


def test_a_move_names_its_quantity_and_bars():
    nudged = json.loads(json.dumps(RECORDED))
    next(iter(nudged["pickup-rear-tube"]["settings"].values()))["rate_N_per_mm"] *= 1.001
    nudged["coupe-rear-cranked"]["mass_kg"] *= 1.001
    assert moves(RECORDED, nudged) == {"mass_kg": ["coupe-rear-cranked"], "rate_N_per_mm": ["pickup-rear-tube"]}


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
