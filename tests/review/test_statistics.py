"""Intervals and tests against the NIST/SEMATECH e-Handbook and scipy's distributions.

Handbook values are from memory where marked; what they must be is arithmetic on chi-square
quantiles, which scipy gives by another road than the code (`scipy.stats` against `scipy.special`).
"""

from math import log

import numpy as np
import pytest
from scipy import stats

from diagnose.review.statistics import (
    binomial_tail,
    chi_square_quantile,
    corrected,
    mean_interval,
    normal_chance,
    poisson_tail,
    rate_interval,
    ratio_of_rates,
    share_interval,
)
from diagnose.review.trends import among, trend

# NIST/SEMATECH e-Handbook 8.4.5.1: factors by which the MTBF estimate is multiplied.
# failures: (60 % low, up), (80 %), (90 %), (95 %)
FACTORS = {
    1: ((0.3340, 4.4814), (0.2571, 9.4912), (0.2108, 19.4957), (0.1795, 39.4979)),
    2: ((0.4674, 2.4260), (0.3758, 3.7607), (0.3177, 5.6281), (0.2768, 8.2573)),
    3: ((0.5440, 1.9543), (0.4490, 2.7222), (0.3869, 3.6689), (0.3422, 4.8491)),
    4: ((0.5952, 1.7416), (0.5004, 2.2926), (0.4370, 2.9276), (0.3906, 3.6702)),
    5: ((0.6324, 1.6184), (0.5391, 2.0554), (0.4756, 2.5379), (0.4285, 3.0798)),
    10: ((0.7326, 1.3719), (0.6491, 1.6074), (0.5895, 1.8432), (0.5438, 2.0853)),
    20: ((0.8088, 1.2367), (0.7395, 1.3769), (0.6882, 1.5089), (0.6475, 1.6371)),
    50: ((0.8788, 1.1371), (0.8286, 1.2142), (0.7901, 1.2832), (0.7585, 1.3473)),
}
# The same page, no failure: lower bound of the MTBF as a multiple of the time on test.
ZERO = {0.50: 1.4427, 0.60: 1.0914, 0.80: 0.6213, 0.90: 0.4343, 0.95: 0.3338}


@pytest.mark.parametrize("failures", FACTORS)
def test_mtbf_factors_of_the_handbook(failures: int) -> None:
    for confidence, (low, high) in zip((0.60, 0.80, 0.90, 0.95), FACTORS[failures], strict=True):
        found = rate_interval(failures, 1.0, confidence)
        assert found.low is not None and found.high is not None
        assert failures / found.high == pytest.approx(low, abs=1e-4)
        assert failures / found.low == pytest.approx(high, abs=1e-4)


@pytest.mark.parametrize("confidence", ZERO)
def test_zero_failure_bounds_of_the_handbook(confidence: float) -> None:
    found = rate_interval(0, 1.0, confidence)
    assert (found.value, found.low) == (0.0, 0.0)
    assert found.high is not None
    assert 1 / found.high == pytest.approx(ZERO[confidence], abs=1e-4)


def test_the_worked_examples_of_the_handbook() -> None:
    """800 h: 2 failures give 400 h, 90 % interval 127 to 2251 h; none gives 267 h at 95 %."""
    two, none = rate_interval(2, 800, 0.90), rate_interval(0, 800, 0.95)
    assert [round(1 / x) for x in (two.value, two.high, two.low) if x] == [400, 127, 2251]
    assert none.high is not None
    assert round(1 / none.high) == 267


def test_the_interval_of_a_published_failure_count() -> None:
    """Koolen (2001), table 8.1: 182 failures of 2302 temperature loops in 2.5 years.

    28.0 to 35.9 years between failures at 90 %.
    """
    found = rate_interval(182, 2302 * 2.5, 0.90)
    assert [round(1 / x, 1) for x in (found.high, found.low) if x] == [28.0, 35.9]


@pytest.mark.parametrize(("count", "of"), [(0, 12), (3, 12), (12, 12), (40, 41), (500, 1000)])
def test_share_intervals_are_those_of_scipy(count: int, of: int) -> None:
    found = share_interval(count, of, 0.90)
    judge = stats.binomtest(count, of).proportion_ci(0.90, method="exact")
    assert (found.low, found.high) == (pytest.approx(judge.low), pytest.approx(judge.high))


def test_tails_and_quantiles_are_those_of_scipy() -> None:
    for k, n, p in ((1, 10, 0.1), (4, 9, 0.3), (9, 9, 0.5), (0, 3, 0.2)):
        assert binomial_tail(k, n, p) == pytest.approx(stats.binom.sf(k - 1, n, p))
    for k, mean in ((0, 1.0), (1, 0.2), (7, 3.5)):
        assert poisson_tail(k, mean) == pytest.approx(stats.poisson.sf(k - 1, mean))
    for u in (-2.5, 0.0, 1.96):
        assert normal_chance(u) == pytest.approx(2 * stats.norm.sf(abs(u)))
    assert chi_square_quantile(0.95, 7) == pytest.approx(stats.chi2.ppf(0.95, 7))
    values = [0.1, 0.4, 0.2, 0.9]
    judge = stats.ttest_1samp(values, 0).confidence_interval(0.90)
    found = mean_interval(sum(values) / 4, stats.tstd(values), 4, 0.90)
    assert (found.low, found.high) == (pytest.approx(judge.low), pytest.approx(judge.high))


