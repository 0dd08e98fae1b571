"""The nearest known name to a mistyped one, for messages."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches

__all__ = ["did_you_mean", "nearest"]

SHORTEST = 3
"""Of fewer letters anything is as near as anything else: "20" is no mistyped "9260"."""


def nearest(name: str, known: Iterable[str]) -> str | None:
    """The known name most like `name`, upper and lower case alike; None if none is like it."""
    if len(name.strip()) < SHORTEST:
        return None
    by_lower = {candidate.lower(): candidate for candidate in known}
    match = get_close_matches(name.lower(), by_lower, n=1, cutoff=0.5)
    return by_lower[match[0]] if match else None


def did_you_mean(name: str, known: Iterable[str]) -> str:
    """Text to end a message with: the nearest known name as a question, or nothing."""
    found = nearest(name, known)
    return f' Did you mean "{found}"?' if found else ""
