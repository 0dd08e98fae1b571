"""Pictures of a travel history: every cycle is in them, and the damage is the result's."""

from __future__ import annotations

import json

import numpy as np
import pytest

pytest.importorskip("matplotlib")

from barfem.check.history_life import HistoryLives, history_lives
from barfem.cli.main import main
from barfem.model.read import bar_from_dict
from barfem.show.figures.history_plots import LEAST, history_pictures
from barfem.solve.beam import HoleSetting
from tests.check.bar_files import BUILT, toml
from tests.duty.examples import history_from_arrays
from tests.figures.test_figures import drawn, no_overlap
from tests.often import often

# Peak travel in mm: below the endurance limit, above it, above yield.
PEAKS = {"mild": 3.0, "hard": 45.0, "above yield": 120.0}


def travel(peak: float):
    random = np.random.default_rng(8)
    time = np.arange(4000) / 100.0
    smooth = np.convolve(random.normal(size=(4060)), np.hanning(60), "valid")[:4000]
    left = peak * smooth / np.abs(smooth).max()
    return time, left, -0.8 * left


@pytest.fixture(scope="module", params=often(PEAKS, {"mild"}))
def found(request):
    time, left, right = travel(PEAKS[request.param])
    bar = bar_from_dict(BUILT)
    history = history_from_arrays(time_s=time, left_mm=left, right_mm=right)
    return HistoryLives(bar, history, tuple(history_lives(bar, history, (HoleSetting(2, 2),))))


def test_cycles_and_damage_are_the_result_s(found):
    ((life, cycles),) = found.counted
    assert cycles.count.sum() == pytest.approx(life.cycles_counted)
    assert cycles.amplitude_MPa.max() == pytest.approx(life.largest_amplitude_MPa)
    if life.damage_per_repeat is None:
        assert np.all(np.isnan(cycles.damage)) and life.reason
    else:
        assert cycles.damage.sum() == pytest.approx(life.damage_per_repeat, rel=1e-9, abs=1e-15)


@pytest.mark.parametrize("size", ["wide", "narrow"])
def test_no_text_overlaps(found, size):
    for picture in history_pictures(found):
        no_overlap(picture, size)


def test_each_class_has_its_cycles_and_its_share(found):
    ((life, cycles),) = found.counted
    figure, _ = drawn(history_pictures(found)[0], "wide")
    counts, shares = figure.axes
    edges = np.linspace(0.0, 1.02 * cycles.amplitude_MPa.max(), 25)
    tops = [patch.get_y() + patch.get_height() for patch in counts.patches]
    for top, low, high in zip(tops, edges[:-1], edges[1:], strict=True):
        number = cycles.count[(cycles.amplitude_MPa >= low) & (cycles.amplitude_MPa < high)].sum()
        assert top == pytest.approx(max(number, LEAST))
    total = sum(patch.get_height() for patch in shares.patches)
    assert total == pytest.approx(100.0 if life.damage_per_repeat else 0.0)


def test_the_spectrum_is_all_cycles_until_life_is_used_up(found):
    ((life, cycles),) = found.counted
    figure, _ = drawn(history_pictures(found)[1], "wide")
    (steps,) = [line for line in figure.axes[0].lines if line.get_label().startswith("spectrum")]
    many, amplitude = (np.asarray(value, float) for value in steps.get_data())
    assert np.all(np.diff(amplitude) <= 0.0) and np.all(np.diff(many) > 0.0)
    above = cycles.equivalent_MPa >= amplitude[-1]
    repeats = life.life_at_survival_repeats or 1.0
    assert many[-1] == pytest.approx(repeats * cycles.count[above].sum())


@pytest.mark.long
def test_the_command_writes_them(tmp_path, capsys):
    time, left, right = travel(45.0)
    rows = "\n".join(f"{a:.4f},{b:.4f},{c:.4f}" for a, b, c in zip(time, left, right, strict=True))
    (tmp_path / "stage.csv").write_text(f"time_s,left_mm,right_mm\n{rows}\n", encoding="utf-8")
    (tmp_path / "bar.toml").write_text(toml(BUILT), encoding="utf-8")
    made = []
    for name in ("a", "b"):
        call = ["duty", str(tmp_path / "bar.toml"), "--history", str(tmp_path / "stage.csv"), "--hole", "3"]
        assert main([*call, "--plots", str(tmp_path / name), "--json", "-"]) == 0
        assert json.loads(capsys.readouterr().out)["settings"]
        made.append({path.name: path.read_bytes() for path in (tmp_path / name).iterdir()})
    assert made[0] == made[1]
    assert sorted(made[0]) == ["damage-by-amplitude.png", "spectrum-on-the-stress-life-line.png"]
    (tmp_path / "a" / "damage-by-amplitude.png").unlink()
    (tmp_path / "a" / "damage-by-amplitude.png").symlink_to(tmp_path / "stage.csv")
    before = (tmp_path / "stage.csv").read_bytes()
    assert main([*call, "--plots", str(tmp_path / "a")]) == 2
    assert "is an input of this run" in capsys.readouterr().err
    assert (tmp_path / "stage.csv").read_bytes() == before
