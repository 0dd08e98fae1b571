"""`barfem explain` knows every word that is printed: headings of every table, labels of figures, report, factors."""

from __future__ import annotations

import ast
import csv
from collections.abc import Iterator
from pathlib import Path

import pytest

import barfem.show
from barfem.check.api import check_bar
from barfem.cli.main import main
from barfem.model.errors import InputError
from barfem.model.surfaces import SURFACE_NAMES, SURFACES
from barfem.show.explain import explain, explanations
from tests.often import often

ROOT = Path(__file__).parents[2]
SHOW = Path(barfem.show.__file__).parent

# Of each function that prints a word: which of its arguments is one, by place and by name.
PRINTS: dict[str, tuple[tuple[int, ...], tuple[str, ...]]] = {
    "column": ((0,), ()),
    "words": ((0,), ()),
    "heading": ((1,), ()),
    "_section": ((1,), ()),
    "Section": ((1,), ()),
    "table": ((1,), ()),
    "axes_of": ((), ("x", "y")),
    "plot": ((), ("label",)),
    "Picture": ((), ("title",)),
}
ANY = "7"  # stands for what a run puts into a heading
SAMPLES = {"axle": "front", "short": "F", "side[0].upper()": "L", "SHORT[name]": "RR"}  # of what has few values


def _spoken(node: ast.AST, known: dict[str, list[str]]) -> Iterator[str]:
    """What an expression may say: constants, f-strings with `ANY` for their values, both ways of a choice."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value
    elif isinstance(node, ast.JoinedStr):
        yield "".join(
            SAMPLES.get(ast.unparse(part.value), ANY) if isinstance(part, ast.FormattedValue) else str(part.value)  # type: ignore[attr-defined]
            for part in node.values
        )
    elif isinstance(node, ast.IfExp):
        yield from [*_spoken(node.body, known), *_spoken(node.orelse, known)]
    elif isinstance(node, ast.BinOp):
        for one in list(_spoken(node.left, known)) or [ANY]:
            yield from (one + other for other in list(_spoken(node.right, known)) or [ANY])
    elif isinstance(node, ast.Name):
        yield from known.get(node.id, ())
    elif isinstance(node, ast.Subscript):
        yield from _spoken(node.value, known)


def _constants(tree: ast.AST) -> dict[str, list[str]]:
    """What names may say: assigned strings, values of assigned tables, and what a loop over a display runs through."""
    known: dict[str, list[str]] = {}
    for node in ast.walk(tree):
        targets = (
            node.targets if isinstance(node, ast.Assign) else [node.target] if isinstance(node, ast.AnnAssign) else []
        )
        if targets and isinstance(targets[0], ast.Name) and node.value is not None:  # type: ignore[union-attr]
            value = node.value  # type: ignore[union-attr]
            each = value.values if isinstance(value, ast.Dict) else [value]
            known.setdefault(targets[0].id, []).extend(word for one in each for word in _spoken(one, {}))
        if isinstance(node, ast.For | ast.comprehension) and isinstance(node.iter, ast.Tuple | ast.List):
            names = node.target.elts if isinstance(node.target, ast.Tuple) else [node.target]
            for i, name in enumerate(names):
                if isinstance(name, ast.Name):
                    rows = [row.elts[i] if isinstance(row, ast.Tuple) else row for row in node.iter.elts]
                    known.setdefault(name.id, []).extend(word for row in rows for word in _spoken(row, {}))
    return known


def _printing(tree: ast.AST) -> dict[str, tuple[tuple[int, ...], tuple[str, ...]]]:
    """`PRINTS`, and the module's own functions that hand a parameter on to one of them."""
    found = dict(PRINTS)
    for function in (node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)):
        parameters = [each.arg for each in function.args.args]
        for call in (node for node in ast.walk(function) if isinstance(node, ast.Call)):
            for word in _arguments(call, PRINTS):
                if isinstance(word, ast.Name) and word.id in parameters:
                    found.setdefault(function.name, ((parameters.index(word.id),), (word.id,)))
    return found


def _arguments(call: ast.Call, prints: dict[str, tuple[tuple[int, ...], tuple[str, ...]]]) -> list[ast.AST]:
    name = call.func.attr if isinstance(call.func, ast.Attribute) else getattr(call.func, "id", "")
    places, names = prints.get(name, ((), ()))
    texts: list[ast.AST] = [call.args[i] for i in places if i < len(call.args)]
    return texts + [keyword.value for keyword in call.keywords if keyword.arg in names]


def printed(source: str) -> Iterator[str]:
    """Headings, titles and labels that a module prints, `ANY` where a run puts a name or a number into one."""
    tree = ast.parse(source)
    prints, known = _printing(tree), _constants(tree)
    for call in (node for node in ast.walk(tree) if isinstance(node, ast.Call)):
        for each in _arguments(call, prints):
            for word in _spoken(each, known):
                if word.strip(f" .:,{ANY}"):
                    yield " ".join(word.split())


