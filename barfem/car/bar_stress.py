"""Stress, yield margin and life of a bar at the car's states: section forces interpolated in travel, then judged."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barfem.car.bar_curves import BarCurves
from barfem.check.endurance import rank_by_life
from barfem.check.ranking import rank_regions
from barfem.model.errors import BarfemError
from barfem.model.frozen import frozen
from barfem.solve.resultants import resultants
from barfem.solve.states import only_states
from barfem.strength.bend_fields import with_bend_fields
from barfem.strength.hole_loads import HoleLoads, holes_in_use
from barfem.strength.places import sampling_stations
from barfem.strength.recover import recover
from barfem.strength.stress_maps import build_stress_maps
from barfem.strength.words import place_words

__all__ = ["BarStress", "StressAt"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]
CHUNK = 64


@frozen
class StressAt:
    """n states of one bar. Lives NaN where none is stated, as Goodman factors; `runout` beyond the knee."""

    peak_von_mises_MPa: Array
    where: tuple[str, ...]
    yield_margin: Array
    life_at_survival_cycles: Array
    runout_at_survival: NDArray[np.bool_]
    goodman_safety_factor: Array


class BarStress:
    """The stress everywhere of a bar whose curves are solved; its section forces are those of the grid's nodes."""

    def __init__(self, curves: BarCurves) -> None:
        if curves.solution is None or curves.grid is None or curves.axle_bar.bar is None:
            raise BarfemError("a bar given by its rates has no stress.")
        self.curves = curves
        self.bar = curves.solution.bar
        self.samples = sampling_stations(self.bar)
        self.maps = with_bend_fields(self.bar, self.samples, build_stress_maps(self.bar, self.samples))
        states = only_states(curves.solution, slice(3, None))
        self.nodes = resultants(states, self.samples.station_mm)  # (solved pair, node, n, 6)
        self.hole_loads = HoleLoads.of(self.bar, self.samples)
        self.in_use_mm = holes_in_use(self.bar, [(s.right, s.left) for s in states.settings])

    def at(self, pair: Index, q_mm: Array, *, other_end_mm: Array | None = None, words: bool = True) -> StressAt:
        """Peak and margin over q (n, 2) and the cycle's other end (default: the sides exchanged), life of that cycle.

        A mirrored hole pair is judged as its mirror image with the sides of q exchanged: the same stress, on the other
        side, so that `where` names the mirrored place; without `words` it is empty.
        """
        grid = self.curves.grid
        if grid is None:
            raise BarfemError("a bar given by its rates has no stress.")
        other = q_mm[:, ::-1] if other_end_mm is None else other_end_mm
        swap = np.array([self.curves.source[p][1] for p in pair])
        numbers = np.array([self.curves.source[p][0] for p in pair])
        parts = []
        for first in range(0, len(pair), CHUNK):
            some = slice(first, first + CHUNK)
            rows = [grid.weights(np.where(swap[some, None], end[some][:, ::-1], end[some]))[0] for end in (q_mm, other)]
            forces = np.einsum("nsk,nkxc->nsxc", np.stack(rows, axis=1), self.nodes[numbers[some]], optimize=True)
            forces = self.hole_loads.whole(forces, self.in_use_mm[numbers[some]])
            parts.append(self._judged(forces, words))
        return StressAt(
            np.concatenate([part.peak_von_mises_MPa for part in parts]),
            tuple(word for part in parts for word in part.where),
            np.concatenate([part.yield_margin for part in parts]),
            np.concatenate([part.life_at_survival_cycles for part in parts]),
            np.concatenate([part.runout_at_survival for part in parts]),
            np.concatenate([part.goodman_safety_factor for part in parts]),
        )

    def _judged(self, forces: Array, words: bool) -> StressAt:
        """Of forces (n, 2, samples, 6) at both ends of a cycle: peak and margin of both, life of the cycle."""
        found = recover(
            samples=self.samples,
            maps=self.maps,
            resultants=forces,
            cycle=(0, 1),
            yield_strength_MPa=self.bar.steel.yield_strength_MPa,
            severity=rank_by_life(self.bar),
        )
        ranking = rank_regions(self.bar, found)
        n = np.arange(len(forces))
        peak, worst = (n, found.governing_peak()), (n, ranking.order[:, 0])
        where = tuple(
            place_words(
                self.bar,
                self.samples,
                self.maps,
                sample=int(found.peak_sample[at]),
                point=int(found.peak_point[at]),
                evenness=float(found.peak_evenness[at]),
            )
            for at in (zip(*peak, strict=True) if words else ())
        )
        life = ranking.assessment
        return StressAt(
            found.peak_MPa[peak],
            where,
            found.yield_margin[:, found.checked].min(axis=1),
            life.life_at_survival_cycles[worst],
            life.runout_at_survival[worst],
            ranking.least_goodman[0],
        )
