"""The finished bar as one closed solid: cylinders, tori and planes, with its flats and their holes.

A flat is a rectangle whose edges are rounded by `EDGE_MM`, and its transition is ruled from it to the round: plane
triangles and patches between arcs. (No radius at all would end each patch in a point, which some programs cannot
read.) What is left out is told by `left_out`.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar, End, Flat, Hole
from barfem.model.centreline import Segment
from barfem.model.frozen import frozen
from barfem.vendor.solid_faces import Curve, Ring, Solid, Surface

__all__ = ["EDGE_MM", "bar_solid", "drilled", "edge_radius_mm", "left_out", "transition_mm"]

Array = NDArray[np.float64]
EDGE_MM = 0.5
SHORTEST_MM = 0.1  # of a transition: a step without one is drawn as short as that
QUARTER = 0.5 * np.pi


@frozen
class _Frame:
    """A place on the bar: point, t along it, and u, v across, carried without twist."""

    at: Array
    t: Array
    u: Array
    v: Array

    def across(self, angle: float) -> Array:
        return np.asarray(np.cos(angle) * self.u + np.sin(angle) * self.v)


def edge_radius_mm(flat: Flat) -> float:
    return min(EDGE_MM, 0.2 * flat.thickness_mm)


def transition_mm(flat: Flat) -> float:
    return max(flat.transition_mm, SHORTEST_MM)


def drilled(end: End) -> list[Hole]:
    """Holes that the solid has: those inside the full flat, whose axis is known."""
    flat = end.flat
    if flat is None:
        return []
    full, side = flat.length_mm - transition_mm(flat), 0.5 * flat.width_mm - edge_radius_mm(flat)
    out, last = [], 0.0
    for hole in sorted(end.holes, key=lambda hole: hole.from_tip_mm):
        radius = 0.5 * (hole.diameter_mm or 0.0)
        if radius > 0.0 and hole.from_tip_mm - radius > last and hole.from_tip_mm + radius < full and radius < side:
            out.append(hole)
            last = hole.from_tip_mm + radius
    return out


def left_out(bar: Bar) -> list[str]:
    """What the solid does not show as it is."""
    notes = []
    flats = [end for end in bar.ends if end.flat is not None]
    if flats:
        notes.append(f"edges of the flats rounded {max(edge_radius_mm(e.flat) for e in flats if e.flat):g} mm")
        if any(end.flat and end.flat.transition_mm < SHORTEST_MM for end in flats):
            notes.append(f"the step of a flat without transition {SHORTEST_MM:g} mm long")
        if any(end.flat and (end.flat.outline == "cosine" or end.flat.fillet_mm) for end in flats):
            notes.append("the flats' transitions straight without fillets, unlike the outline on the drawing")
        if bar.section.bore_mm:
            notes.append("the bore ends where a flat's transition begins")
    missing = [f"{hole.name} {end.side}" for end in bar.ends for hole in end.holes if hole not in drilled(end)]
    if missing:
        notes.append(f"holes not drilled in the solid: {', '.join(missing)} (no diameter, no axis, or not in the flat)")
    return notes


def bar_solid(bar: Bar) -> Solid:
    """The solid in drawing axes, mm."""
    solid, line = Solid(), bar.centreline
    start, end = 0.0, line.length_mm
    turns: list[float] = []
    cuts: dict[str, float] = {}
    for each in bar.ends:
        if each.flat is None:
            continue
        cuts[each.side] = each.flat.length_mm if each.side == "right" else end - each.flat.length_mm
        turns.append(_width_angle(bar, each))
    base = _apart(turns)
    start, end = cuts.get("right", start), cuts.get("left", end)
    parts = [s for s in line.segments if s.end_station_mm > start + 1e-6 and s.start_station_mm < end - 1e-6]
    stations = [start, *(s.start_station_mm for s in parts[1:]), end]
    frames = [_frame(bar, station) for station in stations]
    radius, bore = 0.5 * bar.section.diameter_mm, 0.5 * bar.section.bore_mm
    halves = [base, base + np.pi]
    outer, inner = [], []
    for i, frame in enumerate(frames):
        angles = list(halves)
        if i == 0 and bar.right.flat is not None:
            angles += _quarters(_width_angle(bar, bar.right), base)
        if i == len(frames) - 1 and bar.left.flat is not None:
            angles += _quarters(_width_angle(bar, bar.left), base)
        outer.append((solid.circle(frame.at, frame.t, frame.u, radius, sorted(angles)), sorted(angles)))
        if bore:
            inner.append((solid.circle(frame.at, frame.t, frame.u, bore, halves), halves))
    for i, segment in enumerate(parts):
        _swept(solid, segment, frames[i : i + 2], outer[i : i + 2], halves, radius, inside=False)
        if bore:
            _swept(solid, segment, frames[i : i + 2], inner[i : i + 2], halves, bore, inside=True)
    for each, index, top in ((bar.right, 0, False), (bar.left, -1, True)):
        frame, ring = frames[index], outer[index]
        holes = [inner[index][0]] if bore else []
        if each.flat is None:
            solid.cap(frame.at, frame.t, frame.u, ring[0], holes, top=top)
            continue
        if bore:  # closed: the plane bounds the bore, not the steel's outside
            loop = holes[0].forward if not top else holes[0].backward
            solid.face(Surface("plane", frame.at, -frame.t if top else frame.t, frame.u), loop)
        _flat(solid, bar, each, each.flat, ring, base, top=top)
    return solid


def _frame(bar: Bar, station: float) -> _Frame:
    points, frames = bar.centreline.evaluate([station])
    return _Frame(points[0], *frames[0])


def _width_angle(bar: Bar, end: End) -> float:
    """Angle of the flat's width direction w, from u towards v; (w, hole axis, t) is right-handed."""
    frame = _frame(bar, 0.0 if end.side == "right" else bar.centreline.length_mm)
    normal = np.array(end.flat.normal) if end.flat is not None else frame.v
    w = np.cross(normal, frame.t)
    return float(np.arctan2(w @ frame.v, w @ frame.u))


