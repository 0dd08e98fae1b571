"""The first step along an ordered way that is good enough, with few steps looked at: each costs a solved bar."""

from __future__ import annotations

import itertools
import math
from collections.abc import Generator, Sequence

__all__ = ["first_good"]

FIRST_LOOK = (2, 11)
MOST_ROUNDS = 24


def first_good(
    count: int, *, before: float, guess: float | None = None
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
        Where the score may turn, from what is known at the beginning.
    """
    if count < 1:
        return None
    known = {-1: before}

    def look(numbers: Sequence[float]) -> Generator[Sequence[int], Sequence[float], bool]:
        new = sorted({min(max(int(n), 0), count - 1) for n in numbers} - set(known))
        if new:
            known.update(zip(new, (yield new), strict=True))
        return bool(new)

    if guess is not None and math.isfinite(guess):
        yield from look((math.ceil(guess),))
    else:
        yield from look(FIRST_LOOK)
    for turn in range(MOST_ROUNDS):
        good = min((i for i, score in known.items() if score > 0.0), default=None)
        if good is None:
            if not (yield from look(_beyond(known, count))):
                return None
            continue
        bad = max(i for i in known if i < good)
        if good - bad == 1:
            return good
        i = bad + math.ceil(_share(known[bad], known[good]) * (good - bad))
        i = min(max(i, bad + 1), good - 1)
        yield from look((i,) if turn % 4 < 3 else (i, (bad + good) // 2))
    return min((i for i, score in known.items() if score > 0.0), default=None)


def _share(bad: float, good: float) -> float:
    """How far between a bad and a good score zero lies; half way where a score says nothing."""
    share = bad / (bad - good) if math.isfinite(bad) and math.isfinite(good) else 0.5
    return min(max(share, 0.0), 1.0)


def _beyond(known: dict[int, float], count: int) -> Sequence[int]:
    """Steps to look at next where none is good yet: where the last two lead, the end of the way, or all over it."""
    last, far = sorted(known)[-2:]
    rise = (known[far] - known[last]) / (far - last)
    if far < count - 1:
        to = far - known[far] / rise if math.isfinite(rise) and rise > 0.0 else 2.0 * far + 2.0
        i = min(math.ceil(to), count - 1)
        return (i,)
    scores = [known[i] for i in sorted(known)]
    if all(one <= other for one, other in itertools.pairwise(scores)):  # it rises to the end, and not far enough
        return ()
    return sorted({min(2**k - 1, count - 1) for k in range(count.bit_length() + 1)})
