"""The whole study: against first-order propagation by finite differences, repeatable, misses counted."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from barfem.check.api import check_bar
from barfem.model.bar import Bar
from barfem.model.errors import BarfemError, InputError
from barfem.model.material import Scatter
from barfem.model.read import bar_from_dict
from barfem.show.tolerance import print_tolerance
from barfem.study.bands import bands_of
from barfem.study.change import change
from barfem.study.evaluate import evaluate
from barfem.study.sampling import design_of
from barfem.study.sobol import shares_of
from barfem.study.tolerance import tolerance
from barfem.study.tolerance_result import ToleranceResult
from barfem.study.tolerance_work import ToleranceWork, place_names
from tests.model.bar_data import FLAT, changed
from tests.study.once import solved_once
from tests.study.tolerance_data import ROWS_BAR, bands_alone, small_bar, toml_of

__all__ = ["solved_once"]

pytestmark = pytest.mark.usefixtures("solved_once")

TWO_BANDS = {"diameter": 0.1, "mount_stiffness": "15 %"}


def study(bar: Bar, samples: int = 24, **more: Any) -> ToleranceResult:
    return tolerance(bar, samples=samples, **more)


# Key of [tolerances], band, keys of the bar file that make each of its dimensions and their value as drawn.
PROPAGATED: list[tuple[str, Any, list[tuple[str, float]]]] = [
    ("diameter", 0.02, [("section.diameter", 24.0)]),
    ("E", "0.1 %", [("material.E", 206_000.0)]),
    ("straight_length", 0.1, [("bends.rows.1.1", 202.0), ("bends.rows.2.1", 904.0), ("bends.rows.3.1", 202.0)]),
    ("bend_radius", 0.2, [("bends.rows.1.4", 48.0), ("bends.rows.2.4", 48.0)]),
    ("bend_angle", 0.1, [("bends.rows.1.3", 90.0), ("bends.rows.2.3", 90.0)]),
    ("mount_position", 0.2, [("mounts.1.from_middle", -380.0), ("mounts.2.from_middle", 380.0)]),
    ("hole_position", 0.1, [("ends.right.holes.1.from_tip", 20.0), ("ends.left.holes.1.from_tip", 45.0)]),
]


@pytest.mark.long
def test_small_bands_spread_as_first_order_propagation_says() -> None:
    """Gradients by central differences of bars that the reader makes from changed bar files: another way altogether.

    Mounts by `from_middle` move with the developed length there; here they keep their distance from the drawing's
    middle. The left arm is shorter, so that the greatest stress is always on its side. Neither number of this planar
    bar with vertical links changes by turning it about the vertical.
    """
    right, left = ({"holes": [{"name": "1", "from_tip": place}]} for place in (20.0, 45.0))
    bar = small_bar(
        ("ends.right", right), ("ends.left", left), base=ROWS_BAR, **{key: band for key, band, _ in PROPAGATED}
    )
    bands = bands_of(bar)
    names = ("rate_N_per_mm", "peak_MPa")
    gradients = []
    for band in bands:
        keys = next(keys for key, _, keys in PROPAGATED if key == band.key)
        for variable, (key, drawn) in zip(band.variables, keys, strict=True):
            step = 0.5 * (variable.high - variable.low)
            size = step * drawn if band.unit == "%" else step
            pair = []
            for sign in (1.0, -1.0):
                moved = change(bar, {key: drawn + sign * size})
                shift = moved.middle_mm - bar.middle_mm
                if band.key in ("straight_length", "bend_radius", "bend_angle"):
                    pair.append(_mounts_kept(moved, bar, keys.index((key, drawn)), band.key, shift))
                else:
                    pair.append(moved)
            up, down = evaluate(pair)
            gradients.append([(getattr(up, n)[0] - getattr(down, n)[0]) / (2.0 * step) for n in names])
    variables = tuple(v for band in bands for v in band.variables)
    ends = np.cumsum([len(band.variables) for band in bands])
    drawn_one = next(evaluate([bar]))
    design = design_of(samples=64, seed=1, variables=len(variables))
    work = ToleranceWork(bar, variables, design, place_names(bar))
    numbers = [work.columns(chunk) for chunk in range(4)]
    moved = np.concatenate([work.moved(chunk) for chunk in range(4)])
    sigma = np.array([(v.high - v.low) / 6.0 for v in variables])
    for k, name in enumerate(names):
        found = np.concatenate([part.numbers[name][:, 0] for part in numbers])
        gradient = np.array(gradients)[:, k]
        predicted = getattr(drawn_one, name)[0] + moved @ gradient
        assert np.abs(found - predicted).max() < 0.03 * np.std(predicted), name
        # 0.9733 is the variance of a normal distribution cut off at three deviations, over that of a whole one.
        variance = 0.9733 * np.sum((gradient * sigma) ** 2)
        assert np.var(predicted) == pytest.approx(variance, rel=0.25)  # of 64 bars
    result = tolerance(bar, samples=64)  # the same bars, solved above
    spread = result.settings[0].spreads["rate_N_per_mm"]
    gradient = np.array(gradients)[:, 0]
    variance = 0.9733 * np.sum((gradient * sigma) ** 2)
    low, high = spread.deviation_interval
    assert low < np.sqrt(variance) < high
    parts = np.add.reduceat((gradient * sigma) ** 2, np.concatenate([[0], ends[:-1]]))
    shares = result.settings[0].shares["rate_N_per_mm"]
    assert shares.first == pytest.approx(parts / parts.sum(), abs=0.01)
    assert shares.total == pytest.approx(parts / parts.sum(), abs=0.01)


def _mounts_kept(moved: Bar, drawn: Bar, number: int, key: str, shift: float) -> Bar:
    """The same bar with its mounts where the drawing's middle is: right or left of what was changed."""
    # What lies to the right of the middle moves every station to its left: shift is half of what was added.
    share = {"straight_length": [2.0, 1.0, 0.0], "bend_radius": [2.0, 0.0], "bend_angle": [2.0, 0.0]}[key][number]
    mounts = tuple(
        replace(
            mount, station_mm=old.station_mm + share * shift, from_middle_mm=old.from_middle_mm + (share - 1.0) * shift
        )
        for mount, old in zip(moved.mounts, drawn.mounts, strict=True)
    )
    return replace(moved, mounts=mounts)


