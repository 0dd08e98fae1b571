"""Material tables: one TOML file a grade, each number with its source.

The layout is shown and explained at the head of every file in materials/.
"""

from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path
from stat import S_ISFIFO
from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from barfem.model.data_paths import materials_dir
from barfem.model.errors import InputError
from barfem.model.nearest import did_you_mean
from barfem.model.plausible import TESTED_MM, a_steels, can_be_a_steels, is_a_steels
from barfem.model.schema_types import refusal
from barfem.model.skin import DEEPEST_DECARBURISED_MM, Skin, read_peening
from barfem.model.surfaces import SURFACE_NAMES
from barfem.model.toml_file import read_toml

__all__ = [
    "Condition",
    "Cyclic",
    "GradeTable",
    "Hardness",
    "Quantity",
    "ScatterData",
    "StressLife",
    "find_table",
    "known_tables",
    "read_table",
]

Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


class Quantity(_Strict):
    """One number with the key of its source. `typical` marks a mean where no minimum is published."""

    value: Positive
    source: str
    typical: bool = False
    upper: Positive | None = None

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        if self.upper is not None and self.upper < self.value:
            raise ValueError(f"the window {self.value:g}-{self.upper:g} ends below its start")
        return self


class Hardness(_Strict):
    """Hardness window of a condition."""

    min: Positive
    max: Positive
    scale: Literal["HRC", "HBW", "HV"]
    source: str

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        if self.max < self.min:
            raise ValueError(f"the window {self.min:g}-{self.max:g} {self.scale} ends below its start")
        return self

    @property
    def text(self) -> str:
        window = f"{self.min:g}" if self.min == self.max else f"{self.min:g}-{self.max:g}"
        return f"{window} {self.scale}"


class Cyclic(_Strict):
    """Strain-life constants of one tested hardness, with the E that they were fitted with."""

    E: Positive
    fatigue_strength_coefficient: Positive
    fatigue_strength_exponent: Annotated[float, Field(lt=0, gt=-1)]
    fatigue_ductility_coefficient: Positive
    fatigue_ductility_exponent: Annotated[float, Field(lt=0, gt=-2)]
    cyclic_strength_coefficient: Positive | None = None
    cyclic_hardening_exponent: Annotated[float, Field(gt=0, lt=1)] | None = None
    tensile_strength: Positive
    source: str


class StressLife(_Strict):
    """Stress-life tests: `strength` (reversed amplitude, MPa) lasts `cycles`; N ~ amplitude^-`exponent`.

    `surface`, `peening`, `decarburised_depth` (mm) and `diameter` (mm) are those of the specimens or bars tested,
    `tensile_strength` that of their steel. What is in the tests is not counted again: a bar with the same skin and
    diameter has this line. `knee` true: the tests showed an endurance limit at a million cycles.
    """

    strength: Positive
    cycles: Annotated[float, Field(ge=1e3, le=1e9)]
    exponent: Annotated[float, Field(gt=2, le=60)]
    surface: str
    peening: Literal["none", "shot"] | None = None
    decarburised_depth: Annotated[float, Field(ge=0, le=DEEPEST_DECARBURISED_MM)] | None = None
    tensile_strength: Positive
    knee: bool
    diameter: Annotated[float, Field(ge=TESTED_MM[0], le=TESTED_MM[1])] | None = None
    source: str

    @model_validator(mode="after")
    def _surface_known(self) -> Self:
        if self.surface not in SURFACE_NAMES:
            raise ValueError(f'no surface condition is called "{self.surface}"; there are {", ".join(SURFACE_NAMES)}')
        return self

    @property
    def skin(self) -> Skin:
        """The skin that was tested."""
        peening = read_peening(self.peening, surface=self.surface)
        return Skin(Skin.named(self.surface).finish, peening, self.decarburised_depth)


class ScatterData(_Strict):
    """Scatter: a standard deviation of strength (share of the mean), or of log10 life on a line of `exponent`."""

    strength_deviation: Annotated[float, Field(ge=0.001, lt=0.3)] | None = None
    log10_life_deviation: Annotated[float, Field(ge=0.001, lt=2)] | None = None
    exponent: Annotated[float, Field(gt=2, le=60)] | None = None
    source: str

    @model_validator(mode="after")
    def _one_of_both(self) -> Self:
        if (self.strength_deviation is None) == (self.log10_life_deviation is None):
            raise ValueError("scatter is either strength_deviation, or log10_life_deviation with exponent")
        if (self.log10_life_deviation is None) != (self.exponent is None):
            raise ValueError("log10_life_deviation and exponent, the slope it was measured on, come together")
        return self


