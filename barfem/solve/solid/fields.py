"""The stress field and the flexibility of one bend, from a short solid with straight stubs.

The solid is loaded by six forces and moments at one end, balanced at the other. Everything is dimensionless: lengths
in outside diameters, stress over E-free unit load; a field depends on radius / diameter, angle, wall / diameter, the
walls of the bend, ovality and nu alone. The bend's centre lies in the direction of the section's axis a: angle 0 is
the inside.
"""

from __future__ import annotations

from dataclasses import field, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from barfem.model.bent_wall import BentWall, wall_by_rule
from barfem.model.centreline import Centreline, Segment
from barfem.model.frozen import frozen
from barfem.solve.solid.assembly import Springs, factorise
from barfem.solve.solid.flexibility import bend_line, factors_of, flexibilities, resultant_transfer
from barfem.solve.solid.mesh import Density, SweptMesh, body_grid, plane_stations, sweep
from barfem.solve.solid.motion import SectionMotion, rigid_transfer
from barfem.solve.solid.profile import BLEND_DIAMETERS, Profile
from barfem.solve.solid.recovery import HARMONICS, surface_stress
from barfem.solve.solid.section import SectionGrid, wave_ring
from barfem.solve.solid.table import FACTORS, decay_length, harmonics, to_bend
from barfem.solve.solid.threads import one_blas_thread

__all__ = [
    "BendField",
    "SolvedPath",
    "bend_field",
    "bend_line",
    "field_density",
    "flexibility_reach",
    "resultant_transfer",
    "six_cases",
    "solve_path",
    "stub_length",
]

Array = NDArray[np.float64]

STUB_SOLID, STUB_TUBE = 1.5, 2.0  # the least
STUB_DECAYS = 3.0  # of a tube's ovalising, that a stub is long

WAVES = 8  # round a tube: two more change no stress by more than 0.01 %
# Order through the wall below each t/d, for the bore within 0.4 % of two orders more (0.1 % below 0.25).
DEPTHS = ((0.16, 3), (0.26, 4), (1.0, 5))
SHORT_BEND = 1.5  # diameters of developed length below which stress changes faster along a bend


@frozen(eq=False)
class BendField:
    """Stress of a bend and its stubs under six end loads, in diameters.

    Attributes
    ----------
    radius_over_diameter, angle_deg, wall_over_diameter, bent, ovality, nu
        What it is the field of; `bent` None for an even wall, and for a solid bar.
    stub_over_diameter
        Length of each stub.
    stations : (n_stations,)
        From the bend's first tangent, in diameters; negative in the first stub.
    outside, bore : (n_stations, 2 K + 1, 3, 6)
        Fourier coefficients (1, cos, sin) of stress along, round and in shear per unit of the end loads; bore None
        for a solid bar. Unit: 1 / diameter^2 for the three forces, 1 / diameter^3 for the moments.
    flexibility : (6, 6)
        Mean motion of the far tangent relative to the near one under forces and moments at the far one, in the far
        section's axes, times E diameter (forces) and so on: lengths in diameters, E = 1.
    beam_flexibility : (6, 6)
        The same of the curved Timoshenko beam with a straight bar's section constants.
    factors
        Flexibility of the bend over that of the beam, for `in_plane`, `out_of_plane` bending and `torsion`.
    """

    radius_over_diameter: float
    angle_deg: float
    wall_over_diameter: float | None
    bent: BentWall | None
    ovality: float
    nu: float
    stub_over_diameter: float
    stations: Array
    outside: Array
    bore: Array | None
    flexibility: Array
    beam_flexibility: Array
    factors: dict[str, float] = field(default_factory=dict)
    n_unknowns: int = 0

    @property
    def length_over_diameter(self) -> float:
        """Developed length of the bend without stubs."""
        return float(self.radius_over_diameter * np.radians(self.angle_deg))

    def maps(
        self,
        stations: Array,
        angles: Array,
        diameter: float,
        *,
        surface: Literal["outside", "bore"] = "outside",
        inward_angle_rad: float = 0.0,
    ) -> Array:
        """Stress per unit local resultant (n_stations, n_points, 3, 6).

        Parameters
        ----------
        stations : (n_stations,)
            From the bend's first tangent, mm; negative in the first stub.
        angles : (n_points,)
            From a towards b, rad.
        diameter
            Outside diameter, mm.
        inward_angle_rad
            Direction of the bend's centre, from a towards b, in the frame that resultants and angles refer to.

        Returns
        -------
        Stress along, round, and shear, for N, V_a, V_b (1/mm^2), T, M_a, M_b (1/mm^3) at that station.
        """
        coefficients = self.outside if surface == "outside" else self.bore
        if coefficients is None:
            raise ValueError("a solid bar has no bore")
        s = np.asarray(stations, float) / diameter
        low, high = -self.stub_over_diameter, self.length_over_diameter + self.stub_over_diameter
        if np.any(s < low - 1e-9) or np.any(s > high + 1e-9):
            raise ValueError(f"stations must lie within the field, {low * diameter:g} to {high * diameter:g} mm")
        series = np.asarray(CubicSpline(self.stations, coefficients, axis=0)(s))
        order = (coefficients.shape[1] - 1) // 2
        shapes = harmonics(np.asarray(angles, float) - inward_angle_rad, order)
        per_end_load = np.einsum("ok,skce->soce", shapes, series)
        transfer = resultant_transfer(s, self.radius_over_diameter, np.radians(self.angle_deg))
        local = np.einsum("soce,ser->socr", per_end_load, np.linalg.inv(transfer))
        scale = np.array([1.0, 1.0, 1.0, 1.0 / diameter, 1.0 / diameter, 1.0 / diameter]) / diameter**2
        return local @ to_bend(inward_angle_rad) * scale


