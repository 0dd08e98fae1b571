"""Some of the states of a solution, as a solution of their own."""

from __future__ import annotations

from dataclasses import replace

from barfem.solve.beam import BeamSolution

__all__ = ["only_states"]


def only_states(solution: BeamSolution, states: slice) -> BeamSolution:
    """The same hole settings in the states (k) `states` alone; norms and the rate at rest stay those of the whole."""
    return replace(
        solution,
        pickup_move_mm=solution.pickup_move_mm[:, states],
        displacement_mm=solution.displacement_mm[:, states],
        turned=solution.turned[:, states],
        element_nodal=solution.element_nodal[:, states],
        link_force_N=solution.link_force_N[:, states],
        link_direction=solution.link_direction[:, states],
        joint_mm=solution.joint_mm[:, states],
        pickup_force_N=solution.pickup_force_N[:, states],
        mount_force_N=solution.mount_force_N[:, states],
        mount_moment_Nmm=solution.mount_moment_Nmm[:, states],
        strain_energy_Nmm=solution.strain_energy_Nmm[:, states],
    )
