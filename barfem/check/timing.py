"""Seconds of each stage of a check."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

__all__ = ["STAGES", "Timing"]

STAGES = ("read", "solve", "stress", "fatigue")


class Timing:
    """Collects wall-clock seconds a stage; a stage entered twice adds up.

    `on_stage` is called with the stage's name as it begins, so that a progress line can name it.
    """

    def __init__(self, on_stage: Callable[[str], None] | None = None) -> None:
        self._began = time.perf_counter()
        self._on_stage = on_stage
        self._seconds = dict.fromkeys(STAGES, 0.0)

    @contextmanager
    def stage(self, name: str) -> Iterator[None]:
        """Time a block as stage `name`, one of STAGES."""
        if name not in self._seconds:
            raise ValueError(f"{name!r} is not one of the stages {', '.join(STAGES)}")
        if self._on_stage is not None:
            self._on_stage(name)
        began = time.perf_counter()
        try:
            yield
        finally:
            self._seconds[name] += time.perf_counter() - began

    def seconds(self) -> dict[str, float]:
        """Seconds of each stage so far, and `total` since this object was made."""
        return {**self._seconds, "total": time.perf_counter() - self._began}
