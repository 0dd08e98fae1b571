"""The command line around the check: exit status, messages, files written whole or not at all."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest

import barfem.check.api as api
import barfem.study.advice as advice
from barfem.cli.main import COMMANDS, main
from barfem.model.errors import BarfemError
from tests.cli.made_up import made_up_result, made_up_setting
from tests.often import often

ROOT = Path(__file__).parents[2]


@pytest.fixture
def bar_file(tmp_path):
    path = tmp_path / "bar.toml"
    path.write_text('format = 1\nname = "the check is replaced by invented numbers"\n[[mounts]]\n')
    return path


@pytest.fixture
def checked(monkeypatch):
    """Replaces the check by one that returns what `checked["result"]` holds, and records how it was called."""
    box = {"result": made_up_result(), "calls": []}

    def stand_in(bar, *, timing, tell, **asked):
        box["calls"].append({"bar": bar, **asked})
        with timing.stage("solve"):
            if isinstance(box["result"], BaseException):
                raise box["result"]
        return replace(box["result"], solved=SimpleNamespace(bar=None))

    monkeypatch.setattr(api, "check_bar", stand_in)
    monkeypatch.setattr(advice, "advise", lambda bar, **_: ())
    monkeypatch.setattr(advice, "travel_to_spare", lambda bar, **_: None)
    return box


def run_barfem(*arguments: str, **options) -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1"}
    return subprocess.run(
        [sys.executable, "-m", "barfem", *arguments], capture_output=True, text=True, env=environment, **options
    )


@pytest.mark.parametrize(("passes", "status"), [(True, 0), (False, 1)])
def test_exit_status_says_whether_it_passes(checked, bar_file, capsys, passes, status):
    checked["result"] = made_up_result((made_up_setting(passes=passes),))
    assert main(["check", str(bar_file)]) == status
    assert "VERDICT" in capsys.readouterr().out


def test_options_reach_the_check(checked, bar_file):
    options = ["--mixed", "--case", "one-wheel", "--mean-stress", "gerber", "--critical-plane", "--quick"]
    main(["check", str(bar_file), *options])
    main(["check", str(bar_file)])
    first = {"case": "one-wheel", "mixed": True, "mean_stress": "gerber", "critical_plane": True, "quick": True}
    model = {"model": "beam", "refine": 1.0}
    none = {"case": None, "mixed": False, "mean_stress": None, "critical_plane": False, "quick": False}
    assert checked["calls"] == [{"bar": bar_file, **first, **model}, {"bar": bar_file, **none, **model}]


def test_json_goes_to_a_file_and_the_table_to_the_screen(checked, bar_file, tmp_path, capsys):
    target = tmp_path / "result.json"
    assert main(["check", str(bar_file), "--json", str(target)]) == 1
    assert json.loads(target.read_text())["name"] == "invented front bar"
    assert "VERDICT" in capsys.readouterr().out
    assert sorted(p.name for p in tmp_path.iterdir()) == ["bar.toml", "result.json"]
    assert target.stat().st_mode & 0o777 == bar_file.stat().st_mode & 0o777


def test_json_to_standard_output_comes_alone(checked, bar_file, capsys):
    assert main(["check", str(bar_file), "--json", "-", "--timing"]) == 1
    out, err = capsys.readouterr()
    assert json.loads(out)["format"] == 1
    assert set(json.loads(err.splitlines()[-1])) == {"read", "solve", "stress", "fatigue", "total"}


def wrong(capsys, arguments: list[str], *says: str) -> None:
    assert main(arguments) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("barfem: error: ") and "Traceback" not in err
    for words in says:
        assert words in err


def test_an_input_is_never_overwritten(checked, bar_file, tmp_path, capsys):
    before = bar_file.read_text()
    link = tmp_path / "link.json"
    link.symlink_to(bar_file)
    hard = tmp_path / "hard.json"
    os.link(bar_file, hard)
    other = tmp_path / "other.toml"
    other.write_text("format = 1\n")
    for target in (bar_file, link, hard, tmp_path / "." / "bar.toml", other):
        wrong(capsys, ["check", str(bar_file), "--json", str(target)], "--json")
    assert bar_file.read_text() == before and other.read_text() == "format = 1\n"
    assert checked["calls"] == []


def test_where_json_cannot_go_is_said_before_any_work(checked, bar_file, tmp_path, capsys):
    wrong(capsys, ["check", str(bar_file), "--json", str(tmp_path / "none" / "r.json")], "does not exist")
    wrong(capsys, ["check", str(bar_file), "--json", str(tmp_path)], "is a folder")
    wrong(capsys, ["check", str(bar_file), "--json", ""], "empty")
    assert checked["calls"] == []


def test_a_failing_disk_leaves_what_was_there(checked, bar_file, tmp_path, capsys, monkeypatch):
    target = tmp_path / "result.json"
    target.write_text("old")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    assert main(["check", str(bar_file), "--json", str(target)]) == 2
    shown = capsys.readouterr()
    # The table comes all the same: what was solved is not lost for a full disk.
    assert "No space left on device" in shown.err and "VERDICT" in shown.out
    assert target.read_text() == "old"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["bar.toml", "result.json"]


def test_wrong_input_writes_nothing(checked, bar_file, tmp_path, capsys):
    checked["result"] = BarfemError("bar.toml: [section] wall: 30 mm is too thick.")
    target = tmp_path / "result.json"
    wrong(capsys, ["check", str(bar_file), "--json", str(target)], "[section] wall")
    assert not target.exists()


def test_what_is_no_bar_file(tmp_path, capsys, bar_file):
    wrong(capsys, ["check", str(tmp_path)], "is a folder", "bar.toml")
    wrong(capsys, ["check", str(tmp_path / "baar.toml")], "does not exist", "such as", "bar.toml")
    wrong(capsys, ["check", ""], "is empty")
    wrong(capsys, ["check", str(bar_file), "--model", "plate"], "--model", "beam")


def test_usage(capsys):
    wrong(capsys, ["chekc"], "did you mean 'check'?")
    wrong(capsys, ["front.toml"], "barfem check front.toml")
    wrong(capsys, ["zzz"], "the commands are")
    assert main([]) == 2
    assert main(["check"]) == 2
    assert main(["check", "a.toml", "--case", "both"]) == 2
    assert main(["check", "a.toml", "--no-such-option"]) == 2
    capsys.readouterr()
    assert main(["check", "a.toml", "--mix"]) == 2  # no guessing of abbreviations
    assert "no option --mix. Did you mean --mixed?" in capsys.readouterr().err
    wrong(capsys, ["check", "a.toml", "b.toml"], "no use for b.toml")
    assert main(["--version"]) == 0
    assert "barfem 0." in capsys.readouterr().out


def test_a_bug_says_so_without_a_traceback(checked, bar_file, capsys, monkeypatch):
    checked["result"] = RuntimeError("invented")
    monkeypatch.delenv("BARFEM_DEBUG", raising=False)
    assert main(["check", str(bar_file)]) == 70
    err = capsys.readouterr().err
    assert "bug in barfem" in err and "RuntimeError: invented" in err and "Traceback" not in err
    monkeypatch.setenv("BARFEM_DEBUG", "1")
    with pytest.raises(RuntimeError):
        main(["check", str(bar_file)])


def test_an_interrupt_ends_quietly(checked, bar_file, capsys):
    checked["result"] = KeyboardInterrupt()
    assert main(["check", str(bar_file)]) == 130
    assert "Traceback" not in capsys.readouterr().err


@pytest.mark.long
def test_a_reader_that_goes_away_is_no_error():
    script = "import sys; from barfem.show.table import print_result; from tests.cli.made_up import made_up_result\n"
    script += "import barfem.cli.check as c, barfem.cli.main as m\n"
    script += "def run(args):\n    [print_result(made_up_result()) for _ in range(200)]; return 0\n"
    script += "c.run = run; sys.exit(m.main(['check', 'x']))"
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    with subprocess.Popen(
        [sys.executable, "-c", script], stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=environment
    ) as process:
        assert process.stdout is not None and process.stderr is not None
        process.stdout.readline()
        process.stdout.close()
        err = process.stderr.read()
    assert process.returncode == 141
    assert err == b""


def test_help_names_every_command():
    done = run_barfem("--help")
    assert done.returncode == 0
    assert all(name in done.stdout for name in COMMANDS)


@pytest.mark.parametrize("command", often(sorted(COMMANDS), {"check", "new", "package", "tolerance"}))
def test_every_command_has_help_that_fits(command):
    done = run_barfem(command, "--help", timeout=30)
    assert done.returncode == 0, done.stderr
    assert max(map(len, done.stdout.splitlines())) <= (80 if command == "check" else 100)


def test_an_option_before_the_command_shows_the_help_of_all():
    done = run_barfem("-h", "check")
    assert done.returncode == 0 and all(name in done.stdout for name in COMMANDS)


def test_import_budget():
    script = (
        "import sys, barfem, barfem.cli.main; barfem.cli.main.main(['--help']); "
        "heavy = {'scipy', 'skfem', 'matplotlib', 'meshio', 'pint', 'rich', 'plotly', 'pydantic', 'numpy'}; "
        "print('LOADED', sorted(heavy & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, cwd=ROOT, check=True)
    assert done.stdout.splitlines()[-1] == "LOADED []"


@pytest.mark.long
def test_a_check_loads_what_it_needs():
    """No drawing library, no units library for a drawing in inches, no special functions for a few constants."""
    script = (
        "import sys, barfem.cli.main; barfem.cli.main.main(['check', sys.argv[1]]); "
        "heavy = {'matplotlib', 'meshio', 'pint', 'plotly', 'jinja2', 'scipy.special', 'scipy.optimize'}; "
        "print('LOADED', sorted(heavy & set(sys.modules)))"
    )
    for bar in (ROOT / "geometries" / "pickup-front-solid.toml", ROOT / "tests" / "benchmarks" / "inches.toml"):
        done = subprocess.run([sys.executable, "-c", script, str(bar)], capture_output=True, text=True, check=True)
        assert done.stdout.splitlines()[-1] == "LOADED []", bar


@pytest.mark.long
def test_names_are_there_without_being_loaded():
    script = (
        "import sys, barfem; assert 'check_bar' in dir(barfem) and 'read_bar' in dir(barfem); "
        "barfem.read_bar; barfem.check_bar; "
        "heavy = {'matplotlib', 'meshio', 'pint', 'rich', 'plotly'}; print(sorted(heavy & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, cwd=ROOT, check=True)
    assert done.stdout.strip() == "[]"
