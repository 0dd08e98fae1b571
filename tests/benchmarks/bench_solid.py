"""How fast the solid is: `python -m tests.benchmarks.bench_solid` from the repository's root.

Prints, each beside its aim:
- a whole bar of some 100 000 unknowns: mesh, assembly with factorisation, all hole settings at rest and at both ends
  of the cycle, stress; and the memory it takes;
- how that grows with length, by the processor's time, which other processes disturb least;
- the same matrix solved by SciPy's SuperLU (symmetric mode), whose answer must be ours, and factored by MKL PARDISO
  where it is installed (pypardiso; an environment's `PYPARDISO_MKL_RT` may name the library);
- bend fields, and the whole command.

`--smoke` takes a short bar, coarsely, and holds no aim of seconds; `--no-sparse` leaves the general-purpose solvers
out. Exit status 1 if an aim is missed.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import scipy.sparse
import scipy.sparse.linalg

from barfem.model.bar import Bar
from barfem.solve.solid import grid
from barfem.solve.solid.assembly import element_nodes, slice_kinds, slice_matrix
from barfem.solve.solid.element import stiffness
from barfem.solve.solid.fields import bend_field
from barfem.solve.solid.foundation import hold, mount_springs
from barfem.solve.solid.group_solve import solve_group
from barfem.solve.solid.group_table import GroupBend, GroupShape
from barfem.solve.solid.mesh import Density, SweptMesh
from barfem.solve.solid.model import JointLoad, SolidModel, build_solid
from barfem.solve.solid.motion import SectionMotion
from tests.solid.made_up import u_bar

ROOT = Path(__file__).parents[2]
ANGLES = np.radians(np.arange(0.0, 360.0, 5.0))
FINE = Density(bend=0.2, near=0.25, straight=0.45)
COARSE = Density(core=2)


def whole_bar(bar: Bar, density: Density) -> tuple[SolidModel, dict[str, float]]:
    """Build, solve 16 hole pairs in three states, recover stress: the model and the seconds of each stage.

    "cpu" is the processor's time of all of it.
    """
    start, cpu = time.perf_counter(), time.process_time()
    model = build_solid(bar, density=density)
    built = time.perf_counter()
    force = np.linspace(500.0, 2000.0, 48)[:, None] * np.array([[0.0, 0.3, 0.95]])
    result = model.solve([JointLoad(bar.right.holes[0], -force), JointLoad(bar.left.holes[-1], force)])
    solved = time.perf_counter()
    stress = model.surface(result, ANGLES)
    done = time.perf_counter()
    taken = time.process_time() - cpu
    if not np.all(np.isfinite(stress.values)):
        raise RuntimeError("the solid's stress is not finite")
    return model, {
        **model.seconds,
        "settings": solved - built,
        "stress": done - solved,
        "total": done - start,
        "cpu": taken,
    }


def sparse_matrix(bar: Bar, mesh: SweptMesh) -> scipy.sparse.csc_matrix:
    """The whole stiffness matrix in one, as a general-purpose solver takes it."""
    motion = SectionMotion(mesh)
    n = mesh.grid.size
    cells = (element_nodes(mesh)[None] + 2 * n * np.arange(mesh.n_slices)[:, None, None]).reshape(-1, 27)
    blocks = stiffness(mesh.points.reshape(-1, 3)[cells], E_MPa=bar.steel.E_MPa, nu=bar.steel.nu)
    dofs = (3 * cells[:, :, None] + np.arange(3)).reshape(len(cells), 81)
    i, j = np.repeat(dofs, 81, axis=1).ravel(), np.tile(dofs, (1, 81)).ravel()
    size = mesh.n_unknowns
    matrix = scipy.sparse.coo_matrix((blocks.ravel(), (i, j)), shape=(size, size)).tocsc()
    turns = [scipy.sparse.coo_matrix(np.kron(np.eye(n), frame.T)) for frame in mesh.frames]
    turn = scipy.sparse.block_diag(turns).tocsc()
    matrix = turn.T @ matrix @ turn
    held = hold(bar, motion)
    for spring in (*mount_springs(bar, motion), held.springs()):
        rows = scipy.sparse.lil_matrix((len(spring.rows), size))
        rows[:, 6 * n * spring.slice_ : 6 * n * spring.slice_ + 9 * n] = spring.rows
        rows = rows.tocsc()
        matrix = matrix + rows.T @ rows
    return matrix.tocsc()


@dataclass
class Report:
    """Lines, each beside its aim; `missed` once one is."""

    timed: bool
    missed: bool = False

    def line(self, what: str, value: float, unit: str, aim: float | None = None, *, seconds: bool = False) -> None:
        """One number and its aim, which is not held where it is of `seconds` and nothing is timed."""
        held = aim is not None and (self.timed or not seconds)
        missed = held and aim is not None and not value <= aim
        self.missed |= missed
        beside = f"  aim {aim:g}{'   MISSED' if missed else ''}" if held else ""
        print(f"{what:<66} {value:9.3g} {unit:<3}{beside}", flush=True)


def main(argv: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--smoke", action="store_true", help="a short bar, coarsely, no aims of seconds")
    parser.add_argument("--no-sparse", action="store_true", help="leave the general-purpose solvers out")
    options = parser.parse_args(argv)
    report = Report(timed=not options.smoke)
    bar, density = u_bar(half=300.0 if options.smoke else 500.0), COARSE if options.smoke else FINE
    seconds = bench_bar(report, bar, density, repeat=1 if options.smoke else 3)
    bench_growth(report, (300.0, 600.0) if options.smoke else (500.0, 1000.0, 2000.0), density)
    bench_fields(report, repeat=1 if options.smoke else 3)
    bench_command(report, repeat=1 if options.smoke else 3)
    if not options.no_sparse:
        bench_sparse(report, bar, density, seconds["factor"])
    return 1 if report.missed else 0


def bench_bar(report: Report, bar: Bar, density: Density, *, repeat: int) -> dict[str, float]:
    model, seconds = min((whole_bar(bar, density) for _ in range(repeat)), key=lambda run: run[1]["total"])
    mesh = model.mesh
    print(f"whole bar, {mesh.n_unknowns} unknowns, {mesh.n_slices} slices of {model.kinds_of_slice} kinds")
    assembled = np.inf
    for _ in range(repeat):
        start = time.perf_counter()
        assemble(model)
        assembled = min(assembled, time.perf_counter() - start)
    report.line("  mesh", seconds["mesh"], "s")
    report.line("  assembly with factorisation", seconds["factor"], "s")
    share = assembled / (seconds["factor"] - assembled)
    report.line("  of that, assembly over factorisation", share, "", 1.0, seconds=True)
    report.line("  48 cases", seconds["settings"], "s")
    report.line("  stress", seconds["stress"], "s")
    report.line("  all of it", seconds["total"], "s", 8.0, seconds=True)
    report.line("  all of it, processor", seconds["cpu"], "s")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
    report.line("  peak memory of the process so far", peak, "GB", 3.0)
    return seconds


def assemble(model: SolidModel) -> None:
    """The matrices of every kind of slice, without a factorisation."""
    from barfem.solve.solid.assembly import _local

    points, turns = _local(model.mesh)
    nodes, steel = element_nodes(model.mesh), model.bar.steel
    for sample in slice_kinds(model.mesh)[1]:
        slice_matrix(points[sample], turns[sample], nodes, E_MPa=steel.E_MPa, nu=steel.nu)


def bench_growth(report: Report, halves: tuple[float, ...], density: Density) -> None:
    sizes, times = np.zeros(len(halves)), np.full(len(halves), np.inf)
    for _ in range(3):  # in turn, so that what disturbs one disturbs all
        for i, half in enumerate(halves):
            model, seconds = whole_bar(u_bar(half=half), density)
            sizes[i], times[i] = model.mesh.n_unknowns, min(times[i], seconds["cpu"])
    growth = np.log(times[-1] / times[0]) / np.log(sizes[-1] / sizes[0])
    what = f"growth of the processor's time, {sizes[0]:.0f} to {sizes[-1]:.0f} unknowns: power"
    report.line(what, float(growth), "", 1.1, seconds=True)


def bench_fields(report: Report, *, repeat: int) -> None:
    for name, kinds in (
        ("solid R/d 2.5", {"radius_over_diameter": 2.5}),
        ("tube R/d 2.5, t/d 0.17", {"radius_over_diameter": 2.5, "wall_over_diameter": 0.17}),
        ("tube R/d 5, t/d 0.08", {"radius_over_diameter": 5.0, "wall_over_diameter": 0.08}),
    ):
        best = np.inf
        for _ in range(repeat):
            start = time.perf_counter()
            field = bend_field(angle_deg=90.0, **kinds)
            best = min(best, time.perf_counter() - start)
        report.line(f"bend field, {name}, {field.n_unknowns} unknowns", float(best), "s", 2.0, seconds=True)
    two = GroupShape((GroupBend(1.5, 90.0, 0.0, 0.07, 0.1), GroupBend(1.5, 60.0, 90.0, 0.07, 0.1)), (0.3,), 0.0813)
    best = np.inf
    for _ in range(repeat):
        start = time.perf_counter()
        solve_group(two)
        best = min(best, time.perf_counter() - start)
    report.line("group of two bends, tube t/d 0.08", float(best), "s", 1.5, seconds=True)
    grid.load(tube=True)
    best = np.inf
    for radius in (2.31, 2.32, 2.33, 2.34, 2.35):
        start = time.perf_counter()
        grid.interpolated(radius_over_diameter=radius, angle_deg=81.0, wall_over_diameter=0.151, nu=grid.GRID_NU)
        best = min(best, time.perf_counter() - start)
    report.line("bend field inside the grid, tube", 1e3 * float(best), "ms", 5.0, seconds=True)


def bench_command(report: Report, *, repeat: int) -> None:
    best = np.inf
    command = [sys.executable, "-m", "barfem", "check", str(ROOT / "geometries" / "pickup-rear-tube.toml")]
    for _ in range(repeat):
        start = time.perf_counter()
        subprocess.run(command, cwd=ROOT, stdout=subprocess.DEVNULL, check=False)
        best = min(best, time.perf_counter() - start)
    report.line("barfem check of a bent tube, the whole process", float(best), "s", 2.0, seconds=True)


def bench_sparse(report: Report, bar: Bar, density: Density, ours: float) -> None:
    """The same matrix by general-purpose solvers: the same answer, and their factorisation beside ours."""
    model = build_solid(bar, density=density)
    matrix = sparse_matrix(bar, model.mesh)
    right = np.random.default_rng(0).normal(size=matrix.shape[0])
    start = time.perf_counter()
    lu = scipy.sparse.linalg.splu(
        matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True}
    )
    report.line("SuperLU, symmetric mode, the same matrix", time.perf_counter() - start, "s")
    planes, n, _ = model.mesh.points.shape
    block = model.factor.solve(right.reshape(planes, 3 * n, 1)).ravel()
    theirs = lu.solve(right)
    off = np.abs(block - theirs).max() / np.abs(theirs).max()
    report.line("  greatest difference of displacement, of the greatest", float(off), "", 1e-8)
    del lu
    try:
        from pypardiso import PyPardisoSolver
    except ImportError:
        print("MKL PARDISO: pypardiso is not installed, not compared")
        return
    upper = scipy.sparse.triu(matrix, format="csr")
    pardiso = np.inf
    for _ in range(3):  # in turn with ours
        solver = PyPardisoSolver(mtype=2)
        start = time.perf_counter()
        solver.factorize(upper)
        pardiso = min(pardiso, time.perf_counter() - start)
        solver.free_memory(everything=True)
        ours = min(ours, build_solid(bar, density=density).seconds["factor"])
    report.line("MKL PARDISO, symmetric positive definite, the same matrix", pardiso, "s")
    ratio = ours / pardiso
    report.line("our assembly with factorisation over PARDISO's factorisation", ratio, "", 1.5, seconds=True)


if __name__ == "__main__":
    sys.exit(main())
