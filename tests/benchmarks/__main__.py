"""Every benchmark, one after the other: `python -m tests.benchmarks` from the repository's root.

`--smoke` runs each shortly and holds no aim of seconds: it shows that they still run and that what does not depend on
the machine (mesh errors, memory, equal answers) still holds. Exit status 1 if an aim is missed.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path


def main(argv: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--smoke", action="store_true", help="each one shortly, no aims of seconds")
    options = parser.parse_args(argv)
    missed = []
    for path in sorted(Path(__file__).parent.glob("bench_*.py")):
        print(f"\n{path.stem}", flush=True)
        # Each in a process of its own, so that peak memory is its own.
        command = [sys.executable, "-m", f"tests.benchmarks.{path.stem}", *(["--smoke"] if options.smoke else [])]
        if subprocess.run(command, check=False).returncode:
            missed.append(path.stem)
    if missed:
        print(f"\naims missed in {', '.join(missed)}")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
