"""A closed solid as faces, edges and vertices (boundary representation), before it is written as STEP.

Faces lie between two rings: closed chains of edges round the bar, counterclockwise about the walking direction t. With
e_r outwards, (e_r, e_phi, t) is right-handed, so that a face's loop, counterclockwise seen from outside, is the lower
ring forwards, up, the upper ring backwards, down.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from barfem.model.frozen import frozen

__all__ = ["Curve", "Face", "Loop", "Ring", "Solid", "Surface"]

Array = NDArray[np.float64]
Loop = list[tuple[int, bool]]
"""Edges in order; whether each is walked forwards."""


@frozen
class Curve:
    """A line (its own ends say where), or a circle about `axis` that begins at `reference`."""

    kind: Literal["line", "circle"]
    centre: Array | None = None
    axis: Array | None = None
    reference: Array | None = None
    radius: float = 0.0


@frozen
class Surface:
    """A plane, cylinder or torus (outward normal), or the patch ruled between two quarter arcs.

    `poles` (3, 2, 3) of the patch: control points of both arcs, their middles with weight sqrt(1/2), which is exact.
    """

    kind: Literal["plane", "cylinder", "torus", "patch"]
    at: Array
    axis: Array
    reference: Array
    radius: float = 0.0
    major: float = 0.0
    poles: Array | None = None


@frozen
class Face:
    """`same`: the face's normal, which points out of the steel, is the surface's. The first loop is the outer one."""

    surface: Surface
    same: bool
    loops: tuple[Loop, ...]


@frozen
class Ring:
    """Vertices and the edges from each to the next, in order round the bar."""

    vertices: tuple[int, ...]
    edges: tuple[int, ...]

    def between(self, first: int, last: int) -> list[int]:
        """Edges from one vertex round to another; all of them if it is the same."""
        i, out = self.vertices.index(first), []
        while True:
            out.append(self.edges[i])
            i = (i + 1) % len(self.vertices)
            if self.vertices[i] == last:
                return out

    @property
    def forward(self) -> Loop:
        return [(edge, True) for edge in self.edges]

    @property
    def backward(self) -> Loop:
        return [(edge, False) for edge in reversed(self.edges)]


@dataclass
class Solid:
    """Vertices in mm, edges (curve, from, to) and faces of one closed shell."""

    vertices: list[Array] = field(default_factory=list)
    edges: list[tuple[Curve, int, int]] = field(default_factory=list)
    faces: list[Face] = field(default_factory=list)

    def vertex(self, point: Array) -> int:
        self.vertices.append(np.asarray(point, float))
        return len(self.vertices) - 1

    def edge(self, curve: Curve, start: int, end: int) -> int:
        self.edges.append((curve, start, end))
        return len(self.edges) - 1

    def line(self, start: int, end: int) -> int:
        return self.edge(Curve("line"), start, end)

    def circle(self, centre: Array, t: Array, u: Array, radius: float, angles: list[float]) -> Ring:
        """A round ring about t with vertices at these angles (ascending, from u), and arcs between them."""
        v = np.cross(t, u)
        ways = [np.cos(angle) * u + np.sin(angle) * v for angle in angles]
        points = tuple(self.vertex(centre + radius * way) for way in ways)
        edges = tuple(
            self.edge(Curve("circle", centre, t, ways[i], radius), points[i], points[(i + 1) % len(points)])
            for i in range(len(points))
        )
        return Ring(points, edges)

    def face(self, surface: Surface, *loops: Loop, same: bool = True) -> None:
        self.faces.append(Face(surface, same, loops))

    def wall(
        self, surface: Surface, lower: list[int], up: int, upper: list[int], down: int, *, inside: bool = False
    ) -> None:
        """A face between parts of two rings; `inside`: it bounds a bore, the steel is beyond it."""
        loop: Loop = [(edge, True) for edge in lower]
        loop += [(up, True), *((edge, False) for edge in reversed(upper)), (down, False)]
        if inside:
            loop = [(edge, not forward) for edge, forward in reversed(loop)]
        self.face(surface, loop, same=not inside)

    def cap(self, at: Array, t: Array, u: Array, outer: Ring, holes: list[Ring], *, top: bool) -> None:
        """A plane end with its holes; `top`: it looks along t, otherwise against it."""
        loops = [outer.forward if top else outer.backward]
        loops += [ring.backward if top else ring.forward for ring in holes]
        self.face(Surface("plane", at, t if top else -t, u), *loops)
