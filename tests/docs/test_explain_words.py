"""`barfem explain` knows every word that is printed: headings of every table, labels of figures, report, factors."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

import barfem.show
from barfem.check.api import check_bar
from barfem.cli.main import main
from barfem.model.errors import InputError
from barfem.show.explain import explain, explanations

ROOT = Path(__file__).parents[2]
SHOW = Path(barfem.show.__file__).parent

# Of each function that prints a word: which of its arguments is one, by place and by name.
PRINTS: dict[str, tuple[tuple[int, ...], tuple[str, ...]]] = {
    "column": ((0,), ()),
    "words": ((0,), ()),
    "heading": ((1,), ()),
    "_section": ((1,), ()),
    "Section": ((1,), ()),
    "axes_of": ((), ("x", "y")),
    "plot": ((), ("label",)),
    "Picture": ((), ("title",)),
}


def printed(source: str) -> Iterator[str]:
    """Words that a module prints as they stand in its source; not those put together from numbers."""
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Call):
            continue
        name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        places, names = PRINTS.get(name, ((), ()))
        said = [node.args[i] for i in places if i < len(node.args)]
        said += [keyword.value for keyword in node.keywords if keyword.arg in names]
        for each in said:
            if isinstance(each, ast.Constant) and isinstance(each.value, str) and each.value.strip():
                yield " ".join(each.value.split())


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
    assert len(words) > 150  # the test sees them
    assert unknown(words) == []
    assert list(printed('column("Never said\\nbefore", "mm", f)')) == ["Never said before"]
    assert unknown({"Never said before"}) == ["Never said before"]


def test_every_factor_of_the_fatigue_strength_is_known() -> None:
    names: set[str] = set()
    for bar in ("pickup-front-solid", "coupe-front-bends"):
        result = check_bar(ROOT / "geometries" / f"{bar}.toml")
        names |= {name for setting in result.settings for name in setting.fatigue.factors}
    assert len(names) > 5 and unknown(names) == []


def test_a_word_has_a_meaning_and_is_said_once_in_its_file() -> None:
    seen: dict[str, str] = {}
    for entry in explanations("words"):
        assert entry.means or entry.formula, entry.title
        for name in entry.columns:
            assert name not in seen, f"{name}: {seen.get(name)} and {entry.title}"
            seen[name] = entry.title


@pytest.mark.parametrize(("word", "told"), [("surface factor ka", "0.9 ground"), ("Miss, % of bars", "interval")])
def test_the_command_says_it(word: str, told: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain", word]) == 0
    assert told in " ".join(capsys.readouterr().out.split())
