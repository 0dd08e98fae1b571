"""The map of hole pairs, read back: names stand clear of points."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from matplotlib.text import Text

from barfem.car.balance import balance
from barfem.car.read import read_car
from barfem.show.car.balance_map import balance_map
from barfem.show.figures import style

COUPE = Path(__file__).parents[2] / "geometries" / "coupe-car.toml"


def mesh(count: int):
    """The coupe's result with its points laid on a mesh of `count` by `count`; the fitted pair is in the middle."""
    found = balance(read_car(str(COUPE)), front=(1, 1), rear=(0, 0))
    (pair,) = found.pairs
    places = [(1.8 + 0.02 * (i + j), 0.5 + 0.003 * (i - j)) for i in range(count) for j in range(count)]
    pairs = [replace(pair, front=(i, i), roll_gradient_deg_per_g=x, front_transfer_share=y)
             for i, (x, y) in enumerate(places)]  # fmt: skip
    middle = pairs[count * count // 2 + count // 2].front
    pairs = [replace(each, front=(each.front[0] % 3, each.front[0] % 3), rear=(0, 0)) if each.front != middle else
             replace(each, front=found.fitted[0], rear=found.fitted[1]) for each in pairs]  # fmt: skip
    return replace(found, pairs=tuple(pairs))


@pytest.mark.parametrize("size", ["wide", "narrow"])
def test_no_name_lies_over_a_point_of_a_dense_mesh(size):
    """Of 144 pairs two are named: their names were kept clear of one another alone, and hid other pairs."""
    with style.context(size):
        figure = balance_map(mesh(12)).draw(size)
        figure.draw_without_rendering()
        (axes,) = figure.axes
        renderer = figure.canvas.get_renderer()
        dots = [axes.transData.transform(line.get_xydata()[0]) for line in axes.lines if len(line.get_xydata()) == 1]
        names = [text for text in axes.texts if "|" in text.get_text()]
        assert len(dots) >= 144 and names
        for name in names:
            box = Text.get_window_extent(name, renderer)
            assert not [dot for dot in dots if box.contains(*dot)], name.get_text()
