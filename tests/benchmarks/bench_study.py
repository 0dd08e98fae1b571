"""How fast many bars are: `python -m tests.benchmarks.bench_study` from the repository's root.

Prints, each beside its aim:
- the evaluator, one hole setting a bar with stress and life, every bar read from its own tables: milliseconds a bar,
  how they grow with bars and with hole settings (ratios within this run), and the memory that the bars take;
- a comparison of six sections on a demo bar of three holes, reading and printing included;
- a size from a stock list of 60, and of a cranked tube from the whole list;
- what would help a bar that fails at four holes, in times of the evaluation of one such bar too.

All of it is the work of one thread, and seconds are this process's own: on an idle machine the clock's.

`--smoke` runs few bars, and holds no aim of seconds. Exit status 1 if an aim is missed.
"""

from __future__ import annotations

import argparse
import io
import sys
import time
from collections.abc import Iterator
from contextlib import redirect_stdout

from barfem.check.api import check_bar
from barfem.cli.main import main as barfem
from barfem.model.bar import Bar
from barfem.model.read import read_bar
from barfem.study.advice import advise
from barfem.study.change import change
from barfem.study.evaluate import evaluate
from barfem.study.size import size_from_stock
from barfem.study.stock import Stock, read_stock
from tests.benchmarks.bench_check import ROOT, Report, peak_MB

SOLID, TUBE = ROOT / "geometries/pickup-front-solid.toml", ROOT / "geometries/pickup-rear-tube.toml"

MS_A_BAR = 24.0
"""10 000 samples in 120 s on two cores, one process a core."""


def varied(bar: Bar, count: int) -> Iterator[Bar]:
    """Bars of slightly different diameter."""
    start = bar.section.diameter_mm
    for i in range(count):
        yield change(bar, {"section.diameter": start * (1.0 + 0.02 * i / count)})


def ms_a_bar(bar: Bar, count: int, holes: list[str] | None) -> float:
    """Milliseconds a bar."""
    began = time.process_time()
    for _ in evaluate(varied(bar, count), holes=holes):
        pass
    return 1000.0 * (time.process_time() - began) / count


def bench_evaluator(report: Report, count: int, aim: bool) -> None:
    for path, hole in ((SOLID, "stiff"), (TUBE, "4")):
        bar = read_bar(path)
        ms_a_bar(bar, 16, [hole])
        one = ms_a_bar(bar, count, [hole])
        report.line(
            f"evaluate, {count} bars like {path.stem}, one hole setting",
            f"{one:.1f} ms a bar",
            f"{MS_A_BAR:g} ms" if aim else "",
            not aim or one <= MS_A_BAR,
        )
        every = ms_a_bar(bar, count // 2, None)
        settings = len(bar.left.holes)
        linear = not aim or every <= 1.15 * settings * one
        report.line(
            f"  all {settings} hole settings against one", f"{every / one:.2f} times", f"{settings} times", linear
        )
    before = peak_MB()
    many = ms_a_bar(bar, 3 * count, [hole])
    met = not aim or many <= 1.2 * one
    report.line("  three times as many bars, each", f"{many / one:.2f} times", "1.2 times", met)
    report.line("  memory that they take more", f"{peak_MB() - before:.0f} MB", "30 MB", peak_MB() - before <= 30.0)


def bench_compare(report: Report, aim: bool) -> None:
    sections = ["round 20", "round 24", "tube 24x4", "tube 26x4.5", "tube 28x3"]
    arguments = ["compare", str(SOLID)] + [part for section in sections for part in ("--section", section)]
    taken = float("inf")
    for _ in range(2):
        began = time.process_time()
        with redirect_stdout(io.StringIO()):
            status = barfem(arguments)
        if status not in (0, 1):
            raise RuntimeError(f"{' '.join(arguments)} ended with {status}")
        taken = min(taken, time.process_time() - began)
    report.line("compare, six sections, three holes", f"{taken:.2f} s", "3 s" if aim else "", not aim or taken <= 3.0)


def bench_size(report: Report, aim: bool) -> None:
    stock = read_stock()
    some = Stock(stock.name, stock.file, stock.of("round")[:20] + stock.of("tube")[:40], stock.sources)
    bar = read_bar(TUBE)
    began = time.process_time()
    found = size_from_stock(bar, some, rate_N_per_mm=50.0, shapes=("round", "tube"))
    taken = time.process_time() - began
    solved = sum(option.solved for option in found.options)
    report.line(
        f"size, stock list of {len(found.options)} ({solved} solved), four holes",
        f"{taken:.2f} s",
        "10 s" if aim else "",
        not aim or taken <= 10.0,
    )

    cranked = read_bar(ROOT / "geometries/coupe-front-bends.toml")
    began = time.process_time()
    found = size_from_stock(cranked, stock)
    taken = time.process_time() - began
    solved = sum(option.solved for option in found.options)
    words = f"size of a cranked tube, {len(found.options)} sizes ({solved} solved)"
    report.line(words, f"{taken:.2f} s", "12 s" if aim else "", not aim or taken <= 12.0)


def bench_advice(report: Report, aim: bool) -> None:
    bar = change(read_bar(TUBE), {"duty.target_cycles": 2_000_000})
    began = time.process_time()
    next(evaluate([bar]))
    one = time.process_time() - began
    checked = check_bar(bar)
    began = time.process_time()
    advise(bar, solved=checked.solved)  # as `check` asks for it, behind its table
    taken = time.process_time() - began
    failing = sum(not row.passes for row in checked.rows)
    report.line(
        f"what would help at {failing} failing holes", f"{taken:.2f} s", "1 s" if aim else "", not aim or taken <= 1.0
    )
    report.line("  against the evaluation of one bar", f"{taken / one:.0f} times", "", True)


def main(argv: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--smoke", action="store_true", help="few bars, no aims of seconds")
    smoke = parser.parse_args(argv).smoke
    report = Report()
    bench_evaluator(report, 16 if smoke else 400, not smoke)
    bench_compare(report, not smoke)
    bench_size(report, not smoke)
    bench_advice(report, not smoke)
    return 1 if report.missed else 0


if __name__ == "__main__":
    sys.exit(main())
