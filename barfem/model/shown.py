"""Results and bars that show themselves: at a prompt as their command prints them, in a notebook, as figures.

What it looks like stands in `barfem.show.display`, far above. Python asks the object itself (`__repr__`), so this is
the one place where something below looks up: by name, when it is shown.
"""

from __future__ import annotations

from functools import cached_property
from importlib import import_module
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from barfem.show.figures.picture import Picture
    from barfem.show.figures.plot import Plot

__all__ = ["Shown"]

_DISPLAY = "barfem.show.display"


class Shown:
    """A record that shows itself. Dataclasses of it are made with ``repr=False``."""

    def __repr__(self) -> str:
        return str(import_module(_DISPLAY).text(self))

    def _repr_html_(self) -> str:
        return str(import_module(_DISPLAY).html(self))

    @property
    def plots(self) -> tuple[str, ...]:
        """Names of the figures that there are numbers for."""
        return tuple(picture.slug for picture in self._pictures)

    def plot(self, name: str | None = None, *, size: Literal["wide", "narrow"] = "wide") -> Plot:
        """A figure: shown by a notebook, or saved with its `save`. Nothing is solved again for it.

        Parameters
        ----------
        name
            One of `plots`; without it, the first.
        size
            "wide" for a page or a screen, "narrow" for a column or a telephone.

        Raises
        ------
        InputError
            No such figure, no such size, or nothing to draw from.
        """
        found: Plot = import_module(_DISPLAY).plot_of(self._pictures, name, size=size)
        return found

    @cached_property
    def _pictures(self) -> tuple[Picture, ...]:
        found: tuple[Picture, ...] = import_module(_DISPLAY).pictures(self)
        return found

    def __getstate__(self) -> dict[str, Any]:
        # Drawings do not pickle.
        return {key: value for key, value in self.__dict__.items() if key != "_pictures"}
