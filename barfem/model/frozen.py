"""Frozen records: dataclasses whose methods are shared instead of written anew for every class.

`dataclasses.dataclass(frozen=True)` compiles six methods a class, half a millisecond each time barfem starts; a check
needs two hundred classes, and that was a seventh of its time. `fields`, `replace`, `asdict`, `copy` and `pickle` take
these records as any dataclass, and they compare, hash, print and refuse as frozen dataclasses do.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable
from dataclasses import MISSING, Field, FrozenInstanceError, dataclass, field, fields
from operator import attrgetter
from reprlib import recursive_repr
from typing import Any, NamedTuple, TypeVar, dataclass_transform, overload

__all__ = ["frozen"]

Record = TypeVar("Record")


@overload
def frozen(cls: type[Record], /) -> type[Record]: ...
@overload
def frozen(*, kw_only: bool = False, eq: bool = True, repr: bool = True) -> Callable[[type[Record]], type[Record]]: ...
@dataclass_transform(frozen_default=True, field_specifiers=(field, Field))
def frozen(cls: Any = None, /, *, kw_only: bool = False, eq: bool = True, repr: bool = True) -> Any:
    """Make a class a frozen dataclass; `kw_only`, `eq` and `repr` as of `dataclasses.dataclass`."""

    def made(cls: Any) -> Any:
        own, doc = cls.__dict__, cls.__doc__
        methods: dict[str, Any] = {"__init__": _init, "__setattr__": _refuse_to_set, "__delattr__": _refuse_to_delete}
        methods["__signature__"] = _Signature()
        if repr and "__repr__" not in own:
            methods["__repr__"] = _repr
        if eq and "__eq__" not in own:
            methods["__eq__"] = _equals
        if eq and own.get("__hash__") is None:
            methods["__hash__"] = _hash
        for name, method in methods.items():
            setattr(cls, name, method)
        cls.__doc__ = doc or cls.__name__  # without one dataclass would write the signature there, which takes long
        cls = dataclass(init=False, repr=False, eq=False, kw_only=kw_only)(cls)
        cls.__doc__ = doc
        cls._fields_of_record = _Fields.of(cls)
        return cls

    return made if cls is None else made(cls)


class _Fields(NamedTuple):
    """What a record's shared methods need to know of its class."""

    made: tuple[frozenset[str], tuple[str, ...], dict[str, Any], tuple[tuple[str, Any], ...], bool]
    """All names, those that may stand without their names, defaults, what makes a default anew, and whether the record
    is checked after making."""
    printed: tuple[str, ...]
    compared: Callable[[Any], Any]
    hashed: Callable[[Any], Any]

    @staticmethod
    def of(cls: Any) -> _Fields:
        every = fields(cls)
        return _Fields(
            made=(
                frozenset(each.name for each in every),
                tuple(each.name for each in every if not each.kw_only),
                {each.name: each.default for each in every if each.default is not MISSING},
                tuple((each.name, each.default_factory) for each in every if each.default_factory is not MISSING),
                hasattr(cls, "__post_init__"),
            ),
            printed=tuple(each.name for each in every if each.repr),
            compared=_values([each.name for each in every if each.compare]),
            hashed=_values([each.name for each in every if (each.compare if each.hash is None else each.hash)]),
        )


def _values(names: list[str]) -> Callable[[Any], Any]:
    """What gives a record's values of some names, as a tuple."""
    if len(names) > 1:
        return attrgetter(*names)
    return lambda record: tuple([getattr(record, name) for name in names])


def _init(self: Any, *args: Any, **given: Any) -> None:
    names, positional, defaults, factories, checked = self._fields_of_record[0]
    values = self.__dict__
    if len(args) + len(given) < len(names):
        values.update(defaults)
    if args:
        values.update(zip(positional, args, strict=False))
        if len(args) > len(positional) or (given and not given.keys().isdisjoint(positional[: len(args)])):
            raise TypeError(f"{type(self).__name__} takes {', '.join(positional)}, each once")
    values.update(given)
    if factories:
        for name, make in factories:
            if name not in values:
                values[name] = make()
    if values.keys() != names:
        missing, unknown = sorted(names - values.keys()), sorted(values.keys() - names)
        wrong = [f"lacks {', '.join(missing)}"] * bool(missing) + [f"has no {', '.join(unknown)}"] * bool(unknown)
        raise TypeError(f"{type(self).__name__} {' and '.join(wrong)}")
    if checked:
        self.__post_init__()


def _refuse_to_set(self: Any, name: str, value: Any) -> None:
    raise FrozenInstanceError(f"cannot assign to field {name!r}")


def _refuse_to_delete(self: Any, name: str) -> None:
    raise FrozenInstanceError(f"cannot delete field {name!r}")


@recursive_repr()
def _repr(self: Any) -> str:
    own: _Fields = self._fields_of_record
    return f"{type(self).__qualname__}({', '.join(f'{name}={getattr(self, name)!r}' for name in own.printed)})"


def _equals(self: Any, other: Any) -> Any:
    if other.__class__ is not self.__class__:
        return NotImplemented
    own: _Fields = self._fields_of_record
    return own.compared(self) == own.compared(other)


def _hash(self: Any) -> int:
    own: _Fields = self._fields_of_record
    return hash(own.hashed(self))


class _Signature:
    """A record's signature, for `help` and notebooks, worked out when asked for."""

    def __get__(self, record: Any, cls: Any) -> inspect.Signature:
        def parameter(each: Field[Any]) -> inspect.Parameter:
            kind = inspect.Parameter.KEYWORD_ONLY if each.kw_only else inspect.Parameter.POSITIONAL_OR_KEYWORD
            made = each.default_factory is not MISSING
            default = each.default if each.default is not MISSING else ... if made else inspect.Parameter.empty
            return inspect.Parameter(each.name, kind, default=default, annotation=each.type)

        every = sorted(fields(cls), key=lambda each: bool(each.kw_only))
        return inspect.Signature([parameter(each) for each in every])
