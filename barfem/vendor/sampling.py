"""How many bars of a lot to measure, and how many may fail: exact plans from two points, and ISO 2859-1.

Attributes: the smallest n, then c, whose chance to accept is at least 1 - producer at the share of bad bars that is
still good enough, and at most consumer at the share that must not pass. Exact sums: binomial, or hypergeometric where n
is more than a tenth of the lot. Variables: one limit, normal, s unknown, accepted where (limit - mean) / s >= k; exact
by the noncentral t; k meets the consumer's point. Of two limits the shares estimated to lie beyond count together
(Lieberman and Resnikoff, J. Amer. Statist. Assoc. 50 (1955) 457; ISO 3951-1, from memory): with each limit held against
k alone, a lot that is bad to both sides is taken twice as often as the plan says. Hardness and cracks are always
measured on all bars.
"""

from __future__ import annotations

import tomllib
from bisect import bisect_left
from collections.abc import Sequence
from functools import lru_cache
from importlib.resources import files
from math import ceil, floor
from typing import Any

import numpy as np

from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.grouped import counted, grouped

__all__ = [
    "ALL_BELOW",
    "SAME",
    "Plan",
    "bad_allowed",
    "chance_attributes",
    "chance_variables",
    "plan_attributes",
    "plan_iso_2859",
    "plan_lot",
    "share_beyond",
    "variables_take",
]

ALL_BELOW = 8
KINDS = ("attributes", "variables", "iso-2859")
LARGEST = 5000
LARGEST_LOT = 10_000_000
LARGEST_SAMPLE = 12_000  # beyond, whoever asks wants all of the lot looked at, or shares farther apart
SAME = 1e-9  # mm, deg, MPa: what is as near to a limit reaches it, and what spreads as little does not spread
_AT_A_TIME = 64
"""Sample sizes that are tried one by one, together; of longer runs the ends come first."""


@frozen(kw_only=True)
class Plan:
    """Measure `n` bars; accept up to `c` bad ones, or (limit - mean) / s of at least `k`.

    `risks` are (share of bad bars, chance to accept) at the producer's and at the consumer's point.
    """

    kind: str
    lot: int
    n: int
    c: int | None
    k: float | None
    risks: tuple[tuple[float, float], tuple[float, float]]
    how: str
    accept: bool | None = None
    """Whether the lot that was measured by it is accepted; None before."""


def plan_lot(
    kind: str,
    *,
    lot: int,
    accept: float = 0.01,
    reject: float = 0.10,
    producer: float = 0.05,
    consumer: float = 0.10,
) -> Plan:
    """A plan for a lot of `lot` bars.

    Parameters
    ----------
    accept, reject
        Shares of bad bars: good enough, and not to be passed. For "iso-2859" `accept` is the AQL as a share.
    producer, consumer
        Greatest chance to turn down a lot as good as `accept`, and to take one as bad as `reject`.

    Raises
    ------
    InputError
        Shares out of order, no such plan, an AQL that the standard does not have.
    """
    if kind not in KINDS:
        raise InputError(f"there is no plan {kind!r}.", where="--plan", expected=f"one of {', '.join(KINDS)}.")
    if lot < 1:
        raise InputError(f"a lot of {counted(lot, 'bar')}.", where="--lot-size", expected="1 or more.")
    if lot > LARGEST_LOT:
        raise InputError(
            f"a lot of {counted(lot, 'bar')}.", where="--lot-size", expected=f"at most {grouped(LARGEST_LOT)}."
        )
    if not 0.0 < accept < reject < 1.0:
        raise InputError(
            f"accept {accept:g} and reject {reject:g}.",
            where="--accept, --reject",
            expected="shares of bad bars, 0 < accept < reject < 1: 0.01 and 0.10.",
        )
    for option, risk in (("--producer", producer), ("--consumer", consumer)):
        if not 0.0 < risk < 0.5:
            raise InputError(f"a risk of {risk:g}.", where=option, expected="above 0 and below 0.5: 0.05.")
    if lot < ALL_BELOW:
        return _check_all(kind, lot, accept, reject, "small lots: check all")
    if kind == "iso-2859":
        return plan_iso_2859(lot=lot, aql_percent=100.0 * accept, reject=reject)
    if kind == "variables":
        return _plan_variables(lot, accept, reject, producer, consumer)
    return plan_attributes(lot=lot, accept=accept, reject=reject, producer=producer, consumer=consumer)


def _check_all(kind: str, lot: int, accept: float, reject: float, how: str, *, c: int = 0) -> Plan:
    """Every bar is measured: what is good enough is taken, what must not pass is not."""
    return Plan(kind=kind, lot=lot, n=lot, c=c, k=None, risks=((accept, 1.0), (reject, 0.0)), how=how)


