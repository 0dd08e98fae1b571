"""The life of one cycle by hand, from the papers and with nothing of barfem but its hardness table.

Each site has its own straight line in log-log, from f Sut at 1 000 cycles (Shigley, 10th ed., Fig. 6-18, Eq. 6-14 to
6-16) to its own limit at a million, and beyond with exponent 45 (Sonsino 2007); the shortest life counts:

- sound steel: 0.5 Sut, at most 700 MPa (Eq. 6-8), times kb = 1.24 d_e^-0.107 (Eq. 6-20); mean by Goodman (Eq. 6-46);
- the skin's flaw: 1.43 (HV + 120) / (area^0.5)^(1/6), area^0.5 = 10^0.5 depth (Murakami 2002), in the stress
  sigma_1 - 0.18 sigma_2 at its depth (Endo); mean by ((1 - R) / 2)^(0.226 + HV 1e-4), residual stress at its depth;
- below a peened skin: sound steel in the stress where compression ends, the milder of both mean-stress rules.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

from barfem.model.hardness import vickers_from_tensile

# mm, typed in once more: flaws of finishes; 0: none.
DEPTH = {
    "corroded": 0.20,
    "as-hardened-scaled": 0.10,
    "hot-rolled": 0.05,
    "as-drawn": 0.03,
    "machined": 0.0125,
    "ground": 0.003,
    "polished": 0.0,
}
PEENED_TO_MM = 0.30
# 8 % of strength between steels (Table 6-5) with 0.2 of log10 life at exponent 6 within a batch.
SCATTER = math.hypot(math.log10(1.0 - 0.08), 0.2 / 6.0)


def share(survival: float) -> float:
    """Of the median strength, that of this survival."""
    return float(10.0 ** (-NormalDist().inv_cdf(survival) * SCATTER))


def fraction(tensile: float) -> float:
    kpsi = min(tensile, 1380.0) / 6.894757
    return 1.06 - 2.8e-3 * kpsi + 6.9e-6 * kpsi**2


@dataclass(frozen=True)
class Place:
    """A place of a round bar; `effective_mm` tells its share of torsion: d_e = (0.37 + 0.63 share) d."""

    tensile: float
    finish: str
    diameter: float
    effective_mm: float
    peened: bool = False

    @property
    def torsion_share(self) -> float:
        return (self.effective_mm / self.diameter - 0.37) / 0.63

    @property
    def principal(self) -> tuple[float, float]:
        s2, t2 = 1.0 - self.torsion_share, self.torsion_share / 3.0  # of a von Mises stress of 1
        radius = math.sqrt(s2 / 4.0 + t2)
        return math.sqrt(s2) / 2.0 + radius, math.sqrt(s2) / 2.0 - radius

    @property
    def hardness(self) -> float:
        return float(vickers_from_tensile(self.tensile))

    @property
    def alpha(self) -> float:
        return 0.226 + 1e-4 * self.hardness

    @property
    def start(self) -> float:
        """At 1 000 cycles."""
        return fraction(self.tensile) * self.tensile

    @property
    def sound(self) -> float:
        """Limit of sound steel, reversed, at a million cycles."""
        return min(0.5 * self.tensile, 700.0) * min(1.0, 1.24 * self.effective_mm**-0.107)

    @property
    def flaw(self) -> float:
        """That of the flaw, as von Mises stress of the skin."""
        depth = DEPTH[self.finish]
        if depth == 0.0:
            return math.inf
        first, second = self.principal
        own = 1.43 * (self.hardness + 120.0) / (math.sqrt(10.0) * 1000.0 * depth) ** (1.0 / 6.0)
        return own / (first - 0.18 * second) / (1.0 - 2.0 * depth / self.diameter)

    def life(
        self, amplitude: float, mean: float = 0.0, residual: float = 0.0, *, under: float = 0.0, strength: float = 1.0
    ) -> float:
        """Cycles; above 1e7 nothing is claimed. What the load leaves: `residual` at the skin, `under` peening."""
        by_flaw = amplitude ** (1.0 - self.alpha) * (amplitude + mean) ** self.alpha
        together = mean + residual
        sound = amplitude / (1.0 - max(together, 0.0) / self.tensile) / (1.0 + max(-together, 0.0) / self.tensile)
        lives = [self._read(sound / strength, self.sound)]
        if residual < 0.0:
            by_inclusion = by_flaw * (1.0 + under / (self.principal[0] * (amplitude + mean))) ** self.alpha
            by_goodman = amplitude / (1.0 - (mean + under) / self.tensile)
            below = (1.0 - 2.0 * PEENED_TO_MM / self.diameter) * min(by_goodman, by_inclusion)
            lives.append(self._read(below / strength, self.sound))
        if math.isfinite(self.flaw):
            across = self.principal[0] * (amplitude + mean)
            pressed = self._profile() if residual < 0.0 else 1.0
            opened = max(across + residual * pressed + under * (1.0 - pressed), 0.0) / across
            lives.append(self._read(by_flaw * opened**self.alpha / strength, self.flaw))
        return min(lives)

    def _profile(self) -> float:
        """Compression at the flaw's depth over that of the skin, never above 1."""
        depth, top = DEPTH[self.finish] / PEENED_TO_MM, 0.08 / 0.30
        if depth < top:
            return min(1.0, 1.15 - 0.15 * (1.0 - depth / top) ** 2)
        x = min((depth - top) / (1.0 - top), 1.0)
        return min(1.0, 1.15 * (1.0 - 3.0 * x**2 + 2.0 * x**3))

    def _read(self, stress: float, limit: float) -> float:
        limit = min(limit, 0.999 * self.start)
        if stress <= 0.0:
            return math.inf
        if stress >= limit:
            return float(1e3 * (stress / self.start) ** (-3.0 / math.log10(self.start / limit)))
        return float(1e6 * (stress / limit) ** -45.0)
