"""A folder that is replaced whole: written beside its place, then swapped for what was there, of which nothing stays.

Files put one by one into a folder that holds an older set would, where a disk fills or a process ends between two of
them, leave a folder of both: a drawing of one revision beside the bend data of another.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
from dataclasses import dataclass
from pathlib import Path

from barfem.model.whole_file import LONGEST, umask

__all__ = ["WholeFolder", "can_be_swapped"]


def can_be_swapped(folder: Path) -> bool:
    """Whether a folder can be renamed: its parent can be written to, and it is nobody's place to stand or to mount."""
    real = Path(os.path.realpath(folder))
    stands_in_it = Path.cwd().is_relative_to(real)
    return os.access(real.parent, os.W_OK | os.X_OK) and not stands_in_it and not os.path.ismount(real)


@dataclass
class WholeFolder:
    """A folder beside the place that it is to have; `place` gives it that place, `discard` leaves no trace of it."""

    temporary: Path
    target: Path
    option: str

    @classmethod
    def beside(cls, target: Path, option: str) -> WholeFolder:
        """An empty folder, on the file system of its place."""
        real = Path(os.path.realpath(target))  # through a link, so that the link stays one
        made = Path(tempfile.mkdtemp(prefix=f".{real.name[:LONGEST]}.", suffix=".part", dir=real.parent))
        if real.is_dir():
            shutil.copymode(real, made)
        else:
            made.chmod(0o777 & ~umask())
        return cls(made, real, option)

    def place(self) -> None:
        """Swap it in; where that fails, what was there is back."""
        if not self.target.is_dir():
            os.rename(self.temporary, self.target)
            return
        old = self.temporary.with_suffix(".old")
        os.rename(self.target, old)
        try:
            os.rename(self.temporary, self.target)
        except OSError:
            os.rename(old, self.target)
            raise
        shutil.rmtree(old, ignore_errors=True)

    def discard(self) -> None:
        with contextlib.suppress(OSError):
            shutil.rmtree(self.temporary)
