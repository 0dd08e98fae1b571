"""The solid as a VTU file for general viewers: quadratic hexahedra with fields at their nodes."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from barfem.model.errors import BarfemError
from barfem.model.whole_file import WholeFile
from barfem.solve.solid.assembly import element_nodes
from barfem.solve.solid.mesh import SweptMesh

__all__ = ["VTK_ORDER", "write_vtu"]

# Our node i + 3 j + 9 k of each node of VTK's triquadratic hexahedron (cell type 29): corners, middles of the edges
# below, above and between, middles of the faces -x, +x, -y, +y, -z, +z, centre.
VTK_ORDER = np.array(
    [0, 2, 8, 6, 18, 20, 26, 24, 1, 5, 7, 3, 19, 23, 25, 21, 9, 11, 17, 15, 12, 14, 10, 16, 4, 22, 13]
)  # fmt: skip


def write_vtu(path: str | os.PathLike[str], mesh: SweptMesh, fields: Mapping[str, NDArray[Any]]) -> None:
    """Write the mesh as drawn with fields at its nodes; the file is complete or absent, whatever happens.

    It is written beside its place and renamed, so that what stood there before stays until the new file is whole. A
    device or a pipe is written into as it stands.

    Parameters
    ----------
    fields
        Each (n_planes, n) or (n_planes, n, ...), finite; a name says its unit. Components beyond the second axis are
        taken in C order: three of a vector, nine of a tensor.

    Raises
    ------
    BarfemError
        The file cannot be written, or a field is not finite (viewers choke on it).
    """
    import meshio

    planes, n, _ = mesh.points.shape
    flat = {name: values.reshape(planes * n, *([-1] if values.ndim > 2 else [])) for name, values in fields.items()}
    for name, values in flat.items():
        if not np.all(np.isfinite(values)):
            raise BarfemError(f"{path}: {name} is not a finite number at {np.sum(~np.isfinite(values))} places")
    nodes = element_nodes(mesh)[:, VTK_ORDER]
    cells = (nodes[None] + 2 * n * np.arange(mesh.n_slices)[:, None, None]).reshape(-1, 27)
    grid = meshio.Mesh(mesh.points.reshape(-1, 3), [("hexahedron27", cells)], point_data=flat)
    try:
        if Path(path).exists() and not Path(path).is_file() and not Path(path).is_dir():
            meshio.vtu.write(str(path), grid, binary=True)
            return
        WholeFile.filled(path, lambda at: meshio.vtu.write(str(at), grid, binary=True)).place()
    except OSError as error:
        raise BarfemError(
            f"{path} could not be written: {error.strerror or error}. Right would be: a place with room for it, which "
            "may be written to."
        ) from error
