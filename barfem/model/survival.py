"""The share of bars that a life or strength is stated for: what it may be."""

from __future__ import annotations

from barfem.model.errors import InputError

__all__ = ["checked_survival"]

MOST_SURVIVAL = 0.999999
"""Nobody knows the ends of the distributions that are scaled beyond it."""


def checked_survival(survival: float, *, where: str | None = None) -> float:
    """`survival`, a share of bars; `where` is the key or option that gives it.

    Raises
    ------
    InputError
        It is no share, or beyond what any scatter is known for.
    """
    if 0.0 < survival <= MOST_SURVIVAL:
        return survival
    if 0.0 < survival < 1.0:
        problem = f"survival {survival!r} asks for more than any scatter is known for."
    else:
        problem = f"survival {survival:g} is not a share of bars."
    expected = f"between 0 and 1 (< 1: at most {MOST_SURVIVAL}), such as 0.9 for nine bars of ten."
    raise InputError(problem, where=where, expected=expected)
