"""Field types of the bar file's tables: each converts units, checks its range, and says what would be right."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any

from pydantic import BeforeValidator, WithJsonSchema
from pydantic_core import PydanticCustomError

from barfem.model.errors import InputError
from barfem.model.lra import BendRow
from barfem.model.names import unprintable
from barfem.model.plausible import a_steels
from barfem.model.units import UNITS, as_written, number

__all__ = [
    "Acceleration",
    "Angle",
    "Density",
    "Direction",
    "Format",
    "Length",
    "MotionRatio",
    "NonNegativeLength",
    "NonNegativePercent",
    "NonNegativePlain",
    "NonNegativeStiffness",
    "NonNegativeTorsionalStiffness",
    "Plain",
    "Point",
    "Points",
    "PoissonsRatio",
    "PositiveAngle",
    "PositiveLength",
    "PositivePercent",
    "PositivePlain",
    "PositiveStiffness",
    "Radii",
    "ResidualStress",
    "Rows",
    "SkinDepth",
    "Stress",
    "Text",
    "Wall",
    "YoungsModulus",
    "checked",
    "list_schema",
    "number_schema",
    "refusal",
]


def refusal(problem: str, expected: str) -> PydanticCustomError:
    """A validation error that carries its remedy; the reader turns it into an InputError with its place."""
    # Bytes of a command line that are no text come as half characters, which no message may hold.
    problem = problem.encode("utf-8", "backslashreplace").decode("utf-8")
    return PydanticCustomError("barfem", "{problem}", {"problem": problem, "expected": expected})


def checked(
    kind: str,
    *,
    at_least: float | None = None,
    above: float | None = None,
    example: str | None = None,
    unit: str | None = None,
    most: float | None = None,
) -> Callable[[Any], float]:
    """A converter to a number of `kind` (its unit is that of `UNITS`) that refuses what is out of range.

    `example` is what is right where that of the kind would mislead: a strength is no example of a modulus. `unit` is
    that of a plain number which has one that no text may change. `most` is that of `number`.
    """
    unit = UNITS[kind].replace("**", "").replace("*", "·") if unit is None else unit

    def convert(value: Any) -> float:
        try:
            result = number(value, kind, example=example, most=most)
        except InputError as error:
            raise refusal(error.problem, error.expected or "") from error
        shown = f"{result:g} {unit}".strip()
        if above is not None and not result > above:
            raise refusal(f"{shown} is not above {above:g}.", f"a number above {above:g}{' ' + unit if unit else ''}.")
        if at_least is not None and not result >= at_least:
            raise refusal(f"{shown} is below {at_least:g}.", f"{at_least:g} or more{', in ' + unit if unit else ''}.")
        return result

    return convert


MOST_ENTRIES = 66
"""Points or rows of one bar: 64 bends, far more than any has."""


def _entries(value: Any, expected: str) -> list[Any]:
    if isinstance(value, list | tuple) and len(value) > MOST_ENTRIES:
        raise refusal(f"{len(value)} entries are more than a bar has.", f"at most {MOST_ENTRIES}; {expected}")
    if not isinstance(value, list | tuple):
        raise refusal(f"{as_written(value)} is not a list.", expected)
    return list(value)


def _numbers(value: Any, kinds: tuple[str, ...], names: tuple[str, ...], expected: str, label: str = "") -> list[float]:
    """A list of numbers of the given kinds; errors name the entry."""
    entries = _entries(value, expected)
    if len(entries) != len(kinds):
        raise refusal(
            f"{label}{len(entries)} entr{'y' if len(entries) == 1 else 'ies'} instead of {len(kinds)}.", expected
        )
    out = []
    for entry, kind, name in zip(entries, kinds, names, strict=True):
        try:
            out.append(number(entry, kind))
        except InputError as error:
            raise refusal(f"{label}{name}: {error.problem}", expected) from error
    return out


_XYZ = ("x", "y", "z")


def _point(value: Any) -> tuple[float, ...]:
    return tuple(_numbers(value, ("length",) * 3, _XYZ, "[x, y, z] in mm, in drawing axes."))


def _direction(value: Any) -> tuple[float, ...]:
    expected = "[x, y, z] in drawing axes, plain numbers, any length but zero."
    vector = _numbers(value, ("plain",) * 3, _XYZ, expected)
    size = max(abs(component) for component in vector)
    if size == 0.0:
        raise refusal("the vector is zero and points nowhere.", expected)
    scaled = [component / size for component in vector]
    norm = sum(component**2 for component in scaled) ** 0.5
    return tuple(component / norm for component in scaled)


def _points(value: Any) -> tuple[tuple[float, ...], ...]:
    expected = "a list of [x, y, z] in mm: right tip, corner points in order, left tip."
    return tuple(
        tuple(_numbers(entry, ("length",) * 3, _XYZ, expected, label=f"point {i}: "))
        for i, entry in enumerate(_entries(value, expected), start=1)
    )


def _radii(value: Any) -> float | tuple[float, ...]:
    convert = checked("length", above=0.0)
    if not isinstance(value, list | tuple):
        return convert(value)
    out = []
    for i, entry in enumerate(value, start=1):
        try:
            out.append(convert(entry))
        except PydanticCustomError as error:
            context = error.context or {}
            raise refusal(f"radius {i}: {context['problem']}", str(context["expected"])) from error
    return tuple(out)


def _rows(value: Any) -> tuple[BendRow, ...]:
    expected = "[length, rotation, angle, radius] in mm and deg in every row but the last, [length] in the last."
    names, kinds = ("length", "rotation", "angle", "radius"), ("length", "angle", "angle", "length")
    rows = []
    for i, entry in enumerate(_entries(value, expected), start=1):
        if not isinstance(entry, list | tuple) or len(entry) not in (1, 4):
            raise refusal(f"row {i} is {entry!r}.", expected)
        rows.append(BendRow(*_numbers(entry, kinds[: len(entry)], names[: len(entry)], expected, label=f"row {i}, ")))
    return tuple(rows)


_MOST_MOTION_RATIO = 3.0
LONGEST_TEXT = 400  # characters of a name, a path or a note


def _text(value: Any) -> str:
    if not isinstance(value, str):
        shown = as_written(value)
        such = "" if value is None or isinstance(value, dict | list) else f', such as "{shown}"'
        raise refusal(f"{shown} is not text.", f"text in quotes{such}.")
    if not value.strip():
        raise refusal("the text is empty.", "text in quotes.")
    if len(value) > LONGEST_TEXT:
        raise refusal(f"the text has {len(value)} characters.", f"at most {LONGEST_TEXT} characters on one line.")
    found = unprintable(value.strip())
    if found is not None:
        raise refusal(f"{value!a} holds {found}.", "text on one line, in quotes.")
    return value.strip()


def _format(value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or value != 1:
        raise refusal(f"format = {as_written(value)} is not known to this barfem.", "format = 1.")
    return value


def _motion_ratio(value: Any) -> float:
    ratio = checked("plain")(value)
    if not 0.0 < ratio <= _MOST_MOTION_RATIO:
        raise refusal(
            f"a motion ratio of {ratio:g} is none.",
            "travel of the part / wheel travel, above 0, mostly 0.3 to 1.2 (never wheel / part).",
        )
    return ratio


# What stands in a file before it is converted, for `barfem schema`: a number in the field's unit, or text with a unit.
UNIT_TEXT = r"^\s*[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?(\s*/\s*\d+(\.\d*)?)?\s*[A-Za-z\u00b5\u03bc°%][^,]*$"


def number_schema(kind: str, **limits: float) -> dict[str, Any]:
    """JSON Schema of a number of `kind` as a file gives it. Limits hold for plain numbers, which are in its unit."""
    unit = UNITS[kind].replace("**", "")
    plain = {"type": "number", **({"description": f"in {unit}"} if unit else {}), **limits}
    return {"anyOf": [plain, {"type": "string", "pattern": UNIT_TEXT, "description": "a number with its unit"}]}


def _number(
    kind: str, *, at_least: float | None = None, above: float | None = None, example: str | None = None
) -> tuple[Any, Any]:
    limits = {"minimum": at_least, "exclusiveMinimum": above}
    shape = number_schema(kind, **{name: limit for name, limit in limits.items() if limit is not None})
    return BeforeValidator(checked(kind, at_least=at_least, above=above, example=example)), WithJsonSchema(shape)


def list_schema(entry: dict[str, Any], least: int, most: int | None = None) -> dict[str, Any]:
    """JSON Schema of a list of `least` to `most` alike entries."""
    return {"type": "array", "items": entry, "minItems": least, **({} if most is None else {"maxItems": most})}


_LENGTH, _POSITIVE = number_schema("length"), number_schema("length", exclusiveMinimum=0.0)
_ROW = {"type": "array", "items": {"anyOf": [_LENGTH, number_schema("angle")]}}
_ROW_SCHEMA = {"anyOf": [{**_ROW, "minItems": size, "maxItems": size} for size in (1, 4)]}

Format = Annotated[int, BeforeValidator(_format)]
Text = Annotated[str, BeforeValidator(_text), WithJsonSchema({"type": "string", "pattern": r"\S"})]
Length = Annotated[float, *_number("length")]
PositiveLength = Annotated[float, *_number("length", above=0.0)]
NonNegativeLength = Annotated[float, *_number("length", at_least=0.0)]
Angle = Annotated[float, *_number("angle")]
PositiveAngle = Annotated[float, *_number("angle", above=0.0)]
NonNegativeStiffness = Annotated[float, *_number("force per length", at_least=0.0)]
PositiveStiffness = Annotated[float, *_number("force per length", above=0.0)]
NonNegativeTorsionalStiffness = Annotated[float, *_number("torsional stiffness", at_least=0.0)]
Stress = Annotated[float, *_number("stress", above=0.0)]
YoungsModulus = Annotated[float, *_number("stress", above=0.0, example=f'{a_steels("E")} or "206 GPa"')]
PoissonsRatio = Annotated[float, *_number("plain", example=a_steels("nu"))]
ResidualStress = Annotated[
    float, *_number("stress", example='-500.0 (MPa, negative: compression at the surface) or "-72 ksi"')
]
SkinDepth = Annotated[float, *_number("length", at_least=0.0, example='0.1 (mm) or "0.004 in"')]
Wall = Annotated[float, *_number("length", above=0.0, example='3.5 (mm) or "0.138 in"')]
Density = Annotated[float, *_number("density", above=0.0)]
Acceleration = Annotated[float, *_number("acceleration")]
Plain = Annotated[float, *_number("plain")]
PositivePlain = Annotated[float, *_number("plain", above=0.0)]
MotionRatio = Annotated[
    float,
    BeforeValidator(_motion_ratio),
    WithJsonSchema(number_schema("plain", exclusiveMinimum=0.0, maximum=_MOST_MOTION_RATIO)),
]
NonNegativePercent = Annotated[float, *_number("percent", at_least=0.0)]
PositivePercent = Annotated[float, *_number("percent", above=0.0)]
NonNegativePlain = Annotated[float, *_number("plain", at_least=0.0)]
Point = Annotated[tuple[float, float, float], BeforeValidator(_point), WithJsonSchema(list_schema(_LENGTH, 3, 3))]
Direction = Annotated[
    tuple[float, float, float],
    BeforeValidator(_direction),
    WithJsonSchema(list_schema(number_schema("plain"), 3, 3)),
]
Points = Annotated[
    tuple[tuple[float, float, float], ...],
    BeforeValidator(_points),
    WithJsonSchema(list_schema(list_schema(_LENGTH, 3, 3), 2)),
]
Radii = Annotated[
    Any, BeforeValidator(_radii), WithJsonSchema({"anyOf": [*_POSITIVE["anyOf"], list_schema(_POSITIVE, 0)]})
]
Rows = Annotated[Any, BeforeValidator(_rows), WithJsonSchema(list_schema(_ROW_SCHEMA, 1))]
