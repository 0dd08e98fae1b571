"""Pictures of life: every criterion where its formula has it, every hole setting named, damage that is the check's."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

pytest.importorskip("matplotlib")

import itertools

from barfem.check.api import check_bar
from barfem.check.duty_life import damage_along
from barfem.cli.main import main
from barfem.model.read import bar_from_dict
from barfem.show.figures import damage_blocks, labels, style
from barfem.show.figures.catalogue import pictures_of_life
from barfem.show.figures.data import FigureData
from barfem.show.figures.haigh_chart import CyclePoint, HaighChart
from barfem.strength.fatigue.criteria import CRITERIA
from tests.check.bar_files import BUILT, toml
from tests.figures.test_figures import drawn, no_overlap
from tests.model.bar_data import changed
from tests.often import often

BLOCKS = [
    {"pickup": 45.0, "cycles": 300},
    {"pickup": 35.0, "cycles": 4000},
    {"pickup": 12.0, "cycles": 1e7, "ratio": 0.0},
]
FOUR = [{"name": str(i + 1), "from_tip": 20.0 + 22.0 * i, "diameter": 8.0} for i in range(4)]
ONE = [{"name": "the only one of this bar", "from_tip": 40.0, "diameter": 8.0}]

# Name, changes, options: whatever a picture has to bear.
BARS: dict[str, tuple[list[tuple[str, Any]], dict[str, Any]]] = {
    "sixteen": ([("ends.holes", FOUR), ("travel.pickup", 40.0)], {"mixed": True}),
    "one": ([("ends.holes", ONE)], {}),
    "runout": ([("travel.pickup", 4.0)], {}),
    "above yield": ([("travel.pickup", 130.0)], {}),
    "blocks": ([("travel.pickup", 45.0), ("duty", {"blocks": BLOCKS})], {}),
    "blocks above yield": ([("travel.pickup", 130.0), ("duty", {"blocks": [{"pickup": 130.0, "cycles": 10}]})], {}),
    "blocks without harm": ([("duty", {"blocks": [{"pickup": 2.0, "cycles": 1e5}]})], {}),
    "both cases": ([("travel.one_wheel", 40.0), ("duty", {"ratio": 0.0})], {}),
    "peened": ([("material.surface", "shot-peened")], {}),
    "decarburised": ([("material.surface", "ground"), ("material.decarburised_depth", 0.1)], {}),
    "cold bent": ([("material.bent", "after-hardening")], {}),
    "corroded": ([("material.surface", "corroded")], {"mean_stress": "walker"}),
}


@cache
def data_of(name: str) -> FigureData:
    changes, options = BARS[name]
    return FigureData(check_bar(bar_from_dict(changed(*changes, base=BUILT)), **options))


NARROW = {"sixteen", "one", "above yield", "blocks", "both cases"}
"""Bars whose pictures are also drawn at the size of a telephone: many names, few, none, and the widest legend."""


NOT_LONG = {"blocks"}
"""The bar whose pictures are drawn in every run: damage by blocks is in them."""


@pytest.fixture(
    scope="module",
    params=[
        pytest.param((name, size), marks=[] if name in NOT_LONG and size == "wide" else [pytest.mark.long])
        for name in BARS
        for size in ("wide", "narrow")[: 1 + (name in NARROW)]
    ],
)
def each(request):
    """A bar's pictures of life as drawn at a size."""
    name, size = request.param
    data = data_of(name)
    some = pictures_of_life(data)
    return data, size, some, [drawn(picture, size) for picture in some]


@pytest.mark.long
def test_no_text_overlaps_whatever_the_bar(each):
    _, size, pictures, found = each
    for picture, one in zip(pictures, found, strict=True):
        no_overlap(picture, size, one)


