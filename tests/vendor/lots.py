"""Lots of measured bars, invented: a bar file's geometry with planted faults, in a measuring frame, with noise."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.model.hardness import tensile_from_hardness
from barfem.vendor.inspect import inspect_bars
from barfem.vendor.inspect_reading import read_inspection
from barfem.vendor.inspect_shape import MIRROR, drawn_points, drawn_rows, point_names, rigid_fit, walk
from barfem.vendor.maker_tables import drawing_of
from barfem.vendor.part import clocking_deg

__all__ = ["EXPECTED", "FAULTS", "HEAD", "bar_lines", "judged", "lot_text", "moved", "planted_points", "written"]

Array = NDArray[np.float64]
FAULTS = ("none", "soft", "thin wall", "bend", "rotation", "mirrored", "clocked", "long", "exchanged")
HEAD = "bar,what,place,x_mm,y_mm,z_mm,value,unit,case,note"


def planted_points(bar: Bar, fault: str, rng: np.random.Generator) -> Array:
    """Tips and tangent points of the bar with the fault, where the drawing lies, without noise."""
    nominal = drawn_rows(bar)
    k, vector = nominal.bends, nominal.vector.copy()
    if fault == "bend":
        vector[2 * k + 1] += 2.0 * rng.choice([-1, 1])
    if fault == "rotation":
        vector[k + 1] += 2.5 * rng.choice([-1, 1])
    if fault == "long":
        vector[0] += 5.0
    turn, shift = rigid_fit(walk(nominal.vector, k)[0], drawn_points(bar))
    return np.asarray(walk(vector, k)[0] @ turn.T + shift)


def moved(rng: np.random.Generator) -> tuple[Array, Array]:
    """A rotation (3, 3) and a shift into some measuring frame."""
    q, r = np.linalg.qr(rng.normal(size=(3, 3)))
    q = q * np.sign(np.diag(r))
    return q * np.sign(np.linalg.det(q)), rng.normal(0.0, 500.0, 3)


def _axis(bar: Bar, points: Array, side: str, off_deg: float) -> Array:
    end = bar.right if side == "right" else bar.left
    angle = np.radians((clocking_deg(bar, end, adjacent=True)[0] or 0.0) + off_deg)
    tip, start, stop, following = (points if side == "right" else points[::-1])[:4]
    u = (start - tip) / np.linalg.norm(start - tip)
    inward = following - stop - ((following - stop) @ u) * u
    inward = inward / np.linalg.norm(inward)
    return np.asarray(np.cos(angle) * inward + np.sin(angle) * np.cross(u, inward))


def bar_lines(bar: Bar, fault: str, name: str, rng: np.random.Generator, *, noise_mm: float = 0.1) -> list[str]:
    """The lines of one bar."""
    points = planted_points(bar, fault, rng)
    off = {"right": 0.0, "left": 3.0 if fault == "clocked" else 0.0}
    axes = {side: _axis(bar, points, side, off[side]) for side in off}
    if fault == "mirrored":
        # Its right tip is the mirror image of the drawn left tip.
        points = (points * MIRROR)[::-1]
        axes = {"right": axes["left"] * MIRROR, "left": axes["right"] * MIRROR}
    if fault == "exchanged":
        points, axes = points[::-1], {"right": axes["left"], "left": axes["right"]}
    turn, shift = moved(rng)
    seen = points @ turn.T + shift + rng.normal(0.0, noise_mm, points.shape)
    lines = [
        f"{name},point,{place},{x:.4f},{y:.4f},{z:.4f},,,,"
        for place, (x, y, z) in zip(point_names(len(bar.centreline.bends)), seen.tolist(), strict=True)
    ]
    for side, axis in axes.items():
        if (bar.right if side == "right" else bar.left).flat is not None:
            x, y, z = (turn @ axis).tolist()
            lines.append(f"{name},hole axis,{side} end,{x:.6f},{y:.6f},{z:.6f},,,,")
    lines.append(f"{name},diameter,middle,,,,{bar.section.diameter_mm - 0.03 + rng.normal(0, 0.003):.3f},mm,,")
    if bar.section.wall_mm is not None:
        wall = bar.section.wall_mm * (0.8 if fault == "thin wall" else 1.0) + rng.normal(0.0, 0.02)
        lines.append(f"{name},wall,middle,,,,{wall:.3f},mm,,")
    # 45.5 HRC in a window of 43 to 48; where the drawing gives none, a little above the steel's least strength.
    grades = np.arange(23.0, 55.0, 0.5)
    strengths = [tensile_from_hardness(grade, scale="HRC") for grade in grades.tolist()]
    good = (
        45.5 if drawing_of(bar).hardness else float(np.interp(1.06 * bar.steel.tensile_strength_MPa, strengths, grades))
    )
    hardness = good - (8.5 if fault == "soft" else 0.0) + rng.normal(0.0, 0.3)
    lines.append(f"{name},hardness,middle,,,,{hardness:.1f},HRC,,")
    lines.append(f"{name},record,crack test,,,,pass,,,")
    return lines


def lot_text(bar: Bar, faults: list[str], seed: int, *, noise_mm: float = 0.1) -> str:
    """A whole file; bars B-001 and on have the faults in order."""
    rng = np.random.default_rng(seed)
    lines = [
        "# barfem inspection, format 1",
        f"# drawing = {bar.drawing or ''} ; revision = {bar.revision or ''} ; units = mm, N, deg, HRC",
        HEAD,
    ]
    for i, fault in enumerate(faults):
        lines += bar_lines(bar, fault, f"B-{i + 1:03d}", rng, noise_mm=noise_mm)
    return "\n".join(lines) + "\n"


EXPECTED = {
    "none": [],
    "soft": ["soft"],
    "thin wall": ["thin wall"],
    "bend": ["bend angle"],
    "rotation": ["bend rotation"],
    "mirrored": ["other hand"],
    "clocked": ["clocking"],
    "long": ["straight length"],
    "exchanged": ["ends exchanged"],
}


def written(tmp_path, text, name="lot.csv"):
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return path


def judged(bar, tmp_path, text, **how):
    return inspect_bars(bar, [read_inspection(written(tmp_path, text), bar)], **how)
