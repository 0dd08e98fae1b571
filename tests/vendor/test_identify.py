"""Parameters from measured curves: right within their own standard errors, and never where the data cannot tell."""

from __future__ import annotations

import json
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from barfem.cli.main import main
from barfem.model.bar import Bar
from barfem.model.errors import InputError
from barfem.model.read import bar_from_dict
from barfem.show.identify import rates_table
from barfem.vendor.identify import (
    Found,
    Identified,
    changed_bar,
    identify,
    parameter_of,
    solve_parameters,
    with_parameters,
)
from barfem.vendor.identify_curves import drawn_curves, fit_curve, runs_chance
from barfem.vendor.identify_reading import Curve, read_curves
from tests.model.bar_data import U_BAR, changed

NAMES = ("diameter_mm", "mount_radial_stiffness_N_per_mm")
TRUE = (0.985, 0.8)
NOISE_N = 3.0
UP_DOWN = np.concatenate([np.linspace(-25, 25, 41), np.linspace(25, -25, 41)])
BRANCH = np.repeat([1.0, -1.0], 41)


@pytest.fixture(scope="module")
def soft_bar() -> Bar:
    """Bushings near the ends of a wide bar, soft enough to matter, and holes far apart: rates can tell them."""
    holes = [{"name": "1", "from_tip": 20.0}, {"name": "2", "from_tip": 150.0}]
    return bar_from_dict(
        changed(
            ("ends.holes", holes),
            ("mounts.0.radial_stiffness", 400.0),
            ("mounts.1.radial_stiffness", 400.0),
            ("mounts.0.from_middle", -250.0),
            ("mounts.1.from_middle", 250.0),
            base=U_BAR,
        )
    )


@pytest.fixture(scope="module")
def true_curves(soft_bar):
    """Curves of the bar as it is, without noise: as functions of the travel, solved once."""
    from scipy.interpolate import CubicSpline

    true = with_parameters(soft_bar, NAMES, TRUE)
    blank = [
        Curve("made", "", j, j, case, UP_DOWN, 0 * UP_DOWN, BRANCH, 1, name, name)
        for j, name in enumerate("12")
        for case in ("one-wheel", "roll")
    ]
    blank = [blank[0], blank[2], blank[1]]
    return [
        (curve, CubicSpline(x, f), rate) for curve, (x, f, rate) in zip(blank, drawn_curves(true, blank), strict=True)
    ]


def noisy(true_curves, rng, *, zero=0.4, half_loop=6.0, slack=0.0) -> list[Curve]:
    out = []
    for curve, force, _ in true_curves:
        u = curve.x_mm - zero
        u = np.sign(u) * np.maximum(np.abs(u) - 0.5 * slack, 0.0)
        f = force(u) + half_loop * curve.branch + rng.normal(0.0, NOISE_N, u.shape)
        out.append(replace(curve, file="made", bar="", force_N=f, line=1))
    return out


@pytest.mark.long
def test_a_roll_curve_is_of_both_ends_moving_as_far(soft_bar, true_curves):
    """Bump and droop of the car are not the bench's: the rate of a curve is its own slope whatever they are."""
    roll = [curve for curve in noisy(true_curves, np.random.default_rng(2)) if curve.case == "roll"]
    unlike = replace(soft_bar, travel=replace(soft_bar.travel, up_mm=60.0, down_mm=20.0))
    (alike,), (other,) = (identify(bar, roll, free=("diameter_mm",)).rates for bar in (soft_bar, unlike))
    assert other.rate_N_per_mm == pytest.approx(alike.rate_N_per_mm, rel=1e-6)
    assert other.expected_N_per_mm == pytest.approx(alike.expected_N_per_mm, rel=1e-6)


