"""Stress on the wall of a hole in a flat as small tables: what the shipped grid holds and what is interpolated.

Three models of `barfem.solve.solid.drilled_flat` make them up: a hole in a long flat, what its nearness to the tip
changes, and what one neighbour changes. What tip and neighbours change is added, each as if the others were not there.

A table is (loads, heights, components, harmonics): Fourier coefficients round the hole of stress round it, along it and
in shear (the first two less the radial stress), cosines or sines by symmetry, at `HEIGHTS` over half the thickness, per
unit load over `nominal`; lengths in hole diameters. The tip, and what lies outboard, are on the side of angle zero.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from barfem.model.frozen import frozen
from barfem.solve.solid.drilled_flat import BEARING, LOADS, PARITY, DrilledFlat, Load, Mesh

__all__ = [
    "AT_HOLE",
    "HARMONICS",
    "HEIGHTS",
    "QUICK",
    "SHAPES",
    "HoleTable",
    "beside",
    "by_resultants",
    "carried",
    "mesh_for",
    "mirrored",
    "near_tip",
    "nominal",
    "pair_changes",
    "series_at",
    "single",
]

Array = NDArray[np.float64]

HEIGHTS = (0.0, 0.9, 1.0)
"""Of half the thickness: in-plane loads stress the middle most, others the faces, both together in between."""

HARMONICS = 13
"""Cosines or sines kept, from the mean on."""

AT_HOLE = LOADS + BEARING
"""Loads of a hole in use: resultants just inboard of it, then what a bolt's pressure adds for the size of its force."""

SHAPES = {
    "unused": (len(LOADS), len(HEIGHTS), 3, HARMONICS),
    "in_use": (len(AT_HOLE), len(HEIGHTS), 3, HARMONICS),
}


@frozen(eq=False)
class HoleTable:
    """Tables of a hole: `unused` under `LOADS` that pass it, `in_use` under `AT_HOLE`; or what something changes."""

    unused: Array
    in_use: Array


def nominal(width: float, thickness: float, *, in_use: bool = False) -> Array:
    """(11,) stress per unit of `AT_HOLE`, over hole diameter squared or cubed: a size, not the stress of any place.

    A moment about the axis of a hole in use comes in by friction round it, whatever the flat's width.
    """
    h, t = width, thickness
    force = 1.0 / ((h - 1.0) * t)
    out = np.array(
        [force, 3.0 / (h * t * t), 1.5 * force, 3.0 / (h * t * t) * (1.0 + 0.6 * t / h), 6.0 / (t * (h**3 - 1.0))]
        + [6.0 / ((h - 1.0) * t * t)]
        + [1.0 / t] * len(BEARING)
    )
    if in_use:
        out[LOADS.index("M_1")] = 1.0 / t
    return out


def mesh_for(thickness: float, *, fine: bool) -> Mesh:
    """Cells of the shipped grid; they leave 0.6 % (`fine`) or 1.5 % of the greatest von Mises stress.

    An offset joint's moments in walls of t / d near 2 are 5 % high: cells are few at the face that takes them.
    """
    layers = 2 if thickness <= 1.2 else 3
    return Mesh(8, 6, layers) if fine else Mesh(6, 5, layers)


QUICK = Mesh(6, 4, 2, grading=2.0)
"""Cells of a hole outside the grid: they leave 1.7 per cent at most, for t / d up to 2.6, in half the time; of a moment
about the axis of a hole in use up to a fifth."""


def single(width: float, thickness: float, *, nu: float = 0.3, mesh: Mesh | None = None) -> HoleTable:
    """A hole in a flat that is long on both sides."""
    model = DrilledFlat(width, thickness, nu=nu, mesh=mesh or mesh_for(thickness, fine=False))
    loads = [Load(name) for name in LOADS] + [Load(name, 0, True) for name in AT_HOLE]
    found = _tables(model, loads, [(0, load) for load in loads])
    unused = found[: len(LOADS)]  # the ends' tractions are not quite symmetric: what they leave is averaged away
    return HoleTable(0.5 * (unused + mirrored(unused)), found[len(LOADS) :])


def near_tip(width: float, thickness: float, tip: float, *, nu: float = 0.3, mesh: Mesh | None = None) -> Array:
    """A hole in use whose centre is `tip` from the end: its `in_use` table, whole."""
    model = DrilledFlat(width, thickness, tip=tip, nu=nu, mesh=mesh or mesh_for(thickness, fine=False))
    loads = [Load(name, 0, True) for name in AT_HOLE]
    return _tables(model, loads, [(0, load) for load in loads])


def beside(
    width: float, thickness: float, pitch: float, *, nu: float = 0.3, mesh: Mesh | None = None
) -> dict[str, Array]:
    """Two holes `pitch` apart, their tables whole.

    "unused" and "in_use": of the outboard one, its neighbour inboard. "inner": of the inboard one in use. "next": of
    the inboard one unused, by the six loads of the outboard one in use.
    """
    model = DrilledFlat(width, thickness, pitch=pitch, nu=nu, mesh=mesh or mesh_for(thickness, fine=False))
    far = [Load(name) for name in LOADS]
    outer = [Load(name, 0, True) for name in AT_HOLE]
    inner = [Load(name, 1, True) for name in AT_HOLE]
    wanted = [(0, load) for load in far + outer] + [(1, load) for load in inner + outer[: len(LOADS)]]
    found = _tables(model, far + outer + inner, wanted)
    parts = np.split(found, np.cumsum([len(far), len(outer), len(inner)]))
    return dict(zip(("unused", "in_use", "inner", "next"), parts, strict=True))


