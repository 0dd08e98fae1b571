"""README and DEVELOPERS say what is so: commands, the example bar, keys, columns, layout."""

from __future__ import annotations

import argparse
import importlib
import re
import shlex
import subprocess
import sys
import tomllib
from dataclasses import fields
from pathlib import Path

import pytest

from barfem.check.result import CheckResult, Fatigue, Peak, Place, SettingResult
from barfem.cli.check import EPILOG
from barfem.cli.main import COMMANDS
from barfem.model.read import bar_from_dict
from barfem.model.schema import BarFile, Table

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def blocks(language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```", README, re.DOTALL | re.MULTILINE)


def example() -> str:
    (found,) = re.findall(r"<!-- example: complete -->\n```toml\n(.*?)^```", README, re.DOTALL | re.MULTILINE)
    return found


def test_two_commands_are_marked_for_ci():
    marked = re.findall(r"<!-- ci: (\w+) -->\n```sh\n([^\n]+)\n```", README)
    assert [name for name, _ in marked] == ["install", "test"]
    assert "barfem check geometries/pickup-front-solid.toml" in dict(marked)["install"]
    assert "pytest" in dict(marked)["test"]


def test_the_example_is_a_bar():
    bar = bar_from_dict(tomllib.loads(example()))
    assert bar.section.diameter_mm == 24.0 and len(bar.mounts) == 2 and bar.travel.one_wheel_given


def test_the_other_centrelines_are_bars_too():
    other = tomllib.loads(next(text for text in blocks("toml") if text.startswith("[arms]")))
    base = tomllib.loads(example())
    del base["centreline"]
    for table in ("arms", "bends"):
        bar = bar_from_dict({**base, table: other[table]})
        assert len(bar.centreline.bends) >= 2


def test_the_example_of_the_help_is_a_bar():
    text = EPILOG[EPILOG.index("  format = 1") : EPILOG.index("  # [duty]")]
    data = tomllib.loads(text)
    data["material"]["condition"] = "QT EN 10089"  # the help leaves the condition to the reader
    assert bar_from_dict(data).travel.up_mm == 40.0


def tables(model: type[Table], seen: set[type[Table]]) -> set[type[Table]]:
    """Every table that can stand in a bar file."""
    seen.add(model)
    for field in model.model_fields.values():
        for kind in re.findall(r"\b(\w+Table)\b", str(field.annotation)):
            found = getattr(__import__("barfem.model.schema", fromlist=[kind]), kind)
            if found not in seen:
                tables(found, seen)
    return seen


def test_every_key_of_the_bar_file_is_explained():
    text = "\n".join(blocks("toml"))
    keys = {key for table in tables(BarFile, set()) for key in table.model_fields}
    assert len(keys) > 50
    missing = [key for key in sorted(keys) if not re.search(rf"\b{key}\b", text)]
    assert missing == []


@pytest.mark.parametrize("record", [SettingResult, Peak, Place, Fatigue])
def test_contract_keys_are_in_the_readme(record):
    required = [item.name for item in fields(record) if item.default is item.default_factory]
    missing = [name for name in required if name not in README]
    assert missing == []


def test_every_quantity_of_a_hole_setting_is_in_the_glossary():
    unit = r"_(N_per_mm|Nm_per_deg|Nm|N|MPa|deg|J)$"
    quantities = {
        re.sub(r"_(left|right)$", "", re.sub(unit, "", item.name))
        for record in (SettingResult, Fatigue)
        for item in fields(record)
        if re.search(unit, item.name)
    }
    glossary = DEVELOPERS.replace("_", " ").lower()
    known = {"rate_initial": "rate", "amplitude": "stress amplitude", "mean": "mean stress"} | {
        "residual_stress": "residual stress",
        "strength_at_target": "strength at target",
    }
    missing = [name for name in sorted(quantities) if known.get(name, name).replace("_", " ") not in glossary]
    assert missing == []


@pytest.fixture
def as_installed(tmp_path, monkeypatch):
    """A folder that looks as README's first command leaves it: the repository's, with barfem in .venv/bin."""
    for name in ("geometries", "materials", "notebooks"):
        (tmp_path / name).symlink_to(ROOT / name)
    program = tmp_path / ".venv" / "bin" / "barfem"
    program.parent.mkdir(parents=True)
    program.write_text(f'#!/bin/sh\nPYTHONPATH="{ROOT}" exec "{sys.executable}" -m barfem "$@"\n', encoding="utf-8")
    program.chmod(0o755)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_the_python_example_runs(as_installed, capsys):
    (code,) = blocks("python")
    exec(compile(code, "README.md", "exec"), {})
    out = capsys.readouterr().out
    assert re.search(r"^(True|False) ", out) and " roll " in out
    assert (as_installed / "haigh.svg").exists()


def commands() -> list[str]:
    """README's own commands as they stand there, but those that install and that run the tests."""
    found = [text for text in blocks("sh") if "pip --python" not in text and "pytest" not in text]
    return [line for text in found for line in text.replace("\\\n", " ").splitlines() if line.strip()]


@pytest.mark.skipif(sys.platform == "win32", reason="README's commands are written for a Unix shell")
def test_the_commands_run_as_they_stand(as_installed):
    lines = commands()
    assert len(lines) >= 8
    for line in lines:
        done = subprocess.run(["sh", "-c", line], capture_output=True, text=True, check=False)
        assert done.returncode == 0, f"{line}\n{done.stdout[-2000:]}{done.stderr}"
        assert done.stdout and not done.stderr, line
    made = {"my-bar.toml", "my-bar.html", "figures", "thinner.toml", "even-steps.toml"}
    assert made <= {path.name for path in as_installed.iterdir()}


def test_commands_in_the_text_are_commands():
    for words in [shlex.split(text) for text in re.findall(r"`barfem ([^`]+)`", README.replace("\n", " "))]:
        if words[0] == "COMMAND":
            continue
        parser = argparse.ArgumentParser(exit_on_error=False)
        importlib.import_module(COMMANDS[words[0]][0]).add_parser(parser.add_subparsers())
        if len(words) > 1:
            parser.parse_args(words)
    assert all(re.search(rf"`{name}`", README) for name in COMMANDS)


def test_the_pictures_are_what_barfem_draws(tmp_path):
    from matplotlib.image import imread

    from tests.docs.pictures import FOLDER, PICTURES, make

    assert {path.stem for path in FOLDER.iterdir()} == set(PICTURES)
    for drawn in make(tmp_path):
        kept, now = imread(FOLDER / drawn.name), imread(drawn)
        assert kept.shape == now.shape
        # Fonts and lines differ between versions of matplotlib; another bar, colour or curve moves far more.
        assert abs(kept - now).mean() < 0.02, f"{drawn.name}: python -m tests.docs.pictures draws it anew"


def test_files_that_are_named_exist():
    for text in (README, DEVELOPERS):
        for name in set(re.findall(r"\b((?:barfem|tests|geometries|materials|notebooks)/[\w./-]*\w)", text)):
            if name in ("barfem/data", "tests/regression"):  # in the wheel alone; made with its first test
                continue
            assert (ROOT / name).exists(), f"{name} is named in the documents and does not exist"
    for name in set(re.findall(r"`((?:cli|show|check|model)/\w+\.py)`", DEVELOPERS)):
        assert (ROOT / "barfem" / name).exists() or "NAME" in name


def test_nothing_else_stands_at_the_top():
    allowed = {
        "README.md", "DEVELOPERS.md", "pyproject.toml", "LICENSE", "barfem", "materials", "geometries", "notebooks",
        "tests",
    }  # fmt: skip
    built = {"build", "dist"}
    found = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")} - built
    assert {name for name in found if not name.endswith(".egg-info")} <= allowed


def test_the_verdict_columns_are_explained():
    from tests.cli.made_up import made_up_result

    assert CheckResult is type(made_up_result())
    for column in ("Rate", "Next hole", "Link force", "Peak stress", "Yield margin", "Safety factor", "Life", "Passes"):
        assert f"| {column} |" in README
