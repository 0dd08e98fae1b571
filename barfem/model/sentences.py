"""Words made into sentences."""

from __future__ import annotations

__all__ = ["with_capital"]


def with_capital(text: str) -> str:
    """`text` with a capital in front and all else as it is: names of holes keep their letters."""
    return text[:1].upper() + text[1:]
