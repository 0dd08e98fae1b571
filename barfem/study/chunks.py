"""Results that survive a kill: a file of JSON lines, one header and then a line for each chunk as it is done.

A line is written whole and flushed to the disk before the next chunk counts as done; one that was cut short by a kill
is cut off when the file is taken up again. The header says what the run is of: a file of another run is refused.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import math
import os
from collections.abc import Iterator, Mapping
from dataclasses import fields
from pathlib import Path
from types import TracebackType
from typing import Any, BinaryIO

from barfem.model.bar import Bar
from barfem.model.errors import BarfemError, InputError
from barfem.version import __version__

__all__ = ["ChunkFile", "bar_hash", "finite_lists", "with_nan"]

FORMAT = 1


# Of a bar, what is said of it and changes no number.
_ONLY_SAID = ("name", "drawing", "revision", "source", "warnings", "assumptions", "tables")


def bar_hash(bar: Bar, *more: Any) -> str:
    """SHA-256 of everything of a bar that a number depends on, and of `more`; its file's path is none of it."""
    text = repr(([getattr(bar, each.name) for each in fields(bar) if each.name not in _ONLY_SAID], more))
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def finite_lists(columns: Mapping[str, Any]) -> dict[str, Any]:
    """Columns (arrays, lists, text) as JSON has them: a number that is not finite becomes null."""
    return {name: _plain(getattr(values, "tolist", lambda values=values: values)()) for name, values in columns.items()}


def with_nan(values: Any) -> Any:
    """Nested lists with null turned back into NaN."""
    if isinstance(values, list):
        return [with_nan(value) for value in values]
    return math.nan if values is None else values


def _plain(value: Any) -> Any:
    if isinstance(value, list):
        return [_plain(entry) for entry in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value


class ChunkFile:
    """The file at `path` for the run that `header` describes; use as a context manager.

    A new one in which nothing came to stand, because the run's input was wrong, goes again.

    Raises
    ------
    InputError
        The file is no such file, is of another run (`header` says otherwise), or is in use by another run.
    """

    def __init__(self, path: Path, header: Mapping[str, Any], *, option: str = "--save") -> None:
        self.path, self.option = path, option
        self.header = {"barfem-chunks": FORMAT, "barfem": __version__, **header}
        self._file: BinaryIO | None = None
        self._empty = False  # made by this run, and no chunk is in it yet

    def __enter__(self) -> ChunkFile:
        there = self.path.exists()
        try:
            self._file = self.path.open("a+b")
        except OSError as error:
            raise self._refused(f"cannot be written: {error.strerror or error}", "a writable file name.") from error
        try:
            self._lock()
            self._take_up(there)
        except BaseException:
            self._close()
            raise
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._close()
        if error is not None and self._empty:
            with contextlib.suppress(OSError):
                self.path.unlink()

    def _close(self) -> None:
        # What was kept is on the disk; of what a full disk refused Python tries to write the rest once more.
        with contextlib.suppress(OSError):
            self._opened().close()

    def done(self) -> Iterator[tuple[int, dict[str, Any]]]:
        """The chunks that the file holds, by number, with what was appended for them."""
        file = self._opened()
        file.seek(0)
        file.readline()
        for number, line in enumerate(file, start=2):
            try:
                entry = json.loads(line)
                chunk, content = int(entry["chunk"]), dict(entry["content"])
            except (ValueError, KeyError, TypeError) as error:
                raise self._refused(f"line {number} is damaged", "a file as barfem wrote it, or a new one.") from error
            yield chunk, content

    def append(self, chunk: int, content: Mapping[str, Any]) -> None:
        """Add one chunk; it is on the disk when this returns."""
        self._write({"chunk": chunk, "content": content})
        self._empty = False

    def _opened(self) -> BinaryIO:
        if self._file is None:
            raise BarfemError("the file of results is not open.")
        return self._file

    def _write(self, entry: Mapping[str, Any]) -> None:
        file = self._opened()
        line = json.dumps(entry, allow_nan=False, ensure_ascii=False).encode("utf-8") + b"\n"
        try:
            file.write(line)
            file.flush()
            os.fsync(file.fileno())
        except OSError as error:
            raise self._refused(
                f"could not be written: {error.strerror or error}",
                "a place with room; what was kept stands, and the same command goes on from it.",
            ) from error

    def _take_up(self, there: bool) -> None:
        file = self._opened()
        file.seek(0, os.SEEK_END)
        size = file.tell()
        if size == 0:
            self._write(self.header)
            self._empty = not there
            return
        file.seek(0)
        first = file.readline()
        if not first.endswith(b"\n") and json.dumps(self.header, ensure_ascii=False).encode().startswith(first):
            file.truncate(0)  # killed while the header was written
            self._write(self.header)
            return
        self._refuse_other(first)
        file.seek(max(size - 1, 0))
        if file.read(1) != b"\n":
            file.truncate(self._end_of_last_line(size))
        file.seek(0, os.SEEK_END)

    def _end_of_last_line(self, size: int) -> int:
        file, block, end = self._opened(), 1 << 16, size
        while end > 0:
            start = max(end - block, 0)
            file.seek(start)
            found = file.read(end - start).rfind(b"\n")
            if found >= 0:
                return start + found + 1
            end = start
        return 0

    def _refuse_other(self, first: bytes) -> None:
        try:
            there = json.loads(first)
            known = isinstance(there, dict) and "barfem-chunks" in there
        except ValueError:
            known = False
        if not known:
            raise self._refused("is no file of barfem's results", "another file name; this file is left as it is.")
        for key, wanted in self.header.items():
            if there.get(key) != wanted:
                what = {"input": "another bar, or other bands"}.get(key, f"{key} {there.get(key)!r}, not {wanted!r}")
                raise self._refused(
                    f"holds the results of another run: {what}", "another file name; this file is left as it is."
                )

    def _lock(self) -> None:
        """One run at a time, where the system has such locks (they end with the process that holds them)."""
        with contextlib.suppress(ImportError):
            import fcntl

            try:
                fcntl.flock(self._opened().fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError as error:
                raise self._refused("is in use by another run", "another file name, or wait for that run.") from error
            except OSError:  # a file system without locks
                return

    def _refused(self, problem: str, expected: str) -> InputError:
        return InputError(f"{self.path} {problem}.", where=self.option, expected=expected)
