"""Records of a hole setting: its peak stress, link forces, mount reactions, and where its deflection comes from."""

from __future__ import annotations

from barfem.model.frozen import frozen

__all__ = ["Compliance", "MountReaction", "Peak", "StateLoads"]


@frozen(kw_only=True)
class Peak:
    """Greatest von Mises stress of a hole setting over all places and all solved states.

    Includes bend curvature and net sections, not hole stress concentration. `at` is "rest", "travel" or
    "other end" (of the cycle); `surface` is "outside" or "bore".
    """

    von_mises_MPa: float
    station_mm: float
    from_middle_mm: float
    where: str
    surface: str
    at: str


@frozen(kw_only=True)
class StateLoads:
    """Link forces (axial, tension positive) at one solved state: "rest", "travel" or "other end"."""

    at: str
    link_force_left_N: float
    link_force_right_N: float


@frozen(kw_only=True)
class MountReaction:
    """What one mount's bushing, clamp and bolts must hold: the worst over the solved states, as magnitudes.

    `radial_N` is across the bar, `axial_N` along it; `moment_Nm` is the moment of the bushing's spread pressure
    and its own springs about the mount's centre. Each names the state at which it occurs. Mounts count from the
    right tip.
    """

    mount: int
    from_middle_mm: float
    radial_N: float
    radial_at: str
    axial_N: float
    axial_at: str
    moment_Nm: float
    moment_at: str


@frozen(kw_only=True)
class Compliance:
    """Whose share of the tip deflection, as fractions of 1 (by strain energy at travel)."""

    torsion: float
    arm_bending: float
    centre_bending: float
    shear_and_axial: float
    mounts: float
    links: float
