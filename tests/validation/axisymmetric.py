"""A ring sector in pure bending as an axisymmetric problem of scikit-fem: an independent solution.

Sections of the sector turn about the ring's axis by one radian per radian, u_phi = r phi, so that the hoop strain is
1 + u_r / r; the displacement in the section is solved for with quadratic triangles or quadrilaterals.
"""

from __future__ import annotations

import numpy as np
import skfem
from skfem.helpers import ddot, sym_grad


def ring_bending(*, radius: float, bore: float = 0.0, nu: float = 0.3) -> tuple[float, float, float]:
    """Stress at inside and outside over M c / I, and flexibility over that of the beam, of a ring of unit diameter.

    `radius` of the centreline and `bore` in diameters. The inside is taken at the surface.
    """
    if bore == 0.0:
        mesh, element = skfem.MeshTri.init_circle(5).scaled(0.5), skfem.ElementTriP2()
    else:
        grid = skfem.MeshQuad.init_tensor(np.linspace(0.5 * bore, 0.5, 9), np.linspace(0.0, 2.0 * np.pi, 145))
        rho, psi = grid.p
        points = np.stack([rho * np.cos(psi), rho * np.sin(psi)])
        _, first, inverse = np.unique(np.round(points, 12), axis=1, return_index=True, return_inverse=True)
        mesh = skfem.MeshQuad(points[:, first], inverse.reshape(-1)[grid.t])
        element = skfem.ElementQuad2()
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