@pytest.mark.long
def test_parameters_are_found_within_three_standard_errors(soft_bar, true_curves):
    found = identify(soft_bar, noisy(true_curves, np.random.default_rng(2)), free=NAMES)
    assert found.cannot_tell == () and found.warnings == ()
    for name, ratio in zip(NAMES, TRUE, strict=True):
        each = found.found[name]
        assert abs(each.value - ratio * each.nominal) < 3.0 * each.se
        assert each.se < 0.1 * each.nominal


@pytest.mark.long
def test_curves_of_the_holes_exchanged_are_asked_about(soft_bar, true_curves):
    """One diameter cannot make the far hole stiff and the near one soft: each is named with the hole it would be of."""
    one_end_held = [curve for curve in noisy(true_curves, np.random.default_rng(2)) if curve.case == "one-wheel"]
    assert not any("is it of hole" in words for words in identify(soft_bar, one_end_held, free=NAMES[:1]).warnings)
    first, second = one_end_held
    wrong = [
        replace(first, left=1, right=1, hole_left="2", hole_right="2"),
        replace(second, left=0, right=0, hole_left="1", hole_right="1"),
    ]
    said = identify(soft_bar, wrong, free=NAMES[:1]).warnings
    assert any(words.startswith("hole 2,") and words.endswith("is it of hole 1?") for words in said)
    assert any(words.startswith("hole 1,") and words.endswith("is it of hole 2?") for words in said)


def test_a_curve_of_the_right_end_moved_is_asked_about():
    """Hole 1 is 230 mm out on the right and 175 on the left: moved there it is (175 / 230)^2 as stiff, by hand."""
    from scipy.interpolate import CubicSpline

    bar = bar_from_dict(changed(("ends.left", {"holes": [{"name": "1", "from_tip": 75.0}]}), base=U_BAR))
    curve = Curve("made", "", 0, 0, "one-wheel", UP_DOWN, 0 * UP_DOWN, BRANCH, 1, "1", "1")
    ((x, f, _),) = drawn_curves(bar, [curve])
    left = CubicSpline(x, f)(UP_DOWN)
    for ratio, asked in ((0.97, False), ((175.0 / 230.0) ** 2, True)):
        said = identify(bar, [replace(curve, force_N=ratio * left)], free=NAMES[:1]).warnings
        assert any(words.endswith("which was it?") for words in said) is asked


@pytest.mark.parametrize("slack", [0.0, 0.2, 0.4])
def test_a_little_slack_leaves_the_rate_its_standard_error(true_curves, slack):
    """0.2 mm of free travel hardly shows in 3 N of scatter, and left out of the fit takes 1 % off the rate.

    60 repeats: the true rate lies within 1.96 standard errors in about 95 % of them, whatever the slack. (It was left
    out below three of its own standard errors: of 0.2 mm then 22 %.)
    """
    rng = np.random.default_rng(5)
    _, force, rate = true_curves[0]
    drawn = (np.linspace(-40, 40, 33), force(np.linspace(-40, 40, 33)), rate)
    found = [fit_curve(noisy(true_curves, rng, slack=slack)[0], drawn) for _ in range(60)]
    off = np.array([(each.rate_N_per_mm - rate) / each.se_N_per_mm for each in found])
    assert np.mean(np.abs(off) < 1.96) >= 0.8
    assert np.mean(np.abs(off) > 3.0) <= 0.1
    if not slack:  # what may be scatter is not told as slack
        assert sum(each.slack_is_sure for each in found) <= 2


@pytest.mark.parametrize("side", ["right", "left"])
def test_a_link_stiffness_that_is_found_reaches_a_side_of_its_own(side):
    """[links.right] axial_stiffness overrides [links]: written there alone, the right link kept the drawing's."""
    own = {**U_BAR["links"], "axial_stiffness": 8000.0}
    bar = bar_from_dict(changed(("links.axial_stiffness", 16000.0), (f"links.{side}", own), base=U_BAR))
    name = "link_stiffness_N_per_mm"
    found = Identified(bar, (), (name,), {name: Found(0.5 * (n := parameter_of(bar, name)), 1.0, n)}, (), (), (), "")
    written, meant = changed_bar(bar, found), with_parameters(bar, [name], [0.5])
    for one, other in ((written.left_link, meant.left_link), (written.right_link, meant.right_link)):
        assert one.axial_stiffness_N_per_mm == other.axial_stiffness_N_per_mm
    assert getattr(written, f"{side}_link").axial_stiffness_N_per_mm == 4000.0


