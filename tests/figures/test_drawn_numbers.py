"""What the figures draw is what the result says: lines, bars and marks are read back."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest

from barfem.check.api import check_bar
from barfem.model.read import bar_from_dict, read_bar
from barfem.show.compare_picture import comparison_picture
from barfem.show.figures import along, bar, compliance, settings, sketch, style
from barfem.show.figures.data import FigureData
from barfem.show.figures.picture import Picture
from barfem.study.change import change
from barfem.study.compare import compare
from barfem.study.sections import parse_section
from tests.model.bar_data import changed

ROOT = Path(__file__).parents[2]
BAR = ROOT / "geometries" / "pickup-rear-unequal.toml"


@pytest.fixture(scope="module")
def data() -> FigureData:
    return FigureData(check_bar(BAR))


IN_THE_BORE = {"material.surface": "shot-peened", "material.bore_surface": "as-hardened-scaled"}


def drawn(picture: Picture):
    with style.context("wide"):
        return picture.draw("wide")


def panel(figure, title: str):
    (found,) = [axes for axes in figure.axes if axes.get_title(loc="left").startswith(title)]
    return found


def test_a_worst_place_in_the_bore_is_called_so_where_the_outside_is_coloured():
    """A tube that scales inside and is peened outside: what is seen is better than the number."""
    tube = change(read_bar(ROOT / "geometries" / "pickup-rear-tube.toml"), IN_THE_BORE)
    found = FigureData(check_bar(tube))
    assert found.governs_by_life and found.result.settings[found.by_life].fatigue.surface == "bore"
    labels = [text.get_text() for axes in drawn(bar.picture(found)).axes for text in axes.texts]
    assert sum(label.startswith("safety factor") and label.endswith("in the bore") for label in labels) == 1


def widths(axes) -> list[float]:
    return [patch.get_width() for patch in axes.patches if patch.get_width() != 0.0]


def test_the_line_along_the_bar_has_its_peak_where_the_result_has_it(data):
    axes = panel(drawn(along.picture(data)), "Von Mises stress, MPa")
    peak = data.result.governing_for_stress.peak
    lines = [line for line in axes.lines if line.get_color() == style.LEAD and len(line.get_xdata()) > 10]
    (line,) = lines
    values = line.get_ydata()
    assert max(values) == pytest.approx(peak.von_mises_MPa, rel=1e-6)
    assert line.get_xdata()[int(values.argmax())] == pytest.approx(peak.station_mm, abs=0.6)


def test_the_bars_of_the_hole_settings_are_their_numbers(data):
    figure = drawn(settings.picture(data))
    for title, numbers in {
        "Rate, N/mm": [s.rate_N_per_mm for s in data.result.settings],
        "Peak stress, MPa": [s.peak.von_mises_MPa for s in data.result.settings],
        "Yield margin": [s.yield_margin for s in data.result.settings],
    }.items():
        assert widths(panel(figure, title)) == pytest.approx(numbers), title
    lives = panel(figure, "Life at 90")
    ends = [patch.get_x() + patch.get_width() for patch in lives.patches]
    assert ends == pytest.approx([s.fatigue.life_at_survival_cycles for s in data.result.settings])


def test_shares_of_the_deflection_are_percent_and_make_the_whole(data):
    picture = compliance.picture(data)
    (axes,) = drawn(picture).axes
    rows = len(data.result.settings)
    torsion = [patch.get_width() for patch in axes.patches[:rows]]
    assert torsion == pytest.approx([100.0 * s.compliance.torsion for s in data.result.settings])
    for row in range(rows):
        assert sum(patch.get_width() for patch in axes.patches[row::rows]) == pytest.approx(100.0, abs=0.01)


def test_marks_of_compared_bars_are_their_numbers():
    view = compare([read_bar(BAR)], [parse_section("round 26")]).views[0]
    figure = drawn(comparison_picture(view))
    numbers = {
        "Rate, N/mm": lambda s: s.rate_N_per_mm,
        "Peak stress, MPa": lambda s: s.peak.von_mises_MPa,
        "Yield margin": lambda s: s.yield_margin,
        "Life at 90": lambda s: s.fatigue.life_at_survival_cycles,
    }
    for title, read in numbers.items():
        marks = [
            line for line in panel(figure, title).lines if line.get_marker() in ("o", "s") and len(line.get_xdata())
        ]
        for shape, candidate in zip(("o", "s"), view.candidates, strict=True):
            found = [line.get_xdata()[0] for line in marks if line.get_marker() == shape]
            assert found == pytest.approx([read(s) for s in candidate.result.settings]), title
    # Open where a bar misses its own target, filled where it does not.
    lives = panel(figure, "Life at 90")
    for line in lives.lines:
        if line.get_marker() in ("o", "s") and len(line.get_xdata()):
            missing = line.get_xdata()[0] < view.candidates[0].result.target_cycles
            assert (line.get_markerfacecolor() == style.PAPER) == missing


@pytest.mark.parametrize("size", ["wide", "narrow"])
def test_unequal_arms_have_each_its_length_on_its_own_side(size):
    """Right arm 300 mm, left 240: the view from above wrote 300 once, beside the left arm."""
    points = [[-300, -500, 0], [0, -500, 0], [0, 500, 0], [-240, 500, 0]]
    found = FigureData(check_bar(bar_from_dict(changed(("centreline.points", points)))))
    with style.context(size):
        (axes,) = sketch.picture(found).draw(size).axes
    places = {text.get_text(): text.get_position()[0] for text in axes.texts if text.get_rotation() == 90.0}
    low, high = axes.get_xlim()
    # Seen from above with forward up, the car's left is on the left.
    assert low < places["240"] < 0.0 and 1000.0 < places["300"] < high


def test_long_names_of_holes_do_not_run_into_each_other():
    """Three lines a row, name and load case, stood on the rows above and below."""
    names = ("softest, for gravel and ice", "middle, for mixed surfaces", "stiffest, for dry tarmac")
    holes = [{"name": name, "from_tip": 20.0 + 25.0 * i} for i, name in enumerate(names)]
    found = FigureData(check_bar(bar_from_dict(changed(("ends.holes", holes), ("travel.one_wheel", 30.0)))))
    for picture in (settings.picture(found), compliance.picture(found)):
        assert picture is not None
        for size in ("wide", "narrow"):
            with style.context(size):
                figure = picture.draw(size)
                figure.canvas.draw()
                boxes = [label.get_window_extent() for label in figure.axes[0].get_yticklabels()]
            assert len(boxes) == 6
            assert all(upper.y0 > lower.y1 - 1.0 for upper, lower in pairwise(boxes))
