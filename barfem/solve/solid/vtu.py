"""The solid as a VTU file for general viewers: quadratic hexahedra, displacement, stress tensor, von Mises stress."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from barfem.model.errors import BarfemError
from barfem.solve.solid.assembly import element_nodes
from barfem.solve.solid.mesh import SweptMesh
from barfem.solve.solid.volume import nodal_stress, von_mises_tensor, with_surface_stress

__all__ = ["VTK_ORDER", "write_vtu"]

Array = NDArray[np.float64]

# Our node i + 3 j + 9 k of each node of VTK's triquadratic hexahedron (cell type 29): corners, middles of the edges
# below, above and between, middles of the faces -x, +x, -y, +y, -z, +z, centre.
VTK_ORDER = np.array(
    [0, 2, 8, 6, 18, 20, 26, 24, 1, 5, 7, 3, 19, 23, 25, 21, 9, 11, 17, 15, 12, 14, 10, 16, 4, 22, 13]
)  # fmt: skip


def write_vtu(
    path: str | os.PathLike[str],
    mesh: SweptMesh,
    displacement: Array,
    *,
    E_MPa: float,
    nu: float,
    smooth: NDArray[np.bool_] | None = None,
    point_data: Mapping[str, Array] | None = None,
) -> None:
    """Write one case; the file is complete or absent: it is written beside its place and renamed.

    Parameters
    ----------
    displacement : (n_planes, n, 3)
        In drawing axes, mm.
    smooth : (n_slices,)
        False where the outline has corners; true everywhere by default.
    point_data
        Further fields, each (n_planes, n) or (n_planes, n, k): yield margin, life, ...

    Raises
    ------
    BarfemError
        The file cannot be written.
    """
    import meshio

    planes, n, _ = mesh.points.shape
    nodes = element_nodes(mesh)[:, VTK_ORDER]
    cells = (nodes[None] + 2 * n * np.arange(mesh.n_slices)[:, None, None]).reshape(-1, 27)
    stress = nodal_stress(mesh, displacement, E_MPa=E_MPa, nu=nu)
    if smooth is None:
        smooth = np.ones(mesh.n_slices, dtype=bool)
    stress = with_surface_stress(mesh, stress, displacement, E_MPa=E_MPa, nu=nu, smooth=smooth)
    fields = {
        "displacement_mm": displacement.reshape(-1, 3),
        "stress_MPa": stress.reshape(-1, 9),
        "von_mises_MPa": von_mises_tensor(stress).ravel(),
        "station_mm": np.repeat(mesh.stations, n),
    }
    for name, values in (point_data or {}).items():
        fields[name] = np.asarray(values, float).reshape(planes * n, *np.shape(values)[2:])
    grid = meshio.Mesh(mesh.points.reshape(-1, 3), [("hexahedron27", cells)], point_data=fields)
    target = Path(path)
    try:
        handle, name = tempfile.mkstemp(suffix=".vtu", dir=target.parent)
        os.close(handle)
        try:
            meshio.vtu.write(name, grid, binary=True)
            # A temporary file is its owner's alone; a file that is asked for is as readable as any.
            Path(name).chmod(0o644)
            Path(name).replace(target)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
    except OSError as error:
        raise BarfemError(f"{target}: cannot be written: {error.strerror or error}") from error
