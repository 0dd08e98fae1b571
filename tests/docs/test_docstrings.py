"""Docstrings are read against the code they describe: parameters that are there, errors that are raised, units.

Sections are parsed as numpydoc by the library docstring_parser. The public surface (`barfem.__all__`) is held to all of
it; in the packages below, a section may be left out where the summary says it all, but what it says must be so.
"""

from __future__ import annotations

import ast
import importlib
import inspect
import pkgutil
import re
import textwrap
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

import pytest

import barfem

parser = pytest.importorskip(
    "docstring_parser", reason="docstrings are parsed by docstring-parser: pip install '.[test]'"
)

PACKAGES = ("model", "solve", "strength", "check", "study", "show", "api")
ERRORS = {"InputError", "BarfemError"}
UNIT_IN_NAME = re.compile(
    r"_(mm\d?|MPa\d?|N|Nmm|Nm|J|kg|deg|rad|s|cycles|percent|hours|repeats|N_per_mm|Nm_per_deg|per_MPa)\b|_(rate|share|factor)s?$"
)
UNIT_IN_TEXT = re.compile(
    r"\b(mm|MPa|GPa|kpsi|N|N·mm|N mm|N m|Nm|J|kg|deg|rad|cycles|repeats|[Uu]nits?|hours|s|seconds)\b|%|\[-\]"
    r"|\b([Rr]atio|fraction|share|[Ff]actor|percent|exponent|probabilit|chance|damage|strain|stations?|shear|weights?)"
)
NUMBERS = re.compile(r"\bfloat\b|\bArray\b")


def modules() -> list[Any]:
    found = []
    for info in pkgutil.walk_packages(barfem.__path__, "barfem."):
        if info.name.split(".")[1] in PACKAGES:
            found.append(importlib.import_module(info.name))
    return found


def functions(module: Any) -> Iterator[tuple[str, Any]]:
    """(name, function) of the public functions and methods that a module defines; properties by their getters."""
    for name in getattr(module, "__all__", []):
        thing = getattr(module, name)
        if getattr(thing, "__module__", None) != module.__name__:
            continue
        if inspect.isfunction(thing):
            yield f"{module.__name__}.{name}", thing
        elif inspect.isclass(thing):
            for key, value in vars(thing).items():
                inner = value.fget if isinstance(value, property) else getattr(value, "__func__", value)
                if inspect.isfunction(inner) and not key.startswith("_"):
                    yield f"{module.__name__}.{name}.{key}", inner


EVERY = [(name, function, module) for module in modules() for name, function in functions(module)]
PUBLIC = [(name, getattr(barfem, name)) for name in barfem.__all__ if name != "__version__"]


def parsed(thing: Any) -> Any:
    return parser.parse(inspect.getdoc(thing) or "", style=parser.DocstringStyle.NUMPYDOC)


def said_parameters(thing: Any) -> set[str]:
    found = set()
    for entry in parsed(thing).params:
        if entry.args and entry.args[0] == "param":
            # "mean_MPa (blocks, places), cycles (blocks,)": names with the shapes that follow them.
            found |= {name.strip() for name in re.sub(r"\([^)]*\)", "", entry.arg_name).split(",") if name.strip()}
    return found


def has_section(thing: Any, title: str) -> bool:
    return bool(re.search(rf"^{title}\n-+$", inspect.getdoc(thing) or "", re.MULTILINE))


def raised(function: Any) -> set[str]:
    """Errors of barfem's own that the body itself raises; not those of functions inside it."""
    tree = ast.parse(textwrap.dedent(inspect.getsource(function)))
    found = set()

    def walk(node: ast.AST) -> None:
        for child in ast.iter_child_nodes(node):
            if isinstance(child, ast.FunctionDef | ast.Lambda):
                continue
            if isinstance(child, ast.Raise) and child.exc is not None:
                raised_ = child.exc.func if isinstance(child.exc, ast.Call) else child.exc
                found.add(getattr(raised_, "id", ""))
            walk(child)

    walk(tree.body[0])
    return found & ERRORS


def test_there_is_something_to_read():
    assert len(EVERY) > 500 and len(PUBLIC) > 10


