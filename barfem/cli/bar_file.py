"""The bar file that a command line names: found, or answered with what is nearest."""

from __future__ import annotations

import contextlib
import difflib
from pathlib import Path

from barfem.model.errors import InputError

__all__ = ["bar_path"]


MARKS = {"bar file": b"[[mounts]]", "car file": b"[car]"}
"""What gives each kind of file the look of one."""


def bar_path(text: str, *, kind: str = "bar file") -> Path:
    """The path of a bar file, or of a `kind` of `MARKS`; what is in it, its reader judges.

    Raises
    ------
    InputError
        The name is empty, or a folder's, or nothing is there; the message names a file that is near.
    """
    if not text:
        raise InputError(f"the name of the {kind} is empty.", expected=f"the path of a {kind}.")
    path = Path(text)
    try:
        path.lstat()
    except FileNotFoundError:
        folder = path.parent if path.parent.is_dir() else Path()
        near = difflib.get_close_matches(path.name, _bars_in(folder, kind), n=1)
        bars = [str(folder / name) for name in near]
        raise InputError(f"{path} does not exist.", expected=f"the path of a {kind}{_such_as(bars)}.") from None
    except OSError as error:  # a name that is too long, a folder that may not be looked into
        raise InputError(
            f"{path} could not be read: {error.strerror}.", expected=f"the path of a {kind} that can be read."
        ) from error
    if path.is_dir():
        bars = [str(path / name) for name in _bars_in(path, kind)[:1]]
        raise InputError(f"{path} is a folder.", expected=f"one {kind}{_such_as(bars)}.")
    return path


def _bars_in(folder: Path, kind: str) -> list[str]:
    """Names of the TOML files in `folder` that have the look of a `kind`."""
    found = []
    for path in sorted(folder.glob("*.toml")):
        with contextlib.suppress(OSError):
            if path.is_file() and MARKS[kind] in path.read_bytes():
                found.append(path.name)
    return found


def _such_as(names: list[str]) -> str:
    return f", such as {names[0]}" if names else ""