def bad_allowed(plan: Plan, measured: int) -> int:
    """How many bad bars of those measured a plan of attributes allows; more than `plan.n` may have been measured.

    Then as many as take a lot that is good enough as surely as the plan would: counted against `plan.c` alone, a good
    lot would be turned down for being looked at more closely. A lot that must not pass passes no more often.
    """
    from scipy.stats import binom, hypergeom

    c = plan.c or 0
    if measured <= plan.n or plan.n >= plan.lot:
        return c
    (accept, taken), (reject, passed) = plan.risks
    counts = np.arange(c, measured)
    if measured > plan.lot / 10:
        good, bad = floor(accept * plan.lot + 1e-9), ceil(reject * plan.lot - 1e-9)
        at_accept, at_reject = (hypergeom.cdf(counts, plan.lot, many, measured) for many in (good, bad))
    else:
        at_accept, at_reject = (binom.cdf(counts, measured, share) for share in (accept, reject))
    fits = np.flatnonzero((at_accept >= taken - 1e-9) & (at_reject <= passed + 1e-9))
    return int(counts[fits[0]]) if len(fits) else c


def chance_attributes(*, n: int, c: int, share: float, lot: int | None = None) -> float:
    """Chance that a sample of n has at most c bad bars: binomial, or of a lot with share x lot bad ones.

    A lot's bad bars are whole: rounded to the nearest.
    """
    from scipy.stats import binom, hypergeom

    if lot is None:
        return float(binom.cdf(c, n, share))
    return float(hypergeom.cdf(c, lot, round(share * lot), n))


