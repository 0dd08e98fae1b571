"""One value at many places without a copy, and back: what is alike everywhere is worked out once."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["compact", "spread"]


def spread(value: ArrayLike, shape: tuple[int, ...]) -> NDArray[Any]:
    """`value` at places of a shape, read only; as `numpy.broadcast_to`, whose bookkeeping costs more than the work."""
    values = np.asarray(value)
    if values.shape == shape:
        return values
    if values.ndim == 0:
        return np.ndarray(shape, values.dtype, values, 0, (0,) * len(shape))
    return np.broadcast_to(values, shape)


def compact(values: NDArray[Any]) -> NDArray[Any]:
    """The same with axes along which nothing changes cut to one."""
    return values[tuple([slice(0, 1) if stride == 0 else slice(None) for stride in values.strides])]
