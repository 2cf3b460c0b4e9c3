"""Counts that are not sure: how many pieces will be used, as an exact distribution.

Plain Python: sums by convolution, many equal sessions by doubling, walk-ins as a compound
Poisson. Tails below one in 10^13 are cut so that a year of sessions stays small.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import ceil, exp, sqrt

import msgspec

_NEGLIGIBLE = 1e-13


class Distribution(msgspec.Struct, frozen=True):
    """Probabilities of ``first``, ``first + 1``, ... pieces."""

    first: int
    shares: tuple[float, ...]

    @property
    def last(self) -> int:
        """Largest count that is possible at all."""
        return self.first + len(self.shares) - 1

    @property
    def mean(self) -> float:
        """Expected count."""
        return sum((self.first + k) * share for k, share in enumerate(self.shares))

    @property
    def deviation(self) -> float:
        """Standard deviation."""
        mean = self.mean
        squares = sum((self.first + k - mean) ** 2 * s for k, s in enumerate(self.shares))
        return sqrt(squares)

    def at_most(self, count: float) -> float:
        """Chance of this many or fewer."""
        return min(sum(self.shares[: max(int(count) - self.first + 1, 0)]), 1.0)

    def quantile(self, level: float) -> int:
        """Smallest count that is enough with this chance.

        >>> showing_up(1, 0.9).quantile(0.05), showing_up(1, 0.9).quantile(0.95)
        (0, 1)
        """
        reached = 0.0
        for k, share in enumerate(self.shares):
            reached += share
            # The cut tails and rounding must not ask for one more piece.
            if reached >= level - 1e-11:
                return self.first + k
        return self.last


NOTHING = Distribution(0, (1.0,))


def from_shares(by_count: Mapping[int, float]) -> Distribution:
    """A distribution from probabilities by count."""
    first, last = min(by_count), max(by_count)
    return Distribution(first, tuple(by_count.get(k, 0.0) for k in range(first, last + 1)))


def showing_up(count: int, chance: float) -> Distribution:
    """``count`` pieces with a chance, none otherwise.

    >>> showing_up(3, 0.9).mean
    2.7
    """
    if count == 0 or chance <= 0:
        return NOTHING
    if chance >= 1:
        return Distribution(count, (1.0,))
    return Distribution(0, (1 - chance, *([0.0] * (count - 1)), chance))


def add(one: Distribution, other: Distribution) -> Distribution:
    """Sum of two independent counts."""
    short, long = sorted((one.shares, other.shares), key=len)
    sums = [0.0] * (len(short) + len(long) - 1)
    for offset, share in enumerate(short):
        if share:
            for k, other_share in enumerate(long, start=offset):
                sums[k] += share * other_share
    return _cut(one.first + other.first, sums)


def _cut(first: int, shares: list[float]) -> Distribution:
    start, end = 0, len(shares)
    while end - start > 1 and shares[start] < _NEGLIGIBLE:
        start += 1
    while end - start > 1 and shares[end - 1] < _NEGLIGIBLE:
        end -= 1
    return Distribution(first + start, tuple(shares[start:end]))


def repeat(one: Distribution, times: int) -> Distribution:
    """Sum of ``times`` independent counts alike.

    >>> repeat(showing_up(1, 0.5), 2).shares
    (0.25, 0.5, 0.25)
    """
    total, doubled = NOTHING, one
    while times:
        if times & 1:
            total = add(total, doubled)
        times >>= 1
        if times:
            doubled = add(doubled, doubled)
    return total


def walk_ins(mean: float, each: Distribution) -> Distribution:
    """Pieces of a Poisson number of people, each taking a count of ``each`` (Panjer recursion).

    >>> round(walk_ins(2.0, showing_up(1, 1.0)).mean, 9)
    2.0
    """
    by_count = {each.first + k: s for k, s in enumerate(each.shares) if s and each.first + k}
    if mean <= 0 or not by_count:
        return NOTHING
    expected = mean * sum(k * s for k, s in by_count.items())
    deviation = sqrt(mean * sum(k * k * s for k, s in by_count.items()))
    furthest = ceil(expected + 12 * deviation + 12 * max(by_count))  # beyond it less than 1e-13
    shares = [exp(-mean * sum(by_count.values()))]
    for k in range(1, furthest + 1):
        share = sum(j * s * shares[k - j] for j, s in by_count.items() if j <= k) * mean / k
        shares.append(share)
    return _cut(0, shares)


def beyond(demand: Distribution, stock: int) -> Distribution:
    """What is still missing after ``stock`` pieces are used up.

    >>> beyond(Distribution(1, (0.5, 0.5)), 1).shares
    (0.5, 0.5)
    """
    missing: dict[int, float] = {0: 0.0}
    for k, share in enumerate(demand.shares, start=demand.first):
        missing[max(k - stock, 0)] = missing.get(max(k - stock, 0), 0.0) + share
    return from_shares(missing)


def expected_left(demand: Distribution, stock: int) -> float:
    """Expected pieces of ``stock`` that this demand leaves over."""
    return sum(
        max(stock - k, 0) * share for k, share in enumerate(demand.shares, start=demand.first)
    )
