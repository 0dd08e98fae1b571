"""An array that may be a key: what follows from its content alone is kept by it."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["Content"]


class Content:
    """An array, compared by type, shape and content. It is not to be written to any more."""

    __slots__ = ("_held", "array")

    def __init__(self, array: NDArray[Any]) -> None:
        self.array = np.ascontiguousarray(array)
        self._held = (self.array.dtype.str, self.array.shape, self.array.tobytes())

    def __hash__(self) -> int:
        return hash(self._held)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Content) and self._held == other._held
