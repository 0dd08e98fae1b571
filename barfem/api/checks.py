"""The check for the keyboard: the same result as the command's, with rows, figures and a short table of its own."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import fields
from typing import TYPE_CHECKING, Any, Literal

from barfem.check.api import check_with_states
from barfem.check.result import CheckResult
from barfem.check.solved import Solved
from barfem.check.timing import Timing
from barfem.model.bar import Bar as ModelBar

if TYPE_CHECKING:
    from barfem.api.plots import Plot
    from barfem.show.figures.picture import Picture

__all__ = ["Check", "check_bar"]


class Check(CheckResult):
    """What `check_bar` found: every hole setting's rate (N/mm), loads (N), stress (MPa), margin and life (cycles).

    `settings` holds a record a hole setting; `passes`, `governing_for_stress` and `governing_for_life` say what counts
    most; `to_json_dict` is the whole of it, as the command's ``--json`` writes it. `barfem explain KEY` says what any
    number is. In a notebook a check shows its verdict and its table of hole settings.
    """

    _asked: tuple[ModelBar | str | os.PathLike[str], dict[str, Any]]
    _solved: Solved
    _pictures: tuple[Picture, ...]

    def records(self, rows: str = "settings") -> list[dict[str, Any]]:
        """The result as flat rows, for ``pandas.DataFrame``; units stand in the keys (`_MPa`, `_N_per_mm`).

        Parameters
        ----------
        rows
            "settings": a row a hole setting. Or "places", "states", "mount_reactions", "lives", "blocks",
            "critical_planes": a row for each of them at every hole setting.

        Raises
        ------
        InputError
            There are no such rows.
        """
        from barfem.api.records import records

        return records(self, rows)

    @property
    def plots(self) -> tuple[str, ...]:
        """Names of the figures that this result has numbers for. Drawn from what the check solved."""
        return tuple(picture.slug for picture in self._drawn())

    def plot(self, name: str | None = None, *, size: Literal["wide", "narrow"] = "wide") -> Plot:
        """A figure of this check: shown by a notebook, or saved with its `save`.

        Parameters
        ----------
        name
            One of `plots`; without it, the bar at full travel.
        size
            "wide" for a page or a screen, "narrow" for a column or a telephone.

        Raises
        ------
        InputError
            No such figure, or no such size.
        """
        from barfem.api.plots import plot_of

        return plot_of(self._drawn(), name, size=size)

    def _drawn(self) -> tuple[Picture, ...]:
        if "_pictures" not in self.__dict__:
            from barfem.show.figures.catalogue import all_pictures
            from barfem.show.figures.data import FigureData

            bar, options = self._asked
            solved = self.__dict__.get("_solved")
            data = FigureData(*check_with_states(bar, **options)) if solved is None else FigureData(self, solved)
            object.__setattr__(self, "_pictures", all_pictures(data))
        return self._pictures

    def __getstate__(self) -> dict[str, Any]:
        # Neither drawings nor factorised solids pickle; a copy from a pickle solves once for its figures.
        return {key: value for key, value in self.__dict__.items() if key not in ("_pictures", "_solved")}

    def __repr__(self) -> str:
        from barfem.api.display import check_text

        return check_text(self)

    def _repr_html_(self) -> str:
        from barfem.api.display import check_html

        return check_html(self)


def check_bar(
    bar: ModelBar | str | os.PathLike[str],
    *,
    case: str | None = None,
    mixed: bool = False,
    timing: Timing | None = None,
    mean_stress: str | None = None,
    critical_plane: bool = False,
    quick: bool = False,
    model: Literal["beam", "solid"] = "beam",
    refine: float = 1.0,
    vtu: str | os.PathLike[str] | None = None,
    tell: Callable[[str], None] | None = None,
) -> Check:
    """Check a bar: every hole setting's rate, loads, stress, margin and life, and whether it meets its targets.

    Units stand in the names of the result's numbers: N, mm, MPa, N/mm, deg, N m, cycles.

    Parameters
    ----------
    bar
        A bar, or the path of a bar file.
    case
        "roll", "one-wheel" or "parallel" judges that load case alone. None judges roll, and the others as well where
        the bar file gives travel.one_wheel or travel.parallel.
    mixed
        Adds every unequal pair of holes.
    timing
        Collects the seconds of each stage.
    mean_stress
        Mean-stress rule of lives: "goodman" (the default), "gerber", "soderberg", "morrow", "swt" or "walker".
    critical_plane
        Adds Findley's critical plane and the largest principal stress, over one-wheel states as well.
    quick
        Bends by closed forms instead of their three-dimensional fields: unsafe for bent tubes, and a warning says so.
    model
        "beam", or "solid": the whole bar as a swept solid under the beam's joint forces, which takes seconds.
    refine
        Of the solid: 2 halves its cells.
    vtu
        File for the solid's displacements [mm] and stresses [MPa] at the hole setting with the least yield margin.
    tell
        Called with what the solid is at.

    Raises
    ------
    InputError
        If the bar file, the case or the rule cannot be right.
    BarfemError
        Where a hole setting has no equilibrium within its travel; the message names hole and travel.
    """
    options = {
        "case": case,
        "mixed": mixed,
        "mean_stress": mean_stress,
        "critical_plane": critical_plane,
        "quick": quick,
        "model": model,
        "refine": refine,
    }
    found, solved = check_with_states(bar, timing=timing, vtu=vtu, tell=tell, **options)  # type: ignore[arg-type]
    check = Check(**{item.name: getattr(found, item.name) for item in fields(found)})
    object.__setattr__(check, "_asked", (bar, options))
    object.__setattr__(check, "_solved", solved)
    return check
