"""Records are frozen dataclasses in all but the time that it takes to make their class.

Each is held against the standard library's own: the same class body, decorated by `dataclasses.dataclass(frozen=True)`.
"""

from __future__ import annotations

import copy
import inspect
import pickle
from dataclasses import FrozenInstanceError, asdict, dataclass, field, fields, is_dataclass, replace
from functools import cached_property
from typing import Any

import pytest

from barfem.model.frozen import frozen


def bodies(decorator: Any) -> tuple[Any, Any, Any]:
    """A mount, one that derives from it, and a record that is checked as it is made."""

    @decorator
    class Mount:
        """Where a bar is held."""

        station_mm: float
        name: str = "inner"
        notes: list[str] = field(default_factory=list)
        source: str = field(default="drawing", compare=False, repr=False)

        @cached_property
        def twice_mm(self) -> float:
            return 2.0 * self.station_mm

    @decorator
    class Bushing(Mount):
        rate_N_per_mm: float = 5000.0

    @decorator
    class Span:
        begin_mm: float
        end_mm: float

        def __post_init__(self) -> None:
            if self.end_mm < self.begin_mm:
                raise ValueError("ends before it begins")

    return Mount, Bushing, Span


@frozen
class Held:
    """At module level, as `pickle` wants it."""

    station_mm: float
    name: str = "inner"
    source: str = field(default="drawing", compare=False)


OURS, THEIRS = bodies(frozen), bodies(dataclass(frozen=True))

CALLS = [
    ((), {}),
    ((345.0,), {}),
    ((345.0, "outer"), {}),
    ((345.0, "outer", ["greased"], "letter"), {}),
    ((), {"station_mm": 345.0, "source": "letter"}),
    ((345.0,), {"name": "outer"}),
    ((345.0,), {"station_mm": 1.0}),
    ((345.0,), {"colour": "red"}),
    ((), {"colour": "red"}),
    ((1.0, "a", [], "b", 5.0, 6.0), {}),
]


@pytest.mark.parametrize(("args", "given"), CALLS)
@pytest.mark.parametrize("which", [0, 1])
def test_a_record_is_made_from_the_same_arguments_or_refuses_as_a_dataclass_does(which, args, given):
    def outcome(cls):
        try:
            made = cls(*args, **given)
        except TypeError:
            return "refused"
        return {each.name: getattr(made, each.name) for each in fields(made)}

    assert outcome(OURS[which]) == outcome(THEIRS[which])


def test_a_message_says_what_is_missing_and_what_is_not_known():
    with pytest.raises(TypeError, match="Mount lacks station_mm and has no colour"):
        OURS[0](colour="red")


def test_a_record_cannot_be_changed():
    made = OURS[0](345.0)
    with pytest.raises(FrozenInstanceError, match="station_mm"):
        made.station_mm = 1.0
    with pytest.raises(FrozenInstanceError, match="name"):
        del made.name
    assert (made.station_mm, made.twice_mm) == (345.0, 690.0)


def test_records_compare_and_hash_by_their_fields_but_for_those_left_out():
    _, _, Span = OURS
    Mount = OURS[0]
    assert Mount(345.0) == Mount(345.0, source="letter")
    assert Mount(345.0) != Mount(346.0)
    assert Mount(345.0) != OURS[1](345.0), "another class"
    assert hash(Span(0.0, 1.0)) == hash(Span(0.0, 1.0)) != hash(Span(0.0, 2.0))
    with pytest.raises(TypeError, match="unhashable"):
        hash(Mount(345.0))  # its notes are a list
    assert hash(Held(345.0, source="letter")) == hash(Held(345.0)) != hash(Held(345.0, "outer"))


def test_records_that_do_not_compare_are_alike_only_if_they_are_one():
    @frozen(eq=False, repr=False)
    class Field:
        stress_MPa: float

    one, other = Field(1.0), Field(1.0)
    assert one == one and one != other and hash(one) != hash(other)
    assert repr(one).startswith("<"), "no values"


@pytest.mark.parametrize("which", [0, 1, 2])
def test_what_is_printed_is_what_a_dataclass_prints(which):
    def printed(cls):
        return repr(cls(1.0, *[2.0] * (which == 2)))

    assert printed(OURS[which]) == printed(THEIRS[which])
    assert ("drawing" in printed(OURS[which])) is False


def test_methods_of_its_own_are_kept():
    @frozen
    class Hole:
        name: str
        stations: tuple[float, ...] = ()

        def __repr__(self) -> str:
            return f"hole {self.name}"

        def __eq__(self, other: object) -> bool:
            return isinstance(other, Hole) and other.name == self.name

        def __hash__(self) -> int:
            return 7

    assert repr(Hole("1")) == "hole 1"
    assert Hole("1", (2.0,)) == Hole("1") and hash(Hole("1")) == 7


def test_what_is_checked_after_making_is_checked():
    with pytest.raises(ValueError, match="ends before"):
        OURS[2](2.0, 1.0)
    with pytest.raises(ValueError, match="ends before"):
        replace(OURS[2](1.0, 2.0), end_mm=0.5)


def test_keywords_alone_where_asked_for():
    @frozen(kw_only=True)
    class Band:
        low: float
        high: float

    assert Band(low=1.0, high=2.0).high == 2.0
    with pytest.raises(TypeError):
        Band(1.0, 2.0)


def test_tools_for_dataclasses_take_records():
    made = OURS[1](345.0, rate_N_per_mm=8000.0)
    assert is_dataclass(made)
    assert asdict(made) == asdict(THEIRS[1](345.0, rate_N_per_mm=8000.0))
    assert replace(made, name="outer") == OURS[1](345.0, "outer", rate_N_per_mm=8000.0)
    assert copy.copy(made) == copy.deepcopy(made) == made
    held = Held(345.0)
    again = pickle.loads(pickle.dumps(held))
    assert again == held and again is not held
    with pytest.raises(FrozenInstanceError):
        again.station_mm = 1.0


def test_each_record_has_lists_of_its_own():
    one, other = OURS[0](1.0), OURS[0](2.0)
    one.notes.append("greased")
    assert other.notes == []


@pytest.mark.parametrize("which", [0, 1, 2])
def test_help_shows_the_same_names_and_defaults(which):
    ours, theirs = (inspect.signature(each[which]).parameters for each in (OURS, THEIRS))
    assert list(ours) == list(theirs)
    for name in ours:
        if name != "notes":  # made anew each time: no default to show
            assert (ours[name].kind, ours[name].default) == (theirs[name].kind, theirs[name].default)


def test_a_class_without_a_docstring_is_left_without_one():
    @frozen
    class Bare:
        x: float

    assert Bare.__doc__ is None
    assert OURS[0].__doc__ == "Where a bar is held."