@pytest.mark.long
def test_the_same_again_and_by_another_seed_another() -> None:
    """That the same bar is solved to the same bits is tested where several processes solve it."""
    bar = small_bar(**TWO_BANDS)
    one, two, other = study(bar), study(bar), study(bar, seed=2)
    assert one.to_json_dict() == two.to_json_dict()
    assert one.settings[0].spreads["rate_N_per_mm"].mean != other.settings[0].spreads["rate_N_per_mm"].mean
    json.dumps(one.to_json_dict(), allow_nan=False)


def test_as_drawn_is_what_check_says() -> None:
    bar = small_bar(**TWO_BANDS)
    setting = check_bar(bar).settings[0]
    found = study(bar).settings[0].spreads
    assert found["rate_N_per_mm"].drawn == pytest.approx(setting.rate_N_per_mm, rel=1e-12)
    assert found["peak_MPa"].drawn == pytest.approx(setting.peak.von_mises_MPa, rel=1e-12)
    assert found["yield_margin"].drawn == pytest.approx(setting.yield_margin, rel=1e-12)


@pytest.mark.long
def test_bars_that_cannot_be_are_counted_as_misses() -> None:
    # A wall of 11 mm with 1.2 mm to both sides, uniform, in a tube of 24 mm: above 12 mm there is no such tube.
    bar = small_bar(
        ("section", {"shape": "tube", "diameter": 24.0, "wall": 11.0, "bend_wall": "uniform"}),
        ("material.bent", "before-hardening"),
        wall={"band": 1.2, "distribution": "uniform"},
        E="1 %",
        rate_band="50 %",
    )
    found = study(bar, 64)
    count = sum(found.unsolved.values())
    assert 0 < count < 20 and "wall" in next(iter(found.unsolved))
    setting = found.settings[0]
    assert setting.spreads["rate_N_per_mm"].count < setting.chances["rate"].of == 64
    missing = setting.chances["rate"].of - setting.spreads["rate_N_per_mm"].count
    assert setting.chances["rate"].misses == missing
    assert all(setting.chances[name].misses >= missing for name in ("yield_margin", "life", "any"))
    # No fit to bars that are not there, and so no shares.
    assert not setting.shares["rate_N_per_mm"].resolved and "could not be made" not in found.solved.no_fit_because


