"""Sheets of all bars, laid out once."""

from __future__ import annotations

import pytest

from barfem.show.drawing.sheet import sheet_of
from tests.drawing.bars import every_bar
from tests.often import often

BARS = every_bar()


@pytest.fixture(
    scope="session",
    params=often(sorted(BARS), {"unequal_in_space"}),
)
def drawn(request):
    """A bar and its sheet."""
    bar = BARS[request.param]
    return bar, sheet_of(bar)