def _apart(turns: Sequence[float]) -> float:
    """Where the round faces are split: away from the quarters of both flats, so that no edge is tiny."""
    if not turns:
        return 0.0
    trial = np.linspace(0.0, QUARTER, 91)
    away = [np.abs((trial - turn + 0.5 * QUARTER) % QUARTER - 0.5 * QUARTER) for turn in turns]
    return float(trial[np.argmax(np.min(away, axis=0))])


def _quarters(turn: float, base: float) -> list[float]:
    """The four quarters of a flat's frame, in [base, base + 2 pi)."""
    return [base + (turn + k * QUARTER - base) % (2.0 * np.pi) for k in range(4)]


def _swept(
    solid: Solid, segment: Segment, frames: Sequence[_Frame], rings: Sequence[tuple[Ring, list[float]]],
    halves: list[float], radius: float, *, inside: bool,
) -> None:  # fmt: skip
    """The two halves of a straight's cylinder or a bend's torus."""
    low = frames[0]
    (lower, angles), (upper, over) = rings
    ends = [(lower.vertices[angles.index(a)], upper.vertices[over.index(a)]) for a in halves]
    if segment.radius_mm is None:
        surface = Surface("cylinder", low.at, low.t, low.u, radius)
        rails = [solid.line(*pair) for pair in ends]
    else:
        inward = low.across(segment.inward_angle_rad)
        axis = np.cross(low.t, inward)
        centre = low.at + segment.radius_mm * inward
        surface = Surface("torus", centre, axis, -inward, radius, segment.radius_mm)
        rails = []
        for pair in ends:
            arm = solid.vertices[pair[0]] - centre
            lift = (arm @ axis) * axis
            reach = float(np.linalg.norm(arm - lift))
            rails.append(solid.edge(Curve("circle", centre + lift, axis, (arm - lift) / reach, reach), *pair))
    for i in (0, 1):
        j = 1 - i
        solid.wall(
            surface, lower.between(ends[i][0], ends[j][0]), rails[j], upper.between(ends[i][1], ends[j][1]), rails[i],
            inside=inside,
        )  # fmt: skip


def _flat(
    solid: Solid, bar: Bar, end: End, flat: Flat, joint: tuple[Ring, list[float]], base: float, *, top: bool
) -> None:
    """Transition, flat, its holes and the cut end. `top`: the tip is the far end along t."""
    length = bar.centreline.length_mm
    full = flat.length_mm - transition_mm(flat)
    tip = _frame(bar, length if top else 0.0)
    root = _frame(bar, length - full if top else full)
    turn = _width_angle(bar, end)
    w, n = tip.across(turn), tip.across(turn + QUARTER)
    rho = edge_radius_mm(flat)
    rings = {key: _rectangle(solid, frame.at, tip.t, w, n, flat, rho) for key, frame in (("tip", tip), ("root", root))}
    quarters = [joint[0].vertices[joint[1].index(a)] for a in _quarters(turn, base)]
    _loft(solid, bar, rings["root"], joint[0], quarters, root, tip.t, (w, n), flat, rho, top=top)
    low, high = (rings["root"], rings["tip"]) if top else (rings["tip"], rings["root"])
    rails = [solid.line(a, b) for a, b in zip(low.vertices, high.vertices, strict=True)]
    bores = [_bore(solid, bar, flat, hole, w, n) for hole in drilled(end)]
    for k in range(4):
        way, corner = _corner(w, n, flat, rho, k)
        at = tip.at + corner
        solid.wall(
            Surface("cylinder", at, tip.t, way, rho), [low.edges[2 * k]], rails[2 * k + 1], [high.edges[2 * k]],
            rails[2 * k],
        )  # fmt: skip
        side = np.cross(tip.t, way)  # towards the side between this corner and the next
        half = 0.5 * (flat.thickness_mm if k in (0, 2) else flat.width_mm)
        loop = [
            (low.edges[2 * k + 1], True), (rails[(2 * k + 2) % 8], True),
            (high.edges[2 * k + 1], False), (rails[2 * k + 1], False),
        ]  # fmt: skip
        holes = []
        if k == 0:  # looks along the hole axis
            holes = [upper.backward for _, upper in bores]
        elif k == 2:
            holes = [lower.forward for lower, _ in bores]
        solid.face(Surface("plane", tip.at + half * side, side, tip.t), loop, *holes)
    solid.cap(tip.at, tip.t, w, rings["tip"], [], top=top)