def test_chances_are_corrected_for_how_many_were_looked_at() -> None:
    """Holm (1979): the smallest times m, the next times m - 1 ..., never falling; by hand."""
    assert corrected([0.01, 0.04, 0.03]) == pytest.approx([0.03, 0.06, 0.06])
    assert corrected([0.01], looked_at=20) == pytest.approx([0.2])


# NIST/SEMATECH e-Handbook 8.2.3.4 and 8.4.5.2 (times from memory): failures of a system on test
# at these hours, the test ended at 1500 h.
HANDBOOK = (5, 40, 43, 175, 389, 712, 747, 795, 1299, 1478)


def test_the_trend_example_of_the_handbook() -> None:
    """The handbook's growth slope for these data is 0.5165, and 310 h is the MTBF at the end.

    It uses the unbiased form, exponent (n - 1) / sum ln(T / t) = 1 - 0.5165; ours is n / sum.
    1500 h / (10 x 0.4835) = 310 h.
    """
    found = trend([(HANDBOOK, 1500.0)])
    assert found.shape.value is not None
    unbiased = found.shape.value * 9 / 10
    assert 1 - unbiased == pytest.approx(0.5165, abs=1e-4)
    assert round(1500 / (10 * unbiased)) == 310
    assert found.events == 10
    assert found.verdict == "falling"


def test_both_tests_are_those_of_scipy_on_one_system() -> None:
    """2 sum ln(T / t) is chi-square with 2n degrees; Laplace's is the mean of uniform times."""
    found = trend([(HANDBOOK, 1500.0)])
    twice = 2 * sum(log(1500 / t) for t in HANDBOOK)
    above = stats.chi2.sf(twice, 20)
    assert found.shape_chance == pytest.approx(2 * min(above, 1 - above))
    laplace = (sum(HANDBOOK) / 10 / 1500 - 0.5) * (12 * 10) ** 0.5
    assert found.laplace == pytest.approx(laplace)
    assert found.laplace_chance == pytest.approx(2 * stats.norm.sf(abs(laplace)))


def test_a_trend_among_many_counts_for_less() -> None:
    """By hand: two tests double the least chance, Holm's multiplies it by the number in the table.

    Constant rates, 20 systems of 8 uniform times (seed 1): alone one verdict in ten at most is a
    trend, in a table of 20 hardly any; what rises in earnest still does.
    """
    rng = np.random.default_rng(1)
    steady = [trend([(tuple(rng.uniform(0, 100, 8)), 100.0)]) for _ in range(400)]
    alone = np.mean([one.verdict != "no trend shown" for one in steady])
    assert 0.02 < alone < 0.10
    tables = [among(steady[n : n + 20]) for n in range(0, 400, 20)]
    wrong = [any(one.verdict != "no trend shown" for one in table) for table in tables]
    assert np.mean(wrong) <= 0.25  # 0.10 is said; six tables of twenty are a chance of 1 in 89
    late = trend([(tuple(100 * rng.uniform(0, 1, 30) ** (1 / 4)), 100.0)])
    assert among([*steady[:20], late])[-1].verdict == "rising"


def test_systems_pool_whatever_their_rates_and_few_events_say_nothing() -> None:
    steady = trend([((10.0, 30.0, 50.0, 70.0, 90.0), 100.0), ((1.0, 3.0), 4.0)])
    assert steady.verdict == "no trend shown"
    rising = trend([((60.0, 80.0, 85.0, 90.0, 95.0, 98.0), 100.0)])
    assert rising.verdict == "rising"
    assert trend([((1.0, 2.0, 3.0), 9.0)]).verdict == "too few to tell"


def test_two_rates_are_compared_by_the_split_of_their_sum() -> None:
    """On paper: 10 and 2 in a year each; twice (66 + 12 + 1) / 2^12 for 10 or more heads of 12."""
    ratio, chance = ratio_of_rates(10, 1.0, 2, 1.0, 0.90)
    assert ratio.value == pytest.approx(5.0)
    assert chance == pytest.approx(158 / 4096)
    # the ends are rates at which so many, or so few, of 12 have a chance of 5 %
    for end, tail in ((ratio.low, stats.binom.sf), (ratio.high, stats.binom.cdf)):
        assert end is not None
        assert tail(9 if end == ratio.low else 10, 12, end / (1 + end)) == pytest.approx(0.05)


def test_two_rates_over_unlike_times_and_with_no_failure() -> None:
    """3 in half a year and 12 in two years are one rate; 5 and none: 2 / 2^5 on paper."""
    ratio, chance = ratio_of_rates(3, 0.5, 12, 2.0, 0.90)
    assert (ratio.value, chance) == (pytest.approx(1.0), 1.0)
    ratio, chance = ratio_of_rates(0, 1.0, 5, 1.0, 0.90)
    assert (ratio.value, ratio.low) == (0.0, 0.0)
    assert ratio.high == pytest.approx(0.05 ** (-1 / 5) - 1)  # (1 - p)^5 = 0.05, p / (1 - p)
    assert chance == pytest.approx(2 / 2**5)
    ratio, _ = ratio_of_rates(5, 1.0, 0, 1.0, 0.90)
    assert (ratio.value, ratio.high) == (None, None)
    assert ratio_of_rates(0, 1.0, 0, 1.0, 0.90)[1] is None
