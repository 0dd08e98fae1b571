"""What the report says, section by section: plain text, tables and drawn pictures. Its look is the template's."""

from __future__ import annotations

from collections.abc import Sequence

from markupsafe import Markup

from barfem.check.ranking import judge
from barfem.model.dimensions import main_dimensions, shape_words
from barfem.model.frozen import frozen
from barfem.show import details, life_details, notes
from barfem.show.figures import along, around, compliance, render, settings, sketch
from barfem.show.figures.catalogue import pictures_of_life
from barfem.show.figures.data import FigureData
from barfem.show.figures.picture import Picture
from barfem.show.needed import needed_words
from barfem.show.numbers import ratio, whole
from barfem.show.parts import NOTHING_GOVERNS, place
from barfem.show.reasons import reasons
from barfem.show.report.html_table import all_prose, prose
from barfem.show.table import RANKED, column_notes, head_lines, warning_lines
from barfem.show.tables import Table, column, table, words

__all__ = ["DrawnPicture", "Section", "drawn", "glance", "sections", "why"]


@frozen
class DrawnPicture:
    """A picture as elements of the page, for wide and for narrow screens."""

    wide: Markup
    narrow: Markup
    caption: str
    alt: str


@frozen
class Section:
    """One section of the report. All its text is plain: the template escapes it.

    `points` stand above pictures and tables, `points_after` below them; `headline` goes to the first screen.
    """

    slug: str
    title: str
    paragraphs: Sequence[str] = ()
    points: Sequence[str] = ()
    pictures: Sequence[DrawnPicture] = ()
    tables: Sequence[Table] = ()
    kind: str = ""
    headline: str = ""
    points_title: str = ""
    points_after: Sequence[str] = ()
    verbatim_title: str = ""
    verbatim: str = ""


def drawn(picture: Picture) -> DrawnPicture:
    """A picture drawn at both sizes."""
    wide, narrow = (Markup(render.svg_inline(picture, size)) for size in ("wide", "narrow"))
    return DrawnPicture(wide, narrow, prose(picture.caption), picture.alt)


def glance(data: FigureData) -> list[str]:
    """Which hole setting and which place govern, in a line or two."""
    result = data.result
    if result.feels_nothing:
        return [NOTHING_GOVERNS]
    stress, by_life = result.governing_for_stress, result.governing_for_life
    fatigue, peak = by_life.fatigue, stress.peak
    lines = [] if result.target_repeats is None else [_blocks(data)]
    if result.target_cycles_judged:
        factor = "" if fatigue.safety_factor_at_target is None else (
            f"; safety factor {ratio(fatigue.safety_factor_at_target, 1.0)} on stress amplitude for "
            f"{whole(result.target_cycles)} cycles ("
            f"{needed_words(result, data.strength_share)}){details.elsewhere_words(fatigue)}"
        )  # fmt: skip
        lines.append(
            f"Life is decided at {data.name(data.by_life)}: {place(fatigue.where, fatigue.surface)}, station "
            f"{fatigue.station_mm:.0f} mm{factor}."
        )
    lines.append(
        f"The peak stress is at {data.name(data.by_stress)}: {whole(peak.von_mises_MPa)} MPa von Mises at "
        f"{place(peak.where, peak.surface)}, station {peak.station_mm:.0f} mm; yield margin "
        f"{ratio(stress.yield_margin, result.yield_margin_target)}, target {result.yield_margin_target:g}."
    )
    return all_prose(lines)


def _blocks(data: FigureData) -> str:
    """Life in repeats of the duty's blocks where it is shortest."""
    found = life_details.shortest_duty(data.result)
    if found is None:
        return "No life of the duty's blocks can be stated."
    setting, duty = found
    at = f"hole {setting.holes}" + (f", {setting.case}" if data.several_cases else "")
    return (
        f"The duty's blocks decide life at {at}: {place(duty.where, duty.surface)}, station "
        f"{duty.station_mm:.0f} mm; repeats: {life_details.lasting(duty, data.result.survival)}; target "
        f"{duty.target_repeats:g}."
    )


def why(data: FigureData) -> list[str]:
    """Why each failing hole setting fails, and what was not checked or judged."""
    return all_prose([*reasons(data.result.rows), *notes.not_judged(data.result)])


