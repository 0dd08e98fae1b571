"""Bend tables: the shipped grid against fields computed there, and the cache when it is broken, full or closed."""

from __future__ import annotations

import os
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest

from barfem.solve.solid import bend_tables, cache
from barfem.solve.solid.bend_tables import BendShape, bend_source, grid_error
from barfem.solve.solid.fields import bend_field, field_density
from barfem.solve.solid.make_grid import peak_error
from barfem.solve.solid.table import ORDER, lagrange_weights, tabulate

ANGLES = np.radians(np.arange(0.0, 360.0, 15.0))
SHAPES = {"a": (2, 3)}


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(cache.FOLDER_VARIABLE, str(tmp_path / "kept"))
    bend_tables._computed.cache_clear()
    return tmp_path / "kept"


def made() -> dict[str, np.ndarray]:
    return {"a": np.arange(6.0).reshape(2, 3)}


def test_cubics_are_interpolated_exactly() -> None:
    nodes, x = np.array([0.0, 0.5, 1.5, 2.0, 4.0]), np.linspace(0.0, 4.0, 9)
    assert np.allclose(lagrange_weights(nodes, x) @ (nodes**3 - nodes), x**3 - x)


@pytest.mark.parametrize("wall", [None, 0.17])
def test_a_table_is_its_field(wall: float | None) -> None:
    """At the table's own stations, both halves, turned in the frame: to the harmonics left out."""
    field = bend_field(radius_over_diameter=2.2, angle_deg=70.0, wall_over_diameter=wall)
    table = tabulate(field)
    x = np.array([-0.95, -0.28, 0.0, 0.5 * field.length_over_diameter, field.length_over_diameter + 0.28]) * 20.0
    for surface in ("outside",) if wall is None else ("outside", "bore"):
        ours = table.maps(x, ANGLES, 20.0, surface=surface, inward_angle_rad=0.4)  # type: ignore[arg-type]
        theirs = field.maps(x, ANGLES, 20.0, surface=surface, inward_angle_rad=0.4)  # type: ignore[arg-type]
        size = np.abs(theirs).max(axis=(0, 1, 2))
        assert np.abs((ours - theirs) / size)[..., 3:].max() < 5e-4


@pytest.mark.parametrize(
    ("radius", "angle", "wall"),
    [
        (2.7, 80.0, None),
        (2.7, 86.0, 0.154),
        *(
            pytest.param(*bend, marks=pytest.mark.long)
            for bend in ((1.6, 35.0, None), (4.1, 66.0, 0.26), (2.5, 45.0, 0.26), (1.6, 37.5, 0.28))
        ),
    ],
)
def test_the_grid_holds_its_stated_error(radius: float, angle: float, wall: float | None) -> None:
    """Against fields as they are computed outside the grid, whose own error of 0.3 % comes on top."""
    shape = BendShape(radius, angle, wall)
    source = bend_source(shape)
    assert source.source == "grid" and source.table is not None and grid_error(shape) <= 0.004
    density = field_density(radius * np.radians(angle))
    field = bend_field(radius_over_diameter=radius, angle_deg=angle, wall_over_diameter=wall, density=density)
    assert peak_error(source.table, tabulate(field)) < grid_error(shape) + 0.003
    assert np.allclose(source.table.factors, list(field.factors.values()), rtol=0.003)


