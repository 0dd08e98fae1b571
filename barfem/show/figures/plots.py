"""Pictures of life as files in a folder, PNG or SVG: what `--plots` writes.

Every command asks for the names of its files, so matplotlib is loaded when one is drawn, not before.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from barfem.model.errors import InputError
from barfem.show.output import check_output_folder, check_output_path, write_whole

if TYPE_CHECKING:
    from barfem.show.figures.picture import Picture

__all__ = ["FORMATS", "SLUGS", "check_plots_folder", "rendered", "write_plots"]

FORMATS = ("png", "svg")
# Names of all files that `--plots` may write, whatever there is to be drawn.
SLUGS = ("haigh-diagram", "stress-life-diagram", "damage-by-block", "damage-along-the-bar", "predicted-over-measured")

_OPTION = "--plots"


def check_plots_folder(path: str | Path, *, kind: str, inputs: Iterable[str | Path] = ()) -> Path:
    """Refuse, before any work is done, a folder that could not be made or written to, or files that are inputs.

    Raises
    ------
    InputError
        As `check_output_folder` and `check_output_path`.
    """
    folder = check_output_folder(path, option=_OPTION)
    if folder.is_dir():
        for slug in SLUGS:
            check_output_path(folder / f"{slug}.{kind}", option=_OPTION, inputs=inputs)
    return folder


def rendered(pictures: Sequence[Picture], kind: str) -> list[tuple[str, str | bytes]]:
    """File name and content of each picture."""
    from barfem.show.figures import render

    return [
        (f"{picture.slug}.{kind}", render.svg(picture) if kind == "svg" else render.png(picture))
        for picture in pictures
    ]


def write_plots(
    folder: Path, pictures: Sequence[Picture], *, kind: str, inputs: Iterable[str | Path] = ()
) -> list[Path]:
    """Draw all, then make the folder and write each file whole; the files written.

    `inputs` are files that were read, which are never written onto.

    Raises
    ------
    InputError
        The folder or the disk refuses, or a picture would go onto an input.
    """
    files, read = rendered(pictures, kind), list(inputs)
    if folder.is_dir():
        for name, _ in files:
            check_output_path(folder / name, option=_OPTION, inputs=read)
    try:
        folder.mkdir(exist_ok=True)
    except OSError as error:
        raise InputError(
            f"{folder} could not be made: {error.strerror or error}.", where=_OPTION, expected="a writable folder."
        ) from error
    for name, content in files:
        write_whole(folder / name, content, option=_OPTION)
    return [folder / name for name, _ in files]
