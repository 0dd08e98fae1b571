"""The check says where its fatigue strength comes from, whatever the bar, and nothing that is not true of it."""

from __future__ import annotations

import pytest

from tests.check.bar_files import check

BASE = ("half the tensile strength, at most 700 MPa: Shigley Eq. 6-8", "Shigley Fig. 6-18", "Shigley Eq. 6-20")

CASES = {
    "plain": (
        (),
        ("handbook estimate", "1.43 (HV + 120)", "no test known of this kind of skin"),
        ("Shot peening", "Cold bends", "Bore"),
    ),
    "peened": (
        (("material.surface", "shot-peened"),),
        (
            "leaves 500 MPa of compression",
            "none from 0.3 mm on",
            "neither bores nor walls of holes",
            "of other peened skins 2 series of tests",
        ),
        ("Cold bends",),
    ),
    "cold": ((("material.bent", "after-hardening"),), ("up to 837 MPa of tension",), ("Shot peening",)),
    "relieved": (
        (("material.bent", "after-hardening"), ("material.stress_relieved", True)),
        ("handbook estimate",),
        ("Cold bends",),
    ),
    "tube": (
        (("section", {"shape": "tube", "diameter": 22.0, "wall": 4.0}), ("material.bent", "before-hardening")),
        ("Bore, as hardened, scaled",),
        ("Shot peening",),
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_every_default_of_the_strength_has_its_source(name):
    changes, there, absent = CASES[name]
    words = " ".join(check(*changes)["assumptions"])
    for word in (*BASE, *there):
        assert word in words, word
    for word in absent:
        assert word not in words, word


def test_cold_bends_keep_what_springback_leaves():
    """A solid round: plastic over elastic section modulus 16 / (3 pi), so that 0.698 x 1200 MPa is left."""
    words = " ".join(check(("material.bent", "after-hardening"))["assumptions"])
    assert f"up to {(16.0 / (3.0 * 3.14159265) - 1.0) * 1200.0:.0f} MPa" in words
