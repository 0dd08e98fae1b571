"""Critical planes at a surface over several states of stress: Findley's, and that of the largest principal stress.

States (rest, both ends of roll, one wheel up) are taken together as one cycle. Stress is plane: (along, round, shear).
A plane is given by `angle_deg`, from the bar's axis towards its circumference to the plane's normal as seen from
outside, and `tilt_deg` between the plane's normal and the surface's: 90 deg stands upright on the surface.

Findley (J. Eng. Ind. 81 (1959) 301): the plane of the largest shear amplitude + k x largest normal stress. The shear
amplitude on a plane is half the longest distance between two states' shear vectors. k is 0.2 to 0.3 for ductile steel
(Socie and Marquis, Multiaxial Fatigue, SAE 2000; from memory, fairly sure); 0.25 by default.

Closed form over the tilt: with u the squared sine of the tilt, normal stress is u sigma(angle) and the shear
difference (u (dtau^2 + (1 - u) dsigma^2))^0.5; the sum is concave in u and its peak is known. The angle is searched in
steps and refined.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.errors import BarfemError, InputError
from barfem.model.frozen import frozen

__all__ = [
    "FINDLEY_K",
    "CriticalPlane",
    "findley_bound",
    "findley_equivalent_amplitude",
    "findley_plane",
    "principal_plane",
]

Array = NDArray[np.float64]

FINDLEY_K = 0.25

_COARSE = 90  # steps of 2 deg: of two nearly equal planes the lesser may be taken, by at most 1 - cos 2 deg = 0.06 %
_REFINEMENTS = (1.0, 0.2, 0.04)  # half-steps in degrees around the best; the sum is flat at its peak
_PLACES_AT_ONCE = 128


@frozen
class CriticalPlane:
    """The governing plane at each place; arrays (places,), MPa and degrees.

    `parameter_MPa` is what the criterion maximises. `amplitude_MPa` is that of the shear (Findley) or of the normal
    stress (principal) on the plane, `max_normal_MPa` and `mean_normal_MPa` the normal stress there over the states.
    """

    parameter_MPa: Array
    amplitude_MPa: Array
    max_normal_MPa: Array
    mean_normal_MPa: Array
    angle_deg: Array
    tilt_deg: Array


def findley_plane(stress_MPa: ArrayLike, *, k: float = FINDLEY_K) -> CriticalPlane:
    """Findley's plane over states (states, places, 3).

    Raises
    ------
    InputError
        `k` is negative or not finite.
    BarfemError
        Fewer than two states, or a stress that is not finite.
    """
    states = _states(stress_MPa)
    if not np.isfinite(k) or k < 0.0:
        raise InputError(f"Findley's k {k} is not possible.", expected="0 or more; 0.2 to 0.3 for ductile steel.")
    one, other = np.triu_indices(len(states), 1)
    out = np.empty((6, states.shape[1]))
    for start in range(0, states.shape[1], _PLACES_AT_ONCE):
        part = slice(start, start + _PLACES_AT_ONCE)
        out[:, part] = _findley(states[:, part], one, other, k)
    return CriticalPlane(*out)


def findley_bound(stress_MPa: ArrayLike, *, k: float = FINDLEY_K) -> Array:
    """(places,) what Findley's parameter cannot exceed over states (states, places, 3): for leaving places out.

    Half the largest shear of any difference of two states, plus k times the largest principal stress of any state.

    Raises
    ------
    BarfemError
        Fewer than two states, or a stress that is not finite.
    """
    states = _states(stress_MPa)
    one, other = np.triu_indices(len(states), 1)
    first, second = _principal(states[one] - states[other])
    shear = 0.5 * np.maximum(np.abs(first - second), np.maximum(np.abs(first), np.abs(second))).max(axis=0)
    bound: Array = 0.5 * shear + k * np.maximum(_principal(states)[0].max(axis=0), 0.0)
    return bound


def _principal(stress: Array) -> tuple[Array, Array]:
    """The larger and the smaller principal stress in the surface."""
    centre = 0.5 * (stress[..., 0] + stress[..., 1])
    radius = np.hypot(0.5 * (stress[..., 0] - stress[..., 1]), stress[..., 2])
    return centre + radius, centre - radius


def _findley(states: Array, one: NDArray[np.intp], other: NDArray[np.intp], k: float) -> Array:
    """(6, places): the fields of `CriticalPlane`."""
    places = np.arange(states.shape[1])
    angle = np.broadcast_to(np.arange(_COARSE)[:, None] * (np.pi / _COARSE), (_COARSE, places.size))
    best = angle[np.argmax(_over_tilt(states, angle, one, other, k)[0], axis=0), places]
    for step in np.deg2rad(_REFINEMENTS):
        angle = best + step * np.arange(-5, 6)[:, None]
        best = angle[np.argmax(_over_tilt(states, angle, one, other, k)[0], axis=0), places]
    parameter, u = (value[0] for value in _over_tilt(states, best[None, :], one, other, k))
    normal = _normal(states, best[None, :])[:, 0] * u
    high, low = normal.max(axis=0), normal.min(axis=0)
    tilt = np.rad2deg(np.arcsin(np.sqrt(u)))
    return np.stack([parameter, parameter - k * high, high, 0.5 * (high + low), np.mod(np.rad2deg(best), 180.0), tilt])


def _normal(states: Array, angle: Array) -> Array:
    """Normal stress (states, angles, places) on upright planes at `angle` (angles, places)."""
    c, s = np.cos(2.0 * angle), np.sin(2.0 * angle)
    along, around, shear = (states[:, None, :, i] for i in range(3))
    return 0.5 * (along + around) + 0.5 * (along - around) * c + shear * s


def _shear(states: Array, angle: Array) -> Array:
    """Shear stress in the surface (states, angles, places) on upright planes."""
    c, s = np.cos(2.0 * angle), np.sin(2.0 * angle)
    along, around, shear = (states[:, None, :, i] for i in range(3))
    return shear * c - 0.5 * (along - around) * s


def _over_tilt(
    states: Array, angle: Array, one: NDArray[np.intp], other: NDArray[np.intp], k: float
) -> tuple[Array, Array]:
    """Largest shear amplitude + k normal over the tilt, and the squared sine of that tilt; both (angles, places).

    For each pair of states f(u) = (u (e - b u))^0.5 / 2 + k c u on 0 < u <= 1, b = dsigma^2, e = dtau^2 + b, c the
    largest normal stress of all states. With w = 2 b u / e - 1 it is p (1 - w^2)^0.5 + q (1 + w), p = e / (4 b^0.5),
    q = k c e / (2 b), greatest at w = q / (p^2 + q^2)^0.5.
    """
    normal, shear = _normal(states, angle), _shear(states, angle)
    most = k * normal.max(axis=0)
    b = (normal[one] - normal[other]) ** 2
    e = (shear[one] - shear[other]) ** 2 + b
    # q / p = 2 k c / b^0.5. Of the two forms of u the one without cancellation; upright where nothing varies.
    length = np.sqrt(b + 4.0 * most**2)
    pressed = 2.0 * length * (length - 2.0 * most)
    pulled = 2.0 * b * length
    under, over = np.where(most < 0.0, pressed, pulled), np.where(most < 0.0, e, e * (length + 2.0 * most))
    u = np.divide(over, under, out=np.ones_like(b), where=under > 1e-12 * over)
    u = np.clip(u, 0.0, 1.0)
    value = 0.5 * np.sqrt(np.maximum(u * (e - b * u), 0.0)) + most * u
    pick = np.argmax(value, axis=0)[None]
    return np.take_along_axis(value, pick, 0)[0], np.take_along_axis(u, pick, 0)[0]


def findley_equivalent_amplitude(parameter_MPa: ArrayLike, *, k: float = FINDLEY_K) -> Array:
    """Reversed uniaxial amplitude [MPa] with the same Findley parameter: 2 f / (k + (1 + k^2)^0.5).

    From f = (k smax + (sa^2 + k^2 smax^2)^0.5) / 2 with smax = sa (Socie and Marquis); it is what a stress-life line
    of reversed bending is entered with.
    """
    return 2.0 * np.asarray(parameter_MPa, float) / (k + np.sqrt(1.0 + k * k))


def principal_plane(stress_MPa: ArrayLike) -> CriticalPlane:
    """The upright plane of the largest normal-stress amplitude over states (states, places, 3), in closed form.

    Of all pairs of states, half their difference with the largest principal stress in size; that size is
    `parameter_MPa` and `amplitude_MPa`.

    Raises
    ------
    BarfemError
        Fewer than two states, or a stress that is not finite.
    """
    states = _states(stress_MPa)
    one, other = np.triu_indices(len(states), 1)
    half = 0.5 * (states[one] - states[other])
    centre, radius = 0.5 * (half[..., 0] + half[..., 1]), np.hypot(0.5 * (half[..., 0] - half[..., 1]), half[..., 2])
    size = np.abs(centre) + radius
    pick = np.argmax(size, axis=0)
    places = np.arange(states.shape[1])
    worst = half[pick, places]
    # The principal direction of the larger stress in size: that of the lesser stress where the centre is negative.
    angle = 0.5 * np.arctan2(2.0 * worst[:, 2], worst[:, 0] - worst[:, 1])
    angle = np.where(worst[:, 0] + worst[:, 1] < 0.0, angle + 0.5 * np.pi, angle)
    normal = _normal(states, angle[None, :])[:, 0]
    high, low = normal.max(axis=0), normal.min(axis=0)
    amplitude = size[pick, places]
    return CriticalPlane(
        parameter_MPa=amplitude,
        amplitude_MPa=amplitude,
        max_normal_MPa=high,
        mean_normal_MPa=0.5 * (high + low),
        angle_deg=np.mod(np.rad2deg(angle), 180.0),
        tilt_deg=np.full(places.size, 90.0),
    )


def _states(stress: ArrayLike) -> Array:
    states = np.asarray(stress, float)
    if states.ndim != 3 or states.shape[0] < 2 or states.shape[2] != 3:
        raise BarfemError(f"critical plane: stress of shape {states.shape}, not (2 or more states, places, 3)")
    if not np.all(np.isfinite(states)):
        raise BarfemError(f"critical plane: {np.sum(~np.isfinite(states))} stresses are not finite numbers")
    return states
