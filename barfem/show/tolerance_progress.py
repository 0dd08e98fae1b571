"""A bar of progress with the time that is left, for studies of many bars."""

from __future__ import annotations

import contextlib
import sys
import time
from collections.abc import Iterator
from types import TracebackType
from typing import Any

__all__ = ["StudyProgress", "kept_in"]

EVERY_S = 30.0
"""Where the stream is no terminal, a line is printed so often."""


class StudyProgress:
    """Shows on standard error how many bars are done, and about how long the rest takes; call it with done and all.

    The time is judged by the bars that were worked on, not by those that a file already held.
    """

    def __init__(self, what: str = "bars") -> None:
        self._stream, self._what = sys.stderr, what
        self._shown: Any = None
        self._task: Any = None
        self._before = 0
        self._began = self._reported = time.monotonic()
        self.done = 0

    def __call__(self, done: int, total: int) -> None:
        now = time.monotonic()
        self.done = done
        left = self._left(done, total, now)
        if self._stream.isatty():
            self._show(done, total, left)
        elif now - self._reported >= EVERY_S:
            self._reported = now
            print(f"barfem: {done} of {total} {self._what}; about {left} left", file=self._stream, flush=True)

    def taken_up(self, done: int) -> None:
        """So many were done before this run began."""
        self._before, self._began = done, time.monotonic()

    def say_what_is_kept(self, save: object) -> None:
        """After an interrupt: what is kept in the file `save` (None: nothing), and how to go on."""
        self.stop()
        kept = (
            f"{self.done} {self._what} are in {save}; the same command goes on from there"
            if save is not None
            else "nothing is kept; with --save FILE the same command goes on where it was stopped"
        )
        print(f"\nbarfem: {kept}.", file=self._stream, flush=True)

    def stop(self) -> None:
        """Take the bar off the terminal."""
        if self._shown is not None:
            self._shown.stop()
            self._shown = None

    def _left(self, done: int, total: int, now: float) -> str:
        worked = done - self._before
        if worked <= 0:
            return "?"
        seconds = (now - self._began) / worked * (total - done)
        return f"{seconds:.0f} s" if seconds < 90.0 else f"{seconds / 60.0:.0f} min"

    def _show(self, done: int, total: int, left: str) -> None:
        if self._shown is None:
            from rich.console import Console
            from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

            self._shown = Progress(
                BarColumn(), MofNCompleteColumn(), TextColumn(self._what + ", about {task.fields[left]} left"),
                console=Console(file=self._stream), transient=True,
            )  # fmt: skip
            self._task = self._shown.add_task("", total=total, left=left)
            self._shown.start()
        self._shown.update(self._task, completed=done, left=left)

    def __enter__(self) -> StudyProgress:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.stop()


@contextlib.contextmanager
def kept_in(save: object) -> Iterator[StudyProgress]:
    """The progress of a study whose results go to the file `save` (None: nowhere): who interrupts it is told of it."""
    with StudyProgress() as progress:
        try:
            yield progress
        except KeyboardInterrupt:
            progress.say_what_is_kept(save)
            raise
