"""Every column that is printed and every key of the JSON is explained, once; nothing is explained that is not there."""

from __future__ import annotations

import re
from fnmatch import fnmatchcase
from pathlib import Path

import pytest

import barfem
from barfem.check.api import check_bar
from barfem.cli.main import main
from barfem.show.details import tables
from barfem.show.explain import explanations, json_paths, matches, standing_assumptions, values_of
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
    for entry in explanations():
        given = [bool(part) for part in (entry.unit, entry.sign, entry.formula, entry.source)]
        assert all(given) or (not any(given) and entry.means), entry.title


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
    with pytest.raises(barfem.InputError, match="empty"):
        barfem.explain(" ")


def test_the_command_prints_it_with_the_bars_numbers(capsys):
    assert main(["explain", "yield margin", str(SOLID)]) == 0
    out = capsys.readouterr().out
    result = check_bar(SOLID)
    assert "formula" in out and "source" in out
    for setting in result.settings:
        assert f"hole {setting.holes}" in out and f"{setting.yield_margin:.6g}" in out
    assert main(["explain", "nonsense-of-all-kinds"]) == 2


def test_numbers_of_one_name_say_which_they_are(capsys):
    main(["explain", "Safety factor", str(SOLID)])
    out = capsys.readouterr().out
    result = check_bar(SOLID)
    for setting in result.settings:
        at = f"hole {setting.holes}, roll: "
        assert f"{at}fatigue.safety_factor_at_target {setting.fatigue.safety_factor_at_target:.6g}" in out
        assert f"{at}end.for_life.safety_factor_at_target" in out


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