class Condition(_Strict):
    """One heat-treated (or drawn) condition. `form` says that it is a tube's or a bar's alone.

    `largest_diameter` (mm) is that of the thickest round that its strengths are stated for.
    """

    description: str
    yield_strength: Quantity
    tensile_strength: Quantity
    elongation: Quantity | None = None
    hardness: Hardness | None = None
    cyclic: Cyclic | None = None
    stress_life: StressLife | None = None
    scatter: ScatterData | None = None
    form: Literal["bar", "tube"] | None = None
    largest_diameter: Annotated[float, Field(ge=1, le=500)] | None = None

    @model_validator(mode="after")
    def _yield_below_tensile(self) -> Self:
        if self.yield_strength.value > self.tensile_strength.value:
            raise ValueError(
                f"yield strength {self.yield_strength.value:g} MPa is above tensile strength "
                f"{self.tensile_strength.value:g} MPa"
            )
        return self

    @property
    def typical(self) -> bool:
        return self.yield_strength.typical or self.tensile_strength.typical


class GradeTable(_Strict):
    """One grade: what all its conditions share, and the conditions."""

    format: Literal[1]
    grade: str
    number: str | None = None
    also: Annotated[tuple[str, ...], Field(strict=False)] = ()
    standard: str
    note: str = ""
    E: Quantity
    nu: Quantity
    density: Quantity
    sources: dict[str, str]
    conditions: Annotated[dict[str, Condition], Field(min_length=1)]

    @model_validator(mode="after")
    def _sources_exist(self) -> Self:
        quantities: list[tuple[str, Quantity | Hardness | Cyclic | StressLife | ScatterData]] = [
            ("E", self.E),
            ("nu", self.nu),
            ("density", self.density),
        ]
        for name, condition in self.conditions.items():
            parts = ("yield_strength", "tensile_strength", "elongation", "hardness", "cyclic", "stress_life", "scatter")
            quantities += [
                (f"conditions.{name}.{part}", getattr(condition, part))
                for part in parts
                if getattr(condition, part) is not None
            ]
        for place, quantity in quantities:
            if quantity.source not in self.sources:
                raise ValueError(
                    f'{place}: source "{quantity.source}" does not stand in [sources].'
                    f"{did_you_mean(quantity.source, self.sources)}"
                )
            for key, at, value in _steel_numbers(place, quantity):
                if not can_be_a_steels(key, value):
                    raise refusal(f"{at} = {value:.10g} cannot be a steel's.", f"{a_steels(key)}.")
        return self

    @property
    def names(self) -> tuple[str, ...]:
        """All the names that the grade goes by."""
        return (self.grade, *([self.number] if self.number else []), *self.also)


def _steel_numbers(
    place: str, given: Quantity | Hardness | Cyclic | StressLife | ScatterData
) -> Iterator[tuple[str, str, float]]:
    """What a part of a table says of the steel: by the key of its range, where it stands, and the number."""
    if isinstance(given, Quantity):
        key = place.rsplit(".", 1)[-1]
        found = [(key, place, given.value), (key, f"{place}.upper", given.upper)]
    elif isinstance(given, Hardness):
        found = [(given.scale, f"{place}.{end}", getattr(given, end)) for end in ("min", "max")]
    else:
        found = [(key, f"{place}.{key}", getattr(given, key)) for key in type(given).model_fields if is_a_steels(key)]
    return ((key, at, value) for key, at, value in found if value is not None)


def read_table(path: Path) -> GradeTable:
    """Read and check one material table.

    Raises
    ------
    InputError
        The file is missing, is no TOML, or is no material table; names the file, the key and what would be right.
    """
    try:
        state = path.stat()
    except OSError:
        return _validate(read_toml(path, kind="material table"), path)
    if S_ISFIFO(state.st_mode):  # a pipe is empty once it was read
        return _read_once(path, state.st_ino, 0)
    return _read_once(path, state.st_mtime_ns, state.st_size)


@lru_cache(maxsize=64)  # every bar of a study asks for its steel; a file that has changed is read again
def _read_once(path: Path, version: int, size: int) -> GradeTable:
    return _validate(read_toml(path, kind="material table"), path)


def _validate(data: dict[str, object], path: Path) -> GradeTable:
    try:
        return GradeTable.model_validate(data)
    except ValidationError as error:
        raise _translated(error, path) from error


