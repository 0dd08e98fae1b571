"""Lagrange interpolation in tables on the nodes of a grid, one size a direction: cubic, or over all of fewer nodes."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["Span", "interpolated", "span"]

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


def interpolated(spans: Sequence[Span], values: NDArray[np.floating[Any]]) -> Array:
    """The table amid `values` (nodes in each direction, *table).

    One direction after the other: the nodes that count lie together then, and nothing is copied.
    """
    for first, weights in spans:
        near = values[first : first + len(weights)]
        values = (weights.astype(near.dtype) @ near.reshape(len(near), -1)).reshape(near.shape[1:])
    return np.asarray(values, dtype=np.float64)