def stub_length(wall_over_diameter: float | None) -> float:
    """Straight beyond the first and the last bend of what is solved, diameters."""
    if wall_over_diameter is None:
        return STUB_SOLID
    return max(STUB_TUBE, STUB_DECAYS * decay_length(wall_over_diameter))


def flexibility_reach(stub: float) -> float:
    """How far out the motions are read, where the bend's own field has died away and the end's has not begun."""
    return max(min(1.0, stub), stub - 1.0)


def field_density(arc: float, *, shorter: float = 2.0) -> Density:
    """Density for a table: slices `shorter` than the bar's standard, so that a bend `arc` diameters long is resolved.

    With 2 its greatest stress is within 0.3 % of much finer ones; twice as short again in short bends.
    """
    standard = Density()
    more = shorter * (2.0 if arc < SHORT_BEND else 1.0)
    return replace(standard, bend=standard.bend / more, near=standard.near / more)


def bend_field(
    *,
    radius_over_diameter: float,
    angle_deg: float,
    wall_over_diameter: float | None = None,
    bent: BentWall | Literal["thinned", "uniform"] = "thinned",
    ovality: float = 0.0,
    nu: float = 0.3,
    density: Density | None = None,
    stub_over_diameter: float | None = None,
) -> BendField:
    """Solve one bend. `bent`: the bend's walls in diameters, or by the named rule, or even.

    Raises
    ------
    ValueError
        A bend tighter than the bar is thick, or a wall that fills its tube.
    """
    if radius_over_diameter <= 0.5:
        raise ValueError("a bend's radius must exceed half the diameter")
    if wall_over_diameter is not None and not 0.0 < wall_over_diameter < 0.5:
        raise ValueError("the wall must lie between nothing and half the diameter")
    angle = float(np.radians(angle_deg))
    stub = stub_over_diameter or stub_length(wall_over_diameter)
    density = density or Density()
    line = bend_line(radius_over_diameter, angle, stub)
    walls: BentWall | None = None
    if wall_over_diameter is not None and bent == "thinned":
        walls = wall_by_rule(wall=wall_over_diameter, diameter=1.0, radius=radius_over_diameter)
    elif wall_over_diameter is not None and isinstance(bent, BentWall):
        walls = bent
    profile = Profile(1.0, wall_over_diameter, () if walls is None else (walls,), ovality)
    path = solve_path(line, profile, density=density, nu=nu)
    bend = line.bends[0]
    reach = flexibility_reach(stub)
    flexibility, beam = path.flexibilities(bend, (stub - reach, bend.end_station_mm + reach))
    factors = dict(zip(FACTORS, path.factors(bend, flexibility, beam).tolist(), strict=True))
    return BendField(
        radius_over_diameter=radius_over_diameter,
        angle_deg=angle_deg,
        wall_over_diameter=wall_over_diameter,
        bent=walls,
        ovality=ovality,
        nu=nu,
        stub_over_diameter=stub,
        stations=path.stations - stub,
        outside=path.outside,
        bore=path.bore,
        flexibility=flexibility,
        beam_flexibility=beam,
        factors=factors,
        n_unknowns=path.mesh.n_unknowns,
    )


