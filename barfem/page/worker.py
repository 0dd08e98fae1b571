"""A worker for the checks, another for what takes seconds: the newest change wins, what it overtakes is dropped.

Each page that is open has its own count of changes. A job that is overtaken before it begins is never begun; a long one
(advice, a tolerance band) asks between its steps and gives up. `check` itself is never cut short: it takes less time
than giving it up would gain.
"""

from __future__ import annotations

import asyncio
import threading
from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import field
from typing import TypeVar

from barfem.model.frozen import frozen

__all__ = ["Asker", "Superseded", "Worker"]

T = TypeVar("T")
MOST_PAGES = 64


class Superseded(Exception):
    """A newer change came before this one was answered, or nobody waits for it."""


@frozen
class Asker:
    """The page that asks, and whether it has stopped waiting for this answer."""

    page: str = ""
    gone: threading.Event = field(default_factory=threading.Event)


class Worker:
    """Runs jobs in the order in which they came: checks one at a time; beside them views, and long jobs."""

    def __init__(self) -> None:
        self._pool = ThreadPoolExecutor(max_workers=1, thread_name_prefix="check")
        self._view = ThreadPoolExecutor(max_workers=1, thread_name_prefix="view")
        self._long = ThreadPoolExecutor(max_workers=1, thread_name_prefix="long")
        self._newest: OrderedDict[str, int] = OrderedDict()
        self._lock = threading.Lock()

    def _count(self, page: str, step: int) -> int:
        with self._lock:
            now = self._newest.pop(page, 0) + step
            self._newest[page] = now
            while len(self._newest) > MOST_PAGES:
                self._newest.popitem(last=False)
            return now

    async def run(
        self, job: Callable[[Callable[[], None]], T], *, page: Asker, newest: bool = False, beside: str = ""
    ) -> T:
        """The job's answer. It is called with a function that raises `Superseded` where it should give up.

        Parameters
        ----------
        page
            Who asks.
        newest
            It is a new change, which overtakes whatever that page asked before.
        beside
            "view" or "long": no check waits for it.

        Raises
        ------
        Superseded
            A newer change of that page came first, or it has gone.
        """
        mine = self._count(page.page, 1 if newest else 0)

        def going() -> None:
            with self._lock:
                overtaken = self._newest.get(page.page, mine) > mine
            if overtaken or page.gone.is_set():
                raise Superseded

        def begin() -> T:
            going()
            return job(going)

        pool = {"view": self._view, "long": self._long}.get(beside, self._pool)
        return await asyncio.get_running_loop().run_in_executor(pool, begin)

    async def must(self, job: Callable[[], T]) -> T:
        """The answer of a job that is never dropped."""
        return await asyncio.get_running_loop().run_in_executor(self._pool, job)

    def later(self, job: Callable[[], object]) -> None:
        """Run a job whose answer nobody waits for."""
        self._pool.submit(job)

    def close(self) -> None:
        """Wait for nothing: the process ends."""
        with self._lock:
            self._newest = OrderedDict((page, count + 1) for page, count in self._newest.items())
        for pool in (self._pool, self._view, self._long):
            pool.shutdown(wait=False, cancel_futures=True)
