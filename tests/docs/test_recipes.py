"""The recipes of DEVELOPERS are tried out: the table is a steel, the changes make a criterion, the list is whole."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from barfem.model.read import bar_from_dict
from barfem.model.sections import rectangle
from tests.model.bar_data import U_BAR

ROOT = Path(__file__).parents[2]
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
BAR = ROOT / "geometries" / "pickup-front-solid.toml"
CHANGES = ("criterion", "load case", "output", "key", "number")


def recipe(name: str) -> str:
    (found,) = re.findall(rf"<!-- recipe: {name} -->\n```\w+\n(.*?)^```", DEVELOPERS, re.DOTALL | re.MULTILINE)
    return found


def apply(diff: str, package: Path) -> None:
    """Apply changes without line numbers: each hunk's old lines must stand in their file exactly once."""
    for part in re.split(r"^--- ", diff, flags=re.MULTILINE)[1:]:
        name, _, body = part.partition("\n")
        path = package.parent / name.strip()
        text = path.read_text(encoding="utf-8")
        for hunk in re.split(r"^@@\n", body, flags=re.MULTILINE):
            lines = hunk.splitlines(keepends=True)
            old = "".join(line[1:] for line in lines if line[0] in " -")
            new = "".join(line[1:] for line in lines if line[0] in " +")
            assert text.count(old) == 1, f"{name}: the recipe's lines stand there {text.count(old)} times:\n{old}"
            text = text.replace(old, new)
        path.write_text(text, encoding="utf-8")


def test_the_material_of_the_recipe_is_a_steel(tmp_path):
    (tmp_path / "30NiCrMo8.toml").write_text(recipe("material"), encoding="utf-8")
    data = dict(U_BAR)
    data["material"] = {"grade": "30NiCrMo8", "condition": "QT 16 to 40 mm"}
    steel = bar_from_dict(data, source=str(tmp_path / "bar.toml")).steel
    assert (steel.yield_strength_MPa, steel.tensile_strength_MPa) == (1050, 1250)


@pytest.fixture(scope="module")
def changed(tmp_path_factory):
    """A copy of the package with the recipes' load case, criterion, output, key and number in it."""
    folder = tmp_path_factory.mktemp("changed")
    for name in ("barfem", "geometries"):
        shutil.copytree(ROOT / name, folder / name, ignore=shutil.ignore_patterns("__pycache__"))
    (folder / "materials").symlink_to(ROOT / "materials")
    for name in CHANGES:
        apply(recipe(name), folder / "barfem")
    return folder


def run(folder: Path, *words: str) -> str:
    environment = {**os.environ, "PYTHONPATH": str(folder)}
    done = subprocess.run([sys.executable, *words], cwd=folder, env=environment, capture_output=True, text=True)
    assert done.returncode in (0, 1), done.stderr
    return done.stdout


@pytest.mark.parametrize("name", CHANGES)
def test_a_recipe_opens_four_files_at_most(name):
    assert 1 <= len(set(re.findall(r"^--- (\S+)", recipe(name), re.MULTILINE))) <= 4


@pytest.mark.long
def test_load_case_output_key_and_number_of_the_recipes_are_there(changed):
    text = BAR.read_text(encoding="utf-8")
    given = text.replace("pickup = 24.0", "up = 24.0\ndown = 20.0\none_wheel = 18.0\nparallel = 20.0")
    assert given != text
    (changed / "heat.toml").write_text('heat = "4711"\n' + given, encoding="utf-8")
    check = ("-m", "barfem", "check", "heat.toml", "--case")
    drop, one_wheel = (json.loads(run(changed, *check, case, "--json", "-")) for case in ("wheel-drop", "one-wheel"))
    assert drop["inputs"]["heat"] == "4711"
    fallen, lifted = drop["settings"][0], one_wheel["settings"][0]
    # The bar is symmetrical about its middle plane, and nearly so for up and down: one end held, the rate is alike.
    assert fallen["case"] == "wheel-drop" and fallen["rate_N_per_mm"] == pytest.approx(
        lifted["rate_N_per_mm"], rel=0.05
    )
    assert fallen["link_force_left_N"] * lifted["link_force_left_N"] < 0.0
    assert fallen["energy_per_mass_J_per_kg"] == pytest.approx(fallen["strain_energy_J"] / drop["mass_kg"], rel=1e-9)
    assert "strain energy / mass" in run(changed, "-m", "barfem", "explain", "energy_per_mass_J_per_kg")
    whole = " ".join(run(changed, *check, "wheel-drop", "--full").lower().split())
    whole = whole.replace("not judged in this run: roll, one-wheel and parallel.", "")
    assert "wheel-drop" in whole and "one-wheel" not in whole and "parallel" not in whole and "in roll" not in whole
    explained = " ".join(run(changed, "-m", "barfem", "explain", "wheel-drop").split())
    assert "wheel-drop: the left pickup moves down" in explained
    asked = run(
        changed,
        "-c",
        f"import barfem\ntry: barfem.check_bar({str(BAR)!r}, case=1)\nexcept barfem.InputError as no: print(no)",
    )
    assert '"roll", "one-wheel", "parallel" or "wheel-drop"' in asked
    wording = run(changed, *check, "wheel-drop", "--verdict", "-")
    assert wording.startswith("VERDICT: ") and wording.count("\n") == 1 and "roll" not in wording


