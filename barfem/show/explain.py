"""What a number is: its unit, sign, formula and source, for every column of the tables and every key of the JSON.

The words stand beside this file: in explain.toml those of a check, in explain_car.toml those of the commands on a car,
in explain_maker.toml those of review, drawing and package, in explain_vendor.toml those on received bars, in
explain_words.toml those of studies, figures, the report and the factors of strength; what always holds, in
assumptions.toml.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import replace
from fnmatch import fnmatchcase
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any, Literal, get_type_hints

from barfem.check.hole_names import pair_name
from barfem.check.result import CheckResult
from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.given import a, takes, text
from barfem.model.nearest import nearest
from barfem.model.plain import json_fields, record_in
from barfem.show.methods import METHODS, filled

if TYPE_CHECKING:
    from barfem.vendor.rules import Rule

__all__ = [
    "Explanation",
    "explain",
    "explanations",
    "json_paths",
    "matches",
    "standing_assumptions",
    "values_of",
]


@frozen(kw_only=True)
class Explanation:
    """What one number, or one word, of a result is. `columns` and `keys` are where it stands."""

    title: str
    keys: tuple[str, ...] = ()
    columns: tuple[str, ...] = ()
    names: tuple[str, ...] = ()
    """In sentences and before rows, where they are not the title or a heading: "Amplitude", "ka"."""
    unit: str = ""
    sign: str = ""
    formula: str = ""
    source: str = ""
    means: str = ""
    also: tuple[str, ...] = ()
    holds: tuple[tuple[str, str], ...] = ()
    """What always holds, and its source: of the entry of assumptions alone."""
    methods: tuple[Mapping[str, str], ...] = ()
    """The ways to it, each `of` one of `methods.METHODS` with a formula, a source or both; none where there is one."""

    def taken(self, result: CheckResult | None) -> Explanation:
        """With the method that a check's record says; without a record, with every method and when it is taken.

        Parameters
        ----------
        result
            The check, or None.
        """
        used = [each for each in self.methods if result is None or METHODS[each["of"]].used(result)]

        def by_method(part: str) -> str:
            lines = [getattr(self, part)]
            for each in used:
                if part in each:
                    lines.append(each[part] if result is not None else f"{METHODS[each['of']].words}: {each[part]}")
            return filled("; ".join(filter(None, lines)), result)

        return replace(
            self, formula=by_method("formula"), source=by_method("source"), means=by_method("means"), methods=()
        )

    def lines(self) -> Iterator[tuple[str, str]]:
        """(what, words) of everything there is to say."""
        for what, words in (
            ("column", ", ".join(self.columns)),
            ("printed", ", ".join(self.names)),
            ("JSON", ", ".join(self.keys)),
            ("unit", self.unit),
            ("sign", self.sign),
            ("formula", self.formula),
            ("source", self.source),
            ("meaning", self.means),
            ("see also", ", ".join(self.also)),
        ):
            if words:
                yield what, words

    def __str__(self) -> str:
        from textwrap import fill

        body = [
            fill(words, 79, initial_indent=f"  {what:9}", subsequent_indent=" " * 11, break_on_hyphens=False)
            for what, words in self.lines()
        ]
        for statement, source in self.holds:
            body += ["", fill(statement, 79, initial_indent="  ", subsequent_indent="  ", break_on_hyphens=False)]
            body.append(fill(f"source: {source}", 79, initial_indent="    ", subsequent_indent="    "))
        return "\n".join([self.title, *body])

    __repr__ = __str__


@cache
def explanations(of: Literal["check", "car", "maker", "vendor", "words"] = "check") -> tuple[Explanation, ...]:
    """All there are of a check, of other commands, or of other printed words, in the order of their file."""
    name = "explain.toml" if of == "check" else f"explain_{of}.toml"
    text = files("barfem.show").joinpath(name).read_text(encoding="utf-8")
    return tuple(_read(entry) for entry in tomllib.loads(text)["entry"])


def _read(entry: dict[str, Any]) -> Explanation:
    values: dict[str, Any] = {key: tuple(value) if isinstance(value, list) else value for key, value in entry.items()}
    return Explanation(**values)


@cache
def standing_assumptions() -> tuple[tuple[str, str], ...]:
    """(statement, source) of what holds in every check, whatever the bar; what one result assumed is in the result."""
    text = files("barfem.show").joinpath("assumptions.toml").read_text(encoding="utf-8")
    return tuple((entry["holds"], entry["source"]) for entry in tomllib.loads(text)["assumption"])


def matches(entry: Explanation, path: str) -> bool:
    """Whether an entry speaks of the JSON key at `path`, such as "settings.peak.von_mises_MPa"."""
    return any(fnmatchcase(path, pattern) for pattern in entry.keys)


@cache
def json_paths() -> tuple[str, ...]:
    """Every key that the JSON of a check may hold, as a path without list indices: "settings.peak.von_mises_MPa"."""
    return ("format", *_paths(CheckResult, ""), "passes", "governing.stress", "governing.life")


def _paths(kind: type, path: str) -> Iterator[str]:
    hints = get_type_hints(kind)
    for item in json_fields(kind):
        record = record_in(hints[item.name])
        if record is None:
            yield path + item.name
        else:
            yield from _paths(record, f"{path}{item.name}.")


@takes(
    key=text('a column or a key, such as "yield margin".'),
    result=a("a check's result", CheckResult, "what check_bar returns."),
)
def explain(key: str, result: CheckResult | None = None) -> Explanation:
    """What a number is: its unit, sign, formula and source.

    Parameters
    ----------
    key
        A heading of a table ("Yield margin"), a key of the JSON ("yield_margin", "peak.von_mises_MPa"), or a key of
        `CheckResult.records` ("fatigue_life_cycles").
    result
        A check, whose record says by which method it came to its numbers; without one every method is told.

    Raises
    ------
    InputError
        Nothing is called that; the message names what is nearest.
    """
    wanted = _plain(re.sub(r"\[\d*\]", "", key))
    if not wanted:
        raise InputError("the key is empty.", where="explain", expected='a column or a key, such as "yield margin".')
    paths = [path for path in json_paths() if f" {_plain(path)}".endswith(f" {wanted}")]
    found = [entry for entry in explanations() if wanted in _called(entry)]
    group = _group(wanted)
    beside = [entry for entry in _beside() if _names(entry, wanted)]
    if not (found or group or any(wanted == _plain(entry.title) for entry in beside)):
        # A word as it is printed is meant before a key that ends in it.
        found = [entry for entry in explanations("words") if wanted in _called(entry)]
    for path in paths:
        found += [entry for entry in explanations() if matches(entry, path) and entry not in found]
    found = found or group
    beside += [entry for entry in explanations("words") if _says(entry, wanted) and entry not in found]
    if not found and not beside:
        if (everywhere := _CORNER.sub(" ", wanted).strip()) not in ("", wanted):
            with suppress(InputError):
                return explain(everywhere, result)
        raise _unknown(key)
    first, *others = [*found, *beside]
    also = (
        *(path for path in paths if any(matches(entry, path) for entry in others)),
        *(entry.title for entry in others if entry in beside),
    )
    return replace(first.taken(result), also=also, holds=standing_assumptions() if "assumptions" in first.keys else ())


_CORNER = re.compile(r"\b(front|rear) (left|right|bar)\b")
"""In a column of a car's CSV: a row has all its corners and bars beside each other."""


