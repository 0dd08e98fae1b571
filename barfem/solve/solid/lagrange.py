"""Lagrange interpolation in tables on the nodes of a grid, one size a direction: cubic, or over all of fewer nodes."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

__all__ = ["Span", "block", "interpolated", "span"]

Array = NDArray[np.float64]
Span = tuple[int, Array]
"""Number of the first node that counts in a direction, and the weights of it and of those after it."""


def span(nodes: Sequence[float], x: float) -> Span:
    """The four nodes round x, ascending, and their weights."""
    count = min(4, len(nodes))
    first = min(max(bisect_left(nodes, x) - 2, 0), len(nodes) - count)
    near = nodes[first : first + count]
    weights = [math.prod((x - other) / (own - other) for other in near if other != own) for own in near]
    return first, np.array(weights)


def block(spans: Sequence[Span]) -> tuple[slice, ...]:
    """The part of an array over all nodes that counts."""
    return tuple(slice(first, first + len(weights)) for first, weights in spans)


def interpolated(spans: Sequence[Span], values: Array) -> Array:
    """The table amid `values` (..., *table), the part of the tables on the nodes that `block` says."""
    weight = spans[0][1]
    for _, weights in spans[1:]:
        weight = np.multiply.outer(weight, weights)
    return np.asarray(np.tensordot(weight, values, axes=weight.ndim))
