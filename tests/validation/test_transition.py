"""What a transition's shoulders add for fatigue, against another solid, finer meshes, and what it must tend to."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from barfem.model.bar import Flat
from barfem.solve.solid import transition_grid
from barfem.solve.solid.make_transition_grid import between, peak_error
from barfem.solve.solid.transition import COSINE, Fineness, Transition, quarter_angles
from barfem.solve.solid.transition_source import transition_source
from barfem.solve.solid.transition_table import table
from barfem.strength.places import TRANSITION_STEPS
from barfem.strength.section_map import blend_maps
from barfem.strength.section_stress import rectangle_map, round_map
from barfem.strength.shoulder import (
    SHORTEST,
    TUBE_ABOVE,
    TUBE_BELOW,
    section_share,
    shoulder_edges,
    shoulder_factors,
    shoulder_map,
    worse_outline,
)
from barfem.strength.shoulder_words import OF_NU
from tests.validation.conftest import Compare
from tests.validation.transition_tets import LOADS, NAMES, NU, SIZES, forged, parsed, rows, solid


def flat(width: float, thickness: float, transition: float, kind: str = "forged", fillet: float | None = None) -> Flat:
    return Flat(
        kind,  # type: ignore[arg-type]
        thickness,
        width,
        4.0 + transition,
        transition,
        (0.0, 1.0, 0.0),
        outline="cosine" if fillet is None else "straight",
        fillet_mm=fillet,
    )


def factors(flat: Flat) -> np.ndarray:
    """(edges, 6) of a flat on a bar of diameter 1."""
    count = len(shoulder_edges(flat, diameter_mm=1.0))
    return np.stack([shoulder_factors(flat, diameter_mm=1.0, nu=NU, edge=i) for i in range(1, count + 1)])


def greatest(flat: Flat, loads: dict[str, float], *, left: bool = False, bore: float = 0.0) -> tuple[float, float]:
    """Greatest von Mises stress outside in a transition as the check has it, and that of the sections next to it."""
    at_begin = np.array([loads.get(name, 0.0) for name in NAMES])
    rectangle = rectangle_map(width_mm=flat.width_mm, thickness_mm=flat.thickness_mm, nu=NU)
    body = round_map(diameter_mm=1.0, bore_mm=bore, nu=NU)
    circle = replace(body, **{key: getattr(body, key)[:72] for key in vars(body)})
    plain = [(x, section_share(flat, x, diameter_mm=1.0)) for x in np.linspace(0.0, 1.0, TRANSITION_STEPS + 1).tolist()]
    maps = [(x, blend_maps(rectangle, circle, share, by_length=True)) for x, share in plain]
    for number, edge in enumerate(shoulder_edges(flat, diameter_mm=1.0), start=1):
        one = shoulder_map(flat, diameter_mm=1.0, bore_mm=bore, nu=NU, edge=number, left=left, n_around=72)
        assert one is not None
        maps.append((edge.share, one))
    found = []
    for share, one in maps:
        here = at_begin.copy()
        x = share * flat.transition_mm * (-1.0 if left else 1.0)
        here[4] += at_begin[2] * x  # dM_1/ds = V_2, dM_2/ds = -V_1
        here[5] -= at_begin[1] * x
        along, round_, shear = np.moveaxis(one.matrix @ here, -1, 0)
        found.append(float(np.sqrt((along**2 - along * round_ + round_**2 + 3.0 * shear**2).max())))
    return max(found), max(found[0], found[TRANSITION_STEPS])


def in_words(row: dict[str, Any]) -> str:
    outline = f"straight sides, fillets of {row['fillet']:g} d" if row["fillet"] else "half cosine"
    return f"Transition of {row['length']:g} d ({outline}), flat {row['width']:g} x {row['thickness']:g} d"


@pytest.mark.parametrize("row", [row for row in rows() if not row["bore"]], ids=in_words)
def test_ten_ends_against_another_solid(row: dict[str, Any], compare: Compare) -> None:
    """Each load alone, and mixtures. Long flats feel torsion more than their end does, which their own section says."""
    for loads in LOADS:
        ours, beside = greatest(forged(*(row[key] for key in SIZES[:4])), parsed(loads))
        compare(
            case=f"{in_words(row)}: {loads}",
            source="scikit-fem, ten-node tetrahedra (computed; tests/validation/transitions.csv)",
            ours=ours,
            theirs=max(row[loads], beside),
            allowed=0.03,
            why="interpolation, the stations looked at, and both meshes",
        )


@pytest.mark.parametrize("row", [row for row in rows() if row["bore"]], ids=in_words)
def test_tubes_are_as_far_off_as_the_result_says(row: dict[str, Any]) -> None:
    """Where the bore ends is not known: greatest stress outside and in the bore, the bore ending at three places."""
    for loads in LOADS:
        ours, beside = greatest(forged(*(row[key] for key in SIZES[:4])), parsed(loads), bore=row["bore"])
        theirs = max(row[loads], beside)
        below = 0.12 if row["end"] <= 0.5 * row["length"] else TUBE_BELOW
        assert 1.0 / (1.0 + below) < ours / theirs < 1.0 / (1.0 - TUBE_ABOVE), loads


@pytest.mark.long
def test_the_other_solid_says_so_again(compare: Compare) -> None:
    row = rows()[0]
    compare(
        case="A transition in tetrahedra, half as fine as the one that is kept: bending in its plane",
        source="tests/validation/transitions.csv",
        ours=solid(row, 0.5).greatest({"M_1": 1.0}),
        theirs=row["M_1 1"],
        allowed=0.08,
        why="mesh: half as fine",
    )


@pytest.mark.long
def test_the_model_is_fine_enough() -> None:
    """Finer along and towards the surface the peaks move less each time; rings all of one size read a fillet low."""
    sizes = (1.8, 0.4, 0.5, 0.1)
    coarse, standard, finer, even = (
        table(*sizes, nu=NU, mesh=mesh)
        for mesh in (Fineness(4, 2, 5, 1), Fineness(4), Fineness(4, 4, 14, 4), Fineness(4, grading=1.0))
    )
    step, last, unlike = (peak_error(one, finer, *sizes[:2]) for one in (coarse, standard, even))
    assert last < 0.012 and last < 0.5 * step
    assert unlike > 2.0 * last


@pytest.mark.long
def test_the_grid_keeps_its_stated_error() -> None:
    """Two of the sizes between nodes at which `make_transition_grid` looked, the shortest, solved again."""
    held = transition_grid.load()
    assert held.error < 0.03
    cosine = min((size for size in between() if size[3] == COSINE), key=lambda size: size[2])
    straight = min((size for size in between() if size[3] != COSINE), key=lambda size: size[2])
    for width, thickness, length, fillet in (cosine, straight):
        ours = held.at(width, thickness, length, None if fillet == COSINE else fillet)
        true = table(width, thickness, length, fillet, nu=NU)
        assert peak_error(ours, true, width, thickness) <= held.error * 1.001


def test_far_from_the_transition_stress_is_the_sections_own() -> None:
    found = Transition(1.5, 0.5, 0.5, mesh=Fineness(4)).surface(quarter_angles(72))
    body = round_map(diameter_mm=1.0, nu=NU).matrix[:19]
    last = found.values[np.abs(found.stations - 1.6).argmin()]
    for name, allowed in (("N", 0.01), ("T", 0.01), ("M_1", 0.01), ("M_2", 0.01), ("V_1", 0.04), ("V_2", 0.04)):
        i = NAMES.index(name)
        # Of shear forces their shear: the bending that grows with them is taken out, within its own 1 per cent.
        parts = [2] if name.startswith("V") else [0, 1, 2]
        assert np.abs(last[:, parts, i] - body[:, parts, i]).max() < allowed * np.abs(body[..., i]).max(), name


def test_a_left_end_is_a_right_ends_mirror_image() -> None:
    one = flat(1.6, 0.5, 0.7)
    for loads in ({"M_1": 1.0, "T": 0.7}, {"V_1": 1.0, "M_1": 0.5}, {"V_2": 1.0, "T": 0.5}):
        # Mirrored along the bar: moments across stay, shear forces and torque turn round.
        mirrored = {name: size if name in ("N", "M_1", "M_2") else -size for name, size in loads.items()}
        assert greatest(one, mirrored, left=True) == pytest.approx(greatest(one, loads), rel=1e-9)


def test_a_longer_transition_and_a_narrower_flat_add_less() -> None:
    lengths = np.stack([factors(flat(1.6, 0.5, x)).max(axis=0) for x in (0.25, 0.5, 1.0, 2.0, 8.0)])
    assert np.all(np.diff(lengths, axis=0) < 1e-9)
    assert np.all(np.diff(lengths[:4, 4:], axis=0) < 0.0)
    narrow, wide = (factors(flat(w, 0.5, 1.0))[4:].max(axis=0) for w in (1.0, 1.6))
    assert narrow[4] < wide[4]


def test_straight_sides_are_worse_and_fillets_help() -> None:
    large, small, smallest, cosine = (
        factors(flat(1.6, 0.5, 1.2, fillet=fillet)).max(axis=0)[[4, 5]] for fillet in (0.4, 0.2, 0.1, None)
    )
    assert np.all(cosine < large) and np.all(large < small) and np.all(small < smallest)


def test_an_outline_that_is_not_given_is_the_worse_one() -> None:
    """Straight sides are, save where their fillets meet: then the half cosine turns more sharply."""

    def peaks(one: Flat) -> np.ndarray:
        mixtures = np.random.default_rng(2).normal(size=(20, 6)) * [1.0, 0.3, 0.3, 0.3, 1.0, 1.0]
        return np.array([greatest(one, dict(zip(NAMES, each.tolist(), strict=True)))[0] for each in mixtures])

    for length, fillet, outline in ((1.2, 0.2, "straight"), (0.6, 0.2, "straight"), (0.5, 0.4, "cosine")):
        cosine, straight = flat(1.6, 0.5, length), flat(1.6, 0.5, length, fillet=fillet)
        silent = worse_outline(replace(straight, outline=None), diameter_mm=1.0)
        assert silent.outline == outline
        worse, other = (straight, cosine) if outline == "straight" else (cosine, straight)
        assert np.all(peaks(worse) > 0.995 * peaks(other))


def test_outside_the_grid_it_is_solved(tmp_path, monkeypatch) -> None:
    monkeypatch.setenv("BARFEM_CACHE", str(tmp_path))
    inside = transition_source(2.58, 0.5, 0.4, None, NU)
    beyond = transition_source(2.63, 0.5, 0.4, None, NU)
    assert (inside.source, beyond.source) == ("grid", "computed")
    assert peak_error(inside.table, beyond.table, 2.6, 0.5) < 0.05


@pytest.mark.long
def test_another_poissons_ratio_moves_stress_at_a_shoulder_by_what_the_result_says() -> None:
    """E 206 and G 78.5 GPa (EN 13906-1, from memory) are nu 0.312: a model of it against one of 0.3."""
    nu = 206.0 / 157.0 - 1.0
    given, other = (table(2.2, 0.4, 1.0, 0.0, nu=each) for each in (NU, nu))
    for column in (3, 4, 5):  # torsion, and bending about both axes
        moved = np.abs(other[..., column] - given[..., column]).max() / np.abs(given[..., column]).max()
        assert 0.1 * OF_NU * (nu - NU) < moved < OF_NU * (nu - NU)


def test_what_was_not_modelled_has_no_number() -> None:
    assert shoulder_edges(flat(1.6, 0.5, 0.9 * SHORTEST), diameter_mm=1.0) == ()
    assert shoulder_edges(flat(1.6, 0.5, 0.0), diameter_mm=1.0) == ()
    # A pressed flat's folds have a bound, whatever the load and wherever.
    assert factors(flat(1.6, 0.2, 1.0, "pressed")) == pytest.approx(np.full((2, 6), 1.5))
