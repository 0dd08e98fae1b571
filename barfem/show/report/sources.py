"""What is said "from memory", gathered from the page's text into one list of sources at its end."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from barfem.show.report.sections import Section

__all__ = ["with_sources", "without_memory"]

# ", from memory", "; the values from memory, fairly sure" and the like, up to what ends the clause.
_REMARK = re.compile(
    r"[,;:]?\s*(?:\(from memory[^()]*\)"
    r"|(?:(?:all|the) (?:values?|numbers?) )?from memory(?:,? (?:fairly |quite )?sure)?"
    r"(?:[,;] (?:recomputed|look it up|to be looked up)[^.;)]*)?)",
    re.IGNORECASE,
)
_CLAUSE_ENDS = re.compile(r"(?:(?<!Eq)(?<!No)(?<!Fig)(?<!art)\. |; |(?<=[^\d]): )(?=\S)")


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
        before = text[: found.start()]
        source = _CLAUSE_ENDS.split(before)[-1].strip(" ,;:(")
        if source.count("(") < source.count(")"):
            source = before.strip(" ,;:(")
        source += ")" * (source.count("(") - source.count(")"))
        if source:
            sources.setdefault(source[0].upper() + source[1:])
        text = before + text[found.end() :]
    return text
