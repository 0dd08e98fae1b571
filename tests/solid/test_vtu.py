"""The VTU file: readable, in VTK's node order, with the stress that the check reports."""

from __future__ import annotations

from pathlib import Path

import meshio
import numpy as np
import pytest

from barfem.model.errors import BarfemError
from barfem.solve.solid.mesh import SweptMesh
from barfem.solve.solid.profile import Profile
from barfem.solve.solid.section import disc_grid
from barfem.solve.solid.volume import nodal_stress, node_stress, von_mises_tensor
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


def twisted(slices: int = 4) -> tuple[SweptMesh, np.ndarray]:
    """A straight bar of 20 mm and its displacements under six unit loads."""
    mesh, _, displacement = end_loaded(
        grid=disc_grid(core=3, rings=1),
        line=straight_line(60.0),
        profile=Profile(20.0),
        slices=slices,
        E=206_000.0,
        nu=0.3,
    )
    return mesh, displacement


def test_written_and_read_back(tmp_path: Path) -> None:
    mesh, displacement = twisted()
    torque = 1e5
    stress = node_stress(mesh, torque * displacement[..., 3], E_MPa=206_000.0, nu=0.3)
    count = np.arange(mesh.points.shape[0] * mesh.points.shape[1], dtype=np.int32).reshape(mesh.points.shape[:2])
    path = tmp_path / "bar.vtu"
    path.write_text("what stood here before")
    path.chmod(0o640)
    fields = {"stress_MPa": stress, "von_mises_MPa": von_mises_tensor(stress), "displacement_mm": displacement[..., 3]}
    write_vtu(path, mesh, {**fields, "number": count})
    assert [file.name for file in tmp_path.iterdir()] == ["bar.vtu"]
    assert path.stat().st_mode & 0o777 == 0o640
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
    assert np.array_equal(read.point_data["displacement_mm"], displacement[..., 3].reshape(-1, 3))
    assert np.array_equal(read.point_data["number"], count.ravel())


def test_the_stress_of_a_twisted_bar_stands_in_drawing_axes() -> None:
    """Torque about x: tau_xy = -T z / J, tau_xz = T y / J at every node, nothing else.

    The surface has its own recovery; beneath it the elements of the standard mesh (three cells across) err more.
    """
    mesh, displacement = twisted()
    stress = node_stress(mesh, displacement[..., 3], E_MPa=206_000.0, nu=0.3)
    polar = np.pi * 20.0**4 / 32.0
    y, z = mesh.points[..., 1] / polar, mesh.points[..., 2] / polar
    middle = slice(3, -3)
    greatest = 10.0 / polar
    expected = np.zeros_like(stress)
    expected[..., 0, 1] = expected[..., 1, 0] = -z
    expected[..., 0, 2] = expected[..., 2, 0] = y
    outer = mesh.grid.outer
    assert np.allclose(stress[middle][:, outer], expected[middle][:, outer], atol=0.003 * greatest)
    assert np.allclose(stress[middle], expected[middle], atol=0.02 * greatest)


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
    mesh, _ = twisted(slices=2)
    with pytest.raises(BarfemError, match="could not be written"):
        write_vtu(tmp_path / "nowhere" / "bar.vtu", mesh, {"station_mm": mesh.points[..., 0]})


def test_a_disk_without_room_leaves_what_stood_there(tmp_path: Path) -> None:
    """A limit on the size of files stops the writing midway, as a full disk does."""
    resource = pytest.importorskip("resource")
    mesh, _ = twisted()
    path = tmp_path / "bar.vtu"
    path.write_text("what stood here before")
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (4096, hard))
    try:
        with pytest.raises(BarfemError, match=r"bar\.vtu could not be written: .*room"):
            write_vtu(path, mesh, {"station_mm": mesh.points[..., 0]})
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert [file.name for file in tmp_path.iterdir()] == ["bar.vtu"]
    assert path.read_text() == "what stood here before"


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a device of Linux")
def test_a_device_is_written_into_and_never_replaced() -> None:
    mesh, _ = twisted()
    fields = {"station_mm": mesh.points[..., 0]}
    write_vtu("/dev/null", mesh, fields)
    with pytest.raises(BarfemError, match="/dev/full could not be written"):
        write_vtu("/dev/full", mesh, fields)
    assert Path("/dev/null").is_char_device() and Path("/dev/full").is_char_device()


def test_a_number_that_is_not_finite_is_refused(tmp_path: Path) -> None:
    mesh, _ = twisted(slices=2)
    values = mesh.points[..., 0].copy()
    values[0, 0] = np.nan
    with pytest.raises(BarfemError, match="life is not a finite number at 1 places"):
        write_vtu(tmp_path / "bar.vtu", mesh, {"life": values})
    assert not list(tmp_path.iterdir())
