"""What `barfem sweep` prints, and the files it writes: CSV, or Parquet where pyarrow is installed."""

from __future__ import annotations

import csv
import io
import math
from typing import Any, TextIO

from rich.console import Console

from barfem.model.errors import InputError
from barfem.show.console import HEAD, plain_table, print_table
from barfem.show.numbers import life, significant, whole
from barfem.show.parts import bullets, paragraph, passes_cell, print_whole
from barfem.study.sweep import FLAGS, NUMBERS, SweepResult

__all__ = ["csv_text", "needs_pyarrow", "parquet_bytes", "print_sweep"]

MOST_ROWS = 40
MOST_KEYS = 3
MOST_PROBLEMS = 5


def csv_text(result: SweepResult) -> str:
    """A header and a line for each row; an empty field is no number. Numbers keep all their digits."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(result.columns)
    for i in range(result.rows):
        writer.writerow([_field(column[i]) for column in result.columns.values()])
    return out.getvalue()


def _field(value: Any) -> Any:
    if value is None or (isinstance(value, float) and not math.isfinite(value)):
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    return value


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
            expected="pip install 'barfem[parquet]', or a name that ends in .csv.",
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
    if name in ("left", "right", "case", "weakest_place", "problem"):
        return pa.array(values, pa.string())
    if all(isinstance(value, int | float) and not isinstance(value, bool) for value in values):
        return pa.array([float(value) for value in values], pa.float64())
    if all(isinstance(value, bool) for value in values):
        return pa.array(values, pa.bool_())
    return pa.array([str(value) for value in values], pa.string())


def print_sweep(result: SweepResult, stream: TextIO | None = None, *, written: str | None = None) -> None:
    """Print the table on `stream`, standard output by default; of many rows the first ones. `written` is the file."""
    print_whole(lambda console: _write(result, console, written), stream)


def _write(result: SweepResult, console: Console, written: str | None) -> None:
    paragraph(console, result.bar.name, style=HEAD)
    paragraph(console, f"{whole(result.points)} bars, {whole(result.rows)} rows.")
    console.print()
    columns, shown = result.columns, min(result.rows, MOST_ROWS)
    keys = [key.key for key in result.keys][:MOST_KEYS]
    several = len({case for case in columns["case"] if case is not None}) > 1
    table = plain_table(
        "",
        *(key.replace(".", ".\n") for key in keys),
        "Hole",
        *(["Case"] if several else []),
        "Rate\nN/mm",
        "Stress\nMPa",
        "Yield\nmargin",
        "Safety\nfactor",
        "Life",
        "Passes",
    )
    last = None
    for i in range(shown):
        first, last = columns["point"][i] != last, columns["point"][i]
        row: list[Any] = [str(last) if first else ""]
        row += [_short(columns[key][i]) if first else "" for key in keys]
        if columns["problem"][i] is not None:
            table.add_row(*row, *["-"] * (len(table.columns) - len(row) - 1), "no bar")
            continue
        row += [_hole(columns["left"][i], columns["right"][i]), *([columns["case"][i]] if several else [])]
        row += [
            significant(columns["rate_N_per_mm"][i]),
            whole(columns["peak_MPa"][i]),
            significant(columns["yield_margin"][i]),
            significant(columns["safety_factor_at_target"][i]),
            _life(columns["life_at_survival_cycles"][i], columns["runout_at_survival"][i]),
            passes_cell(columns["passes"][i]),
        ]
        table.add_row(*row)
    print_table(console, table)
    if shown < result.rows:
        paragraph(console, f"... and {whole(result.rows - shown)} rows more; --out FILE.csv writes them all.")
    if len(result.keys) > MOST_KEYS:
        paragraph(console, f"Not shown: {', '.join(key.key for key in result.keys[MOST_KEYS:])}.")
    console.print()
    paragraph(console, "Life: cycles at survival. Stress: greatest von Mises. Safety factor: at the target cycles.")
    _problems(result, console)
    if written is not None:
        paragraph(console, f"Written: {written}")


def _problems(result: SweepResult, console: Console) -> None:
    if not result.unsolved:
        return
    paragraph(console, f"{whole(result.unsolved)} of {whole(result.points)} could not be made or solved:")
    points, problems = result.columns["point"], result.columns["problem"]
    told = {point: problem for point, problem in zip(points, problems, strict=True) if problem is not None}
    lines = [f"{point}: {problem}" for point, problem in told.items()]
    more = [f"... and {whole(len(lines) - MOST_PROBLEMS)} more"] if len(lines) > MOST_PROBLEMS else []
    bullets(console, [*lines[:MOST_PROBLEMS], *more])


def _short(value: Any) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)


def _hole(left: str, right: str) -> str:
    return left if left == right else f"{left}/{right}"


def _life(cycles: float, runout: bool) -> str:
    return "runout" if runout else life(cycles) if math.isfinite(cycles) else "none"
