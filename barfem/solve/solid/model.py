"""The whole bar as a solid: built and factored once, solved for every hole setting.

Linear, about the bar at rest. Joint forces are given as the beam finds them at articulation, turned back with the
section they act on, and with them the torque that they have lost by that.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from time import perf_counter

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar, Hole, Section
from barfem.model.bar_geometry import outer_mounts
from barfem.model.errors import BarfemError
from barfem.model.frozen import frozen
from barfem.solve.rate import mean_rate
from barfem.solve.solid.assembly import factorise
from barfem.solve.solid.factor import BlockFactor
from barfem.solve.solid.foundation import Held, hold, mount_springs
from barfem.solve.solid.loads import SectionLoad, add_load, hole_load, joint_wrench
from barfem.solve.solid.mesh import STANDARD, Density, SweptMesh, bar_mesh
from barfem.solve.solid.motion import SectionMotion
from barfem.solve.solid.recovery import SurfaceStress, surface_stress

__all__ = ["JointLoad", "SolidModel", "SolidResult", "bar_density", "build_solid"]

Array = NDArray[np.float64]


@frozen(eq=False)
class JointLoad:
    """A force at the joint of one hole, for every case, in drawing axes at rest.

    `force_N` (n_cases, 3) acts on the bar at the joint centre (hole plus offset).
    """

    hole: Hole
    force_N: Array


@frozen(eq=False)
class SolidResult:
    """Displacements of every case and what was held to find them.

    Attributes
    ----------
    displacement_mm : (n_planes, n, 3, n_cases)
        In drawing axes.
    held_N : (k, n_cases)
        Force in the springs that hold rigid motions which the mounts leave free; rotations count as lengths at a
        quarter of the developed length. Nothing for loads in balance.
    """

    displacement_mm: Array
    held_N: Array


@frozen(eq=False)
class SolidModel:
    """A bar's solid, factored."""

    bar: Bar
    mesh: SweptMesh
    motion: SectionMotion
    factor: BlockFactor
    held: Held
    density: Density
    kinds_of_slice: int
    seconds: dict[str, float]

    def load_at(self, hole: Hole) -> SectionLoad:
        return hole_load(self.bar, self.motion, hole.station_mm)

    def _solve(self, loads: Array) -> Array:
        return self.factor.solve(loads)

    def _nothing(self, n_cases: int) -> Array:
        planes, n, _ = self.mesh.points.shape
        return np.zeros((planes, 3 * n, n_cases))

    def solve(self, loads: Sequence[JointLoad], *, torque_Nmm: Array | None = None) -> SolidResult:
        """Solve all cases at once; `torque_Nmm` (n_cases,) acts on the bar's middle, about the mount axis."""
        n_cases = len(loads[0].force_N)
        right = self._nothing(n_cases)
        if torque_Nmm is not None:
            first, last = outer_mounts(self.bar)
            moment = np.outer((last - first) / np.linalg.norm(last - first), torque_Nmm)
            middle = hole_load(self.bar, self.motion, self.bar.middle_mm)
            add_load(right, middle, np.concatenate([np.zeros_like(moment), moment]))
        for load in loads:
            add_load(right, self.load_at(load.hole), joint_wrench(load.hole, np.asarray(load.force_N, float).T))
        local = self._solve(right)
        planes, n, _ = self.mesh.points.shape
        turned = np.matmul(np.swapaxes(self.mesh.frames, 1, 2)[:, None], local.reshape(planes, n, 3, n_cases))
        return SolidResult(turned, self.held.reaction(local))

    def surface(self, result: SolidResult, angles: Array, *, bore: bool = False) -> SurfaceStress:
        """Stress on the outside, or in the bore, of every slice."""
        grid = self.mesh.grid
        steel = self.bar.steel
        return surface_stress(
            self.mesh,
            result.displacement_mm,
            nodes=grid.bore if bore else grid.outer,
            angles=angles,
            E_MPa=steel.E_MPa,
            nu=steel.nu,
            smooth=~self.flat_slices,
        )

    @property
    def flat_slices(self) -> NDArray[np.bool_]:
        """(n_slices,) slices whose outline is no longer round."""
        flat = np.zeros(self.mesh.n_slices, dtype=bool)
        first, last = self.mesh.stations[0:-2:2], self.mesh.stations[2::2]
        for end in self.bar.ends:
            if end.flat is not None:
                length = end.flat.length_mm
                flat |= first < length - 1e-6 if end.side == "right" else last > self.mesh.stations[-1] - length + 1e-6
        return flat

    def initial_rates(
        self, pairs: Sequence[tuple[Hole, Hole]], directions: Array, moves: Array, *, signed: NDArray[np.bool_]
    ) -> Array:
        """Initial rates (n_pairs,), N/mm, of hole pairs (right, left) of a bar without preload, as `mean_rate`.

        `directions` (n_pairs, 2, 3): unit, from the joint to the pickup, of the links (right, left) at rest. `moves`
        (n_pairs, 2): travel of each pickup, up positive; its scale does not matter. Rigid motions that the mounts leave
        free are truly free here: the springs that hold them are taken out again.
        """
        bar = self.bar
        n = len(pairs)
        right = self._nothing(2 * n)
        read = []
        for j, pair in enumerate(pairs):
            for side, hole in enumerate(pair):
                load = self.load_at(hole)
                wrench = joint_wrench(hole, directions[j, side])
                column = np.zeros((6, 2 * n))
                column[:, 2 * j + side] = wrench
                add_load(right, load, column)
                read.append((load, wrench))
        k = len(self.held.rows)
        extra = self._nothing(k)
        extra[self.held.plane] = self.held.rows.T
        u = self._solve(np.concatenate([right, extra], axis=-1))
        joint = np.array([wrench @ load.motion(u) for load, wrench in read])  # (2 n, 2 n + k)
        held = self.held.rows @ u[self.held.plane]  # (k, 2 n + k)
        along = np.array(bar.travel.direction)
        travel = np.stack([along * [1.0, -1.0, 1.0], along])
        links = (bar.right_link, bar.left_link)
        soft = np.array(
            [0.0 if x.axial_stiffness_N_per_mm is None else 1.0 / x.axial_stiffness_N_per_mm for x in links]
        )
        unit = moves / np.abs(moves).max(axis=1, keepdims=True)
        change = np.empty((n, 2))
        for j in range(n):
            own = [2 * j, 2 * j + 1]
            matrix = np.zeros((2 + k, 2 + k))
            matrix[:2, :2] = joint[np.ix_(own, own)] + np.diag(soft)
            matrix[:2, 2:] = joint[own, 2 * n :]
            matrix[2:, :2] = held[:, own]
            matrix[2:, 2:] = held[:, 2 * n :] - np.eye(k) / self.held.stiffness
            share = np.einsum("sx,sx->s", directions[j], travel)
            tension = np.linalg.solve(matrix, np.r_[share * unit[j], np.zeros(k)])[:2]
            change[j] = tension * share
        return mean_rate(change, unit, signed)


