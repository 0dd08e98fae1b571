"""Legal bars that nobody drew with the tool in mind: each gets numbers, or one clear message."""

from __future__ import annotations

import math

import pytest

from tests.check.bar_files import BUILT, check, checked_file, numbers, toml
from tests.model.bar_data import DELETE, changed
from tests.often import often

TUBE = ("material.bent", "before-hardening")
UNUSUAL = {
    "hole at the very tip": (("ends.holes.0", {"name": "1", "from_tip": 0.0}),),
    "hole at the tip, drilled": (("ends.holes.0", {"name": "1", "from_tip": 0.0, "diameter": 8.0}),),
    "hole in the bend": (("ends.holes.2", {"name": "3", "from_tip": 250.0, "diameter": 8.0}),),
    "one hole": (("ends.holes", BUILT["ends"]["holes"][:1]),),
    "six holes": (
        ("ends.holes", [{"name": f"hole {i}", "from_tip": 15.0 + 18.0 * i, "diameter": 8.0} for i in range(6)]),
    ),
    "mount over a tangent": (("mounts.0.from_middle", -500.0),),
    "mount in the middle of a bend": (("mounts.0", {**BUILT["mounts"][0], "from_middle": -540.0, "length": 20.0}),),
    "mounts far from even": (("mounts.0.from_middle", -430.0), ("mounts.1.from_middle", 120.0)),
    "three mounts": (("mounts", [*BUILT["mounts"], {"from_middle": 0.0, "radial_stiffness": 3000.0}]),),
    "both mounts on one side": (("mounts.0.from_middle", 100.0),),
    "soft mounts": (("mounts.0.radial_stiffness", 30.0), ("mounts.1.radial_stiffness", 30.0)),
    "mounts as hard as rock": (("mounts.0.radial_stiffness", 1e9), ("mounts.1.radial_stiffness", 1e9)),
    "very thick tube": (("section", {"shape": "tube", "diameter": 20.0, "wall": 9.5}), TUBE),
    "very thin tube": (("section", {"shape": "tube", "diameter": 30.0, "wall": 0.8}), TUBE),
    "tight bend": (("centreline.bend_radius", 12.0),),
    "no bend at all": (
        ("centreline.points", [[0, -550, 0], [0, 550, 0]]),
        ("centreline.bend_radius", DELETE),
        ("ends.holes", [{"name": "1", "from_tip": 20.0, "diameter": 8.0, "offset": [-250, 0, 0]}]),
    ),
    "arms straight down": (
        ("centreline.points", [[0, -550, -270], [0, -550, 0], [0, 550, 0], [0, 550, -270]]),
        ("links", {"length": 150.0, "direction": [1, 0, 0]}),
        ("travel.direction", [1, 0, 0]),
    ),
    "hooked ends": (
        (
            "centreline.points",
            [[-200, -420, 0], [-270, -540, 0], [0, -550, 0], [0, 550, 0], [-270, 540, 0], [-200, 420, 0]],
        ),
        ("centreline.bend_radius", 40.0),
    ),
    "pickup exactly above": (("ends.holes", BUILT["ends"]["holes"][:1]), ("links", {"pickup": [-250, 550, 150]})),
    "tiny travel": (("travel.pickup", 1e-6),),
    "short links": (("links.length", 30.0),),
    "endless links": (("links.length", 3000.0),),
    "soft links": (("links.axial_stiffness", 20.0),),
    "a ratio near one": (("duty.ratio", 0.98),),
    "one cycle": (("duty.target_cycles", 1),),
    "a soft steel": (("material.yield_strength", 200.0), ("material.tensile_strength", 380.0)),
}  # fmt: skip


@pytest.mark.parametrize("name", often(UNUSUAL, 6))
def test_numbers_are_finite_and_agree(name):
    result = check(*UNUSUAL[name])
    assert all(math.isfinite(value) for _, value in numbers(result))
    for setting in result["settings"]:
        assert setting["rate_N_per_mm"] > 0.0 and setting["rate_initial_N_per_mm"] > 0.0
        worst = max(place["von_mises_MPa"] for place in setting["places"])
        assert setting["peak"]["von_mises_MPa"] == pytest.approx(worst, rel=1e-8)
        assert setting["fatigue"]["amplitude_MPa"] >= 0.0 and setting["fatigue"]["mean_MPa"] >= 0.0
        assert sum(setting["compliance"].values()) == pytest.approx(1.0, abs=1e-6)
        assert setting["passes"] is False or setting["yield_margin"] >= 0.25


def test_a_bar_above_yield_fails_and_claims_no_life():
    result = check(*UNUSUAL["a soft steel"])
    for setting in result["settings"]:
        assert setting["yield_margin"] < 0.0 and not setting["passes"]
        assert setting["fatigue"]["life_cycles"] is None and setting["fatigue"]["reason"]