@pytest.mark.parametrize(
    ("radius", "angle", "wall", "nu"),
    [
        # E 206 and G 78.5 GPa, as EN 13906-1 has hot-rolled spring steel (from memory): nu = 206 / 157 - 1.
        pytest.param(2.7, 80.0, None, 206.0 / 157.0 - 1.0, id="solid, moduli of EN 13906-1"),
        pytest.param(2.7, 86.0, 0.154, 206.0 / 157.0 - 1.0, id="tube, moduli of EN 13906-1"),
        pytest.param(1.4, 100.0, None, 0.25, id="solid, the least nu"),
        pytest.param(1.7, 35.0, 0.09, 0.35, id="thin tight tube, the greatest nu"),
    ],
)
def test_a_bend_of_another_poisson_ratio_is_the_grids_too(
    radius: float, angle: float, wall: float | None, nu: float
) -> None:
    """Against its own field; the grid's tables as they stand would be 0.6 % off in the tube, 2.7 % at nu 0.35."""
    shape = BendShape(radius, angle, wall, nu=nu)
    source = bend_source(shape)
    assert source.source == "grid" and source.table is not None
    density = field_density(radius * np.radians(angle))
    field = bend_field(radius_over_diameter=radius, angle_deg=angle, wall_over_diameter=wall, density=density, nu=nu)
    true = tabulate(field)
    assert peak_error(source.table, true) < grid_error(shape) + 0.003
    assert np.allclose(source.table.factors, true.factors, rtol=0.003)
    as_stored = bend_source(BendShape(radius, angle, wall)).table
    assert as_stored is not None
    assert peak_error(source.table, true) < 0.5 * peak_error(as_stored, true) + 0.0005