def test_a_life_short_of_the_blocks_is_a_miss_of_life(capsys: pytest.CaptureFixture[str]) -> None:
    """With blocks alone a life is judged in repeats: who falls short of them misses life, and the screen says so."""
    duty = {"blocks": [{"pickup": 30.0, "cycles": 50_000.0}], "repeats": 1000.0}
    bar = small_bar(("duty", duty), ("travel.pickup", 30.0), **TWO_BANDS)
    found = study(bar)
    repeats = check_bar(bar).settings[0].fatigue.duty
    assert repeats is not None and repeats.life_at_survival_repeats is not None
    assert repeats.life_at_survival_repeats < 1000.0
    assert found.settings[0].chances["life"].share == found.any_hole["any"].share == 1.0
    print_tolerance(found)
    text = " ".join(capsys.readouterr().out.split())
    assert "Miss: bars whose life at survival in repeats of the blocks falls short of 1000." in text


def test_nothing_that_varies_or_can_be_solved_is_an_error() -> None:
    with pytest.raises(InputError, match="nothing varies"):
        study(small_bar())
    with pytest.raises(InputError, match="too few"):
        study(small_bar(**TWO_BANDS), 10)
    bar = small_bar(straight_length=[-300.0, -290.0])
    with pytest.raises(BarfemError, match="none of the bars"):
        study(bar, 40)


@pytest.mark.long
def test_misses_are_those_of_the_targets() -> None:
    # The rate goes with E: its band of 1 % is missed where E is off by more, uniform over 4 %: three of four bars.
    bar = small_bar(E={"band": "4 %", "distribution": "uniform"}, rate_band="1 %")
    found = study(bar, 64).settings[0]
    chance = found.chances["rate"]
    assert chance.interval[0] < 0.75 < chance.interval[1]
    assert found.chances["yield_margin"].misses == 0
    assert found.shares["rate_N_per_mm"].total == pytest.approx([1.0], abs=1e-6)


@pytest.mark.long
def test_a_bar_that_fails_its_targets_misses_though_its_rate_is_right() -> None:
    found = study(small_bar(("targets", {"yield_margin": 500.0}), **TWO_BANDS))
    for chances in (found.settings[0].chances, found.any_hole):
        assert chances["rate"].misses == 0 and chances["any"].share == chances["yield_margin"].share == 1.0


@pytest.mark.parametrize(
    ("survival", "scatter", "skin"),
    [
        pytest.param(0.9, None, {}, marks=pytest.mark.long),
        (0.99, Scatter(log10_life_deviation=0.2, exponent=6.0, source="invented"), {}),
        (0.9, None, {"material.peening": "shot"}),  # more load would take the peening: strength scatters at this one
    ],
)
def test_of_bars_whose_life_at_survival_is_the_target_the_rest_breaks(
    survival: float, scatter: Scatter | None, skin: dict[str, Any]
) -> None:
    def scattered(bar: Bar) -> Bar:
        return replace(bar, steel=replace(bar.steel, scatter=scatter))

    given = [("targets", {"survival": survival}), ("travel.pickup", 46.0 if skin else 40.0), *skin.items()]
    life = next(evaluate([scattered(small_bar(*given))])).life_at_survival_cycles[0]
    bar = scattered(small_bar(*given, ("duty", {"target_cycles": float(life)}), E="0.0001 %", diameter=1e-7))
    found = study(bar, 16).settings[0].chances["breaking"]
    assert found.share == pytest.approx(1.0 - survival, rel=1e-4)