def test_a_life_below_one_cycle_is_no_number_of_cycles():
    """Just below yield the line gives a share of a cycle: the bar breaks in its first."""
    (setting,) = check(("travel.pickup", 110.0), ("ends.holes", BUILT["ends"]["holes"][:1]))["settings"]
    assert 0.0 < setting["fatigue"]["life_at_survival_cycles"] < 1.0
    assert any("90 % survival, less than one cycle, falls short" in reason for reason in setting["why"])


def test_tiny_travel_has_the_rate_at_rest():
    for setting in check(*UNUSUAL["tiny travel"])["settings"]:
        assert setting["rate_N_per_mm"] == pytest.approx(setting["rate_initial_N_per_mm"], rel=1e-3)
        assert setting["fatigue"]["runout"] and setting["passes"]


@pytest.mark.parametrize("name", ["mount over a tangent", "mount in the middle of a bend", "hole in the bend"])
def test_what_should_not_be_made_is_warned_of(name):
    warnings = check(*UNUSUAL[name])["warnings"]
    assert any("bend" in text and ("Mount" in text or "Hole" in text) for text in warnings)


def test_hard_mounts_come_to_the_same_as_harder_ones():
    # Points: a stiff bushing of some length would clamp the bar's direction as well.
    def rate(k: float) -> float:
        mounts = [{"y": y, "radial_stiffness": k, "axial_stiffness": 200.0} for y in (-380.0, 380.0)]
        return check(("mounts", mounts))["settings"][0]["rate_N_per_mm"]

    one, two = rate(1e7), rate(1e9)
    assert one == pytest.approx(two, rel=1e-3)


@pytest.mark.parametrize("travel", often([300.0, 1000.0, 9_000.0], {1000.0}))
def test_a_travel_that_cannot_be_reached_fails_its_hole_and_says_where(travel):
    for setting in check(("travel.pickup", travel))["settings"]:
        assert setting["passes"] is False and setting["rate_N_per_mm"] is None
        (why,) = setting["why"]
        assert "no equilibrium" in why and " mm" in why


NAMES = (
    "[bold]red[/bold]",
    "<script>alert(1)</script>",
    "Stabilisator für hinten – Ø 20",
    "前スタビ",
    "a" * 400,
    "{0} %s",
)


@pytest.mark.parametrize("name", NAMES)
def test_names_are_text_and_nothing_else(tmp_path, capsys, name):
    path = tmp_path / "bar.toml"
    holes = [{"name": name, "from_tip": 20.0, "diameter": 8.0}]
    path.write_text(
        toml(changed(("name", name), ("ends.holes", holes), ("travel.pickup", 40.0), base=BUILT)), encoding="utf-8"
    )
    ended = checked_file(path, capsys)
    assert ended.status == 1
    assert ended.json["name"] == name and ended.json["settings"][0]["left"] == name
    out = "".join(ended.out.split())
    assert "".join(name.split())[:40] in out
    assert max(len(line) for line in ended.out.splitlines()[:-1]) <= 100  # the verdict is one line, however long


def test_a_bar_whose_arms_point_opposite_ways_works_no_roll_and_says_so():
    # One arm forward, one rearward: pickups that move opposite ways turn it about its mounts without twisting it. A
    # rate of nothing would pass every target, so it is refused; one wheel alone does twist it.
    crank = ("centreline.points", [[-270, -550, 0], [0, -550, 0], [0, 550, 0], [270, 550, 0]])
    for setting in check(crank)["settings"]:
        assert setting["passes"] is False and setting["rate_N_per_mm"] is None
        assert "do not work the bar" in setting["why"][0]
    result = check(crank, case="one-wheel")
    assert all(setting["rate_N_per_mm"] > 5.0 for setting in result["settings"])
    assert any("opposite ways" in text for text in result["warnings"])
    assert not any("opposite ways" in text for text in check()["warnings"])


def test_a_clamp_on_a_cold_bend_stands_on_its_tension() -> None:
    """A mount's edge within a bend that was made cold has the tension of the bend's inside under it: at the same
    stress it is no better than the bend itself, and with a clamp's factor of about 2 on the stress it is the worst.
    """
    mounts = [{**mount, "from_middle": math.copysign(515.0, mount["from_middle"])} for mount in BUILT["mounts"]]
    cold = (("material.bent", "after-hardening"), ("mounts", [{**mount, "length": 20.0} for mount in mounts]))
    clamp = (*cold[:1], ("mounts", [{**mount, "length": 20.0, "contact": "clamped"} for mount in mounts]))
    bare, clamped = (check(*changes)["settings"][-1]["fatigue"] for changes in (cold, clamp))
    assert "bend" in bare["where"] and bare["residual_stress_MPa"] > 500.0
    assert "edge of the" in clamped["where"] and "inside" in clamped["where"]
    assert clamped["residual_stress_MPa"] > 0.9 * bare["residual_stress_MPa"]
    assert clamped["safety_factor_at_target"] < 0.65 * bare["safety_factor_at_target"]
