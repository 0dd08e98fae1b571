"""Handbook formulas that barfem does not use itself, to hold its own against."""

from __future__ import annotations


def ovalising_factor(*, diameter_mm: float, wall_mm: float, bend_radius_mm: float) -> float:
    """Flexibility of a tube's bend, by ovalising, over the straight tube's: (12 h^2 + 10) / (12 h^2 + 1).

    h = t R / r_m^2. Von Karman's first approximation (1911), derived for thin walls: a measure of what the closed
    forms leave out.
    """
    h2 = (wall_mm * bend_radius_mm / ((diameter_mm - wall_mm) / 2.0) ** 2) ** 2
    return (12.0 * h2 + 10.0) / (12.0 * h2 + 1.0)


def peterson_sensitivity(*, radius_mm: float, tensile_MPa: float) -> float:
    """Notch sensitivity q [0 to 1] by Peterson, for comparison: 1 / (1 + a / r), a = 0.0254 (2070 / Su)^1.8 mm.

    Dowling, Mechanical Behavior of Materials, 4th ed., Eq. 10.4 (axial and bending; from memory), for steels of 550 MPa
    and above.
    """
    length = 0.0254 * (2070.0 / tensile_MPa) ** 1.8
    return 1.0 / (1.0 + length / radius_mm)


def tension_factor(ratio: float) -> float:
    """Kt on the net section, tension, hole diameter over width `ratio`: 3 - 3.13 x + 3.66 x^2 - 1.53 x^3.

    Roark, Formulas for Stress and Strain, Table 17.1, central hole in a bar of rectangular section; plane stress.
    """
    return float(3.0 - 3.13 * ratio + 3.66 * ratio**2 - 1.53 * ratio**3)


def plate_bending_factor(depth_ratio: float) -> float:
    """Kt of a hole in a wide plate bent out of its plane, hole diameter over thickness `depth_ratio` = x.

    1.79 + 0.25 / (0.39 + x) + 0.81 / (1 + x^2) - 0.26 / (1 + x^3): Roark Table 17.1 and Peterson, Chart 4.82. Its
    limits are Goodier's thin plate, (5 + 3 nu) / (3 + nu), and 3 for a small hole.
    """
    x = depth_ratio
    return float(1.79 + 0.25 / (0.39 + x) + 0.81 / (1.0 + x**2) - 0.26 / (1.0 + x**3))
