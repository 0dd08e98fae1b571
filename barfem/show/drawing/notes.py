"""Notes of the drawing: what the maker must know that no dimension says."""

from __future__ import annotations

from collections.abc import Sequence

from barfem.model.bar import Bar
from barfem.model.surfaces import SURFACES
from barfem.vendor.maker_tables import drawing_of, process_of
from barfem.vendor.skin_order import coating_asked, decarburised_at_most, peening_asked, size_tolerances

__all__ = ["drawing_notes"]


def drawing_notes(
    bar: Bar, *, rates: Sequence[tuple[str, float, float, float]] = (), results: Sequence[str] = (), step_note: str = ""
) -> list[str]:
    """The notes in the order of need.

    Parameters
    ----------
    bar
        The bar.
    rates
        Hole, expected one_end_held rate in N/mm, and its least and greatest deviation in %.
    results
        Lines of stress and life, only where they were asked for.
    step_note
        What the solid leaves out.
    """
    given, steel = drawing_of(bar), bar.steel
    body = f"round {bar.section.diameter_mm:g}"
    if bar.section.wall_mm is not None:
        body = f"tube {bar.section.diameter_mm:g} x {bar.section.wall_mm:g} (wall as delivered)"
    bent = "after hardening" if steel.bent == "after-hardening" else "before hardening"
    relieved = ", then stress-relieved" if steel.stress_relieved and steel.bent == "after-hardening" else ""
    hardness = given.hardness or "not given: to be agreed"
    ends = f"; at the ends {given.ends}" if given.ends else ""
    finish, bore = (SURFACES[each].title.removesuffix(", unpeened") for each in (steel.surface, steel.bore_surface))
    of_bore = "" if bar.section.wall_mm is None else f" Bore: {bore}."
    peening, coating = (asked(bar) or "none given" for asked in (peening_asked, coating_asked))
    notes = [
        "Geometry is that of the FINISHED PART, unloaded, at 20 C, after heat treatment and peening, coating excluded. "
        "Springback is the maker's and not in the data. Right and left are the car's, as its driver has them: its "
        "front is towards the reader of the front view and at the foot of the plan.",
        f"Material {steel.grade}, {steel.condition}; {body}. Bent {process_of(bar)}, {bent}{relieved}.",
        f"Hardness {hardness}, measured at the middle of the bar{ends}.",
        f"Surface: {finish}.{of_bore} Peening: {peening}. Coating: {coating}.",
    ]
    if (deepest := decarburised_at_most(bar)) is not None:
        notes.append(f"Decarburisation at most {deepest[0]:g} mm.")
    if sizes := size_tolerances(bar):
        general = "" if given.general_tolerance in (None, "none") else ", before the general one"
        notes.append(f"Tolerances{general}: {'; '.join(sizes)}.")
    if given.marking:
        notes.append(f"Marking: {given.marking}" + (f", at the {given.mark_at} end." if given.mark_at else "."))
    if given.profile_tolerance is not None:
        notes.append(
            f"Form: tangent points within a profile tolerance of {given.profile_tolerance:g} mm (total zone, ISO 1101) "
            "from datum A-B-C."
        )
    if given.tip_mismatch is not None:
        notes.append(
            f"Tip mismatch at most {given.tip_mismatch:g} mm: deviation of the left outermost hole less that of the "
            "right one, along the travel."
        )
    notes.append(
        "Clocking of hole axes"
        + (f" from the plane of bend {given.datum_bend} (right tip first)" if given.datum_bend else "")
        + f": see table, within {given.clocking_tolerance or 1.0:g} deg"
        + ("." if given.clocking_tolerance else " (default).")
    )
    notes.append(
        "Datum A: line through the centreline at the two outermost mounts; B: middle between them; C: turned about A "
        "until both outermost holes deviate equally and oppositely along the travel."
    )
    if rates:
        text = "; ".join(f"hole {name}: {rate:.1f} N/mm {_band(low, high)}" for name, rate, low, high in rates)
        notes.append(f"Expected rate, left end moved and right end held: {text}.")
    notes += [*given.notes, *results]
    if step_note:
        notes.append(step_note)
    notes.append(
        "Forces and rates are estimates, not a release: validate by test; licensed practice and local rules decide."
    )
    return notes


def _band(low: float, high: float) -> str:
    return f"±{high:.0f} %" if round(high, 6) == round(-low, 6) else f"{low:+z.0f} to {high:+z.0f} %"