@pytest.mark.long
def test_left_and_right_differ_by_what_only_one_side_has() -> None:
    same = study(small_bar(diameter=0.2)).settings[0].mismatch
    # One pickup goes up and the other down, so that links of a bar that is alike on both sides lean otherwise: 0.04 %.
    assert same.level_mm.high == 0.0 and abs(same.force_percent.high - same.force_percent.drawn) < 1e-3
    bar = small_bar(bend_rotation=1.0)
    found = study(bar, 48).settings[0]
    # Arms of 250 - 20 mm from their hole to the middle's axis, half a degree each: 4 mm at the end of the band.
    limit = 2.0 * 230.0 * np.sin(np.radians(0.5))
    assert 0.4 * limit < found.mismatch.level_mm.high < limit
    assert found.mismatch.level_mm.low == pytest.approx(-found.mismatch.level_mm.high, rel=0.2)
    rate = found.spreads["rate_N_per_mm"].drawn
    assert found.mismatch.preload_N.high == pytest.approx(0.5 * rate * found.mismatch.level_mm.high, rel=1e-3)


@pytest.mark.long
def test_a_case_that_the_drawn_bar_does_not_feel_misses_no_band_of_its_rate(capsys: pytest.CaptureFixture[str]) -> None:
    """In parallel travel a symmetric free bar carries nothing: no share of that rate is a band, no margin a number."""
    from barfem.show.tolerance import print_tolerance

    found = study(small_bar(("travel", {"pickup": 15.0, "parallel": 15.0}), E="1 %"), 16)
    roll, parallel = found.settings
    assert parallel.case == "parallel" and parallel.spreads["rate_N_per_mm"].drawn == 0.0
    assert parallel.chances["rate"].misses == parallel.chances["any"].misses == 0
    assert roll.chances["rate"].of == parallel.chances["rate"].of == 16
    print_tolerance(found)
    assert "000 000 000" not in capsys.readouterr().out


def test_shorter_arm_carries_more() -> None:
    bar = small_bar(("ends.left", {"holes": [{"name": "1", "from_tip": 45.0}]}), hole_position=0.1)
    # Moments about the middle are equal: the forces are as the arms, 230 and 205 mm, nearly.
    found = study(bar).settings[0].mismatch.force_percent
    assert found.drawn == pytest.approx(200.0 * (230 - 205) / (230 + 205), rel=0.05)


def test_what_few_bars_do_not_say_is_not_printed_as_if_they_did() -> None:
    """Shares as the raw estimates of eight points, which say nothing: intervals, and why; no claim that they add up."""
    import io

    from barfem.show.tolerance import print_tolerance

    found = study(small_bar(**TWO_BANDS))
    assert found.settings[0].shares["rate_N_per_mm"].resolved
    setting = found.settings[0]
    rng = np.random.default_rng(1)
    vague = shares_of(rng.random(8), rng.random(8), rng.random((8, 2)), seed=1)
    assert not vague.resolved
    poor = replace(setting, shares={**setting.shares, "rate_N_per_mm": vague})
    texts = []
    for result in (found, replace(found, settings=(poor,))):
        stream = io.StringIO()
        print_tolerance(result, stream=stream)
        texts.append(" ".join(stream.getvalue().split()))
    assert "not resolved" not in texts[0] and "by a fit to 24 solved bars. Bands act nearly each by itself" in texts[0]
    assert "Of rate only intervals are given: shares are not resolved with so few bars solved" in texts[1]
    assert "add up to" not in texts[1]
    low, high = (round(100 * end) for end in vague.total_interval[0])
    assert f"({low}-{high})" in texts[1] and f" {round(100 * vague.total[0])} ({low}-{high})" not in texts[1]


@pytest.fixture
def bar_file(tmp_path: Path) -> Path:
    file = tmp_path / "bar.toml"
    file.write_text(toml_of(small_bar(**TWO_BANDS)), encoding="utf-8")
    return file


