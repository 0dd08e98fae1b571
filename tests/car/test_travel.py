"""`barfem travel`: the least of stops, lifting wheels and states, written into bar files however they are laid out."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from barfem.car.car import State
from barfem.car.model import car_model
from barfem.car.read import read_car
from barfem.car.travel import bar_text_with_travel, travel_result
from barfem.cli.main import main
from barfem.model.errors import InputError
from barfem.model.read import bar_from_dict, read_bar
from tests.car.cars import plain_car

GEOMETRIES = Path(__file__).parents[2] / "geometries"
PICKUP = str(GEOMETRIES / "pickup-car.toml")


@pytest.mark.long
def test_travel_is_the_least_of_its_limits(tmp_path, capsys):
    """The pickup's front: stops 95 mm, no lift, 71 mm in its states x 0.32; written, the bar is judged by that."""
    found = travel_result(read_car(PICKUP))
    roll = found.axles["front"].cases["roll"]
    assert roll.governs == "states" and roll.wheel_mm == min(roll.stops_mm, roll.states_mm)
    assert roll.bar_end_mm == pytest.approx(0.32 * roll.wheel_mm)
    assert found.axles["front"].cases["one_wheel"].bar_end_mm == pytest.approx(0.32 * 95.0)
    new = tmp_path / "front.toml"
    assert main(["travel", PICKUP, "--write-front", str(new)]) == 0
    assert "wrote" in capsys.readouterr().out
    bar = read_bar(new)
    assert bar.travel.up_mm == pytest.approx(roll.bar_end_mm, abs=1e-3)
    assert [block.cycles for block in bar.duty.blocks] == [3600.0, 3000.0]
    assert "# was: pickup = 24.0" in new.read_text(encoding="utf-8")
    assert main(["travel", PICKUP, "--write-front", str(new)]) == 2  # it is there
    assert main(["check", str(new)]) in (0, 1)


def test_travel_is_written_for_a_bar_that_leaves_its_direction_out(tmp_path):
    """[travel] direction may be left out: straight up. The copy leaves it out too."""
    for path in (GEOMETRIES / "pickup-car.toml", GEOMETRIES / "pickup-rear-tube.toml"):
        (tmp_path / path.name).write_text(path.read_text(encoding="utf-8"), encoding="utf-8")
    drawn = (GEOMETRIES / "pickup-front-solid.toml").read_text(encoding="utf-8")
    assert "\ndirection = [0, 0, 1]\n" in drawn
    (tmp_path / "pickup-front-solid.toml").write_text(
        drawn.replace("\ndirection = [0, 0, 1]\n", "\n"), encoding="utf-8"
    )
    new = tmp_path / "front.toml"
    assert main(["travel", str(tmp_path / "pickup-car.toml"), "--write-front", str(new)]) == 0
    bar = read_bar(new)
    assert bar.travel.up_mm == pytest.approx(22.76, abs=0.01) and bar.travel.direction == (0.0, 0.0, 1.0)


DUTY = "[duty]\ntarget_cycles = 200000           # of full articulation\n"


@pytest.mark.parametrize(
    ("duty", "kept"),
    [
        ("[duty]\nratio = -1.0\n[[duty.blocks]]\npickup = 20\ncycles = 100\n", "# was: [[duty.blocks]]"),
        (
            "[[duty.blocks]]\npickup = 20\ncycles = 100\n\n[[ duty.blocks ]]\npickup = 9\ncycles = 1e5\n",
            "# was: pickup = 9",
        ),
        pytest.param(
            "[ duty ]\nblocks = [\n  { pickup = 20, cycles = 100 },\n]\n",
            "# was:   { pickup = 20, cycles = 100 },",
            marks=pytest.mark.long,
        ),
        pytest.param("", "# was: pickup = 24.0", marks=pytest.mark.long),
    ],
)
def test_travel_is_written_however_the_bar_file_writes_its_duty(tmp_path, duty, kept):
    found = travel_result(read_car(PICKUP)).axles["front"]
    drawn = (GEOMETRIES / "pickup-front-solid.toml").read_text(encoding="utf-8")
    assert DUTY in drawn
    path = tmp_path / "front.toml"
    path.write_text(drawn.replace(DUTY, duty).replace("[travel]", "[ travel ]"), encoding="utf-8")
    new = bar_text_with_travel(path, found, car=read_car(PICKUP))
    bar = bar_from_dict(tomllib.loads(new))
    assert kept in new
    assert [(block.pickup_mm, block.cycles) for block in bar.duty.blocks] == [
        (pytest.approx(pickup, rel=1e-5), cycles) for pickup, cycles, _ in found.blocks
    ]
    assert bar.travel.up_mm == pytest.approx(found.cases["roll"].bar_end_mm, rel=1e-5)