def _group(wanted: str) -> list[Explanation]:
    """Of a key of the JSON that holds others, such as "fatigue" or "settings.compliance": what it holds."""
    groups = {
        path: words
        for path in json_paths()
        for words in _ends(path.rpartition(".")[0])
        if f" {_plain(words)}".endswith(f" {wanted}")
    }
    if not groups:
        return []
    within, words = list(groups), next(iter(groups.values()))
    held = [entry.title for entry in explanations() if any(matches(entry, path) for path in within)]
    return [
        Explanation(title=f"{words}, a group of the JSON", keys=tuple(within), means=f"It holds: {'; '.join(held)}.")
    ]


def _ends(path: str) -> Iterator[str]:
    """ "settings", "settings.peak", "settings.peak.where" of the last."""
    parts = path.split(".")
    return (".".join(parts[: i + 1]) for i in range(len(parts)))


def _beside() -> tuple[Explanation, ...]:
    """Entries of the commands that find other things than a check."""
    return (*explanations("car"), *explanations("vendor"), *explanations("maker"), *_rules())


@cache
def _rules() -> tuple[Explanation, ...]:
    """What `barfem review` holds a bar against, by its keys."""
    from barfem.vendor.rules import RULES

    def limits(rule: Rule) -> str:
        stated = [(name, value) for name, value in (("stop", rule.stop), ("ask", rule.ask)) if value is not None]
        return ", ".join(f"{name} {rule.worse} {value:g} {rule.unit}".strip() for name, value in stated)

    return tuple(
        Explanation(
            title=f"Rule of the review: {rule.title}",
            names=(rule.key,),
            unit=rule.unit,
            formula=limits(rule),
            source=rule.source,
            means="Of `barfem review`. [review] limits of the bar file sets other limits by this key.",
        )
        for rule in RULES.values()
    )