def test_the_command(bar_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from barfem.cli.main import main

    out = [bar_file.with_suffix(end) for end in (".json", ".png", ".svg", ".jsonl")]
    common = ["tolerance", str(bar_file), "--samples", "40"]
    assert main([*common, "--json", str(out[0]), "--plot", str(out[1]), "--save", str(out[3])]) == 0
    text = capsys.readouterr().out
    assert max(len(line) for line in text.splitlines()) <= 80
    for words in (
        "Rate, N/mm",
        "Yield margin; target 0.25",
        "Life at 90 %",
        "What it comes from",
        "Left against right",
    ):
        assert words in text
    assert "bushing stiffness: ±15 %, 2 of them; the bar file." in text and "Every bar could be made" in text
    data = json.loads(out[0].read_text())
    assert data["settings"][0]["shares"]["rate_N_per_mm"]["bands"][0]["key"] == "diameter"
    assert out[1].read_bytes().startswith(b"\x89PNG")
    assert main([*common, "--plot", str(out[2]), "--save", str(out[3]), "--workers", "1", "--json", "-"]) == 0
    assert json.loads(capsys.readouterr().out) == data
    assert "<svg" in out[2].read_text()


REFUSALS = [
    (["--samples", "3"], "too few"),
    (["--hole", "7"], "no hole"),
    (["--workers", "0"], "workers"),
    (["--plot", "x.pdf"], "picture"),
    (["--save", "BAR"], "input"),
    (["--workers", "2", "--cluster", "tcp://127.0.0.1:1"], "both"),
]


@pytest.mark.parametrize(("options", "message"), REFUSALS)
def test_the_command_refuses(
    options: list[str], message: str, bar_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from barfem.cli.main import main

    given = [str(bar_file) if option == "BAR" else option for option in options]
    assert main(["tolerance", str(bar_file), *(["--samples", "40"] if "--samples" not in given else []), *given]) == 2
    assert message in capsys.readouterr().err


@pytest.mark.long
def test_several_holes_and_cases_keep_within_eighty_columns(capsys: pytest.CaptureFixture[str]) -> None:
    from barfem.show.tolerance import print_tolerance
    from barfem.show.tolerance_picture import tolerance_picture

    bar = bar_from_dict(
        changed(
            ("ends.flat", FLAT),
            ("travel", {"pickup": 15.0, "one_wheel": 20.0, "direction": [0, 0, 1]}),
            ("material.surface", "polished"),
            ("tolerances", bands_alone(strength=[1350, 1600], flat_thickness=0.3, bend_angle=0.5)),
        )
    )
    found = study(bar, 16)
    assert len(found.settings) == 4 and {each.case for each in found.settings} == {"roll", "one-wheel"}
    print_tolerance(found)
    text = capsys.readouterr().out
    assert max(len(line) for line in text.splitlines()) <= 80
    assert "1, one-wheel" in text
    assert "1, one-wheel" in tolerance_picture(found).alt


@pytest.mark.long
def test_too_few_bars_tell_no_share_and_a_case_that_does_not_work_the_bar_has_none(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Sixteen bars of every band tell no share: each may be any, and none is called small. Where no number
    varies, as of a free bar in parallel travel, no band has any. Both are printed and drawn."""
    from barfem.show.figures.render import png
    from barfem.show.tolerance import print_tolerance
    from barfem.show.tolerance_picture import tolerance_picture

    every_band = changed(("ends.holes", [{"name": "1", "from_tip": 20.0}]), ("travel.pickup", 15.0))
    for bar, case in ((bar_from_dict(every_band), "roll"), (small_bar(diameter=0.1), "parallel")):
        found = study(bar, 16, exact=True, case=case)
        print_tolerance(found)
        text = " ".join(capsys.readouterr().out.split())
        told = "16 solved bars are too few for one: any band may have any share" in text
        assert told is (case == "roll") and ("Below 0.5 % of everything" in text) is (case == "parallel")
        assert bool(re.search(r"diameter( \(0-100\)){4}", text)) is (case == "roll")
        picture = tolerance_picture(found)
        assert png(picture) and ("Below: " in picture.caption) is (case == "roll")