def test_every_hole_setting_is_a_point_within_the_axes(each):
    data, _, _, found = each
    settings = len(data.result.settings)
    (figure, _), (lives, _) = found[:2]
    axes = figure.axes[0]
    marked = [line for line in axes.lines if line.get_marker() in ("o", "X")]
    assert len(marked) == settings
    for j, line in enumerate(marked):
        x, y = (float(value[0]) for value in line.get_data())
        assert (x, y) == (
            pytest.approx(data.endurance[j].mean_MPa),
            pytest.approx(data.result.settings[j].fatigue.amplitude_MPa),
        )
        assert axes.get_xlim()[0] <= x <= axes.get_xlim()[1] and axes.get_ylim()[0] <= y <= axes.get_ylim()[1]
        assert (line.get_marker() == "o") == data.reaches_target(j)
    axes = lives.axes[0]
    amplitudes = {round(float(p.assessment.equivalent_amplitude_MPa), 6) for p in data.endurance}
    drawn_at = set()
    for line in axes.lines:
        x, y = (np.atleast_1d(np.asarray(value, float)) for value in line.get_data())
        if len(y) <= 2 and np.ptp(y) == 0.0:
            drawn_at.add(round(float(y[0]), 6))
            assert x.min() >= axes.get_xlim()[0] * 0.999 and x.max() <= axes.get_xlim()[1] * 1.001
            assert axes.get_ylim()[0] < y[0] < axes.get_ylim()[1]
    assert amplitudes <= drawn_at


@pytest.mark.long
def test_sixteen_hole_settings_are_all_named_or_counted():
    data = data_of("sixteen")
    for picture in pictures_of_life(data)[:2]:
        _, texts = drawn(picture, "wide")
        named = [text.get_text() for text, _ in texts if text.get_text().startswith(("hole ", "holes "))]
        count = sum(len(s.split(" ", 1)[1].split(" +")[0].split(", ")) + int(([*s.split(" +"), "0"])[1]) for s in named)
        assert count == 16, named


@pytest.mark.parametrize("mean", [0.0, 150.0, 600.0, 900.0])
def test_each_criterion_is_drawn_where_its_formula_has_it(mean):
    """The amplitude that each textbook formula allows at a mean, solved for by hand; Dowling sec. 9.7, Shigley 6-12."""
    s, su, sy, sf, g = 300.0, 1350.0, 1200.0, 2000.0, 0.613
    chart = HaighChart(
        reversed_MPa=s,
        level="",
        judged="goodman",
        points=(CyclePoint("hole", "1", 0.0, 200.0, True),),
        tensile_MPa=su,
        yield_MPa=sy,
        coefficient_MPa=sf,
        torsion_share=0.64,
    )
    by_hand = {
        "goodman": s * (1.0 - mean / su),
        "gerber": s * (1.0 - (mean / su) ** 2),
        "soderberg": s * (1.0 - mean / sy),
        "morrow": s * (1.0 - mean / sf),
        "swt": 0.5 * (-mean + (mean**2 + 4.0 * s**2) ** 0.5),
        "sines": s * (1.0 - 0.6 * mean / su),  # (1 - 0.64)^0.5 of the mean is normal stress
    }
    rules = chart.rules()
    assert tuple(rules) == tuple(CRITERIA)
    for method, expected in by_hand.items():
        assert chart.line(rules[method], s, np.array([mean]))[0] == pytest.approx(expected, rel=1e-6), method
    a = chart.line(rules["walker"], s, np.array([mean]))[0]
    assert (a + mean) ** (1.0 - g) * a**g == pytest.approx(s, rel=1e-6)


def test_all_criteria_and_yield_are_in_the_picture(each):
    """Where a cycle has a mean stress; where none has one they agree, and the rule that judges stands alone."""
    _, texts = each[3][0]
    named = " | ".join(text.get_text() for text, _ in texts)
    rules = ("Goodman", "Gerber", "Soderberg", "Morrow", "Smith, Watson, Topper", "Walker, gamma 0.61", "Sines")
    assert "yield" in named and sum(word in named for word in rules) in (1, len(rules))
    assert named.count(": judges") == 1


def test_the_band_holds_the_stated_share_of_bars():
    """At 1 % and 99 % survival 10^(+-2.326 s): 8 % of strength with 0.2 of log10 life at exponent 6 (0.768, 1.302)."""
    data = data_of("one")
    figure, _ = drawn(pictures_of_life(data)[1], "wide")
    axes = figure.axes[0]
    band = axes.collections[0].get_paths()[0].vertices
    at = np.isclose(band[:, 0], axes.get_xlim()[0], rtol=1e-9)
    median = float(data.endurance[0].strength.strength_at(axes.get_xlim()[0]))
    assert sorted({round(y / median, 3) for y in band[at, 1]}) == [0.768, 1.302]


