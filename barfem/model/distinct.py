"""Values in order, each once."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["distinct"]


def distinct(values: ArrayLike) -> NDArray[Any]:
    """As `numpy.unique` (k,); asked for indices too, it does not look for masks, nor load what NumPy has for them."""
    return np.unique(np.asarray(values), return_index=True)[0]
