"""Section properties of round bar, tube, rectangle and pressed tube end, as functions of numbers or arrays.

Axes: a along the width, b across the thickness. I_a is the second moment for bending about a, the integral of
y_b^2. Shear areas are Cowper's coefficient times the area: G. R. Cowper, "The shear coefficient in Timoshenko's beam
theory", J. Appl. Mech. 33 (1966) 335-340.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barfem.model.frozen import frozen

__all__ = [
    "Properties",
    "blend",
    "pressed_pair",
    "rectangle",
    "rectangle_torsion_constant",
    "round_or_tube",
]

Array = NDArray[np.float64]


@frozen
class Properties:
    """Properties of one section, in its principal axes."""

    area_mm2: float
    shear_area_a_mm2: float
    shear_area_b_mm2: float
    I_a_mm4: float
    I_b_mm4: float
    J_mm4: float


def round_or_tube(*, diameter_mm: float, bore_mm: float = 0.0, nu: float) -> Properties:
    """Solid round or tube. Exact I = pi (D^4 - d^4) / 64, J = 2 I.

    Cowper for a hollow circle, m = d / D: 6 (1 + nu) (1 + m^2)^2 / [(7 + 6 nu) (1 + m^2)^2 + (20 + 12 nu) m^2];
    m = 0 gives the solid 6 (1 + nu) / (7 + 6 nu).
    """
    area = np.pi * (diameter_mm**2 - bore_mm**2) / 4.0
    second_moment = np.pi * (diameter_mm**4 - bore_mm**4) / 64.0
    m2 = (bore_mm / diameter_mm) ** 2
    q = (1.0 + m2) ** 2
    shear_area = area * 6.0 * (1.0 + nu) * q / ((7.0 + 6.0 * nu) * q + (20.0 + 12.0 * nu) * m2)
    return Properties(area, shear_area, shear_area, second_moment, second_moment, 2.0 * second_moment)


def rectangle_torsion_constant(*, width_mm: float, thickness_mm: float) -> float:
    """Saint-Venant torsion constant of a rectangle, mm^4.

    J = w t^3 [1/3 - (64 / pi^5) (t / w) sum over odd n of tanh(n pi w / (2 t)) / n^5], t the shorter side
    (Timoshenko & Goodier, Theory of Elasticity, torsion of a rectangular bar). 40 terms: truncated below 1e-9.
    """
    w, t = max(width_mm, thickness_mm), min(width_mm, thickness_mm)
    n = np.arange(1.0, 80.0, 2.0)
    series = float(np.sum(np.tanh(n * np.pi * w / (2.0 * t)) / n**5))
    return w * t**3 * (1.0 / 3.0 - 64.0 / np.pi**5 * (t / w) * series)


def rectangle(*, width_mm: float, thickness_mm: float, nu: float) -> Properties:
    """Solid rectangle, a along the width. Cowper: 10 (1 + nu) / (12 + 11 nu) both ways."""
    w, t = width_mm, thickness_mm
    shear_area = w * t * 10.0 * (1.0 + nu) / (12.0 + 11.0 * nu)
    torsion = rectangle_torsion_constant(width_mm=w, thickness_mm=t)
    return Properties(w * t, shear_area, shear_area, w * t**3 / 12.0, t * w**3 / 12.0, torsion)


def pressed_pair(*, width_mm: float, thickness_mm: float, nu: float) -> Properties:
    """Flattened tube: two leaves of half the thickness that are not bonded and slide on each other.

    J = 2 w (t/2)^3 / 3 = w t^3 / 12 and I_a = 2 w (t/2)^3 / 12 = w t^3 / 48 (thin leaves); I_b = t w^3 / 12.
    """
    w, t = width_mm, thickness_mm
    shear_area = w * t * 10.0 * (1.0 + nu) / (12.0 + 11.0 * nu)
    return Properties(w * t, shear_area, shear_area, w * t**3 / 48.0, t * w**3 / 12.0, w * t**3 / 12.0)


def blend(first: Properties, second: Properties, fraction: Array) -> dict[str, Array]:
    """Each property at `fraction` (n,) of the way from one section to the other.

    What varies linearly is the property's equivalent length, the root that makes mm of it: area^(1/2), I^(1/4),
    J^(1/4). Each property then runs continuously and one way only, and a straight taper between similar sections
    (a cone, a pyramid) is exact.
    """
    out = {}
    for name in Properties.__dataclass_fields__:
        power = 4.0 if name.endswith("mm4") else 2.0
        start, end = getattr(first, name) ** (1.0 / power), getattr(second, name) ** (1.0 / power)
        out[name] = ((1.0 - fraction) * start + fraction * end) ** power
    return out