@pytest.mark.long
def test_curves_of_two_bars_are_not_quietly_one(soft_bar, true_curves):
    curves = noisy(true_curves, np.random.default_rng(2))
    two = [replace(curve, bar=name) for name in ("B-1", "B-2") for curve in curves]
    assert any("B-1, B-2" in words for words in identify(soft_bar, two, free=NAMES).warnings)
    assert identify(soft_bar, two[:3], free=NAMES).warnings == ()


def test_rates_zero_slack_and_loop_of_a_curve(true_curves):
    rng = np.random.default_rng(3)
    _, force, rate = true_curves[0]
    drawn = (np.linspace(-40, 40, 33), force(np.linspace(-40, 40, 33)), rate)
    found = fit_curve(noisy(true_curves, rng)[0], drawn)
    assert found.rate_N_per_mm == pytest.approx(rate, abs=4.0 * found.se_N_per_mm)
    assert found.zero_mm == pytest.approx(0.4, abs=0.15) and found.half_loop_N == pytest.approx(6.0, abs=1.5)
    assert found.slack_mm == 0.0
    loose = fit_curve(noisy(true_curves, rng, slack=3.0)[0], drawn)
    assert loose.slack_mm == pytest.approx(3.0, abs=0.3)
    assert loose.rate_N_per_mm == pytest.approx(rate, abs=4.0 * loose.se_N_per_mm)


@pytest.mark.long
def test_standard_errors_of_a_rate_are_right_over_fifty_seeds(true_curves):
    _, force, rate = true_curves[0]
    drawn = (np.linspace(-40, 40, 33), force(np.linspace(-40, 40, 33)), rate)
    rng = np.random.default_rng(4)
    found = [fit_curve(noisy(true_curves[:1], rng)[0], drawn) for _ in range(50)]
    off = np.array([(each.scale - 1.0) / each.scale_se for each in found])
    assert np.all(np.abs(off) < 3.0)
    assert 0.7 < off.std() < 1.3


def springs(shares):
    """A bar and bushings in series by hand: rate over the drawing's, share s of the travel in the bar."""
    s = np.asarray(shares)
    return lambda logs: (
        1.0 / (s * np.exp(-4.0 * np.atleast_2d(logs)[:, :1]) + (1.0 - s) * np.exp(-np.atleast_2d(logs)[:, 1:]))
    )


def test_joint_estimates_are_within_three_standard_errors_in_99_of_100_seeds():
    model = springs([0.9, 0.75, 0.55])
    true = model(np.log([TRUE]))[0]
    rng = np.random.default_rng(5)
    off = []
    for _ in range(200):
        scales = true + rng.normal(0.0, 0.002, 3)
        found, _, apart, _ = solve_parameters(
            model, NAMES, dict.fromkeys(NAMES, 1.0), scales, np.full(3, 0.002), unlike=3
        )
        assert apart == ()
        off.append([(found[n].value - t) / found[n].se for n, t in zip(NAMES, TRUE, strict=True)])
    off = np.array(off)
    assert np.mean(np.abs(off) < 3.0) >= 0.99
    assert np.all(np.abs(off.std(axis=0) - 1.0) < 0.3)


