"""What shows a result, named and not imported: rich and matplotlib are loaded only where something is shown."""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from typing import Any

__all__ = ["function"]


def function(home: str) -> Callable[..., Any]:
    """The function at `home`, a module of `barfem.show` and its name there: "car.tables:print_car"."""
    module, _, name = home.partition(":")
    found: Callable[..., Any] = getattr(import_module(f"barfem.show.{module}"), name)
    return found
