"""What stands between a section's stress and what fatigue feels at an edge of it, as numbers for the record."""

from __future__ import annotations

from barfem.model.bar import Bar
from barfem.strength.holes import flat_hole, uses, wall_edges
from barfem.strength.notch import neuber_sensitivity
from barfem.strength.places import Samples
from barfem.strength.round_hole import round_hole
from barfem.strength.section_stress import POINTS_AROUND
from barfem.strength.shoulder import shoulder_factors

__all__ = ["local_factors"]


def local_factors(bar: Bar, samples: Samples, sample: int) -> dict[str, float]:
    """Factors that are in the amplitude at a sample: contact, a hole's geometric concentration and sensitivity, or a
    transition's shoulders.

    Empty for a section itself.
    """
    region = samples.regions[int(samples.region[sample])]
    if not samples.edge[sample]:
        return {}
    if region.contact is not None:
        return {"contact factor (in the amplitude)": region.contact.factor}
    if region.kind == "transition":
        flat = (bar.right if region.side == "right" else bar.left).flat
        if flat is None:
            return {}
        edge = int(samples.edge[sample])
        kt_of = shoulder_factors(flat, diameter_mm=bar.section.diameter_mm, nu=bar.steel.nu, edge=edge)
        if flat.kind == "pressed":
            return {"bound on the fold (in the amplitude)": float(kt_of[0])}
        names = {"shoulder's Kt in bending in its plane": 4, "in bending across": 5, "in torsion": 3}
        return {name: float(kt_of[i]) for name, i in names.items()}
    hole = region.hole
    if hole is None or hole.diameter_mm is None:
        return {}
    diameter, tensile = hole.diameter_mm, bar.steel.tensile_strength_MPa
    sensitivity = {"notch sensitivity q": float(neuber_sensitivity(radius_mm=diameter / 2.0, tensile_MPa=tensile))}
    end = bar.right if region.side == "right" else bar.left
    if end.flat is None or hole.from_tip_mm >= end.flat.length_mm:
        found = round_hole(diameter_mm=bar.section.diameter_mm, bore_mm=bar.section.bore_mm, hole_mm=diameter)
        return {"hole's Kt in bending": found.bending, "in torsion": found.torsion, **sensitivity}
    edges = list(wall_edges(end, hole))
    use = edges[int(samples.edge[sample]) - 1][0]
    kt = flat_hole(bar, end, hole, n_around=POINTS_AROUND).kt[uses(end, hole).index(use)]
    return {
        "hole's Kt in bending in its plane": float(kt[4]),
        "in bending across": float(kt[5]),
        "in shear": float(kt[2]),
        "in torsion": float(kt[3]),
        **sensitivity,
    }
