"""How long a data package takes: `python -m tests.benchmarks.bench_package` from the repository's root.

Processor time of the whole `barfem package` process of each demo bar, aim 15 s, and in times of `import numpy` beside
it (a shared machine's seconds are not another's). `--smoke` makes one bar's. Exit status 1 if an aim is missed.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import tempfile
from pathlib import Path

from barfem.model.data_paths import demo_bars

AIM_S = 15.0


def process_seconds(*command: str) -> float:
    """Processor time of a child process."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([sys.executable, *command], check=True, capture_output=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--smoke", action="store_true")
    smoke = parser.parse_args().smoke
    missed = 0
    unit = min(process_seconds("-c", "import numpy") for _ in range(3))
    with tempfile.TemporaryDirectory() as folder:
        for path in demo_bars()[: 1 if smoke else None]:
            out = str(Path(folder) / path.stem)
            took = process_seconds("-m", "barfem", "package", str(path), "--out", out, "--despite", "benchmark")
            missed += took > AIM_S
            print(f"package of {path.stem}: {took:.1f} s (aim {AIM_S:g}), {took / unit:.0f} times import numpy")
    return 1 if missed and not smoke else 0


if __name__ == "__main__":
    sys.exit(main())
