"""Of many cases alike: which are tried in every run, and which with `-m long` alone."""

from __future__ import annotations

from collections.abc import Container, Iterable
from typing import Any

import pytest

__all__ = ["often"]


def often(values: Iterable[Any], some: Container[Any] | int) -> list[Any]:
    """Parameters of a test; those not among `some` (the first few, by a number) are marked long."""
    return [
        value if (i < some if isinstance(some, int) else value in some) else pytest.param(value, marks=pytest.mark.long)
        for i, value in enumerate(values)
    ]
