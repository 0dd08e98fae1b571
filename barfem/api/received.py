"""Bars that came back, for the keyboard: what `barfem inspect` finds, with rows and printed text."""

from __future__ import annotations

import io
import os
from dataclasses import fields
from typing import Any

from barfem.api.studies import _Printed
from barfem.model.bar import Bar
from barfem.model.read import read_bar
from barfem.vendor.inspect import Inspection
from barfem.vendor.inspect import inspect_bars as _inspect_bars
from barfem.vendor.inspect_json import inspection_json
from barfem.vendor.inspect_lot import Lot, lot_of
from barfem.vendor.inspect_reading import read_inspection

__all__ = ["ReceivedBars", "inspect_bars"]


class ReceivedBars(_Printed, Inspection):
    """Bars as received, each with verdict, reasons, faults and its own check; `lot` in numbers.

    Units stand in the names: mm, deg, MPa, N/mm.
    """

    lot: Lot

    def records(self) -> list[dict[str, Any]]:
        """A row a bar: verdict, faults, deviations [mm], strength [MPa], rate [N/mm], margin, life [cycles]."""
        rows = []
        for bar in inspection_json(self, None, None)["bars"]:
            came = bar["as_received"] or {}
            fit = bar["fit"] or {}
            rows.append(
                {
                    "bar": bar["bar"],
                    "verdict": bar["verdict"],
                    "faults": "; ".join(fault["words"] for fault in bar["faults"]),
                    "largest_mm": fit.get("largest_mm"),
                    "tip_mismatch_mm": bar["tip_mismatch_mm"],
                    "strength_MPa": bar["strength_MPa"],
                    **{
                        key: came.get(key)
                        for key in (
                            "preload_N",
                            "rate_N_per_mm",
                            "yield_margin",
                            "safety_factor_at_target",
                            "life_at_survival_cycles",
                            "passes",
                        )
                    },
                }
            )
        return rows

    def _print(self, stream: io.StringIO) -> None:
        from barfem.show.inspect import print_inspection

        print_inspection(self, self.lot, None, stream)


def inspect_bars(
    bar: Bar | str | os.PathLike[str],
    *measured: str | os.PathLike[str],
    fit: str = "function",
    any_revision: bool = False,
) -> ReceivedBars:
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
        A file is wrong; the message names line, column and value.
    """
    drawn = bar if isinstance(bar, Bar) else read_bar(bar)
    files = [read_inspection(path, drawn, any_revision=any_revision) for path in measured]
    found = _inspect_bars(drawn, files, fit=fit)
    out = ReceivedBars(**{each.name: getattr(found, each.name) for each in fields(Inspection)})
    # The record is frozen; what belongs to it is set once, here.
    object.__setattr__(out, "lot", lot_of(drawn, found))
    return out
