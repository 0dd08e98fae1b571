"""The Python API: one code path with the commands, change by key, flat rows, figures, safe display, a small import."""

from __future__ import annotations

import json
import pickle
import subprocess
import sys
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest

import barfem
from barfem.cli.main import main

ROOT = Path(__file__).parents[2]
FRONT = ROOT / "geometries" / "pickup-front-solid.toml"
BLOCKS = ROOT / "geometries" / "pickup-rear-unequal.toml"


@pytest.fixture(scope="module")
def check():
    return barfem.check_bar(FRONT)


def named(name: str) -> barfem.Bar:
    return barfem.change(barfem.read_bar(FRONT), {"name": name})


def test_every_public_name_is_there_and_said():
    for name in barfem.__all__:
        assert getattr(barfem, name) is not None and name in dir(barfem)
    with pytest.raises(AttributeError, match="no_such_name"):
        barfem.no_such_name  # noqa: B018


def test_importing_loads_next_to_nothing():
    asked = "import sys, barfem; print(sorted({name.partition('.')[0] for name in sys.modules}))"
    out = subprocess.run(
        [sys.executable, "-c", asked], capture_output=True, text=True, check=True, env={"PYTHONPATH": str(ROOT)}
    ).stdout
    heavy = {"numpy", "scipy", "skfem", "matplotlib", "pandas", "pint", "rich", "meshio", "jinja2", "pydantic"}
    assert heavy & set(json.loads(out.replace("'", '"'))) <= {"numpy", "pydantic"}


def test_threads_that_come_to_a_part_of_numpy_at_once_all_find_it_whole():
    asked = """
import threading, barfem, numpy
barfem.check_bar
at_once, found = threading.Barrier(8), []
def ask():
    at_once.wait()
    found.append((numpy.ma.masked_array([20.0, 22.0], mask=[0, 1]).sum(), callable(numpy.testing.assert_allclose)))
threads = [threading.Thread(target=ask) for _ in range(8)]
for thread in threads:
    thread.start()
for thread in threads:
    thread.join()
print(found == [(20.0, True)] * 8)
"""
    run = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True, cwd=ROOT)
    assert (run.stdout.strip(), run.stderr) == ("True", "")


def test_the_same_result_as_the_command(check, capsys):
    main(["check", str(FRONT), "--json", "-"])
    assert json.loads(capsys.readouterr().out) == json.loads(json.dumps(check.to_json_dict()))


def test_a_bar_is_changed_by_key_and_stays():
    bar = barfem.read_bar(FRONT)
    other = barfem.change(bar, {"section.diameter": "0.945 in", "mounts.*.radial_stiffness": 6000})
    assert isinstance(other, barfem.Bar) and other.section.diameter_mm == pytest.approx(24.003)
    assert {mount.radial_stiffness_N_per_mm for mount in other.mounts} == {6000.0}
    assert bar.section.diameter_mm == 22.0
    tube = barfem.change(
        bar, {"section": {"shape": "tube", "diameter": 24.0, "wall": 4.0}, "ends.flat.kind": "pressed"}
    )
    assert tube.section.wall_mm == 4.0


def test_a_change_that_makes_no_bar_is_refused_as_a_file_is():
    bar = barfem.read_bar(FRONT)
    with pytest.raises(barfem.InputError, match=r"diametre.*diameter"):
        barfem.change(bar, {"section.diametre": 24})
    with pytest.raises(barfem.InputError, match="fold"):
        barfem.change(bar, {"centreline.bend_radius": 5})


@pytest.mark.parametrize("given", [None, 5, 2.5, ["bar.toml"], {"name": "x"}])
def test_what_is_neither_path_nor_bar_is_refused_and_says_what_would_be_right(given):
    for asked in (barfem.read_bar, barfem.check_bar):
        with pytest.raises(barfem.InputError, match=r"in place of a path\. Right would be: the path of a bar file"):
            asked(given)
    if not isinstance(given, dict):
        with pytest.raises(barfem.InputError, match="in place of the tables of a bar file"):
            barfem.bar_from_dict(given)