def bar_density(section: Section, refinement: float = 1.0) -> Density:
    """The density by which a bar is judged: a tube's stress within 1.1 % of the limit, its bends' flexibility 0.7 %.

    A curved quadratic cell much longer than the wall is thick is too stiff against ovalising, and so is one that is
    alone through the wall; the bore of a thick one needs a third (measured at R / d of 1.5 to 2.2).
    """
    cells: tuple[int | None, int | None] = (None, None)
    if section.wall_mm is not None:
        wall = section.wall_mm / section.diameter_mm
        table = ((0.2, (16, 3)), (0.18, (16, 2)), (0.12, (20, 2)), (0.08, (24, 2)), (0.0, (32, 2)))
        cells = next(found for least, found in table if wall >= least)
    return replace(STANDARD, refinement=refinement, around=cells[0], layers=cells[1])


def build_solid(bar: Bar, *, density: Density = STANDARD) -> SolidModel:
    """Mesh, assemble and factor a bar.

    Raises
    ------
    BarfemError
        The mesh is impossible: a section folds over itself.
    """
    clock = perf_counter()
    mesh = bar_mesh(bar, density=density)
    motion = SectionMotion(mesh)
    meshed = perf_counter()
    held = hold(bar, motion)
    springs = mount_springs(bar, motion)
    if len(held.rows):
        springs = (*springs, held.springs())
    try:
        factor, kinds = factorise(mesh, E_MPa=bar.steel.E_MPa, nu=bar.steel.nu, springs=springs)
    except ValueError as error:
        raise BarfemError(f"{bar.name}: the solid cannot be meshed as drawn: {error}") from error
    except np.linalg.LinAlgError as error:
        raise BarfemError(f"{bar.name}: the solid cannot be solved: {error}") from error
    seconds = {"mesh": meshed - clock, "factor": perf_counter() - meshed}
    return SolidModel(bar, mesh, motion, factor, held, density, kinds, seconds)