@pytest.mark.parametrize(
    ("table", "line"),
    [
        ("duty", "duty.target_cycles = 5000"),
        pytest.param("duty", "duty = { ratio = -1.0 }", marks=pytest.mark.long),
        pytest.param("travel", "travel.pickup = 24.0", marks=pytest.mark.long),
    ],
)
def test_travel_is_not_written_where_a_table_has_no_heading(tmp_path, table, line):
    drawn = (GEOMETRIES / "pickup-front-solid.toml").read_text(encoding="utf-8")
    start = drawn.index(f"[{table}]")
    end = drawn.index("\n[", start)
    path = tmp_path / "front.toml"
    path.write_text(f"{line}\n{drawn[:start]}{drawn[end + 1 :]}", encoding="utf-8")
    read_bar(path)
    with pytest.raises(InputError, match=rf"front\.toml: \[{table}\]: there is no heading"):
        bar_text_with_travel(path, travel_result(read_car(PICKUP)).axles["front"], car=read_car(PICKUP))


def test_travel_tells_of_states_in_which_the_car_has_rolled_over():
    """At 5 g no car stands: its travel is no limit, and where stops are none either, nothing is."""
    found = travel_result(replace(plain_car(), states=(State("far too fast", 5.0, 0.0), State("mid", 0.9, 0.0))))
    told = [words for words in found.warnings if "no equilibrium" in words]
    assert len(told) == 1 and told[0].startswith('"far too fast": no equilibrium is left at a_y 5 g')


def test_kept_stops_are_the_least_where_states_go_further():
    car = plain_car(front__bump_stop={"gap": 8.0, "rate": 5.0}, front__droop_stop={"gap": 50.0, "rate": 50.0})
    found = travel_result(car)
    roll = found.axles["front"].cases["roll"]
    assert roll.governs == "stops" and roll.wheel_mm == 8.0
    # The states' own twist is what barfem car judges: a bar that passes at the stop may yield there, which is said.
    model = car_model(car)
    wheels = model.states(model.problem(car.states)).travel_mm[:, :2]
    twist = float(np.abs(wheels[:, 0] - wheels[:, 1]).max() / 2)
    assert twist > 8.0 and roll.states_mm == pytest.approx(twist)
    told = [words for words in found.warnings if words.startswith("[front] roll: the states given")]
    assert len(told) == 1 and f"{twist:.3g} mm, the bar's ends {0.62 * twist:.3g} mm" in told[0]
    assert not any("the states given" in words for words in travel_result(plain_car()).warnings)


def test_travel_tells_of_preload_that_a_written_bar_file_leaves_out():
    """20 mm of the left corner at 0.62 are 12.4 mm between the ends. A turn that moves each end by q goes on from
    there: to 2 q + 12.4 mm one way, and back to 2 q - 12.4 mm; a check turns it by 2 q both ways."""
    car = plain_car(front__bar__ride_offset={"left": 20.0, "right": 0.0})
    found = travel_result(car)
    q = found.axles["front"].cases["roll"].bar_end_mm
    told = [words for words in found.warnings if words.startswith("[front.bar] at the weighed height")]
    assert (
        len(told) == 1 and "hold the bar's ends 12.4 mm apart:" in told[0] and f"up to {2 * q + 12.4:.3g} mm" in told[0]
    )
    # Both corners alike twist nothing, and little is not told.
    for offset in ({"left": 20.0, "right": 20.0}, {"left": 0.3, "right": 0.0}):
        same = travel_result(plain_car(front__bar__ride_offset=offset))
        assert not any("at the weighed height" in words for words in same.warnings)
    # What the bar's own file says of its links its check counts.
    demo = read_car(GEOMETRIES / "coupe-car.toml")
    long = replace(demo.front.bar, link_error_mm=(8.0, 0.0))
    filed = replace(long, bar=replace(long.bar, left_link=replace(long.bar.left_link, length_error_mm=8.0)))
    for bar, times in ((demo.front.bar, 0), (long, 1), (filed, 0)):
        words = travel_result(replace(demo, front=replace(demo.front, bar=bar))).warnings
        assert sum("at the weighed height" in text for text in words) == times
