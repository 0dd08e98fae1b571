"""Bands of the bar file's [tolerances] table: what may stand there, and what it means."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, WithJsonSchema

from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.hardness import parse_hardness, tensile_from_hardness
from barfem.model.schema_types import list_schema, number_schema, refusal
from barfem.model.units import number

__all__ = [
    "WIDEST_DEG",
    "AngleBand",
    "DepthBand",
    "DiameterBand",
    "Distribution",
    "GivenBand",
    "HardnessBand",
    "LengthBand",
    "ShareBand",
    "StressWindow",
    "another_bar",
]

Distribution = Literal["normal", "uniform"]
DISTRIBUTIONS = ("normal", "uniform")


@frozen
class GivenBand:
    """A band as the bar file gives it.

    `low` and `high` are deviations from the drawing (mm, deg, or where `relative` shares of the nominal), except those
    of a window (strength, hardness, decarburised depth), which are the values themselves. `table` names a standard's
    table instead, and both are then zero. `text` is what the file says; `off`: 0 stands in a window's place, and
    nothing varies.
    """

    low: float
    high: float
    relative: bool = False
    table: str | None = None
    distribution: Distribution | None = None
    text: str = ""
    off: bool = False


WIDEST_DEG = 45.0
"""Farther from the drawing it is another bar."""


def another_bar(deviation: float, unit: str) -> str:
    """What is wrong with a band so wide."""
    return f"a deviation of {deviation:g} {unit} makes another bar and is no tolerance."


def _with_its_distribution(value: Any, expected: str) -> tuple[Any, Distribution | None]:
    """What a file gives as a band, and the distribution that a table beside it names."""
    if not isinstance(value, dict):
        return value, None
    if not {"band"} <= set(value) <= {"band", "distribution"}:
        raise refusal(f"a table of {', '.join(map(str, value)) or 'nothing'} is no band.", expected)
    distribution = value.get("distribution")
    if distribution is not None and distribution not in DISTRIBUTIONS:
        raise refusal(f"{distribution!r} is no distribution known here.", "normal or uniform.")
    return value["band"], distribution


def _band(kind: str, *, tables: bool = False, window: bool = False) -> Callable[[Any], GivenBand]:
    example = _EXAMPLES[kind if not window else f"{kind} window"] + (', or a table: "h9"' if tables else "")
    expected = f'{example}; or {{ band = ..., distribution = "uniform" }} (or "normal").'

    def convert(value: Any) -> GivenBand:
        value, distribution = _with_its_distribution(value, expected)
        if isinstance(value, GivenBand):
            return value
        if tables and isinstance(value, str) and not any(c.isdigit() for c in value[:1]):
            return GivenBand(0.0, 0.0, table=value.strip(), distribution=distribution, text=value.strip())
        if window and value == 0 and not isinstance(value, bool):
            return GivenBand(0.0, 0.0, distribution=distribution, text="0", off=True)
        low, high, relative = _ends(value, kind, window, expected)
        if not low <= high:
            raise refusal(f"the band ends at {high:g}, below its start at {low:g}.", expected)
        if kind == "plain" and max(abs(low), abs(high)) >= 1.0:
            raise refusal(f"{value!r} is a share of 100 % or more.", expected)
        if window and low < 0.0:
            raise refusal(f"{low:g} is below 0.", expected)
        return GivenBand(
            low, high, relative=relative or kind == "plain", distribution=distribution, text=_as_written(value)
        )

    return convert


_EXAMPLES = {
    "length": '0.3 (mm to both sides), [-0.1, 0.0] (deviations) or "2 %"',
    "angle": "0.5 (deg to both sides) or [-0.3, 0.5]",
    "plain": '"15 %" (to both sides) or ["-5 %", "10 %"]',
    "stress window": "[1350, 1650], the least and the greatest there is, in MPa; or 0: does not vary",
    "length window": "[0.0, 0.1], the least and the greatest there is, in mm; or 0: does not vary",
}


def _ends(value: Any, kind: str, window: bool, expected: str) -> tuple[float, float, bool]:
    if isinstance(value, list | tuple):
        if len(value) != 2:
            raise refusal(f"{len(value)} entr{'y' if len(value) == 1 else 'ies'} instead of two.", expected)
        (low, one), (high, other) = (_one(entry, kind, expected) for entry in value)
        if one != other:
            raise refusal("one end is a share and the other is not.", expected)
        return low, high, one
    if window:
        raise refusal(f"{value!r} is no window.", expected)
    size, relative = _one(value, kind, expected)
    if size < 0.0:
        raise refusal(f"{value!r} is below 0; a band alone goes to both sides.", expected)
    return -size, size, relative


def _one(value: Any, kind: str, expected: str) -> tuple[float, bool]:
    try:
        if isinstance(value, str) and value.rstrip().endswith("%"):
            return number(float(value.rstrip()[:-1]), "plain") / 100.0, True
        return number(value, kind), False
    except InputError as error:
        raise refusal(error.problem, expected) from error
    except ValueError as error:
        raise refusal(f"{value!r} is not a number with %.", expected) from error


def _as_written(value: Any) -> str:
    if isinstance(value, list | tuple):
        return f"[{', '.join(str(entry) for entry in value)}]"
    return f"±{value}"


def _hardness(value: Any) -> GivenBand:
    """A window such as "43-49 HRC", as the tensile strengths that belong to its ends (MPa)."""
    expected = '"43-49 HRC", "400-460 HBW" or "420-490 HV".'
    value, distribution = _with_its_distribution(value, expected)
    try:
        found = parse_hardness(value, where="hardness")
        ends = [tensile_from_hardness(end, scale=found.scale, where="hardness") for end in (found.low, found.high)]
    except InputError as error:
        raise refusal(error.problem, error.expected or expected) from error
    return GivenBand(ends[0], ends[1], distribution=distribution, text=found.text)


# As a file gives a band, for `barfem schema`: one value, or the two ends, each with its unit or % where it is text.
_TEXT = {"type": "string"}


def _band_schema(kind: str, *, window: bool = False, words: bool = False) -> WithJsonSchema:
    end = number_schema(kind)
    single: list[dict[str, Any]] = [{"const": 0}] if window else [number_schema(kind, minimum=0.0)]
    given: dict[str, Any] = {"anyOf": [*single, *([_TEXT] if words else []), list_schema(end, 2, 2)]}
    return _with_distribution(given)


def _with_distribution(given: dict[str, Any]) -> WithJsonSchema:
    table = {
        "type": "object",
        "properties": {
            "band": given | {"description": "the band, as it stands alone"},
            "distribution": {"enum": list(DISTRIBUTIONS), "description": "of this band"},
        },
        "required": ["band"],
        "additionalProperties": False,
    }
    return WithJsonSchema({"anyOf": [*given["anyOf"], table]})


LengthBand = Annotated[Any, BeforeValidator(_band("length")), _band_schema("length")]
DiameterBand = Annotated[Any, BeforeValidator(_band("length", tables=True)), _band_schema("length", words=True)]
AngleBand = Annotated[Any, BeforeValidator(_band("angle")), _band_schema("angle")]
ShareBand = Annotated[Any, BeforeValidator(_band("plain")), _band_schema("plain")]
StressWindow = Annotated[Any, BeforeValidator(_band("stress", window=True)), _band_schema("stress", window=True)]
DepthBand = Annotated[Any, BeforeValidator(_band("length", window=True)), _band_schema("length", window=True)]
HardnessBand = Annotated[Any, BeforeValidator(_hardness), _with_distribution({"anyOf": [_TEXT]})]