def path_stations(line: Centreline, density: Density, blends: bool) -> Array:
    """Planes along a path: fine in its bends and one diameter beyond them, coarse in the rest; one amid each gap."""
    bends, length = line.bends, line.length_mm
    firm = [0.0, length, *(part.start_station_mm for part in line.segments[1:])]
    firm += [
        0.5 * (part.start_station_mm + part.end_station_mm) for part in line.segments[1:-1] if part.radius_mm is None
    ]
    soft = [bends[0].start_station_mm - 1.0, bends[-1].end_station_mm + 1.0]
    for bend in bends:
        cut = BLEND_DIAMETERS if blends else 0.0
        inner = min(cut, 0.4 * bend.length_mm)
        soft += [bend.start_station_mm - cut, bend.start_station_mm + inner]
        soft += [bend.end_station_mm - inner, bend.end_station_mm + cut]
    kept = sorted(set(firm))
    for station in soft:
        if 0.0 < station < length and min(abs(station - other) for other in firm) > 0.051:
            kept.append(station)
    # The same from either end: of stations that coincide but for rounding, one.
    breaks = np.array(sorted(kept))
    breaks = breaks[np.append(True, np.diff(breaks) > 1e-9)]
    middles = 0.5 * (breaks[:-1] + breaks[1:])
    sizes = np.full(len(middles), 0.5)
    for bend in bends:
        away = np.maximum(bend.start_station_mm - middles, middles - bend.end_station_mm)
        sizes = np.minimum(sizes, np.where(away < 0.0, density.bend, np.where(away < 1.0, density.near, 0.5)))
    return plane_stations(breaks, sizes / density.refinement)


@frozen(eq=False)
class SolvedPath:
    """Bends and straights as one solid under unit loads at the last tangent, in diameters, E = 1.

    `stations` (n_stations,) from the path's start; `outside` and `bore` as in `BendField`.
    """

    line: Centreline
    mesh: SweptMesh
    motion: SectionMotion
    displacement: Array
    stations: Array
    outside: Array
    bore: Array | None
    nu: float

    @property
    def far(self) -> float:
        """Station of the loads."""
        return self.line.bends[-1].end_station_mm

    def flexibilities(self, bend: Segment, between: tuple[float, float]) -> tuple[Array, Array]:
        return flexibilities(
            self.mesh,
            self.motion,
            self.displacement,
            line=self.line,
            bend=bend,
            far=self.far,
            between=between,
            nu=self.nu,
        )

    def factors(self, bend: Segment, flexibility: Array, beam: Array) -> Array:
        return factors_of(flexibility, beam, self.mesh, bend, self.nu)


def solve_path(line: Centreline, profile: Profile, *, density: Density, nu: float) -> SolvedPath:
    """Solve a path that begins and ends with straights."""
    with one_blas_thread():
        return _solved(line, profile, density, nu)


def _solved(line: Centreline, profile: Profile, density: Density, nu: float) -> SolvedPath:
    mesh = sweep(
        grid=_section(density, profile.wall_mm),
        profile=profile,
        centreline=line,
        stations=path_stations(line, density, profile.blends),
    )
    motion = SectionMotion(mesh)
    displacement = six_cases(mesh, motion, line, line.bends[-1].end_station_mm, nu)
    points = 2.0 * np.pi * np.arange(2 * HARMONICS + 2) / (2 * HARMONICS + 2)
    inverse = np.linalg.pinv(harmonics(points, HARMONICS))
    series = []
    for nodes in (mesh.grid.outer, mesh.grid.bore):
        if len(nodes):
            stress = surface_stress(mesh, displacement, nodes=nodes, angles=points, E_MPa=1.0, nu=nu)
            series.append(np.einsum("ko,soce->skce", inverse, stress.values))
    bore = series[1] if len(series) > 1 else None
    return SolvedPath(line, mesh, motion, displacement, stress.stations, series[0], bore, nu)


def _section(density: Density, wall_over_diameter: float | None) -> SectionGrid:
    """Waves for a tube, unless the density says how many cells; an O-grid for a solid bar."""
    if wall_over_diameter is None or density.around is not None:
        return body_grid(density, wall_over_diameter=wall_over_diameter)
    return wave_ring(waves=WAVES, depth=next(depth for wall, depth in DEPTHS if wall_over_diameter < wall))


def six_cases(mesh: SweptMesh, motion: SectionMotion, line: Centreline, at_mm: float, nu: float) -> Array:
    """Displacements (n_planes, n, 3, 6) in drawing axes under unit loads at a station of the centreline, E = 1.

    The loads act on both end sections as tractions that balance; springs on the mean motion of the middle slice take
    the rigid motions out and carry nothing.
    """
    planes, n, _ = mesh.points.shape
    far, far_frame = line.evaluate([at_mm])
    axes = np.zeros((6, 6))
    axes[:3, :3] = axes[3:, 3:] = far_frame[0]
    loads = np.zeros((planes, 3 * n, 6))
    for plane, sign in ((0, -1.0), (planes - 1, 1.0)):
        wrench = sign * np.linalg.inv(rigid_transfer(mesh.origins[plane] - far[0])).T @ axes.T
        loads[plane] = motion.in_drawing_axes(plane).T @ wrench
    middle = mesh.n_slices // 2
    rows = np.zeros((6, 9 * n))
    rows[:, : 3 * n] = 0.3 * motion.of_planes[2 * middle]
    factor, _ = factorise(mesh, E_MPa=1.0, nu=nu, springs=(Springs(middle, rows),))
    local = factor.solve(loads).reshape(planes, n, 3, 6)
    return np.einsum("pab,pnac->pnbc", mesh.frames, local)
