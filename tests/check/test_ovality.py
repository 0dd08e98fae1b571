"""Ovality of a tube's bends as made: read, refused, and felt alike by bend fields and solid."""

from __future__ import annotations

from pathlib import Path

import pytest

from barfem.check.api import check_bar
from barfem.model.errors import InputError
from barfem.model.read import read_bar
from barfem.study.change import change
from barfem.study.resize import scaled

DEMOS = Path(__file__).parents[2] / "geometries"


def bend_peak(result) -> float:  # type: ignore[no-untyped-def]
    return max(place.von_mises_MPa for place in result.settings[-1].places if place.kind == "bend")


@pytest.mark.long
def test_an_oval_bend_is_judged_alike_by_fields_and_solid() -> None:
    bar = read_bar(DEMOS / "pickup-rear-tube.toml")
    oval = change(bar, {"section.ovality": 5.0})
    assert oval.section.ovality_percent == 5.0 and scaled(oval.section, 1.1).ovality_percent == 5.0
    beam = check_bar(oval)
    assert all(bend.source == "computed" for bend in beam.bends)
    assert any("5 % oval" in text for text in beam.assumptions)
    fields = bend_peak(beam)
    assert fields == pytest.approx(bend_peak(check_bar(oval, model="solid")), rel=0.03)
    assert abs(fields / bend_peak(check_bar(bar)) - 1.0) > 0.01


@pytest.mark.parametrize(("demo", "percent", "word"), [
    ("pickup-rear-tube", 40.0, "0 to 15"), ("pickup-rear-tube", -1.0, "ovality"),
    ("pickup-front-solid", 2.0, "solid bar"),
])  # fmt: skip
def test_what_is_no_ovality_is_refused(demo: str, percent: float, word: str) -> None:
    bar = read_bar(DEMOS / f"{demo}.toml")
    with pytest.raises(InputError, match=word):
        change(bar, {"section.ovality": percent})
