"""How fast the bar in the car is: `python -m tests.benchmarks.bench_car` from the repository's root.

- all 256 pairs of a front and a rear bar of four holes an end, unequal ones included, at 30 lateral accelerations: the
  beam's curves, then the car; and how long the car alone takes;
- `barfem car` on both demo cars, from the command line's words to the printed screen.

Seconds are this process's own: on an idle machine the clock's. `--smoke` holds no aim of seconds. Exit status 1 if an
aim is missed.
"""

from __future__ import annotations

import argparse
import io
import sys
import time
from contextlib import redirect_stdout

import numpy as np

from barfem.car.bar_curves import every_pair
from barfem.car.car import State
from barfem.car.model import car_model
from barfem.car.read import car_from_dict
from barfem.cli.main import main as barfem
from barfem.model.data_paths import demo_cars
from tests.benchmarks.bench_check import ROOT, Report
from tests.car.cars import changed

PAIRS_S, CAR_S = 5.0, 1.5


def bench_pairs(report: Report, aim: bool) -> None:
    bar = {"file": str(ROOT / "geometries/pickup-rear-tube.toml"), "motion_ratio": 0.5}
    car = car_from_dict(changed(front__bar=bar, rear__bar=bar))
    began = time.process_time()
    pairs = every_pair(car.front.bar, unequal=True)  # type: ignore[arg-type]
    model = car_model(car, front=pairs, rear=pairs)
    curves = time.process_time() - began
    states = [State(str(i), float(a_y), 0.0) for i, a_y in enumerate(np.linspace(0.03, 0.9, 30))]
    both = [(i, j) for i in range(len(pairs)) for j in range(len(pairs))]
    found = model.states(model.problem(states, both))
    whole = time.process_time() - began
    if not found.found.all():
        raise SystemExit("a state has no equilibrium")
    report.line(
        f"{len(both)} hole pairs at {len(states)} accelerations",
        f"{whole:.1f} s, of which the beam {curves:.1f} s",
        f"{PAIRS_S:g} s",
        not aim or whole < PAIRS_S,
    )


def bench_command(report: Report, aim: bool) -> None:
    for path in demo_cars():
        began = time.process_time()
        with redirect_stdout(io.StringIO()):
            barfem(["car", str(path)])
        seconds = time.process_time() - began
        report.line(f"barfem car {path.name}", f"{seconds:.2f} s", f"{CAR_S:g} s", not aim or seconds < CAR_S)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--smoke", action="store_true", help="no aims of seconds")
    aim = not parser.parse_args().smoke
    report = Report()
    bench_command(report, aim)
    bench_pairs(report, aim)
    return 1 if report.missed else 0


if __name__ == "__main__":
    sys.exit(main())