def test_what_lies_outside_the_grid_is_computed_and_found_again(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shape = BendShape(2.0, 8.0, None)
    assert not shape.in_grid
    first = bend_source(shape)
    assert first.source == "computed" and first.problem is None and len(list(folder.iterdir())) == 1
    bend_tables._computed.cache_clear()
    monkeypatch.setattr("barfem.solve.solid.fields.bend_field", None)  # to compute it again would fail
    again = bend_source(shape)
    assert again.table is not None and first.table is not None
    assert np.allclose(again.table.outside, first.table.outside, atol=1e-6)
    assert again.table.outside.shape[1:] == (ORDER + 1, 3, 6)


@pytest.mark.parametrize(
    "other", [{"nu": 0.36}, {"wall_rule": "uniform", "wall_over_diameter": 0.15}, {"ovality": 0.02}]
)
def test_another_material_or_section_is_not_the_grids(other: dict[str, object]) -> None:
    assert not BendShape(
        **({"radius_over_diameter": 2.0, "angle_deg": 90.0, "wall_over_diameter": None} | other)
    ).in_grid  # type: ignore[arg-type]


def test_nearly_straight_bends_keep_closed_forms() -> None:
    source = bend_source(BendShape(60.0, 30.0, None))
    assert source.table is None and "nearly straight" in str(source.why)


def test_a_broken_file_is_replaced(folder: Path) -> None:
    cache.cached("key", SHAPES, made)
    (path,) = folder.iterdir()
    for broken in (b"", b"PK\x03\x04 cut off", path.read_bytes()[:-40]):
        path.write_bytes(broken)
        found = cache.cached("key", SHAPES, made)
        assert not found.found and "broken" in str(found.problem) and np.array_equal(found.arrays["a"], made()["a"])
        assert cache.cached("key", SHAPES, made).found
    cache._write(path, "key", {"a": np.full((2, 3), np.nan)})
    assert "broken" in str(cache.cached("key", SHAPES, made).problem)
    cache._write(path, "another key", made())
    assert not cache.cached("key", SHAPES, made).found


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no pipes with names")
def test_a_pipe_or_a_device_in_the_place_of_a_file_is_not_read(folder: Path) -> None:
    cache.cached("key", SHAPES, made)
    (path,) = folder.glob("*.npz")
    path.unlink()
    os.mkfifo(path)
    assert "broken" in str(cache.cached("key", SHAPES, made).problem)
    assert path.is_file() and cache.cached("key", SHAPES, made).found


def test_who_waits_is_told_what_is_solved_and_nothing_of_what_is_found(folder: Path) -> None:
    texts: list[str] = []
    with cache.telling(texts.append):
        for _ in range(2):
            cache.cached("key", SHAPES, made, what="a hole's wall")
    cache.cached("other", SHAPES, made)
    assert texts == ["a hole's wall, solved once and kept"]


def test_a_folder_that_refuses_costs_no_result(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder.write_text("a file where the folder should be")
    found = cache.cached("key", SHAPES, made)
    assert np.array_equal(found.arrays["a"], made()["a"])
    assert "could not be kept" in str(found.problem) and cache.FOLDER_VARIABLE in str(found.problem)
    folder.unlink()

    def full(*args: object, **kwargs: object) -> None:
        raise OSError(28, os.strerror(28))

    monkeypatch.setattr(np, "savez_compressed", full)
    found = cache.cached("key", SHAPES, made)
    assert os.strerror(28) in str(found.problem) and list(folder.iterdir()) == []


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="the superuser may write anywhere")
def test_a_read_only_folder(folder: Path) -> None:
    folder.mkdir()
    folder.chmod(0o500)
    assert "could not be kept" in str(cache.cached("key", SHAPES, made).problem)


def test_two_writers_at_once(folder: Path) -> None:
    with ThreadPoolExecutor(8) as pool:
        found = list(pool.map(lambda _: cache.cached("key", SHAPES, made), range(32)))
    assert all(one.problem is None and np.array_equal(one.arrays["a"], made()["a"]) for one in found)
    assert len(list(folder.iterdir())) == 1


def test_the_folder_keeps_what_was_used_last(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cache, "MOST_FILES", 10)
    now = time.time()
    paths = []
    for number in range(10):
        cache.cached(f"key {number}", SHAPES, made)
        (new,) = set(folder.iterdir()) - set(paths)
        os.utime(new, (now - 100.0 + number,) * 2)
        paths.append(new)
    half, fresh, other = folder / "bend-0.part", folder / "bend-1.part", folder / "notes.txt"
    for path in (half, fresh, other):
        path.write_text("")
    os.utime(half, (now - 2.0 * cache.LEFT_OVER_SECONDS,) * 2)
    os.utime(other, (0.0, 0.0))
    assert cache.cached("key 0", SHAPES, made).found  # used: now the newest
    cache.cached("key 10", SHAPES, made)
    gone = [path for path in paths if not path.exists()]
    assert gone == paths[1:3] and not half.exists() and fresh.exists() and other.exists()
    assert cache.cached("key 10", SHAPES, made).found


def test_two_writers_that_prune_at_once(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cache, "MOST_FILES", 5)
    with ThreadPoolExecutor(8) as pool:
        found = list(pool.map(lambda number: cache.cached(f"key {number % 13}", SHAPES, made), range(78)))
    assert all(np.array_equal(one.arrays["a"], made()["a"]) for one in found)
    assert all(one.problem is None for one in found) and 1 <= len(list(folder.iterdir())) <= 13


def test_every_kind_of_damage_to_a_cached_table_heals(folder: Path) -> None:
    """Bits flipped, the file cut at many lengths, a header that claims 700 GiB, objects instead of numbers."""
    import io
    import zipfile

    cache.cached("key", SHAPES, made)
    (path,) = folder.iterdir()
    whole, expected = path.read_bytes(), cache.cached("key", SHAPES, made).arrays
    rng = np.random.default_rng(4)
    damaged = [whole[:cut] for cut in range(0, len(whole), 7)]
    for place in rng.integers(0, len(whole) * 8, 400):
        flipped = bytearray(whole)
        flipped[place // 8] ^= 1 << (place % 8)
        damaged.append(bytes(flipped))
    for dtype, shape in (("<f4", (94_000_000_000, 2)), ("|O", SHAPES["a"]), ("<f4", (1,)), ("<U900000000", ())):
        text = f"{{'descr': '{dtype}', 'fortran_order': False, 'shape': {shape!r}, }}".ljust(117) + "\n"
        header = b"\x93NUMPY\x01\x00" + len(text).to_bytes(2, "little") + text.encode()
        held = io.BytesIO()
        with zipfile.ZipFile(held, "w") as archive:
            for name in ("key", *SHAPES):
                archive.writestr(f"{name}.npy", header + b"\0" * 64)
        damaged.append(held.getvalue())
    for content in damaged:
        path.write_bytes(content)
        found = cache.cached("key", SHAPES, made)
        for name, values in expected.items():
            np.testing.assert_array_equal(found.arrays[name], values)
