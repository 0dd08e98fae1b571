"""The chunks of a study, those that a file has from a run that was stopped and those still to be worked on."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from barfem.study.chunks import ChunkFile
from barfem.study.workers import run_chunks

__all__ = ["saved_chunks"]


def saved_chunks(
    work: Callable[[int], dict[str, Any]],
    chunks: Sequence[int],
    *,
    header: Mapping[str, Any],
    save: str | Path | None,
    workers: int | None,
    cluster: str | None,
    taken_up: Callable[[], None] | None = None,
) -> Iterator[tuple[int, dict[str, Any]]]:
    """Results of `work` on every chunk, each with its number and once, in any order.

    Parameters
    ----------
    header
        What the run is of: a file of another one is refused.
    save
        File of results; None keeps none. What it holds comes first, the rest is appended to it before it is given out.
    workers, cluster
        As `barfem.study.workers.run_chunks`.
    taken_up
        Called once, where there is a file, when everything that it holds has been given out.

    Raises
    ------
    InputError
        The file is of another run, or none of barfem's; whatever `run_chunks` raises.
    """
    if save is None:
        yield from run_chunks(work, chunks, workers=workers, cluster=cluster)
        return
    left = dict.fromkeys(chunks)
    with ChunkFile(Path(save), header) as file:
        for number, plain in file.done():
            if number in left:
                del left[number]
                yield number, plain
        if taken_up:
            taken_up()
        for number, plain in run_chunks(work, list(left), workers=workers, cluster=cluster):
            file.append(number, plain)
            yield number, plain
