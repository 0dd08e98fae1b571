"""A figure of a result, for a notebook, a file, or a closer look with matplotlib."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from barfem.model.errors import InputError

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from barfem.show.figures.picture import Picture

__all__ = ["Plot", "plot_of"]


class Plot:
    """One figure. It shows itself in a notebook; `caption` says what a reader needs to read it. Units
    stand on its axes.

    Parameters
    ----------
    picture
        What to draw, from `barfem.show.figures`.
    size
        "wide" for a page or a screen, "narrow" for a column or a telephone.
    """

    def __init__(self, picture: Picture, *, size: Literal["wide", "narrow"] = "wide") -> None:
        self._picture = picture
        self._size = size

    @property
    def title(self) -> str:
        """What the figure is called, in a few words."""
        return self._picture.title

    @property
    def caption(self) -> str:
        """What a reader needs to read it; units stand on the axes."""
        return self._picture.caption

    @property
    def description(self) -> str:
        """What the figure shows, in words, for those who cannot see it."""
        return self._picture.alt

    def figure(self) -> Figure:
        """The matplotlib figure, to be changed at will; lengths in it have their units on the axes."""
        from barfem.show.figures import style

        with style.context(self._size):
            return self._picture.draw(self._size)

    def save(self, path: str | os.PathLike[str]) -> Path:
        """Write the figure to a file, whole or not at all, and return its path.

        Parameters
        ----------
        path
            A name that ends in .svg or .png. A figure that is there is replaced.

        Raises
        ------
        InputError
            Another ending, no such folder, or a folder that cannot be written to.
        """
        from barfem.show.figures.render import png, svg
        from barfem.show.output import write_whole

        kind = Path(path).suffix.lower()
        if kind not in (".svg", ".png"):
            raise InputError(
                f"{path} is no name of a figure.", where="path", expected="a name that ends in .svg or .png."
            )
        content: str | bytes = svg(self._picture, self._size) if kind == ".svg" else png(self._picture, self._size)
        return write_whole(path, content, option="path")

    def _repr_svg_(self) -> str:
        from barfem.show.figures.render import svg

        return svg(self._picture, self._size)

    def __repr__(self) -> str:
        return f"{self.title}. {self.caption}"


def plot_of(pictures: tuple[Picture, ...], name: str | None, *, size: Any) -> Plot:
    """The figure called `name` among `pictures`, the first without a name.

    Raises
    ------
    InputError
        No such figure, or no such size.
    """
    from barfem.model.nearest import did_you_mean

    if size not in ("wide", "narrow"):
        raise InputError(f"there is no size {size!r}.", where="size", expected='"wide" or "narrow".')
    by_name = {picture.slug: picture for picture in pictures}
    chosen = next(iter(by_name)) if name is None else name
    if chosen not in by_name:
        raise InputError(
            f"this result has no figure {chosen!r}.{did_you_mean(str(chosen), by_name)}",
            where="plot",
            expected=", ".join(by_name) + ".",
        )
    return Plot(by_name[chosen], size=size)
