"""Tables of bends and holes in the cache folder: found again, written whole or not at all, rebuilt when broken.

Two processes may write one table at once: each writes a file of its own and renames it, and both hold the same
numbers. Whatever the folder or the disk refuses costs time, never a result; `Cached.problem` says what it was.

The folder keeps the `MOST_FILES` tables that were used last, some 50 MB: the rest goes when a new one is written, and
so do what a killed process left half written. A table that another process deletes meanwhile is computed anew.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import stat
import tempfile
import time
import zipfile
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from barfem.model.frozen import frozen

__all__ = ["FOLDER_VARIABLE", "Cached", "cache_folder", "cached", "telling"]

FOLDER_VARIABLE = "BARFEM_CACHE"
"""Environment variable that names another folder."""

MOST_FILES = 2000
"""Tables kept; each takes about 25 kB."""

LONGEST_KEY = 100_000
"""Bytes that the text of a key may take in a file."""

LEFT_OVER_SECONDS = 3600.0  # age at which a half-written file is nobody's any more

Arrays = Mapping[str, NDArray[np.float64]]
Tell = Callable[[str], None]

_tell: list[Tell] = []


@contextlib.contextmanager
def telling(tell: Tell) -> Iterator[None]:
    """Within it `tell` is called with what is being solved, whenever something is that no grid and no cache holds."""
    _tell.append(tell)
    try:
        yield
    finally:
        _tell.remove(tell)


@frozen(eq=False)
class Cached:
    """Arrays, where they came from, and what went wrong on the way (None: nothing)."""

    arrays: Arrays
    found: bool
    problem: str | None = None


def cache_folder() -> Path:
    """The folder, whether it exists or not."""
    named = os.environ.get(FOLDER_VARIABLE)
    if named:
        return Path(named)
    from platformdirs import user_cache_path

    return user_cache_path("barfem", appauthor=False)


def cached(
    key: str, shapes: Mapping[str, tuple[int, ...]], make: Callable[[], Arrays], *, what: str = "a field"
) -> Cached:
    """The arrays of `key`, from the cache, or made and put there.

    Parameters
    ----------
    key
        Everything the arrays depend on, as text.
    shapes
        Of each array; a file without them is broken, and so is one with numbers that are not finite.
    what
        In words what `make` solves, for who waits.
    """
    path = cache_folder() / f"bend-{hashlib.sha256(key.encode()).hexdigest()[:32]}.npz"
    arrays, problem = _read(path, key, shapes)
    if arrays is not None:
        return Cached(arrays, found=True)
    for tell in _tell:
        tell(f"{what}, solved once and kept")
    # As the file has them: the same numbers from the run that made them and from those that find them.
    made = {name: array.astype(np.float32).astype(np.float64) for name, array in make().items()}
    try:
        _write(path, key, made)
    except OSError as error:
        reason = error.strerror or type(error).__name__
        problem = (
            f"A solved field could not be kept in the cache folder {path.parent} ({reason}): it is computed anew each "
            f"time. Free or permit the folder, or name another in {FOLDER_VARIABLE}."
        )
    return Cached(made, found=False, problem=problem)


def _read(path: Path, key: str, shapes: Mapping[str, tuple[int, ...]]) -> tuple[Arrays | None, str | None]:
    arrays: dict[str, NDArray[np.float64]] = {}
    try:
        if not stat.S_ISREG(path.stat().st_mode):  # a pipe or a device: reading it might never end
            raise ValueError("no file")
        with zipfile.ZipFile(path) as archive:
            whole = str(_member(archive, "key", ())) == key
            for name, shape in shapes.items():
                arrays[name] = _member(archive, name, shape).astype(np.float64)
                whole = whole and bool(np.isfinite(arrays[name]).all())
        with contextlib.suppress(OSError):  # used now: it is not the first to go
            os.utime(path)
    except FileNotFoundError:
        return None, None
    except PermissionError:
        return None, f"The cached field {path} may not be read: it is computed anew."
    except Exception:  # a damaged archive raises whatever its parts raise: it holds nothing that cannot be made anew
        whole = False
    if not whole:
        return None, f"The cached field {path} was broken; it has been computed anew and replaced."
    return arrays, None


def _member(archive: zipfile.ZipFile, name: str, shape: tuple[int, ...]) -> NDArray[Any]:
    """One array of an archive, once its header says what is expected: a damaged one may claim any size.

    Raises
    ------
    ValueError
        Another shape or type, or fewer bytes than the header says.
    """
    with archive.open(f"{name}.npy") as file:
        version = np.lib.format.read_magic(file)
        if version != (1, 0):
            raise ValueError("another format")
        found, fortran, dtype = np.lib.format.read_array_header_1_0(file)
        if found != shape or fortran or dtype.kind not in "fU" or dtype.itemsize > LONGEST_KEY:
            raise ValueError("another array")
        size = int(np.prod(shape, dtype=np.int64)) * dtype.itemsize
        data = file.read(size)  # its end is reached, and with it the archive's own checksum is held against it
        if len(data) != size or file.read(1):
            raise ValueError("cut short")
    return np.frombuffer(data, dtype=dtype).reshape(shape)


def _write(path: Path, key: str, arrays: Arrays) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(prefix=path.stem, suffix=".part", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            small = {key_: value.astype(np.float32) for key_, value in arrays.items()}
            np.savez_compressed(file, key=np.array(key), **small)  # type: ignore[arg-type]
        Path(name).replace(path)
        _prune(path.parent)
    except BaseException:
        with contextlib.suppress(OSError):
            Path(name).unlink()
        raise


def _prune(folder: Path) -> None:
    """Delete the tables that were not used for longest, above `MOST_FILES`, and old half-written files.

    Another process may do the same at the same time: what is gone already is no error, and a table that is being read
    stays readable until it is closed (or, where files in use cannot be deleted, stays).
    """
    tables: list[tuple[float, Path]] = []
    old = time.time() - LEFT_OVER_SECONDS
    with contextlib.suppress(OSError):
        for entry in os.scandir(folder):
            if not entry.name.startswith("bend-"):
                continue
            with contextlib.suppress(OSError):
                used = entry.stat().st_mtime
                if entry.name.endswith(".npz"):
                    tables.append((used, Path(entry.path)))
                elif entry.name.endswith(".part") and used < old:
                    Path(entry.path).unlink()
    if len(tables) <= MOST_FILES:
        return
    for _, path in sorted(tables)[: len(tables) - MOST_FILES + MOST_FILES // 10]:
        with contextlib.suppress(OSError):
            path.unlink()
