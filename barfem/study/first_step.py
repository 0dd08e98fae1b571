"""The first step along an ordered way that is good enough, with few steps looked at: each costs a solved bar."""

from __future__ import annotations

import itertools
import math
from bisect import bisect_left
from collections.abc import Generator, Iterable, Mapping, Sequence
from typing import Literal

__all__ = ["first_good"]

FIRST_LOOK = (2, 11)
MOST_ROUNDS = 24

CLEAR = 0.25
"""Of the way from one step to the next: where the score turns so far from a step, that step's side of it is known."""

_SURE = 1e-6  # a score below says no more than its sign


def first_good(
    count: int,
    *,
    before: float,
    guess: float | None = None,
    sure: bool = False,
    at: Sequence[float] | None = None,
    looked_at: Literal["both", "good", "bad"] = "both",
) -> Generator[Sequence[int], Sequence[float], int | None]:
    """Number of the first of `count` steps whose score is above zero; None where none is found.

    Yields numbers of steps to look at together, and is sent their scores (NaN where a step cannot be), so that several
    searches may be solved side by side. By interpolation between the last step that is not good and the first that is.
    Scores that come and go are looked at at doubling steps; a good one is found then, if not always the first.

    Parameters
    ----------
    before
        Score where the way begins, one before step 0: zero or less.
    guess
        The first good step, from what is known at the beginning.
    sure
        The guess is good to a share of a step or two: where it lies too near to a step, both beside it are looked at.
    at
        How far along the way each step is, rising from zero at its beginning, so that the score rises in proportion;
        the step's number by default.
    looked_at
        Which of the last step that is not good and the first that is must have been looked at. With `at` the other one
        is told from its score, where that says clearly (`CLEAR`) that the score turns between them.
    """
    if count < 1:
        return None
    known = {-1: before}
    place = [0.0, *at] if at is not None else [float(i) for i in range(count + 1)]
    told = looked_at if at is not None else "both"
    pairs = sure or told != "both"

    def look(numbers: Iterable[float]) -> Generator[Sequence[int], Sequence[float], bool]:
        new = sorted({min(max(int(n), 0), count - 1) for n in numbers} - set(known))
        if new:
            known.update(zip(new, (yield new), strict=True))
        return bool(new)

    def clear(i: int, turn: float) -> bool:
        """Whether of steps i - 1 and i one is known by the other, as far as that is asked, if the score turns there."""
        share = (turn - place[i]) / (place[i + 1] - place[i])
        return (told == "good" and CLEAR < share <= 1.0) or (told == "bad" and 0.0 <= share < 1.0 - CLEAR)

    def around(i: int, turn: float, well_known: bool) -> set[int]:
        """What to look at where the score is thought to turn before step i."""
        one = i - 1 if told == "bad" else i
        return {one} if not well_known or (0 <= i < count and clear(i, turn)) else {i - 1, i}

    if guess is not None and math.isfinite(guess):
        yield from look(around(math.ceil(guess), -before, sure))
    else:
        yield from look(FIRST_LOOK)
    for turn in range(MOST_ROUNDS):
        good = min((i for i, score in known.items() if score > 0.0), default=None)
        if good is None:
            last, to = max(known), _leads_to(known, place)
            if told == "bad" and 0 <= last < count - 1 and known[last] < -_SURE and clear(last + 1, to):
                return last + 1
            beyond = _beyond(known, place, to)
            # Where a look is where the score is thought to turn, beside it is asked as it would be between two looks.
            if len(beyond) == 1 and math.isfinite(to):
                beyond = [max(n, last + 1) for n in around(beyond[0], to, pairs)]
            if not (yield from look(beyond)):
                return None
            continue
        bad = max(i for i in known if i < good)
        if good - bad == 1:
            return good
        far = place[bad + 1] + _share(known[bad], known[good]) * (place[good + 1] - place[bad + 1])
        if told == "good" and known[good] > _SURE and clear(good, far):
            return good
        if told == "bad" and bad >= 0 and known[bad] < -_SURE and clear(bad + 1, far):
            return bad + 1
        i = bisect_left(place, far) - 1
        numbers = {min(max(n, bad + 1), good - 1) for n in around(i, far, pairs)}
        yield from look(numbers if turn % 4 < 3 else numbers | {(bad + good) // 2})
    return min((i for i, score in known.items() if score > 0.0), default=None)


def _leads_to(known: Mapping[int, float], place: Sequence[float]) -> float:
    """Where the last two scores lead to zero; NaN where they don't."""
    last, far = sorted(known)[-2:]
    rise = (known[far] - known[last]) / (place[far + 1] - place[last + 1])
    return place[far + 1] - known[far] / rise if math.isfinite(rise) and rise > 0.0 else math.nan


def _share(bad: float, good: float) -> float:
    """How far between a bad and a good score zero lies; half way where a score says nothing."""
    share = bad / (bad - good) if math.isfinite(bad) and math.isfinite(good) else 0.5
    return min(max(share, 0.0), 1.0)


def _beyond(known: Mapping[int, float], place: Sequence[float], to: float) -> Sequence[int]:
    """Steps to look at next where none is good yet: where scores lead, `to`, the end of the way, or all over it."""
    count, far = len(place) - 1, max(known)
    if far < count - 1:
        i = bisect_left(place, to) - 1 if math.isfinite(to) else 2 * far + 2
        return (min(max(i, far + 1), count - 1),)
    scores = [known[i] for i in sorted(known)]
    if all(one <= other for one, other in itertools.pairwise(scores)):  # it rises to the end, and not far enough
        return ()
    return sorted({min(2**k - 1, count - 1) for k in range(count.bit_length() + 1)})
