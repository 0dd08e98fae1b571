"""How fast a measured history is: `python -m tests.benchmarks.bench_duty` from the repository's root.

Prints, each beside its aim:
- one hour at 500 Hz (1.8 million samples, both sides) on a demo bar, as a command of its own: seconds of its processors
  and of the clock, and memory; how much of it is reading;
- how many places were counted, and what those that were not can hide;
- the critical plane over all places of a bar.

The history is invented: noise of 0.3 to 15 Hz in roll and heave, and a sensor's on top. Seconds of the clock are only
an idle machine's; so the aim of 5 s is held against the processors' seconds, which two cores share.

`--smoke` takes a fiftieth of the history, and holds no aim of seconds. Exit status 1 if an aim is missed.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from barfem.check.history_life import history_lives
from barfem.check.planes import critical_planes
from barfem.check.points import checked_points
from barfem.check.solved import solve_states
from barfem.model.read import read_bar
from barfem.solve.beam import all_settings
from barfem.strength.duty.history import read_history
from tests.benchmarks.bench_check import ROOT, Report

BAR = ROOT / "geometries/pickup-front-solid.toml"
SAMPLES = 1_800_000


def write_history(path: Path, samples: int = SAMPLES, *, roll_mm: float = 6.0) -> None:
    """Noise between 0.3 and 15 Hz in roll and heave, each `roll_mm` rms, 0.05 mm of sensor noise a side."""
    rng = np.random.default_rng(1)
    frequency = np.fft.rfftfreq(samples, 0.002)
    band = (frequency > 0.3) & (frequency < 15.0)
    sides = []
    for _ in range(2):
        spectrum = np.where(band, rng.normal(size=band.size) + 1j * rng.normal(size=band.size), 0.0)
        signal = np.fft.irfft(spectrum, samples)
        sides.append(roll_mm * signal / signal.std())
    left, right = sides[1] + sides[0], sides[1] - sides[0]
    with path.open("w", encoding="utf-8") as file:
        file.write("time_s,left_mm,right_mm\n")
        for start in range(0, samples, 100_000):
            stop = min(start + 100_000, samples)
            a = left[start:stop] + rng.normal(size=stop - start) * 0.05
            b = right[start:stop] + rng.normal(size=stop - start) * 0.05
            rows = zip(range(start, stop), a, b, strict=True)
            file.write("".join(f"{i * 0.002:.3f},{x:.4f},{y:.4f}\n" for i, x, y in rows))


def bench_command(report: Report, path: Path, samples: int, aim: bool) -> None:
    """The whole `barfem duty` of one hole setting, as a process of its own."""
    script = (
        "import resource, sys\n"
        "from barfem.cli.main import main\n"
        "status = main(sys.argv[1:])\n"
        "used = resource.getrusage(resource.RUSAGE_SELF)\n"
        "print(used.ru_utime + used.ru_stime, used.ru_maxrss, file=sys.stderr)\n"
        "sys.exit(status)\n"
    )
    command = ["duty", str(BAR), "--history", str(path), "--hole", "stiff", "--json", "-"]
    began = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-c", script, *command], cwd=ROOT, check=True, capture_output=True, text=True
    )
    clock = time.perf_counter() - began
    processors, memory = (float(word) for word in done.stderr.split()[-2:])
    memory /= 1e6 if sys.platform == "darwin" else 1e3
    what = f"barfem duty, {samples:,} samples a side, one hole setting"
    report.line(what, f"{processors:.2f} s", "aim 5 s" if aim else "", not aim or processors < 5.0)
    report.line("  by the clock, beside what else this machine does", f"{clock:.2f} s")
    report.line("  memory", f"{memory:.0f} MB", "aim 1000 MB", memory < 1000.0)


def bench_parts(report: Report, path: Path, aim: bool) -> None:
    began = time.process_time()
    history = read_history(path)
    read = time.process_time() - began
    report.line("  of it reading", f"{read:.2f} s", "aim 1 s" if aim else "", not aim or read < 1.0)
    bar = read_bar(BAR)
    began = time.process_time()
    ((found, _),) = history_lives(bar, history, all_settings(bar)[-1:])
    report.line("  solving, screening, counting", f"{time.process_time() - began:.2f} s")
    report.line("  places counted", f"{found.places_counted} of {found.places:,}")
    share = found.discarded_share or 0.0
    report.line(
        "  damage that those not counted may have, over the governing one", f"{share:.4f}", "aim 1.01", share <= 1.01
    )
    left_out = abs(found.left_out_share or 0.0)
    report.line("  damage that the turning points leave out", f"{100 * left_out:.4f} %", "aim 0.1 %", left_out < 1e-3)


def bench_planes(report: Report, aim: bool) -> None:
    solved = solve_states(read_bar(BAR), cases=("roll",), one_wheel=True)
    points = checked_points(solved)
    began = time.process_time()
    critical_planes(solved, len(solved.resultants) - 1, points)
    taken = time.process_time() - began
    report.line(
        f"critical planes over all {len(points):,} places of the bar, five states",
        f"{taken:.2f} s",
        "aim 1 s" if aim else "",
        not aim or taken < 1.0,
    )


def main(argv: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--smoke", action="store_true", help="a fiftieth of the history, no aims of seconds")
    smoke = parser.parse_args(argv).smoke
    report = Report()
    samples = SAMPLES // 50 if smoke else SAMPLES
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "history.csv"
        write_history(path, samples)
        bench_command(report, path, samples, not smoke)
        bench_parts(report, path, not smoke)
    bench_planes(report, not smoke)
    return 1 if report.missed else 0


if __name__ == "__main__":
    sys.exit(main())
