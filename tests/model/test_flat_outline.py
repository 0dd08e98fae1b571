"""The form of a forged flat's transition: half cosine, straight with fillets, or not said."""

from __future__ import annotations

import numpy as np
import pytest

from barfem.model.bar import Flat
from barfem.model.bar_geometry import fillet_share, outline_share
from barfem.model.errors import InputError
from barfem.model.read import bar_from_dict
from tests.model.bar_data import FLAT, changed


def flat(outline: str | None, fillet_mm: float | None = None, transition_mm: float = 30.0) -> Flat:
    return Flat("forged", 12.0, 40.0, 95.0, transition_mm, (0, 1, 0), outline=outline, fillet_mm=fillet_mm)  # type: ignore[arg-type]


def test_the_file_gives_outline_and_fillet_or_leaves_them_out() -> None:
    given = bar_from_dict(changed(("ends.flat", {**FLAT, "outline": "straight", "fillet": "8 mm"}))).right.flat
    assert given is not None and (given.outline, given.fillet_mm) == ("straight", 8.0)
    silent = bar_from_dict(changed(("ends.flat", FLAT))).right.flat
    assert silent is not None and (silent.outline, silent.fillet_mm) == (None, None)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"outline": "cosine", "fillet": 5.0}, "no fillets"),
        ({"outline": "round"}, "outline"),
        ({"fillet": 0.0}, "fillet"),
        ({"fillet": -3.0}, "fillet"),
    ],
)
def test_what_cannot_be_is_refused_by_its_key(given: dict[str, object], words: str) -> None:
    with pytest.raises(InputError) as caught:
        bar_from_dict(changed(("ends.flat", {**FLAT, **given})))
    assert words in str(caught.value) and "ends" in str(caught.value.where)


@pytest.mark.parametrize("outline", [None, "cosine", "straight"])
@pytest.mark.parametrize("fillet", [None, 2.0, 10.0, 500.0])
def test_it_runs_evenly_from_flat_to_body(outline: str | None, fillet: float | None) -> None:
    x = np.linspace(0.0, 1.0, 2001)
    share = outline_share(flat(outline, fillet), x, diameter_mm=24.0)
    assert share[0] == 0.0 and share[-1] == 1.0 and np.all(np.diff(share) >= 0.0)
    assert np.allclose(share + share[::-1], 1.0)
    assert np.abs(np.diff(share)).max() < 0.5 * np.pi / 2000 * 2.01  # no step


def test_the_fillet_is_a_circle_of_its_radius_tangent_to_flat_and_side() -> None:
    # Width 40 to 24 mm over 30 mm: the side moves in by 8 mm. Curvature at the flat is 1 / R, slope there zero.
    one = flat("straight", 10.0)
    x = np.linspace(0.0, 0.02, 201)
    inwards = 8.0 * outline_share(one, x, diameter_mm=24.0)
    curvature = np.diff(inwards, 2) / (30.0 * (x[1] - x[0])) ** 2
    assert curvature == pytest.approx(1.0 / 10.0, rel=1e-6)
    a = fillet_share(one, diameter_mm=24.0)
    assert a * (1.0 - a) == pytest.approx(10.0 * 8.0 / 30.0**2)
    assert fillet_share(flat("straight", 500.0), diameter_mm=24.0) == 0.5  # the fillets meet half way
