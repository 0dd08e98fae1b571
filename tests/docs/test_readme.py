"""README, DEVELOPERS and the README of each folder say what is so: commands, the example bar, keys, layout."""

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

import barfem
from barfem.check.fatigue import Fatigue
from barfem.check.result import Place, SettingResult
from barfem.check.setting_records import Peak
from barfem.cli.main import COMMANDS, main
from barfem.model.read import bar_from_dict
from barfem.model.schema import BarFile, Table

ROOT = Path(__file__).parents[2]
README, DEVELOPERS, BAR_FILE, STEELS, PYTHON = (
    (ROOT / name).read_text(encoding="utf-8")
    for name in ("README.md", "DEVELOPERS.md", "geometries/README.md", "materials/README.md", "notebooks/README.md")
)
FOR_USERS = (README, BAR_FILE, STEELS, PYTHON)


def blocks(language: str, text: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```", text, re.DOTALL | re.MULTILINE)


def example(name: str, text: str) -> str:
    (found,) = re.findall(rf"<!-- example: {name} -->\n```toml\n(.*?)^```", text, re.DOTALL | re.MULTILINE)
    return found


def test_readme_is_short():
    assert len(README.splitlines()) <= 160


def test_two_commands_are_marked_for_ci():
    marked = re.findall(r"<!-- ci: (\w+) -->\n```sh\n([^\n]+)\n```", README)
    assert [name for name, _ in marked] == ["install", "test"]
    assert "barfem check geometries/pickup-front-solid.toml" in dict(marked)["install"]
    assert "pytest" in dict(marked)["test"]


def test_the_example_is_a_bar():
    bar = bar_from_dict(tomllib.loads(example("complete", BAR_FILE)))
    assert bar.section.diameter_mm == 24.0 and len(bar.mounts) == 2 and bar.travel.one_wheel_given


def test_the_other_centrelines_are_bars_too():
    other = tomllib.loads(next(text for text in blocks("toml", BAR_FILE) if text.startswith("[arms]")))
    base = tomllib.loads(example("complete", BAR_FILE))
    del base["centreline"]
    for table in ("arms", "bends"):
        bar = bar_from_dict({**base, table: other[table]})
        assert len(bar.centreline.bends) >= 2


def test_the_steel_is_a_steel_and_judges_a_bar(tmp_path):
    (tmp_path / "my-steel.toml").write_text(example("steel", STEELS), encoding="utf-8")
    data = tomllib.loads(example("complete", BAR_FILE))
    data["material"] = {"grade": "my-steel", "condition": "QT 45 HRC"}
    steel = bar_from_dict(data, source=str(tmp_path / "bar.toml")).steel
    assert (steel.yield_strength_MPa, steel.tensile_strength_MPa) == (1300, 1450)


@pytest.mark.parametrize(
    ("folder", "text", "ending"), [("geometries", BAR_FILE, "toml"), ("notebooks", PYTHON, "ipynb")]
)
def test_every_file_of_a_folder_is_named_in_its_readme(folder, text, ending):
    named = set(re.findall(rf"^\| `([\w-]+\.{ending})` \|", text, re.MULTILINE))
    assert named == {path.name for path in (ROOT / folder).glob(f"*.{ending}")}


def test_links_between_the_documents_lead_somewhere():
    for folder, text in zip(("", "geometries", "materials", "notebooks"), FOR_USERS, strict=True):
        for name in re.findall(r"\]\(([^)#:]+)\)", text):
            assert (ROOT / folder / name).exists(), name


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
    text = "\n".join(blocks("toml", BAR_FILE))
    keys = {key for table in tables(BarFile, set()) for key in table.model_fields}
    assert len(keys) > 50
    missing = [key for key in sorted(keys) if not re.search(rf"\b{key}\b", text)]
    assert missing == []


def test_every_key_of_the_car_file_is_explained_and_its_example_is_read(tmp_path):
    import barfem.car.schema as schema
    from barfem.car.read import read_car

    text = example("car", BAR_FILE)
    tables_of_cars = [each for each in vars(schema).values() if isinstance(each, type) and issubclass(each, Table)]
    keys = {key for table in tables_of_cars for key in table.model_fields}
    assert len(keys) > 60
    assert [key for key in sorted(keys) if not re.search(rf"\b{key}\b", BAR_FILE)] == []
    (tmp_path / "car.toml").write_text(text, encoding="utf-8")
    (tmp_path / "pickup-front-solid.toml").write_bytes((ROOT / "geometries/pickup-front-solid.toml").read_bytes())
    assert read_car(tmp_path / "car.toml").front.bar.bar is not None


@pytest.mark.parametrize("record", [SettingResult, Peak, Place, Fatigue])
def test_contract_keys_are_in_the_documents(record):
    required = [item.name for item in fields(record) if item.default is item.default_factory]
    missing = [name for name in required if name not in PYTHON]
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
    (code,) = blocks("python", PYTHON)
    exec(compile(code, "notebooks/README.md", "exec"), {})
    out = capsys.readouterr().out
    assert re.search(r"^(True|False) ", out) and " roll " in out
    assert (as_installed / "haigh.svg").exists()


def commands() -> list[str]:
    """README's own commands as they stand there, but those that install and that run the tests."""
    found = [text for text in blocks("sh", README) if "pip --python" not in text and "pytest" not in text]
    return [line for text in found for line in text.replace("\\\n", " ").splitlines() if line.strip()]


@pytest.mark.skipif(sys.platform == "win32", reason="README's commands are written for a Unix shell")
def test_the_commands_run_as_they_stand(as_installed, capsys, unpictured):
    """The first through a shell, the others in this process; that of tolerances with few bars."""
    lines = commands()
    assert len(lines) >= 8
    for number, line in enumerate(lines):
        if number == 0:
            done = subprocess.run(["sh", "-c", line], capture_output=True, text=True, check=False)
            status, out, err = done.returncode, done.stdout, done.stderr
        else:
            program, *words = shlex.split(line)
            assert program == ".venv/bin/barfem" and not set("|&;<>$*") & set(line)
            status = main(["16" if words[i - 1] == "--samples" else word for i, word in enumerate(words)])
            out, err = capsys.readouterr()
        assert status == 0, f"{line}\n{out[-2000:]}{err}"
        # On a busy machine long work tells how far it is.
        assert out and not [text for text in err.splitlines() if not re.match(r"barfem: \d+ of \d+ ", text)], line
    made = {"my-bar.toml", "my-bar.html", "figures", "thinner.toml", "even-steps.toml"}
    assert made <= {path.name for path in as_installed.iterdir()}


def test_commands_in_the_text_are_commands():
    text = "\n\n".join(re.sub(r"```.*?```", "", text, flags=re.DOTALL) for text in FOR_USERS).replace("\n", " ")
    for words in [shlex.split(text) for text in re.findall(r"`barfem ([^`]+)`", text)]:
        if words[0] == "COMMAND" or {"--version", "--help"} & set(words):
            continue
        parser = argparse.ArgumentParser(exit_on_error=False)
        importlib.import_module(COMMANDS[words[0]][0]).add_parser(parser.add_subparsers())
        if len(words) > 1:
            parser.parse_args(words)
    assert all(re.search(rf"^\| `{name}` \|", README, re.MULTILINE) for name in COMMANDS)


@pytest.mark.long
def test_the_pictures_are_what_barfem_draws(tmp_path):
    from matplotlib.image import imread

    from tests.docs.pictures import FOLDER, PICTURES, make

    assert {path.stem for path in FOLDER.iterdir()} == set(PICTURES)
    for drawn in make(tmp_path):
        kept, now = imread(FOLDER / drawn.name), imread(drawn)
        assert kept.shape == now.shape
        # Fonts and lines differ between versions of matplotlib; another bar, colour or curve moves far more.
        assert abs(kept - now).mean() < 0.01, f"{drawn.name}: python -m tests.docs.pictures draws it anew"


def test_the_first_picture_says_where_its_mark_is():
    from tests.docs.pictures import BAR

    arm, bend, side, *_ = barfem.check_bar(BAR).governing_for_life.fatigue.safety_factor_where.split(", ")
    assert f"the worst place, {arm}, {bend}, {side}, is marked](notebooks/pictures/bar-at-full-travel.png)" in README


def test_files_that_are_named_exist():
    for text in (*FOR_USERS, DEVELOPERS):
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
    if (ROOT / ".git").exists():  # in a checkout a user's own bars stand beside what belongs there
        tracked = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
        names = {line.partition("/")[0] for line in tracked.splitlines()}
    else:
        names = {path.name for path in ROOT.iterdir()} - {"build", "dist"}
    found = {name for name in names if not name.startswith(".") and not name.endswith(".egg-info")}
    assert "README.md" in found and found <= allowed
