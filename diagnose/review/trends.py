"""Whether failures come faster or slower with time: asked before a constant rate is believed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import log, sqrt

from diagnose.review.statistics import chi_square_quantile, corrected, normal_chance
from diagnose.review.tables import FALLING, RISING, TOO_FEW, TRENDLESS, Estimate, Trend

FEWEST = 4
"""Events below which neither test says anything (the normal limit of Laplace's is poor there)."""


def trend(systems: Sequence[tuple[Sequence[float], float]], confidence: float = 0.90) -> Trend:
    """The trend of failure times of some systems, each watched for a time of its own.

    ``systems`` holds (times of its failures, time watched), both counted from the start of the
    watch, in one unit.  Under a constant rate the times are uniform over the watch, whatever the
    rate is, so the systems pool without having one rate in common.

    References
    ----------
    Laplace's and the power-law (military handbook) test: NIST/SEMATECH e-Handbook, 8.2.3.4.
    Interval of the exponent, time-truncated: MIL-HDBK-189.
    """
    pairs = [(min(max(t, 0.0), end), end) for times, end in systems for t in times if end > 0]
    return trend_of_sums(
        len(pairs),
        sum(t - end / 2 for t, end in pairs),
        sum(end * end for _, end in pairs),
        sum(log(end / max(t, 1e-9 * end)) for t, end in pairs),
        confidence,
    )


def trend_of_sums(
    n: int, excess: float, squares: float, logs: float, confidence: float = 0.90
) -> Trend:
    """The trend of n failures from sums over them: t - T / 2, T squared, and ln(T / t)."""
    if n < FEWEST or squares <= 0:
        return Trend(n, None, None, Estimate(None, None, None), None, TOO_FEW)
    laplace = excess / sqrt(squares / 12)
    shape = n / max(logs, 1e-12)
    tail = (1 - confidence) / 2
    low = shape * chi_square_quantile(tail, 2 * n) / (2 * n)
    high = shape * chi_square_quantile(1 - tail, 2 * n) / (2 * n)
    chances = normal_chance(laplace), _shape_chance(logs, n)
    verdict = _verdict(laplace, shape, chances, 1 - confidence)
    return Trend(n, laplace, chances[0], Estimate(shape, low, high), chances[1], verdict)


def _shape_chance(logs: float, n: int) -> float:
    """Two-sided chance of the sum of ln(T / t): twice it is chi-square with 2n degrees."""
    from scipy.special import gammainc

    below = float(gammainc(n, logs))
    return min(1.0, 2 * min(below, 1 - below))


def _verdict(laplace: float, shape: float, chances: tuple[float, float], notable: float) -> str:
    """A trend where a test shows one and the other does not point the other way."""
    if _chance_of_either(*chances) >= notable or (laplace > 0) != (shape > 1):
        return TRENDLESS
    return RISING if laplace > 0 else FALLING


def _chance_of_either(first: float, second: float) -> float:
    """Bound on the chance that one of two tests shows a trend where there is none (Bonferroni)."""
    return min(1.0, 2 * min(first, second))


def among(trends: Sequence[Trend], confidence: float = 0.90) -> list[Trend]:
    """The trends of one table: of many that are looked at, some seem to rise or fall by chance.

    A verdict stands where it does after Holm's correction over all that are not too few to tell.
    """
    tested = [n for n, one in enumerate(trends) if one.verdict != TOO_FEW]
    chances = [
        _chance_of_either(one.laplace_chance or 0.0, one.shape_chance or 0.0)
        for one in (trends[n] for n in tested)
    ]
    found = list(trends)
    for n, chance in zip(tested, corrected(chances), strict=True):
        if chance >= 1 - confidence:
            found[n] = replace(trends[n], verdict=TRENDLESS)
    return found
