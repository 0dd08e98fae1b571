"""Bend fields in the stress maps of a bar."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from barfem.check.api import check_bar
from barfem.check.solved import solve_states
from barfem.model.bar import Bar
from barfem.model.read import read_bar
from barfem.strength.bend_fields import bend_stress, closed_forms_short, with_bend_fields
from barfem.strength.places import sampling_stations
from barfem.strength.stress_maps import build_stress_maps

DEMOS = Path(__file__).parents[2] / "geometries"
TUBE, SOLID = DEMOS / "pickup-rear-tube.toml", DEMOS / "pickup-front-solid.toml"


def demo(path: Path) -> Bar:
    return read_bar(path)


def test_only_bends_and_their_neighbourhood_change() -> None:
    bar = demo(TUBE)
    samples = sampling_stations(bar)
    closed = build_stress_maps(bar, samples)
    fields = with_bend_fields(bar, samples, closed)
    d = bar.section.diameter_mm
    away = np.min(
        [
            np.maximum(bend.start_station_mm - samples.station_mm, samples.station_mm - bend.end_station_mm)
            for bend in bar.centreline.bends
        ],
        axis=0,
    )
    change = np.abs(fields.matrix[fields.index] - closed.matrix[closed.index]).max(axis=(1, 2, 3))
    size = np.abs(closed.matrix).max()
    assert np.all(change[away > 1.25 * d] == 0.0)
    assert np.all(change[samples.in_bend] > 1e-3 * size)
    assert np.all(change[(away > 0.9 * d) & (away < 1.25 * d)] < 0.05 * size)


def test_stress_is_continuous_at_a_tangent() -> None:
    """The closed forms jump there; a field does not."""
    found = solve_states(demo(SOLID), cases=("roll",))
    samples = found.samples
    tangent = found.bar.centreline.bends[0].start_station_mm
    at = np.flatnonzero(np.abs(samples.station_mm - tangent) < 1e-9)
    kinds = {samples.regions[region].kind for region in samples.region[at]}
    assert kinds == {"bend", "straight"}
    peaks = []
    for sample in at:
        s, h, t = (
            np.einsum("pr,r->p", found.maps.matrix[found.maps.index[sample], :, c], found.resultants[-1, 1, sample])
            for c in range(3)
        )
        peaks.append(np.sqrt((s * s - s * h + h * h + 3.0 * t * t).max()))
    assert peaks[0] == pytest.approx(peaks[1], rel=2e-3)


def test_every_bend_has_its_record() -> None:
    result = check_bar(TUBE)
    assert [bend.index for bend in result.bends] == [1, 2]
    assert all(bend.source == "grid" and 0.0 < (bend.stated_error or 0.0) < 0.01 for bend in result.bends)
    assert all(bend.superposes and bend.near is None for bend in result.bends)
    assert result.to_json_dict()["bends"][0]["source"] == "grid"


def test_quick_says_that_a_tube_is_unsafe_and_by_how_much() -> None:
    quick, whole = check_bar(TUBE, quick=True), check_bar(TUBE)
    assert all(bend.source == "closed forms" for bend in quick.bends)
    said = " ".join(quick.warnings)
    worst = max(share for _, share in closed_forms_short(demo(TUBE)))
    assert "UNSAFE" in said and f"{100.0 * worst:.0f} %" in said and 0.05 < worst < 0.5
    assert not any("UNSAFE" in text for text in (*whole.warnings, *check_bar(SOLID, quick=True).warnings))
    # The straight tube is the stiffer one.
    ratio = (quick.settings[0].rate_N_per_mm or 0.0) / (whole.settings[0].rate_N_per_mm or 1.0)
    assert 1.0 < ratio < 1.01


def test_a_bend_close_to_a_mount_is_out_of_the_claim() -> None:
    bar = demo(SOLID)
    bend = bar.centreline.bends[0]
    mount = bar.mounts[0]
    half = 0.5 * mount.length_mm
    for gap, near in ((0.5, "a mount"), (1.5, None)):
        station = bend.end_station_mm + gap * bar.section.diameter_mm + half
        moved = replace(bar, mounts=(replace(mount, station_mm=station), *bar.mounts[1:]))
        records, warnings = bend_stress(moved)
        assert records[0].near == near and records[0].superposes == (near is None)
        assert any("outside the 3 %" in text for text in warnings) == (near is not None)
