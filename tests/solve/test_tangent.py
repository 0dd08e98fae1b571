"""The linearisation against differences of the residual, rigid motion, and the rotational springs."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from barfem.model.vectors import cross
from barfem.solve import rotations
from barfem.solve.batch import Batch, Copy, initial_state
from barfem.solve.kernel import advance, element_forces, element_tangents, foreseen_stress, links, strain_energy
from barfem.solve.mesh import build_mesh
from barfem.solve.supports import rotational_springs
from barfem.solve.system import BandedSystem
from tests.solve.rig import cranked_bar


def small_batch(copies=1):
    bar = cranked_bar()
    mesh = build_mesh(bar, 0.3)
    offset = np.array([end.holes[0].offset_mm for end in bar.ends])
    joints = mesh.node_points_mm[[nodes[0] for nodes in mesh.hole_nodes]] + offset
    one = Copy(mesh, (0, 0), offset, np.array([118.0, 123.0]), np.array([1e-4, 0.0]), joints - [15.0, 8.0, 119.0])
    return Batch([one] * copies)


def random_state(batch, rng, *, metres=20.0, turn=0.3):
    """A smooth, large, unbalanced deformation, reached in two increments."""
    state = initial_state(batch)
    along = np.concatenate([c.mesh.node_stations_mm / c.mesh.node_stations_mm[-1] for c in batch.copies])
    for _ in range(2):
        step = np.zeros(batch.size)
        for k in range(6):
            waves = sum(rng.normal() * np.sin(2 * (j + 1) * along + rng.normal()) for j in range(3))
            step[batch.node_dofs[:, k]] = (metres if k < 3 else turn) * waves
        step[batch.link_dof] = rng.normal(size=batch.link_dof.shape) * 500.0
        state = advance(batch, state, step)
    return state


def apply(batch, system, state, pickups, step):
    """Tangent times `step`, assembled here without the band."""
    forces, link = element_forces(batch, state), links(batch, state, pickups)
    tangents = element_tangents(batch, state, forces)
    out = np.zeros(batch.size)
    np.add.at(out, batch.dofs, np.einsum("eij,ej->ei", tangents, step[batch.dofs]))
    node = batch.node_dofs[batch.link_node]
    turn = step[batch.link_dof]
    np.add.at(out, node, np.einsum("ckij,ckj->cki", link.tangent, step[node]) + turn[..., None] * link.gradient)
    out[batch.link_dof] = np.einsum("cki,cki->ck", link.gradient, step[node]) - batch.link_flexibility * turn
    return out


@pytest.mark.parametrize("seed", range(4))
def test_tangent_is_the_derivative_of_the_residual(seed):
    rng = np.random.default_rng(seed)
    batch = small_batch()
    system = BandedSystem(batch)
    state = random_state(batch, rng)
    pickups = batch.pickup_rest + rng.normal(size=(1, 2, 3)) * 5.0
    # The turn of a bushing's section is where the rotational springs have their own derivative.
    assert np.abs(rotations.logarithm(state.spring_turned)).max() > 0.2

    def residual(step):
        moved = advance(batch, state, step)
        return system.residual(element_forces(batch, moved), links(batch, moved, pickups))

    for group in (slice(0, 3), slice(3, 6)):  # displacements apart from turns: neither hides the other's error
        step = np.zeros(batch.size)
        step[batch.node_dofs[:, group]] = rng.normal(size=batch.node_dofs[:, group].shape)
        h = 1e-5
        difference = (residual(h * step) - residual(-h * step)) / (2 * h)
        exact = apply(batch, system, state, pickups, step)
        for rows in (batch.node_dofs[:, :3].ravel(), batch.node_dofs[:, 3:].ravel(), batch.link_dof.ravel()):
            assert np.abs(difference[rows] - exact[rows]).max() < 1e-6 * np.abs(exact[rows]).max()


def test_residual_is_the_derivative_of_the_energy():
    rng = np.random.default_rng(7)
    batch = small_batch()
    system = BandedSystem(batch)
    state = random_state(batch, rng, metres=5.0, turn=0.05)
    state.link_force_N[:] = 0.0
    state = advance(batch, state, np.zeros(batch.size))
    out = system.residual(element_forces(batch, state), links(batch, state, batch.pickup_rest))
    step = np.zeros(batch.size)
    step[batch.node_dofs] = rng.normal(size=batch.node_dofs.shape) * [1, 1, 1, 0.01, 0.01, 0.01]
    h = 1e-4
    ahead, back = (advance(batch, state, sign * h * step) for sign in (1, -1))
    energy = [strain_energy(batch, s, element_forces(batch, s))[0] for s in (ahead, back)]
    work = out[batch.node_dofs].ravel() @ step[batch.node_dofs].ravel()
    assert (energy[0] - energy[1]) / (2 * h) == pytest.approx(work, rel=1e-7)


def test_banded_solve_inverts_that_tangent():
    rng = np.random.default_rng(3)
    batch = small_batch(copies=2)
    system = BandedSystem(batch)
    state = random_state(batch, rng, metres=1.0, turn=0.02)
    pickups = batch.pickup_rest
    forces, link = element_forces(batch, state), links(batch, state, pickups)
    right_side = rng.normal(size=batch.size)
    right_side[batch.unused_dof] = 0.0
    step = system.solve(element_tangents(batch, state, forces), link, right_side)
    assert step is not None
    back = apply(batch, system, state, pickups, step)
    assert np.abs(back - right_side).max() < 1e-6 * np.abs(right_side).max()


def test_rigid_motion_strains_nothing_and_keeps_the_energy():
    """Turned by 2 rad about a skew axis and moved: no strain in the beam, whatever its strain was before."""
    rng = np.random.default_rng(11)
    batch = small_batch()
    for state in (initial_state(batch), random_state(batch, rng, metres=3.0, turn=0.03)):
        before = element_forces(batch, state)
        phi = 2.0 * np.array([0.48, -0.6, 0.64])
        turn = Rotation.from_rotvec(phi).as_matrix()
        x = batch.node_points + state.displacement_mm
        step = np.zeros(batch.size)
        step[batch.node_dofs[:, :3]] = x @ turn.T + [300.0, -50.0, 80.0] - x
        step[batch.node_dofs[:, 3:]] = phi
        after_state = advance(batch, state, step)
        after = element_forces(batch, after_state)
        # The quadratic element's chord of an arc is turned as a whole only where the rest tangent is that of the arc.
        assert np.abs(after_state.curvature - state.curvature).max() < 1e-15
        gain = np.abs(after.strain - before.strain).max()
        assert gain < arc_chord_error(batch)


def arc_chord_error(batch):
    """What the interpolated rest shape differs from the arc's tangent at the quadrature points, as a strain, doubled.

    x' = t0 + u' takes t0 from the arc and u' from the quadratic interpolation, so that a rigid turn leaves
    (Q - 1)(t0 - interpolated tangent) behind: third order in the element's angle.
    """
    tangent = batch.slope @ batch.node_points[batch.element_nodes]
    return 2.0 * np.abs(tangent - batch.rest_frames[..., 0]).max() + 1e-12


def test_rotational_spring_moment_and_its_derivative():
    rng = np.random.default_rng(5)
    for size in (1e-7, 1e-3, 0.009, 0.011, 0.5, 1.5, 2.8):
        axes = Rotation.random(random_state=1).as_matrix()
        stiffness = (axes @ np.diag([3.0, 7.0, 7.0]) @ axes.T)[None]
        theta = rng.normal(size=3)
        theta *= size / np.linalg.norm(theta)
        turned = Rotation.from_rotvec(theta)

        def at(phi, stiffness=stiffness, turned=turned):
            return rotational_springs(stiffness, (Rotation.from_rotvec(phi) * turned).as_matrix()[None])

        h = 1e-5 * max(size, 1e-2)
        energy, moment, tangent = at(np.zeros(3))
        assert energy[0] == pytest.approx(0.5 * theta @ stiffness[0] @ theta, rel=1e-9)
        gradient = [(at(h * e)[0][0] - at(-h * e)[0][0]) / (2 * h) for e in np.eye(3)]
        assert np.allclose(gradient, moment[0], rtol=1e-6, atol=1e-6 * np.abs(moment).max())
        slope = np.stack([(at(h * e)[1][0] - at(-h * e)[1][0]) / (2 * h) for e in np.eye(3)], axis=1)
        assert np.allclose(slope, tangent[0], rtol=0.0, atol=2e-6 * np.abs(tangent).max())


def test_exponential_and_logarithm_against_quaternions():
    rng = np.random.default_rng(2)
    for size in (1e-9, 1e-5, 0.99e-4, 1.01e-4, 1e-2, 0.7, 2.0, 3.1):
        phi = rng.normal(size=(20, 3))
        phi *= size / np.linalg.norm(phi, axis=1, keepdims=True)
        turned = Rotation.from_rotvec(phi).as_matrix()
        assert np.abs(rotations.exponential(phi) - turned).max() < 1e-14
        assert np.abs(rotations.logarithm(turned) - phi).max() < 1e-13 * max(1.0, 1.0 / (np.pi - size))
        # T by differences: d exp(phi) exp(phi)^T = skew(T dphi).
        _, spread = rotations.exponential_and_tangent(phi)
        h = 1e-5
        for k, e in enumerate(np.eye(3)):
            change = Rotation.from_rotvec(phi + h * e) * Rotation.from_rotvec(phi - h * e).inv()
            assert np.abs(change.as_rotvec() / (2 * h) - spread[:, :, k]).max() < 1e-8


def test_cross_product_is_numpys():
    rng = np.random.default_rng(4)
    a, b = rng.normal(size=(5, 1, 3)), rng.normal(size=(4, 3))
    assert cross(a, b) == pytest.approx(np.cross(a, b), rel=1e-15, abs=1e-15)


@pytest.mark.parametrize("seed", range(2))
def test_the_stress_foreseen_is_that_of_the_state_to_first_order(seed):
    """Of an increment a tenth as large it is off by a hundredth, in whatever frame; and given forces change nothing."""
    rng = np.random.default_rng(seed)
    batch = small_batch()
    state = random_state(batch, rng, metres=2.0)
    step = rng.normal(size=batch.size)

    def off(share):
        moved = share * step
        here = advance(batch, state, moved)
        exact = element_forces(batch, here)
        foreseen = foreseen_stress(batch, state, moved)
        again = foreseen_stress(batch, state, moved, element_forces(batch, state))
        assert all(np.array_equal(one, other) for one, other in zip(foreseen, again, strict=True))
        back = np.swapaxes(here.frames, -1, -2)
        own = ((back @ each[..., None])[..., 0] for each in (exact.force, exact.moment))
        return max(np.abs(one - other).max() for one, other in zip(foreseen, own, strict=True))

    assert off(1e-5) == pytest.approx(0.01 * off(1e-4), rel=0.05)
