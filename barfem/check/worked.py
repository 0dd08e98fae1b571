"""Whether roll works the bar as an anti-roll bar: a bar that does nothing has no stress, and must never pass for it.

Roll at the links is taken up by torsion of the bar, by bending, by mounts and by links. Where torsion has next to no
share, or mounts and links take most of it, the bar resists no roll, however large its safety factor. Measured shares:
torsion 0.003 and mounts 0.995 in a Z (a bender's rotation typed 180 deg wrong), 0.34 and 0.055 in the same bar as
meant, 0.72 to 0.79 and at most 0.017 in the demo bars, 0.41 and 0.49 in a bar far too stiff for its mounts. The limits
lie between.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import pi

import numpy as np

from barfem.model.bar import Bar
from barfem.model.bar_geometry import outer_mounts
from barfem.model.dimensions import arms_oppose, main_dimensions
from barfem.model.frozen import frozen
from barfem.model.links import joint_centres
from barfem.solve.beam import HoleSetting
from barfem.solve.rate import SHARES

__all__ = ["Worked", "arms_of", "hand_rate_N_per_mm", "how_worked"]

LEAST_TORSION = 0.10
MOST_BY_SUPPORTS = 0.60
WARNED_BY_SUPPORTS = 0.35
LEAST_OF_HAND_RATE = 0.02
"""Share of the rate by hand below which a drawing and its numbers cannot belong together."""


@frozen
class Worked:
    """Why roll does not work a bar in one hole setting (`fails`), and what is near to it (`warns`), if anything."""

    fails: tuple[str, ...] = ()
    warns: tuple[str, ...] = ()


def how_worked(bar: Bar, setting: HoleSetting, *, shares: Sequence[float], rate_N_per_mm: float) -> Worked:
    """Judge a hole setting by the `shares` of its deflection (`barfem.solve.rate.SHARES`) and its rate, both at rest.

    A load case in which the bar may rightly feel nothing is not judged.
    """
    if setting.load_case.may_rest:
        return Worked()
    arms, apart, span = arms_of(bar, setting.left, setting.right)
    torsion, mounts, links = (shares[SHARES.index(name)] for name in ("torsion", "mounts", "links"))
    fails, warns = [], []
    if arms_oppose(*arms):
        fails.append(
            "roll does not work this bar: its arms point opposite ways (it turns in its mounts instead of twisting: "
            "look for a rotation, or an arm, with the wrong sign)"
        )
    supports = mounts + links
    if torsion < LEAST_TORSION and not fails and (lever := _no_lever(bar, setting)):
        fails.append(
            f"roll does not work this bar: {lever} (torsion takes {_percent(torsion)} of the travel; common practice, "
            "no source)"
        )
    if torsion < LEAST_TORSION and not fails:
        fails.append(
            f"roll does not work this bar: torsion takes {_percent(torsion)} of the travel (a bar that works as one "
            f"takes {_percent(LEAST_TORSION)} or more; mounts take {_percent(mounts)}, links {_percent(links)})"
        )
    if supports > MOST_BY_SUPPORTS and not fails:
        fails.append(
            f"roll does not work this bar: mounts and links take {_percent(supports)} of the travel (more than "
            f"{_percent(MOST_BY_SUPPORTS)}: they work, and not the bar)"
        )
    elif supports > WARNED_BY_SUPPORTS and not fails:
        warns.append(f"mounts and links take {_percent(supports)} of the travel: the bar is stiff for them")
    by_hand = hand_rate_N_per_mm(bar, arms, apart, span)  # in roll; one end alone has half of it
    if not fails and by_hand and rate_N_per_mm < LEAST_OF_HAND_RATE * by_hand:
        fails.append(
            f"roll does not work this bar: {rate_N_per_mm:.3g} N/mm is a tiny part of the {by_hand:.3g} N/mm by hand "
            "(from section, arms and width: the shape is not the one meant)"
        )
    return Worked(tuple(fails), tuple(warns))


def _no_lever(bar: Bar, setting: HoleSetting) -> str:
    """That a hole of the pair is no lever, in words; empty where both are."""
    for arm, hole in zip(main_dimensions(bar).arms, (setting.right, setting.left), strict=True):
        if not arm.is_lever(hole):
            return (
                f"hole {arm.holes[hole]} is no lever, {round(arm.lengths_mm[hole], 1):g} mm from the line of the "
                f"mounts where the end reaches {arm.reach_mm:.0f} mm"
            )
    return ""


def _percent(share: float) -> str:
    return f"{100.0 * share:.1f} %" if share < 0.1 else f"{100.0 * share:.0f} %"


def arms_of(bar: Bar, left: int, right: int) -> tuple[tuple[Sequence[float], Sequence[float]], float, float]:
    """Vectors from the mount axis to both joints, their distance along it, and the mounts' distance, mm."""
    first, last = outer_mounts(bar)
    span = float(np.linalg.norm(last - first))
    axis = (last - first) / span if span > 0.0 else np.array([0.0, 1.0, 0.0])
    joints = [
        np.array(list(joint_centres(end, bar.centreline).values())[number])
        for end, number in ((bar.right, right), (bar.left, left))
    ]
    across = [joint - first - ((joint - first) @ axis) * axis for joint in joints]
    apart = abs(float((joints[1] - joints[0]) @ axis))
    return (across[0].tolist(), across[1].tolist()), apart, span


def hand_rate_N_per_mm(
    bar: Bar, arms: tuple[Sequence[float], Sequence[float]], apart: float, span: float
) -> float | None:
    """Rate of each end in roll of a U with sharp corners, rigid point mounts and straight arms; None where it has none.

    f / F = (l^3 + (L / 2) b^2) / (3 E I) + l^2 (L / 2) / (G J), with the arm l, the distance L of the joints and the
    overhang b beyond the mounts: the handbook's formula (SAE HS-796, from memory) for arms square to the middle, each
    side's flexibility by itself.
    """
    d, bore, steel = bar.section.diameter_mm, bar.section.bore_mm, bar.steel
    inertia = pi * (d**4 - bore**4) / 64.0
    ei, gj = steel.E_MPa * inertia, steel.E_MPa / (1.0 + steel.nu) * inertia
    overhang = max(0.5 * (apart - span), 0.0)
    compliance = [
        (size**3 + 0.5 * apart * overhang**2) / (3.0 * ei) + size**2 * 0.5 * apart / gj
        for size in (float(np.linalg.norm(arm)) for arm in arms)
    ]
    mean = 0.5 * sum(compliance)
    return 1.0 / mean if min(compliance) > 0.0 and apart > 0.0 else None
