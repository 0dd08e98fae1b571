"""A package that barfem can do without and that is not installed: the line that installs it where barfem looks."""

from __future__ import annotations

import shlex
import sys

__all__ = ["install_line"]


def install_line(package: str) -> str:
    """What to type, for the Python that runs barfem.

    README's folder `.venv` has no pip of its own: a bare `pip install` would go elsewhere. And not for barfem with its
    extra: where pip does not find barfem it asks an index, in which the name is nobody's or a stranger's.
    """
    return f"python3 -m pip --python {shlex.quote(sys.executable)} install {package}"
