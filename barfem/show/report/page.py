"""The report as one page that needs nothing else: style, script, figures and data are all in it.

It asks the network for nothing, and its own content security policy forbids it to; the one script that may run is
named there by its hash, so that no text from a bar file can ever become one.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from barfem.check.result import CheckResult
from barfem.model.frozen import frozen
from barfem.model.sentences import with_capital
from barfem.show import notes
from barfem.show.figures import bar as bar_figure
from barfem.show.figures.data import FigureData
from barfem.show.numbers import significant
from barfem.show.report.html_table import all_prose, prose, table_on_page
from barfem.show.report.maker import for_the_maker
from barfem.show.report.scene_data import scene_data
from barfem.show.report.sections import Section, drawn, glance, sections, why
from barfem.show.report.sources import with_sources
from barfem.show.table import settings_table
from barfem.show.tables import Table
from barfem.study.sections import section_name

__all__ = ["report_page"]

HERE = Path(__file__).parent


def report_page(
    result: CheckResult,
    *,
    bar_text: str | None = None,
    extra: Sequence[Section] = (),
    date: str = "",
    one_page: bool = False,
) -> str:
    """The report of one check as HTML.

    Parameters
    ----------
    result
        Of `check_bar`.
    bar_text
        The bar file as written, which the report echoes.
    extra
        Further sections, such as a tolerance band or a comparison with another bar, when there are any.
    date
        Shown on page one where it is given: the page never dates itself.
    one_page
        Page one alone: what the bar is, verdict, bar, hole settings and what governs.
    """
    data = FigureData(result)
    if {"drawing", "bending"} & set(data.bar.tables or {}):  # the file speaks to a maker
        extra = [*extra, for_the_maker(data.bar)]
    environment = Environment(
        loader=FileSystemLoader(HERE), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    environment.filters["table"] = table_on_page
    script = (HERE / "viewer.js").read_text(encoding="utf-8")
    digest = base64.b64encode(hashlib.sha256(script.encode("utf-8")).digest()).decode("ascii")
    cases = dict.fromkeys(row.case for row in result.rows)
    return environment.get_template("report.html.j2").render(
        css=Markup((HERE / "report.css").read_text(encoding="utf-8") + _running_foot(result)),
        script=Markup(script),
        script_hash=f"sha256-{digest}",
        version=result.barfem,
        title=f"{result.name}: {'passes' if result.passes else 'fails'}",
        name=result.name,
        facts=[(name, prose(value)) for name, value in _facts(result, date)],
        one_page=one_page,
        passes=result.passes,
        verdict=with_capital(notes.verdict(result).removeprefix("VERDICT: ")),
        glance=[
            *all_prose(notes.look_twice(result.look_twice)),
            *glance(data),
            *(section.headline for section in extra if section.headline),
        ],
        why=why(data),
        still=drawn(bar_figure.picture(data)),
        settings=[_settings(result, case) for case in cases],
        sections=[] if one_page else with_sources(sections(data, bar_text=bar_text, extra=extra)),
        scene=scene_data(data),
        count=len(result.settings),
        colophon=prose(
            f"Made by barfem {result.barfem} from {result.source or 'a bar given as data'}"
            + (f", SHA-256 {result.input_sha256}." if result.input_sha256 else ".")
            + " An estimate for design, not a release."
        ),
    )


def _facts(result: CheckResult, date: str) -> list[tuple[str, str]]:
    """What page one says of the bar before its verdict: drawing, revision, steel, condition, finish, section, date."""
    steel = result.states.bar.steel
    finish = steel.skin.title + (f", {steel.plating}" if steel.plating else "")
    facts = (
        ("Drawing", result.drawing or ""),
        ("Revision", result.revision or ""),
        ("Steel", steel.grade),
        ("Condition", steel.condition),
        ("Finish", finish),
        ("Section", f"{section_name(result.states.bar.section)} mm, {significant(result.mass_kg)} kg"),
        ("Date", date),
    )
    return [(name, value) for name, value in facts if value]


@frozen
class _SettingsTable:
    """The hole settings in one load case: its name, the case in words, and the table."""

    title: str
    words: str
    table: Table


def _settings(result: CheckResult, case: str) -> _SettingsTable:
    words = result.cases.get(case, "")
    return _SettingsTable(
        f"Hole settings, {case}",
        prose(with_capital(words) + "." if words else ""),
        replace(settings_table(result, case), title=""),
    )


def _running_foot(result: CheckResult) -> str:
    """Page numbers and origin at the foot of every printed page. Nothing from the bar file goes into a style sheet."""
    origin = f"barfem {result.barfem}" + (
        f", bar file SHA-256 {result.input_sha256[:12]}" if result.input_sha256 else ""
    )
    return (
        f'\n@page {{ @bottom-left {{ content: "{origin}"; font: 7.5pt sans-serif; color: #5b6775; }}'
        ' @bottom-right { content: counter(page) " / " counter(pages); font: 7.5pt sans-serif; color: #5b6775; } }\n'
    )
