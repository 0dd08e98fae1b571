"""The cycle at points of the bar, and how points are ranked by it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from barfem.model.frozen import frozen
from barfem.strength.places import Region

__all__ = ["Cycle", "Severities", "Severity", "square_MPa2", "torsion_share", "von_mises_MPa"]

Array = NDArray[np.float64]


def square_MPa2(ss: Array, hoop: Array | None, shear: Array) -> Array:
    """Square of the von Mises stress at a free surface: ss^2 - ss hoop + hoop^2 + 3 shear^2; `hoop` None where zero."""
    out = shear * shear
    out *= 3.0
    out += ss * ss
    if hoop is not None:
        out += hoop * (hoop - ss)
    return out


def von_mises_MPa(ss: Array, hoop: Array | None, shear: Array) -> Array:
    """Von Mises stress at a free surface from sigma_ss, sigma_thetatheta (None where zero) and tau_stheta."""
    return np.asarray(np.sqrt(np.maximum(square_MPa2(ss, hoop, shear), 0.0)))


def torsion_share(ss: Array, hoop: Array | None, shear: Array, square: Array) -> Array:
    """Share of torsion, -3 to 1, in the square of the von Mises stress `square`, of the bending with torsion that has
    the principal stresses of this state: -3 sigma_1 sigma_2 over it.

    0 is tension along one line, 1 torsion, below 0 tension (or compression) both ways, as beside the sides of a tube's
    bend that ovalises, where von Mises is less than the stress across a crack.
    """
    product = shear * shear if hoop is None else shear * shear - ss * hoop
    return np.asarray(3.0 * product / np.where(square > 0.0, square, 1.0))


@frozen(kw_only=True)
class Cycle:
    """The cycle at points of a bar; arrays (q,).

    Attributes
    ----------
    regions
        Of the whole bar.
    region
        Index into `regions`.
    in_bore
        Whether the point lies in the bore.
    strength_scale
        Local factor on the steel's strength.
    from_inside_rad
        In a bend, angle round the section from the inside of the bend, -pi to pi; pi elsewhere.
    radius_mm
        Distance of the point from the centreline.
    amplitude_MPa
        Von Mises stress of half the difference of the tensors at the two ends of the cycle.
    mean_MPa
        Von Mises stress of their average, positive.
    torsion_share
        Of the amplitude, by the function of this name: -3 to 1.
    max_MPa
        Greatest von Mises stress over all states; at an edge of a hole or contact, that of its section.
    """

    regions: tuple[Region, ...]
    region: NDArray[np.intp]
    in_bore: NDArray[np.bool_]
    strength_scale: Array
    from_inside_rad: Array
    radius_mm: Array
    amplitude_MPa: Array
    mean_MPa: Array
    torsion_share: Array
    max_MPa: Array

    def at(self, places: Any) -> Cycle:
        """The cycle at some of the points."""
        arrays = {name: values[places] for name, values in vars(self).items() if name != "regions"}
        return Cycle(regions=self.regions, **arrays)

    def of_regions(self, places: Any, regions: slice) -> Cycle:
        """The cycle at some of the points, all of them in some of the regions, which alone it knows."""
        return replace(self.at(places), regions=self.regions[regions], region=self.region[places] - regions.start)

    @staticmethod
    def joined(cycles: Sequence[Cycle]) -> Cycle:
        """The cycles of one bar's points, one after the other."""
        if len(cycles) == 1:
            return cycles[0]
        names = [name for name in vars(cycles[0]) if name != "regions"]
        arrays = {name: np.concatenate([getattr(cycle, name) for cycle in cycles]) for name in names}
        return Cycle(regions=cycles[0].regions, **arrays)


@frozen
class Severities:
    """How bad cycles at points (q,) are.

    Attributes
    ----------
    rank
        Gives ranks (q,): finite, zero or more, and the greater the shorter the life; zero without load.
    endless
        Ranks below this are of points of which no life ends: `endless` / (1 + strength at the target over what is felt
        of the load), only a first guess of their order, as what is felt may rise out of proportion with the load.
    use
        From the logarithm of n (q,), to that of what is felt of n times the load over the strength at the target: it
        rises, and is zero at the load that the point bears.
    goodman
        Gives one over Goodman's safety factor against the endurance limit (q,): the greater the worse.
    at
        The same of some of the points, by their numbers; given where `use` is.
    """

    rank: Callable[[], Array]
    endless: float = 0.0
    use: Callable[[Array], Array] | None = None
    goodman: Callable[[], Array] | None = None
    at: Callable[[NDArray[np.intp]], Severities] | None = None


Severity = Callable[[Cycle], Severities]
