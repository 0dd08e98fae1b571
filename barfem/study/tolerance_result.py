"""What a tolerance study finds, as immutable records."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field
from typing import Any, ClassVar, Literal

from barfem.check.hole_names import pair_name
from barfem.model.bar import Bar
from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.plain import NOT_IN_JSON, Json, json_as, json_key, plain
from barfem.model.shown import Shown
from barfem.study.bands import Band
from barfem.study.json_values import KEYS, flat, in_nested, nested
from barfem.study.sobol import Shares
from barfem.study.tolerance_summary import Chance, Spread

__all__ = ["NUMBERS", "Mismatch", "SettingTolerance", "SolvedBars", "ToleranceResult"]

NUMBERS = {
    "rate_N_per_mm": "rate",
    "peak_MPa": "stress",
    "yield_margin": "yield margin",
    "safety_factor_at_target": "safety factor",
    "life_at_survival_cycles": "life",
}
"""What spreads, and how it is called; shares are those of all but the life, whose share is the safety factor's."""


@frozen
class Mismatch:
    """Left against right of bars whose sides err independently.

    `level_mm` is how much the left joint is higher than the right one, more than drawn; `preload_N` what that puts into
    links of equal length if they are not adjusted (rate x level / 2); `force_percent` by how much the left link carries
    more than the right one at full travel, in % of their mean (NaN beside roll).
    """

    level_mm: Spread
    preload_N: Spread
    force_percent: Spread


def _by_path(values: Mapping[str, Any]) -> dict[str, Any]:
    """By the check's keys for what the names of `NUMBERS` mean: peak.von_mises_MPa."""
    return nested({KEYS[name]: value for name, value in values.items()})


@frozen
class SettingTolerance:
    """One hole setting.

    `spreads` are by the names of `NUMBERS`. `chances` are those of missing: "rate" (its band), "yield_margin", "life"
    (at survival, the target cycles), "any" (any target of the check, or the rate's band), and "breaking": of one bar
    to break before the target cycles, by its dimensions and the steel's scatter together. `shares` are by the names of
    `NUMBERS`, life excepted, their arrays in the order of `bands`, keys of [tolerances].
    """

    left: str
    right: str
    case: str
    spreads: Mapping[str, Spread] = field(metadata=json_as(_by_path))
    chances: Mapping[str, Chance] = field(metadata=json_key("chances_of_missing"))
    shares: Mapping[str, Shares] = field(metadata=NOT_IN_JSON)
    mismatch: Mismatch
    bands: tuple[str, ...] = field(metadata=NOT_IN_JSON)

    _json_also: ClassVar[Mapping[str, str]] = {"shares": "shares_of_bands"}

    @property
    def hole(self) -> str:
        return pair_name(self.left, self.right)

    @property
    def shares_of_bands(self) -> dict[str, Any]:
        """Shares by the check's keys, of each band under its key, the largest first."""
        return _by_path({name: _shares_json(shares, self.bands) for name, shares in self.shares.items()})


@frozen
class SolvedBars:
    """What the numbers rest on: `count` bars made, solved and judged.

    `errors` are a fit's over such of them as it has not seen, RMS over the number's standard deviation, by the names of
    `NUMBERS`, of the worst hole setting; empty where there is no fit. `by_fit` says that the bars answered about are
    the fit's; else they are the solved ones, and `no_fit_because` is why where `asked` were more.
    """

    count: int
    errors: Mapping[str, float]
    by_fit: bool
    asked: int
    no_fit_because: str = ""


def _bands_json(bands: Sequence[Band]) -> list[dict[str, Any]]:
    of_a_band, of_a_dimension = ("key", "title", "unit", "source", "given"), ("where", "low", "high", "distribution")
    return [
        {name: getattr(band, name) for name in of_a_band}
        | {"dimensions": [{name: getattr(v, name) for name in of_a_dimension} for v in band.variables]}
        for band in bands
    ]


def _unsolved_json(unsolved: Mapping[str, int]) -> list[dict[str, Any]]:
    return [{"bars": count, "problem": problem} for problem, count in unsolved.items()]


@frozen(repr=False)
class ToleranceResult(Shown, Json):
    """Everything a study found, of `bars` bars.

    `unsolved` counts bars, of those solved, by why they could not be made or solved; each counts as a miss.
    `any_hole` are the chances that a bar misses at any of its hole settings. `governing` is the number of the setting
    with the least safety factor as drawn. `left_out` says which hole settings cannot follow their travel as drawn, and
    are in none of this.
    """

    bar: Bar = field(metadata=NOT_IN_JSON)
    bands: tuple[Band, ...] = field(metadata=json_as(_bands_json))
    seed: int
    bars: int
    solved: SolvedBars = field(metadata=NOT_IN_JSON)
    rate_band: tuple[float, float, bool] = field(metadata=json_as(lambda band: band[:2]))
    settings: tuple[SettingTolerance, ...]
    any_hole: Mapping[str, Chance]
    mass_kg: Spread
    unsolved: Mapping[str, int] = field(metadata=json_as(_unsolved_json))
    governing: int = field(metadata=NOT_IN_JSON)
    notes: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()

    _json_also: ClassVar[Mapping[str, str]] = {
        "name": "bar.name",
        "source": "bar.source",
        "bars_asked": "solved.asked",
        "bars_solved": "solved.count",
        "by_fit": "solved.by_fit",
        "fit_error_in_deviations": "fit_error",
        "fit_not_used": "fit_not_used",
    }

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
            setting = plain(record)
            head = {key: setting[key] for key in ("left", "right", "case")}
            for path in record.chances if rows == "chances" else KEYS.values():
                values = in_nested(setting[kinds[rows]], path)
                if values is None:
                    continue
                number = head | {"number": path.replace(".", "_")}
                found += [number | flat(each) for each in (values["bands"] if rows == "shares" else [values])]
        return found

    @property
    def fit_error(self) -> dict[str, Any]:
        """The fit's error over the standard deviation, by the check's keys."""
        return _by_path(self.solved.errors)

    @property
    def fit_not_used(self) -> str | None:
        """Why the fit is not used; None where it is."""
        return self.solved.no_fit_because or None


def _shares_json(shares: Shares, bands: tuple[str, ...]) -> dict[str, Any]:
    of_a_band = ("first", "first_interval", "total", "total_interval")
    found: dict[str, Any] = {name: getattr(shares, name) for name in ("points", "constant", "resolved", "alone")}
    found["alone_interval"] = shares.alone_interval
    found["bands"] = [
        {"key": bands[i]} | {name: getattr(shares, name)[i] for name in of_a_band} for i in shares.order.tolist()
    ]
    return found