class TestDamageAlong:
    @pytest.mark.long
    def test_its_greatest_is_what_the_check_says(self):
        for name in ("blocks", "one", "sixteen", "cold bent", "corroded"):
            data = data_of(name)
            for j, setting in enumerate(data.result.settings):
                station, damage = damage_along(data.solved, j)
                duty, fatigue = setting.fatigue.duty, setting.fatigue
                assert np.all(np.diff(station) >= 0.0)
                if duty is not None:
                    assert damage.max() == pytest.approx(duty.damage_per_repeat, rel=1e-9)
                    assert np.any(np.isclose(station[damage == damage.max()], duty.station_mm))
                    continue
                life = fatigue.life_at_survival_cycles
                share = 0.0 if life is None else data.result.target_cycles / life
                # Regions are ranked by safety factor at the target, points here by damage: the worse may be a hair off.
                assert share * (1.0 - 1e-9) <= damage.max()
                # Beyond a million cycles the line declines slowly, and Miner's sums go on with Haibach's exponent.
                assert life is None or life > 1e6 or damage.max() <= 1.01 * share

    def test_above_yield_it_has_no_number(self):
        data = data_of("above yield")
        assert np.isinf(damage_along(data.solved, 0)[1]).any()


def test_blocks_are_drawn_as_the_result_has_them():
    data = data_of("blocks")
    picture = damage_blocks.picture(data)
    figure, texts = drawn(picture, "wide")
    widths = [patch.get_width() for patch in figure.axes[0].patches]
    setting = min(data.result.settings, key=lambda s: s.fatigue.duty.life_at_survival_repeats)
    damages = [block.damage for block in setting.fatigue.duty.blocks]
    assert widths == pytest.approx([*damages, setting.fatigue.duty.damage_per_repeat])
    named = [text.get_text() for text, _ in texts]
    assert "\u00b145 mm, 300 cycles" in named and "12 mm to 0 mm, 10 000 000 cycles" in named
    assert damage_blocks.picture(data_of("one")) is None


def test_names_are_kept_apart_and_none_is_lost():
    random = np.random.default_rng(3)
    for count in (1, 2, 7, 40):
        with style.context("narrow"):
            canvas = style.new_figure("narrow", height_in=3.0)
            axes = canvas.figure.subplots()
            axes.set_xlim(0.0, 10.0)
            axes.set_ylim(0.0, 10.0)
            points = [
                labels.Named(float(x), float(y), "hole", str(i))
                for i, (x, y) in enumerate(random.uniform(4.0, 4.6, (count, 2)))
            ]
            labels.name_points(canvas, axes, points)
            heights = sorted(text.xyann[1] for text in axes.texts)
            names = [n for text in axes.texts for n in text.get_text().split(" ", 1)[1].split(" +")[0].split(", ")]
            more = sum(int(text.get_text().split(" +")[1]) for text in axes.texts if " +" in text.get_text())
            assert len(names) + more == count
            gap = labels._LINE * canvas.points / (axes.get_window_extent().height * 72.0 / canvas.figure.dpi)
            assert all(high - low >= 0.999 * gap for low, high in itertools.pairwise(heights))