def unknown(words: set[str]) -> list[str]:
    out = []
    for word in sorted(words):
        try:
            explain(word)
        except InputError:
            out.append(word)
    return out


def test_headings_labels_and_titles_of_every_table_figure_and_report_are_known() -> None:
    files = sorted(SHOW.rglob("*.py"))
    words = {word for file in files for word in printed(file.read_text(encoding="utf-8"))}
    assert len(words) > 300  # the test sees them, those put together from names and numbers too
    assert unknown(words) == []
    assert list(printed('heading(c, f"Never {x} said")')) == ["Never 7 said"]
    assert list(printed('for t, _ in (("Never said", 1),):\n    heading(c, t)')) == ["Never said"]
    assert list(printed('def f(t, n):\n    return column(t, "", n)\nf("Never said", 1)')) == ["Never said"]
    assert list(printed('column("Never said\\nbefore", "mm", f)')) == ["Never said before"]
    assert unknown({"Never said before"}) == ["Never said before"]


def test_every_factor_of_the_fatigue_strength_is_known() -> None:
    names: set[str] = set()
    for bar in ("pickup-front-solid", "coupe-front-bends"):
        result = check_bar(ROOT / "geometries" / f"{bar}.toml")
        names |= {name for setting in result.settings for name in setting.fatigue.factors}
    assert len(names) > 5 and unknown(names) == []


def test_every_finish_and_every_word_of_a_place_is_known(capsys: pytest.CaptureFixture[str]) -> None:
    """What the first lines of a check say of the skin, and where they say that it is weakest."""
    finishes = {*SURFACE_NAMES, *(each.title for each in SURFACES.values()), "as hardened, scaled, shot-peened"}
    assert unknown({*finishes, "peened", "peening", "scaled"}) == []
    for word in finishes:
        assert explain(word).title == "Surface conditions", word
    places = {"inside", "outside", "top", "bottom", "left side", "tip-side tangent", "right tangent"}
    assert {explain(word).title for word in places} == {"Place"}
    assert explain("bore").title == "Surface" and "bore of a tube" in explain("bore").means


def test_columns_of_a_sweep_and_of_hole_places_are_known_and_the_gap_is_between_centres(tmp_path: Path) -> None:
    """The gap was explained as the metal between two holes, which is less by their diameter: 26.8 mm and not 39."""
    holes, swept = tmp_path / "holes.csv", tmp_path / "sweep.csv"
    solid = str(ROOT / "geometries" / "pickup-front-solid.toml")
    assert main(["holes", solid, "--count", "2", "--csv", str(holes)]) == 0
    assert main(["sweep", solid, "section.diameter=22", "--out", str(swept)]) == 0
    first, second = csv.DictReader(holes.read_text(encoding="utf-8").splitlines())
    assert float(second["gap_mm"]) == float(second["from_tip_mm"]) - float(first["from_tip_mm"])
    assert "centre" in explain("gap_mm").means and "metal" not in explain("gap_mm").means
    names = {*first, *_head(swept)}
    assert set(unknown(names)) <= {"section.diameter"}


def _head(path: Path) -> list[str]:
    return path.read_text(encoding="utf-8").splitlines()[0].split(",")


@pytest.mark.parametrize(
    "command",
    ["car coupe-car", "balance coupe-car", *often(["size pickup-rear-tube", "tolerance pickup-rear-tube"], 0)],
)
def test_every_column_of_the_csv_of_other_commands_is_known(command: str, tmp_path: Path) -> None:
    """Those of a car name a corner or an axle: suspension_travel_mm_front_left, rear_bar_yield_margin."""
    verb, name = command.split()
    found = tmp_path / "found.csv"
    main([verb, str(ROOT / "geometries" / f"{name}.toml"), "--csv", str(found)])
    assert len(_head(found)) > 10 and unknown(set(_head(found))) == []


def test_a_word_has_a_meaning_and_is_said_once_in_its_file() -> None:
    seen: dict[str, str] = {}
    for entry in explanations("words"):
        assert entry.means or entry.formula, entry.title
        for name in entry.columns:
            assert name not in seen, f"{name}: {seen.get(name)} and {entry.title}"
            seen[name] = entry.title


@pytest.mark.parametrize(
    ("word", "message"),
    [
        ("Holes at hole stiff, roll", "Parts of the report"),
        ("What it comes from, at hole 2: share of the variance, %", "How far bars of this drawing differ"),
        ("Twist rear", "axle"),
        ("Rotation", "right-handed about the walking direction"),
    ],
)
def test_headings_are_known_with_the_users_own_names_in_them(
    word: str, message: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["explain", word]) == 0
    assert message.lower() in " ".join(capsys.readouterr().out.split()).lower()


@pytest.mark.parametrize(("word", "message"), [("surface factor ka", "0.97 ground"), ("Miss, % of bars", "interval")])
def test_the_command_says_it(word: str, message: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain", word]) == 0
    assert message in " ".join(capsys.readouterr().out.split())
