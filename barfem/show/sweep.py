"""What `barfem sweep` prints, and the Parquet file it writes where pyarrow is installed."""

from __future__ import annotations

import math
from typing import Any

from rich.console import Console

from barfem.check.hole_names import pair_name
from barfem.model.errors import InputError
from barfem.model.lacking import install_line
from barfem.model.sentences import with_capital
from barfem.show.console import HEAD, print_table
from barfem.show.lives import one_life
from barfem.show.numbers import counted, ratio, whole
from barfem.show.parts import bullets, paragraph, printing, unjudged_factors_words
from barfem.show.tables import Cell, Entry, Table, column, table, words, yes_no
from barfem.study.sweep import FLAGS, NUMBERS, PLACES, SweepResult

__all__ = ["needs_pyarrow", "parquet_bytes", "print_sweep", "sweep_table"]

MOST_ROWS = 40
MOST_KEYS = 3
MOST_PROBLEMS = 5
LONGEST_PART = 12  # characters of a key in one line of a heading


def needs_pyarrow() -> None:
    """Refuse Parquet, before any work is done, where it cannot be written.

    Raises
    ------
    InputError
        pyarrow is not installed.
    """
    try:
        import pyarrow.parquet  # noqa: F401
    except ImportError as error:
        raise InputError(
            f"Parquet needs pyarrow, which is not installed ({error}).",
            where="--out",
            expected=f"{install_line('pyarrow')}; or a name that ends in .csv.",
        ) from error


def parquet_bytes(result: SweepResult) -> bytes:
    """The same columns, typed; null is no number. Keys whose values are of several kinds are text."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    arrays = {name: _array(pa, name, values) for name, values in result.columns.items()}
    sink = pa.BufferOutputStream()
    pq.write_table(pa.table(arrays), sink)
    return bytes(sink.getvalue())


def _array(pa: Any, name: str, values: list[Any]) -> Any:
    if name in NUMBERS:
        return pa.array([None if math.isnan(value) else value for value in values], pa.float64())
    if name in FLAGS:
        return pa.array(values, pa.bool_())
    if name == "point":
        return pa.array(values, pa.int64())
    if name in ("left", "right", "case", "problem", *PLACES):
        return pa.array(values, pa.string())
    if all(isinstance(value, int | float) and not isinstance(value, bool) for value in values):
        return pa.array([float(value) for value in values], pa.float64())
    if all(isinstance(value, bool) for value in values):
        return pa.array(values, pa.bool_())
    return pa.array([str(value) for value in values], pa.string())


@printing
def print_sweep(console: Console, result: SweepResult) -> None:
    """Print the table; of many rows the first ones."""
    paragraph(console, result.bar.name, style=HEAD)
    paragraph(console, f"{counted(result.points, 'bar')}, {counted(result.rows, 'row')}.")
    console.print()
    made = sweep_table(result)
    print_table(console, made)
    shown = len(made.rows)
    if shown < result.rows:
        paragraph(console, f"... and {whole(result.rows - shown)} rows more; --out FILE.csv writes them all.")
    if len(result.keys) > MOST_KEYS:
        paragraph(console, f"Not shown: {', '.join(key.key for key in result.keys[MOST_KEYS:])}.")
    console.print()
    duty = result.bar.duty
    judged = duty.target_cycles_given or any(key.key.startswith("duty") for key in result.keys)
    factors = "safety factor: at the target cycles" if judged else unjudged_factors_words(duty.target_cycles)
    paragraph(console, f"Life: cycles at survival. Stress: greatest von Mises. {with_capital(factors)}.")
    _problems(result, console)


def _problems(result: SweepResult, console: Console) -> None:
    if not result.unsolved:
        return
    paragraph(
        console,
        f"{whole(result.unsolved)} of {whole(result.points)} could not be made, or not be solved at every hole:",
    )
    points, problems = result.columns["point"], result.columns["problem"]
    with_reason = [(point, problem) for point, problem in zip(points, problems, strict=True) if problem is not None]
    lines = [f"{point}: {problem}" for point, problem in dict.fromkeys(with_reason)]
    more = [f"... and {whole(len(lines) - MOST_PROBLEMS)} more"] if len(lines) > MOST_PROBLEMS else []
    bullets(console, [*lines[:MOST_PROBLEMS], *more])


def _heading(key: str) -> str:
    """A key over as many lines as it has parts; a long part between its words too, before the screen cuts one."""
    parts = (part if len(part) <= LONGEST_PART else part.replace("_", "_\n") for part in key.split("."))
    return ".\n".join(parts)


def sweep_table(result: SweepResult) -> Table:
    """The first rows, with the first keys."""
    columns = result.columns
    several = len({case for case in columns["case"] if case is not None}) > 1

    def first(i: int) -> bool:
        return i == 0 or columns["point"][i] != columns["point"][i - 1]

    def of_key(key: str) -> Entry:
        def cell(i: int) -> str:
            return _short(columns[key][i]) if first(i) else ""

        return column(_heading(key), "", cell, key="")

    def life_of(i: int) -> str | None:
        if columns["problem"][i] is not None:
            return None
        cycles = columns["fatigue_life_at_survival_cycles"][i]
        runout = columns["fatigue_runout_at_survival"][i]
        return one_life(cycles, runout=runout)

    def passes(i: int) -> Cell:
        return (
            yes_no(columns["passes"][i])
            if columns["problem"][i] is None
            else yes_no(False)
            if columns["left"][i] is not None
            else Cell("no bar")
        )

    return table(
        "sweep",
        "",
        range(min(result.rows, MOST_ROWS)),
        [
            words("", lambda i: str(columns["point"][i]) if first(i) else "", key="point"),
            *(of_key(key.key) for key in result.keys[:MOST_KEYS]),
            column("Hole", "", lambda i: _hole(columns["left"][i], columns["right"][i]), key=""),
            words("Case", lambda i: columns["case"][i]) if several else None,
            column("Rate", "N/mm", lambda i: columns["rate_N_per_mm"][i]),
            column("Stress", "MPa", lambda i: columns["peak_von_mises_MPa"][i], show=whole),
            column("Yield\nmargin", "", lambda i: columns["yield_margin"][i], show=ratio),
            column("Safety\nfactor", "", lambda i: columns["fatigue_safety_factor_at_target"][i], show=ratio),
            column("Life", "", life_of),
            column("Passes", "", passes),
        ],
    )


def _short(value: Any) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)


def _hole(left: str | None, right: str | None) -> str | None:
    return None if left is None or right is None else pair_name(left, right)
