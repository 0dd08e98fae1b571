"""The table [tolerances] of a bar file: bands about the drawing, each refused here where it is none by itself."""

from typing import Literal

from pydantic import Field, ValidationInfo, field_validator

from barfem.model.errors import InputError
from barfem.model.plausible import a_steels, can_be_a_steels
from barfem.model.schema_table import Table
from barfem.model.schema_types import refusal
from barfem.model.skin import DEEPEST_DECARBURISED_MM
from barfem.model.tolerance_tables import table_of
from barfem.model.tolerance_types import (
    WIDEST_DEG,
    AngleBand,
    DepthBand,
    DiameterBand,
    GivenBand,
    HardnessBand,
    LengthBand,
    ShareBand,
    StressWindow,
    another_bar,
)

__all__ = ["TolerancesTable"]


class TolerancesTable(Table):
    """Bands about the drawing; a key that is left out takes its default (`barfem.study.bands`), 0 switches one off."""

    distribution: Literal["normal", "uniform"] | None = Field(
        default=None, description="of every band that does not say its own"
    )
    diameter: DiameterBand = Field(default=None, description="outside diameter: a band, or a table such as h9")
    wall: DiameterBand = Field(default=None, description="wall of a tube")
    flat_thickness: LengthBand = Field(default=None, description="thickness of flats")
    flat_width: LengthBand = Field(default=None, description="width of flats")
    straight_length: LengthBand = Field(default=None, description="each straight between bends")
    tip_position: LengthBand = Field(default=None, description="each arm's tip, from its straightness")
    bend_radius: LengthBand = Field(default=None, description="each bend's radius")
    bend_angle: AngleBand = Field(default=None, description="each bend's angle")
    bend_rotation: AngleBand = Field(default=None, description="each bend's plane against the next one's")
    hole_position: LengthBand = Field(default=None, description="each hole along the bar, each side")
    mount_position: LengthBand = Field(default=None, description="each mount along the bar")
    mount_stiffness: ShareBand = Field(default=None, description="all stiffnesses of a bushing together")
    E: ShareBand = Field(default=None, description="Young's modulus")
    tensile_strength: StressWindow = Field(default=None, description="the least and the greatest that is delivered")
    hardness: HardnessBand = Field(
        default=None, description="the least and the greatest hardness that is delivered, instead of tensile_strength"
    )
    yield_ratio: ShareBand = Field(default=None, description="of yield to tensile strength")
    decarburised_depth: DepthBand = Field(default=None, description="the least and the greatest")
    rate_band: ShareBand = Field(default=None, description="share of the rate as drawn that a bar must keep")

    # What a band is by itself is refused here, by every command that reads the file. Whether this bar has the
    # dimension, and of which size, is for what goes by bands (`study.bands`): `size`, `sweep` and `compare` make other
    # bars of the file, to which its bands need not fit.
    @field_validator("diameter", "wall")
    @classmethod
    def _known_table(cls, band: GivenBand | None, info: ValidationInfo) -> GivenBand | None:
        if band is not None and band.table is not None and info.field_name is not None:
            try:
                table_of(info.field_name, band.table)
            except InputError as error:
                raise refusal(error.problem, error.expected or "a band in mm.") from None
        return band

    @field_validator("bend_angle", "bend_rotation", "decarburised_depth")
    @classmethod
    def _no_other_bar(cls, band: GivenBand | None, info: ValidationInfo) -> GivenBand | None:
        skin = info.field_name == "decarburised_depth"
        most, unit = (DEEPEST_DECARBURISED_MM, "mm") if skin else (WIDEST_DEG, "deg")
        widest = 0.0 if band is None else max(abs(band.low), abs(band.high))
        if widest > most:
            raise refusal(another_bar(widest, unit), f"at most {most:g} {unit}; is the unit right?")
        return band

    @field_validator("rate_band")
    @classmethod
    def _some_rates(cls, band: GivenBand | None) -> GivenBand | None:
        if band is not None and band.low >= band.high:
            raise refusal(
                "of no width every bar misses it: none has the rate as drawn exactly.",
                '"5 %" (to both sides) or ["-5 %", "10 %"]; left out, it is 5 %.',
            )
        return band

    @field_validator("tensile_strength")
    @classmethod
    def _a_steels(cls, band: GivenBand | None) -> GivenBand | None:
        for end in () if band is None or band.off else (band.low, band.high):
            if not can_be_a_steels("tensile_strength", end):
                raise refusal(f"{end:g} MPa cannot be a steel's.", f"{a_steels('tensile_strength')}.")
        return band

    @field_validator("hardness")
    @classmethod
    def _strength_once(cls, band: GivenBand | None, info: ValidationInfo) -> GivenBand | None:
        if band is not None and info.data.get("tensile_strength") is not None:
            raise refusal(
                "both hardness and tensile_strength are given.", "one of them: each says how strong bars may be."
            )
        return band
