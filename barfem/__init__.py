"""barfem: rate, stress, yield margin and life of anti-roll bars, for every hole setting.

    bar = barfem.read_bar("geometries/pickup-front-solid.toml")
    result = barfem.check_bar(bar)
    result.governing_for_life.rate_N_per_mm

Importing barfem itself loads nothing heavy; `read_bar` and `check_bar` are fetched when first used.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from barfem.check.api import check_bar
    from barfem.model.read import read_bar

__version__ = "0.1.0"
__all__ = ["__version__", "check_bar", "read_bar"]

_LAZY = {"read_bar": ("barfem.model.read", "read_bar"), "check_bar": ("barfem.check.api", "check_bar")}


def __getattr__(name: str) -> Any:
    if name not in _LAZY:
        raise AttributeError(f"module 'barfem' has no attribute {name!r}")
    from importlib import import_module

    module, attribute = _LAZY[name]
    value = getattr(import_module(module), attribute)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted(set(globals()) | set(_LAZY))