def pair_changes(
    pair: Mapping[str, Array], alone: Mapping[str, Array], width: float, thickness: float, pitch: float
) -> dict[str, Array]:
    """What a neighbour changes, from the tables of `beside` and those of a hole alone by the same mesh."""
    base = {"unused": alone["unused"], "in_use": alone["in_use"], "inner": alone["in_use"]}
    base["next"] = carried(alone["unused"], width, thickness, pitch)
    return {name: table - base[name] for name, table in pair.items()}


def carried(unused: Array, width: float, thickness: float, pitch: float) -> Array:
    """The `unused` table by the loads of a hole `pitch` outboard, as if only their resultants counted.

    A shear force there has a moment here: M_1 is less by the force V_2 times the pitch, M_2 more by V_1 times it.
    """
    of, by = nominal(width, thickness), nominal(width, thickness, in_use=True)[: len(LOADS)]
    out = unused * (of[: len(LOADS)] / by)[:, None, None, None]
    v1, v2, m1, m2 = (LOADS.index(name) for name in ("V_1", "V_2", "M_1", "M_2"))
    out[v2] -= pitch * unused[m1] * of[m1] / by[v2]
    out[v1] += pitch * unused[m2] * of[m2] / by[v1]
    return np.asarray(out)


def by_resultants(change: Array, width: float, thickness: float, pitch: float) -> Array:
    """What `next` changes, (6, ...) by the loads of the hole outboard, by the resultants here over `nominal`."""
    of, by = nominal(width, thickness), nominal(width, thickness, in_use=True)[: len(LOADS)]
    out = change * (by / of[: len(LOADS)])[:, None, None, None]
    v1, v2, m1, m2 = (LOADS.index(name) for name in ("V_1", "V_2", "M_1", "M_2"))
    out[v2] += pitch * change[m1] * by[m1] / of[v2]
    out[v1] -= pitch * change[m2] * by[m2] / of[v1]
    return np.asarray(out)


def _tables(model: DrilledFlat, loads: list[Load], wanted: list[tuple[int, Load]]) -> Array:
    """Tables of `wanted`, (hole, load) pairs, of loads solved at once."""
    solved = dict(zip(loads, model.solve(loads), strict=True))
    sizes = [
        dict(zip(AT_HOLE, nominal(model.width, model.thickness, in_use=used), strict=True)) for used in (False, True)
    ]
    at = _to_heights(model.levels)
    out = []
    for hole, load in wanted:
        stress = model.wall_stress(solved[load], hole, load) / sizes[load.hole is not None][load.name]
        even, odd = at[0 if PARITY[load.name][1] > 0 else 1], at[1 if PARITY[load.name][1] > 0 else 0]
        # Shear between hole and axis is odd in z where the others are even.
        levels = np.stack([even @ stress[..., 0], even @ stress[..., 1], odd @ stress[..., 2]], axis=1)
        out.append(_series(levels, cosine=PARITY[load.name][0] > 0))
    return np.array(out)


def _to_heights(levels: Array) -> tuple[Array, Array]:
    """Matrices (heights, levels) of interpolation by even, and by odd, polynomials."""
    out = []
    for odd in (0, 1):
        power = 2.0 * np.arange(len(levels)) + odd
        power = power[: len(levels) - odd]
        rows = slice(odd, None)
        to = np.zeros((len(HEIGHTS), len(levels)))
        to[:, rows] = np.array(HEIGHTS)[:, None] ** power @ np.linalg.inv(levels[rows, None] ** power)
        out.append(to)
    return out[0], out[1]


def _series(values: Array, *, cosine: bool) -> Array:
    """Coefficients (heights, 3, harmonics) of values (heights, 3, angles 0 to pi)."""
    n = values.shape[-1]
    out = np.empty((*values.shape[:-1], HARMONICS))
    for component in range(3):
        even = cosine == (component < 2)
        one = values[:, component]
        whole = np.concatenate([one, (1.0 if even else -1.0) * one[:, -2:0:-1]], axis=1)
        transform = np.fft.rfft(whole, axis=1) / (n - 1)
        transform[:, 0] *= 0.5
        out[:, component] = (transform.real if even else -transform.imag)[:, :HARMONICS]
    return out


def is_cosine(names: tuple[str, ...]) -> NDArray[np.bool_]:
    """(loads, 3) whether a component goes by cosines."""
    even = np.array([PARITY[name][0] > 0 for name in names])
    return even[:, None] == np.array([True, True, False])


def in_z(names: tuple[str, ...]) -> Array:
    """(loads, 3) sign of a component on the other side of the middle plane."""
    even = np.array([float(PARITY[name][1]) for name in names])
    return even[:, None] * np.array([1.0, 1.0, -1.0])


def series_at(table: Array, angle_rad: Array, names: tuple[str, ...]) -> Array:
    """Values (loads, heights, components, k) of a table at angles (k,)."""
    k = np.arange(HARMONICS)
    cosine, sine = np.cos(k[:, None] * angle_rad), np.sin(k[:, None] * angle_rad)
    return np.where(is_cosine(names)[:, None, :, None], table @ cosine, table @ sine)


def mirrored(table: Array) -> Array:
    """The `unused` table of a hole with what was inboard now outboard."""
    # x to -x: N and moments about y and z are even in it, the rest odd; shear on the wall changes sign with the angle.
    load = np.array([1.0, -1.0, -1.0, -1.0, 1.0, 1.0])
    k = (-1.0) ** np.arange(HARMONICS)
    cosine = is_cosine(LOADS)[:, None, :, None]
    turned = np.where(cosine, k, -k) * np.array([1.0, 1.0, -1.0])[:, None]
    return np.asarray(load[:, None, None, None] * turned * table)
