"""The same bar described another way, or solved in other company, gives the same numbers."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from barfem.model.bar import Bar, End, Flat, Travel
from barfem.model.points import polyline_centreline
from barfem.solve import beam
from barfem.solve.batch import Batch, Copy, initial_state
from barfem.solve.beam import HoleSetting, all_settings, solve_bar, solve_bars
from barfem.solve.mesh import build_mesh
from barfem.solve.newton import ramp
from tests.often import often
from tests.solve.rig import CRANKED_POINTS, cranked_bar, u_bar

RADII = [45, 50, 42, 42, 50, 40]
CASES = ("roll", "one-wheel")
FLAT = Flat("forged", 11.0, 38.0, 65.0, 20.0, (0.6, 0.0, 0.8))


def asymmetric(**rest) -> Bar:
    return cranked_bar(**({"travel_mm": 40.0, "flat": FLAT} | rest))


def moved(bar: Bar, matrix: np.ndarray, *, exchange: bool = False) -> Bar:
    """The bar mapped by an orthogonal matrix; with `exchange` its points run the other way, so that sides exchange.

    Fields are mapped one by one: nothing of the reader or of the test bars' own mirroring is used.
    """

    def vector(v):
        return tuple(float(x) for x in matrix @ np.array(v))

    points, radii = np.array(CRANKED_POINTS, float) @ matrix.T, RADII
    if exchange:
        points, radii = points[::-1], radii[::-1]
    line = polyline_centreline(points_mm=points, bend_radii_mm=radii)
    length = line.length_mm

    def end(old: End, side) -> End:
        holes = tuple(
            replace(
                hole,
                station_mm=hole.from_tip_mm if side == "right" else length - hole.from_tip_mm,
                offset_mm=vector(hole.offset_mm),
            )
            for hole in old.holes
        )
        return End(side, holes, old.flat and replace(old.flat, normal=vector(old.flat.normal)))

    def link(old, side):
        return replace(old, side=side, direction=vector(old.direction))

    ends, links = (bar.right, bar.left), (bar.right_link, bar.left_link)
    mounts = bar.mounts
    if exchange:
        ends, links = ends[::-1], links[::-1]
        mounts = tuple(replace(m, station_mm=length - m.station_mm, from_middle_mm=-m.from_middle_mm) for m in mounts)
    return replace(
        bar,
        centreline=line,
        right=end(ends[0], "right"),
        left=end(ends[1], "left"),
        mounts=mounts,
        right_link=link(links[0], "right"),
        left_link=link(links[1], "left"),
        travel=replace(bar.travel, direction=vector(bar.travel.direction)),
    )


def numbers(solution, *, matrix=None):
    """What must agree; forces of a bar mapped by `matrix` are mapped back."""
    back = np.eye(3) if matrix is None else matrix.T
    return {
        "link": solution.link_force_N,
        "pickup": solution.pickup_force_N,
        "mount": solution.mount_force_N @ back.T,
        "rate": solution.rate_N_per_mm,
        "initial": solution.initial.rate_N_per_mm,
        "energy": solution.strain_energy_Nmm,
    }


def agree(a, b, relative):
    for key in a:
        # The rate at rest is one linear solution: its rounding (1e-9) is not iterated away as Newton's is.
        allowed = max(relative, 5e-9) if key == "initial" else relative
        assert np.allclose(a[key], b[key], rtol=0.0, atol=allowed * np.abs(a[key]).max()), key


def test_mirrored_in_the_middle_plane_with_sides_exchanged():
    """Mirror in y and exchange sides: bump of the left becomes bump of the right, so the states are compared in roll
    at ratio -1, where rest, travel and the other end exchange them."""
    bar = asymmetric()
    mirror = np.diag([1.0, -1.0, 1.0])
    other = moved(bar, mirror, exchange=True)
    a = solve_bar(bar, [HoleSetting(0, 1)])
    b = solve_bar(other, [HoleSetting(1, 0)])
    swap = [0, 2, 1]  # the other bar's travel is this one's other end of the cycle
    assert np.allclose(a.link_force_N[:, swap], b.link_force_N[..., ::-1], rtol=1e-8)
    assert np.allclose(a.strain_energy_Nmm[:, swap], b.strain_energy_Nmm, rtol=1e-8)
    assert np.allclose(a.mount_force_N[:, swap] @ mirror, b.mount_force_N, rtol=0, atol=1e-6)
    assert np.allclose(a.initial.rate_N_per_mm, b.initial.rate_N_per_mm, rtol=1e-9)
    assert np.allclose(a.initial.shares, b.initial.shares, atol=1e-9)


def drawn_turned(monkeypatch, bar, matrix, settings, **how):
    """Solve with side directions that turn with the drawing; the reader's mirror plane stays the drawing's y = 0."""
    left = np.array(bar.travel.direction)
    plane = matrix @ np.diag([1.0, -1.0, 1.0]) @ matrix.T
    monkeypatch.setattr(beam, "_side_directions", lambda bar: np.array([plane @ left, left]))
    return solve_bar(bar, settings, **how)


@pytest.mark.parametrize("degrees", [30.0, 90.0, 180.0])
def test_turned_about_z(monkeypatch, degrees):
    """Drawing axes are where the drawing has them: a bar turned about z carries all its vectors along."""
    bar = asymmetric(travel_direction=(0.0, 0.28, 0.96))
    settings = all_settings(bar, cases=CASES, mixed=True)[:6]
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    matrix = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1.0]])
    a = numbers(solve_bar(bar, settings))
    b = numbers(drawn_turned(monkeypatch, moved(bar, matrix), matrix, settings), matrix=matrix)
    agree(a, b, 1e-8)


def test_turned_any_way(monkeypatch):
    """A turn that tips the bar exchanges the frame's first axes (up becomes sideways): nothing may depend on it."""
    bar = asymmetric()
    settings = [HoleSetting(1, 0, "one-wheel"), HoleSetting(0, 0)]
    matrix = np.linalg.qr(np.random.default_rng(3).normal(size=(3, 3)))[0]
    matrix *= np.sign(np.linalg.det(matrix))
    a = numbers(solve_bar(bar, settings))
    b = numbers(drawn_turned(monkeypatch, moved(bar, matrix), matrix, settings), matrix=matrix)
    agree(a, b, 1e-8)