def sections(data: FigureData, *, bar_text: str | None, extra: Sequence[Section] = ()) -> list[Section]:
    """Every section below the first screen; `extra` (a tolerance band, a comparison) before how to read it."""
    result, split = data.result, compliance.picture(data)
    warnings = warning_lines(result)
    made = [
        # The bar as drawn, first: who holds it against paper finds a slip before any number is believed.
        Section(
            "shape",
            "The bar as drawn",
            points=all_prose(shape_words(main_dimensions(data.bar))),
            pictures=[drawn(sketch.picture(data))],
        ),
        Section(
            "governs",
            "What governs",
            paragraphs=all_prose(details.governing(result)),
            points=all_prose(notes.lessons(result)),
            tables=_tables(data, "where"),
        ),
        Section("warnings", RANKED, points=all_prose(warnings), kind="warning") if warnings else None,
        Section(
            "stress",
            "Stress",
            pictures=[drawn(each) for each in (along.picture(data), around.picture(data)) if each is not None],
            tables=_tables(data, "places", "ends", "holes"),
        ),
        Section(
            "settings",
            "The hole settings side by side",
            pictures=[drawn(settings.picture(data))],
            tables=_tables(data, "travel", "angles"),
        ),
        None
        if split is None
        else Section(
            "compliance",
            "Where the deflection comes from",
            pictures=[drawn(split)],
            tables=_tables(data, "compliance"),
        ),
        _fatigue(data),
        Section("loads", "What links, clamps and bolts must hold", tables=_tables(data, "links", "mounts")),
        *extra,
        _reading(data),
        Section("assumptions", "Assumptions, with their sources", points=all_prose(dict.fromkeys(result.assumptions))),
        _inputs(data, bar_text),
        _solution(data),
        Section("cautions", "Cautions", points=all_prose(dict.fromkeys(result.cautions))),
    ]
    return [section for section in made if section is not None]


PLACED = ("where", "places", "ends", "holes", "travel", "angles", "compliance", "links", "mounts")


def _tables(data: FigureData, *topics: str) -> list[Table]:
    made = [details.topic_table(data.result, topic) for topic in topics if topic in details.TOPICS]
    return [each for each in made if each is not None]


def _fatigue(data: FigureData) -> Section:
    bar, j = data.bar, data.by_life
    region = int(data.solved.ranking.order[j, 0])
    strength = judge(bar, data.solved.recovery, j, region).strength
    built = table(
        "fatigue-strength",
        f"How the fatigue strength at that place is built up ({data.name(j)})",
        strength.factors,
        [
            words("Number", lambda factor: factor.name),
            column("Value", "", lambda factor: float(factor.value)),
            words("Unit", lambda factor: factor.unit),
            words("Source", lambda factor: factor.source),
        ],
    )
    # Whatever the terminal prints a table of and no other section has belongs to life.
    further = _tables(data, *(topic for topic in details.TOPICS if topic not in PLACED))
    return Section(
        "fatigue",
        "Fatigue",
        pictures=[drawn(picture) for picture in pictures_of_life(data)],
        tables=[*further, built],
    )


def _reading(data: FigureData) -> Section:
    result = data.result
    points = [
        *column_notes(result),
        "Units: mm, N, N m, MPa, degrees, cycles of full travel. Stress is von Mises unless it says otherwise, and "
        "says whether it is a peak, an amplitude or a mean. Forces in links: tension positive. A station is the "
        "distance along the developed centreline from the right tip; x is forward, y left, z up.",
        "Against a handbook or another calculation: rates differ with sharp or round corners, rigid or soft mounts "
        "(their share is in the deflection split above), small or large travel, and the link's lean; stress differs "
        "with the curvature of bends and with whether torsion and bending are added as tensors at one point, as here, "
        "or as maxima. The rate here is of each end over its own travel: with one end held it is half as large.",
        "The same input gives the same report: nothing in it is dated, and what is random has a seed. The numbers "
        "below (version, SHA-256 of the bar file, mesh, residuals) say which calculation this is.",
    ]
    return Section("reading", "How to read it", points=all_prose(points))


def _inputs(data: FigureData, bar_text: str | None) -> Section:
    steel = data.bar.steel
    numbers = (
        ("Young's modulus E", whole(steel.E_MPa), "MPa", "E"),
        ("Poisson's ratio", f"{steel.nu:g}", "", "nu"),
        ("density", whole(steel.density_kg_per_m3), "kg/m3", "density"),
        ("yield strength", whole(steel.yield_strength_MPa), "MPa", "yield_strength"),
        ("tensile strength", whole(steel.tensile_strength_MPa), "MPa", "tensile_strength"),
    )
    made = table(
        "steel",
        f"Steel: {steel.grade}, {steel.condition}",
        numbers,
        [
            words("Number", lambda row: row[0]),
            column("Value", "", lambda row: row[1], show=prose),
            words("Unit", lambda row: row[2]),
            words("Source", lambda row: steel.sources.get(row[3], "as given in the bar file")),
        ],
    )
    return Section(
        "inputs",
        "Inputs",
        paragraphs=all_prose(head_lines(data.result)),
        tables=[made],
        verbatim_title=f"The bar file, {data.result.source}" if data.result.source else "The bar file",
        verbatim=bar_text or "",
    )


def _solution(data: FigureData) -> Section:
    result = data.result
    lines = [*details.solution(result), f"barfem {result.barfem}, model {result.model}."]
    if result.input_sha256 is not None:
        lines.append(f"SHA-256 of the bar file: {result.input_sha256}.")
    mesh = result.mesh
    if mesh is not None and mesh.sections_with_stress is not None:
        lines.append(f"Stress at {mesh.sections_with_stress} sections, {mesh.points_round_section} points round each.")
    return Section("solution", "How the numbers were reached", points=all_prose(lines))
