"""Where a harm that rises with the load reaches a strength, at many places at once."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

__all__ = ["Places", "rising_root"]

Array = NDArray[np.float64]
Places = tuple[NDArray[np.intp], ...]

MOST_STEPS = 80
_TINY = 1e-12
_FEW, _MANY = 256, 5_000
_LEAST, _MOST = float(np.log(_TINY)), float(np.log(1e300))
_BRACKET = 14.0  # of the logarithm of a load factor
_LOOKS = np.array([-_BRACKET, -7, -4, -2, -1.2, -0.8, -0.5, -0.3, -0.15, -0.06, -0.02, 0.0])
_LOOKS = np.concatenate([_LOOKS, -_LOOKS[-2::-1]])
_PARTS = np.linspace(0.0, 1.0, 14)


def rising_root(
    log_harm_of: Callable[[Array], Array],
    strength: Array,
    *,
    within: float = 1e-13,
    some: Callable[[Places], Callable[[Array], Array]] | None = None,
    start: Array | None = None,
) -> Array:
    """Logarithm of the load factor at which the harm, which rises with it, is `strength` [MPa], at every place.

    `log_harm_of` takes such logarithms to those of harms [MPa]. Where the harm never is `strength`, the bracket's end.

    Secant steps in logarithms, kept within a bracket that every step narrows; the first is that of harm in proportion
    to the load. Of few places many loads are tried at once before, twice, which takes the time of a step or two and
    spares several: `log_harm_of` is asked with the tries along an axis in front. `within` is what the logarithm may be
    off. `some` gives `log_harm_of` at some of many places: those that most others have to wait for go on alone.
    """
    log_strength = np.log(np.maximum(strength, _TINY))

    def over(x: Array) -> Array:
        with np.errstate(over="ignore", invalid="ignore"):
            log_harm = log_harm_of(x)
        return np.minimum(np.maximum(np.where(np.isnan(log_harm), _MOST, log_harm), _LEAST), _MOST) - log_strength

    start = np.zeros(np.shape(strength)) if start is None else start
    here, slope = start.copy(), np.ones(start.shape)
    low, high = here - _BRACKET, here + _BRACKET
    if 0 < here.size <= _FEW:
        along = (-1, *[1] * start.ndim)
        low, high, _, _ = _between(over, start + _LOOKS.reshape(along))
        low, high, here, slope = _between(over, low + _PARTS.reshape(along) * (high - low))
    value, behind, chord = over(here), here, slope
    for step in range(MOST_STEPS):
        low, high = np.where(value <= 0.0, here, low), np.where(value > 0.0, here, high)
        # Ends of the bracket that nobody has looked at yet: mostly, where a step leads there, there is no root.
        new_low, new_high = (low == start - _BRACKET) & (here != low), (high == start + _BRACKET) & (here != high)
        waiting = (np.abs(value) >= within) & (high - low >= 10.0 * within)
        left = np.count_nonzero(waiting)
        if not left:
            break
        if some is not None and step and waiting.size > _MANY and left < waiting.size // 2:
            places = np.nonzero(waiting)
            here[places] = rising_root(some(places), strength[places], within=within, some=None, start=here[places])
            break
        there = here - value / slope
        there = np.clip(there, np.where(new_low, low, -np.inf), np.where(new_high, high, np.inf))
        inside = ((there > low) | new_low) & ((there < high) | new_high)
        # A place that is done stays, whatever the others wait for.
        there = np.where(waiting, np.where(inside, there, 0.5 * (low + high)), here)
        next_value = over(there)
        step_there = np.where(there != here, there - here, 1.0)
        new_chord = (next_value - value) / step_there
        # The slope there, of a parabola through the last three; where that bends too much, as at a kink, the chord's.
        with np.errstate(divide="ignore", invalid="ignore"):
            slope = new_chord + step_there * (new_chord - chord) / (there - behind)
        slope = _slope(np.where((slope > 0.8 * new_chord) & (slope < 1.25 * new_chord), slope, new_chord))
        here, value, behind, chord = there, next_value, here, new_chord
    return here


def _between(over: Callable[[Array], Array], tries: Array) -> tuple[Array, Array, Array, Array]:
    """The first two of many tries (t, ...) between which `over` rises through zero, where a parabola through them and
    the one beside does, and its slope; the last two, or the first, where it never is or always was.
    """
    values = over(tries)
    above = values > 0.0
    after = np.maximum(np.where(above.any(axis=0), above.argmax(axis=0), len(tries) - 1), 1)
    places: tuple[NDArray[np.intp], ...] = tuple(np.indices(after.shape, sparse=True))
    beside = np.where(after < len(tries) - 1, after + 1, after - 2)
    (low, below), (high, beyond), (third, there) = (
        (tries[(at, *places)], values[(at, *places)]) for at in (after - 1, after, beside)
    )
    straight = _slope((beyond - below) / (high - low))
    with np.errstate(divide="ignore", invalid="ignore"):
        # x as a parabola of the value, in Newton's form.
        per = (high - low) / (beyond - below)
        bend = ((third - high) / (there - beyond) - per) / (there - below)
        found, slope = low - below * (per - beyond * bend), 1.0 / (per - (below + beyond) * bend)
    fits = (found > low) & (found < high) & (slope > 0.1) & (slope < 30.0)
    found = np.where(fits, found, np.minimum(np.maximum(low - below / straight, low), high))
    return low, high, found, np.where(fits, slope, straight)


def _slope(found: Array) -> Array:
    """A slope that a harm may have; of another, as between places that are one, that of harm in proportion."""
    return np.where((found > 0.1) & (found < 30.0), found, 1.0)