@pytest.mark.parametrize(("name", "thing"), PUBLIC, ids=[name for name, _ in PUBLIC])
def test_the_public_surface_is_described_in_full(name, thing):
    members = [(name, thing)]
    if inspect.isclass(thing):
        members += [(f"{name}.{key}", value) for key, value in vars(thing).items() if not key.startswith("_")]
    for label, member in members:
        if is_dataclass(thing) and label.partition(".")[2] in {item.name for item in fields(thing)}:
            continue  # which its class describes
        doc = inspect.getdoc(member)
        assert doc and doc.split("\n\n")[0].rstrip().endswith((".", ":")), label
        inner = member.fget if isinstance(member, property) else member
        if inspect.isfunction(inner):
            expected = set(inspect.signature(inner).parameters) - {"self", "cls"}
            assert said_parameters(inner) == expected, label
            assert not raised(inner) or has_section(inner, "Raises"), label
            assert inspect.signature(inner).return_annotation is not inspect.Signature.empty, label


def test_the_public_surface_says_its_units():
    for name, thing in PUBLIC:
        if isinstance(thing, type) and issubclass(thing, Exception):
            continue
        text = (inspect.getdoc(thing) or "") + " ".join(inspect.signature(thing).parameters)
        assert UNIT_IN_TEXT.search(text) or UNIT_IN_NAME.search(text), name


def test_every_function_and_class_is_described():
    bare = []
    for module in modules():
        assert module.__doc__ or hasattr(module, "__path__"), module.__name__
        for name in getattr(module, "__all__", []):
            thing = getattr(module, name)
            if inspect.isfunction(thing) and thing.__module__ == module.__name__ and not inspect.getdoc(thing):
                bare.append(f"{module.__name__}.{name}")
    assert [name for name in bare if not name.startswith("barfem.show.parts")] == []


def test_what_is_called_a_parameter_is_one():
    wrong = {}
    for name, function, _ in EVERY:
        strange = said_parameters(function) - set(inspect.signature(function).parameters)
        if strange:
            wrong[name] = strange
    assert wrong == {}


def test_attributes_that_are_described_are_there():
    wrong = {}
    for module in modules():
        for name in getattr(module, "__all__", []):
            record = getattr(module, name)
            if not (inspect.isclass(record) and is_dataclass(record) and record.__module__ == module.__name__):
                continue
            words = set()
            for entry in parsed(record).params:
                if entry.args and entry.args[0] == "attribute":
                    words |= {part.strip() for part in re.sub(r"\([^)]*\)", "", entry.arg_name).split(",")}
            strange = words - {item.name for item in fields(record)} - set(dir(record)) - {""}
            if strange:
                wrong[f"{module.__name__}.{name}"] = strange
    assert wrong == {}


def test_errors_that_a_function_raises_are_said():
    """In a Raises section, or in the words of a summary that refuses something."""
    silent = []
    for name, function, _ in EVERY:
        doc = inspect.getdoc(function) or ""
        if (
            raised(function)
            and not has_section(function, "Raises")
            and not re.search(r"[Rr]efuse|[Rr]aise|InputError|the error", doc)
        ):
            silent.append(name)
    assert silent == []


def test_a_quantity_has_its_unit():
    """In the function's name, its docstring, or that of its class or module: of all that is stressed and checked."""
    bare = []
    for name, function, module in EVERY:
        if module.__name__.split(".")[1] not in ("strength", "check"):
            continue
        if not NUMBERS.search(str(inspect.signature(function).return_annotation)):
            continue
        owner = getattr(module, name.removeprefix(f"{module.__name__}.").split(".")[0])
        texts = [inspect.getdoc(function), inspect.getdoc(owner), module.__doc__]
        if not UNIT_IN_NAME.search(function.__name__) and not any(UNIT_IN_TEXT.search(text or "") for text in texts):
            bare.append(name)
    assert bare == []


def test_no_file_is_longer_than_the_house_allows() -> None:
    """DEVELOPERS.md: a file holds one concept, and 400 lines are the limit."""
    package = Path(barfem.__file__).parent
    lines = {path.name: path.read_text(encoding="utf-8").count("\n") for path in package.rglob("*.py")}
    assert {name: count for name, count in lines.items() if count > 400} == {}
