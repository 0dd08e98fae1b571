"""How long it takes to the maker and back: `python -m tests.benchmarks.bench_package` from the repository's root.

Processor time of the whole process of each demo bar: `package` (aim 15 s), `bends` and `review` (1.5 s), and `inspect`
of a lot of 60 with every kind of fault (aim 15 s: 10 s on two cores, with the start of both processes). Also in
times of `import numpy` beside it (a shared machine's seconds are not another's). `--smoke` takes one bar. Exit status 1
if an aim is missed.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import tempfile
from pathlib import Path

from barfem.model.data_paths import demo_bars
from barfem.model.read import read_bar
from tests.vendor.lots import FAULTS, lot_text

PACKAGE_S, SHORT_S, INSPECT_S = 15.0, 1.5, 15.0
LOT = 60


def process_seconds(*command: str, statuses: tuple[int, ...] = (0,)) -> float:
    """Processor time of a child process and of those that it started."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run([sys.executable, *command], capture_output=True)
    if done.returncode not in statuses:
        raise SystemExit(done.stderr.decode())
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def lot_of(path: Path) -> str:
    """Sixty bars, every fifth with a fault."""
    faults = ["none" if i % 5 else FAULTS[(i // 5) % len(FAULTS)] for i in range(LOT)]
    return lot_text(read_bar(path), faults, seed=1)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--smoke", action="store_true")
    smoke = parser.parse_args().smoke
    missed = 0
    unit = min(process_seconds("-c", "import numpy") for _ in range(3))
    with tempfile.TemporaryDirectory() as folder:
        for path in demo_bars()[: 1 if smoke else None]:
            lot, out = Path(folder) / "lot.csv", str(Path(folder) / path.stem)
            lot.write_text(lot_of(path), encoding="utf-8")
            for command, more, aim in (
                ("package", ("--out", out, "--despite", "benchmark"), PACKAGE_S),
                ("bends", (), SHORT_S),
                ("review", (), SHORT_S),
                ("inspect", (str(lot),), INSPECT_S),
            ):
                took = process_seconds("-m", "barfem", command, str(path), *more, statuses=(0, 1))
                missed += took > aim
                print(f"{command} of {path.stem}: {took:.1f} s (aim {aim:g}), {took / unit:.0f} times import numpy")
    return 1 if missed and not smoke else 0


if __name__ == "__main__":
    sys.exit(main())
