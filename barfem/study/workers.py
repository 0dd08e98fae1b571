"""Chunks of work on this process, on several, or on a Dask cluster: the same results wherever they are worked on.

What a chunk holds never depends on who works on it. A worker that dies loses nothing but its own chunk, which is given
to another; results come as they are ready, each with the number of its chunk.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable, Iterator, Sequence
from typing import Any, TypeVar

from barfem.model.errors import BarfemError, InputError
from barfem.model.lacking import install_line
from barfem.version import __version__

__all__ = ["WORKER_ENVIRONMENT", "run_chunks", "start_early", "workers_that_pay"]

T = TypeVar("T")

WORKER_ENVIRONMENT = dict.fromkeys(
    ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "NUMEXPR_NUM_THREADS"), "1"
)
"""Environment variables that each worker process starts with: more threads of one worker's linear algebra would only be
in the way of the other workers'."""

MOST_BY_THEMSELVES = 8
"""Workers where nobody says how many: each takes about 150 MB."""

CHUNKS_A_WORKER = 3
"""Workers take two seconds to start, and a chunk mostly one: fewer than this do not repay it."""

RESTARTS = 3  # of a pool whose processes died, before it is given up
WAIT_S = 20.0
_GUARD = 'if __name__ == "__main__": above what asks for workers.'
AHEAD = 4  # chunks a worker has waiting, so that results need not pile up


def run_chunks(
    work: Callable[[int], T], chunks: Sequence[int], *, workers: int | None = 1, cluster: str | None = None
) -> Iterator[tuple[int, T]]:
    """Results of `work(number)` with their numbers, in any order.

    Parameters
    ----------
    work
        Must be picklable where there is more than one process.
    workers
        Processes on this machine; 1 works in this one, None takes what pays (`workers_that_pay`). Started afresh: a
        script that asks for more than one must stand behind `if __name__ == "__main__":`.
    cluster
        Address of a Dask scheduler, such as "tcp://10.0.0.5:8786".

    Raises
    ------
    InputError
        No workers, no cluster there, or Dask is not installed.
    BarfemError
        Workers keep dying; and whatever `work` raises.
    """
    if workers is not None and workers < 1:
        raise InputError(f"{workers} workers cannot work.", where="--workers", expected="1 or more.")
    if cluster is not None:
        if workers not in (None, 1):
            raise InputError(
                "both --workers and --cluster are given.",
                where="--workers",
                expected="one of them: a cluster has its own.",
            )
        yield from _on_cluster(work, chunks, cluster)
        return
    count = workers_that_pay(len(chunks)) if workers is None else min(workers, len(chunks))
    if count < 2:
        for chunk in chunks:
            yield chunk, work(chunk)
    else:
        yield from _on_processes(work, chunks, count)


