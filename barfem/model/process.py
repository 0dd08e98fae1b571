"""What a bar went through after rolling: bending, surface, plating, presetting; checked, with what has to be said."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from barfem.model.errors import InputError
from barfem.model.grouped import grouped
from barfem.model.material import Steel
from barfem.model.nearest import did_you_mean
from barfem.model.notes import Notes
from barfem.model.skin import DEEPEST_DECARBURISED_MM, FULL_COVERAGE_PERCENT, Skin, read_peening
from barfem.model.surfaces import DEFAULT_BORE_SURFACE, DEFAULT_SURFACE, PEENED_SCALE, surface_condition
from barfem.model.warned import Effect

__all__ = ["HYDROGEN_TENSILE_MPA", "PLATINGS", "with_process"]

_BENT = ("before-hardening", "after-hardening")
PLATINGS = ("none", "zinc", "chromium", "nickel", "cadmium")
# As far as the model of small defects holds: 10^0.5 times the depth is at most 1 mm (Murakami).
DEEPEST_SMALL_MM = 0.3
# Steel above this cracks by the hydrogen of pickling and plating (ISO 9587, 9588; from memory, fairly sure).
HYDROGEN_TENSILE_MPA = 1000.0


def with_process(steel: Steel, table: Mapping[str, object], *, tube: bool, notes: Notes) -> Steel:
    """The steel with surface, peening, bore_surface, bent, stress_relieved, decarburised_depth (mm), plating and
    preset.

    What is assumed or must be warned of is noted.

    Raises
    ------
    InputError
        A name that is not known, or a process that this body cannot have had.
    """
    given_surface, bore, bent = table.get("surface"), table.get("bore_surface"), table.get("bent")
    surface = surface_condition(str(given_surface) if given_surface is not None else DEFAULT_SURFACE)
    if given_surface is None:
        notes.assume(f"surface: {surface.title} (default: as furnaces leave it; common practice, no source)")
    if bore is not None and not tube:
        raise InputError(
            "a solid bar has no bore.", where="[material] bore_surface", expected="no bore_surface, or a tube."
        )
    peening = read_peening(table.get("peening"), surface=given_surface)
    given_peening = table.get("peening")
    unused = sorted(set(given_peening) - {"kind"}) if isinstance(given_peening, Mapping) and peening is None else []
    if unused:
        notes.warn(f'[material] peening: kind = "none" leaves {" and ".join(unused)} unused', Effect.NOTHING)
    if peening is not None:
        _peening_words(Skin(surface.name, peening), notes=notes)
    if bore == PEENED_SCALE:
        raise InputError(
            "shot peening from outside does not reach the bore.",
            where="[material] bore_surface",
            expected=f"{DEFAULT_BORE_SURFACE}, or {DEFAULT_SURFACE}.",
        )
    # A tube that is hardened after bending goes through the furnace open at both ends.
    scales_inside = tube and bore is None and bent == "before-hardening"
    default_bore = DEFAULT_SURFACE if scales_inside else DEFAULT_BORE_SURFACE
    bore_surface = surface_condition(str(bore) if bore is not None else default_bore, where="[material] bore_surface")
    if bent is not None and bent not in _BENT:
        raise InputError(
            f'"{bent}" is not a way to bend.{did_you_mean(str(bent), _BENT)}',
            where="[material] bent",
            expected=" or ".join(_BENT) + ".",
        )
    if tube and bent is None:
        raise InputError(
            "a tube must say whether it was bent before or after hardening.",
            where="[material] bent",
            expected=" or ".join(_BENT) + ".",
        )
    if tube and bore is None:
        why = (
            'default: a tube hardened after bending scales inside too; bore_surface = "as-drawn" says that the '
            "furnace is "
            "protected"
            if scales_inside
            else "default: what a drawn tube has"
        )
        notes.assume(f"bore: {bore_surface.title} ({why}; common practice, no source)")
    relieved = table.get("stress_relieved")
    if relieved is not None and not isinstance(relieved, bool):
        raise InputError(f"{relieved!r} is neither true nor false.", where="[material] stress_relieved")
    if bent is None:
        bent = "before-hardening"
        notes.assume(
            "bent before hardening, so that no residual stress is left at the bends (default: hot bending; "
            "common practice, no source)"
        )
    if bent == "after-hardening":
        if relieved is None:
            relieved = False
            notes.assume("not stress-relieved after cold bending (default, the worse of both)")
        if not relieved:
            notes.warn(
                "bent cold and not stress-relieved: tensile residual stress at the inside of each bend", Effect.COUNTED
            )
    steel = replace(
        steel,
        surface=surface.name,
        peening=peening,
        bore_surface=bore_surface.name,
        bent=str(bent),
        stress_relieved=relieved,
    )
    return _skin(steel, table, notes=notes)


def _peening_words(skin: Skin, *, notes: Notes) -> None:
    peening = skin.peening
    if peening is None:
        return
    if not peening.covers:
        notes.warn(
            f"a coverage of {peening.coverage_percent:g} % leaves spots without a dent, and the weakest spot "
            "decides: peening "
            f"earns nothing below {FULL_COVERAGE_PERCENT:g} % (SAE J2277; from memory)",
            Effect.COUNTED,
        )
    elif peening.residual_MPa is None:
        notes.assume(
            f"shot peening: 500 MPa of compression at the surface, none from {peening.depth_mm:g} mm on (default: "
            "the low "
            "end of what is measured on spring steel; from memory, fairly sure)"
        )


def _skin(steel: Steel, table: Mapping[str, object], *, notes: Notes) -> Steel:
    """Decarburised depth, plating and presetting."""
    depth, plating, preset = table.get("decarburised_depth"), table.get("plating"), table.get("preset")
    if depth is not None:
        number = float(depth) if isinstance(depth, int | float) and not isinstance(depth, bool) else -1.0
        if not 0.0 <= number <= DEEPEST_DECARBURISED_MM:
            raise InputError(
                f"a decarburised depth of {depth!r} mm is beyond what its model holds for.",
                where="[material] decarburised_depth",
                expected=f"0 to {DEEPEST_DECARBURISED_MM:g} mm; a deeper skin has to be taken off.",
            )
        steel = replace(steel, decarburised_depth_mm=number)
        if number > DEEPEST_SMALL_MM:
            notes.warn(
                f"a decarburised depth of {number:g} mm is beyond the model of small flaws ({DEEPEST_SMALL_MM:g} "
                "mm): it is "
                "judged by the threshold of long cracks, held at the value where that model ends; take such a skin off",
                Effect.COUNTED,
            )
    if plating is not None:
        if plating not in PLATINGS:
            raise InputError(
                f'"{plating}" is no plating known here.{did_you_mean(str(plating), PLATINGS)}',
                where="[material] plating",
                expected="one of " + ", ".join(PLATINGS) + ".",
            )
        steel = replace(steel, plating=None if plating == "none" else str(plating))
        if steel.plating and steel.tensile_strength_MPa > HYDROGEN_TENSILE_MPA:
            notes.warn(
                f"electroplated steel of {steel.tensile_strength_MPa:.0f} MPa tensile strength can crack days after "
                f"plating, from hydrogen, at stresses far below these (above {grouped(HYDROGEN_TENSILE_MPA)} MPa: "
                "relieve before and bake after plating by ISO 9587 and 9588; from memory). That is not in the numbers; "
                "a coating without pickling or current avoids it",
                Effect.CRACKS,
            )
    if preset is not None and not isinstance(preset, bool):
        raise InputError(f"{preset!r} is neither true nor false.", where="[material] preset")
    if preset:
        steel = replace(steel, preset=True)
        notes.warn(
            "presetting earns nothing here: in reversed duty what it gains in one sense it loses in the other, and its "
            "residual stress is not counted in one-sided duty either",
            Effect.NOTHING,
        )
    return steel
