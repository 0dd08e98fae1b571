"""One BLAS thread while many small matrices are factored."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from threading import Lock
from typing import Any

__all__ = ["one_blas_thread"]

_LOCK = Lock()
_INSIDE: list[Any] = []  # the limiter of the outermost user, and one None for each further one


@contextmanager
def one_blas_thread() -> Iterator[None]:
    """Within it BLAS takes one thread in every thread of this process; what was set before stands again after it.

    Two pools (NumPy's and SciPy's) of as many threads as cores wait for each other on matrices of a few hundred rows,
    four times slower where the cores have other work. Entered by several threads at once, the last one out restores.
    """
    try:
        from threadpoolctl import threadpool_limits
    except ImportError:  # nothing but time depends on it
        yield
        return
    with _LOCK:
        _INSIDE.append(None if _INSIDE else threadpool_limits(limits=1, user_api="blas"))
    try:
        yield
    finally:
        with _LOCK:
            limiter = _INSIDE.pop()
            if limiter is not None:
                limiter.restore_original_limits()
