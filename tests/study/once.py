"""Bars that many tests of studies ask for are solved once a process: the tests are of what is made of them."""

from __future__ import annotations

import pickle
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest

from barfem.study.size_work import StockWork
from barfem.study.tolerance_work import ToleranceWork

_FOUND: dict[bytes, Any] = {}


def _once(key: Any, make: Any) -> Any:
    name = pickle.dumps(key)
    if name not in _FOUND:
        _FOUND[name] = make()
    return _FOUND[name]


@pytest.fixture
def solved_once() -> Iterator[None]:
    """The bars of a stock list, and those of a tolerance study, by all that they depend on."""
    stock, columns = StockWork.__call__, ToleranceWork.columns

    def options(self: StockWork, number: int) -> Any:
        bare = replace(self, at=0)  # whichever hole the rate is meant at, the same bars are solved
        return [replace(option, at=self.at) for option in _once((bare, number), lambda: stock(bare, number))]

    def rows(self: ToleranceWork, number: int) -> Any:
        # As first seen: `settings` is kept with the work once it was asked for.
        key = (self.bar, self.variables, self.design.rows(number), self.places, self.holes, self.case)
        return _once((*key, self.moved(number).tobytes()), lambda: columns(self, number))

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(StockWork, "__call__", options)
        patch.setattr(ToleranceWork, "columns", rows)
        yield
