"""Where a crack may start at a place, and the reversed amplitude that does the same harm as a cycle with a mean.

Three sites, of which the worst decides:

- the flaw in the skin, by its own mean-stress term, residual stress taken at its depth (`flaws`);
- the sound steel of the skin, by the mean-stress rule asked for; residual compression beyond the load's mean earns by
  Goodman's line carried on, amplitude / (1 + surplus / tensile strength);
- under a peened skin, where its compression ends: sound steel without help, in the stress that is left at that depth;
  its mean by the rule asked for or by a flaw's term, whichever is milder (inclusions follow the latter; Murakami 2002,
  ch. 6). It is never harmed more than an unpeened skin would be.

All three are brought to one scale, the line of the place: reversed, without residual stress, by equal life. So lives
have no step where one site takes over from another.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.strength.fatigue.mean_stress import MeanStress
from barfem.strength.fatigue.residual import surviving_compression
from barfem.strength.fatigue.root import rising_root

__all__ = ["Sites", "harm", "reversed_limit"]

Array = NDArray[np.float64]
_TINY = 1e-12


@dataclass(frozen=True)
class Sites:
    """The sites of places; arrays of one shape, stresses as von Mises amplitudes at a million cycles.

    Attributes
    ----------
    at_1e3_MPa, at_1e6_MPa
        The line of the place, which all sites share at 1 000 cycles.
    flaw_MPa, sound_MPa
        Limit of the flaw (infinite: there is none) and of sound steel, reversed and without residual stress.
    alpha
        Exponent of the flaw's mean-stress term.
    normal_share, torsion_share
        Greatest principal over von Mises stress; torsion in the squared von Mises stress.
    flaw_residual_share
        Share of the skin's residual compression that is there at the flaw's depth.
    below_share
        Stress where the compression ends over that of the skin.
    residual_counts
        False where the line's own tests hold the residual compression already.
    """

    at_1e3_MPa: Array
    at_1e6_MPa: Array
    flaw_MPa: Array
    sound_MPa: Array
    alpha: Array
    normal_share: Array
    torsion_share: Array
    flaw_residual_share: Array
    below_share: Array
    residual_counts: NDArray[np.bool_]

    def compact(self) -> Sites:
        """The same with axes along which nothing changes cut to one: logarithms are taken of what differs alone."""
        return Sites(**{field.name: _compact(getattr(self, field.name)) for field in fields(self)})

    def at(self, places: Any) -> Sites:
        """The sites of some of the places."""
        return Sites(**{field.name: np.asarray(getattr(self, field.name)[places]) for field in fields(self)})


def harm(
    sites: Sites,
    rule: MeanStress,
    *,
    amplitude_MPa: ArrayLike,
    mean_MPa: ArrayLike,
    residual_MPa: ArrayLike,
    tensile_MPa: ArrayLike,
    yield_MPa: ArrayLike,
    strength_share: float = 1.0,
) -> Array:
    """Reversed amplitude [MPa] on the line of the place that does the same harm; infinite where the mean leaves none.

    `mean_MPa` is the load's, von Mises with the torsion share of the amplitude (from a check positive); `residual_MPa`
    what is left at the skin, tension positive. Arguments broadcast with the sites. `strength_share`: of bars with that
    share of the median strength, each site's line lowered by it.
    """
    sites = sites.compact()
    amplitude, mean = np.asarray(amplitude_MPa, float), np.asarray(mean_MPa, float)
    residual = np.where(sites.residual_counts, residual_MPa, np.maximum(residual_MPa, 0.0))
    tensile = np.asarray(tensile_MPa, float)
    strengths = {"tensile_MPa": tensile, "yield_MPa": yield_MPa, "torsion_share": sites.torsion_share}
    if rule.criterion.signed:
        sound = rule.equivalent(amplitude_MPa=amplitude, mean_MPa=mean + residual, **strengths)
    else:
        together = np.maximum(mean, 0.0) + residual
        sound = rule.equivalent(amplitude_MPa=amplitude, mean_MPa=np.maximum(together, 0.0), **strengths)
        sound = sound / (1.0 + np.maximum(-together, 0.0) / tensile)
    pressed, flawed = bool(np.any(residual < 0.0)), bool(np.any(np.isfinite(sites.flaw_MPa)))
    of_load = _by_flaw(sites.alpha, amplitude, mean) if pressed or flawed else amplitude
    if pressed:
        by_rule = rule.equivalent(amplitude_MPa=amplitude, mean_MPa=mean, **strengths)
        below = sites.below_share * np.minimum(by_rule, of_load)
        sound = np.where(residual < 0.0, np.maximum(sound, below), sound)
    worst = _on_the_line(sites, sound / strength_share, sites.sound_MPa)
    if flawed:
        if not rule.criterion.leaves_flaws:
            of_load = rule.equivalent(amplitude_MPa=amplitude, mean_MPa=mean, **strengths)
        flaw = of_load
        if np.any(residual):
            across = sites.normal_share * (amplitude + mean)
            there = np.where(residual < 0.0, residual * sites.flaw_residual_share, residual)
            flaw = of_load * (np.maximum(across + there, 0.0) / np.where(across > 0.0, across, 1.0)) ** sites.alpha
        worst = np.maximum(worst, _on_the_line(sites, flaw / strength_share, sites.flaw_MPa))
    return np.broadcast_to(worst, np.broadcast_shapes(worst.shape, np.shape(sites.at_1e6_MPa)))


def reversed_limit(
    sites: Sites,
    *,
    residual_MPa: ArrayLike,
    tensile_MPa: ArrayLike,
    yield_MPa: ArrayLike,
    cyclic_yield_MPa: ArrayLike,
) -> Array:
    """Reversed amplitude [MPa] that lasts a million cycles with residual compression, as far as it leaves it there.

    Without compression the line's own.
    """
    residual = np.minimum(np.asarray(residual_MPa, float), 0.0)
    if not np.any(residual < 0.0):
        return sites.at_1e6_MPa

    def harm_of(log_share: Array) -> Array:
        amplitude = sites.at_1e6_MPa * np.exp(log_share)
        left = surviving_compression(
            residual_MPa=residual,
            max_von_mises_MPa=amplitude,
            torsion_share=sites.torsion_share,
            yield_MPa=cyclic_yield_MPa,
        )
        return harm(
            sites,
            MeanStress(),
            amplitude_MPa=amplitude,
            mean_MPa=0.0,
            residual_MPa=left,
            tensile_MPa=tensile_MPa,
            yield_MPa=yield_MPa,
        )

    strength = np.broadcast_to(sites.at_1e6_MPa, np.broadcast_shapes(np.shape(sites.at_1e6_MPa), residual.shape))
    return np.asarray(sites.at_1e6_MPa * np.exp(rising_root(harm_of, strength)))


def _compact(values: NDArray[Any]) -> NDArray[Any]:
    return values[tuple(slice(0, 1) if stride == 0 else slice(None) for stride in values.strides)]


def _by_flaw(alpha: Array, amplitude: Array, mean: Array) -> Array:
    """amplitude ((1 - R) / 2)^-alpha, which is amplitude^(1 - alpha) maximum^alpha."""
    if not np.any(mean):
        return amplitude
    return np.asarray(amplitude ** (1.0 - alpha) * np.maximum(amplitude + mean, 0.0) ** alpha)


def _on_the_line(sites: Sites, stress: Any, own_MPa: Array) -> Array:
    """Of a stress on a line from the shared strength at 1 000 cycles to `own_MPa`: that of equal life on the
    place's.
    """
    if np.array_equal(own_MPa, sites.at_1e6_MPa):
        return np.asarray(stress, float)
    start = np.log(sites.at_1e3_MPa)
    own = np.log(np.minimum(own_MPa, 0.999 * sites.at_1e3_MPa))
    to = np.log(sites.at_1e6_MPa)
    with np.errstate(over="ignore"):
        log = np.log(np.maximum(stress, _TINY))
        # Both lines meet at 1 000 cycles, fall to a million in proportion, and beyond alike.
        drop = np.clip(start - log, 0.0, start - own)
        return np.asarray(np.exp(log + drop * (1.0 - (start - to) / (start - own))))
