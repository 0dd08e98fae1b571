"""Ring sectors as problems of their section alone, solved by scikit-fem: independent solutions.

Pure bending: sections turn about the ring's axis by one radian per radian, u_phi = r phi, so that the hoop strain is
1 + u_r / r. A couple about a line in the ring's plane: the sector turns about that line (X) by theta c; beside that
the displacement is A cos(theta), B sin(theta), W cos(theta) along r, theta, z, and at 90 degrees it is torsion alone.
Quadratic triangles or quadrilaterals.
"""

from __future__ import annotations

import numpy as np
import skfem
from skfem.helpers import ddot, sym_grad


def _section(bore: float) -> tuple[skfem.Mesh, skfem.Element]:
    """A circle or ring of unit diameter and what is solved on it."""
    if bore == 0.0:
        return skfem.MeshTri.init_circle(5).scaled(0.5), skfem.ElementTriP2()
    grid = skfem.MeshQuad.init_tensor(np.linspace(0.5 * bore, 0.5, 9), np.linspace(0.0, 2.0 * np.pi, 145))
    rho, psi = grid.p
    points = np.stack([rho * np.cos(psi), rho * np.sin(psi)])
    _, first, inverse = np.unique(np.round(points, 12), axis=1, return_index=True, return_inverse=True)
    return skfem.MeshQuad(points[:, first], inverse.reshape(-1)[grid.t]), skfem.ElementQuad2()


def ring_bending(*, radius: float, bore: float = 0.0, nu: float = 0.3) -> tuple[float, float, float]:
    """Stress at inside and outside over M c / I, and flexibility over that of the beam, of a ring of unit diameter.

    `radius` of the centreline and `bore` in diameters. The inside is taken at the surface.
    """
    mesh, element = _section(bore)
    basis = skfem.Basis(mesh, skfem.ElementVector(element), intorder=4)
    lam, mu = nu / (1.0 + nu) / (1.0 - 2.0 * nu), 0.5 / (1.0 + nu)

    @skfem.BilinearForm
    def stiffness(u, v, w):  # type: ignore[no-untyped-def]
        r = radius - w.x[0]
        e, f, hoop, test = sym_grad(u), sym_grad(v), -u[0] / r, -v[0] / r
        trace = e[0, 0] + e[1, 1] + hoop
        return (lam * trace * (f[0, 0] + f[1, 1] + test) + 2.0 * mu * (ddot(e, f) + hoop * test)) * r

    @skfem.LinearForm
    def load(v, w):  # type: ignore[no-untyped-def]
        r = radius - w.x[0]
        f, test = sym_grad(v), -v[0] / r
        return -(lam * (f[0, 0] + f[1, 1] + test) + 2.0 * mu * test) * r

    held = basis.nodal_dofs[1, np.argmin(np.abs(mesh.p[1]) + mesh.p[0])]
    u = skfem.solve(*skfem.condense(stiffness.assemble(basis), load.assemble(basis), D=np.array([held])))

    def along(gradient, value, x):  # type: ignore[no-untyped-def]
        hoop = 1.0 - value[0] / (radius - x)
        return lam * (gradient[0][0] + gradient[1][1] + hoop) + 2.0 * mu * hoop

    @skfem.Functional
    def moment(w):  # type: ignore[no-untyped-def]
        return -along(w["u"].grad, w["u"], w.x[0]) * w.x[0]

    m = moment.assemble(basis, u=basis.interpolate(u))
    second = np.pi / 64.0 * (1.0 - bore**4)
    peaks = []
    for x in (0.5, -0.5):
        cell = mesh.element_finder()(np.array([0.9999 * x]), np.array([1e-5]))
        local = mesh.mapping().invF(np.array([[[x]], [[0.0]]]), tind=cell)
        here = skfem.Basis(
            mesh, skfem.ElementVector(element), elements=cell, quadrature=(local[:, 0], np.array([1.0]))
        ).interpolate(u)
        peaks.append(float(along(here.grad, here, x)[0, 0]) * second / (0.5 * m))
    return -peaks[0], peaks[1], float(second / (m * radius))


def ring_torsion(*, radius: float, bore: float = 0.0, nu: float = 0.3) -> tuple[float, float, float]:
    """Shear at inside and outside over T c / J of a ring of unit diameter under torque alone, and V d / T (nought).

    `radius` of the centreline and `bore` in diameters.
    """
    mesh, element = _section(bore)
    element = skfem.ElementVector(element, 3)
    basis = skfem.Basis(mesh, element, intorder=4)
    lam, mu = nu / (1.0 + nu) / (1.0 - 2.0 * nu), 0.5 / (1.0 + nu)

    def strains(u, x):  # type: ignore[no-untyped-def]
        """rr, zz, theta theta, gamma rz (all cos), gamma r theta, gamma z theta (both sin); r = radius - x, z = y."""
        r = radius - x[0]
        a, w, b = u[0], u[1], u[2]
        grad = u.grad
        return (
            -grad[0, 0],
            grad[1, 1],
            (a + b) / r,
            grad[0, 1] - grad[1, 0],
            -a / r - grad[2, 0] - b / r,
            -w / r + grad[2, 1],
        )

    def initial(x):  # type: ignore[no-untyped-def]
        r = radius - x[0]
        zero = 0.0 * x[0]
        return zero, zero, -x[1] / r, zero, -x[1] / r, 1.0 + zero

    def work(e, f):  # type: ignore[no-untyped-def]
        trace = lam * (e[0] + e[1] + e[2]) * (f[0] + f[1] + f[2])
        return trace + 2.0 * mu * sum(e[i] * f[i] for i in range(3)) + mu * sum(e[i] * f[i] for i in range(3, 6))

    @skfem.BilinearForm
    def stiffness(u, v, w):  # type: ignore[no-untyped-def]
        return work(strains(u, w.x), strains(v, w.x)) * (radius - w.x[0])

    @skfem.LinearForm
    def load(v, w):  # type: ignore[no-untyped-def]
        return -work(initial(w.x), strains(v, w.x)) * (radius - w.x[0])

    node = np.argmin(np.abs(mesh.p[1]) + np.abs(mesh.p[0]))
    held = basis.nodal_dofs[[1, 2], node]
    u = skfem.solve(*skfem.condense(stiffness.assemble(basis), load.assemble(basis), D=held))

    def shears(field, x):  # type: ignore[no-untyped-def]
        found, start = strains(field, x), initial(x)
        return mu * (found[4] + start[4]), mu * (found[5] + start[5])

    @skfem.Functional
    def torque(w):  # type: ignore[no-untyped-def]
        radial, axial = shears(w["u"], w.x)
        return w.x[0] * axial + w.x[1] * radial

    @skfem.Functional
    def force(w):  # type: ignore[no-untyped-def]
        return shears(w["u"], w.x)[1]

    field = basis.interpolate(u)
    t, v = torque.assemble(basis, u=field), force.assemble(basis, u=field)
    peaks = []
    for x in (0.5, -0.5):
        cell = mesh.element_finder()(np.array([0.9999 * x]), np.array([1e-5]))
        local = mesh.mapping().invF(np.array([[[x]], [[0.0]]]), tind=cell)
        here = skfem.Basis(mesh, element, elements=cell, quadrature=(local[:, 0], np.array([1.0])))
        place = np.array([[[x]], [[0.0]]])
        peaks.append(float(shears(here.interpolate(u), place)[1][0, 0]))
    polar = np.pi / 32.0 * (1.0 - bore**4)
    return peaks[0] * polar / (0.5 * t), -peaks[1] * polar / (0.5 * t), float(v / t)