def test_what_one_hole_cannot_tell_is_said(soft_bar, true_curves):
    found = identify(soft_bar, noisy(true_curves, np.random.default_rng(6))[:1], free=NAMES)
    assert found.found == {}
    (apart,) = found.cannot_tell
    assert set(apart.names) == set(NAMES) and "cannot tell diameter_mm from mount" in apart.words
    # The combination is known all the same; its powers are those near the fit, and the bushings are 20 % off.
    assert apart.value == pytest.approx(float(np.prod(np.power(TRUE, apart.powers))), rel=0.01)


def test_alike_parameters_are_not_two_numbers():
    """Curves whose shares hardly differ: their estimates would correlate almost wholly."""
    model = springs([0.800, 0.805, 0.81])
    found, correlation, apart, _ = solve_parameters(
        model, NAMES, dict.fromkeys(NAMES, 1.0), np.ones(3), np.full(3, 0.002), unlike=3
    )
    assert abs(correlation[0][1]) > 0.98 and found == {} and len(apart) == 1


def test_the_other_case_is_asked_about_and_nothing_fitted(soft_bar, true_curves):
    curves = [replace(curve, case="roll") for curve in noisy(true_curves, np.random.default_rng(7))[:2]]
    found = identify(soft_bar, curves, free=NAMES)
    assert found.ask == "case" and found.found == {} and "other case" in found.warnings[-1]


@pytest.mark.parametrize(
    ("force", "travel", "words"),
    [
        (0.001, 1.0, "; force in kN in a column of N would be so far off"),
        (1.0 / 4.4482216152605, 1.0, "force in lbf in a column of N"),
        (1.0 / 9.80665, 1.0, "; force in kgf in a column of N would be so far off"),
        (1.0, 1.0 / 25.4, "; travel in inches in a column of mm would be so far off"),
        (3.7, 1.0, "times the computed one: no bar near the drawing has it. Which unit"),
    ],
)
def test_a_rate_of_another_unit_is_asked_about_and_nothing_fitted(soft_bar, true_curves, force, travel, words):
    """Nobody draws one bar and gets another of a third or three times its rate: rates go with diameter^4.

    The factors are those of the units themselves (1 lbf = 4.44822 N, 1 kgf = 9.80665 N, 1 in = 25.4 mm).
    """
    curves = [
        replace(curve, file="rig.csv", force_N=force * curve.force_N, x_mm=travel * curve.x_mm)
        for curve in noisy(true_curves, np.random.default_rng(7))
    ]
    found = identify(soft_bar, curves, free=NAMES)
    assert found.ask == "unit" and found.found == {} and found.cannot_tell == ()
    assert found.warnings[-1].startswith("rig.csv, hole 1, one end held: the rate is ")
    assert words in found.warnings[-1]


def test_travel_beyond_the_links_is_named_with_its_file_and_line(soft_bar, true_curves):
    """Inches times 25.4 once too often, for one: what cannot be is the curve, not the bar file."""
    (curve,) = noisy(true_curves, np.random.default_rng(8))[:1]
    far = [replace(curve, x_mm=25.4 * curve.x_mm)]
    with pytest.raises(InputError, match=r"cannot follow a travel of .* mm") as refused:
        identify(soft_bar, far, free=NAMES)
    assert refused.value.where == f"line {curve.line}" and refused.value.file == curve.file


def test_residuals_with_a_pattern_are_told():
    x = np.linspace(-1.0, 1.0, 60)
    assert runs_chance(x**2 - 0.3) < 1e-6
    assert runs_chance(np.random.default_rng(1).normal(size=60)) > 0.01


