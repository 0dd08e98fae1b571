"""What a public function takes, as one decorator: a value of another type is refused as a wrong number of a file is.

A path, a bar and the tables of a file are refused where they are read (`barfem.model.toml_file`, `read`).
"""

from __future__ import annotations

import inspect
import math
import numbers
import os
from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import wraps
from typing import Any, NamedTuple, ParamSpec, TypeVar

from barfem.model.errors import InputError
from barfem.model.load_case import CASES
from barfem.model.sentences import enumerated

__all__ = ["CASE", "Kind", "a", "count", "keys", "listed", "measure", "one_of", "path", "takes", "text"]

P = ParamSpec("P")
R = TypeVar("R")


class Kind(NamedTuple):
    """What an argument may be: `is_one` of a value, `name` for "int in place of ...", and what would be right."""

    name: str
    is_one: Callable[[Any], bool]
    right: str
    among: tuple[str, ...] = ()  # the names that there are, where it is one of them or a list of such


def a(name: str, kind: type | tuple[type, ...], right: str) -> Kind:
    """An object of a class, by the name that users have for it."""
    return Kind(name, lambda value: isinstance(value, kind), right)


def text(right: str) -> Kind:
    """A str."""
    return a("text", str, right)


def _names(among: Iterable[str]) -> Kind:
    quoted = [f'"{name}"' for name in among]
    return text(f"{enumerated(quoted, 'or')}.")


def one_of(among: tuple[str, ...]) -> Kind:
    """One of these names."""
    return _names(among)._replace(among=among)


CASE = _names(CASES)
"""A load case; the name of none is answered where cases are judged (`load_case.case_named`)."""


def path(right: str) -> Kind:
    """A str or a path object."""
    return a("a path", (str, os.PathLike), right)


def count(right: str) -> Kind:
    """A whole number, of numpy too; True is none."""

    def is_one(value: Any) -> bool:
        return isinstance(value, numbers.Integral) and not isinstance(value, bool)

    return Kind("a whole number", is_one, right)


def measure(right: str) -> Kind:
    """A finite number, of numpy too; True is none."""

    def is_one(value: Any) -> bool:
        return isinstance(value, numbers.Real) and not isinstance(value, bool) and math.isfinite(value)

    return Kind("a number", is_one, right)


def keys(right: str) -> Kind:
    """A mapping whose keys are text."""

    def is_one(value: Any) -> bool:
        return isinstance(value, Mapping) and all(isinstance(key, str) for key in value)

    return Kind("keys with values", is_one, right)


def listed(of: str, kinds: type | tuple[type, ...], right: str, *, or_one: bool = False) -> Kind:
    """A list of such values, called `of` together; `or_one`: or one alone."""

    def is_one(value: Any) -> bool:
        if or_one and isinstance(value, kinds):
            return True
        if isinstance(value, str | bytes | Mapping) or not isinstance(value, Iterable):
            return False
        # What can be gone through but once is left for whom it is meant.
        return isinstance(value, Iterator) or all(isinstance(each, kinds) for each in value)

    return Kind(f"a list of {of}", is_one, right)


def takes(**kinds: Kind) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Refuse arguments of another kind before the function begins; defaults are right, and None where annotated.

    Raises
    ------
    InputError
        When the function is called; the message names the argument, its type, and what would be right.

    >>> @takes(name=text('a name, such as "soft".'))
    ... def greet(name=None):
    ...     return f"hole {name}"
    >>> greet("soft"), greet()
    ('hole soft', 'hole None')
    >>> greet(5)
    Traceback (most recent call last):
    ...
    barfem.model.errors.InputError: name: int in place of text. Right would be: a name, such as "soft".
    """

    def decorate(function: Callable[P, R]) -> Callable[P, R]:
        signature = inspect.signature(function)

        @wraps(function)
        def asked(*args: P.args, **options: P.kwargs) -> R:
            for name, value in signature.bind(*args, **options).arguments.items():
                if name not in kinds:
                    continue
                parameter = signature.parameters[name]
                for each in value if parameter.kind is parameter.VAR_POSITIONAL else (value,):
                    if each is parameter.default or (each is None and "None" in str(parameter.annotation)):
                        continue
                    problem = _problem(each, kinds[name])
                    if problem is not None:
                        raise InputError(problem, where=name, expected=kinds[name].right)
            return function(*args, **options)

        return asked

    return decorate


def _problem(value: Any, kind: Kind) -> str | None:
    if not kind.is_one(value):
        return _what(value, kind)
    if not kind.among or isinstance(value, Iterator):
        return None
    unknown = [each for each in ((value,) if isinstance(value, str) else value) if each not in kind.among]
    return f"{unknown[0]!r} is none of these." if unknown else None


def _what(value: Any, kind: Kind) -> str:
    if isinstance(value, float) and not math.isfinite(value):
        return f"{value} in place of {kind.name}."
    inside = ""
    if isinstance(value, list | tuple) and kind.name.startswith("a list"):
        inside = f" with {', '.join(dict.fromkeys(type(each).__name__ for each in value))} in it"
    elif isinstance(value, Mapping) and not all(isinstance(key, str) for key in value):
        inside = " with keys that are no text"
    return f"{type(value).__name__}{inside} in place of {kind.name}."
