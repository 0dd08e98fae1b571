"""A file written beside the place that it is to have, so that what stands there is whole, whatever happens."""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Callable
from pathlib import Path

from barfem.model.frozen import frozen

__all__ = ["LONGEST", "WholeFile", "umask"]

LONGEST = 40
"""Of the name of a file, in that of the temporary one beside it: file systems allow 255 bytes for both."""


@frozen
class WholeFile:
    """A file that is written, whole, and has its name to come; `option` named it."""

    temporary: Path
    target: Path
    option: str = ""

    @classmethod
    def filled(cls, path: str | os.PathLike[str], fill: Callable[[Path], object], option: str = "") -> WholeFile:
        """`fill` writes to the path that it is given. Nothing is left where it raises."""
        target = Path(os.path.realpath(path))  # through a link, so that the link stays one
        handle, name = tempfile.mkstemp(prefix=f".{target.name[:LONGEST]}.", suffix=".part", dir=target.parent)
        os.close(handle)
        made = cls(Path(name), target, option)
        try:
            fill(made.temporary)
            # A temporary file is private; a result may be read by whoever could read a file made the usual way.
            os.chmod(made.temporary, target.stat().st_mode & 0o777 if target.exists() else 0o666 & ~umask())
        except BaseException:
            made.discard()
            raise
        return made

    def place(self) -> None:
        os.replace(self.temporary, self.target)

    def discard(self) -> None:
        with contextlib.suppress(OSError):
            self.temporary.unlink()


def umask() -> int:
    """The process's file mode mask, which can only be read by setting it."""
    mask = os.umask(0o022)
    os.umask(mask)
    return mask
