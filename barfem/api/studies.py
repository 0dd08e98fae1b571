"""Studies of many bars for the keyboard: the commands' own, with flat rows and their printed text in a notebook."""

from __future__ import annotations

import io
import os
from collections.abc import Callable, Sequence
from dataclasses import fields
from typing import Any, Literal

from barfem.api.bars import Bar, shown
from barfem.model.bar import Bar as ModelBar
from barfem.model.bar import Section
from barfem.model.errors import InputError
from barfem.study.compare import Comparison as StudyComparison
from barfem.study.compare import compare as _compare
from barfem.study.holes import HolePlan as StudyHolePlan
from barfem.study.holes import place_holes as _place_holes
from barfem.study.json_values import KEYS, flat, in_nested
from barfem.study.sections import parse_section
from barfem.study.tolerance import tolerance as _tolerance
from barfem.study.tolerance_result import ToleranceResult

__all__ = ["Comparison", "HolePlan", "Tolerance", "compare", "place_holes", "tolerance"]

AnyBar = ModelBar | str | os.PathLike[str]


class _Printed:
    """Shows what the command prints, at a prompt and in a notebook."""

    def _print(self, stream: io.StringIO) -> None:
        raise NotImplementedError

    def __repr__(self) -> str:
        stream = io.StringIO()
        self._print(stream)
        return stream.getvalue().rstrip()

    def _repr_html_(self) -> str:
        from html import escape

        return f"<pre>{escape(repr(self))}</pre>"


class Comparison(_Printed, StudyComparison):
    """Bars side by side: `views[0]` as they are, then views with each made equal; `facts` say what there is to see.

    Units stand in the keys of its rows: N/mm, MPa, kg, cycles.
    """

    def records(self) -> list[dict[str, Any]]:
        """A row for each view, bar and hole setting: mass [kg], rate [N/mm], stress [MPa], margin, life [cycles]."""
        rows = []
        for view in self.to_json_dict()["views"]:
            for bar in view["bars"]:
                head = {"view": view["view"], "bar": bar["bar"]}
                head |= {key: bar[key] for key in ("shape", "diameter_mm", "wall_mm", "mass_kg")}
                rows += [head | flat(setting) for setting in bar["settings"]]
        return rows

    def _print(self, stream: io.StringIO) -> None:
        from barfem.show.compare import print_comparison

        print_comparison(self, stream)


class HolePlan(_Printed, StudyHolePlan):
    """Holes in equal percent steps: `from_tip_mm` are their places, `problems` why they do not fit."""

    @property
    def drilled(self) -> Bar:
        """The bar with these holes.

        Raises
        ------
        InputError
            They do not fit; `problems` says why, and `nearest` is the plan that does.
        """
        if self.bar is None:
            raise InputError(
                " ".join(self.problems) or "the holes do not fit.", where="place_holes", expected="holes that fit."
            )
        return shown(self.bar)

    def records(self) -> list[dict[str, Any]]:
        """A row a hole: place [mm], rate wanted and found [N/mm], stress [MPa], margin, life [cycles]."""
        return [flat(row) for row in self.to_json_dict()["holes"]]

    def _print(self, stream: io.StringIO) -> None:
        from barfem.show.holes import print_holes

        print_holes(self, stream)


class Tolerance(_Printed, ToleranceResult):
    """How far bars of one drawing differ, at every hole setting."""

    def records(self, rows: Literal["spreads", "chances", "shares"] = "spreads") -> list[dict[str, Any]]:
        """Flat rows for ``pandas.DataFrame``; the unit stands in `number` (`rate_N_per_mm`).

        Parameters
        ----------
        rows
            "spreads": a row for each number at each hole setting, with the bar as drawn, mean, deviation, and the
            range of 95 % of bars. "chances": of missing each target. "shares": which band the variance comes from.

        Raises
        ------
        InputError
            There are no such rows.
        """
        kinds = {"spreads": "spreads", "chances": "chances_of_missing", "shares": "shares"}
        if rows not in kinds:
            raise InputError(f"there are no rows of {rows!r}.", where="rows", expected=", ".join(kinds) + ".")
        found = []
        for record in self.settings:
            setting = record.to_json_dict(self.bands)
            head = {key: setting[key] for key in ("left", "right", "case")}
            names = {name: name for name in record.chances} if rows == "chances" else KEYS
            for path in names.values():
                values = in_nested(setting[kinds[rows]], path)
                if values is None:
                    continue
                number = head | {"number": path.replace(".", "_")}
                found += [number | flat(each) for each in (values["bands"] if rows == "shares" else [values])]
        return found

    def _print(self, stream: io.StringIO) -> None:
        from barfem.show.tolerance import print_tolerance

        print_tolerance(self, stream)


