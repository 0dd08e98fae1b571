"""STEP: one closed solid of the finished part. Volume by Pappus and by hand, and read back by a general CAD kernel."""

from __future__ import annotations

import signal
from collections import Counter

import numpy as np
import pytest
from hypothesis import Phase, given, settings

from barfem.model.bar import Bar
from barfem.vendor.bar_solid import bar_solid, drilled, edge_radius_mm, left_out, transition_mm
from barfem.vendor.step import step_text
from tests.drawing.bars import every_bar, forward_tube, unequal_in_space, wide_with_drops
from tests.vendor.bars import bars_in_space

BARS = every_bar()


def volume_by_hand(bar: Bar) -> float:
    """Body: area times centreline (Pappus). Flat: rectangle with rounded edges. Transition: ruled between rectangle K
    and circle of radius r, each section the Minkowski sum (1 - s) K + s r disk: its area integrates to
    A/3 + P r/6 + pi r^2/3 (Steiner's formula)."""
    r, bore = 0.5 * bar.section.diameter_mm, 0.5 * bar.section.bore_mm
    body, total = bar.centreline.length_mm, 0.0
    for end in bar.ends:
        flat = end.flat
        if flat is None:
            continue
        body -= flat.length_mm
        rho, w, t = edge_radius_mm(flat), flat.width_mm, flat.thickness_mm
        area = w * t - (4.0 - np.pi) * rho**2
        around = 2.0 * (w + t) - (8.0 - 2.0 * np.pi) * rho
        total += area * (flat.length_mm - transition_mm(flat))
        total += transition_mm(flat) * (area / 3.0 + around * r / 6.0 + np.pi * r**2 / 3.0)
        total -= sum(0.25 * np.pi * (hole.diameter_mm or 0.0) ** 2 * t for hole in drilled(end))
    return total + np.pi * (r**2 - bore**2) * body


def box_by_points(bar: Bar) -> np.ndarray:
    """Low and high corner: of the body, half the diameter times the sine to each axis; of flats, their corners."""
    line = bar.centreline
    cut = [0.0 if end.flat is None else end.flat.length_mm for end in bar.ends]
    points, frames = line.evaluate(np.linspace(cut[0], line.length_mm - cut[1], 20001))
    reach = 0.5 * bar.section.diameter_mm * np.sqrt(np.maximum(1.0 - frames[:, 0] ** 2, 0.0))
    low, high = [(points - reach).min(axis=0)], [(points + reach).max(axis=0)]
    for end, at in zip(bar.ends, (0.0, line.length_mm), strict=True):
        if end.flat is None:
            continue
        flat = end.flat
        full = flat.length_mm - transition_mm(flat)
        centres, frames = line.evaluate([at, full if end.side == "right" else line.length_mm - full])
        n = np.array(flat.normal)
        w = np.cross(n, frames[0, 0])
        rho = edge_radius_mm(flat)
        corner = np.abs((0.5 * flat.width_mm - rho) * w) + np.abs((0.5 * flat.thickness_mm - rho) * n)
        round_off = rho * np.sqrt(np.maximum(1.0 - frames[0, 0] ** 2, 0.0))
        low += list(centres - corner - round_off)
        high += list(centres + corner + round_off)
    return np.array([np.min(low, axis=0), np.max(high, axis=0)])


def assert_closed(bar: Bar) -> None:
    """Each edge bounds two faces, once in each direction, and each loop comes back to where it began."""
    solid = bar_solid(bar)
    walked: Counter[tuple[int, bool]] = Counter()
    for face in solid.faces:
        for loop in face.loops:
            walked.update(loop)
            ends = [solid.edges[e][1:] if forward else solid.edges[e][:0:-1] for e, forward in loop]
            assert all(one[1] == other[0] for one, other in zip(ends, [*ends[1:], ends[0]], strict=True))
    assert set(walked) == {(edge, way) for edge in range(len(solid.edges)) for way in (True, False)}
    assert set(walked.values()) == {1}
    for curve, a, b in solid.edges:
        if curve.centre is not None and curve.axis is not None:
            for vertex in (a, b):
                arm = solid.vertices[vertex] - curve.centre
                assert np.linalg.norm(arm) == pytest.approx(curve.radius, abs=1e-9)
                assert arm @ curve.axis == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("name", sorted(BARS))
def test_the_shell_is_closed(name):
    assert_closed(BARS[name])


@given(bar=bars_in_space())
@settings(max_examples=25, deadline=None, phases=(Phase.explicit, Phase.generate))
def test_the_shell_of_any_bar_in_space_is_closed(bar):
    assert_closed(bar)


@pytest.fixture(scope="module")
def kernel():
    """Open CASCADE as gmsh has it: a general CAD kernel."""
    try:
        import gmsh
    except (ImportError, OSError) as problem:  # no wheel, or a library of the desktop is missing
        pytest.skip(f"gmsh cannot be loaded: {problem}")
    gmsh.initialize(interruptible=False)
    # It takes a pipe that nobody reads any more as the end of the process, where Python raises an error.
    signal.signal(signal.SIGPIPE, signal.SIG_IGN)
    gmsh.option.setNumber("General.Terminal", 0)
    yield gmsh.model
    gmsh.finalize()
    signal.signal(signal.SIGPIPE, signal.SIG_IGN)


def box_by_kernel(kernel) -> np.ndarray:
    """Corners of the box of points on edges and curved faces: the kernel's own box of a torus is loose."""
    points = []
    for dim, tag in [*kernel.getEntities(1), *kernel.getEntities(2)]:
        if kernel.getType(dim, tag) == "Plane":  # bounded by its edges
            continue
        low, high = kernel.getParametrizationBounds(dim, tag)
        grid = np.meshgrid(*(np.linspace(a, b, 61) for a, b in zip(low, high, strict=True)))
        at = np.stack([axis.ravel() for axis in grid], axis=1).ravel()
        points.append(np.array(kernel.getValue(dim, tag, at)).reshape(-1, 3))
    every = np.concatenate(points)
    return np.array([every.min(axis=0), every.max(axis=0)])


@pytest.mark.parametrize("name", sorted(BARS))
def test_a_cad_kernel_reads_one_solid_of_the_right_volume_and_box(name, kernel, tmp_path):
    bar = BARS[name]
    path = tmp_path / "bar.step"
    path.write_text(step_text(bar), encoding="ascii")
    kernel.add(name)
    found = kernel.occ.importShapes(str(path))
    assert [kind for kind, _ in found] == [3]
    # Faces between curved edges are integrated numerically by the kernel.
    assert kernel.occ.getMass(*found[0]) == pytest.approx(volume_by_hand(bar), rel=2e-6)
    kernel.occ.synchronize()
    np.testing.assert_allclose(box_by_kernel(kernel), box_by_points(bar), atol=0.01)
    kernel.remove()


def test_what_the_solid_leaves_out_is_told_in_the_file_and_on_the_drawing():
    from barfem.show.drawing.sheet import sheet_of

    bar = unequal_in_space()
    words = "; ".join(left_out(bar))
    assert "holes not drilled in the solid: 1 of five left" in words and "step" in words
    assert "not drilled" in step_text(bar) and "without fillets" in step_text(wide_with_drops())
    assert "not drilled" in " ".join(w.text for w in sheet_of(bar).writings)


def test_the_file_carries_no_time_but_the_drawings_own_date():
    assert "2026-11-28T00:00:00" in step_text(forward_tube())
    assert "T00:00:00" not in step_text(unequal_in_space())
    assert step_text(unequal_in_space()) == step_text(unequal_in_space())
