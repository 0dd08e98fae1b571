"""Every column that is printed and every key of the JSON is explained, once; nothing is explained that is not there."""

from __future__ import annotations

import re
from dataclasses import replace
from fnmatch import fnmatchcase
from pathlib import Path

import pytest

import barfem
from barfem.check.api import check_bar
from barfem.cli.main import main
from barfem.model.material import Scatter, StressLifeData
from barfem.show.details import tables
from barfem.show.explain import explanations, json_paths, matches, standing_assumptions, values_of
from barfem.show.methods import METHODS
from barfem.show.numbers import ratio
from barfem.show.table import settings_tables

ROOT = Path(__file__).parents[2]
SOLID, TUBE = (ROOT / "geometries" / f"pickup-{name}.toml" for name in ("front-solid", "rear-tube"))
WITH_BLOCKS = {"duty": {"blocks": [{"pickup": 20.0, "cycles": 1000}, {"pickup": 10.0, "cycles": 1e5}]}}


@pytest.fixture(scope="module")
def results():
    blocks = barfem.change(barfem.read_bar(SOLID), {**WITH_BLOCKS, "travel.one_wheel": 20.0})
    return [check_bar(blocks, critical_plane=True), check_bar(SOLID, mixed=True), check_bar(TUBE)]


def headings(results) -> set[str]:
    found = set()
    for result in results:
        for table in [*settings_tables(result), *tables(result)]:
            found |= {" ".join(table.columns[i].lines.split()) for i in table.drawn}
    return found


def explains(column: str, heading: str) -> bool:
    return heading == column or heading.startswith((column + " ", column + ","))


def paths_in(results) -> set[str]:
    """Keys that hold values; not those of records that are not there in a result."""
    known = json_paths()
    held = {path for result in results for path, _, _ in values_of(result)}
    return {*known, *(path for path in held if not any(other.startswith(f"{path}.") for other in known))}


def test_every_key_of_the_json_has_one_entry(results):
    wrong = {}
    for path in sorted(paths_in(results)):
        found = [entry.title for entry in explanations() if matches(entry, path)]
        if len(found) != 1 and not path.startswith(("inputs.", "settings.fatigue.factors.")):
            wrong[path] = found
    assert wrong == {}


def test_every_key_that_is_explained_is_there(results):
    paths = paths_in(results)
    stale = [
        pattern for entry in explanations() for pattern in entry.keys if not any(fnmatchcase(p, pattern) for p in paths)
    ]
    assert stale == []


def test_every_column_is_explained(results):
    found = headings(results)
    assert len(found) > 30
    columns = [column for entry in explanations() for column in entry.columns]
    assert [heading for heading in sorted(found) if not any(explains(column, heading) for column in columns)] == []


def test_every_column_that_is_explained_is_printed(results):
    found = headings(results)
    columns = [column for entry in explanations() for column in entry.columns]
    assert [column for column in columns if not any(explains(column, heading) for heading in found)] == []
    assert len(columns) == len(set(columns))


def test_a_number_has_unit_sign_formula_and_source():
    for entry in (each.taken(None) for each in explanations()):
        given = [bool(part) for part in (entry.unit, entry.sign, entry.formula, entry.source)]
        assert all(given) or (not any(given) and entry.means), entry.title


@pytest.fixture(scope="module")
def checks():
    """One bar by every method: quick and solid of a bar with bends; steels with and without tests of their own."""
    solid = barfem.read_bar(SOLID)
    tests = StressLifeData(
        620.0, 1e5, 8.0, solid.steel.skin, knee=False, tensile_strength_MPa=1500.0, source="invented"
    )
    own = replace(solid, steel=replace(solid.steel, stress_life=tests, scatter=Scatter(0.05, source="invented tests")))
    beam = check_bar(solid)
    return {
        "beam": beam,
        "quick": check_bar(solid, quick=True),
        "solid": replace(beam, model="solid", bends=()),  # as a check by the solid records it (tests/check)
        "own": check_bar(own, mean_stress="gerber"),
    }


def used(check) -> set[str]:
    return {name for name, method in METHODS.items() if method.used(check)}


def test_the_record_says_which_method_was_taken(checks):
    estimated = "estimated line"
    assert used(checks["beam"]) == {"beam", "fields", estimated}
    assert used(checks["quick"]) == {"beam", "closed forms", estimated}
    assert used(checks["solid"]) == {"solid", estimated}
    assert used(checks["own"]) == {"beam", "fields", "own line"}


@pytest.mark.parametrize("entry", [each for each in explanations() if each.methods], ids=lambda each: each.title)
def test_an_explanation_tells_the_method_of_the_record_and_no_other(entry, checks):
    assert {each["of"] for each in entry.methods} <= METHODS.keys()
    for check in checks.values():
        explained = barfem.explain(entry.title, check)
        text = f"{explained.formula} {explained.source} {explained.means}"
        for method in entry.methods:
            for part in ("formula", "source", "means"):
                if part in method:
                    assert (method[part] in text) == (method["of"] in used(check)), (entry.title, method)
        assert explained.formula and explained.source
    everything = barfem.explain(entry.title)
    assert all(METHODS[each["of"]].words in str(everything).replace("\n           ", " ") for each in entry.methods)


# What names one of several methods; entries that are about that method itself, whatever a check used.
NAMES = re.compile(
    r"three-dimensional|Winkler|Wahl|closed form|--model|--quick|Simo|swept solid|Goodman(?! safety factor)|Gerber"
    r"|Eqs?\. 6-(8|13|46)|8 % of strength|0\.08"
)
ABOUT_IT = {
    "Goodman safety factor",
    "Mean-stress rule",
    "Stress of bends",
    "Swept solid",
    "Factors of the fatigue strength",
}