def _corner(w: Array, n: Array, flat: Flat, rho: float, k: int) -> tuple[Array, Array]:
    """Direction in which corner k's arc begins (w, n, -w, -n), and the arc's centre from the flat's axis."""
    across, up = 0.5 * flat.width_mm - rho, 0.5 * flat.thickness_mm - rho
    signs = ((1.0, 1.0), (-1.0, 1.0), (-1.0, -1.0), (1.0, -1.0))[k]
    way = (w, n, -w, -n)[k]
    return way, signs[0] * across * w + signs[1] * up * n


def _rectangle(solid: Solid, at: Array, t: Array, w: Array, n: Array, flat: Flat, rho: float) -> Ring:
    """A ring of four arcs and four lines: arc 0 from w to n, the side that looks along n, and so on."""
    points, arcs = [], []
    for k in range(4):
        way, corner = _corner(w, n, flat, rho, k)
        centre = at + corner
        points += [solid.vertex(centre + rho * way), solid.vertex(centre + rho * np.cross(t, way))]
        arcs.append(Curve("circle", centre, t, way, rho))
    edges = []
    for k in range(4):
        edges.append(solid.edge(arcs[k], points[2 * k], points[2 * k + 1]))
        edges.append(solid.line(points[2 * k + 1], points[(2 * k + 2) % 8]))
    return Ring(tuple(points), tuple(edges))


def _loft(
    solid: Solid, bar: Bar, flat_ring: Ring, round_ring: Ring, quarters: list[int], root: _Frame, t: Array,
    ways: tuple[Array, Array], flat: Flat, rho: float, *, top: bool,
) -> None:  # fmt: skip
    """From the flat's rectangle to the round: at each quarter a plane triangle, between them patches."""
    w, n = ways
    radius = 0.5 * bar.section.diameter_mm
    middle = root.at + (-t if top else t) * transition_mm(flat)

    def rail(flat_vertex: int, round_vertex: int) -> int:
        return solid.line(*((round_vertex, flat_vertex) if top else (flat_vertex, round_vertex)))

    begins = [rail(flat_ring.vertices[2 * k], quarters[k]) for k in range(4)]
    ends = [rail(flat_ring.vertices[2 * k + 1], quarters[(k + 1) % 4]) for k in range(4)]
    for k in range(4):
        way, corner = _corner(w, n, flat, rho, k)
        after = np.cross(t, way)
        small = [root.at + corner + rho * v for v in (way, way + after, after)]
        large = [middle + radius * v for v in (way, way + after, after)]
        poles = np.array([large, small] if top else [small, large]).swapaxes(0, 1)
        flat_edges = [flat_ring.edges[2 * k]]
        round_edges = round_ring.between(quarters[k], quarters[(k + 1) % 4])
        lower, upper = (round_edges, flat_edges) if top else (flat_edges, round_edges)
        solid.wall(Surface("patch", root.at, t, way, poles=poles), lower, ends[k], upper, begins[k])
        side = [flat_ring.edges[2 * k + 1]]
        corners = [solid.vertices[flat_ring.vertices[(2 * k + i) % 8]] for i in (1, 2)]
        along = corners[1] - corners[0]
        normal = np.cross(along, solid.vertices[quarters[(k + 1) % 4]] - corners[0])
        normal = normal * np.sign(normal @ after) / np.linalg.norm(normal)
        surface = Surface("plane", corners[0], normal, along / np.linalg.norm(along))
        lower, upper = ([], side) if top else (side, [])
        solid.wall(surface, lower, begins[(k + 1) % 4], upper, ends[k])


def _bore(solid: Solid, bar: Bar, flat: Flat, hole: Hole, w: Array, n: Array) -> tuple[Ring, Ring]:
    """A hole through the flat: its rings on the side that looks against and along the hole axis."""
    at = _frame(bar, hole.station_mm).at
    radius, half = 0.5 * (hole.diameter_mm or 0.0), 0.5 * flat.thickness_mm
    low, high = at - half * n, at + half * n
    lower, upper = (solid.circle(point, n, w, radius, [0.0, np.pi]) for point in (low, high))
    rails = [solid.line(a, b) for a, b in zip(lower.vertices, upper.vertices, strict=True)]
    surface = Surface("cylinder", low, n, w, radius)
    for i in (0, 1):
        solid.wall(surface, [lower.edges[i]], rails[1 - i], [upper.edges[i]], rails[i], inside=True)
    return lower, upper
