"""The loads of a bar's samples as its stress maps take them: each edge of a hole in a flat has those of its own use.

Behind the six resultants stand, where a flat is drilled, what a bolt's pressure has beside its cosine: terms that go
with the size of its force and not with its sign (`barfem.solve.solid.hole_table.BEARING`).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.bar_geometry import flat_axis_angle_rad
from barfem.model.frozen import frozen
from barfem.solve.solid.hole_table import BEARING
from barfem.strength.holes import flat_holes, uses, wall_edges
from barfem.strength.places import Samples

__all__ = ["HoleLoads", "holes_in_use"]

Array = NDArray[np.float64]
NEVER = -1.0


def holes_in_use(bar: Bar, pairs: Sequence[tuple[int, int]]) -> Array:
    """(c, 2) distance from the tip [mm] of the right and left hole of each pair of indices into the ends' holes."""
    return np.array([[bar.right.holes[right].from_tip_mm, bar.left.holes[left].from_tip_mm] for right, left in pairs])


@frozen(eq=False)
class HoleLoads:
    """The edges of holes in flats among the samples: arrays (e,).

    `applies_from_mm` and `applies_to_mm` are the distances from the tip between which the hole in use lies; `width`
    (e, 2) is the flat's axis 2 in the frame (a, b), `in_use` whether a bolt presses the wall.
    """

    sample: NDArray[np.intp]
    side: NDArray[np.intp]
    applies_from_mm: Array
    applies_to_mm: Array
    width: Array
    in_use: NDArray[np.bool_]

    @classmethod
    def of(cls, bar: Bar, samples: Samples) -> HoleLoads:
        rows: list[tuple[int, int, float, float, float, float, bool]] = []
        for side, end in enumerate(bar.ends):
            drilled = flat_holes(end)
            if not drilled:
                continue
            angle = flat_axis_angle_rad(bar, end) + np.pi
            for number, region in enumerate(samples.regions):
                if region.hole is None or region.side != end.side or region.hole not in drilled:
                    continue
                hole = region.hole
                here = samples.of(number)
                edges = np.arange(here.start, here.stop)[samples.edge[here] > 0]
                outboard = [other.from_tip_mm for other in end.holes if other.from_tip_mm < hole.from_tip_mm]
                nearest = max(outboard, default=NEVER)
                beyond = [each for each in outboard if each < nearest] if "next" in uses(end, hole) else outboard
                ranges = {
                    "in use": (hole.from_tip_mm, hole.from_tip_mm),
                    "next": (nearest, nearest),
                    "passed": (0.0, max(beyond, default=NEVER)),
                }
                for sample, (use, _) in zip(edges.tolist(), wall_edges(end, hole), strict=True):
                    low, high = ranges[use]
                    rows.append((sample, side, low, high, np.cos(angle), np.sin(angle), use == "in use"))
        columns: list[tuple[Any, ...]] = list(zip(*rows, strict=True)) if rows else [()] * 7
        return cls(
            sample=np.array(columns[0], dtype=np.intp),
            side=np.array(columns[1], dtype=np.intp),
            applies_from_mm=np.array(columns[2], dtype=float),
            applies_to_mm=np.array(columns[3], dtype=float),
            width=np.stack([np.array(columns[4], dtype=float), np.array(columns[5], dtype=float)], axis=-1),
            in_use=np.array(columns[6], dtype=bool),
        )

    def whole(self, resultants: Array, in_use_mm: Array) -> Array:
        """Loads (c, states, n, 11) from resultants (c, states, n, 6); as they are where no flat is drilled.

        `in_use_mm` (c, 2) are the distances from the tip of the holes in use, right and left. An edge of another use
        than a copy's carries nothing there.
        """
        if not len(self.sample):
            return resultants
        out = np.concatenate([resultants, np.zeros((*resultants.shape[:-1], len(BEARING)))], axis=-1)
        used = in_use_mm[:, self.side]  # (c, e)
        hair = 1e-6
        applies = (used >= self.applies_from_mm - hair) & (used <= self.applies_to_mm + hair)
        here = resultants[:, :, self.sample] * applies[:, None, :, None]
        out[:, :, self.sample, :6] = here
        bolted = np.flatnonzero(self.in_use)
        force = here[:, :, bolted]
        across = (force[..., 1:3] * self.width[bolted]).sum(axis=-1)
        size = np.hypot(force[..., 0], across)
        angle = np.arctan2(across, force[..., 0])
        terms = [size] + [size * f(k * angle) for k in (2, 4) for f in (np.cos, np.sin)]
        out[:, :, self.sample[bolted], 6:] = np.stack(terms, axis=-1)
        return out
