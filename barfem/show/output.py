"""Writing a file whole or not at all."""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Iterable
from pathlib import Path

from barfem.model.errors import InputError

__all__ = ["check_output_folder", "check_output_path", "write_whole"]


def check_output_path(path: str | Path, *, option: str, inputs: Iterable[str | Path] = ()) -> Path:
    """Refuse, before any work is done, an output path that could not or should not be written.

    Parameters
    ----------
    path
        Where the output is to go.
    option
        The option that named it, for the message, such as "--json".
    inputs
        Files that were read, which are never overwritten.

    Raises
    ------
    InputError
        If the path is a folder, its folder is missing or not writable, or writing would replace an input or any
        other TOML file.
    """
    target = Path(path)
    if not str(path):
        raise InputError("the file name is empty.", where=option, expected="a file name, or - for standard output.")
    for read in inputs:
        if target.exists() and Path(read).exists() and target.samefile(read):
            raise InputError(f"{target} is an input of this run.", where=option, expected="another file name.")
    if target.is_dir():
        raise InputError(f"{target} is a folder.", where=option, expected="a file name in it.")
    if target.exists() and target.suffix.lower() == ".toml":
        raise InputError(
            f"{target} exists and is a TOML file, which barfem reads but never replaces.",
            where=option,
            expected="another file name, such as result.json.",
        )
    if _is_stream(target):
        return target
    folder = target.parent
    if not folder.is_dir():
        raise InputError(f"the folder {folder} does not exist.", where=option, expected="an existing folder.")
    if not os.access(folder, os.W_OK | os.X_OK):
        raise InputError(f"the folder {folder} cannot be written to.", where=option, expected="a writable folder.")
    return target


def _is_stream(path: Path) -> bool:
    """Whether a device or a pipe is there, neither file nor folder: it is written into, never replaced."""
    return path.exists() and not path.is_file() and not path.is_dir()


def check_output_folder(path: str | Path, *, option: str) -> Path:
    """Refuse, before any work is done, a folder of outputs that could not be made or written to.

    Raises
    ------
    InputError
        If it is a file, or it (or the folder it is to be made in) is missing or not writable.
    """
    target = Path(path)
    if not str(path):
        raise InputError("the name of the folder is empty.", where=option, expected="a folder.")
    if target.exists() and not target.is_dir():
        raise InputError(f"{target} is a file.", where=option, expected="a folder.")
    folder = target if target.is_dir() else target.absolute().parent
    if not folder.is_dir():
        raise InputError(f"the folder {folder} does not exist.", where=option, expected="an existing folder.")
    if not os.access(folder, os.W_OK | os.X_OK):
        raise InputError(f"the folder {folder} cannot be written to.", where=option, expected="a writable folder.")
    return target


def write_whole(path: Path, content: str | bytes, *, option: str) -> None:
    """Write `content` (text as UTF-8) to a temporary file beside `path`, then rename it: no half file is ever seen.

    A device or a pipe (/dev/null, a FIFO) is written into as it stands.

    Raises
    ------
    InputError
        If the folder or the disk refuses; what stood at `path` before is then still there, untouched.
    """
    data = content.encode("utf-8") if isinstance(content, str) else content
    if _is_stream(path):
        try:
            with open(path, "wb") as stream:
                stream.write(data)
        except OSError as error:
            raise InputError(
                f"{path} could not be written: {error.strerror or error}.", where=option, expected="a file."
            ) from error
        return
    target = Path(os.path.realpath(path))  # through a link, so that the link stays one
    temporary: str | None = None
    try:
        handle, temporary = tempfile.mkstemp(prefix=f".{target.name}.", suffix=".part", dir=target.parent)
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        # A temporary file is private; a result may be read by whoever could read a file made the usual way.
        os.chmod(temporary, target.stat().st_mode & 0o777 if target.exists() else 0o666 & ~_umask())
        os.replace(temporary, target)
        temporary = None
    except OSError as error:
        raise InputError(
            f"{path} could not be written: {error.strerror or error}.", where=option, expected="a writable folder."
        ) from error
    finally:
        if temporary is not None:
            with contextlib.suppress(OSError):
                os.unlink(temporary)


def _umask() -> int:
    """The process's file mode mask, which can only be read by setting it."""
    mask = os.umask(0o022)
    os.umask(mask)
    return mask
