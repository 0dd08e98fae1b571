"""Where a crack may start at a place, and the reversed amplitude that does the same harm as a cycle with a mean.

Three sites, of which the worst decides:

- the flaw in the skin, by its own mean-stress term, residual stress taken at its depth (`flaws`);
- the sound steel of the skin, by the mean-stress rule asked for; residual compression beyond the load's mean earns by
  Goodman's line carried on, amplitude / (1 + surplus / tensile strength);
- under a peened skin, where its compression ends: sound steel without help, in the stress that is left at that depth,
  and in the tension that cold bending left there; its mean by the rule asked for or by a flaw's term, whichever is
  milder (inclusions follow the latter; Murakami 2002, ch. 6). It is never harmed more than an unpeened skin would be.

All three are brought to one scale, the line of the place: reversed, without residual stress, by equal life. So lives
have no step where one site takes over from another.
"""

from __future__ import annotations

from dataclasses import fields
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.frozen import frozen
from barfem.strength.fatigue.flaws import normal_share
from barfem.strength.fatigue.mean_stress import MeanStress
from barfem.strength.fatigue.residual import surviving_compression, surviving_tension
from barfem.strength.fatigue.root import rising_root
from barfem.strength.fatigue.spread import compact, spread

__all__ = ["ROUNDING", "Sites", "deciding_exponent", "felt", "harm", "log_harm", "reversed_limit"]

Array = NDArray[np.float64]

ROUNDING = 1e-12  # a share: harms come out of logarithms


@frozen
class _LogLine:
    """From the strength that all sites share at 1 000 cycles to a site's own at a million, in natural logarithms.

    Both it and the place's line fall to a million in proportion, and beyond alike: `gain` is what a site's line lacks
    of the place's, as a share of the drop from the start, which is `span` at a million.
    """

    start: Array
    span: Array
    gain: Array

    def on_the_place(self, log_stress: Array) -> Array:
        """Of a stress on this line: that of equal life on the place's."""
        drop = np.minimum(np.maximum(self.start - log_stress, 0.0), self.span)
        return np.asarray(log_stress + drop * self.gain)


@frozen
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
    torsion_share
        Share of torsion in the squared von Mises stress.
    flaw_residual_share
        Share of the skin's residual compression that is there at the flaw's depth.
    below_share
        Stress where the compression ends over that of the skin.
    below_tension_MPa
        Tension that bending left there, as far as the load leaves room for it up to yield.
    residual_counts
        False where the line's own tests hold the residual compression already.
    """

    at_1e3_MPa: Array
    at_1e6_MPa: Array
    flaw_MPa: Array
    sound_MPa: Array
    alpha: Array
    torsion_share: Array
    flaw_residual_share: Array
    below_share: Array
    below_tension_MPa: Array
    residual_counts: NDArray[np.bool_]

    @cached_property
    def compact(self) -> Sites:
        """The same with axes along which nothing changes cut to one: logarithms are taken of what differs alone."""
        return Sites(**{field.name: compact(getattr(self, field.name)) for field in fields(self)})

    @cached_property
    def flawed(self) -> bool:
        """Whether there is a flaw anywhere."""
        return bool(np.any(np.isfinite(self.flaw_MPa)))

    @cached_property
    def normal_share(self) -> Array:
        """Greatest principal over von Mises stress."""
        return normal_share(self.torsion_share)

    @cached_property
    def of_sound(self) -> _LogLine | None:
        """The line of sound steel; None where it is the place's everywhere."""
        return self._line_to(self.sound_MPa)

    @cached_property
    def of_flaw(self) -> _LogLine | None:
        """The line of the flaw; None where it is the place's everywhere."""
        return self._line_to(self.flaw_MPa)

    def _line_to(self, own_MPa: Array) -> _LogLine | None:
        if np.array_equal(own_MPa, self.at_1e6_MPa):
            return None
        start = np.log(self.at_1e3_MPa)
        span = start - np.log(np.minimum(own_MPa, 0.999 * self.at_1e3_MPa))
        return _LogLine(start, span, 1.0 - (start - np.log(self.at_1e6_MPa)) / span)

    def at(self, places: Any) -> Sites:
        """The sites of some of the places."""
        return Sites(**{field.name: np.asarray(getattr(self, field.name)[places]) for field in fields(self)})