class TestFiles:
    @pytest.fixture
    def bar(self, tmp_path: Path) -> Path:
        path = tmp_path / "bar.toml"
        path.write_text(toml(changed(*BARS["blocks"][0], base=BUILT)), encoding="utf-8")
        return path

    @pytest.mark.long
    def test_check_writes_them(self, bar, tmp_path, capsys):
        """That they are the same each time is tested with those of a report."""
        folder = tmp_path / "a"
        assert main(["check", str(bar), "--plots", str(folder), "--plots-format", "svg"]) in (0, 1)
        assert f"wrote pictures into {folder}" in capsys.readouterr().out
        made = {path.name: path.read_bytes() for path in folder.iterdir()}
        slugs = (
            "damage-along-the-bar",
            "damage-by-block",
            "haigh-diagram",
            "predicted-over-measured",
            "stress-life-diagram",
        )
        assert sorted(made) == [f"{slug}.svg" for slug in slugs]
        assert all(content.startswith(b"<?xml") for content in made.values())

    @pytest.mark.long
    def test_json_on_standard_output_stays_json(self, bar, tmp_path, capsys, unpictured):
        main(["check", str(bar), "--plots", str(tmp_path / "p"), "--json", "-"])
        assert json.loads(capsys.readouterr().out)["name"]
        life = ["--amplitude", "200", "--tensile", "900", "--yield", "700", "--plots", str(tmp_path / "q")]
        assert main(["life", *life, "--json", "-"]) == 0
        assert json.loads(capsys.readouterr().out)["life_cycles"] is None
        assert sorted(path.name for path in (tmp_path / "q").iterdir()) == [
            "haigh-diagram.png",
            "stress-life-diagram.png",
        ]

    def test_never_onto_an_input_nor_into_what_is_no_folder(self, bar, tmp_path, capsys):
        folder = tmp_path / "linked"
        folder.mkdir()
        before = bar.read_bytes()
        (folder / "haigh-diagram.png").symlink_to(bar)
        assert main(["check", str(bar), "--plots", str(folder)]) == 2
        assert "is an input of this run" in capsys.readouterr().err and bar.read_bytes() == before
        for target, words in ((bar, "is a file"), (tmp_path / "no" / "such", "does not exist"), ("", "is empty")):
            for command in (["check", str(bar)], ["life", "--amplitude", "5", "--tensile", "900", "--yield", "700"]):
                assert main([*command, "--plots", str(target)]) == 2
                shown = capsys.readouterr()
                assert words in shown.err and shown.out == ""
        assert sorted(path.name for path in tmp_path.iterdir()) == ["bar.toml", "linked"]

    @pytest.mark.long
    def test_a_folder_that_the_system_refuses_is_a_clear_error(self, tmp_path, capsys, monkeypatch):
        def refuse(self, *args, **kwargs):
            raise PermissionError(13, "Permission denied")

        monkeypatch.setattr(Path, "mkdir", refuse)
        life = ["life", "--amplitude", "5", "--tensile", "900", "--yield", "700", "--plots", str(tmp_path / "new")]
        assert main(life) == 2
        assert "could not be written: Permission denied" in capsys.readouterr().err


LIVES = [
    ["--amplitude", "450", "--mean", "200", "--method", "morrow", "--fatigue-strength-coefficient", "1758",
     "--fatigue-strength-exponent", "-0.0977", "--yield", "1103", "--tensile", "1172"],
    ["--amplitude", "300", "--mean", "-100", "--tensile", "1350", "--yield", "1200", "--endurance", "400"],
    ["--amplitude", "900", "--mean", "500", "--tensile", "1350", "--yield", "1200"],
    ["--amplitude", "0", "--tensile", "1350", "--yield", "1200"],
    ["--amplitude", "0", "--mean", "1200", "--tensile", "1100", "--yield", "1100"],
    ["--amplitude", "500", "--grade", "51CrV4", "--condition", "QT EN 10089", "--surface", "shot-peened"],
    ["--amplitude", "100", "--grade", "51CrV4", "--condition", "QT EN 10089", "--surface", "corroded"],
    ["--amplitude", "100", "--fatigue-strength-coefficient", "1758", "--fatigue-strength-exponent", "-0.0977"],
    ["--amplitude", "1e-9", "--fatigue-strength-coefficient", "1758", "--fatigue-strength-exponent", "-0.03"],
    ["--amplitude", "200", "--tensile", "551", "--yield", "413", "--method", "walker", "--walker-gamma", "0.5",
     "--survival", "0.5"],
]  # fmt: skip


@pytest.mark.parametrize("options", often(LIVES, 1), ids=range(len(LIVES)))
def test_pictures_of_one_life_by_hand(options):
    import argparse

    from barfem.cli.life import add_parser
    from barfem.show.figures.life_plots import life_pictures
    from barfem.strength.fatigue.hand_estimate import estimate
    from barfem.strength.fatigue.hand_inputs import LifeInputs

    parser = argparse.ArgumentParser()
    add_parser(parser.add_subparsers())
    args = parser.parse_args(["life", *options])
    given = {name: getattr(args, name) for name in LifeInputs.__dataclass_fields__}
    found = estimate(LifeInputs(**given), folder=Path.cwd())
    for picture in life_pictures(found):
        for size in ("wide", "narrow") if options is LIVES[0] else ("wide",):
            figure = no_overlap(picture, size)
            axes = figure.axes[0]
            for line in axes.lines:
                if line.get_marker() in ("o", "X"):
                    x, y = (float(np.atleast_1d(value)[0]) for value in line.get_data())
                    assert axes.get_xlim()[0] <= x <= axes.get_xlim()[1]
                    assert axes.get_ylim()[0] <= y <= axes.get_ylim()[1]
