"""The first step along an ordered way that is good enough, with few steps looked at: each costs a solved bar."""

from __future__ import annotations

import itertools
import math
from bisect import bisect_left
from collections.abc import Generator, Iterable, Sequence

__all__ = ["first_good"]

FIRST_LOOK = (2, 11)
MOST_ROUNDS = 24


def first_good(
    count: int,
    *,
    before: float,
    guess: float | None = None,
    sure: bool = False,
    at: Sequence[float] | None = None,
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
        Where the guess and scores lead is the first good step or one beside it: it and the one before are looked at
        together.
    at
        How far along the way each step is, rising from zero at its beginning, so that the score rises in proportion;
        the step's number by default.
    """
    if count < 1:
        return None
    known = {-1: before}
    place = [0.0, *at] if at is not None else [float(i) for i in range(count + 1)]

    def look(numbers: Iterable[float]) -> Generator[Sequence[int], Sequence[float], bool]:
        new = sorted({min(max(int(n), 0), count - 1) for n in numbers} - set(known))
        if new:
            known.update(zip(new, (yield new), strict=True))
        return bool(new)

    if guess is not None and math.isfinite(guess):
        first = math.ceil(guess)
        yield from look((first - 1, first) if sure else (first,))
    else:
        yield from look(FIRST_LOOK)
    for turn in range(MOST_ROUNDS):
        good = min((i for i, score in known.items() if score > 0.0), default=None)
        if good is None:
            if not (yield from look(_beyond(known, place))):
                return None
            continue
        bad = max(i for i in known if i < good)
        if good - bad == 1:
            return good
        far = place[bad + 1] + _share(known[bad], known[good]) * (place[good + 1] - place[bad + 1])
        i = bisect_left(place, far) - 1
        around = {min(max(n, bad + 1), good - 1) for n in ((i - 1, i) if sure else (i,))}
        yield from look(around if turn % 4 < 3 else around | {(bad + good) // 2})
    return min((i for i, score in known.items() if score > 0.0), default=None)


def _share(bad: float, good: float) -> float:
    """How far between a bad and a good score zero lies; half way where a score says nothing."""
    share = bad / (bad - good) if math.isfinite(bad) and math.isfinite(good) else 0.5
    return min(max(share, 0.0), 1.0)


def _beyond(known: dict[int, float], place: Sequence[float]) -> Sequence[int]:
    """Steps to look at next where none is good yet: where the last two lead, the end of the way, or all over it."""
    count = len(place) - 1
    last, far = sorted(known)[-2:]
    rise = (known[far] - known[last]) / (place[far + 1] - place[last + 1])
    if far < count - 1:
        to = place[far + 1] - known[far] / rise if math.isfinite(rise) and rise > 0.0 else math.nan
        i = bisect_left(place, to) - 1 if math.isfinite(to) else 2 * far + 2
        return (min(max(i, far + 1), count - 1),)
    scores = [known[i] for i in sorted(known)]
    if all(one <= other for one, other in itertools.pairwise(scores)):  # it rises to the end, and not far enough
        return ()
    return sorted({min(2**k - 1, count - 1) for k in range(count.bit_length() + 1)})