COUPE = FRONT.parent / "coupe-car.toml"
LOT = FRONT.parent / "pickup-front-solid-lot.csv"
IMPOSSIBLE = [
    (lambda bar: barfem.check_bar(bar, case=["roll"]), "case: list in place of text"),
    (lambda bar: barfem.check_bar(bar, mean_stress={}), "mean_stress: dict in place of text"),
    (lambda bar: barfem.check_bar(bar, refine="2"), "refine: str in place of a number"),
    (lambda bar: barfem.change(str(FRONT), {"section.diameter": 24}), "bar: str in place of a bar"),
    (lambda bar: barfem.change(None, {"section.diameter": 24}), "bar: NoneType in place of a bar"),
    (lambda bar: barfem.change(bar, ["section.diameter", 24]), "values: list in place of keys with values"),
    (lambda bar: barfem.change(bar, {5: 24}), "values: dict with keys that are no text in place of keys with values"),
    (lambda bar: barfem.compare(5, ["tube 24x4"]), "bars: int in place of a list"),
    (lambda bar: barfem.compare(bar, "tube 24x4"), "sections: str in place of a list of sections"),
    (lambda bar: barfem.compare(bar, [24.0]), "sections: list with float in it in place of a list of sections"),
    (lambda bar: barfem.compare(bar, ["tube 24x4"], equal=["weight"]), "equal: 'weight'"),
    (lambda bar: barfem.compare(bar, ["tube 24x4"], flats="drop"), "flats: 'drop'"),
    (lambda bar: barfem.compare(bar, ["tube 24x4"], hole=2), "hole: int in place of text"),
    (lambda bar: barfem.place_holes([bar], count=3), "list in place of a path"),
    (lambda bar: barfem.place_holes(bar, count=2.5), "count: float in place of a whole number"),
    (lambda bar: barfem.place_holes(bar, softest_N_per_mm="60"), "softest_N_per_mm: str in place of a number"),
    (lambda bar: barfem.place_holes(bar, hole_mm=float("nan")), "hole_mm: nan in place of a number"),
    (lambda bar: barfem.tolerance(bar, samples=float("nan")), "samples: nan in place of a whole number"),
    (lambda bar: barfem.tolerance(bar, samples=64, seed="a"), "seed: str in place of a whole number"),
    (lambda bar: barfem.tolerance(bar, samples=64, holes="soft"), "holes: str in place of a list"),
    (lambda bar: barfem.tolerance(bar, samples=64, save=5), "save: int in place of a path"),
    (lambda bar: barfem.hole_pairs(COUPE, grip="1.3"), "grip: str in place of a number"),
    (lambda bar: barfem.hole_pairs(COUPE, grip=float("nan")), "grip: nan in place of a number"),
    (lambda bar: barfem.hole_pairs(COUPE, grip=-1.0), "--grip: -1 is no grip"),
    (lambda bar: barfem.inspect_bars(bar, [LOT]), "measured: list in place of a path"),
    (lambda bar: barfem.inspect_bars(bar), "measured: no file is given"),  # once a lot of 0 bars, and nothing wrong
    (lambda bar: barfem.inspect_bars(bar, None), "measured: NoneType in place of a path"),
    (lambda bar: barfem.inspect_bars(bar, LOT, fit="best"), "fit: 'best'"),
    (lambda bar: barfem.explain(None), "key: NoneType in place of text"),
    (lambda bar: barfem.explain("yield_margin", bar), "result: Bar in place of a check's result"),
]


@pytest.mark.parametrize(("asked", "words"), IMPOSSIBLE)
def test_a_value_of_a_type_that_cannot_be_is_refused_and_says_what_would_be_right(asked, words):
    with pytest.raises(barfem.InputError) as refused:
        asked(barfem.read_bar(FRONT))
    assert words in str(refused.value) and "Right would be: " in str(refused.value)


def test_numbers_of_numpy_are_numbers():
    bar = barfem.read_bar(FRONT)
    two = barfem.place_holes(bar, count=np.int64(2), hole_mm=np.float64(12.0))
    assert two.to_json_dict() == barfem.place_holes(bar, count=2, hole_mm=12.0).to_json_dict()


