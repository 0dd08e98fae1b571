"""Seconds from a one-hour history at 500 Hz to damage, and of the critical plane over all places of a bar.

    python tests/benchmarks/bench_duty.py

Invented history: band-limited noise (0.3 to 15 Hz) in roll and heave with sensor noise on top, 1.8 million samples a
side, written as CSV and read back. Invented response: 7,200 places whose stress is mildly nonlinear in travel.
Aims: reading and damage together 5 s on two cores and below 1 GB; critical plane 1 s.
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from barfem.strength.duty.critical_plane import findley_plane, principal_plane
from barfem.strength.duty.damage import history_damage, peak_over_history
from barfem.strength.duty.history import read_history
from barfem.strength.duty.interpolate import TravelResponse, travel_nodes
from barfem.strength.duty.miner import damage_lines
from barfem.strength.fatigue.strength import FatigueStrength

SAMPLES = 1_800_000
PLACES = 7_200


def write_history(path: Path, samples: int = SAMPLES) -> None:
    """Noise between 0.3 and 15 Hz in roll and heave, 6 mm rms each, 0.05 mm of sensor noise a side."""
    rng = np.random.default_rng(1)
    frequency = np.fft.rfftfreq(samples, 0.002)
    band = (frequency > 0.3) & (frequency < 15.0)
    sides = []
    for _ in range(2):
        spectrum = np.where(band, rng.normal(size=band.size) + 1j * rng.normal(size=band.size), 0.0)
        signal = np.fft.irfft(spectrum, samples)
        sides.append(6.0 * signal / signal.std())
    left, right = sides[1] + sides[0], sides[1] - sides[0]
    with path.open("w", encoding="utf-8") as file:
        file.write("time_s,left_mm,right_mm\n")
        for start in range(0, samples, 100_000):
            stop = min(start + 100_000, samples)
            a = left[start:stop] + rng.normal(size=stop - start) * 0.05
            b = right[start:stop] + rng.normal(size=stop - start) * 0.05
            rows = zip(range(start, stop), a, b, strict=True)
            file.write("".join(f"{i * 0.002:.3f},{x:.4f},{y:.4f}\n" for i, x, y in rows))


def invented_response(left: np.ndarray, right: np.ndarray, places: int = PLACES) -> TravelResponse:
    """Bending and torsion from roll, a little from heave, a quadratic and a cubic part, at places of every mixture."""
    rng = np.random.default_rng(2)
    a, b = travel_nodes(left), travel_nodes(right)
    roll, heave = 0.5 * (a[:, None] - b[None, :]), 0.5 * (a[:, None] + b[None, :])
    drive = roll * (1.0 + 2e-3 * heave) + 2e-5 * roll**3 + 0.02 * heave
    bending = rng.uniform(-8.0, 8.0, places)
    torsion = rng.uniform(-4.0, 4.0, places)
    stress = np.zeros((a.size, b.size, places, 3))
    stress[..., 0] = drive[:, :, None] * bending
    stress[..., 1] = 0.1 * stress[..., 0]
    stress[..., 2] = (drive * (1.0 + 1e-3 * heave))[:, :, None] * torsion
    return TravelResponse(a, b, stress)


def strength_line(places: int) -> FatigueStrength:
    full = np.full(places, 1.0)
    return FatigueStrength(
        tensile_MPa=1450.0 * full,
        at_1e3_cycles_MPa=1116.0 * full,
        at_1e6_cycles_MPa=300.0 * full,
        has_knee=np.ones(places, bool),
        peening_gain=full,
        torsion_share=0.5 * full,
    )


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "history.csv"
        write_history(path)
        start = time.perf_counter()
        history = read_history(path)
        read = time.perf_counter()
    response = invented_response(history.left_mm, history.right_mm)
    reference = response.stress([history.left_mm.max()], [history.right_mm.min()])[0]
    begin = time.perf_counter()
    peak = peak_over_history(response, history)
    lines = damage_lines(strength_line(PLACES), tensile_MPa=1450.0, yield_MPa=1300.0, peak_MPa=peak)
    result = history_damage(history, response, lines, reference=reference)
    end = time.perf_counter()
    print(f"read {history.samples:,} samples a side: {read - start:.2f} s")
    print(f"damage: {end - begin:.2f} s over {result.places.size} places counted of {response.places:,}")
    print(f"together: {read - start + end - begin:.2f} s (aim: 5 s)")
    print(
        f"turning points {result.turning_points.sample.size:,}, directions {result.turning_points.directions_deg}, "
        f"discarded places at most {result.discarded_share:.3g} of the governing damage, "
        f"left out at the governing place {100 * result.left_out_share:.2g} %, "
        f"repeats {result.life_repeats}"
    )
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1e6 if sys.platform == "darwin" else 1e3)
    print(f"largest memory of the process, writing the demo history included: {memory:.0f} MB (aim: below 1000 MB)")
    travels = [(0.0, 0.0), (30.0, -30.0), (-30.0, 30.0), (30.0, 0.0), (0.0, 30.0)]
    states = np.concatenate([response.stress([a], [b]) for a, b in travels])
    begin = time.perf_counter()
    findley_plane(states, k=0.25)
    middle = time.perf_counter()
    principal_plane(states)
    end = time.perf_counter()
    print(f"critical plane over {PLACES:,} places, {len(states)} states: Findley {middle - begin:.2f} s, ", end="")
    print(f"maximum principal {end - middle:.2f} s (aim: 1 s)")


if __name__ == "__main__":
    main()
