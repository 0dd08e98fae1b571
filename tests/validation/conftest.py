"""The `compare` fixture: one comparison of our number with an outside source, asserted and recorded."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

Compare = Callable[..., None]


@pytest.fixture
def compare(request: pytest.FixtureRequest) -> Compare:
    """Assert that `ours` agrees with `theirs`, and record the comparison for the validation table.

    Parameters of the returned function, all by keyword
    ---------------------------------------------------
    case, source, why : str
        What is compared; where the outside value stands (page, table, "from memory", "computed"); why this
        difference is allowed (rounding of the printed value, a stated approximation, the mesh).
    ours, theirs : float or array of the same shape
        Of an array, the entry that is furthest off for what is allowed is shown.
    allowed : float
        Greatest relative difference, |ours - theirs| / |theirs|; with `absolute=True` the greatest |ours - theirs|.
    """

    def check(
        *, case: str, source: str, ours: Any, theirs: Any, allowed: float, why: str, absolute: bool = False
    ) -> None:
        for name, text in (("case", case), ("source", source), ("why", why)):
            if not text.strip():
                raise ValueError(f"a comparison needs its {name}")
        if not 0.0 <= allowed < np.inf:
            raise ValueError(f"allowed must be a finite number, zero or more, not {allowed}")
        a, b = (np.atleast_1d(np.asarray(value, float)).ravel() for value in (ours, theirs))
        if a.shape != b.shape or a.size == 0:
            raise ValueError(f"{case}: ours has {a.size} values, theirs {b.size}")
        if not absolute and np.any(b == 0.0):
            raise ValueError(f"{case}: a relative difference from zero means nothing; give absolute=True")
        # A value of ours that is not finite is infinitely far off, never "not greater than".
        off = np.where(np.isfinite(a), np.abs(a - b), np.inf) / (1.0 if absolute else np.abs(b))
        worst = int(np.argmax(off))
        shown = off[worst] if absolute else (a[worst] - b[worst]) / abs(b[worst])
        agrees = bool(off[worst] <= allowed)
        row = {
            "case": case + (f" (worst of {a.size})" if a.size > 1 else ""),
            "source": source,
            "ours": f"{a[worst]:.7g}",
            "theirs": f"{b[worst]:.7g}",
            "difference": f"{shown:.2g}" if absolute else f"{100.0 * shown:+.2g} %",
            "allowed": f"{allowed:.2g}" if absolute else f"{100.0 * allowed:.2g} %",
            "why": why,
            "agrees": "yes" if agrees else "no",
        }
        request.node.user_properties.append(("comparison", row))
        message = (
            f"{case}: ours {row['ours']}, theirs {row['theirs']}: {row['difference']} off, {row['allowed']} allowed"
        )
        assert agrees, f"{message} ({source})"

    return check
