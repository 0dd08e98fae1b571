"""The questions of `barfem new`: what is asked, how an answer is read, and what stands where none was given.

A length keeps the unit it was given with: its answer is a number (mm) or text such as "0.945 in", as a bar file has it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from barfem.cli.new_shape import corner_mm, read_crank, read_rows
from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.material_table import find_table
from barfem.model.nearest import did_you_mean
from barfem.model.surfaces import SURFACE_NAMES, surface_condition
from barfem.model.units import number
from barfem.study.sections import parse_section

__all__ = ["MOUNT_LENGTH", "QUESTIONS", "Answers", "Question", "gather", "in_mm", "read_answer", "shown"]

Answers = dict[str, Any]
MOUNT_LENGTH = 40.0
"""Of rubber along the bar, mm, where nobody says it."""


@frozen
class Question:
    """One answer that a bar file needs.

    `key` is also its option; `read` turns text without space around it into the value. `default` stands where nobody
    answers, or `made` makes it from the answers before, `otherwise` in words; with neither it is left out, and
    `example` is one. `asked`: also at the prompt; the others are options alone. `offers`: words to choose from.
    """

    key: str
    prompt: str
    read: Callable[[str, Answers], Any]
    default: Any = None
    made: Callable[[Answers], Any] | None = None
    asked: bool = True
    example: str = ""
    otherwise: str = ""
    offers: Callable[[Answers], Sequence[str]] = lambda answers: ()

    @property
    def hint(self) -> str:
        """What stands where nobody answers; of what is then left out, an example."""
        if self.example:
            return f"such as {self.example}"
        return f"default {self.otherwise or shown(self.default)}"

    def default_of(self, answers: Answers) -> Any:
        return self.default if self.made is None else self.made(answers)

    @property
    def option(self) -> str:
        return f"--{self.key.replace('_', '-')}"


def in_mm(value: float | str) -> float:
    """A length in mm."""
    return number(value, "length")


def _length(text: str, answers: Answers, *, above: float | None = 0.0) -> float | str:
    value = _number(text, "length")
    if above is not None and not in_mm(value) > above:
        raise InputError(f"{text} is not above {above:g}.", expected="a length in mm, or with its unit.")
    return value


def _signed_length(text: str, answers: Answers) -> float | str:
    return _length(text, answers, above=None)


def _angle(text: str, answers: Answers) -> float | str:
    return _number(text, "angle")


def _stiffness(text: str, answers: Answers) -> float | str:
    value = _number(text, "force per length")
    if not number(value, "force per length") > 0.0:
        raise InputError(f"{text} is not above 0.", expected='a stiffness in N/mm, such as 5000 or "28000 lbf/in".')
    return value


def _plain(text: str, answers: Answers) -> float:
    try:
        value = number(float(text.replace(" ", "")), "plain")
    except ValueError:
        hint = " (no commas: decimals are written with a point)" if "," in text else ""
        raise InputError(f"{text} is not a number above 0{hint}.", expected="a plain number above 0.") from None
    if value <= 0.0:
        raise InputError(f"{text} is not a number above 0.", expected="a plain number above 0.")
    return value


def _mounts(text: str, answers: Answers) -> float | str:
    value, half = _length(text, answers), 0.5 * in_mm(answers["width"])
    what = "the half width"
    if answers["rows"] is not None:  # which have their own width, whatever that of a sketch would be
        half, what = corner_mm(answers), "the corner at the bend"
    if in_mm(value) >= half:
        raise InputError(
            f"{text} lies beyond {what}, {half:.6g} mm from the middle.",
            expected="the distance from the middle to one bushing, on the straight between the arms.",
        )
    return value


def _number(text: str, kind: str) -> float | str:
    try:
        value: float | str = float(text)
    except ValueError:
        value = text
    number(value, kind)
    return value


def _lengths(text: str, answers: Answers) -> tuple[float | str, ...]:
    between = ";" if ";" in text else ","  # with semicolons a comma is a decimal's: 20,5 is no two places
    parts = [part.strip() for part in text.split(between) if part.strip()]
    if not parts:
        raise InputError("no hole is given.", expected='distances from the tip, such as "20, 45, 70".')
    found = tuple(_length(part, answers, above=-1e-12) for part in parts)
    if len({in_mm(each) for each in found}) < len(found):
        raise InputError(f"{text!r} has two holes at one place.", expected='each hole\'s own place, such as "20, 45".')
    return tuple(sorted(found, key=in_mm))


def _text(text: str, answers: Answers) -> str:
    if not text:
        raise InputError("the name is empty.", expected="a few words.")
    return text


def _section(text: str, answers: Answers) -> dict[str, float | str]:
    section = parse_section(text, where="")
    written = [part.strip() for part in _after_kind(text).replace("×", "x").replace("*", "x").split("x")]
    found = {"diameter": _number(written[0], "length")}
    if section.wall_mm is not None:
        found["wall"] = _number(written[1], "length")
    return found


def _after_kind(text: str) -> str:
    word, _, rest = text.partition(" ")
    return rest if word.lower() in ("round", "tube") else text


def _grade(text: str, answers: Answers) -> str:
    find_table(text, bar_dir=Path.cwd(), where="--grade")
    return text


def _conditions_of(answers: Answers) -> list[str]:
    """The conditions of the grade that was answered."""
    table, _, _ = find_table(answers["grade"], bar_dir=Path.cwd(), where="--grade")
    return list(table.conditions)


def _condition(text: str, answers: Answers) -> str:
    known = _conditions_of(answers)
    if text not in known:
        raise InputError(
            f'{answers["grade"]} has no condition "{text}".{did_you_mean(text, known)}',
            expected=" or ".join(f'"{name}"' for name in known) + ".",
        )
    return text


def _surface(text: str, answers: Answers) -> str:
    surface_condition(text, where="--surface")
    return text  # as it was said: "shot-peened" is a finish and peening on top of it


def _bent(text: str, answers: Answers) -> str:
    if text not in ("before-hardening", "after-hardening"):
        raise InputError(f'"{text}" is no answer.', expected="before-hardening or after-hardening.")
    return text


def _flat(text: str, answers: Answers) -> bool:
    if text.lower() not in ("y", "yes", "n", "no"):
        raise InputError(f'"{text}" is no answer.', expected="yes or no.")
    return text.lower().startswith("y")


def _five(value: float) -> float:
    """Rounded up to 5 mm."""
    return 5.0 * math.ceil(value / 5.0 - 1e-9)


def _default_mounts(answers: Answers) -> float:
    """Three quarters of the way from the middle to the corner; where a crank is in the way, just outside it."""
    corner = corner_mm(answers)
    place, crank = _five(0.75 * corner - 5.0), answers["crank"]
    if crank is not None and any(crank[:2]):
        x, z, inner, outer = crank
        radius, splay = in_mm(answers["bend_radius"]), number(answers["splay"], "angle")
        begins = outer + radius * math.tan(0.5 * math.atan2(math.hypot(x, z), outer - inner))
        ends = corner - radius * math.tan(math.radians(45.0 - 0.5 * splay))
        clear = min(begins + 0.5 * MOUNT_LENGTH, 0.5 * (begins + ends))  # of the ramp's bend, and of the arm's
        place = max(place, _five(clear - 2.5))
    return max(place, 5.0)


QUESTIONS: tuple[Question, ...] = (
    Question("name", "name of the bar", _text, "my bar"),
    Question("width", "overall width, cut end to cut end", _length, 1000.0),
    Question("arm_length", "arm length, middle axis to cut end", _length, 300.0),
    Question("splay", "splay of the arms, tips outward, deg", _angle, 0.0, asked=False),
    Question("rise", "height of the tips above the middle axis", _signed_length, 0.0, asked=False),
    Question("left_arm", "length of the left arm, where it is another", _length, asked=False, example="280"),
    Question(
        "crank",
        "offset of the middle: x, z, and |y| where it and its ramp end",
        read_crank,
        asked=False,
        example="0,-40,250,330",
    ),
    Question(
        "rows",
        "the bender's rows, straight/rotation/angle/radius (mm, deg, or with units), from the right tip",
        read_rows,
        asked=False,
        example="202/0/90/48; 904/0/90/48; 202",
    ),
    Question("section", "outside diameter, or diameter x wall of a tube", _section, {"diameter": 20.0}),
    Question(
        "bend_radius",
        "bend radius, to the centreline",
        _length,
        made=lambda a: _five(2.5 * in_mm(a["section"]["diameter"])),
        otherwise="2.5 diameters",
    ),
    Question(
        "grade",
        "steel (barfem materials lists them)",
        _grade,
        made=lambda a: "34MnB5" if "wall" in a["section"] else "51CrV4",
        otherwise="51CrV4, of a tube 34MnB5",
    ),
    Question(
        "condition",
        "its condition",
        _condition,
        made=lambda a: _conditions_of(a)[0],
        otherwise="the steel's first",
        offers=_conditions_of,
    ),
    Question(
        "surface", "surface, which decides life", _surface, "as-hardened-scaled", offers=lambda a: tuple(SURFACE_NAMES)
    ),
    Question("bent", "bent before or after hardening", _bent, "before-hardening", asked=False),
    Question("holes", "holes, distances from the cut end", _lengths, (20.0, 45.0, 70.0)),
    Question("hole_diameter", "diameter of the holes", _length, 10.2),
    Question("flat", "are the ends forged or pressed flat (yes or no)", _flat, True),
    Question(
        "mounts",
        "bushings, distance of each from the middle",
        _mounts,
        made=_default_mounts,
        otherwise="three quarters of the way to the bend, outside a crank",
    ),
    Question("mount_stiffness", "stiffness of a bushing across the bar, N/mm", _stiffness, 5000.0),
    Question("link_length", "length of the links", _length, 150.0),
    Question("travel", "greatest travel of the link's foot from rest, up and down", _length, 15.0),
    Question(
        "motion_ratio",
        "pickup travel / wheel travel; with it --travel is the wheel's",
        _plain,
        asked=False,
        example="0.62",
    ),
    Question("cycles", "how many full cycles it must last", _plain, 200000.0),
)
"""In the order in which they are asked; a default may use the answers before it."""


def gather(
    texts: Mapping[str, str],
    *,
    ask: Callable[[Question, Any, Answers], Any] | None = None,
    before: Mapping[str, Any] | None = None,
) -> tuple[Answers, frozenset[str]]:
    """All answers, and the keys of those that nobody gave.

    Parameters
    ----------
    texts
        Answers as they were typed with options, by key.
    ask
        Called with a question, its default and the answers so far; returns the answer, or None to take the default.
    before
        Answers that somebody gave in an earlier round, which are the defaults of this one where they can be.

    Raises
    ------
    InputError
        An option's text is no answer; a grade with several conditions and none of them named.
    """
    answers: Answers = {}
    defaults = set()
    for question in QUESTIONS:
        key = question.key
        if key in texts:
            answers[key] = read_answer(question, texts[key], answers)
            continue
        if key == "condition" and "grade" in texts and ask is None and len(_conditions_of(answers)) > 1:
            raise InputError(
                f"{answers['grade']} has several conditions.",
                where="--condition",
                expected=" or ".join(f'"{name}"' for name in _conditions_of(answers)) + ".",
            )
        known = before[key] if before and key in before else None
        offered = question.offers(answers)  # a condition of the steel before is none of another steel's
        default = question.default_of(answers) if known is None or (offered and known not in offered) else known
        answer = ask(question, default, answers) if ask is not None and question.asked else None
        if answer is None:
            defaults.add(key)
        answers[key] = default if answer is None else answer
    return answers, frozenset(defaults)


def read_answer(question: Question, text: str, answers: Answers) -> Any:
    """The value of an answer as it was typed.

    Raises
    ------
    InputError
        It is none; the message names the option.
    """
    try:
        return question.read(text.strip(), answers)
    except InputError as error:
        raise InputError(error.problem, where=question.option, expected=error.expected) from error


def shown(value: Any) -> str:
    """An answer as one would type it."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict):
        return " x ".join(shown(part) for part in value.values())
    if isinstance(value, tuple):
        return ", ".join(shown(part) for part in value)
    if isinstance(value, float):
        return f"{value:g}" if abs(value) < 1e5 else f"{value:.0f}"
    return str(value)