def _translated(error: ValidationError, path: Path) -> InputError:
    """The first complaint of pydantic, in words that name the key and what would be right."""
    first = error.errors()[0]
    *table, key = [str(part) for part in first["loc"]] or [""]
    where = ".".join((*table, key)) or None
    if first["type"] == "extra_forbidden":
        model = _model_at(tuple(table))
        known = list(model.model_fields)
        return InputError(
            f'"{key}" is not a key of a material table here.{did_you_mean(key, known)}',
            where=".".join(table) or None,
            expected="one of " + ", ".join(known) + ".",
            file=str(path),
        )
    if first["type"] == "missing":
        return InputError(
            f'"{key}" is missing.',
            where=".".join(table) or None,
            expected=_LAID_OUT,
            file=str(path),
        )
    if first["type"] == "barfem":
        told = first["ctx"]
        return InputError(str(told["problem"]), expected=str(told["expected"]), file=str(path))
    inside = table[-1] if table else ""
    of = inside if key in ("value", "upper") else key if inside in ("cyclic", "stress_life") else ""
    if is_a_steels(of):
        return InputError(
            f"{first['input']!r} cannot be a steel's.",
            where=where,
            expected=f"{a_steels(of)}, without quotes: a material table holds plain numbers in these units.",
            file=str(path),
        )
    given = "a table" if isinstance(first["input"], dict) else f"{first['input']!r:.60}"
    wanted = _WANTED.get(first["type"], "").format(**first.get("ctx", {}))
    if wanted:
        return InputError(f"{given} stands here.", where=where, expected=f"{wanted}.", file=str(path))
    message = first["msg"].removeprefix("Value error, ")
    shown = "" if isinstance(first["input"], dict) else f", not {given}"
    end = "" if f"{message}{shown}".endswith((".", "?")) else "."
    return InputError(f"{message}{shown}{end}", where=where, expected=_LAID_OUT, file=str(path))


_LAID_OUT = "a table laid out like those that ship with barfem (see `barfem materials`)."
_QUANTITY = 'a table, such as {{ value = 1200, source = "..." }} of a number; laid out as in barfem\'s own'
_WANTED = {
    "string_type": "text in quotes",
    "string_too_short": "text that is not empty",
    "model_type": _QUANTITY,
    "model_attributes_type": _QUANTITY,
    "dict_type": _QUANTITY,
    "float_type": "a number without quotes",
    "float_parsing": "a number without quotes",
    "finite_number": "a finite number",
    "greater_than": "a number above {gt:g}",
    "greater_than_equal": "{ge:g} or more",
    "less_than": "a number below {lt:g}",
    "less_than_equal": "at most {le:g}",
    "literal_error": "{expected}",
    "int_parsing_size": "a number of usual size",
    "bool_type": "true or false",
    "tuple_type": "a list, in square brackets",
    "list_type": "a list, in square brackets",
}
"""What is right where pydantic's own words name none, by the type of its complaint."""


def _model_at(table: tuple[str, ...]) -> type[_Strict]:
    match table:
        case ("E" | "nu" | "density",) | ("conditions", _, "yield_strength" | "tensile_strength" | "elongation"):
            return Quantity
        case ("conditions", _, "hardness"):
            return Hardness
        case ("conditions", _, "cyclic"):
            return Cyclic
        case ("conditions", _, "stress_life"):
            return StressLife
        case ("conditions", _, "scatter"):
            return ScatterData
        case ("conditions", _):
            return Condition
    return GradeTable


def known_tables(folder: Path | None = None) -> dict[str, Path]:
    """File of each grade that ships with barfem (or lies in `folder`), by file name without its ending."""
    return {path.stem: path for path in sorted((folder or materials_dir()).glob("*.toml"))}


def own_table(grade: str, folder: Path) -> Path | None:
    """The file of the user's own table that `grade` means in a bar file of `folder`; None where it means another."""
    if grade.lower().endswith(".toml") or "/" in grade or "\\" in grade:
        return folder / Path(grade).expanduser()
    beside = folder / f"{grade}.toml"
    # A bar file may bear a steel's name; only a file that sets out to be a table is read as one.
    if _is_file(beside) and {"conditions", "sources"} & set(read_toml(beside, kind="material table")):
        return beside
    return None


def _is_file(path: Path) -> bool:
    try:
        return path.is_file()
    except OSError:  # a name longer than any file's
        return False


def find_table(
    grade: str, *, bar_dir: Path | None = None, where: str = "[material] grade"
) -> tuple[GradeTable, Path, bool]:
    """The table that `grade` means, its file, and whether it is the user's own.

    `grade` is a path to a table (it ends in .toml or holds a slash; relative to `bar_dir`), the name of a table
    file beside the bar file, or a grade that ships with barfem, by any of its names.

    Raises
    ------
    InputError
        No such table; names the nearest and all the grades there are.
    """
    own = own_table(grade, bar_dir or Path())
    if own is not None:
        return read_table(own), own, True
    shipped = materials_dir() / f"{grade}.toml"
    if _is_file(shipped):
        return read_table(shipped), shipped, False
    tables = known_tables()
    names: list[str] = []
    for path in tables.values():
        table = read_table(path)
        if grade.lower() in (name.lower() for name in table.names):
            return table, path, False
        names += table.names
    raise InputError(
        f'no material table is called "{grade}".{did_you_mean(grade, names)}',
        where=where,
        expected=f"one of {', '.join(tables)}; the path of your own table; or custom, with its five numbers.",
    )
