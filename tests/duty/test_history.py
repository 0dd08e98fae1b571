"""Reading travel histories: what is accepted, and the message for what is not."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from barfem.model.errors import InputError
from barfem.strength.duty.history import read_history
from tests.duty.examples import history_from_arrays

GOOD = {
    "header with units": "time_s,left_mm,right_mm\n0,1,2\n0.5,-3,4\n",
    "plain header": "time,left,right\n0,1,2\n0.5,-3,4\n",
    "no header": "0,1,2\n0.5,-3,4\n",
    "any order, further columns": "speed,right,left,time\nfast,2,1,0\nslow,4,-3,0.5\n",
    "comments, CRLF, blank tail": "# logger 3\r\n\r\ntime,left,right\r\n0,1,2\r\n0.5,-3,4\r\n\r\n",
    "decimal commas": "time;left;right\n0;1;2\n0,5;-3,0;4\n",
    "tabs": "time\tleft\tright\n0\t1\t2\n0,5\t-3\t4\n",
    "quoted": '"time","left","right"\n"0","1","2"\n0.5,-3,4\n',
    "units in brackets": "Time [s],Left (mm),right mm\n0,1,2\n0.5,-3,4\n",
    "a row of units": "time;left;right;speed\n[s];[mm];[mm];[km/h]\n0;1;2;50\n0,5;-3,0;4;51\n",
    "carriage returns": "time,left,right\r0,1,2\r0.5,-3,4\r",
    "byte-order mark": "\ufefftime,left,right\n0,1,2\n0.5,-3,4\n",
}


@pytest.mark.parametrize("text", GOOD.values(), ids=GOOD.keys())
def test_accepted_layouts_give_the_same_history(tmp_path: Path, text: str) -> None:
    path = tmp_path / "h.csv"
    path.write_text(text, encoding="utf-8", newline="")
    history = read_history(path)
    np.testing.assert_array_equal(history.time_s, [0.0, 0.5])
    np.testing.assert_array_equal(history.left_mm, [1.0, -3.0])
    np.testing.assert_array_equal(history.right_mm, [2.0, 4.0])
    assert history.duration_s == 0.5


BAD = {
    "empty": ("", ("is empty", "time_s, left_mm, right_mm")),
    "header alone": ("time,left,right\n", ("no samples",)),
    "one sample": ("time,left,right\n0,1,2\n", ("1 sample", "at least two")),
    "nan": ("time,left,right\n0,1,2\n1,nan,3\n", ("line 3", "left_mm", "'nan'", "finite")),
    "inf": ("0,1,2\n1,2,inf\n", ("line 2", "right_mm", "'inf'")),
    "nan first": ("nan,1,2\n1,2,3\n", ("line 1", "time_s", "'nan'")),
    "empty cell": ("0,1,2\n1,,3\n", ("line 2", "left_mm", "empty cell")),
    "blank line": ("0,1,2\n\n1,2,3\n", ("line 2", "blank line")),
    "string": ("0,1,2\n1,2,3\n2,abc,3\n", ("line 3", "left_mm", "'abc' is not a number")),
    "time stands": ("0,1,2\n1,2,3\n1,3,4\n", ("line 3", "time_s", "1 s to 1 s")),
    "time goes back": ("0,1,2\n1,2,3\n0.5,3,4\n", ("line 3", "1 s to 0.5 s")),
    "constant": ("0,1,2\n1,1,2\n2,1,2\n", ("constant", "left 1 mm", "right 2 mm")),
    "two columns": ("0,1\n1,2\n", ("2 columns", "three columns")),
    "four columns": ("0,1,2,3\n1,2,3,4\n", ("4 columns", "decimal commas", "semicolons")),
    "a longer line": ("time,left,right\n0,1,2\n1,2,3,4\n", ("line 3", "4 columns where 3")),
    "a shorter line": ("time,left,right\n0,1,2\n1,2\n2,3,4\n", ("line 3", "2 columns where 3")),
    "decimal commas between commas": ("time,left,right\n0,0,1,5,2,5\n", ("line 2", "6 columns", "semicolons")),
    "another unit": ("time_s,left_in,right_in\n0,1,2\n1,2,3\n", ("line 1", "left_mm", "'left_in'", "not converted")),
    "a column twice": ("time,left,left_mm,right\n0,1,1,2\n1,2,2,3\n", ("line 1", "two columns for left_mm")),
    "another unit in brackets": ("time [ms],left,right\n0,1,2\n1,2,3\n", ("line 1", "time_s", "'time [ms]'")),
    "a row of other units": (
        "time,left,right\ns,in,in\n0,1,2\n1,2,3\n",
        ("line 2", "units of s, in, in", "s, mm and mm"),
    ),
    "spaces": ("time left right\n0 1 2\n1 2 3\n", ("line 1", "commas, semicolons or tabs")),
    "spaces and no header": ("0 1 2\n1 2 3\n", ("line 1", "1 column", "commas, semicolons or tabs")),
    "a comma at the end": ("time,left,right\n0,1,2,\n1,2,3,\n", ("line 2", "The last is empty", "','")),
    "a comment amid": ("0,1,2\n# lap 2\n1,2,3\n", ("line 2", "1 column where 3")),
    "the header again": ("time,left,right\n0,1,2\ntime,left,right\n1,2,3\n", ("line 3", "'time' is not a number")),
    "too large": ("0,1,2\n1,1e400,3\n", ("line 2", "left_mm", "'1e400' is too large")),
    "too far": ("0,1,2\n1,-1200,3\n2,0,0\n", ("line 2", "left_mm", "a travel of -1200 mm", "1000 mm")),
    "longer than any log": ("0,1,2\n1e300,2,3\n2e300,3,4\n", ("time_s", "0 to 2e+300 s", "seconds")),
    "not decimal": ("0,1,2\n0x1p3,1,2\n", ("line 2", "time_s", "'0x1p3' is not a number")),
    "a date": ("time,left,right\n2026-01-01T00:00:00,1,2\n", ("line 2", "is not a number")),
    "no table": ("<html>\n<body>\n", ("line 1", "names no column")),
}


@pytest.mark.parametrize(("text", "words"), BAD.values(), ids=BAD.keys())
def test_hostile_files_are_refused_with_file_place_and_remedy(
    tmp_path: Path, text: str, words: tuple[str, ...]
) -> None:
    path = tmp_path / "h.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as error:
        read_history(path)
    message = str(error.value)
    for word in ("h.csv", "Right would be", *words):
        assert word in message


def test_what_is_no_text_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "b.csv").write_bytes(b"\xff\xfe0\x00,\x001\x00")
    for path, word in (
        (tmp_path / "b.csv", "not a text file"),
        (tmp_path, "cannot be read"),
        (tmp_path / "none.csv", "cannot be read"),
    ):
        with pytest.raises(InputError, match=word):
            read_history(path)
    if Path("/dev/zero").exists():  # which has no end
        with pytest.raises(InputError, match="a device or a pipe"):
            read_history("/dev/zero")


def test_lines_are_numbered_across_pieces(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("barfem.strength.duty.history._LINES_AT_ONCE", 10)
    rows = [f"{i},{i % 7},{i % 5}" for i in range(40)]
    path = tmp_path / "h.csv"
    path.write_text("# c\ntime,left,right\n" + "\n".join(rows) + "\n\n", encoding="utf-8")
    history = read_history(path)
    np.testing.assert_array_equal(history.left_mm, np.arange(40) % 7)
    rows[33] = "33,x,1"
    path.write_text("# c\ntime,left,right\n" + "\n".join(rows), encoding="utf-8")
    with pytest.raises(InputError, match="line 36, column left_mm"):
        read_history(path)


def test_a_gap_in_time_is_told() -> None:
    for steps, gaps in ((9.0, 0), (11.0, 1)):
        time = 0.05 * np.arange(50.0)
        time[30:] += 0.05 * (steps - 1.0)
        warnings = history_from_arrays(time_s=time, left_mm=np.sin(time), right_mm=0.0 * time).warnings
        assert len(warnings) == gaps
    assert "1 gap" in warnings[0] and "sample 31" in warnings[0] and "0.55 s" in warnings[0]
    assert "its time is, in hours and km" in warnings[0]


def test_a_log_too_slow_or_too_fast_is_told() -> None:
    for step, words in (
        (0.02, ()),
        (0.5, ("every 0.5 s", "not in seconds")),
        (1e-9, ("every 1e-09 s", "not in seconds")),
    ):
        time = step * np.arange(20)
        warnings = history_from_arrays(time_s=time, left_mm=np.sin(time), right_mm=0.0 * time).warnings
        assert len(warnings) == bool(words) and all(word in warnings[0] for word in words)


@pytest.mark.parametrize(("rate_Hz", "told"), [(25.0, True), (50.0, True), (200.0, False)])
def test_a_log_too_slow_for_what_moves_is_told(rate_Hz: float, told: bool) -> None:
    """Wheel hop of 12 Hz: of a sine of n samples a period the peaks are low by 1 - sin(pi / n) / (pi / n) on average.

    At 50 Hz a bar's damage comes out as 0.6 of what it is, at 25 Hz as 0.4.
    """
    time = np.arange(0.0, 20.0, 1.0 / rate_Hz)
    hop = 20.0 * np.sin(2.0 * np.pi * 12.03 * time)
    sides = {"roll": -hop, "heave": hop, "left alone": 0.0 * hop}
    for right in sides.values():
        warnings = history_from_arrays(time_s=time, left_mm=hop, right_mm=right).warnings
        assert any("large swings" in text for text in warnings) is told
    # A slow roll under it that is far larger decides how many samples there are.
    roll = 200.0 * np.sin(2.0 * np.pi * 0.7 * time)
    assert history_from_arrays(time_s=time, left_mm=roll + hop, right_mm=-roll - hop).warnings == ()
    # Steps and a single stroke are no fast swings.
    for left in (np.sign(roll), time):
        assert history_from_arrays(time_s=time, left_mm=left, right_mm=-left).warnings == ()


def test_the_peaks_lost_between_samples_are_those_of_a_sine() -> None:
    time = np.arange(0.0, 40.0, 0.02)
    hop = np.sin(2.0 * np.pi * 12.03 * time)
    (warning,) = history_from_arrays(time_s=time, left_mm=hop, right_mm=-hop).warnings
    beyond = np.r_[False, (hop[1:-1] > hop[:-2]) & (hop[1:-1] > hop[2:]), False]  # each period's highest sample
    # By hand: 50 / 12.03 = 4.2 samples (of whole ones 4), and 1 - sin(pi / 4.16) / (pi / 4.16) = 9.3 %.
    assert 1.0 - hop[beyond].mean() == pytest.approx(0.093, abs=0.003)
    assert "low by 10 % on average" in warning or "low by 9 % on average" in warning


def test_more_samples_than_memory_holds_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("barfem.strength.duty.history._LINES_AT_ONCE", 10)
    monkeypatch.setattr("barfem.strength.duty.history._MOST_SAMPLES", 30)
    path = tmp_path / "h.csv"
    for count, refused in ((30, False), (31, True)):
        path.write_text("time,left,right\n" + "".join(f"{i},{i % 7},0\n" for i in range(count)), encoding="utf-8")
        if refused:
            with pytest.raises(InputError, match=r"line 32.*more than 30 samples.*parts of it"):
                read_history(path)
        else:
            assert read_history(path).samples == count


@pytest.mark.parametrize("heave", [0.0, 1.0, 20.0])
def test_all_samples_lie_within_the_extremes(heave: float) -> None:
    rng = np.random.default_rng(1)
    roll, bump = rng.normal(size=3_000), heave * rng.normal(size=3_000)
    history = history_from_arrays(time_s=np.arange(3_000), left_mm=bump + roll, right_mm=bump - roll)
    at = history.extremes
    for angle in np.linspace(0.0, 2.0 * np.pi, 500):
        along = history.left_mm * np.cos(angle) + history.right_mm * np.sin(angle)
        assert along[at].max() >= along.max() - 1e-12
    assert at.size < 60


@pytest.mark.parametrize("lag_rad", [0.05, 1.0, 2.5, 3.1])
def test_few_corners_hold_a_history_whose_every_sample_is_an_extreme(lag_rad: float) -> None:
    """A rig that drives both ends by sines with a lag draws an ellipse: pairs of all its samples would never end."""
    time = np.linspace(0.0, 1.0, 5_000, endpoint=False)
    left, right = 3.0 + 20.0 * np.sin(2.0 * np.pi * time), 18.0 * np.sin(2.0 * np.pi * time + lag_rad) - 1.0
    history = history_from_arrays(time_s=time, left_mm=left, right_mm=right)
    a, b = history.corners.T
    assert history.extremes.size > 3_000
    assert a.size <= 32
    for angle in np.linspace(0.0, 2.0 * np.pi, 500):
        # From the ellipse's middle outwards: its own reach, by the sum of its two sines, and the corners'.
        reach = abs(20.0 * np.cos(angle) + 18.0 * np.exp(1j * lag_rad) * np.sin(angle))
        outside = ((a - 3.0) * np.cos(angle) + (b + 1.0) * np.sin(angle)).max() / reach
        assert 1.0 - 1e-5 <= outside <= 1.0 / np.cos(np.pi / 28.0) + 1e-4
    # Nothing is solved beyond either side's own range.
    assert left.min() <= a.min() and a.max() <= left.max()
    assert right.min() <= b.min() and b.max() <= right.max()


def test_of_few_extremes_the_corners_are_the_extremes_themselves() -> None:
    history = history_from_arrays(time_s=np.arange(5), left_mm=[0, 5, 5, -3, 1], right_mm=[0, -4, 4, 1, 0])
    assert sorted(history.corners.tolist()) == [[-3.0, 1.0], [5.0, -4.0], [5.0, 4.0]]


def test_the_extremes_of_one_moving_side_are_its_ends() -> None:
    history = history_from_arrays(time_s=np.arange(4), left_mm=[0, 5, -3, 1], right_mm=[2, 2, 2, 2])
    assert {1, 2} <= set(history.extremes.tolist())


def test_a_history_is_not_written_to() -> None:
    history = history_from_arrays(time_s=[0, 1], left_mm=[0.0, 1.0], right_mm=[0, 0])
    with pytest.raises(ValueError, match="read-only"):
        history.left_mm[0] = 1.0
