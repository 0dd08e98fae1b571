"""Hole settings by the names of their holes, as users write them: "2", or left and right of an unequal pair, "1/3"."""

from __future__ import annotations

from collections.abc import Sequence

from barfem.model.errors import InputError
from barfem.model.nearest import did_you_mean

__all__ = ["pair_name", "pair_words", "pairs_named"]


def pair_name(left: str, right: str) -> str:
    """A pair of holes as users write it: "2", or "1/3" where it is unequal."""
    return left if left == right else f"{left}/{right}"


def pair_words(left: str, right: str) -> str:
    """A pair as it is spoken of: "2", or "1 left, 3 right"."""
    return left if left == right else f"{left} left, {right} right"


def pairs_named(
    hole: str, pairs: Sequence[tuple[str, str]], *, of: str, file: str | None = None, where: str = "--hole"
) -> list[int]:
    """Numbers of the hole settings that `hole` means among `pairs` of (left, right) names.

    "2" is the setting that has hole 2 at both ends, or where there is none those whose left hole it is; "1/3" is the
    setting of left hole 1 and right hole 3.

    Parameters
    ----------
    of, file, where
        Whose holes they are, its file, and the option that names the hole, for the message.

    Raises
    ------
    InputError
        There is no such hole setting; the message says which there are, and which of them is like it.
    """
    tests = (
        lambda left, right: hole == left == right,
        lambda left, right: hole == left,
        lambda left, right: hole == f"{left}/{right}",
    )
    for test in tests:
        if found := [i for i, pair in enumerate(pairs) if test(*pair)]:
            return found
    known = list(dict.fromkeys(left for left, _ in pairs))
    unequal = next((f"{left}/{right}" for left, right in pairs if left != right), None)
    pair = "" if unequal is None else f'; or a pair, left first, such as "{unequal}"'
    raise InputError(
        f'{of} has no hole "{hole}".{did_you_mean(hole, known)}',
        where=where,
        expected=f"one of {', '.join(known)}{pair}.",
        file=file,
    )
