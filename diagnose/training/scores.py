"""How good stated probabilities were: proper scores, calibration, coverage, and their intervals."""

from __future__ import annotations

from collections.abc import Sequence
from math import nan, sqrt

import numpy as np

from diagnose.circuit.rows import Array

Z95 = 1.959964
"""The normal quantile of a 95 % interval."""

Interval = tuple[float, float]


def brier(share: Array, true: int) -> float:
    """Quadratic score of probabilities of several things, one of which is true.

    0 is perfect, 1 surely wrong: the score of G. W. Brier, Mon. Weather Rev. 78:1 (1950), halved.
    """
    return float(((share - (np.arange(len(share)) == true)) ** 2).sum()) / 2


def credible(share: Array, true: int, level: float = 0.9) -> float:
    """How far the smallest set that holds ``level`` of the belief holds what is true: 0 to 1.

    The last member of the set counts by the share of it that is needed, so that honest
    probabilities are covered ``level`` of the time on average, neither more nor less.
    """
    order = np.argsort(-share, kind="stable")
    before = np.cumsum(share[order]) - share[order]
    place = int(np.flatnonzero(order == true)[0])
    if share[true] <= 0:
        return 0.0
    return float(np.clip((level - before[place]) / share[true], 0.0, 1.0))


def calibration(said: Sequence[float], right: Sequence[bool], bins: int = 10) -> float:
    """Mean distance of what was said from what came true, over classes of equal size.

    Equal-mass classes: J. Nixon et al., "Measuring calibration in deep learning" (abstract seen).
    """
    order = np.argsort(np.asarray(said, float), kind="stable")
    parts = np.array_split(order, min(bins, len(order)))
    s, r = np.asarray(said, float), np.asarray(right, float)
    return float(sum(len(n) * abs(s[n].mean() - r[n].mean()) for n in parts) / len(order))


def wilson(count: float, of: int) -> Interval:
    """95 % interval of a share: E. B. Wilson, J. Am. Stat. Assoc. 22:209 (1927; from memory)."""
    if not of:
        return nan, nan
    p, z = count / of, Z95
    centre = (p + z * z / (2 * of)) / (1 + z * z / of)
    reach = z * sqrt(p * (1 - p) / of + z * z / (4 * of * of)) / (1 + z * z / of)
    return max(0.0, centre - reach), min(1.0, centre + reach)


def about_mean(values: Sequence[float]) -> Interval:
    """95 % interval of a mean, by the normal distribution; as wide as can be with one value."""
    some = np.asarray(values, float)
    if len(some) < 2:
        return nan, nan
    reach = Z95 * float(some.std(ddof=1)) / sqrt(len(some))
    return float(some.mean()) - reach, float(some.mean()) + reach
