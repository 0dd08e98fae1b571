"""Reading a TOML file that a person wrote: one way for bar files, material tables and whatever else is TOML.

Files on a disk and pipes are read, up to `LARGEST_BYTES`; a device, a folder or a socket is not. A byte-order mark and
the line ends of Windows are taken as they come. What cannot be right is an `InputError` that names file and line.
"""

from __future__ import annotations

import errno
import os
import stat
import tomllib
from collections.abc import Mapping
from typing import Any

from barfem.model.errors import InputError

__all__ = [
    "LARGEST_BYTES",
    "nests_too_deeply",
    "parse_toml",
    "read_bytes",
    "read_toml",
    "refuse_huge_integers",
    "without_numpy",
]

LARGEST_BYTES = 1_000_000
"""A bar file has some kB; beyond this something else was named."""

_MOST_BITS = 4096  # about 1200 digits
_DEEPEST = 12  # tables and lists inside each other; a bar file needs five
_REMEDY = (
    "key = value lines under [table] headings, each table and key once ([[mounts]] alone is repeated, in double "
    "brackets); text in quotes, decimals with a point."
)


def read_toml(path: str | os.PathLike[str], *, kind: str = "bar file") -> dict[str, Any]:
    """The tables of a TOML file; `kind` is what it should be, for messages.

    Raises
    ------
    InputError
        No such file, not a file, too big, not UTF-8, empty, or not TOML.
    """
    return parse_toml(read_bytes(path, kind=kind), file=str(path), kind=kind)


def read_bytes(path: str | os.PathLike[str], *, kind: str = "bar file", largest: int = LARGEST_BYTES) -> bytes:
    """The bytes of a regular file or a pipe.

    Raises
    ------
    InputError
        As `read_toml`, but for what the bytes say.
    """
    expected = f"the path of a {kind}."
    if not isinstance(path, str | bytes | os.PathLike):
        more = " Tables go through bar_from_dict." if isinstance(path, dict) and kind == "bar file" else ""
        raise InputError(f"{type(path).__name__} in place of a path.", where=kind, expected=expected + more)
    shown = _shown_path(path)
    try:
        with open(os.fspath(path), "rb") as file:
            mode = os.fstat(file.fileno()).st_mode
            if not (stat.S_ISREG(mode) or stat.S_ISFIFO(mode)):
                raise InputError("this is a device, not a file.", file=shown, expected=expected)
            raw = file.read(largest + 1)
    except FileNotFoundError as error:
        raise InputError("there is no such file.", file=shown, expected=expected) from error
    except IsADirectoryError as error:
        raise InputError("this is a folder.", file=shown, expected=f"the path of one {kind}.") from error
    except (OSError, ValueError) as error:  # ValueError: a name with a zero byte
        why = getattr(error, "strerror", None) or error
        if getattr(error, "errno", None) == errno.ENAMETOOLONG:
            why = "the name is too long"
        raise InputError(f"the file cannot be read: {why}.", file=shown, expected=f"a readable {kind}.") from error
    if len(raw) > largest:
        raise InputError(
            f"the file is larger than {largest / 1e6:g} MB.", file=shown, expected=f"a {kind}, which has some kB."
        )
    return raw


def parse_toml(raw: bytes, *, file: str, kind: str = "bar file") -> dict[str, Any]:
    """The tables that the bytes of a file hold.

    Raises
    ------
    InputError
        Not UTF-8, empty, a control character, not TOML, a number of too many digits, or nested too deeply.
    """
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise InputError(
            f"the text is not UTF-8: byte {error.start + 1}, on line {line}, cannot be read.",
            file=file,
            expected="a TOML file saved as UTF-8.",
        ) from error
    if not text.strip():
        raise InputError("the file is empty.", file=file, expected=f"a {kind}, beginning with format = 1.")
    try:
        data = tomllib.loads(text.replace("\r\n", "\n"))
    except (ValueError, RecursionError) as error:  # tomllib's own; numbers of too many digits; too deep a nesting
        why = str(error) if isinstance(error, tomllib.TOMLDecodeError) else "a number has too many digits"
        why = "lists or tables are nested too deeply" if isinstance(error, RecursionError) else why
        remedy = _REMEDY
        if "overwrite" in why and "[drawing]" in text:  # TOML lets a name be a text or a table, not both
            remedy = 'in [drawing], number = "..." instead of drawing = "..." at the top of the file.'
        raise InputError(f"the file is not TOML: {why}.", file=file, expected=remedy) from error
    if nests_too_deeply(data):
        raise InputError("the file nests lists or tables too deeply.", file=file, expected=_REMEDY)
    try:
        refuse_huge_integers(data)
    except InputError as error:
        raise error.in_file(file) from None
    return data


def without_numpy(data: Any) -> Any:
    """`data` with numpy's numbers and arrays, as a data frame's cells are, as the plain ones that a file holds."""
    if isinstance(data, Mapping):
        return {name: without_numpy(item) for name, item in data.items()}
    if isinstance(data, list | tuple):
        return [without_numpy(item) for item in data]
    return data.tolist() if hasattr(data, "tolist") else data


def refuse_huge_integers(data: Any) -> None:
    """Refuse whole numbers that Python does not print: written in hexadecimal they can have any length.

    Raises
    ------
    InputError
        One is there; the message names its key.
    """
    waiting = [("", data)]
    while waiting:
        key, value = waiting.pop()
        if isinstance(value, Mapping):
            waiting += [(str(name), item) for name, item in value.items()]
        elif isinstance(value, list | tuple):
            waiting += [(key, item) for item in value]
        elif isinstance(value, int) and value.bit_length() > _MOST_BITS:
            raise InputError(
                "a whole number of more than a thousand digits.",
                where=key or None,
                expected="a number of a bar's size.",
            )


def nests_too_deeply(value: Any) -> bool:
    """Whether more tables and lists are inside each other than any bar file needs."""
    level, depth = [value], 0
    while level and depth <= _DEEPEST:
        inside = [item for item in level if isinstance(item, dict | list)]
        if not inside:
            break
        depth += 1
        level = [each for item in inside for each in (item.values() if isinstance(item, dict) else item)]
    return depth > _DEEPEST


def _shown_path(path: str | os.PathLike[str]) -> str:
    """The path as text that can be printed, whatever bytes it holds; a very long one cut."""
    text = os.fsdecode(os.fspath(path)).encode("utf-8", "backslashreplace").decode("utf-8")
    return text if len(text) <= 300 else f"{text[:150]}...{text[-100:]}"
