"""Bars for the studies' tests: demo bars by name, and bar files written for a test."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from barfem.cli.main import main
from barfem.model.bar import Bar
from barfem.model.data_paths import geometries_dir
from barfem.model.read import read_bar

__all__ = ["SOLID", "SPLAYED", "TUBE", "UNEQUAL", "demo", "ran"]

SOLID, TUBE, SPLAYED, UNEQUAL = (
    geometries_dir() / f"{name}.toml"
    for name in ("pickup-front-solid", "pickup-rear-tube", "coupe-front-splayed", "pickup-rear-unequal")
)


def demo(path: Path) -> Bar:
    return read_bar(path)


def ran(capsys: Any, *arguments: str | Path) -> tuple[int, str, str]:
    """Status, output and errors of the command line."""
    status = main([str(argument) for argument in arguments])
    out, err = capsys.readouterr()
    return status, out, err


def as_json(capsys: Any, *arguments: str | Path) -> tuple[int, dict[str, Any]]:
    """Status and JSON of a command run with --json -."""
    status, out, _ = ran(capsys, *arguments, "--json", "-")
    return status, json.loads(out)
