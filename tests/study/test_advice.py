"""What would make a bar pass is found by solving: it passes with the change made, and not one step short of it."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from barfem.check.api import check_bar
from barfem.cli.main import main
from barfem.model.read import bar_from_dict, read_bar
from barfem.show.ways import nothing_else
from barfem.solve import newton
from barfem.study.advice import advise, travel_to_spare
from barfem.study.change import change
from barfem.study.evaluate import evaluate_at, evaluate_one
from barfem.study.ways import ways_for
from tests.check.bar_files import BUILT
from tests.model.bar_data import changed
from tests.often import often

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def cranked():
    return read_bar(ROOT / "geometries" / "coupe-rear-cranked.toml")


@pytest.fixture(scope="module")
def failing(cranked):
    """Worked more than twice as far as drawn: some hole fails."""
    return change(cranked, {"travel.pickup": 46.0})


@pytest.fixture(scope="module")
def found(failing):
    return of_holes(failing)


def of_holes(bar):
    """What is for one hole setting each; what is for all of them has a test of its own."""
    return tuple(each for each in advise(bar) if each.left)


def judged(bar, each):
    return evaluate_one(bar, holes=[each.left], case=each.case)


def test_every_change_makes_its_hole_setting_pass(failing, found):
    assert {"travel", "section"} <= {each.kind for each in found}
    for each in found:
        assert not judged(failing, each).passes.all()
        if each.changes:
            after = judged(change(failing, each.changes), each)
            assert after.passes.all(), each
            assert after.rate_N_per_mm[0] == pytest.approx(each.rate_N_per_mm, rel=1e-9)


def test_travel_is_the_greatest_that_passes_in_steps_of_a_drawing(failing, found):
    for each in (each for each in found if each.kind == "travel"):
        value = each.changes["travel.pickup"]
        assert value < 46.0 and value == round(2.0 * value) / 2.0
        assert not judged(change(failing, {"travel.pickup": value + 0.5}), each).passes.all()


def test_a_hole_moves_to_the_tip_and_keeps_its_edge_and_its_neighbours(failing, found):
    for each in (each for each in found if each.kind == "hole"):
        (value,) = set(each.changes.values())
        hole = next(hole for hole in failing.left.holes if hole.name == each.left)
        assert value < hole.from_tip_mm and value >= 1.5 * (hole.diameter_mm or 0.0)


def test_a_hole_on_the_middle_line_is_told_to_move_and_not_to_travel_less():
    """Bent away from the arm: 26 mm from the line of the mounts, where the end reaches 250."""
    holes = [{"name": "1", "from_tip": 20.0, "diameter": 10.0}, {"name": "2", "from_tip": 225.0, "diameter": 10.0}]
    bar = bar_from_dict(changed(("ends.holes", holes), ("travel.pickup", 8.0)))
    advice = advise(bar)
    assert {each.kind for each in advice if each.left == "2"} == {"hole"}
    assert not any(each.kind == "travel" and not each.left for each in advice)
    assert any(each.kind == "travel" for each in advice if each.left == "1")


def test_leaving_a_hole_out_is_said_only_where_all_others_pass(failing, found):
    passes = evaluate_one(failing).passes
    assert any(each.kind == "leave out" for each in found) == (sum(~passes) == 1)


def test_a_bar_that_passes_has_no_advice_but_travel_to_spare(cranked):
    calm = change(cranked, {"travel.pickup": 8.0})
    assert evaluate_one(calm).passes.all()
    assert advise(calm) == ()
    spare = travel_to_spare(calm)
    value = spare.changes["travel.pickup"]
    assert value > 8.0
    assert evaluate_one(change(calm, {"travel.pickup": value})).passes.all()
    if value < 15.5:
        assert not evaluate_one(change(calm, {"travel.pickup": value + 0.5})).passes.all()


def test_travel_to_spare_that_ends_with_the_search_says_so(cranked):
    """Inches written as mm, and a bar that hardly works: three times its travel is no limit of the bar."""
    idle = change(cranked, {"travel.pickup": 2.0})
    spare = travel_to_spare(idle)
    assert spare.words == "travel pickup 5.5 mm (drawn 2), the most that was tried"
    assert evaluate_one(change(idle, {"travel.pickup": 8.0})).passes.all()
    assert "tried" not in travel_to_spare(change(cranked, {"travel.pickup": 16.0})).words


@pytest.mark.long
def test_peening_is_told_before_a_finer_finish_wherever_it_is_enough():
    """A scaled tube: shot peening lets hole 2 pass, and so does a turned skin, which nobody makes of a bent bar."""
    bar = change(read_bar(ROOT / "geometries" / "pickup-rear-tube.toml"), {"material.surface": "as-hardened-scaled"})
    found = of_holes(bar)
    assert any(each.kind == "skin" for each in found)
    for each in (each for each in found if each.kind == "skin"):
        peened = judged(change(bar, {"material.peening": "shot"}), each)
        assert each.words.startswith("shot peening (") == bool(peened.passes.all())


def test_a_finish_under_peening_says_that_peening_must_be_written_where_the_finish_alone_gave_it(cranked):
    """surface = "shot-peened" says peening by its name: another name in its place took the peening away."""
    bar = change(cranked, {"travel.pickup": 36.0})
    said = [step.words for step in ways_for(bar, "roll")["skin"]]
    assert 'surface "machined" (turned or peeled), still shot-peened (peening = "shot")' in said
    given = change(bar, {"material.surface": "as-hardened-scaled", "material.peening": "shot"})
    assert 'surface "machined" (turned or peeled)' in [step.words for step in ways_for(given, "roll")["skin"]]


def test_peening_that_leaves_spots_bare_is_told_to_cover(cranked):
    """80 % coverage counts as none, and a turned skin was advised in the place of peening to the end."""
    peening = {"kind": "shot", "residual": -600, "coverage": 80}
    bar = change(
        cranked, {"material.surface": "as-hardened-scaled", "material.peening": peening, "travel.pickup": 32.0}
    )
    told = [each for each in of_holes(bar) if each.kind == "skin"]
    assert told and all(each.changes == {"material.peening.coverage": 98.0} for each in told)
    assert told[0].words == "shot peening that covers all (coverage = 98 or more)"
    covered = change(bar, told[0].changes)
    assert covered.steel.peening.residual_MPa == -600.0 and judged(covered, told[0]).passes.all()


def test_a_deep_decarburised_skin_is_told_to_be_shallower(cranked):
    """Of 0.5 mm no finish and no peening is enough, as neither reaches under it; the depth that passes was not said."""
    skin = {"material.surface": "as-hardened-scaled", "material.decarburised_depth": 0.5, "travel.pickup": 20.0}
    bar = change(cranked, skin)
    told = [each for each in of_holes(bar) if each.kind == "skin"]
    depths = [each.changes["material.decarburised_depth"] for each in told]
    assert depths and all(depth < 0.5 for depth in depths) and "deep at most" in told[0].words
    for each, depth in zip(told, depths, strict=True):
        assert judged(change(bar, each.changes), each).passes.all()
        if depth < 0.4:
            assert not judged(change(bar, {"material.decarburised_depth": depth + 0.1}), each).passes.all()
    # The grooves of a finish itself are not decarburised steel: 0.05 mm under scale.
    steps = [step.changes for step in ways_for(bar, "roll")["skin"]]
    assert {"material.decarburised_depth": 0.05} in steps
    assert all(
        "material.decarburised_depth" not in step
        for step in [each.changes for each in ways_for(cranked, "roll")["skin"]]
    )


@pytest.mark.parametrize(
    ("name", "bars"), [("pickup-front-solid", 2), pytest.param("coupe-front-splayed", 1, marks=pytest.mark.long)]
)
def test_travel_to_spare_takes_one_solved_bar_or_two(name, bars, monkeypatch):
    """Factors on the load and how the rate rises with travel tell where to look: at the answer, and a step beyond it
    where the answer does not say clearly that it is too far.
    """
    solved = []

    def counted(requests, **options):
        requests = list(requests)
        solved.extend(requests)
        return evaluate_at(requests, **options)

    monkeypatch.setattr("barfem.study.way_search.evaluate_at", counted)
    found = check_bar(ROOT / "geometries" / f"{name}.toml")
    assert travel_to_spare(found.states.bar, solved=found.states) is not None
    assert len(solved) == bars


@pytest.mark.parametrize(
    "case",
    often(
        [
            ("pickup-front-solid.toml", {"travel.pickup": 75.0}, True),
            ("pickup-rear-tube.toml", {"material.surface": "as-hardened-scaled"}, False),
            ("coupe-rear-cranked.toml", {"travel.pickup": 46.0}, True),
        ],
        1,
    ),
)
@pytest.mark.long
def test_of_a_bar_already_judged_the_advice_is_the_same_with_fewer_skins_solved(case, monkeypatch):
    """A skin that fails where the drawn bar is worst fails whatever else its stress finds: it needs no solving."""
    file, changes, fewer = case
    solved = []

    def counted(requests, **options):
        requests = list(requests)
        solved.extend(bar.steel.skin for bar, _ in requests)
        return evaluate_at(requests, **options)

    monkeypatch.setattr("barfem.study.way_search.evaluate_at", counted)
    bar = change(read_bar(ROOT / "geometries" / file), changes)
    afresh = advise(bar)
    every, solved = len([skin for skin in solved if skin != bar.steel.skin]), []
    told = advise(bar, solved=check_bar(bar).states)
    assert [(each.left, each.kind, each.changes) for each in told] == [
        (each.left, each.kind, each.changes) for each in afresh
    ]
    few = len([skin for skin in solved if skin != bar.steel.skin])
    assert few < every if fewer else few == every


def test_where_a_clamps_edge_decides_rubber_under_it_is_told():
    """Beside clamped metal fatigue sees twice the stress (Peterson), beside rubber that the bar turns in 1.2 times."""
    bar = read_bar(ROOT / "geometries" / "pickup-front-solid.toml")
    clamped = change(bar, {"mounts.*.contact": "clamped", "travel.pickup": 34.0})
    told = [each for each in advise(clamped) if each.kind == "mount"]
    assert [(each.left, each.changes) for each in told] == [("stiff", {"mounts.*.contact": "slipping"})]
    assert evaluate_one(change(clamped, told[0].changes), holes=["stiff"]).passes.all()
    own = change(clamped, {"mounts.1.contact": "bonded"})
    assert [each.changes for each in advise(own) if each.kind == "mount"] == [{"mounts.2.contact": "slipping"}]
    stated = change(clamped, {"mounts.*.contact_factor": 2.0})
    assert not [each for each in advise(stated) if each.kind == "mount"]  # the file's own number is its own


@pytest.mark.long
def test_what_each_hole_has_been_asked_about_is_not_solved_again_for_all_of_them(monkeypatch):
    """Peening is one step, at which all four failing holes have been judged one by one."""
    asked = []

    def counted(requests, **options):
        requests = list(requests)
        asked.extend((bar.steel.skin.peened, len(settings)) for bar, settings in requests)
        return evaluate_at(requests, **options)

    monkeypatch.setattr("barfem.study.way_search.evaluate_at", counted)
    bar = change(read_bar(ROOT / "geometries" / "pickup-rear-tube.toml"), {"duty.target_cycles": 2_000_000})
    assert {"peening"} == {key.split(".")[1] for each in advise(bar) if not each.left for key in each.changes} & {
        "peening"
    }
    counts = [count for peened, count in asked if peened]
    assert counts == [1] * 4  # and of the travel and arms at which the last of the four passes, the other three
    assert (False, 3) in asked and (False, 4) not in asked[1:]


@pytest.mark.long
def test_where_no_single_way_does_peening_and_one_more_do(cranked):
    """Unpeened and worked twice as far. For the worst hole only less travel does, or peening and one change more."""
    bar = change(cranked, {"travel.pickup": 46.0, "material.surface": "as-hardened-scaled"})
    both = [each for each in advise(bar) if each.words.startswith("shot peening and ")]
    assert both and {each.left for each in both} == {"3"}
    for each in both:
        alone = {key: value for key, value in each.changes.items() if key != "material.peening"}
        for part in (alone, {"material.peening": "shot"}):
            assert not judged(change(bar, part), each).passes.all()
        after = judged(change(bar, each.changes), each)
        assert after.passes.all() and after.rate_N_per_mm[0] == pytest.approx(each.rate_N_per_mm, rel=1e-9)


def test_a_size_that_leaves_less_than_half_the_rate_is_another_bar(found):
    assert all(each.rate_change_percent >= -50.0 for each in found if each.kind == "section")


@pytest.fixture(scope="module")
def bent_cold(tmp_path_factory):
    path = tmp_path_factory.mktemp("cold") / "bent-cold.toml"
    sketch = "--width 1100 --arm-length 260 --left-arm 225 --crank 20,-45,250,340 --bend-radius 65 --holes 18,48"
    made = "--section 25x3 --mounts 400 --mount-stiffness 9000 --link-length 180 --travel 22 --bent after-hardening"
    assert main(["new", str(path), *sketch.split(), *made.split(), "--cycles", "82000", "--yes"]) == 0
    return read_bar(path)


def test_of_tubes_of_one_diameter_the_thickest_wall_that_passes_is_told(bent_cold):
    """Bent cold, the tube is weakest inside its bends, where a thick wall lives shorter than a thin one.

    Hole 2 passes with 22 x 3, not with 22 x 3.5 or more: 20 x 5, which gives up more of the rate, is not what is told.
    """
    told = next(each for each in of_holes(bent_cold) if each.kind == "section")
    passing = [
        step
        for step in ways_for(bent_cold, "roll")["section"]
        if judged(change(bent_cold, step.changes), told).passes.all()
    ]
    assert told.changes == passing[0].changes == {"section.diameter": 22.0, "section.wall": 3.0}


def test_a_bar_bent_cold_is_told_where_stress_relieving_does(bent_cold):
    """Bending leaves tension inside the bends, which stress relieving takes away: it is ordered as a finish is."""
    told = [each for each in of_holes(bent_cold) if each.kind == "skin"]
    assert [each.changes for each in told] == [{"material.stress_relieved": True}]
    assert not judged(bent_cold, told[0]).passes.all()
    relieved = change(bent_cold, told[0].changes)
    assert judged(relieved, told[0]).passes.all()
    assert all("material.stress_relieved" not in step.changes for step in ways_for(relieved, "roll")["skin"])
    peened = change(bent_cold, {"material.peening": "shot"})
    assert next(iter(ways_for(peened, "roll")["skin"])).changes == {"material.stress_relieved": True}


@pytest.mark.long
def test_where_less_travel_alone_does_the_screen_says_that_all_else_was_looked_at(cranked):
    """Nearly four times the drawn travel: no arm or size makes up for that, and who reads only of travel asks why."""
    found = of_holes(change(cranked, {"travel.pickup": 75.0}))
    assert {each.kind for each in found} == {"travel"}
    words = nothing_else(found)
    assert words.startswith("At holes 1, 2, 3 no hole nearer the tip, longer arm, smaller stock size or better skin")
    some = [replace(each, kind="arm") if each.left == "2" else each for each in found]
    assert nothing_else(some).startswith("At holes 1, 3 ") and nothing_else(some[1:2]) == ""


@pytest.mark.long
def test_what_is_for_all_holes_makes_all_of_them_pass_and_is_what_the_last_of_them_needs(cranked):
    bar = change(cranked, {"travel.pickup": 50.0})
    drawn, found = evaluate_one(bar), advise(bar)
    assert np.count_nonzero(~drawn.passes) > 1
    for_all = {each.kind: each for each in found if not each.left}
    assert found[: len(for_all)] == tuple(for_all.values()) and {"travel", "arm"} <= set(for_all)
    for kind, each in for_all.items():
        assert evaluate_one(change(bar, each.changes)).passes.all()
        assert each.words in {other.words for other in found if other.left and other.kind == kind}
    least = min(each.changes["travel.pickup"] for each in found if each.left and each.kind == "travel")
    assert for_all["travel"].changes == {"travel.pickup": least}
    assert "section" not in for_all  # at hole 2 alone a smaller one is enough


@pytest.mark.long
def test_travel_to_spare_of_a_bar_whose_rate_falls_with_its_travel_is_the_greatest_that_passes(monkeypatch):
    """Links that lean 60 deg: the rate over the drawn travel is three quarters of that at rest, and falls on.

    They cannot follow much more than is drawn. To find no equilibrium takes a second: each travel is tried once, not
    again hole by hole.
    """
    leaning = ("links", {"length": 150.0, "direction": [0.0, math.sin(math.pi / 3), -0.5]})
    bar = bar_from_dict(changed(leaning, base=BUILT))
    drawn = evaluate_one(bar)
    assert np.all(drawn.passes) and np.all(drawn.rate_N_per_mm < 0.77 * drawn.rate_initial_N_per_mm)
    failed = []

    def ramp(batch, state, **ways):
        try:
            return newton.ramp(batch, state, **ways)
        except newton.ConvergenceError:
            failed.append(ways["target_mm"].tolist())
            raise

    with monkeypatch.context() as patched:
        patched.setattr("barfem.solve.beam.ramp", ramp)
        spare = travel_to_spare(bar)
    assert 1 < len(failed) < 6 and all(failed.count(each) == 1 for each in failed)
    assert spare is not None and evaluate_one(change(bar, spare.changes)).passes.all()
    more = {key: value + 0.5 for key, value in spare.changes.items()}
    assert not evaluate_one(change(bar, more)).passes.all()


@pytest.mark.filterwarnings("error")
def test_travel_to_spare_of_holes_that_feel_next_to_nothing_has_no_rate_to_go_by():
    pickups = {"left": {"pickup": [-250, 560, -150]}, "right": {"pickup": [-240, -545, -120]}}
    bar = bar_from_dict(changed(("links", pickups), base=BUILT))
    spare = travel_to_spare(bar, case="parallel")
    assert spare is not None and evaluate_one(change(bar, spare.changes), case="parallel").passes.all()