@pytest.mark.long
def test_the_criterion_of_the_recipe_judges_a_bar(changed):
    text = BAR.read_text(encoding="utf-8").replace("target_cycles = 200000", "target_cycles = 200000\nratio = 0.0")
    assert text.count("ratio = 0.0") == 1
    (changed / "bar.toml").write_text(text.replace('"shot-peened"', '"polished"'), encoding="utf-8")
    found = {}
    for rule in ("goodman", "ellipse"):
        out = run(changed, "-m", "barfem", "check", str(changed / "bar.toml"), "--mean-stress", rule, "--json", "-")
        found[rule] = json.loads(out)["settings"][-1]["fatigue"]
    for command in ("check", "life"):
        told = run(changed, "-m", "barfem", command, "--help")
        assert "ellipse" in told and max(map(len, told.splitlines())) <= 80
    goodman, ellipse = found["goodman"], found["ellipse"]
    assert ellipse["mean_stress_rule"] == "ellipse" and ellipse["where"] == goodman["where"]
    # n^2 [(sa / S)^2 + (sm / Sy)^2] = 1 at the target, Shigley Eq. 6-48 with the load growing, by hand.
    amplitude, mean, strength = (ellipse[key] for key in ("amplitude_MPa", "mean_MPa", "strength_at_target_MPa"))
    by_hand = ((amplitude / strength) ** 2 + (mean / 1200.0) ** 2) ** -0.5
    assert ellipse["safety_factor_at_target"] == pytest.approx(by_hand, rel=1e-6)
    assert mean > 50.0 and ellipse["safety_factor_at_target"] > 1.02 * goodman["safety_factor_at_target"]


def test_the_section_of_the_recipe_has_the_torsion_constant_of_a_square():
    from barfem.model import sections

    names = {**vars(sections), "replace": replace}
    exec(compile(recipe("section"), "DEVELOPERS.md", "exec"), names)
    square = names["square"](side_mm=20.0, nu=0.3)
    # The series that barfem sums for any rectangle, and Timoshenko's printed 0.1406 (Goodier, table of k1 for b/a = 1).
    assert square.J_mm4 == pytest.approx(rectangle(width_mm=20.0, thickness_mm=20.0, nu=0.3).J_mm4, rel=1e-5)
    assert square.J_mm4 == pytest.approx(0.1406 * 20.0**4, rel=5e-4) and square.area_mm2 == 400.0


def test_every_place_that_asks_for_the_bodys_shape_is_in_the_recipe():
    asks = re.compile(r"section\.(shape|wall_mm|bore_mm)|shape (==|!=) \"(tube|round)\"|wall_mm is (not )?None")
    found = {
        path.relative_to(ROOT / "barfem").as_posix()
        for path in (ROOT / "barfem").rglob("*.py")
        if asks.search(path.read_text(encoding="utf-8"))
    }
    start = DEVELOPERS.index("**A section shape.**")
    named = set(re.findall(r"`((?:\w+/)+\w+\.py)`", DEVELOPERS[start : DEVELOPERS.index("**A key of the bar file.**")]))
    assert len(found) > 15
    assert found - named == set(), "these ask for the shape and are not in the recipe"
    assert {
        name for name in named if name.startswith("tests/") is False and not (ROOT / "barfem" / name).exists()
    } == set()


def test_every_criterion_has_the_function_that_its_entry_names():
    from barfem.strength.fatigue.criteria import CRITERIA, NEEDS

    for criterion in CRITERIA.values():
        assert criterion.function.__name__ == criterion.function_name
        assert set(criterion.needs) <= set(NEEDS) and criterion.formula and criterion.source
