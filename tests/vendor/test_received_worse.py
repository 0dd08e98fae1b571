"""The bar as received: what was measured, and what was not at the edge that is worse for stress."""

from __future__ import annotations

import pytest

from barfem.model.bar import Bar
from barfem.model.read import bar_from_dict
from barfem.study.bands import rate_band
from barfem.vendor.held_end import right_end_rate
from barfem.vendor.inspect_judge import Findings
from barfem.vendor.inspect_rates import judge_rates
from barfem.vendor.inspect_reading import Reading
from barfem.vendor.inspect_received import drawn_bands, received, worse_edges
from barfem.vendor.inspect_sizes import skin_and_size, tensile_of
from tests.vendor.bars import handed_bar


def decarburised() -> Bar:
    tables = dict(handed_bar().tables or {})
    return bar_from_dict({**tables, "material": {**tables["material"], "decarburised_depth": 0.1}})


def test_what_was_not_measured_is_thick_thin_walled_soft_deep_and_far_from_the_tip() -> None:
    """A hole nearer to the middle works at a shorter lever, which is stiffer, as a thicker bar is: at equal travel both
    are more stressed. All else is thinner, softer or deeper.
    """
    bar = decarburised()
    limits = drawn_bands(bar)
    edges = worse_edges(limits, limits.bands)
    for key in ("wall", "flat_thickness", "flat_width", "tensile_strength"):
        assert edges[key, 0] == limits.bands[key, 0][0] <= 0.0, key
    for key in ("diameter", "hole_position", "decarburised_depth"):
        assert edges[key, 0] == limits.bands[key, 0][1] > 0.0, key
    made = received(bar, limits, rows=None, values={}).bar
    assert made is not None and made.right.flat is not None and bar.right.flat is not None
    assert made.section.diameter_mm > bar.section.diameter_mm
    assert (made.section.wall_mm or 0.0) < (bar.section.wall_mm or 0.0)
    assert made.right.flat.thickness_mm < bar.right.flat.thickness_mm
    assert all(one.from_tip_mm > two.from_tip_mm for one, two in zip(made.left.holes, bar.left.holes, strict=True))
    assert (made.steel.decarburised_depth_mm or 0.0) > 0.1
    assert made.steel.tensile_strength_MPa <= bar.steel.tensile_strength_MPa


def test_what_was_measured_is_as_measured() -> None:
    """A wall of 3.9 mm, and a right end of 1000 MPa on a bar of whatever its body has."""
    bar = decarburised()
    limits = drawn_bands(bar)
    made = received(bar, limits, rows=None, values={("wall", 0): -0.1, ("tensile_strength", 0): 40.0},
                    end_tensile_MPa=(1000.0, None)).bar  # fmt: skip
    assert made is not None and made.section.wall_mm == pytest.approx(3.9)
    assert made.steel.tensile_strength_MPa == pytest.approx(1500.0)
    assert made.right.strength_scale == pytest.approx(1000.0 / 1500.0) and made.left.strength_scale == 1.0


def test_of_several_hardnesses_the_softest_counts() -> None:
    grades = {"middle": 45.0, "right arm": 43.5, "left arm": 46.0, "left end": 40.0}
    readings = [Reading("hardness", place, value, "HRC", "", 1) for place, value in grades.items()]
    numbers: dict[str, float] = {}
    body, (right, left) = tensile_of(readings, numbers)
    alone = {value: tensile_of([Reading("hardness", "middle", value, "HRC", "", 1)], {})[0] for value in (43.5, 40.0)}
    assert numbers["hardness_HRC"] == 43.5 and numbers["strength_MPa"] == body == alone[43.5]
    assert right is None and left == alone[40.0]


@pytest.mark.parametrize(("percent", "fault"), [(7.9, False), (8.0, False), (8.1, True)])
def test_bends_flattened_by_more_than_eight_per_cent_are_at_fault(percent: float, fault: bool) -> None:
    out = Findings()
    bar = handed_bar()
    skin_and_size(bar, drawn_bands(bar), [Reading("ovality", "bend 1", percent, "%", "", 1)], out)
    assert bool(out.faults) is fault and out.judged[0].high == 8.0


@pytest.mark.parametrize("edge", [0, 1])
def test_a_rate_is_held_by_its_share_of_the_computed_one(edge: int) -> None:
    """Within the band about the rate of the bar as received, a hair inside and a hair outside of either end."""
    bar = handed_bar()
    band = rate_band(bar)
    hole = bar.left.holes[0].name

    def judged(rate: float) -> bool | None:
        reading = Reading("rate", f"hole {hole}", rate, "N/mm", "roll", 1)
        return judge_rates(bar, [([reading], bar)])[0][0].judged.passes

    limits = judge_rates(bar, [([Reading("rate", f"hole {hole}", 50.0, "N/mm", "roll", 1)], bar)])[0][0].judged
    assert limits.low is not None and limits.high is not None
    computed = limits.low / (1.0 + band[0])
    assert limits.high == pytest.approx(computed * (1.0 + band[1]))
    inwards = 1.0 if edge == 0 else -1.0
    for hair, passes in ((1e-4, True), (-1e-4, False)):
        assert judged(computed * (1.0 + band[edge] + inwards * hair)) is passes


def test_the_right_ends_rate_follows_from_roll_and_the_left_ends() -> None:
    """A free bar pushes back with 5 a mm at the left and 6 at the right: 25 and 36 N/mm with the other end held, and in
    roll of both (5 + 6)^2 / 2 = 60.5.
    """
    assert right_end_rate(60.5, 25.0) == pytest.approx(36.0) and right_end_rate(60.5, 36.0) == pytest.approx(25.0)
    assert right_end_rate(50.0, 25.0) is None  # of equal arms it is the left end's own
    assert right_end_rate(None, 30.0) is None