def plan_attributes(*, lot: int | None, accept: float, reject: float, producer: float, consumer: float) -> Plan:
    """The smallest n, then c; `lot` None is endless.

    Sample sizes are tried in runs that are halved. In a run from n1 to n2 no size needs fewer allowed bars than n1 does
    to take the good lot, and no size passes the bad lot less often with so many than n2 does: where n2 passes it too
    often with what n1 needs, none of the run will do, and it is left out unseen.
    """
    from scipy.stats import binom, hypergeom

    most = LARGEST if lot is None else min(lot, LARGEST_SAMPLE)
    # A lot has a whole number of bad bars: the point that is good enough rounded down, the other up.
    good = 0 if lot is None else floor(accept * lot + 1e-9)
    bad = 1 if lot is None else ceil(reject * lot - 1e-9)
    small = most if lot is None else min(most, lot // 10)  # beyond, the lot's own bars are counted
    runs = [(small + 1, most), (1, small)]
    while runs:
        first, last = runs.pop()
        if first > last:
            continue
        n = np.arange(first, last + 1) if last - first < _AT_A_TIME else np.array([first, last])
        of_good, of_bad = (
            (binom(n, accept), binom(n, reject)) if last <= small else (hypergeom(lot, good, n), hypergeom(lot, bad, n))
        )
        # The least c that takes a good lot as surely as asked: of all that do, it takes the fewest bad ones.
        c = of_good.ppf(1.0 - producer)
        if len(n) < last - first + 1:
            if of_bad.cdf(c[0])[-1] <= consumer:
                middle = (first + last) // 2
                runs += [(middle + 1, last), (first, middle)]
            continue
        at_accept, at_reject = of_good.cdf(c), of_bad.cdf(c)
        fits = np.flatnonzero((c < n) & (at_accept >= 1.0 - producer) & (at_reject <= consumer))
        if len(fits):
            i = int(fits[0])
            how = "binomial" if last <= small else f"hypergeometric, {good} and {bad} bad bars of {lot}"
            return Plan(
                kind="attributes",
                lot=lot or 0,
                n=int(n[i]),
                c=int(c[i]),
                k=None,
                risks=((accept, float(at_accept[i])), (reject, float(at_reject[i]))),
                how=f"smallest n, then c; exact, {how}",
            )
    if lot is None:
        raise InputError(
            f"no plan below {LARGEST} bars tells {accept:g} from {reject:g}.",
            where="--accept, --reject",
            expected="shares farther apart, or greater risks.",
        )
    return _check_all("attributes", lot, accept, reject, _no_sample(lot, most), c=good)


def _no_sample(lot: int, most: int) -> str:
    which = "smaller sample" if most >= lot else f"sample of up to {grouped(most)}"
    return f"no {which} tells one from the other: check all"


def chance_variables(*, n: int, k: float, share: float) -> float:
    """Chance that (limit - mean) / s of n normal values is k or more, where `share` of all lie beyond the limit."""
    from scipy.stats import nct, norm

    return float(nct.sf(np.sqrt(n) * k, n - 1, np.sqrt(n) * norm.isf(share)))


def share_beyond(quality: float, n: int) -> float:
    """Best unbiased estimate of the share beyond a limit (limit - mean) / s = `quality` away, of n normal values."""
    from scipy.special import betainc

    at = 0.5 - 0.5 * quality * n**0.5 / (n - 1)
    return float(betainc(0.5 * n - 1.0, 0.5 * n - 1.0, min(max(at, 0.0), 1.0)))


def variables_take(plan: Plan, n: int, room: Sequence[float], s: float) -> bool:
    """Whether a plan by variables takes n values with `room` from their mean to each limit and standard deviation s."""
    k = plan.k or 0.0
    if len(room) < 2 or s <= 0.0 or n < 3:
        return all(each >= k * s - SAME for each in room)
    return sum(share_beyond(each / s, n) for each in room) <= share_beyond(k, n) + SAME


def _plan_variables(lot: int, accept: float, reject: float, producer: float, consumer: float) -> Plan:
    from scipy.stats import nct, norm

    def k_of(n: int) -> float:
        return float(nct.isf(consumer, n - 1, np.sqrt(n) * norm.isf(reject)) / np.sqrt(n))

    def at_accept(n: int) -> float:
        return chance_variables(n=n, k=k_of(n), share=accept)

    most = min(lot - 1, LARGEST)
    # At equal risk of the consumer a larger sample takes a good lot more surely, so that halving finds the smallest.
    n = 3 + bisect_left(range(3, most + 1), 1.0 - producer, key=at_accept)
    if n > most:
        return _check_all("variables", lot, accept, reject, _no_sample(lot, most + (most == lot - 1)))
    k = k_of(n)
    return Plan(
        kind="variables",
        lot=lot,
        n=n,
        c=None,
        k=k,
        risks=((accept, at_accept(n)), (reject, chance_variables(n=n, k=k, share=reject))),
        how="smallest n, normal, s unknown; exact of one limit, noncentral t; lot taken as large",
    )


@lru_cache(maxsize=1)
def _iso_2859() -> dict[str, Any]:
    return tomllib.loads(files("barfem.vendor").joinpath("iso2859.toml").read_text(encoding="utf-8"))


def plan_iso_2859(*, lot: int, aql_percent: float, reject: float = 0.10) -> Plan:
    """ISO 2859-1, single sampling, normal inspection, general level II; no switching rules.

    Raises
    ------
    InputError
        An AQL that the standard does not have, or no plan of the table reaches.
    """
    data = _iso_2859()
    aqls: list[float] = data["aql_percent"]
    matching = [i for i, aql in enumerate(aqls) if abs(aql - aql_percent) < 1e-6 * aql]
    if not matching:
        raise InputError(
            f"an AQL of {aql_percent:g} %.",
            where="--accept",
            expected="an AQL of ISO 2859-1 as a share: " + ", ".join(f"{aql / 100:g}" for aql in aqls) + ".",
        )
    column = matching[0]
    letters: list[str] = [row["letter"] for row in data["letters"]]
    row = next(i for i, each in enumerate(data["letters"]) if lot <= each["lot"])
    letter = letters[row]
    # Arrows: down to the first plan below, or up from just right of the zeros to the plan above.
    step = column - data["letters"][row]["zero_at"]
    if step == 1 and row > 0:
        row -= 1
    while 0 <= row < len(letters) and column - data["letters"][row]["zero_at"] not in (0, *range(3, 11)):
        row += -1 if column - data["letters"][row]["zero_at"] > 10 else 1
    if not 0 <= row < len(letters):
        raise InputError(
            f"no plan of this table has an AQL of {aql_percent:g} %.", where="--accept", expected="another AQL."
        )
    step = column - data["letters"][row]["zero_at"]
    n, c = int(data["letters"][row]["n"]), int(data["accept"][0 if step == 0 else step - 2])
    share = aql_percent / 100.0
    if n >= lot:
        how = f"ISO 2859-1 letter {letter} asks for {n}, as many as there are: check all"
        return _check_all("iso-2859", lot, share, reject, how, c=c)
    small = lot if n > lot / 10 else None
    return Plan(
        kind="iso-2859",
        lot=lot,
        n=n,
        c=c,
        k=None,
        risks=(
            (share, chance_attributes(n=n, c=c, share=share, lot=small)),
            (reject, chance_attributes(n=n, c=c, share=reject, lot=small)),
        ),
        how=f"ISO 2859-1, single, normal, level II, letter {letter}"
        + ("" if letters[row] == letter else f" sent by its arrow to {letters[row]}")
        + f"; {data['source']}; no switching rules",
    )