def test_points_given_from_the_other_tip(monkeypatch):
    """Reversed points make the other tip station zero; forces stay where they are."""
    bar = asymmetric()
    other = moved(bar, np.eye(3), exchange=True)
    left = np.array(bar.travel.direction)
    # The end that was left is now called right: it moves up first.
    a = solve_bar(bar, [HoleSetting(1, 0)])
    monkeypatch.setattr(beam, "_side_directions", lambda bar: -np.array([left, left * [1, -1, 1]]))
    b = solve_bar(other, [HoleSetting(0, 1)])
    assert np.allclose(a.link_force_N, b.link_force_N[..., ::-1], rtol=0, atol=1e-7 * np.abs(a.link_force_N).max())
    assert np.allclose(a.mount_force_N, b.mount_force_N, rtol=0, atol=1e-7 * np.abs(a.mount_force_N).max())
    assert np.allclose(a.strain_energy_Nmm, b.strain_energy_Nmm, rtol=1e-8)
    assert np.allclose(a.rate_N_per_mm, b.rate_N_per_mm, rtol=1e-8)


def test_a_batch_equals_single_solves():
    bar = u_bar(holes_from_tip=((0, 25, 50, 75), (0, 25, 50, 75)), travel_mm=40.0)
    settings = all_settings(bar, mixed=True)
    assert len(settings) == 16
    together = numbers(solve_bar(bar, settings))
    alone = [numbers(solve_bar(bar, [setting])) for setting in settings]
    agree(together, {key: np.concatenate([one[key] for one in alone]) for key in together}, 1e-10)


@pytest.mark.parametrize("largest", often([1, 150, 4000], {150}))
def test_bars_solved_together_equal_bars_alone_whatever_the_chunk(monkeypatch, largest):
    bars = [asymmetric(), u_bar(diameter_mm=24.0, wall_mm=4.0), cranked_bar(diameter_mm=19.0), u_bar(R=70.0)]
    requests = [(bar, all_settings(bar, cases=CASES)) for bar in bars]
    alone = [numbers(solve_bar(*request)) for request in requests]
    monkeypatch.setattr(beam, "LARGEST_CHUNK", largest)
    together = [numbers(solution) for solution in solve_bars(requests)]
    assert len(together) == len(bars)
    for a, b in zip(alone, together, strict=True):
        agree(a, b, 1e-10)


