"""Rules of the review that look at the bar in use: links, keep-out bodies, and every hole setting's check."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from barfem.check.hole_names import pair_words
from barfem.check.result import CheckResult
from barfem.check.solved import Unsolved
from barfem.model.bar import Bar
from barfem.model.bar_geometry import outer_mounts
from barfem.model.load_case import Instant
from barfem.solve.beam import BeamSolution
from barfem.vendor.keep_out import nearest_to_bodies, reach_mm
from barfem.vendor.maker_tables import keep_out_of
from barfem.vendor.rules import Finding, Rule, finding

__all__ = ["in_use"]

Rules = Mapping[str, Rule]
Array = NDArray[np.float64]
STATES = ("rest", "full travel", "the other end of the cycle")
LINK_RADIUS_MM = 6.0  # of a link's rod where it passes the bar (common practice, no source)


def in_use(
    bar: Bar, rules: Rules, *, solution: BeamSolution | None, stuck: Unsolved, checked: CheckResult
) -> list[Finding]:
    """Findings of the solved bar; `solution` has all load cases, less the `stuck`, `checked` those that are judged."""
    moved = [] if solution is None else [*_links(bar, rules, solution), *_bodies(bar, rules, solution)]
    return [*moved, *_joints(rules, checked), *_stress(rules, checked), *_stuck(bar, rules, stuck, checked)]


def _axis(bar: Bar) -> tuple[Array, Array]:
    right, left = outer_mounts(bar)
    return right, (left - right) / np.linalg.norm(left - right)


def _points(bar: Bar, solution: BeamSolution) -> tuple[Array, Array]:
    """Centreline (j, k, n, 3) in the three named states, finely, and its stations (n,).

    Between the beam's nodes displacement is interpolated; the centreline itself is exact.
    """
    line, nodes = bar.centreline, solution.mesh.node_stations_mm
    stations = np.unique(np.concatenate([np.linspace(0.0, line.length_mm, 600), nodes]))
    points, _ = line.evaluate(stations)
    moved = solution.displacement_mm[:, : len(STATES)]
    i = np.clip(np.searchsorted(nodes, stations) - 1, 0, len(nodes) - 2)
    share = ((stations - nodes[i]) / (nodes[i + 1] - nodes[i]))[:, None]
    return points + (1.0 - share) * moved[:, :, i] + share * moved[:, :, i + 1], stations


def _links(bar: Bar, rules: Rules, solution: BeamSolution) -> Iterator[Finding]:
    origin, axis = _axis(bar)
    joints, directions = solution.joint_mm[:, : len(STATES)], solution.link_direction[:, : len(STATES)]
    arms = joints - origin
    arms = arms - (arms @ axis)[..., None] * axis
    size = np.linalg.norm(arms, axis=-1)
    along = np.sum(arms * directions, axis=-1) / np.maximum(size, 1e-9)
    angle = np.degrees(np.arccos(np.clip(np.abs(along), 0.0, 1.0)))
    turns = np.sum(np.cross(axis, arms) * directions, axis=-1)
    # Over-centre: the link's moment about the mounts has changed its sense against rest.
    signed = np.where(turns * turns[:, :1] >= 0.0, angle, -angle)
    points, stations = _points(bar, solution)
    reach = reach_mm(bar, stations)
    worst: dict[tuple[str, str, str], tuple[float, str, str]] = {}
    for j, setting in enumerate(solution.settings):
        for side, end, index in ((0, bar.right, setting.right), (1, bar.left, setting.left)):
            hole = end.holes[index]
            link = bar.right_link if side == 0 else bar.left_link
            length = link.length_mm or float(
                np.linalg.norm(np.array(link.pickup_mm or (0, 0, 0)) - solution.joint_mm[j, Instant.REST, side])
            )
            for k, state in enumerate(STATES):
                where, state_words = f'hole "{hole.name}", {end.side} link', f"{setting.case}, {state}"
                _keep_worst(worst, "link_angle", where, float(signed[j, k, side]), state_words)
                gap = _clearance(
                    joints[j, k, side], directions[j, k, side], length, points[j, k], stations, reach, hole.station_mm
                )
                if gap is not None:
                    _keep_worst(worst, "link_clearance", where, gap, state_words)
    for (key, where, _), (value, state, _) in worst.items():
        words = (
            f"{'over-centre by' if value < 0.0 else 'link to arm'} {abs(value):.1f} deg ({state})"
            if key == "link_angle"
            else f"link to bar {value:.1f} mm, for a link of {2 * LINK_RADIUS_MM:g} mm ({state})"
        )
        yield from finding(rules[key], value, words, where)


def _keep_worst(
    worst: dict[tuple[str, str, str], tuple[float, str, str]], key: str, where: str, value: float, state: str
) -> None:
    name = (key, where, "")
    if name not in worst or value < worst[name][0]:
        worst[name] = (value, state, "")


def _clearance(
    joint: Array, direction: Array, length: float, points: Array, stations: Array, reach: Array, own_mm: float
) -> float | None:
    """Least gap between a link and the bar, away from its own hole by three diameters of the bar along it."""
    far = np.abs(stations - own_mm) > 6.0 * reach.min()
    if not far.any():
        return None
    rod = joint - np.linspace(0.0, length, 60)[:, None] * direction  # the direction runs from pickup to joint
    distance = np.linalg.norm(points[far][:, None, :] - rod, axis=-1).min(axis=1)
    return float((distance - reach[far]).min() - LINK_RADIUS_MM)


def _joints(rules: Rules, checked: CheckResult) -> Iterator[Finding]:
    worst: dict[str, tuple[float, str]] = {}
    for setting in checked.settings:
        for side in ("left", "right"):
            angle = getattr(setting, f"joint_angle_{side}_deg")
            where = f'hole "{getattr(setting, side)}", {side} joint'
            if angle is not None and angle > worst.get(where, (-1.0, ""))[0]:
                worst[where] = (float(angle), setting.case)
    for where, (angle, case) in worst.items():
        yield from finding(rules["joint_angle"], angle, f"joint turns {angle:.1f} deg from rest ({case})", where)


def _bodies(bar: Bar, rules: Rules, solution: BeamSolution) -> Iterator[Finding]:
    table = keep_out_of(bar)
    if not (table.boxes or table.spheres or table.cylinders):
        return
    points, stations = _points(bar, solution)
    j, k = points.shape[:2]
    names = [(f"hole {bar.left.holes[s.left].name}, {s.case}", state) for s in solution.settings for state in STATES]
    rule = rules["keep_out"]
    if "limit of the bar file" not in rule.source:
        rule = Rule(rule.key, rule.title, rule.unit, rule.stop, table.gap, "below", rule.source)
    found = nearest_to_bodies(
        bar, table, points_mm=points.reshape(j * k, *points.shape[2:]), stations_mm=stations, names=names
    )
    for each in found:
        what = (
            f'{"touches" if each.gap_mm < 0.0 else "comes near"} "{each.name}": gap {each.gap_mm:.1f} mm at station '
            f"{each.station_mm:.0f} mm ({each.case}, {each.state})"
        )
        yield from finding(rule, each.gap_mm, what, each.name)


def _stress(rules: Rules, checked: CheckResult) -> Iterator[Finding]:
    for setting in checked.rows:
        if not setting.passes:
            why: Sequence[str] = setting.why
            what = "does not pass: " + "; ".join(text.rstrip(".") for text in why)
            yield from finding(rules["stress"], None, what, f"hole {setting.holes}, {setting.case}", given="stop")


def _stuck(bar: Bar, rules: Rules, stuck: Unsolved, checked: CheckResult) -> Iterator[Finding]:
    """Hole settings of load cases that are not judged, and that cannot be moved so far; the judged do not pass."""
    judged = {(each.left, each.right, each.case) for each in checked.rows}
    for setting, why in stuck:
        left, right = bar.left.holes[setting.left].name, bar.right.holes[setting.right].name
        if (left, right, setting.case) not in judged:
            what = f"not judged, nor its links and keep-out looked at: {why.rstrip('.')}"
            yield from finding(
                rules["stress"], None, what, f"hole {pair_words(left, right)}, {setting.case}", given="note"
            )
