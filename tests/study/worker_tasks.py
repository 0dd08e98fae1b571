"""Work that worker processes do in tests: it has to be importable by them."""

from __future__ import annotations

import os
import signal
import time
from dataclasses import dataclass
from pathlib import Path

from barfem.model.errors import InputError


@dataclass(frozen=True)
class Squares:
    """Squares of the chunk's number, a little slowly."""

    seconds: float = 0.0

    def __call__(self, number: int) -> int:
        time.sleep(self.seconds)
        return number**2


@dataclass(frozen=True)
class DiesOnce(Squares):
    """The first worker that comes to chunk `at` is killed; the next one finds the mark and lives."""

    mark: str = ""
    at: int = 3
    always: bool = False

    def __call__(self, number: int) -> int:
        if number == self.at and (self.always or not Path(self.mark).exists()):
            Path(self.mark).touch()
            os.kill(os.getpid(), signal.SIGKILL)
        return super().__call__(number)


@dataclass(frozen=True)
class Refuses:
    def __call__(self, number: int) -> int:
        raise InputError(f"chunk {number} cannot be.", where="here", expected="another.")


@dataclass(frozen=True)
class Threads:
    def __call__(self, number: int) -> str:
        return os.environ.get("OPENBLAS_NUM_THREADS", "")


@dataclass(frozen=True)
class Waits:
    """Leaves a mark and is at it for a minute."""

    mark: str

    def __call__(self, chunk: int) -> int:
        Path(self.mark).touch()
        time.sleep(60.0)
        return chunk
