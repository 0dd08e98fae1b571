"""Comparison: the numbers are the check's, made equal they are equal, and the sentences are true."""

from __future__ import annotations

from pathlib import Path

import pytest

from barfem.check.api import check_bar
from barfem.model.bar import Section
from barfem.model.errors import InputError
from barfem.study.compare import compare
from barfem.study.facts import spot
from barfem.study.sections import with_section
from tests.study.bars import SOLID, SPLAYED, TUBE, as_json, demo, ran

TUBE_26, ROUND_24 = Section("tube", 26.0, 4.5), Section("round", 24.0)


def test_at_equal_geometry_each_is_its_own_check() -> None:
    bar = demo(SOLID)
    found = compare([bar], [TUBE_26, ROUND_24])
    assert [each.letter for each in found.views[0].candidates] == ["A", "B", "C"]
    own = check_bar(with_section(bar, TUBE_26).bar)
    for ours, theirs in zip(found.views[0].candidates[1].result.settings, own.settings, strict=True):
        assert (ours.rate_N_per_mm, ours.peak, ours.fatigue, ours.passes) == (
            theirs.rate_N_per_mm,
            theirs.peak,
            theirs.fatigue,
            theirs.passes,
        )


def test_a_pair_that_is_not_compared_is_not_offered() -> None:
    """Bars are compared at holes of one name: the message names these, and no pair that would be refused again."""
    with pytest.raises(InputError, match='has no hole "1/3"') as told:
        compare([demo(SOLID)], [ROUND_24], equal=["rate"], hole="1/3")
    assert told.value.expected == "one of soft, middle, stiff."


@pytest.mark.parametrize("what", ["rate", "stress", "mass"])
def test_what_is_made_equal_is_equal(what: str) -> None:
    found = compare([demo(SOLID)], [TUBE_26], equal=[what], hole="middle")  # type: ignore[list-item]
    first, other = found.views[1].candidates
    one, two = (
        next(setting for setting in each.result.settings if setting.left == "middle") for each in (first, other)
    )
    numbers = {
        "rate": (one.rate_N_per_mm, two.rate_N_per_mm),
        "stress": (one.peak.von_mises_MPa, two.peak.von_mises_MPa),
        "mass": (first.result.mass_kg, other.result.mass_kg),
    }
    assert numbers[what][1] == pytest.approx(numbers[what][0], rel=1e-5)
    section = other.bar.section
    assert section.wall_mm is not None and section.wall_mm / section.diameter_mm == pytest.approx(4.5 / 26.0)


def test_sentences_hold() -> None:
    found = compare([demo(SOLID)], [ROUND_24, TUBE_26], equal=["rate"])
    words = " ".join(found.facts)
    assert "thicker bar is more stressed" in words
    assert "stiffest hole governs" in words
    first, *_, tube = found.views[1].candidates
    share = 100.0 * (1.0 - tube.result.mass_kg / first.result.mass_kg)
    assert f"has {share:.0f} % less mass" in words
    assert "is A again" in words  # a round brought to the rate of a round


def test_a_place_some_mm_along_the_same_bend_is_not_elsewhere() -> None:
    """A tube and a solid bar, both weakest at the inside of bend 5: no hollow bar is weak elsewhere then."""
    tube, solid = (f"middle, bend 5, inside, {mm} mm past the left tangent" for mm in (4, 8))
    assert spot(tube) == spot(solid) == spot("middle, bend 5, inside")
    assert spot(tube) != spot(tube.replace("inside", "top")) != spot(tube.replace("bend 5", "bend 2"))
    assert spot("right arm, in the right mount, top, 369 mm from the tip") == spot("left arm, in the left mount, top")


def test_soft_mounts_turn_the_first_sentence_round() -> None:
    from barfem.study.change import change

    soft = change(demo(SOLID), {"mounts.*.radial_stiffness": 20.0, "links.axial_stiffness": 20.0})
    found = compare([soft], [Section("round", 30.0)])
    thin, thick = (each.result for each in found.views[0].candidates)
    assert thick.settings[-1].peak.von_mises_MPa < thin.settings[-1].peak.von_mises_MPa
    assert "less stress" in " ".join(found.facts) and "thicker bar is more stressed" not in " ".join(found.facts)


def test_whole_files_with_other_holes(capsys: pytest.CaptureFixture[str]) -> None:
    status, out, _ = ran(capsys, "compare", SOLID, SPLAYED)
    assert status in (0, 1)
    assert "As drawn" in out and "softest" in out and "stiffest" in out and "(A)" in out


def test_a_bar_that_cannot_be_made_equal_says_so() -> None:
    found = compare([demo(SOLID), demo(SPLAYED)], equal=["rate"])
    assert len(found.views[1].candidates) == 1 and "no hole" in found.views[1].missing[0]


def test_the_command(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    worked = tmp_path / "worked.toml"
    text = SOLID.read_text(encoding="utf-8").replace("pickup = 24.0", "pickup = 40.0")
    worked.write_text(text.replace('"shot-peened"', '"as-hardened-scaled"'), encoding="utf-8")
    sections = ("--section", "tube 26x4.5", "--section", "round 24")
    status, out, _ = ran(capsys, "compare", worked, *sections, "--equal-rate", "--hole", "soft")
    assert status == 1  # the stiff hole of two of them fails
    assert max(map(len, out.splitlines())) <= 80
    assert "At equal rate at hole soft" in out
    status, data = as_json(capsys, "compare", SOLID, "--section", "round 20")
    assert status == 0
    first, other = data["views"][0]["bars"]
    assert other["diameter_mm"] == 20.0 and other["mass_kg"] < first["mass_kg"]
    assert {"rate_N_per_mm", "peak", "yield_margin", "fatigue", "passes"} <= set(other["settings"][0])


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        ([SOLID], "nothing to compare"),
        ([SOLID, "--section", "oval 20"], "--section"),
        ([SOLID, "--section", "round 24", "--hole", "5", "--equal-rate"], "no hole"),
        ([SOLID, "--section", "tube 130x10"], "bend"),
        ([TUBE, "--section", "round 400"], "400"),
    ],
)
def test_wrong_input(capsys: pytest.CaptureFixture[str], arguments: list[str | Path], word: str) -> None:
    status, out, err = ran(capsys, "compare", *arguments)
    assert status == 2 and out == "" and word in err


def test_no_reference_to_a_missing_hole() -> None:
    with pytest.raises(InputError, match="no hole"):
        compare([demo(SOLID)], [ROUND_24], equal=["rate"], hole="none")


def test_a_hole_that_cannot_follow_stands_among_the_others_and_fails(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """Links of 60 mm at 95 mm of travel: no row of the bar stood there, and the next bar was held against itself."""
    far, csv = tmp_path / "far.toml", tmp_path / "holes.csv"
    text = SOLID.read_text(encoding="utf-8").replace("length = 210.0", "length = 60.0")
    far.write_text(text.replace("pickup = 24.0", "pickup = 95.0"), encoding="utf-8")
    assert check_bar(far).unsolved
    _, out, _ = ran(capsys, "compare", far, SOLID, SOLID, "--csv", csv)
    lines = [line.split() for line in out.splitlines()]
    soft = next(i for i, line in enumerate(lines) if line[:2] == ["soft", "A"])
    assert lines[soft][2:] == ["-"] * 6 + ["NO"]
    assert [line[0] for line in lines[soft + 1 : soft + 3]] == ["B", "C"] and lines[soft + 2][2] == "-"
    rows = csv.read_text(encoding="utf-8").splitlines()
    assert sum(",false," in row and "no equilibrium" in row for row in rows) == 3 and len(rows) == 1 + 9
