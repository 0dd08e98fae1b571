"""A tolerance band and other bars in the report: the commands' own numbers, on the page and as figures."""

from __future__ import annotations

import html
import io
import re
from pathlib import Path

import pytest

from barfem.cli.main import main
from barfem.model.read import read_bar
from barfem.show.compare import print_comparison
from barfem.show.tolerance import print_tolerance
from barfem.study.compare import compare
from barfem.study.sections import parse_section
from barfem.study.tolerance import tolerance
from tests.check.bar_files import without_pictures

ROOT = Path(__file__).parents[2]
BAR = ROOT / "geometries" / "pickup-front-solid.toml"
SAMPLES = 48
# Four bands, so that few bars will do.
FIXED = """
    flat_thickness flat_width straight_length tip_position bend_radius bend_angle bend_rotation hole_position
    mount_position yield_ratio
"""


def section(page: str, slug: str) -> str:
    """One section's text as a reader sees it, figures left out."""
    found = re.search(rf'<section id="{slug}".*?</section>', page, re.DOTALL)
    assert found is not None, slug
    text = re.sub(r"<svg\b.*?</svg>", " ", found.group(0), flags=re.DOTALL)
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", text)).replace("\u00a0", " "))


def numbers(text: str) -> set[str]:
    return set(re.findall(r"\d+(?:\.\d+)?", text))


@pytest.fixture(autouse=True, scope="module")
def _without_figures():
    """Of no section's figures in this file: drawing takes most of a report's time, and they are drawn elsewhere."""
    with without_pictures():
        yield


@pytest.fixture(scope="module")
def bar(tmp_path_factory) -> Path:
    target = tmp_path_factory.mktemp("tolerance") / "bar.toml"
    one_hole = re.sub(r'  \{ name = "(soft|middle)".*\n', "", BAR.read_text())
    assert one_hole.count("{ name =") == 1
    target.write_text(one_hole + "\n[tolerances]\n" + "".join(f"{key} = 0\n" for key in FIXED.split()))
    return target


@pytest.fixture(scope="module")
def kept(bar) -> Path:
    """Bars that barfem tolerance made and kept."""
    target = bar.parent / "bars.jsonl"
    assert main(["tolerance", str(bar), "--samples", str(SAMPLES), "--save", str(target)]) == 0
    return target


@pytest.fixture(scope="module")
def page(bar, kept) -> str:
    target = kept.parent / "page.html"
    before = kept.read_bytes()
    arguments = ["--tolerance", "--samples", str(SAMPLES), "--save", str(kept)]
    arguments += ["--compare", "tube 26x4", "--bent", "before-hardening", "--equal-rate"]
    figures = kept.parent / "figures"
    assert main(["report", str(bar), "--out", str(target), "--figures", str(figures), *arguments]) == 0
    assert kept.read_bytes() == before  # every bar was taken from the file
    drawn = {path.name for path in figures.iterdir()}
    assert {"tolerance.svg", "bars-side-by-side-1.png", "bars-side-by-side-2.svg"} <= drawn
    return target.read_text(encoding="utf-8")


@pytest.mark.long
def test_the_band_is_that_of_the_command(bar, kept, page):
    stream = io.StringIO()
    found = tolerance(read_bar(bar), samples=SAMPLES, save=kept)
    print_tolerance(found, stream=stream)
    text = section(page, "tolerance")
    missing = numbers(stream.getvalue()) - numbers(text)
    assert len(numbers(stream.getvalue())) > 50 and missing == set()
    assert "share of the variance" in text and "Left against right" in text
    # What misses is said on the first screen.
    chance = found.any_hole["any"]
    first = section(page.replace('<section class="first"', '<section id="first"'), "first")
    assert f"{chance.misses} of {chance.of} bars miss a target" in first


@pytest.mark.long
def test_the_comparison_is_that_of_the_command(bar, page):
    stream = io.StringIO()
    found = compare([read_bar(bar)], [parse_section("tube 26x4")], equal=["rate"], bent="before-hardening")
    print_comparison(found, stream=stream)
    text = section(page, "compared-1") + section(page, "compared-2")
    # The head of the printed comparison (targets, version) is the page's own.
    printed = stream.getvalue().split("At equal geometry", 1)[1]
    assert numbers(printed) - numbers(text) == set()
    for fact in found.facts:
        assert fact.replace(",", " ") in text or fact in text


def test_another_bar_file_beside_it(tmp_path):
    target = tmp_path / "page.html"
    other = ROOT / "geometries" / "coupe-front-splayed.toml"
    assert main(["report", str(BAR), "--out", str(target), "--compare", str(other)]) == 0  # the verdict is this bar's
    text = section(target.read_text(encoding="utf-8"), "compared-1")
    assert "front bar of an invented hill-climb coupe" in text


@pytest.mark.long
def test_a_duty_in_blocks_is_compared_in_repeats(tmp_path, capsys):
    bar = tmp_path / "bar.toml"
    text = BAR.read_text().replace(
        "target_cycles = 200000", "blocks = [{ pickup = 60.0, cycles = 50000 }]\nrepeats = 3.0"
    )
    bar.write_text(text)
    assert main(["compare", str(bar), "--section", "round 24"]) in (0, 1)
    printed = capsys.readouterr().out
    assert "Targets: 3 repeats of the blocks" in printed and "Life, repeats" in printed
    assert "Life, cycles" not in printed and "200 000" not in printed
    target = tmp_path / "page.html"
    main(["report", str(bar), "--out", str(target), "--compare", "round 24"])
    page = target.read_text(encoding="utf-8")
    assert "Life, repeats" in section(page, "compared-1")
    shown = section(page.replace('<section class="first"', '<section id="first"'), "first")
    assert "The duty's blocks decide life at hole stiff" in shown and "target 3" in shown
    assert "Life is decided at" not in shown


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["--samples", "64"], "belongs to --tolerance"),
        (["--save", "{folder}/x.jsonl"], "belongs to --tolerance"),
        (["--equal-rate"], "belongs to --compare"),
        (["--bent", "before-hardening"], "belongs to --compare"),
        (["--compare", "square 20"], "is no section"),
        (["--compare", "nowhere.toml"], "nowhere.toml"),
        (["--compare", "tube 26x4", "--compare", "tube 26x14"], "does not fit"),
        (["--tolerance", "--save", "{folder}/page.html"], "--out and --save go to one place"),
        (["--tolerance", "--save", "{bar}"], "input of this run"),
        (["--tolerance", "--samples", "0"], "sample"),
    ],
)
def test_refuses_before_it_writes(tmp_path, capsys, arguments, message):
    bar = tmp_path / "bar.toml"
    bar.write_text(BAR.read_text())
    filled = [argument.format(folder=tmp_path, bar=bar) for argument in arguments]
    assert main(["report", str(bar), "--out", str(tmp_path / "page.html"), *filled]) == 2
    assert message in capsys.readouterr().err
    assert sorted(tmp_path.iterdir()) == [bar]
