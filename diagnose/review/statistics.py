"""Intervals and tests for counts and times, exact where counts are small.

The incomplete gamma and beta functions are those of scipy.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import erfc, log, sqrt

from diagnose.review.tables import Estimate, Share


def chi_square_quantile(chance: float, degrees: float) -> float:
    """The value below which chi-square with so many degrees of freedom lies with a chance."""
    from scipy.special import gammaincinv

    return 2 * float(gammaincinv(degrees / 2, chance))


def rate_interval(failures: int, years: float, confidence: float) -> Estimate:
    """Failures per year with the two-sided interval of time-censored data.

    The test ends at a time, not at a failure: 2r degrees of freedom below, 2r + 2 above.  With no
    failure the upper end is the one-sided bound, -ln(1 - confidence) / years.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.5.1.
    """
    if years <= 0:
        return Estimate(None, None, None)
    tail = 1 - confidence
    if failures == 0:
        return Estimate(0.0, 0.0, -log(tail) / years)
    low = chi_square_quantile(tail / 2, 2 * failures) / 2 / years
    high = chi_square_quantile(1 - tail / 2, 2 * failures + 2) / 2 / years
    return Estimate(failures / years, low, high)


def share_interval(count: int, of: int, confidence: float) -> Share:
    """A share with its exact interval (Clopper and Pearson, Biometrika 26:404, 1934)."""
    from scipy.special import betaincinv

    if of <= 0:
        return Share(count, of, None, None, None)
    tail = (1 - confidence) / 2
    low = float(betaincinv(count, of - count + 1, tail)) if count else 0.0
    high = float(betaincinv(count + 1, of - count, 1 - tail)) if count < of else 1.0
    return Share(count, of, count / of, low, high)


def ratio_of_rates(
    failures: int, years: float, before: int, years_before: float, confidence: float
) -> tuple[Estimate, float | None]:
    """A rate over an earlier one with its exact interval, and the chance of that if they are one.

    Given the sum of both counts, the first is binomial.  The chance is two-sided: twice the lesser
    tail.  None where nothing failed; an end of the interval is None where it has no bound.

    References
    ----------
    Przyborowski and Wilenski, Biometrika 31:313, 1940.
    """
    both = failures + before
    if not both or years <= 0 or years_before <= 0:
        return Estimate(None, None, None), None
    share = share_interval(failures, both, confidence)
    ends = (None if p is None or p >= 1 else p / (1 - p) * years_before / years
            for p in (share.value, share.low, share.high))  # fmt: skip
    even = years / (years + years_before)
    tails = binomial_tail(failures, both, even), binomial_tail(before, both, 1 - even)
    return Estimate(*ends), min(1.0, 2 * min(tails))


def mean_interval(
    mean: float | None, deviation: float | None, n: int, confidence: float
) -> Estimate:
    """A mean of n values with Student's interval; ``deviation`` is that of the sample."""
    from scipy.special import stdtrit

    if mean is None or n == 0:
        return Estimate(None, None, None)
    if n < 2 or deviation is None:
        return Estimate(mean, None, None)
    reach = float(stdtrit(n - 1, (1 + confidence) / 2)) * deviation / sqrt(n)
    return Estimate(mean, mean - reach, mean + reach)


def normal_chance(deviate: float) -> float:
    """The chance of a standard normal value at least so far from 0."""
    return erfc(abs(deviate) / sqrt(2))


def binomial_tail(count: int, of: int, share: float) -> float:
    """The chance of ``count`` or more out of ``of``, each with a chance ``share``."""
    from scipy.special import betainc

    if count <= 0:
        return 1.0
    return float(betainc(count, of - count + 1, min(max(share, 0.0), 1.0)))


def poisson_tail(count: int, mean: float) -> float:
    """The chance of ``count`` or more where ``mean`` are expected."""
    from scipy.special import gammainc

    return float(gammainc(count, mean)) if count > 0 else 1.0


def corrected(chances: Sequence[float], looked_at: int | None = None) -> list[float]:
    """Chances raised for how many were looked at, so that even one false find is as rare.

    ``looked_at`` may be more than the chances given, which are then the smallest of all.

    References
    ----------
    Holm, Scandinavian Journal of Statistics 6:65, 1979.
    """
    total = looked_at or len(chances)
    found = [0.0] * len(chances)
    highest = 0.0
    for place, number in enumerate(sorted(range(len(chances)), key=lambda n: chances[n])):
        highest = max(highest, min(1.0, (total - place) * chances[number]))
        found[number] = highest
    return found
