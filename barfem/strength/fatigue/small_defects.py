"""Endurance limit of hard steel with a shallow flaw in its skin: Murakami's model of small defects.

sigma_w = 1.43 (HV + 120) / (area^0.5)^(1/6), reversed, MPa with area^0.5 in micrometres, for a flaw open to the
surface; for a long shallow one of depth a, area^0.5 = 10^0.5 a. Holds for HV 70 to 720 and area^0.5 up to 1,000
micrometres, that is 0.3 mm of depth (Murakami, Metal Fatigue: Effects of Small Defects and Nonmetallic Inclusions,
2002; from memory, sure; seen quoted as 2.86 for the range). The limit never exceeds that of a sound specimen.

Here the flaw is a decarburised skin: it is soft, cracks early, and the crack that then stands in the hard steel is as
deep as the skin. The limit is for stress across the crack; taking a von Mises amplitude for it is safe in torsion.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.errors import InputError
from barfem.model.hardness import vickers_from_tensile

__all__ = ["DEEPEST_FLAW_MM", "flaw_limit"]

DEEPEST_FLAW_MM = 0.3


def flaw_limit(*, tensile_MPa: ArrayLike, depth_mm: float) -> NDArray[np.float64]:
    """Reversed amplitude [MPa] that a shallow flaw of `depth_mm` all along the skin lets last for ever.

    Raises
    ------
    InputError
        A depth that is not above zero, or beyond 0.3 mm.
    """
    if not 0.0 < depth_mm <= DEEPEST_FLAW_MM:
        raise InputError(
            f"a flaw {depth_mm:g} mm deep is not a small one.", expected=f"above 0, up to {DEEPEST_FLAW_MM:g} mm."
        )
    hardness = np.clip(vickers_from_tensile(tensile_MPa), 70.0, 720.0)
    size_um = np.sqrt(10.0) * 1000.0 * depth_mm
    return 1.43 * (hardness + 120.0) / size_um ** (1.0 / 6.0)