def test_numbers_of_numpy_are_numbers_of_a_bar_file_too():
    """A study's table holds np.int64 and np.float32, np.arange makes them: each is the number that it says."""
    bar = barfem.read_bar(FRONT)
    from_a_table = {
        "section.diameter": np.int64(24),
        "mounts.*.length": np.float32(40.0),
        "travel.direction": np.array([0.0, 0.0, 1.0]),
        "material.stress_relieved": np.bool_(False),
    }
    plain = {
        "section.diameter": 24,
        "mounts.*.length": 40.0,
        "travel.direction": [0.0, 0.0, 1.0],
        "material.stress_relieved": False,
    }
    changed = barfem.change(bar, from_a_table)
    assert changed == barfem.change(bar, plain)
    json.dumps(changed.tables["section"])
    tables = {**bar.tables, "section": {"shape": "round", "diameter": np.int64(24)}}
    assert barfem.bar_from_dict(tables, source=bar.source).section.diameter_mm == 24.0
    with pytest.raises(barfem.InputError, match="nan is not a finite number"):
        barfem.change(bar, {"section.diameter": np.float64("nan")})


@pytest.mark.parametrize("holes", [2, ("B", "C"), ["B"], True])
def test_holes_of_a_car_that_are_no_text_are_refused(holes):
    """A hole called "2" is easily asked for as 2."""
    with pytest.raises(barfem.InputError, match=r"^front: .* is no hole pair\. Right would be: a hole, or LEFT,RIGHT"):
        barfem.check_car(FRONT.parent / "coupe-car.toml", front=holes)


def test_tables_of_a_car_are_not_sent_to_the_reader_of_a_bar():
    for asked in (barfem.check_car, barfem.hole_pairs):
        with pytest.raises(
            barfem.InputError, match=r"^car file: dict in place of a path\. [^.]*the path of a car file\.$"
        ):
            asked({"name": "x"})


def test_rows_are_flat_alike_and_whole(check):
    for rows, least in (("settings", 3), ("places", 30), ("states", 9), ("mount_reactions", 6), ("lives", 9)):
        found = check.records(rows)
        assert len(found) >= least
        assert len({tuple(row) for row in found}) == 1
        assert all(isinstance(value, str | int | float | bool | None) for row in found for value in row.values())
    first = check.records()[0]
    assert first["peak_von_mises_MPa"] == check.settings[0].peak.von_mises_MPa
    assert first["fatigue_life_at_survival_cycles"] == check.settings[0].fatigue.life_at_survival_cycles
    assert first["compliance_torsion"] == check.settings[0].compliance.torsion


def test_the_keys_of_a_row_do_not_depend_on_the_bar(check):
    other = barfem.check_bar(BLOCKS, critical_plane=True)
    assert list(other.records()[0]) == list(check.records()[0])
    assert other.records("critical_planes") and check.records("critical_planes") == []


def test_rows_make_a_data_frame(check):
    pandas = pytest.importorskip("pandas", reason="pandas is not installed")
    frame = pandas.DataFrame(check.records())
    assert list(frame["rate_N_per_mm"].round(1)) == [round(s.rate_N_per_mm, 1) for s in check.settings]


def test_unknown_rows_and_figures_name_the_nearest(check):
    with pytest.raises(barfem.InputError, match='Did you mean "places"'):
        check.records("place")
    with pytest.raises(barfem.InputError, match="haigh-diagram"):
        check.plot("haig")
    with pytest.raises(barfem.InputError, match="narrow"):
        check.plot(size="huge")


@pytest.mark.long
def test_figures_are_shown_and_saved(check, tmp_path):
    assert "bar-at-full-travel" in check.plots
    plot = check.plot("haigh-diagram")
    assert plot._repr_svg_().startswith("<?xml") and "MPa" in plot.caption + plot._repr_svg_()
    for name in ("haigh.svg", "haigh.png"):
        assert plot.save(tmp_path / name).stat().st_size > 5000
    assert (tmp_path / "haigh.svg").read_text(encoding="utf-8") == plot._repr_svg_()
    assert plot.figure().axes
    with pytest.raises(barfem.InputError, match=r"\.svg"):
        plot.save(tmp_path / "haigh.gif")


def test_a_check_travels_with_its_numbers_alone(check):
    check.plot()
    back = pickle.loads(pickle.dumps(check))
    assert back == check and back.records() == check.records()
    with pytest.raises(barfem.InputError, match="numbers alone"):
        back.plot()