def workers_that_pay(chunks: int) -> int:
    """As many processes as there are processors for this one, but no more than so many chunks keep busy; 1 or more."""
    here = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    return max(1, min(here, MOST_BY_THEMSELVES, chunks // CHUNKS_A_WORKER))


def start_early(module: str, *, chunks: int, workers: int | None, cluster: str | None) -> None:
    """Have what workers need of `module` loaded while this process reads and plans, where there will be workers."""
    if cluster is None and (workers_that_pay(chunks) if workers is None else min(workers, chunks)) > 1:
        _starter(module)


def _starter(module: str) -> Any:
    """The multiprocessing context that workers come from.

    Where the system can fork, from a process that has loaded `module` and does nothing but make copies of itself: all
    workers load it once. That process has one thread, so that a copy lacks nothing. Elsewhere each starts afresh.
    """
    from multiprocessing import get_all_start_methods, get_context

    if "forkserver" not in get_all_start_methods():
        return get_context("spawn")
    from multiprocessing import forkserver

    context = get_context("forkserver")
    context.set_forkserver_preload([module])
    with _worker_environment():
        forkserver.ensure_running()
    return context


def _on_processes(work: Callable[[int], T], chunks: Sequence[int], workers: int) -> Iterator[tuple[int, T]]:
    from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
    from concurrent.futures.process import BrokenProcessPool
    from multiprocessing import current_process

    if getattr(current_process(), "_inheriting", False):  # a worker that runs the script which asks for workers
        raise InputError("each worker runs this script, which asks for workers anew.", where="workers", expected=_GUARD)
    left = dict.fromkeys(chunks)
    context = _starter(type(work).__module__)
    deaths = 0
    while left:
        pool = ProcessPoolExecutor(workers, mp_context=context, initializer=_started, initargs=(work,))
        try:
            waiting = iter(tuple(left))
            running: dict[Future[T], int] = {}
            while True:
                with _worker_environment():  # processes start as work is given out
                    for chunk in waiting:
                        running[pool.submit(_work_on, chunk)] = chunk
                        if len(running) >= AHEAD * workers:
                            break
                if not running:
                    pool.shutdown()  # nothing is left to do, and they end at once
                    break
                done, _ = wait(running, return_when=FIRST_COMPLETED)
                dead = None
                for future in done:
                    chunk = running.pop(future)
                    failure = future.exception()
                    if isinstance(failure, BrokenProcessPool):
                        dead = failure
                        continue
                    result = future.result()
                    del left[chunk]
                    yield chunk, result
                if dead is not None:
                    raise dead
        except BrokenProcessPool as error:
            deaths += 1
            if deaths > RESTARTS:
                raise BarfemError(
                    f"worker processes died {deaths} times (out of memory, or killed); {len(left)} chunks of "
                    f"{len(chunks)} are left. Fewer --workers need less memory; with --save what is done is kept. "
                    f"A script of your own needs {_GUARD}"
                ) from error
        finally:
            pool.shutdown(wait=False, cancel_futures=True)


_WORK: list[Callable[[int], Any]] = []


def _started(work: Callable[[int], Any]) -> None:
    """In a new worker: what it is to do; an interrupt is for the process that gives out the work.

    That process may be killed without a word: then nobody waits for this one, which would wait for work for ever.
    """
    import signal
    from multiprocessing import parent_process
    from threading import Thread

    with contextlib.suppress(ValueError):
        signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = parent_process()

    def end_with_it() -> None:
        if parent is not None:
            parent.join()
            os._exit(1)

    Thread(target=end_with_it, daemon=True).start()
    _WORK[:] = [work]


def _work_on(chunk: int) -> Any:
    return _WORK[0](chunk)


@contextlib.contextmanager
def _worker_environment() -> Iterator[None]:
    """Environment for processes that are started meanwhile."""
    before = {name: os.environ.get(name) for name in WORKER_ENVIRONMENT}
    os.environ.update(WORKER_ENVIRONMENT)
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value


def _on_cluster(work: Callable[[int], T], chunks: Sequence[int], address: str) -> Iterator[tuple[int, T]]:
    from concurrent.futures import CancelledError
    from itertools import islice
    from queue import SimpleQueue

    try:
        from distributed import Client
        from distributed.comm.core import CommClosedError
        from distributed.scheduler import KilledWorker
    except ImportError as error:
        raise InputError(
            f"--cluster needs Dask, which is not installed here ({error}).",
            where="--cluster",
            expected=f"{install_line('distributed')}; so on the workers; or --workers N on this machine.",
        ) from error
    _refuse_silence(address)
    try:
        client = Client(address, timeout=f"{WAIT_S:g}s", set_as_default=False)
    except (OSError, TimeoutError, ValueError) as error:
        raise _no_scheduler(address, error) from error
    with client:
        _check_workers(client, address)
        ready: SimpleQueue[Any] = SimpleQueue()
        number: dict[Any, int] = {}
        waiting = iter(chunks)

        def give_out(count: int) -> None:
            for chunk in islice(waiting, count):
                # pure=False: each is worked on, whatever another run has left on the cluster.
                future = client.submit(work, chunk, pure=False)
                number[future.key] = chunk
                future.add_done_callback(ready.put)

        give_out(AHEAD * max(1, len(client.scheduler_info()["workers"])))
        while number:
            future = ready.get()
            chunk = number.pop(future.key)
            try:
                result = future.result()
            except KilledWorker as error:
                raise BarfemError(
                    f"the cluster's workers keep dying at chunk {chunk} ({error}). With --save what is done is kept."
                ) from error
            except (CancelledError, CommClosedError) as error:
                raise BarfemError(
                    f"the cluster at {address} is gone ({error}). With --save what is done is kept."
                ) from error
            yield chunk, result
            future.release()
            give_out(1)


def _refuse_silence(address: str) -> None:
    """Refuse an address at which nothing listens, at once and before Dask waits for it."""
    import socket
    from urllib.parse import urlsplit

    try:
        parts = urlsplit(address if "://" in address else f"tcp://{address}")
        if parts.scheme not in ("tcp", "tls"):
            return  # other ways to a scheduler are Dask's to judge
        if parts.hostname is None or parts.port is None:
            raise ValueError("it names no host and port")
        socket.create_connection((parts.hostname, parts.port), timeout=WAIT_S).close()
    except (OSError, ValueError) as error:
        raise _no_scheduler(address, error) from error


def _no_scheduler(address: str, error: Exception) -> InputError:
    return InputError(
        f"there is no Dask scheduler at {address} ({error}).",
        where="--cluster",
        expected='the address that the scheduler prints as it starts, such as "tcp://10.0.0.5:8786".',
    )


def _check_workers(client: Any, address: str) -> None:
    """Refuse a cluster without workers, or whose barfem is not this one."""
    try:
        client.wait_for_workers(1, timeout=WAIT_S)
    except TimeoutError as error:
        raise InputError(
            f"the scheduler at {address} has no workers.", where="--cluster", expected="one worker or more, started."
        ) from error
    versions = client.run(_version, on_error="return")
    for worker, version in versions.items():
        if version != __version__:
            shown = f"has barfem {version}" if isinstance(version, str) else f"cannot run barfem ({version})"
            raise InputError(
                f"the worker at {worker} {shown}; here is {__version__}.",
                where="--cluster",
                expected="the same barfem on every worker.",
            )


def _version() -> str:
    from barfem.version import __version__ as version

    return version