def harm(sites: Sites, rule: MeanStress, **stresses: Any) -> Array:
    """Reversed amplitude [MPa] on the line of the place that does the same harm; infinite where the mean leaves none.

    Stresses as `log_harm`.
    """
    return np.asarray(np.exp(log_harm(sites, rule, **stresses)))


def felt(sites: Sites, rule: MeanStress, **stresses: Any) -> tuple[Array, Array | None]:
    """Reversed amplitudes [MPa] that do the same harm to sound steel and to the flaw (None: there is none), each on its
    own line. `harm` is the worse of both on the line of the place. Stresses as `log_harm`.
    """
    sound, flaw = _log_felt(sites.compact, rule, **stresses)
    return np.exp(sound), None if flaw is None else np.exp(flaw)


def deciding_exponent(sites: Sites, rule: MeanStress, *, cycles: float, **stresses: Any) -> Array:
    """Exponent k of the line of the site that decides where bars are just so weak that they last `cycles`.

    Under peening a flaw may sleep, and the flatter line of sound steel decides: k of 13 where the flaw's is 6. Between
    1 000 and a million cycles, where lines slope. Stresses as `log_harm`.
    """
    sound, flaw = felt(sites, rule, **stresses)
    start, log_n = sites.at_1e3_MPa, min(max(np.log10(cycles), 3.0), 6.0)

    def line(own_MPa: Array) -> tuple[Array, Array]:
        drop = np.log10(start / np.minimum(own_MPa, 0.999 * start))
        return 3.0 / drop, start * 10.0 ** (-drop * (log_n - 3.0) / 3.0)

    k_sound, lasts = line(sites.sound_MPa)
    if flaw is None:
        return np.broadcast_to(k_sound, np.broadcast_shapes(k_sound.shape, sound.shape))
    k_flaw, flaw_lasts = line(sites.flaw_MPa)
    return np.where(flaw / flaw_lasts >= sound / lasts, k_flaw, k_sound)


def log_harm(sites: Sites, rule: MeanStress, **stresses: Any) -> Array:
    """Natural logarithm of `harm` [MPa]: minus infinity where nothing is felt, infinity where the mean leaves none.

    `mean_MPa` is the load's, von Mises with the torsion share of the amplitude (from a check positive); `residual_MPa`
    what is left at the skin, tension positive. Arguments broadcast with the sites. `strength_share`: of bars with that
    share of the median strength, each site's line lowered by it.
    """
    shape, sites = sites.at_1e6_MPa.shape, sites.compact
    sound, flaw = _log_felt(sites, rule, **stresses)
    worst = sound if sites.of_sound is None else sites.of_sound.on_the_place(sound)
    if flaw is not None:
        worst = np.maximum(worst, flaw if sites.of_flaw is None else sites.of_flaw.on_the_place(flaw))
    return spread(worst, np.broadcast_shapes(worst.shape, shape))