GOOD = "# units = mm, N ; case = one_end_held ; hole = 1\nx_mm,force_N\n" + "".join(
    f"{x},{20 * x}\n" for x in range(-5, 6)
)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("# units = mm, N ;", "#", 'no "units"'),
        ("mm, N", "furlong, N", "units = furlong"),
        ("case = one_end_held", "", "no case is given"),
        ("one_end_held", "sideways", "'sideways' is no case"),
        ("; hole = 1", "", "which hole"),
        ("hole = 1", "hole = 7", "'7' is no hole"),
        ("force_N", "kraft", "force_N missing"),
        ("-5,-100", "-5,nan", "line 3, column force_N"),
        ("-5,-100", '"-5,5",100', "decimal comma"),
        ("-5,-100", "-5,1e308", "line 3, column force_N: 1e+308 N is no bar's"),
        ("-5,-100", "-5e9,-100", "line 3, column x_mm: -5e+09 mm is no bar's"),
        ("".join(GOOD.splitlines(keepends=True)[3:]), "", "1 point over 0 mm and 0 N"),
        # Two curves below one another, each with its header: the second would be taken for the first one's hole.
        ("0,0\n", "# hole = 2\n0,0\n", "hole = '1' on line 1 and '2' on line 8"),
        ("0,0\n", "# case = roll\n0,0\n", "case = 'one_end_held' on line 1 and 'roll' on line 8"),
    ],
)
def test_bad_curves_are_refused(soft_bar, tmp_path, old, new, message):
    path = tmp_path / "curves.csv"
    path.write_text(GOOD.replace(old, new), encoding="utf-8")
    with pytest.raises(InputError, match=r"curves\.csv") as refused:
        read_curves(path, soft_bar)
    assert message in str(refused.value)


def test_a_curve_without_force_is_refused(soft_bar, tmp_path):
    """A load cell that was not connected: a row of zeros has no rate."""
    path = tmp_path / "curves.csv"
    path.write_text(
        "# units = mm, N ; case = one_end_held ; hole = 1\nx_mm,force_N\n" + "".join(f"{x},0\n" for x in range(-5, 6)),
        encoding="utf-8",
    )
    with pytest.raises(InputError, match=r"line 3: hole 1, one end held: 11 points over 10 mm and 0 N\."):
        read_curves(path, soft_bar)


def test_the_command_finds_writes_and_prints(soft_bar, true_curves, tmp_path, capsys):
    import tomlkit

    bar_path, path, out = tmp_path / "bar.toml", tmp_path / "curves.csv", tmp_path / "found.json"
    bar_path.write_text(tomlkit.dumps(json.loads(json.dumps(dict(soft_bar.tables)))), encoding="utf-8")
    lines = ["# units = mm, N", "x_mm,force_N,hole_left,hole_right,case,branch"]
    for curve in noisy(true_curves, np.random.default_rng(8)):
        name = soft_bar.left.holes[curve.left].name
        case = "roll" if curve.case == "roll" else "one_end_held"
        for x, f, b in zip(curve.x_mm, curve.force_N, curve.branch, strict=True):
            lines.append(f"{x:.3f},{f:.3f},{name},{name},{case},{'up' if b > 0 else 'down'}")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    new = tmp_path / "new.toml"
    assert main(["identify", str(bar_path), str(path), "--json", str(out), "--write", str(new)]) == 0
    data = json.loads(out.read_text(encoding="utf-8"))
    assert data["identified"]["diameter_mm"]["value"] == pytest.approx(24.0 * TRUE[0], rel=0.01)
    printed = capsys.readouterr().out
    assert printed.splitlines()[-2].startswith("ANSWER: diameter ")
    assert "All that is not free is taken as drawn" in printed  # what ± leaves out is more than ± itself
    text = new.read_text(encoding="utf-8")
    assert "Measured, found by barfem identify" in text and main(["bends", str(new)]) == 0


def test_a_zero_that_rounds_to_nothing_has_no_minus() -> None:
    rate = SimpleNamespace(
        curve=SimpleNamespace(words="hole 1", x_mm=(0.0, 1.0)),
        rate_N_per_mm=50.0, se_N_per_mm=0.1, expected_N_per_mm=50.0, zero_mm=-0.004, slack_mm=0.0, half_loop_N=0.0,
    )  # fmt: skip
    shown = rates_table(SimpleNamespace(rates=(rate,)))
    assert "+0.00" in [cell.text for cell in shown.rows[0]]
