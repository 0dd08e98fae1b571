"""How fast the solid is: `python -m tests.benchmarks.bench_solid` from the repository's root.

Prints, each beside its aim:
- a whole bar of some 100,000 unknowns: mesh, assembly with factorisation, all hole settings at rest and at both ends
  of the cycle, stress; and the memory it takes;
- how that grows with length;
- the same matrix factored by SciPy's SuperLU (symmetric mode) and, where it is installed, by MKL PARDISO (pypardiso);
- bend fields.

`--no-sparse` leaves the general-purpose solvers out. Exit status 1 if an aim is missed.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import scipy.sparse
import scipy.sparse.linalg

from barfem.model.bar import Bar
from barfem.solve.solid import grid
from barfem.solve.solid.assembly import element_nodes
from barfem.solve.solid.element import stiffness
from barfem.solve.solid.fields import bend_field
from barfem.solve.solid.foundation import hold, mount_springs
from barfem.solve.solid.mesh import Density, SweptMesh, bar_mesh
from barfem.solve.solid.model import JointLoad, SolidModel, build_solid
from barfem.solve.solid.motion import SectionMotion
from tests.solid.made_up import u_bar

ROOT = Path(__file__).parents[2]
ANGLES = np.radians(np.arange(0.0, 360.0, 5.0))
FINE = Density(bend=0.2, near=0.25, straight=0.45)


def whole_bar(bar: Bar, density: Density) -> tuple[SolidModel, dict[str, float]]:
    """Build, solve 16 hole pairs in three states, recover stress: the model and the seconds of each stage."""
    start = time.perf_counter()
    model = build_solid(bar, density=density)
    built = time.perf_counter()
    force = np.linspace(500.0, 2000.0, 48)[:, None] * np.array([[0.0, 0.3, 0.95]])
    result = model.solve([JointLoad(bar.right.holes[0], -force), JointLoad(bar.left.holes[-1], force)])
    solved = time.perf_counter()
    stress = model.surface(result, ANGLES)
    done = time.perf_counter()
    if not np.all(np.isfinite(stress.values)):
        raise RuntimeError("the solid's stress is not finite")
    return model, {**model.seconds, "settings": solved - built, "stress": done - solved, "total": done - start}


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
    turn = scipy.sparse.block_diag([np.kron(np.eye(n), frame.T) for frame in mesh.frames]).tocsc()
    matrix = turn.T @ matrix @ turn
    held = hold(bar, motion)
    for spring in (*mount_springs(bar, motion), held.springs()):
        rows = scipy.sparse.lil_matrix((len(spring.rows), size))
        rows[:, 6 * n * spring.slice_ : 6 * n * spring.slice_ + 9 * n] = spring.rows
        rows = rows.tocsc()
        matrix = matrix + rows.T @ rows
    return matrix.tocsc()


def report(what: str, value: float, unit: str, aim: float | None = None) -> bool:
    met = aim is None or value <= aim
    print(f"{what:<66} {value:9.3g} {unit:<3}" + ("" if aim is None else f"  aim {aim:g}{'' if met else '   MISSED'}"))
    return met


def main(argv: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--no-sparse", action="store_true", help="leave the general-purpose solvers out")
    options = parser.parse_args(argv)
    met = True
    bar = u_bar()
    model, seconds = min((whole_bar(bar, FINE) for _ in range(3)), key=lambda run: run[1]["total"])
    print(f"whole bar, {model.mesh.n_unknowns} unknowns, {model.mesh.n_slices} slices of {model.kinds_of_slice} kinds")
    for stage in ("mesh", "factor", "settings", "stress"):
        report(f"  {stage}", seconds[stage], "s")
    met &= report("  mesh + factorisation + 48 cases + stress", seconds["total"], "s", 8.0)
    met &= report(
        "  peak memory of the process so far", resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6, "GB", 3.0
    )
    sizes, times = [], []
    for half in (500.0, 1000.0, 2000.0):
        runs = [whole_bar(u_bar(half=half), FINE) for _ in range(2)]
        sizes.append(runs[0][0].mesh.n_unknowns)
        times.append(min(run[1]["total"] for run in runs))
    growth = np.log(times[-1] / times[0]) / np.log(sizes[-1] / sizes[0])
    met &= report(f"growth of time with unknowns, {sizes[0]} to {sizes[-1]}: power", float(growth), "", 1.1)
    for name, kinds in (
        ("solid R/d 2.5", {"radius_over_diameter": 2.5}),
        ("tube R/d 2.5, t/d 0.17", {"radius_over_diameter": 2.5, "wall_over_diameter": 0.17}),
        ("tube R/d 5, t/d 0.08", {"radius_over_diameter": 5.0, "wall_over_diameter": 0.08}),
    ):
        best = np.inf
        for _ in range(3):
            start = time.perf_counter()
            field = bend_field(angle_deg=90.0, **kinds)
            best = min(best, time.perf_counter() - start)
        met &= report(f"bend field, {name}, {field.n_unknowns} unknowns", float(best), "s", 2.0)
    grid.load(tube=True)
    best = np.inf
    for radius in (2.31, 2.32, 2.33, 2.34, 2.35):
        start = time.perf_counter()
        grid.interpolated(radius_over_diameter=radius, angle_deg=81.0, wall_over_diameter=0.151)
        best = min(best, time.perf_counter() - start)
    met &= report("bend field inside the grid, tube", 1e3 * float(best), "ms", 5.0)
    best = np.inf
    command = [sys.executable, "-m", "barfem", "check", str(ROOT / "geometries" / "pickup-rear-tube.toml")]
    for _ in range(3):
        start = time.perf_counter()
        subprocess.run(command, cwd=ROOT, stdout=subprocess.DEVNULL, check=False)
        best = min(best, time.perf_counter() - start)
    met &= report("barfem check of a bent tube, the whole process", float(best), "s", 2.0)
    if not options.no_sparse:
        met &= sparse_solvers(bar, seconds["factor"])
    return 0 if met else 1


def sparse_solvers(bar: Bar, ours: float) -> bool:
    """Factorisation alone by general-purpose solvers, beside our assembly with factorisation."""
    matrix = sparse_matrix(bar, bar_mesh(bar, density=FINE))
    right = np.random.default_rng(0).normal(size=matrix.shape[0])
    start = time.perf_counter()
    lu = scipy.sparse.linalg.splu(
        matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True}
    )
    report("SuperLU, symmetric mode, the same matrix", time.perf_counter() - start, "s")
    del lu
    try:
        from pypardiso import PyPardisoSolver
    except ImportError:
        print("MKL PARDISO: pypardiso is not installed, not compared")
        return True
    solver = PyPardisoSolver(mtype=2)
    upper = scipy.sparse.triu(matrix, format="csr")
    start = time.perf_counter()
    solver.factorize(upper)
    pardiso = time.perf_counter() - start
    report("MKL PARDISO, symmetric positive definite, the same matrix", pardiso, "s")
    solver.solve(upper, right)
    return report("our assembly with factorisation over PARDISO's factorisation", ours / pardiso, "", 1.5)


if __name__ == "__main__":
    sys.exit(main())
