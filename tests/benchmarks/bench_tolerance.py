"""How fast a tolerance study is: `python -m tests.benchmarks.bench_tolerance` from the repository's root.

Prints, each beside its aim:
- 10 000 bars by a fit to some hundred solved ones, every hole setting, the whole command: aim 10 s;
- 10 000 bars of the first demo bar, each solved, one hole setting, on two processes: aim 120 s;
  and the processors' time a bar, which other work on the machine disturbs less;
- the peak memory of this process and of its workers, and how much of it grew with the number of bars: aim 1.5 GB;
- growth with bars and with hole settings, as ratios within this run (a shared machine's seconds are not another's);
- how much of a bar's time goes into making it, so that the rest is the solution's and the stress's.

`--quick` makes a twentieth of the bars. `--smoke` makes the fewest that there can be, once by this process and once by
two, and holds that both find the same, and the memory. Exit status 1 if an aim is missed.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import time
from collections.abc import Sequence

import numpy as np

from barfem.model.bar import Bar
from barfem.model.data_paths import geometries_dir
from barfem.model.read import read_bar
from barfem.study.bands import bands_of, deviations
from barfem.study.evaluate import evaluate
from barfem.study.tolerance import tolerance
from barfem.study.tolerance_bars import BarMaker
from tests.benchmarks.bench_check import Report

BARS, AIM_S, AIM_FIT_S, AIM_MB = 10_000, 120.0, 10.0, 1500.0
FEWEST = 128


def memory_MB() -> float:
    """Peak of this process and of the largest of its workers, together as if there were two of those."""
    own, child = (
        resource.getrusage(who).ru_maxrss / 1024.0 for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    )
    return own + 2.0 * child


def processors_s() -> float:
    """Processor time of this process and of its workers that have ended."""
    usages = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(usage.ru_utime + usage.ru_stime for usage in usages)


def bench_same(report: Report, bar: Bar, hole: str) -> None:
    """The fewest bars by this process and by two."""
    one, two = (tolerance(bar, samples=FEWEST, holes=[hole], workers=workers).to_json_dict() for workers in (1, 2))
    report.line(f"{FEWEST} bars by one process and by two", "the same" if one == two else "differ", "equal", one == two)
    report.line("  peak memory, all processes", f"{memory_MB():.0f} MB", "aim 1500 MB", memory_MB() < AIM_MB)


def bench_fit(report: Report) -> None:
    """The whole command as a user starts it, on two processes."""
    bar = str(geometries_dir() / "pickup-front-solid.toml")
    command = [sys.executable, "-m", "barfem.cli.main", "tolerance", bar, "--samples", str(BARS), "--workers", "2"]
    start, before = time.perf_counter(), processors_s()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    took, used = time.perf_counter() - start, processors_s() - before
    report.line(f"{BARS} bars by a fit, the whole command", f"{took:.1f} s", f"aim {AIM_FIT_S:.0f} s", took < AIM_FIT_S)
    report.line("  processors' time", f"{used:.1f} s", "aim 20 s: 10 s by two", used < 2.0 * AIM_FIT_S)


def bench_study(report: Report, bar: Bar, hole: str, *, bars: int) -> None:
    def seconds(count: int, workers: int = 2) -> float:
        start = time.perf_counter()
        found = tolerance(bar, samples=count, exact=True, holes=[hole], workers=workers)
        if sum(found.unsolved.values()):
            raise RuntimeError(f"{found.unsolved} of {count} bars were not solved")
        return time.perf_counter() - start

    few = max(bars // 5, 200)
    part, before = seconds(few), memory_MB()
    start = processors_s()
    whole = seconds(bars)
    each = 1e3 * (processors_s() - start) / bars
    aim = AIM_S * bars / BARS
    report.line(f"{bars} bars, one hole setting, two processes", f"{whole:.1f} s", f"aim {aim:.0f} s", whole < aim)
    report.line("  processors' time a bar", f"{each:.1f} ms", "aim 24 ms: 120 s by two", each < 24.0)
    ratio = whole / part / (bars / few)
    report.line(f"  time a bar, against {few} bars", f"{ratio:.2f}", "aim at most 1.2: linear", ratio < 1.2)
    report.line("  peak memory, all processes", f"{memory_MB():.0f} MB", "aim 1500 MB", memory_MB() < AIM_MB)
    grown = memory_MB() - before
    report.line(f"  more than for {few} bars", f"{grown:.0f} MB", "aim at most 100: chunked", grown < 100.0)


def bench_parts(report: Report, bar: Bar, hole: str) -> None:
    variables = tuple(variable for band in bands_of(bar) for variable in band.variables)
    even = np.random.default_rng(1).random((64, len(variables)))
    maker = BarMaker(bar, variables)
    maker.made(deviations(variables, even))
    start = time.perf_counter()
    made = [each for each in maker.made(deviations(variables, even)) if isinstance(each, Bar)]
    making = time.perf_counter() - start

    def judged(holes: Sequence[str] | None) -> float:
        start = time.perf_counter()
        for _ in evaluate(made, holes=holes, case="roll"):
            pass
        return time.perf_counter() - start

    judged([hole])
    one, all_ = judged([hole]), judged(None)
    count = len(bar.left.holes)
    report.line("one bar, one hole setting, this process alone", f"{1e3 * (making + one) / len(made):.1f} ms")
    share = making / (making + one)
    report.line("  of that, to make it", f"{100 * share:.0f} %", "aim at most 10 %", share < 0.1)
    report.line(
        f"  {count} hole settings take the time of so many",
        f"{all_ / one:.1f}",
        f"aim at most {count}",
        all_ < count * one,
    )


def main(argv: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--quick", action="store_true", help="a twentieth of the bars")
    parser.add_argument("--smoke", action="store_true", help="the fewest bars, no aims of seconds")
    options = parser.parse_args(argv)
    bar = read_bar(geometries_dir() / "pickup-front-solid.toml")
    hole = bar.left.holes[-1].name
    report = Report()
    if options.smoke:
        bench_same(report, bar, hole)
        return 1 if report.missed else 0
    bench_fit(report)
    bench_parts(report, bar, hole)
    bench_study(report, bar, hole, bars=BARS // 20 if options.quick else BARS)
    print(f"{report.missed} aim(s) missed" if report.missed else "every aim met")
    return 1 if report.missed else 0


if __name__ == "__main__":
    sys.exit(main())
