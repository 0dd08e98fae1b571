"""Stress at places as a function of both pickups' travel, interpolated between solved states.

The response of a bar at articulation is not linear (arms swing, links lean) but smooth, so a polynomial through few
solved states holds it closely: Lagrange's through Chebyshev's points of each travel, in the barycentric form (Berrut
and Trefethen, SIAM Review 46 (2004) 501, Eq. 4.2). The components are interpolated, never a von Mises stress, which
has a kink where the stress changes its sign. The wall of a hole whose bolt presses one side or the other has one in its
components as well, where the bolt's force is nothing: there the error is some per cent of the wall's own range, and
`TravelResponse.error_MPa` shows it.

`travel_nodes` says which travels to solve; every pair (left, right) of them is one state. Outside of them nothing is
claimed: extrapolation is refused.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import ArrayLike, NDArray

from barfem.model.errors import BarfemError, InputError
from barfem.model.frozen import frozen
from barfem.strength.duty.von_mises import plane_von_mises

__all__ = ["NODES_PER_SIDE", "TravelResponse", "travel_nodes"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]
Weights = tuple[Array, Array]

# Five points a side, quartic: 25 states a hole setting. The estimate `error_MPa` says whether that was enough.
NODES_PER_SIDE = 5

_POINTS_AT_ONCE = 1 << 13
_ROUND_OFF = 1e-9


def travel_nodes(travel_mm: ArrayLike, *, count: int = NODES_PER_SIDE) -> Array:
    """The travels of one side to solve for a history or range `travel_mm`: Chebyshev's points, ends included.

    A side that does not move needs one.
    """
    travel = np.asarray(travel_mm, float)
    low, high = float(travel.min()), float(travel.max())
    if low == high:
        return np.array([low])
    unit = -np.cos(np.pi * np.arange(count) / (count - 1))
    nodes = 0.5 * (low + high) + 0.5 * (high - low) * unit
    nodes[0], nodes[-1] = low, high
    return nodes


@frozen
class TravelResponse:
    """Stress at all places as a polynomial in left and right travel.

    Attributes
    ----------
    left_mm (nl,), right_mm (nr,)
        The travels that were solved, ascending, any spacing (`travel_nodes` gives the best).
    stress_MPa (nl, nr, places, 3)
        Along, round, shear at each place, as solved at (left, right).

    Raises
    ------
    BarfemError
        Shapes that do not fit, travels not ascending, or a stress that is not finite.
    """

    left_mm: Array
    right_mm: Array
    stress_MPa: Array

    def __post_init__(self) -> None:
        for name in ("left_mm", "right_mm"):
            nodes = np.atleast_1d(np.asarray(getattr(self, name), float))
            if nodes.ndim != 1 or not np.all(np.diff(nodes) > 0.0) or not np.all(np.isfinite(nodes)):
                raise BarfemError(f"interpolation: {name} is not one ascending row of travels")
            object.__setattr__(self, name, nodes)
        stress = np.asarray(self.stress_MPa, float)
        if stress.ndim != 4 or stress.shape[:2] != (self.left_mm.size, self.right_mm.size) or stress.shape[3] != 3:
            raise BarfemError(
                f"interpolation: stress of shape {stress.shape}, not ({self.left_mm.size}, {self.right_mm.size}, "
                "places, 3)"
            )
        if not np.all(np.isfinite(stress)):
            raise BarfemError(f"interpolation: {np.sum(~np.isfinite(stress))} solved stresses are not finite numbers")
        object.__setattr__(self, "stress_MPa", stress)

    @property
    def places(self) -> int:
        return int(self.stress_MPa.shape[2])

    def at(self, places: Index) -> TravelResponse:
        """The same for some of the places."""
        return TravelResponse(self.left_mm, self.right_mm, self.stress_MPa[:, :, places])

    def stress(self, left_mm: ArrayLike, right_mm: ArrayLike, *, source: str = "travel") -> Array:
        """Stress [MPa] (points, places, 3) at travels (points,).

        Raises
        ------
        InputError
            A travel outside of what was solved.
        """
        left, right = np.atleast_1d(np.asarray(left_mm, float)), np.atleast_1d(np.asarray(right_mm, float))
        self.refuse_extrapolation(left, right, source=source)
        out = np.empty((left.size, self.places, 3))
        for part, values in self.pieces(left, right):
            out[part] = values
        return out

    def weights(self, left_mm: Array, right_mm: Array) -> Weights:
        """What `pieces` needs of travels (points,), the same for every place: for those asked again and again."""
        return _weights(self.left_mm, left_mm), _weights(self.right_mm, right_mm)

    def pieces(
        self, left_mm: Array, right_mm: Array, *, weights: Weights | None = None
    ) -> Iterator[tuple[slice, Array]]:
        """The same some thousand points at a time, (slice, stress): for histories. Extrapolation is not looked for."""
        table = self.stress_MPa.reshape(self.left_mm.size * self.right_mm.size, -1)
        for start in range(0, left_mm.size, _POINTS_AT_ONCE):
            part = slice(start, min(start + _POINTS_AT_ONCE, left_mm.size))
            if weights is None:
                a, b = self.weights(left_mm[part], right_mm[part])
            else:
                a, b = weights[0][part], weights[1][part]
            both = (a[:, :, None] * b[:, None, :]).reshape(len(a), -1)
            yield part, (both @ table).reshape(len(a), self.places, 3)

    def refuse_extrapolation(self, left_mm: Array, right_mm: Array, *, source: str = "travel") -> None:
        """Raise InputError where a travel lies outside of what was solved."""
        for side, nodes, travel in (("left", self.left_mm, left_mm), ("right", self.right_mm, right_mm)):
            slack = _ROUND_OFF * max(float(np.abs(nodes).max()), 1.0)
            outside = np.flatnonzero((travel < nodes[0] - slack) | (travel > nodes[-1] + slack))
            if outside.size:
                i = int(outside[0])
                worst = float(travel[outside][np.argmax(np.abs(travel[outside]))])
                raise InputError(
                    f"{side} travel of {travel[i]:.6g} mm lies outside of what was solved "
                    f"({nodes[0]:.6g} to {nodes[-1]:.6g} mm); {outside.size} samples do, the furthest at "
                    f"{worst:.6g} mm. Stress is not extrapolated.",
                    where=f"{source}, sample {i + 1}",
                    expected="travels within the solved range, or a wider range to solve.",
                )

    def error_MPa(self) -> Array:
        """Estimated error of interpolation at each place (places,), a von Mises stress.

        The last term of the Chebyshev series in each direction, added up: what the next lower degree would have
        missed, and for a smooth response more than this degree misses. Zero for a side with one node is not an
        estimate but a side that does not move. With two nodes a side the estimate says how large the slope is, not
        the error: solve three or more.
        """
        error = np.zeros(self.places)
        for axis, nodes in ((0, self.left_mm), (1, self.right_mm)):
            if nodes.size < 2:
                continue
            unit = (2.0 * nodes - nodes[0] - nodes[-1]) / (nodes[-1] - nodes[0])
            inverse = np.linalg.inv(np.polynomial.chebyshev.chebvander(unit, nodes.size - 1))
            last = np.tensordot(inverse[-1], self.stress_MPa, axes=(0, axis))
            error += plane_von_mises(last).max(axis=0)
        return error

    def gradient(self, left_mm: float, right_mm: float) -> Array:
        """d stress / d travel [MPa/mm] (places, 3, 2) at one travel, by central differences of the polynomial."""
        out = np.zeros((self.places, 3, 2))
        for side, nodes in enumerate((self.left_mm, self.right_mm)):
            if nodes.size < 2:
                continue
            step = 1e-4 * (nodes[-1] - nodes[0])
            at = np.array([[left_mm, right_mm]] * 2)
            at[:, side] += [-step, step]
            ((_, stress),) = self.pieces(at[:, 0], at[:, 1])
            out[:, :, side] = (stress[1] - stress[0]) / (2.0 * step)
        return out


def _weights(nodes: Array, x: Array) -> Array:
    """Lagrange's basis (points, nodes) at `x`."""
    if nodes.size == 1:
        return np.ones((x.size, 1))
    apart = nodes[:, None] - nodes[None, :]
    np.fill_diagonal(apart, 1.0)
    # Scaled by the interval, so that products of many distances neither over- nor underflow.
    weight = 1.0 / np.prod(apart / (nodes[-1] - nodes[0]), axis=1)
    distance = x[:, None] - nodes[None, :]
    at_node = distance == 0.0
    distance[at_node] = 1.0
    terms = weight / distance
    out: Array = terms / terms.sum(axis=1, keepdims=True)
    hit = at_node.any(axis=1)
    if hit.any():
        out[hit] = at_node[hit]
    return out
