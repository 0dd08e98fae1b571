"""The VTU file: readable, in VTK's node order, with the stress that the check reports."""

from __future__ import annotations

from pathlib import Path

import meshio
import numpy as np
import pytest

from barfem.model.errors import BarfemError
from barfem.solve.solid.profile import Profile
from barfem.solve.solid.section import disc_grid
from barfem.solve.solid.volume import nodal_stress
from barfem.solve.solid.vtu import VTK_ORDER, write_vtu
from tests.solid.made_up import end_loaded, straight_line


def test_node_order_is_vtks() -> None:
    """VTK's triquadratic hexahedron: places of its 27 nodes, from its documentation (from memory)."""
    places = [(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0), (0, 0, 1), (1, 0, 1), (1, 1, 1), (0, 1, 1)]
    places += [(0.5, 0, 0), (1, 0.5, 0), (0.5, 1, 0), (0, 0.5, 0), (0.5, 0, 1), (1, 0.5, 1), (0.5, 1, 1), (0, 0.5, 1)]
    places += [(0, 0, 0.5), (1, 0, 0.5), (1, 1, 0.5), (0, 1, 0.5)]
    places += [
        (0, 0.5, 0.5),
        (1, 0.5, 0.5),
        (0.5, 0, 0.5),
        (0.5, 1, 0.5),
        (0.5, 0.5, 0),
        (0.5, 0.5, 1),
        (0.5, 0.5, 0.5),
    ]
    ours = [(int(node) % 3 / 2, int(node) // 3 % 3 / 2, int(node) // 9 / 2) for node in VTK_ORDER]
    assert ours == [tuple(map(float, place)) for place in places]


def test_written_and_read_back(tmp_path: Path) -> None:
    mesh, _, displacement = end_loaded(
        grid=disc_grid(core=2, rings=1), line=straight_line(60.0), profile=Profile(20.0), slices=4, E=206_000.0, nu=0.3
    )
    torque = 1e5
    margin = np.linspace(0.0, 1.0, mesh.points.shape[0] * mesh.points.shape[1]).reshape(mesh.points.shape[:2])
    path = tmp_path / "bar.vtu"
    write_vtu(path, mesh, torque * displacement[..., 3], E_MPa=206_000.0, nu=0.3, point_data={"yield_margin": margin})
    assert [file.name for file in tmp_path.iterdir()] == ["bar.vtu"]
    read = meshio.read(path)
    assert read.cells[0].type == "hexahedron27"
    assert len(read.cells[0].data) == 4 * len(mesh.grid.cells)
    assert np.allclose(read.points, mesh.points.reshape(-1, 3))
    surface = np.isclose(np.linalg.norm(read.points[:, 1:], axis=1), 10.0)
    expected = np.sqrt(3.0) * 16.0 * torque / (np.pi * 20.0**3)
    # The surface as the check has it; beneath, what the element gives.
    inner = surface & (np.abs(read.points[:, 0] - 30.0) < 20.0)
    assert read.point_data["von_mises_MPa"][inner] == pytest.approx(expected, rel=0.002)
    assert read.point_data["stress_MPa"].shape == (len(read.points), 9)
    assert np.allclose(read.point_data["yield_margin"], margin.ravel())


def test_nodal_stress_of_a_uniform_state_is_exact() -> None:
    """Axial force: F / A at every node, inside too, and nothing across."""
    mesh, _, displacement = end_loaded(
        grid=disc_grid(core=2, rings=1), line=straight_line(60.0), profile=Profile(20.0), slices=4, E=206_000.0, nu=0.3
    )
    stress = nodal_stress(mesh, displacement[..., 0], E_MPa=206_000.0, nu=0.3)
    area = mesh.section_moments()[0, :, 0].sum()
    expected = np.zeros((3, 3))
    expected[0, 0] = 1.0 / area
    assert np.allclose(stress[3:-3], expected, atol=1e-3 / area)


def test_a_folder_that_does_not_exist_is_a_clear_message(tmp_path: Path) -> None:
    mesh, _, displacement = end_loaded(
        grid=disc_grid(core=2, rings=1), line=straight_line(60.0), profile=Profile(20.0), slices=2, E=1.0, nu=0.3
    )
    with pytest.raises(BarfemError, match="cannot be written"):
        write_vtu(tmp_path / "nowhere" / "bar.vtu", mesh, displacement[..., 0], E_MPa=1.0, nu=0.3)
