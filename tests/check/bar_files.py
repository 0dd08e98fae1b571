"""Bar files for end-to-end tests: a plain bar whose numbers a hand calculation reaches, written as TOML and checked."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from barfem.check.api import check_bar
from barfem.cli.main import main
from barfem.model.read import bar_from_dict
from tests.model.bar_data import MATERIAL, changed

__all__ = ["PLAIN", "Ended", "check", "checked_file", "numbers", "toml", "without_advice", "without_pictures"]

# Point mounts as good as rigid, long rigid links, a tiny travel: what the hand calculation assumes.
PLAIN: dict[str, Any] = {
    "format": 1,
    "name": "plain U, invented",
    "material": MATERIAL,
    "section": {"shape": "round", "diameter": 20.0},
    "centreline": {"points": [[-270, -550, 0], [0, -550, 0], [0, 550, 0], [-270, 550, 0]], "bend_radius": 50.0},
    "ends": {"holes": [{"name": "1", "from_tip": 20.0, "diameter": 8.0}]},
    "mounts": [
        {"y": -300.0, "radial_stiffness": 1e7, "axial_stiffness": 1000.0},
        {"y": 300.0, "radial_stiffness": 1e7, "axial_stiffness": 1000.0},
    ],
    "links": {"length": 4000.0, "direction": [0, 0, -1]},
    "travel": {"pickup": 0.01, "direction": [0, 0, 1]},
}

# The same bar as it would be built: soft bushings, short links, a travel that turns it well.
BUILT: dict[str, Any] = changed(
    ("ends.holes", [{"name": str(i + 1), "from_tip": 20.0 + 25.0 * i, "diameter": 8.0} for i in range(3)]),
    ("mounts", [{"from_middle": y, "radial_stiffness": 5000.0, "axial_stiffness": 200.0, "length": 40.0}
                for y in (-380.0, 380.0)]),
    ("links", {"length": 150.0, "direction": [0, 0, -1]}),
    ("travel.pickup", 25.0),
    base=PLAIN,
)  # fmt: skip


def check(*changes: tuple[str, Any], base: dict[str, Any] = BUILT, **options: Any) -> dict[str, Any]:
    """The JSON of the check of `base` with changes, as `changed` makes them; the same bar is checked once."""
    tables = changed(*changes, base=base)
    asked = json.dumps([tables, options], sort_keys=True, default=repr)
    if asked not in _CHECKED:
        _CHECKED[asked] = json.dumps(check_bar(bar_from_dict(tables), **options).to_json_dict())
    return dict(json.loads(_CHECKED[asked]))


_CHECKED: dict[str, str] = {}


def toml(data: dict[str, Any]) -> str:
    """The tables as a TOML document of inline tables."""
    return "".join(f"{key} = {_value(value)}\n" for key, value in data.items())


def _value(value: Any) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_value(item)}" for key, item in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_value(item) for item in value) + "]"
    if isinstance(value, bool):
        return str(value).lower()
    return json.dumps(value, ensure_ascii=False) if isinstance(value, str) else repr(value)


@dataclass(frozen=True)
class Ended:
    """How `barfem check` ended: its exit status, what it printed, and the JSON it wrote (None if it wrote none)."""

    status: int
    out: str
    err: str
    json: dict[str, Any] | None


@contextmanager
def without_advice() -> Iterator[None]:
    """`barfem check` without what would help, which takes as long as twenty checks and has its own tests."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("barfem.study.advice.advise", lambda bar, **_: ())
        patch.setattr("barfem.study.advice.travel_to_spare", lambda bar, **_: None)
        yield


@contextmanager
def without_pictures() -> Iterator[None]:
    """Figures that are empty, in pages and as files."""
    svg = b'<?xml version="1.0"?><svg viewBox="0 0 1 1" xmlns="http://www.w3.org/2000/svg"></svg>'
    empty = {"svg": svg, "png": b"\x89PNG\r\n\x1a\n"}
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("barfem.show.figures.render._saved", lambda picture, size, kind, stamp="": empty[kind])
        yield


def checked_file(path: Path, capsys: Any, *options: str) -> Ended:
    """Run `barfem check` on a bar file, with the JSON beside it; without the search for what would help."""
    target = path.parent / f"{path.stem}-result.json"
    with without_advice():
        status = main(["check", str(path), "--json", str(target), *options])
    out, err = capsys.readouterr()
    return Ended(status, out, err, json.loads(target.read_text(encoding="utf-8")) if target.exists() else None)


def numbers(value: Any, path: str = "") -> Iterator[tuple[str, float]]:
    """Every number of a JSON value with its path; booleans are none."""
    if isinstance(value, dict):
        for key, item in value.items():
            yield from numbers(item, f"{path}.{key}")
    elif isinstance(value, list):
        for i, item in enumerate(value):
            yield from numbers(item, f"{path}[{i}]")
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield path, float(value)
