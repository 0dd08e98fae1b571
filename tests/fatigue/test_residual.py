"""Residual stress from cold bending and from peening."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad

from barfem.model.material import CyclicConstants, Steel
from barfem.model.skin import Skin
from barfem.strength.fatigue.residual import (
    bend_inside_residual,
    cyclic_yield,
    cyclic_yield_estimate,
    surface_residual,
    surviving_compression,
)

PEENED = Skin.named("shot-peened")
COLD_BENT = Steel(
    "custom", "as given", 206e3, 0.3, 7850.0, 1000.0, 1200.0, bent="after-hardening", stress_relieved=False
)


@pytest.mark.parametrize("k", [0.0, 0.4, 2.0 / 3.0, 0.9])
def test_bend_residual_leaves_no_moment_in_the_section(k: float) -> None:
    """Springback takes the whole plastic moment off: what is left at the skin belongs to a field without moment."""
    skin = float(bend_inside_residual(yield_MPa=1000.0, bore_ratio=k))

    def width(y: float, radius: float) -> float:
        return 2.0 * np.sqrt(max(radius**2 - y**2, 0.0))

    def residual_moment(y: float) -> float:
        # Ideally plastic (+-1000), minus springback linear in y that ends at 1000 + skin at the outer fibre y = 1.
        stress = 1000.0 - (1000.0 + skin) * y
        return stress * y * (width(y, 1.0) - width(y, k))

    moment = quad(residual_moment, 0.0, 1.0, points=[k] if k else None, limit=200)[0]
    plastic = quad(lambda y: 1000.0 * y * (width(y, 1.0) - width(y, k)), 0.0, 1.0, points=[k] if k else None)[0]
    assert abs(moment) < 1e-6 * plastic


def test_bend_residual_of_a_solid_and_a_thin_tube() -> None:
    # Shape factors 16 / (3 pi) = 1.698 and 4 / pi = 1.273: any text on plastic bending.
    assert bend_inside_residual(yield_MPa=1.0) == pytest.approx(0.698, abs=5e-4)
    assert bend_inside_residual(yield_MPa=1.0, bore_ratio=1.0) == pytest.approx(4.0 / np.pi - 1.0, rel=1e-12)


def test_bend_residual_is_at_the_inside_alone_and_only_when_bent_cold_and_not_relieved() -> None:
    where = np.array([False, True])
    here = {"skin": Skin("as-hardened-scaled"), "inside_of_bend": where}
    np.testing.assert_allclose(surface_residual(COLD_BENT, **here), [0.0, 697.65], rtol=1e-4)
    assert not surface_residual(replace(COLD_BENT, stress_relieved=True), **here).any()
    assert not surface_residual(replace(COLD_BENT, bent="before-hardening"), **here).any()


def test_peening_leaves_compression_and_covers_the_bend() -> None:
    residual = surface_residual(COLD_BENT, skin=PEENED, inside_of_bend=[True, False])
    np.testing.assert_allclose(residual, -500.0)
    soft = replace(COLD_BENT, tensile_strength_MPa=580.0, yield_strength_MPa=450.0)
    assert surface_residual(soft, skin=PEENED) == pytest.approx(-290.0)


def test_the_bore_of_a_bend_has_less_than_its_skin() -> None:
    skin = bend_inside_residual(yield_MPa=1000.0, bore_ratio=0.7)
    bore = bend_inside_residual(yield_MPa=1000.0, bore_ratio=0.7, radius_ratio=0.7)
    assert 0.0 <= bore < skin


@pytest.mark.parametrize(("bending", "torsion"), [(600.0, 0.0), (0.0, 350.0), (300.0, 300.0)])
def test_what_is_left_of_peening_brings_the_tensor_to_the_cyclic_yield(bending: float, torsion: float) -> None:
    """The load's compression on an equal biaxial compression r: von Mises stress of the tensor, by its deviator."""
    load = np.sqrt(bending**2 + 3.0 * torsion**2)
    share = 3.0 * torsion**2 / load**2
    found = surviving_compression(residual_MPa=-900.0, max_von_mises_MPa=load, torsion_share=share, yield_MPa=900.0)
    r = -float(found)
    assert 0.0 < r < 900.0
    stress = np.array([[-r - bending, torsion, 0.0], [torsion, -r, 0.0], [0.0, 0.0, 0.0]])
    deviator = stress - np.trace(stress) / 3.0 * np.eye(3)
    assert np.sqrt(1.5 * np.sum(deviator**2)) == pytest.approx(900.0, rel=1e-7)


def test_peening_relaxes_gradually_and_never_gains() -> None:
    """Bending s on 500 MPa under a cyclic yield of 900: r = (900^2 - 3 s^2 / 4)^0.5 - s / 2, whole to 538 MPa, none at
    900.
    """
    load = np.array([0.0, 538.0, 700.0, 900.0, 1100.0])
    left = surviving_compression(residual_MPa=-500.0, max_von_mises_MPa=load, torsion_share=0.0, yield_MPa=900.0)
    np.testing.assert_allclose(
        left, [-500.0, -500.0, -(np.sqrt(900.0**2 - 0.75 * 700.0**2) - 350.0), 0.0, 0.0], atol=1e-9
    )


def test_cyclic_yield() -> None:
    # 4340 (Dowling Table 14.1): H' 1655 MPa, n' 0.131, so 0.2 % cyclic yield 1655 x 0.002^0.131 = 733 MPa.
    constants = CyclicConstants(207e3, 1758.0, -0.0977, 2.12, -0.774, 1655.0, 0.131, 1172.0)
    steel = Steel("4340", "", 206e3, 0.3, 7850.0, 1103.0, 1172.0, cyclic=constants)
    assert cyclic_yield(steel) == pytest.approx(733.3, abs=0.5)
    # Without constants the FKM estimate, which that steel's measured value should lie near.
    assert cyclic_yield_estimate(1172.0) == pytest.approx(733.3, rel=0.15)
    assert cyclic_yield(replace(steel, cyclic=None, yield_strength_MPa=400.0)) == 400.0