def compare(
    bars: AnyBar | Sequence[AnyBar],
    sections: Sequence[str | Section] = (),
    *,
    equal: Sequence[Literal["rate", "stress", "mass"]] = (),
    hole: str | None = None,
    case: str | None = None,
    flats: Literal["scale", "keep"] = "scale",
    bent: str | None = None,
) -> Comparison:
    """Bars side by side: whole bars, and other sections on the centreline of the first.

    Parameters
    ----------
    bars
        A bar or several, or their files. The first is what the others are held against.
    sections
        Sections to put on the first bar, such as "round 24" or "tube 28x4.5" (outside diameter x wall, mm).
    equal
        Each adds a view in which every bar is resized, a tube's wall in proportion, until its rate, stress or mass is
        the first bar's.
    hole
        Name of the hole at which they are made equal; by default the first bar's stiffest.
    case
        "roll", "one-wheel" or "parallel": that load case alone.
    flats
        "scale": flats go with the section they are made from; "keep": they stay.
    bent
        "before-hardening" or "after-hardening", for tubes where the bar file does not say.

    Raises
    ------
    InputError
        Nothing to compare with, or a section that the bar cannot have.
    """
    several = [bars] if isinstance(bars, ModelBar | str | os.PathLike) else list(bars)
    found = _compare(
        [_read(bar) for bar in several],
        [parse_section(text, where="sections") if isinstance(text, str) else text for text in sections],
        equal=equal,
        hole=hole,
        case=case,
        flats=flats,
        bent=bent,
    )
    return Comparison(**_values(found))


def place_holes(
    bar: AnyBar,
    *,
    softest_N_per_mm: float | None = None,
    stiffest_N_per_mm: float | None = None,
    count: int | None = None,
    hole_mm: float | None = None,
    case: str | None = None,
) -> HolePlan:
    """Holes for a range of rates, in equal percent steps.

    Parameters
    ----------
    bar
        A bar or its file.
    softest_N_per_mm, stiffest_N_per_mm
        Rates of the first and the last hole; by default what the room at the ends gives.
    count
        How many holes; by default as many as the bar has.
    hole_mm
        Their diameter; by default that of the first hole.
    case
        "roll" (the default), "one-wheel" or "parallel".

    Raises
    ------
    InputError
        Rates, count or diameter that cannot be.
    """
    found = _place_holes(
        _read(bar),
        softest_N_per_mm=softest_N_per_mm,
        stiffest_N_per_mm=stiffest_N_per_mm,
        count=count,
        hole_mm=hole_mm,
        case=case,
    )
    return HolePlan(**_values(found))


def tolerance(
    bar: AnyBar,
    *,
    samples: int | None = None,
    exact: bool = False,
    seed: int = 1,
    holes: Sequence[str] | None = None,
    case: str | None = None,
    workers: int = 1,
    progress: Callable[[int, int], None] | None = None,
) -> Tolerance:
    """How many bars differ that lie within the drawing's bands: a few hundred solved, a fit for the others.

    Bands are those of [tolerances] in the bar file, else defaults by standards, in mm, deg or %.

    Parameters
    ----------
    bar
        A bar or its file.
    samples
        Bars to answer about; by default a million, or 2048 with `exact`.
    exact
        Make, solve and judge every bar.
    seed
        Another seed, other bars; the same seed, the same numbers.
    holes
        Names of holes to judge; by default all.
    case
        "roll", "one-wheel" or "parallel": that load case alone.
    workers
        Processes on this machine.
    progress
        Called with bars done and bars in all.

    Raises
    ------
    InputError
        Bands that cannot be, nothing that varies, or too few samples.
    BarfemError
        The bar as drawn has no equilibrium within its travel.
    """
    found = _tolerance(
        _read(bar), samples=samples, exact=exact, seed=seed, holes=holes, case=case, workers=workers, progress=progress
    )
    return Tolerance(**_values(found))


def _read(bar: AnyBar) -> ModelBar:
    from barfem.model.read import read_bar

    return bar if isinstance(bar, ModelBar) else read_bar(bar)


def _values(record: Any) -> dict[str, Any]:
    return {item.name: getattr(record, item.name) for item in fields(record)}
