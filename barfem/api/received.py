"""Bars that came back, for the keyboard: what `barfem inspect` finds."""

from __future__ import annotations

import os

from barfem.model.errors import InputError
from barfem.model.given import one_of, path, takes
from barfem.model.read import AnyBar, as_bar
from barfem.vendor import inspect
from barfem.vendor.inspect_reading import read_inspection

__all__ = ["inspect_bars"]


@takes(measured=path("the path of an inspection CSV file."), fit=one_of(("function", "points")))
def inspect_bars(
    bar: AnyBar,
    *measured: str | os.PathLike[str],
    fit: str = "function",
    any_revision: bool = False,
) -> inspect.Inspection:
    """Judge bars that came back, as `barfem inspect`: deviations mm and deg, strength MPa, rates N/mm.

    Parameters
    ----------
    bar
        The drawing: the path of a bar file, or a bar that was read.
    measured
        Paths of inspection CSV files.
    fit
        Deviations in "function" (datums of the mounts) or by all "points".
    any_revision
        Read files of another drawing or revision.

    Raises
    ------
    InputError
        No file, or a wrong one; the message names line, column and value.
    """
    if not measured:  # as of a pattern that fits no file: of no bars nothing would be wrong
        raise InputError("no file is given.", where="measured", expected="the path of an inspection CSV file.")
    drawn = as_bar(bar)
    files = [read_inspection(path, drawn, any_revision=any_revision) for path in measured]
    return inspect.inspect_bars(drawn, files, fit=fit)
