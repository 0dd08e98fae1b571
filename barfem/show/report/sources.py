"""What is said "from memory", gathered from the page's text into one list of sources at its end."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from barfem.model.sentences import with_capital
from barfem.show.report.sections import Section

__all__ = ["with_sources", "without_memory"]

# ", from memory", "; the values from memory, fairly sure" and the like, up to what ends the clause.
_REMARK = re.compile(
    r"[,;:]?\s*(?:\(from memory[^()]*\)"
    r"|(?:(?:all|the) (?:values?|numbers?) )?from memory(?:,? (?:fairly |quite )?(?:un)?sure)?"
    r"(?:[,;] (?:recomputed|look it up|to be looked up)[^.;)]*)?)",
    re.IGNORECASE,
)
_CLAUSE_ENDS = re.compile(r"(?:(?<!Eq)(?<!No)(?<!Fig)(?<!art)\. |; )(?=\S)")
_COLON = re.compile(r"(?<=[^\d]): (?=\S)")
_STANDARD = re.compile(r"\b(?:EN|DIN|ISO|SAE|ASTM|JIS|GB/T|FKM)\b")
"""What stands before a colon is the source itself where it names a standard."""

_NAME_ALONE = 24


def with_sources(sections: Sequence[Section]) -> list[Section]:
    """The sections without their "from memory", and a last one that lists what was said so."""
    sources: dict[str, None] = {}
    made = [
        replace(
            section,
            paragraphs=[without_memory(line, sources) for line in section.paragraphs],
            points=[without_memory(line, sources) for line in section.points],
            points_after=[without_memory(line, sources) for line in section.points_after],
            tables=[
                replace(made, rows=tuple(tuple(_cell(cell, sources) for cell in row) for row in made.rows))
                for made in section.tables
            ],
        )
        for section in sections
    ]
    if not sources:
        return made
    return [
        *made,
        Section(
            "sources",
            "Sources quoted from memory",
            paragraphs=[
                "To be looked up before anything is leaned on them; whatever else is said stands as it is given."
            ],
            points=list(sources),
        ),
    ]


def _cell(cell, sources):  # type: ignore[no-untyped-def]
    text = getattr(cell, "text", None)
    return (
        replace(cell, text=without_memory(text, sources)) if isinstance(text, str) and "from memory" in text else cell
    )


def without_memory(text: str, sources: dict[str, None]) -> str:
    """The text without its "from memory"; what it was said of is added to `sources`."""
    while (found := _REMARK.search(text)) is not None:
        before, after = text[: found.start()], text[found.end() :]
        source = _source(before) if before.strip() else _CLAUSE_ENDS.split(after.strip(" ,;:"))[0]
        if source and " ".join(source.split()).lower() not in {" ".join(each.split()).lower() for each in sources}:
            sources[with_capital(source)] = None
        text = before + after if before.strip() else after.lstrip(" ,;:")
    return text


def _source(before: str) -> str:
    """What ends `before`: its last clause, with the standard that it is of."""
    opened = _opened(before)
    clause = _CLAUSE_ENDS.split(before[opened:])[-1]
    if opened and len(clause) < _NAME_ALONE:  # an author: what is his stands before the bracket
        return f"{_CLAUSE_ENDS.split(before[: opened - 1])[-1].strip(' ,;:')} ({clause.strip(' ,;:')})"
    colons = list(_COLON.finditer(clause))
    if colons and not _STANDARD.search(clause[: colons[-1].start()]):
        clause = clause[colons[-1].end() :]
    return clause.strip(" ,;:").removeprefix("default, ")


def _opened(text: str) -> int:
    """Where the inside of the last bracket that is still open begins; 0 where none is."""
    open_at = [0]
    for i, letter in enumerate(text):
        if letter == "(":
            open_at.append(i + 1)
        elif letter == ")" and len(open_at) > 1:
            open_at.pop()
    return open_at[-1]