def _log_felt(
    sites: Sites,
    rule: MeanStress,
    *,
    amplitude_MPa: ArrayLike,
    mean_MPa: ArrayLike,
    residual_MPa: ArrayLike,
    tensile_MPa: ArrayLike,
    yield_MPa: ArrayLike,
    strength_share: ArrayLike = 1.0,
) -> tuple[Array, Array | None]:
    """Logarithms of what sound steel and the flaw feel, `sites` compact; stresses as `log_harm`."""
    amplitude, mean = np.asarray(amplitude_MPa, float), compact(np.asarray(mean_MPa, float))
    residual = compact(np.asarray(residual_MPa, float))
    residual = np.where(sites.residual_counts, residual, np.maximum(residual, 0.0))
    tensile = compact(np.asarray(tensile_MPa, float))
    strengths = {"tensile_MPa": tensile, "yield_MPa": yield_MPa, "torsion_share": sites.torsion_share}
    stressed, felt_mean = bool(residual.any()), bool(mean.any())
    pressed = stressed and bool((residual < 0.0).any())
    pulled = bool(sites.below_tension_MPa.any())
    below_tension = np.zeros(())
    if pulled:
        below_tension = surviving_tension(
            residual_MPa=sites.below_tension_MPa, max_von_mises_MPa=amplitude + np.abs(mean), yield_MPa=yield_MPa
        )

    def opened(there_MPa: Array) -> Array:
        """Logarithm of what residual stress at a flaw makes of the load's own harm to it."""
        across = sites.normal_share * (amplitude + mean)
        share = np.maximum(across + there_MPa, 0.0) / np.where(across > 0.0, across, 1.0)
        return np.asarray(sites.alpha * np.log(share))

    def by_rule(mean_MPa: Array) -> Array:
        if not mean_MPa.any():
            return amplitude
        return rule.equivalent(amplitude_MPa=amplitude, mean_MPa=mean_MPa, **strengths)

    with np.errstate(divide="ignore"):  # the logarithm of nothing
        log_amplitude = np.log(amplitude)
        if rule.criterion.signed:
            sound = by_rule(mean + residual if stressed else mean)
        else:
            together = np.maximum(mean, 0.0) + residual if stressed else np.maximum(mean, 0.0)
            sound = by_rule(np.maximum(together, 0.0) if pressed else together)
            if pressed:
                sound = sound / (1.0 + np.maximum(-together, 0.0) / tensile)
        log_sound = np.log(sound)
        log_of_load = log_amplitude
        if felt_mean and (pressed or pulled or sites.flawed):
            # amplitude ((1 - R) / 2)^-alpha, which is amplitude^(1 - alpha) maximum^alpha
            greatest = np.log(np.maximum(amplitude + mean, 0.0))
            log_of_load = (1.0 - sites.alpha) * log_amplitude + sites.alpha * greatest
        if pressed or pulled:
            by_flaw = log_of_load + opened(below_tension) if pulled else log_of_load
            below = np.log(sites.below_share) + np.minimum(np.log(by_rule(mean + below_tension)), by_flaw)
            counts = (residual < 0.0) | (below_tension > 0.0)
            log_sound = np.where(counts, np.maximum(log_sound, below), log_sound)
        less = np.log(strength_share)
        log_flaw = None
        if sites.flawed:
            log_flaw = log_of_load if rule.criterion.leaves_flaws else np.log(by_rule(mean))
            if stressed or pulled:
                there = np.where(residual < 0.0, residual * sites.flaw_residual_share, residual)
                log_flaw = log_flaw + opened(there + (1.0 - sites.flaw_residual_share) * below_tension)
            log_flaw = log_flaw - less
    return log_sound - less, log_flaw


def reversed_limit(
    sites: Sites,
    *,
    residual_MPa: ArrayLike,
    tensile_MPa: ArrayLike,
    yield_MPa: ArrayLike,
    cyclic_yield_MPa: ArrayLike,
    within: float = 1e-13,
) -> Array:
    """Reversed amplitude [MPa] that lasts a million cycles with residual compression, as far as it leaves it there.

    Without compression the line's own. `within` is what it may be off, as a share.
    """
    residual = np.minimum(np.asarray(residual_MPa, float), 0.0)
    if not np.any(residual < 0.0):
        return sites.at_1e6_MPa

    def log_harm_of(log_share: Array) -> Array:
        amplitude = sites.at_1e6_MPa * np.exp(log_share)
        left = surviving_compression(
            residual_MPa=residual,
            max_von_mises_MPa=amplitude,
            torsion_share=sites.torsion_share,
            yield_MPa=cyclic_yield_MPa,
        )
        return log_harm(
            sites,
            MeanStress(),
            amplitude_MPa=amplitude,
            mean_MPa=0.0,
            residual_MPa=left,
            tensile_MPa=tensile_MPa,
            yield_MPa=yield_MPa,
        )

    strength = np.broadcast_to(sites.at_1e6_MPa, np.broadcast_shapes(np.shape(sites.at_1e6_MPa), residual.shape))
    return np.asarray(sites.at_1e6_MPa * np.exp(rising_root(log_harm_of, strength, within=within)))