def test_no_entry_names_a_method_but_by_the_record():
    for entry in explanations():
        fixed = f"{entry.formula} {entry.source} {entry.means}"
        assert entry.title in ABOUT_IT or not NAMES.search(fixed), (entry.title, NAMES.search(fixed))


def test_rule_and_scatter_are_the_records(checks):
    assert "Gerber" in barfem.explain("Safety factor", checks["own"]).formula
    assert "6-47" in barfem.explain("Safety factor", checks["own"]).source
    assert "Goodman" in barfem.explain("mean_stress_rule", checks["beam"]).means
    assert "invented tests" in barfem.explain("Life at survival", checks["own"]).source
    assert "Shigley" in barfem.explain("Life at survival", checks["beam"]).source


def test_the_command_explains_by_the_method_asked_for(capsys):
    assert main(["explain", "peak stress", str(SOLID), "--quick"]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "Winkler-Bach" in out and "three-dimensional" not in out
    assert main(["explain", "peak stress", str(SOLID)]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "Winkler-Bach" not in out and "three-dimensional fields" in out
    assert main(["explain", "peak stress", "--quick"]) == 2
    assert "a bar file beside it" in capsys.readouterr().err


def test_units_agree_with_the_keys():
    units = {
        "_N_per_mm": "N/mm", "_Nm_per_deg": "N m/deg", "_MPa": "MPa", "_mm": "mm", "_deg": "deg",
        "_kg": "kg", "_J": "J", "_percent": "%",
    }  # fmt: skip
    for entry in explanations():
        for key in entry.keys:
            unit = next((unit for ending, unit in units.items() if key.endswith(ending)), None)
            assert unit is None or unit in entry.unit, (entry.title, key)


@pytest.mark.parametrize(
    ("asked", "title"),
    [
        ("Yield margin", "Yield margin"), ("yield_margin", "Yield margin"), ("settings[0].twist_deg", "Twist"),
        ("peak.von_mises_MPa", "Peak stress"), ("fatigue_life_cycles", "Life"), ("LIFE_CYCLES", "Life"),
        ("set_mm", "Set after the first full travel"), ("Wheel rate", "Wheel rate"), ("solver.load_steps", "Solver"),
    ],
)  # fmt: skip
def test_it_is_found_by_column_key_and_path(asked, title):
    assert barfem.explain(asked).title == title


def test_every_key_of_the_rows_is_explained():
    rows = barfem.check_bar(SOLID)
    for name in ("settings", "places", "states", "mount_reactions", "lives"):
        for key in rows.records(name)[0]:
            assert barfem.explain(key).title


def test_what_is_not_there_names_the_nearest():
    with pytest.raises(barfem.InputError, match="Did you mean"):
        barfem.explain("yeild margin")
    with pytest.raises(barfem.InputError, match='Did you mean "Safety factor"'):
        barfem.explain("saftey")
    with pytest.raises(barfem.InputError, match="empty"):
        barfem.explain(" ")


def test_the_command_prints_it_with_the_bars_numbers(capsys):
    assert main(["explain", "yield margin", str(SOLID)]) == 0
    out = capsys.readouterr().out
    result = check_bar(SOLID)
    assert "formula" in out and "source" in out
    for setting in result.settings:
        assert f"hole {setting.holes}" in out and f"yield_margin {ratio(setting.yield_margin)}\n" in out
    assert main(["explain", "nonsense-of-all-kinds"]) == 2


def test_numbers_of_one_name_say_which_they_are(capsys):
    main(["explain", "Safety factor", str(SOLID)])
    out = capsys.readouterr().out
    result = check_bar(SOLID)
    for setting in result.settings:
        at = f"hole {setting.holes}, roll: "
        factor = ratio(setting.fatigue.safety_factor_at_target)
        assert f"{at}fatigue.safety_factor_at_target {factor}\n" in out  # in the figures of the check's own table
        assert f"{at}end.for_life.safety_factor_at_target" in out


def test_a_life_past_what_is_claimed_is_said_so_and_a_mere_word_has_no_numbers(capsys):
    main(["explain", "Life", str(SOLID)])
    out = capsys.readouterr().out
    assert "fatigue.life_cycles over 10 000 000\n" in out and "null" not in out.partition("\n\n")[2]
    main(["explain", "surface factor", str(SOLID)])
    assert check_bar(SOLID).name not in capsys.readouterr().out


def test_the_list_names_all(capsys):
    main(["explain"])
    out = capsys.readouterr().out
    assert all(re.search(rf"^{re.escape(entry.title)}\b", out, re.MULTILINE) for entry in explanations())


def test_a_wrong_bar_file_is_answered_by_its_error_alone(capsys, tmp_path):
    assert main(["explain", "yield margin", str(tmp_path / "none.toml")]) == 2
    out, err = capsys.readouterr()
    assert out == "" and "none.toml does not exist" in err


def test_what_always_holds_is_listed_with_its_sources(capsys):
    holds = standing_assumptions()
    assert len(holds) > 10 and all(statement and source for statement, source in holds)
    assert main(["explain", "assumptions"]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert all(statement in out and f"source: {source}" in out for statement, source in holds)
    assert barfem.explain("yield margin").holds == ()


@pytest.mark.parametrize(
    ("group", "held"),
    [
        ("compliance", "shares of the deflection"),
        ("fatigue", "Life at survival"),
        ("settings.peak", "peak stress"),
        ("strain_life", ""),
    ],
)
def test_a_group_of_the_json_says_what_it_holds(group: str, held: str) -> None:
    found = barfem.explain(group)
    assert (
        found.title.endswith(f"{group.rpartition('.')[2]}, a group of the JSON") and held.lower() in found.means.lower()
    )
    assert all(f".{group.rpartition('.')[2]}." in f".{key}" for key in found.keys)
