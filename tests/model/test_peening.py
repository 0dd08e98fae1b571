"""[material] peening as a bar file says it: a word, or what is known of it, through to the steel; and slips of it."""

from __future__ import annotations

import pytest

from barfem.model.errors import InputError
from barfem.model.read import bar_from_dict
from barfem.model.skin import Peening
from tests.check.bar_files import BUILT
from tests.model.bar_data import changed


def peened(value: object, **more: object):
    keys = {"material.peening": value} | {f"material.{name}": other for name, other in more.items()}
    return bar_from_dict(changed(*keys.items(), base=BUILT)).steel.peening


def test_a_word_says_whether_the_bar_is_peened() -> None:
    assert peened("shot") == Peening() and peened("none") is None
    assert peened("shot", surface="machined") == Peening()


@pytest.mark.parametrize(("percent", "full"), [(97.9, False), (98.0, True), (99.0, True)])
def test_coverage_of_98_per_cent_is_full(percent: float, full: bool) -> None:
    """SAE J2277, from memory: what is called 100 % is 98 % by sight."""
    assert Peening(coverage_percent=percent).covers is full


def test_what_is_known_of_it_reaches_the_steel() -> None:
    known = {"kind": "shot", "residual": -600, "depth": 0.25, "coverage": 200}
    assert peened(known) == Peening(-600.0, 0.25, 200.0)
    assert peened({"residual": -450.0}) == Peening(-450.0)
    found = peened({"residual": "-90 ksi", "depth": "0.01 in"})
    assert found.residual_MPa == pytest.approx(-620.53, rel=1e-5) and found.depth_mm == pytest.approx(0.254)


@pytest.mark.parametrize(
    ("value", "where", "message"),
    [
        ({"depht": 0.3}, "[material] peening, depht", '"depth", the nearest known key'),
        ({"residual": 500}, "[material] peening.residual", "negative in compression"),
        ({"depth": 3.0}, "[material] peening.depth", "0.02 to 1 mm"),
        ("shott", "[material] peening, kind", "'none' or 'shot'"),
        (7, "[material] peening, kind", "'none' or 'shot'"),
        ([], "[material] peening, kind", "'none' or 'shot'"),
    ],
)
def test_a_slip_is_named_with_its_key_and_what_would_be_right(value: object, where: str, message: str) -> None:
    with pytest.raises(InputError) as caught:
        peened(value)
    assert caught.value.where == where and message in (caught.value.expected or "")


def test_peened_and_not_peened_contradict_each_other() -> None:
    with pytest.raises(InputError, match="contradict"):
        peened("none", surface="shot-peened")