def test_a_figure_solves_nothing_again(check, monkeypatch):
    from barfem.check import solved
    from barfem.solve import beam

    def never(*_, **__):
        raise AssertionError("solved again")

    monkeypatch.setattr(beam, "solve_bars", never)
    monkeypatch.setattr(solved, "solve_bar", never)
    monkeypatch.setattr(solved, "recover_each", never)
    again = replace(check)  # without the figures that are made
    assert again.plots == check.plots and again.plot("haigh-diagram")._repr_svg_()


def test_what_has_no_figure_says_what_has(check):
    with pytest.raises(barfem.InputError, match="CheckResult"):
        barfem.read_bar(FRONT).plot()


class Tags(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.seen: set[str] = set()

    def handle_starttag(self, tag, attrs):
        self.seen.add(tag)


def test_display_is_short_and_whatever_the_file_says_is_escaped():
    bar = named("<script>alert(1)</script> & <img src=x onerror=alert(2)>")
    found = barfem.check_bar(bar)
    plan = barfem.place_holes(bar, count=2)
    for html in (bar._repr_html_(), found._repr_html_(), plan._repr_html_()):
        tags = Tags()
        tags.feed(html)
        assert tags.seen <= {
            "div",
            "strong",
            "table",
            "thead",
            "tbody",
            "tr",
            "th",
            "td",
            "span",
            "p",
            "ul",
            "li",
            "pre",
        }
        assert "&lt;script&gt;" in html and len(html) < 8000


def test_display_says_what_may_be_a_slip_beside_the_steel_and_not_in_its_place():
    odd = barfem.change(barfem.read_bar(FRONT), {"links.length_error": 20.0})
    shown = odd._repr_html_()
    assert "look twice" in shown and "length_error +20 mm" in shown
    assert "51CrV4" in shown and "22 mm diameter" in shown


def test_display_says_the_verdict_and_the_units(check):
    for text in (repr(check), check._repr_html_()):
        assert "VERDICT: passes" in text and "N/mm" in text and "MPa" in text
    failing = barfem.check_bar(
        barfem.change(barfem.read_bar(FRONT), {"material.surface": "corroded", "travel.pickup": 40})
    )
    assert "VERDICT: fails" in repr(failing) and "falls short" in failing._repr_html_()
    assert "22 mm diameter" in repr(barfem.read_bar(FRONT)) and "\x1b" not in repr(check)


def test_studies_are_the_commands_own(capsys):
    main(["compare", str(FRONT), "--section", "round 24", "--json", "-"])
    seen = barfem.compare(FRONT, ["round 24"])
    assert json.loads(capsys.readouterr().out) == json.loads(json.dumps(seen.to_json_dict()))
    assert [row["diameter_mm"] for row in seen.records()] == [22.0] * 3 + [24.0] * 3
    main(["holes", str(FRONT), "--count", "3", "--json", "-"])
    plan = barfem.place_holes(FRONT, count=3)
    assert json.loads(capsys.readouterr().out) == json.loads(json.dumps(plan.to_json_dict()))
    assert [hole.from_tip_mm for hole in plan.drilled.left.holes] == [row["from_tip_mm"] for row in plan.records()]


def test_holes_that_do_not_fit_drill_nothing():
    plan = barfem.place_holes(FRONT, count=9)
    with pytest.raises(barfem.InputError, match="9 holes"):
        plan.drilled  # noqa: B018
    # A data frame of many plans says which rows are none to drill.
    assert len(plan.records()) == 9 and not any(row["fits"] for row in plan.records())
    assert plan.nearest is not None and all(row["fits"] for row in plan.nearest.records())


@pytest.mark.long
def test_tolerance_rows():
    found = barfem.tolerance(FRONT, samples=32, holes=["stiff"])
    rates = [row for row in found.records() if row["number"] == "rate_N_per_mm"]
    assert [row["left"] for row in rates] == ["stiff"] and rates[0]["low"] < rates[0]["high"]
    assert {row["number"] for row in found.records("chances")} >= {"rate", "life"}
    assert all(0 <= row["share"] <= 1 for row in found.records("chances"))
    assert {row["key"] for row in found.records("shares")} >= {"E", "diameter"}
    with pytest.raises(barfem.InputError, match="spreads"):
        found.records("nothing")


def test_it_is_typed():
    assert (ROOT / "barfem" / "py.typed").exists()
