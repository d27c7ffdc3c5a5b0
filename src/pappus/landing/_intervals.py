"""What a number of flights can and cannot say: shares with their intervals, quantiles with their unknown mass."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from pappus.errors import BadInput, Finding, NoSolution, OutOfRange
from pappus.landing._ellipse import check_probability

_WIDEST_COUNT = 100_000
"""Numbers of members up to this far apart are counted as they are, which is quicker than sorting them."""


class Share(NamedTuple):
    """A counted share of all flights with the 95 % interval that its samples leave."""

    p: float
    low: float
    high: float
    limit: Literal["draws", "members"] = "draws"
    """What makes the interval as wide as it is: the number of flights, or of the forecast members behind them."""


@dataclass(frozen=True)
class Quantiles:
    """Quantiles over the flights that landed in the data."""

    probabilities: tuple[float, ...]
    values: tuple[float, ...]
    """Conditional on landing in the data, in the unit of the values given."""
    landed: int
    unknown: int
    note: str
    """Says what was left out; empty when every flight landed."""


@lru_cache(maxsize=4096)  # a launch window asks for the same few thousand again and again
@lru_cache(maxsize=65_536)  # a launch window asks for the same few numbers again and again
def clopper_pearson(k: int, n: int, confidence: float = 0.95) -> tuple[float, float]:
    """Two-sided exact interval of a share from ``k`` events in ``n`` trials.

    Clopper & Pearson, "The use of confidence or fiducial limits illustrated in the case of the binomial",
    Biometrika 26 (1934) 404-413: the shares at which ``k`` or more, and ``k`` or fewer, events have half of what the
    confidence leaves. It never covers less than ``confidence``.

    :param k: 0 to n.
    :param n: 1 or more.
    :param confidence: above 0, below 1.
    :raises OutOfRange: outside those ranges.
    """
    if n < 1:
        raise OutOfRange("number of trials", n, 1, math.inf, "flights")
    if not 0 <= k <= n:
        raise OutOfRange("number of events", k, 0, n, "flights")
    check_probability("confidence", confidence)
    tail = 0.5 * (1.0 - confidence)
    low = 0.0 if k == 0 else _share_with_tail(k, n, tail)
    high = 1.0 if k == n else 1.0 - _share_with_tail(n - k, n, tail)
    return low, high


def _share_with_tail(k: int, n: int, tail: float) -> float:
    """The share p at which ``k`` or more of ``n`` events have the probability ``tail``, to 1e-12, by Newton's rule.

    A step that would leave the bracket of what is known so far halves it instead. Not by scipy's inverse beta
    function: its import alone is a tenth of a briefing.
    """
    events = np.arange(k, n + 1, dtype=np.float64)
    # ln of the binomial coefficients from k to n, each from the one before
    steps = np.log((n - events[:-1]) / (events[:-1] + 1.0))
    first = math.lgamma(n + 1) - math.lgamma(k + 1) - math.lgamma(n - k + 1)
    log_coefficients = first + np.concatenate(([0.0], np.cumsum(steps)))
    low, high = 0.0, 1.0
    p = k / (n + 1.0)
    for _ in range(60):
        terms = np.exp(log_coefficients + events * math.log(p) + (n - events) * math.log1p(-p))
        excess = float(terms.sum()) - tail
        low, high = (p, high) if excess < 0.0 else (low, p)
        # the slope of the tail in p is its first term times k / p
        slope = float(terms[0]) * k / p
        step = p - excess / slope if slope > 0.0 else low
        last, p = p, step if low < step < high else 0.5 * (low + high)
        if abs(p - last) < 1e-12:
            break
    return p


def share(k: int, n: int) -> Share:
    """``k`` of ``n`` flights, with the 95 % interval of Clopper and Pearson."""
    return Share(k / n, *clopper_pearson(k, n))


def share_over_members(hit: ArrayLike, member: ArrayLike) -> Share:
    """Share of flights, with the wider of two 95 % intervals: of the draws, and of the few forecast members.

    The draws give the interval of Clopper and Pearson. The members are taken as a sample of all that could have been
    forecast: jackknife over members (Efron & Tibshirani, An Introduction to the Bootstrap, 1993, ch. 11, from memory),
    with Student's t for so few of them. One member alone cannot say how much members differ: then the draws decide.

    :param hit: true for the flights that count, shape (flights,).
    :param member: which member each flight saw, any integers, shape (flights,).
    """
    hits, members = np.asarray(hit, dtype=np.float64), np.asarray(member, dtype=np.int64)
    counted = share(int(hits.sum()), hits.size)
    if counted.p in (0.0, 1.0):
        return counted  # no member differs from another
    group = members - members.min()
    if group.max() > _WIDEST_COUNT:
        group = np.unique(members, return_inverse=True)[1]
    sizes, inside = np.bincount(group), np.bincount(group, weights=hits)
    sizes, inside = sizes[sizes > 0], inside[sizes > 0]
    count = len(sizes)
    if count < 2:
        return counted
    without = (inside.sum() - inside) / (sizes.sum() - sizes)
    error = math.sqrt((count - 1) / count * float(((without - without.mean()) ** 2).sum()))
    reach = student_t975(count - 1) * error
    if 2.0 * reach <= counted.high - counted.low:
        return counted
    return Share(counted.p, max(counted.p - reach, 0.0), min(counted.p + reach, 1.0), "members")


def student_t975(freedom: int) -> float:
    """97.5 % quantile of Student's t, 1 degree of freedom and more: tabulated up to 4, else the expansion 26.7.5 of
    Abramowitz & Stegun.
    """
    if freedom <= 4:
        return (12.7062047, 4.3026527, 3.1824463, 2.7764451)[freedom - 1]
    z = 1.9599640
    first = (z**3 + z) / 4.0
    second = (5.0 * z**5 + 16.0 * z**3 + 3.0 * z) / 96.0
    third = (3.0 * z**7 + 19.0 * z**5 + 17.0 * z**3 - 15.0 * z) / 384.0
    return z + first / freedom + second / freedom**2 + third / freedom**3


def samples_for_zero_events(probability: float, confidence: float = 0.95) -> int:
    """How many flights without a single event show that its probability is below ``probability``.

    Smallest n with (1 - p)^n <= 1 - confidence; the "rule of three" is its limit for small p (Hanley &
    Lippman-Hand, JAMA 249 (1983) 1743-1745, from memory).

    :param probability: above 0, below 1.
    :param confidence: above 0, below 1.
    :raises OutOfRange: outside those ranges.
    """
    check_probability("probability", probability)
    check_probability("confidence", confidence)
    return math.ceil(math.log1p(-confidence) / math.log1p(-probability))


def quantiles(values: ArrayLike, probabilities: Sequence[float], unknown: int) -> Quantiles:
    """Quantiles of arrival (time, height ...) over the landed flights, with a note on those that did not land.

    A flight that was still aloft or had left the coverage has no arrival, early or late; the quantiles are therefore
    conditional on landing in the data, and the note says so. Definition 8 of Hyndman & Fan, "Sample quantiles in
    statistical packages", The American Statistician 50 (1996) 361-365: median-unbiased for any distribution.

    :param values: one finite number for each landed flight, shape (landed,).
    :param probabilities: each above 0, below 1.
    :param unknown: flights that did not land in the data, 0 or more.
    :raises OutOfRange: a probability or ``unknown`` is outside its range.
    :raises BadInput: a value is not finite.
    :raises NoSolution: no flight landed.
    """
    arrivals = np.asarray(values, dtype=np.float64)
    if arrivals.ndim != 1:
        raise ValueError(f"values have one axis, one number for each landed flight, not shape {arrivals.shape}")
    if unknown < 0:
        raise OutOfRange("unknown flights", unknown, 0, math.inf, "flights")
    for probability in probabilities:
        check_probability("probability", probability)
    if not arrivals.size:
        raise NoSolution(f"no flight landed in the data ({unknown} unknown): there is no arrival to give quantiles of")
    bad = int(np.count_nonzero(~np.isfinite(arrivals)))
    if bad:
        raise BadInput(
            Finding(
                "arrival values",
                f"{bad} of {arrivals.size} not finite",
                "a landed flight has an arrival",
                "Count flights without a landing as unknown.",
            )
        )
    found = np.quantile(arrivals, list(probabilities), method="median_unbiased")
    return Quantiles(
        probabilities=tuple(probabilities),
        values=tuple(float(value) for value in found),
        landed=arrivals.size,
        unknown=unknown,
        note=unknown_note(arrivals.size, unknown, "have no arrival; the times hold for the landed flights only"),
    )


def unknown_note(landed: int, unknown: int, consequence: str) -> str:
    """One sentence about the flights that did not land in the data; empty when there are none."""
    if not unknown:
        return ""
    flights = landed + unknown
    return f"{unknown:,} of {flights:,} flights ({unknown / flights:.1%}) did not land in the data: they {consequence}"
