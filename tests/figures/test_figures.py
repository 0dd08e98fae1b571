"""The figures: same bytes each time, units on every axis, nothing overlapping, cut off or too small, safe colours."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

pytest.importorskip("matplotlib")
from matplotlib.axes import Axes
from matplotlib.text import Text

from barfem.check.api import check_bar
from barfem.model.material import CyclicConstants
from barfem.model.read import read_bar
from barfem.show.figures import render, style
from barfem.show.figures.catalogue import all_pictures
from barfem.show.figures.data import FigureData
from barfem.show.figures.style import keep_apart
from barfem.show.scene3d import margin_bands, safety_bands
from barfem.strength.fatigue.assess import assess
from barfem.strength.fatigue.criteria import CRITERIA
from tests.often import often

ROOT = Path(__file__).parents[2]
NAMES = ("pickup-rear-tube", "coupe-front-splayed", "pickup-rear-unequal", "coupe-rear-cranked")
SLUGS = (
    "three-views",
    "bar-at-full-travel",
    "stress-along-the-bar",
    "stress-round-the-hot-section",
    "hole-settings",
    "compliance-split",
    "haigh-diagram",
    "stress-life-diagram",
    "damage-along-the-bar",
    "predicted-over-measured",
)


@pytest.fixture(scope="module", params=often(NAMES, {"coupe-front-splayed"}))
def pictures(request):
    data = FigureData(check_bar(ROOT / "geometries" / f"{request.param}.toml"))
    return all_pictures(data)


@pytest.fixture(scope="module")
def wide(pictures):
    """Each picture as drawn at its wide size."""
    return [drawn(picture, "wide") for picture in pictures]


def drawn(picture, size):
    """The figure as drawn, and every visible text with its box in pixels."""
    with style.context(size):
        figure = picture.draw(size)
        figure.draw_without_rendering()
        renderer = figure.canvas.get_renderer()
        hidden = _off_axis(figure)
        texts = [t for t in figure.findobj(Text) if t.get_visible() and t.get_text().strip() and id(t) not in hidden]
        # Of an annotation the text's own box, without its arrow.
        return figure, [(t, Text.get_window_extent(t, renderer)) for t in texts]


def _off_axis(figure) -> set[int]:
    """Ids of the labels of axes that are switched off, and of tick labels beyond the ends of their axis."""
    found = set()
    for axes in figure.axes:
        for axis in (axes.xaxis, axes.yaxis):
            low, high = sorted(axis.get_view_interval())
            slack = 1e-6 * (high - low)
            for tick in (*axis.get_major_ticks(), *axis.get_minor_ticks()):
                if not axes.axison or not low - slack <= tick.get_loc() <= high + slack:
                    found |= {id(tick.label1), id(tick.label2)}
            if not axes.axison:
                found.add(id(axis.label))
    return found


def test_every_picture_is_there(pictures):
    assert tuple(picture.slug for picture in pictures) == SLUGS
    assert all(picture.title and len(picture.caption) > 60 and len(picture.alt) > 40 for picture in pictures)


def test_no_text_overlaps_or_is_cut_off_or_tiny(pictures, wide):
    for picture, found in zip(pictures, wide, strict=True):
        no_overlap(picture, "wide", found)


@pytest.mark.long
@pytest.mark.parametrize("pictures", NAMES[:2], indirect=True)
def test_nor_at_the_size_of_a_telephone(pictures):
    """Of a tube with four holes and of two load cases: tests/figures/test_life_pictures.py has odder bars."""
    for picture in pictures:
        no_overlap(picture, "narrow")


def no_overlap(picture, size, found=None):
    """See that no text overlaps another, is cut off, or is too small to read; the figure. `found`: as it was drawn."""
    figure, texts = found or drawn(picture, size)
    width, height = figure.canvas.get_width_height()
    for text, box in texts:
        place = f"{picture.slug}, {size}: {text.get_text()!r}"
        assert box.x0 >= -1 and box.y0 >= -1 and box.x1 <= width + 1 and box.y1 <= height + 1, place
        assert text.get_fontsize() >= 8.5, place
    for i, (one, a) in enumerate(texts):
        for other, b in texts[i + 1 :]:
            across = min(a.x1, b.x1) - max(a.x0, b.x0)
            up = min(a.y1, b.y1) - max(a.y0, b.y0)
            # Boxes of turned text are wider than the text; a line's box has room above and below its letters.
            turned = one.get_rotation() % 360.0 != 0.0 or other.get_rotation() % 360.0 != 0.0
            if not turned:
                assert across <= 1.0 or up <= 3.5, f"{picture.slug}, {size}: {one.get_text()!r} on {other.get_text()!r}"
    return figure


def test_every_axis_says_its_unit(pictures, wide):
    units = r"(MPa|N/mm|mm|deg|cycles|%|[Cc]ycles of full travel|margin|ratio)"
    for picture, (figure, _) in zip(pictures, wide, strict=True):
        for axes in figure.axes:
            if not isinstance(axes, Axes) or not axes.axison or not axes.lines + axes.patches:
                continue
            titles = [axes.get_xlabel(), axes.get_ylabel(), axes.get_title(loc="left")]
            assert any(re.search(units, text) for text in titles), (picture.slug, titles)


@pytest.mark.parametrize("pictures", NAMES[1:2], indirect=True)
def test_a_file_is_the_same_each_time_described_and_undated(pictures):
    text, again, dots = (render.svg(pictures[3]), render.svg(pictures[3]), render.png(pictures[3]))
    assert text == again and dots == render.png(pictures[3])
    assert "<title>" in text and "<desc>" in text
    assert not re.search(r"20\d\d-\d\d-\d\d|<dc:date>|Matplotlib v", text)


@pytest.mark.parametrize("pictures", NAMES[1:2], indirect=True)
def test_inline_takes_the_page_s_colours(pictures):
    text = render.svg_inline(pictures[2], "wide")
    assert "var(--lead)" in text and style.LEAD not in text and style.INK not in text
    assert 'role="img"' in text and 'aria-label="Line chart' in text
    assert text.startswith("<svg") and text.endswith("</svg>")


@pytest.mark.parametrize("pictures", NAMES[1:2], indirect=True)
def test_whatever_the_user_has_set_in_matplotlib_is_left_alone_and_without_effect(pictures):
    import matplotlib

    plain = render.svg(pictures[4])
    with matplotlib.rc_context({"font.size": 30.0, "axes.facecolor": "red", "svg.hashsalt": "other"}):
        assert render.svg(pictures[4]) == plain
        assert matplotlib.rcParams["font.size"] == 30.0


@pytest.mark.long
def test_names_that_look_like_mathematics_are_names():
    bar = read_bar(ROOT / "geometries" / "pickup-front-solid.toml")
    holes = tuple(
        replace(hole, name=name) for hole, name in zip(bar.left.holes, ("$\\frac{", "<b>&", "\u592a"), strict=True)
    )
    bar = replace(
        bar,
        left=replace(bar.left, holes=holes),
        right=replace(
            bar.right,
            holes=tuple(replace(hole, name=other.name) for hole, other in zip(bar.right.holes, holes, strict=True)),
        ),
    )
    for picture in all_pictures(FigureData(check_bar(bar))):
        assert "<b>" not in render.svg_inline(picture, "wide")


@pytest.mark.parametrize("rule", often(sorted(CRITERIA), {"goodman", "swt"}))
def test_the_haigh_line_is_where_the_verdict_turns(rule):
    """An amplitude a hair below the bold line lasts the target at the survival judged, a hair above does not."""
    from barfem.show.figures import haigh

    bar = read_bar(ROOT / "geometries" / "coupe-rear-cranked.toml")
    invented = CyclicConstants(206_000.0, 2000.0, -0.09, 0.5, -0.6)  # Morrow's rule needs one of these numbers
    bar = replace(bar, steel=replace(bar.steel, cyclic=invented))
    bar = replace(bar, targets=replace(bar.targets, mean_stress=rule))
    data = FigureData(check_bar(bar))
    point = data.endurance[data.by_life]
    for mean in (0.0, 100.0, 400.0):
        allowed = float(haigh._allowed(data, data.by_life)(np.array([mean]))[0])
        for amplitude, expected in ((0.998 * allowed, True), (1.002 * allowed, False)):
            found = assess(
                point.strength,
                amplitude_MPa=amplitude,
                mean_MPa=mean,
                residual_MPa=point.residual_MPa,
                max_von_mises_MPa=min(point.peak_share * (amplitude + mean), point.yield_strength_MPa),
                yield_MPa=point.yield_strength_MPa,
                tensile_MPa=point.tensile_strength_MPa,
                cyclic_yield_MPa=point.cyclic_yield_MPa,
                target_cycles=bar.duty.target_cycles,
                survival=bar.targets.survival,
                rule=point.rule,
            )
            life = np.nan_to_num(found.life_at_survival_cycles)
            assert bool(found.runout_at_survival | (life >= bar.duty.target_cycles)) == expected, (rule, mean)


def test_keep_apart_keeps_apart_in_order_and_within():
    random = np.random.default_rng(1)
    for _ in range(300):
        count = int(random.integers(1, 9))
        places = random.uniform(0.0, 10.0, count).tolist()
        kept = keep_apart(places, 1.0, low=0.5, high=9.5)
        order = np.argsort(places, kind="stable")
        assert min(kept) >= 0.5 - 1e-9 and max(kept) <= 9.5 + 1e-9
        assert np.all(np.diff(np.array(kept)[order]) >= 1.0 - 1e-9)
    assert keep_apart([2.0, 5.0], 1.0, low=0.0, high=9.0) == [2.0, 5.0]


# -- colours ---------------------------------------------------------------------------------------------------------

# Machado, Oliveira, Fernandes (2009), IEEE TVCG 15(6), severity 1.0, on linear RGB; from memory.
MACHADO = {
    "protanopia": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "deuteranopia": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]],
}


def linear(color: str) -> np.ndarray:
    value = np.array([int(color[i : i + 2], 16) for i in (1, 3, 5)]) / 255.0
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def lab(rgb: np.ndarray) -> np.ndarray:
    """CIE L*a*b* (D65) of linear sRGB; IEC 61966-2-1 and CIE 15."""
    xyz = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]) @ rgb
    t = xyz / np.array([0.9505, 1.0, 1.089])
    f = np.where(t > 0.008856, np.cbrt(np.maximum(t, 1e-12)), 7.787 * t + 16.0 / 116.0)
    return np.array([116.0 * f[1] - 16.0, 500.0 * (f[0] - f[1]), 200.0 * (f[1] - f[2])])


def difference(one: str, other: str, matrix=None) -> float:
    """CIE76 colour difference; about 2.3 is just noticeable."""
    a, b = (np.clip(np.array(matrix) @ linear(c), 0.0, 1.0) if matrix else linear(c) for c in (one, other))
    return float(np.linalg.norm(lab(a) - lab(b)))


@pytest.fixture(scope="module")
def bands():
    result = check_bar(ROOT / "geometries" / "pickup-rear-tube.toml")
    return margin_bands(result), safety_bands(result, 0.897)


@pytest.mark.parametrize("sight", [None, *MACHADO])
def test_neighbouring_steps_differ_to_every_eye(bands, sight):
    for scale in bands:
        for one, other in zip(scale.colors, scale.colors[1:], strict=False):
            assert difference(one, other, MACHADO.get(sight)) > 12.0, (sight, one, other)
    lines = (style.LEAD, style.OTHER, style.SHEAR, style.BORE)
    for i, one in enumerate(lines):
        for other in lines[i + 1 :]:
            assert difference(one, other, MACHADO.get(sight)) > 12.0, (sight, one, other)


def test_bands_put_the_target_between_warm_and_cool(bands):
    for scale in bands:
        assert list(scale.edges) == sorted(scale.edges) and len(scale.colors) == len(scale.edges) + 1
        below, above = scale.index(np.array([scale.target - 0.01, scale.target + 0.01]))
        red = [linear(scale.colors[i])[0] - linear(scale.colors[i])[2] for i in (below, above)]
        assert red[0] > 0.1 > red[1] - 0.15
        assert len(scale.words()) == len(scale.colors)


def themes() -> dict[str, dict[str, str]]:
    """The page's named colours, light and dark, from its style sheet."""
    css = (ROOT / "barfem" / "show" / "report" / "report.css").read_text()
    light, dark = re.findall(r":root \{([^}]*--page[^}]*)\}", css)
    found = [dict(re.findall(r"--([\w-]+): (#\w{6})", block)) for block in (light, dark)]
    return {"light": found[0], "dark": {**found[0], **found[1]}}


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_contrast(theme):
    """WCAG 2.1, 1.4.3: 4.5 to 1 for text, on every background that it stands on."""

    def luminance(color: str) -> float:
        return float(np.array([0.2126, 0.7152, 0.0722]) @ linear(color))

    named = themes()[theme]
    pairs = [
        (text, back) for text in ("ink", "muted", "lead", "other", "bore", "shear", "below") for back in ("paper",)
    ]
    pairs += [("ink", "page"), ("muted", "page"), ("ink", "wash"), ("muted", "wash")]
    pairs += [("on-verdict", "passes"), ("on-verdict", "fails")]
    for text, back in pairs:
        one, two = sorted((luminance(named[text]), luminance(named[back])))
        assert (two + 0.05) / (one + 0.05) >= 4.5, (theme, text, back)


def test_light_names_are_the_figures_own_colours():
    named = themes()["light"]
    for name in ("ink", "muted", "rule", "wash", "paper", "lead", "other", "bore", "shear", "below"):
        assert named[name] == getattr(style, name.upper())