def test_results_do_not_depend_on_the_path():
    """One load step against ten; and out and back to rest leaves nothing behind."""
    bar = asymmetric(travel_mm=45.0)
    mesh = build_mesh(bar)
    rest = solve_bar(bar, [HoleSetting(0, 0)])
    offset = np.array([end.holes[0].offset_mm for end in bar.ends])
    joints = mesh.node_points_mm[[nodes[0] for nodes in mesh.hole_nodes]] + offset
    links = (bar.right_link, bar.left_link)
    pickups = joints + np.array([np.multiply(link.length_mm, link.direction) for link in links])
    lengths = np.array([link.length_mm + link.length_error_mm for link in links])
    flexibility = np.array([1.0 / link.axial_stiffness_N_per_mm for link in links])
    batch = Batch([Copy(mesh, (0, 0), offset, lengths, flexibility, pickups)])
    move = np.array([[[0, 0, -45.0], [0, 0, 45.0]]])

    def go(state, stops):
        for start, stop in pairwise(stops):
            state, _ = ramp(
                batch, state, start_mm=batch.pickup_rest + start * move, target_mm=batch.pickup_rest + stop * move
            )
        return state

    at_rest = go(initial_state(batch), [0.0, 0.0])
    one = go(batch.pick(at_rest, np.array([0])), [0.0, 1.0])
    ten = go(batch.pick(at_rest, np.array([0])), np.linspace(0.0, 1.0, 11))
    back = go(batch.pick(ten, np.array([0])), [1.0, -1.0, 0.3, 0.0])
    scale = np.abs(one.link_force_N).max()
    # Incremental turns are interpolated: the answer depends on the path by the mesh error's square or so.
    assert np.abs(one.link_force_N - ten.link_force_N).max() < 2e-7 * scale
    assert np.abs(back.link_force_N - at_rest.link_force_N).max() < 2e-7 * scale
    assert np.allclose(one.link_force_N[0], rest.link_force_N[0, 1], rtol=0, atol=1e-7 * scale)


def test_travel_reaches_no_other_bar_or_state():
    """A batch's states are copies: the rest state of a bar with travel is the rest state of one without."""
    near, far = asymmetric(travel_mm=1.0), asymmetric(travel_mm=50.0)
    a, b = (solve_bar(bar, [HoleSetting(0, 0)]) for bar in (near, far))
    assert np.array_equal(a.link_force_N[:, 0], b.link_force_N[:, 0])
    assert np.array_equal(a.displacement_mm[:, 0], b.displacement_mm[:, 0])
    assert np.array_equal(a.initial.rate_N_per_mm, b.initial.rate_N_per_mm)


def test_ratio_states():
    """ratio 0.4: same sides at 0.4 of travel; ratio -0.5: sides exchange, each within its own bump and droop."""
    settings = [HoleSetting(0, 0), HoleSetting(0, 0, "one-wheel")]
    base = asymmetric(travel_mm=(40.0, 30.0), one_wheel_mm=35.0)
    for ratio, moves in ((0.4, ([-12, 16], [0, 14])), (-0.5, ([20, -15], [0, -17.5]))):
        solution = solve_bar(replace(base, duty=replace(base.duty, ratio=ratio)), settings)
        assert np.allclose(solution.pickup_move_mm[:, 2], moves)
        assert np.allclose(solution.pickup_move_mm[:, 1], [[-30, 40], [0, 35]])
    # The states are what their moves say, not copies of travel.
    again = solve_bar(replace(base, travel=Travel(16.0, 12.0, 14.0, (0.0, 0.0, 1.0))), settings)
    same = solve_bar(replace(base, duty=replace(base.duty, ratio=0.4)), settings)
    assert np.allclose(again.link_force_N[:, 1], same.link_force_N[:, 2], rtol=1e-7)
