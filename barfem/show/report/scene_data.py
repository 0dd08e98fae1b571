"""The scene for the view that turns: packed to travel in the page, rounded so that nothing looks better than it is."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from barfem.show.figures.data import FigureData
from barfem.show.numbers import ratio
from barfem.show.scene3d import Bands, build_scene, default_view, margin_bands, safety_bands

__all__ = ["scene_data"]

Array = NDArray[np.float64]

LARGEST = 32_000  # of 16 bits with a sign
MARGIN_STEP = 0.002


def scene_data(data: FigureData, *, only: Sequence[int] | None = None) -> dict[str, Any]:
    """Everything the view draws, as plain values for JSON; of hole settings `only` these, where it is given.

    `skin` is (j, s, around, 3) 16-bit integers, times `skin_mm` about `center`; `stress`, `margin` and `safety` are
    (j, s - 1, around) unsigned 16-bit integers, times their steps, margins and factors raised by one; all base64,
    least byte first. Hole settings are `FigureData.rows`.
    """
    result = data.result
    shown = list(data.rows if only is None else only)
    scene = build_scene(data).only(shown)
    settings = [result.settings[j] for j in shown]
    center = scene.center_mm
    step_mm = float(np.abs(scene.skin_mm - center).max()) / LARGEST
    stress_step = max(0.1, float(scene.von_mises_MPa.max()) / (2 * LARGEST))
    azimuth, elevation = default_view()
    places = list(dict.fromkeys(scene.places))
    by_life = data.governs_by_life
    margins = [f"yield margin {ratio(s.yield_margin, result.yield_margin_target)}" for s in settings]
    needed = safety_bands(result, data.strength_share)
    safe = [f"safety factor {ratio(s.fatigue.safety_factor_at_target, 1.0)}" for s in settings]
    return {
        "settings": [data.name(j) for j in shown],
        "stations": [round(float(s), 1) for s in scene.station_mm],
        "middle": round(data.bar.middle_mm, 1),
        "places": places,
        "place": [places.index(place) for place in scene.places],
        "joined": scene.joined.astype(int).tolist(),
        "around": scene.skin_mm.shape[2],
        "skin": _packed(np.rint((scene.skin_mm - center) / step_mm), "<i2"),
        "skin_mm": step_mm,
        "stress": _packed(np.ceil(scene.von_mises_MPa / stress_step), "<u2"),
        "stress_step": stress_step,
        "margin": _packed(np.floor((scene.yield_margin + 1.0) / MARGIN_STEP), "<u2"),
        "safety": _packed(np.floor((scene.safety_factor + 1.0) / MARGIN_STEP), "<u2"),
        "margin_step": MARGIN_STEP,
        "rest": _points(scene.rest_mm - center),
        "mounts": [_points(rings - center) for rings in scene.mounts_mm],
        "links": _points(scene.links_mm - center),
        "holes": _points(scene.holes_mm - center),
        "scales": [
            _scale("margin", "Yield margin", margin_bands(result), scene.peaks_mm - center, margins),
            _scale("safety", "Safety factor", needed, scene.weakest_mm - center, safe),
        ],
        "start": {
            "setting": shown.index(governs) if (governs := data.by_life if by_life else data.by_stress) in shown else 0,
            "scale": 1 if by_life else 0,
            "azimuth": float(azimuth),
            "elevation": float(elevation),
        },
    }


def _scale(key: str, short: str, bands: Bands, marks: Array, labels: list[str]) -> dict[str, Any]:
    return {
        "key": key,
        "short": short,
        "name": bands.name,
        "edges": list(bands.edges),
        "words": list(bands.words()),
        "colors": list(bands.colors),
        "target": bands.target,
        "marks": _points(marks),
        "labels": labels,
    }


def _packed(values: Array, kind: str) -> str:
    limits = np.iinfo(np.dtype(kind))
    return base64.b64encode(np.clip(values, limits.min, limits.max).astype(kind).tobytes()).decode("ascii")


def _points(values: Array) -> Any:
    return np.round(values, 1).tolist()
