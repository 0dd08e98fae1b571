"""A line that says what is being worked on, for work that takes longer than a glance."""

from __future__ import annotations

import contextlib
import sys
import threading
from types import TracebackType
from typing import Any

__all__ = ["Progress"]

PATIENCE_S = 2.0
"""Work that ends sooner shows nothing."""


class Progress:
    """Shows a spinner with the current stage on standard error, a terminal, once the work has taken PATIENCE_S.

    On anything but a terminal it does nothing. Use as a context manager, and `stage` as the work moves on.
    """

    def __init__(self, stage: str = "") -> None:
        self._stream = sys.stderr
        self._name = stage
        self._status: Any = None
        self._lock = threading.Lock()
        self._timer: threading.Timer | None = None
        self._reporting = contextlib.ExitStack()

    def stage(self, name: str) -> None:
        """The work has come to stage `name`."""
        with self._lock:
            self._name = name
            if self._status is not None:
                self._status.update(f"{name} ...")

    def _show(self) -> None:
        from rich.console import Console

        with self._lock:
            if self._timer is not None:
                self._status = Console(file=self._stream).status(f"{self._name} ...")
                self._status.start()

    def __enter__(self) -> Progress:
        if self._stream.isatty():
            from barfem.solve.solid.cache import telling

            self._reporting.enter_context(telling(self.stage))
            self._timer = threading.Timer(PATIENCE_S, self._show)
            self._timer.daemon = True
            self._timer.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._reporting.close()
        with self._lock:
            if self._timer is not None:
                self._timer.cancel()
                self._timer = None
            if self._status is not None:
                self._status.stop()