def _says(entry: Explanation, wanted: str) -> bool:
    """Whether a word is printed so, with its unit or without."""
    known = _called(entry)
    bare = {name.partition(", ")[0] for name in known}
    return wanted in known | bare or wanted.rpartition(", ")[0] in known or any(_fits(name, wanted) for name in known)


def _called(entry: Explanation) -> set[str]:
    """Every word that an entry is printed as."""
    return {_plain(name) for name in (entry.title, *entry.columns, *entry.names)}


def _fits(pattern: str, wanted: str) -> bool:
    """Whether a heading is of a kind: * stands for the names and numbers that a run puts into it."""
    if "*" not in pattern:
        return False
    return re.fullmatch(".+".join(map(re.escape, pattern.split("*"))), wanted) is not None


def _names(entry: Explanation, wanted: str) -> bool:
    """Whether an entry of those commands is called that, or one of its keys ends so."""
    keys = (_plain(key.removesuffix(".*").replace("*", " ")) for key in entry.keys)
    titles = {_plain(entry.title), _plain(entry.title.partition(": ")[2]), *map(_plain, entry.names)}
    return (
        wanted in titles
        or any(_fits(title, wanted) for title in titles)
        or any(key and (f" {key}".endswith(f" {wanted}")) for key in keys)
    )


def values_of(result: CheckResult) -> Iterator[tuple[str, str, Any]]:
    """(path, where, value) of every single value of the result's JSON; `where` names hole setting and list entry."""
    data = result.to_json_dict()
    for setting in data.pop("settings"):
        holes = pair_name(setting["left"], setting["right"])
        yield from _values(setting, "settings", f"hole {holes}, {setting['case']}: ")
    yield from _values(data, "", "")


def _values(data: Any, path: str, where: str) -> Iterator[tuple[str, str, Any]]:
    if isinstance(data, dict):
        for key, value in data.items():
            yield from _values(value, f"{path}.{key}" if path else key, where)
    elif isinstance(data, list) and any(isinstance(item, dict) for item in data):
        for number, item in enumerate(data, start=1):
            words = str(item.get("where") or item.get("at") or number)
            yield from _values(item, path, f"{where}{words}: ")
    else:
        yield path, where, data


def _unknown(key: str) -> InputError:
    known = {name: name for entry in explanations() for name in (entry.title, *entry.columns, *entry.names)}
    known |= {path.rpartition(".")[2]: path for path in json_paths()}
    known |= {entry.title.partition(": ")[2]: entry.title for entry in _beside()}
    known |= {name: name for entry in explanations("words") for name in (entry.title, *entry.columns, *entry.names)}
    # A word of a longer name, mistyped: "saftey"; of several names the shortest.
    longest_first = sorted(known, key=len, reverse=True)
    words = {word.lower(): name for name in longest_first for word in name.split() if name != word and len(word) > 3}
    near = nearest(key, {**words, **known})
    hint = "" if near is None else f' Did you mean "{near if near in known else words[near]}"?'
    return InputError(
        f'nothing is called "{key}".{hint}',
        where="explain",
        expected="a heading of a table or a key of the JSON; barfem explain lists them all.",
    )


@cache  # a few thousand names, each asked for hundreds of times
def _plain(name: str) -> str:
    """Words in lower case: dots, underscores and line breaks are spaces, a word broken by a hyphen is whole."""
    whole = re.sub(r"(?<=\w)-\s+(?=\w)", "-", name)
    return " ".join(re.sub(r"[._\s]+", " ", whole).lower().split())
