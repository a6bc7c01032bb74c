"""Scores of stated probabilities, by published figures and by arithmetic.

Sources: the example of the Brier score in the documents of a well-known library (from memory;
recomputed): y = (0, 1, 1, 0), p = (0.1, 0.9, 0.8, 0.3) -> 0.0375.  Wilson intervals recomputed with
z = 1.96: 96 % of 200, 500, 1000 and 2000.
"""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.training.scores import about_mean, brier, calibration, credible, wilson


def test_brier_example() -> None:
    each = [
        brier(np.array([1 - p, p]), y)
        for y, p in zip((0, 1, 1, 0), (0.1, 0.9, 0.8, 0.3), strict=True)
    ]
    assert np.mean(each) == pytest.approx(0.0375)


@pytest.mark.parametrize(
    ("of", "low", "high"), [(200, 0.923, 0.980), (1000, 0.946, 0.970), (2000, 0.9505, 0.968)]
)
def test_wilson_interval(of: int, low: float, high: float) -> None:
    assert wilson(0.96 * of, of) == pytest.approx((low, high), abs=6e-4)


def test_honest_probabilities_are_covered_nine_times_in_ten() -> None:
    rng = np.random.default_rng(3)
    shares = rng.dirichlet([0.3] * 6, 4000)
    found = [credible(share, int(rng.choice(6, p=share))) for share in shares]
    assert np.mean(found) == pytest.approx(0.90, abs=0.015)


def test_a_set_by_hand() -> None:
    """0.6 and 0.3 hold 90 % exactly; of 0.97 alone 0.90 / 0.97 counts."""
    share = np.array([0.3, 0.6, 0.1])
    assert [credible(share, n) for n in range(3)] == pytest.approx([1, 1, 0])
    assert credible(np.array([0.97, 0.03]), 0) == pytest.approx(0.90 / 0.97)


def test_calibration_by_hand() -> None:
    """Two classes: 0.6 said and half right, 0.9 said and all right."""
    said, right = [0.6, 0.6, 0.9, 0.9], [True, False, True, True]
    assert calibration(said, right, 2) == pytest.approx((0.1 + 0.1) / 2)


def test_interval_of_a_mean() -> None:
    """1, 2, 3: mean 2, standard error 1 / sqrt(3)."""
    assert about_mean([1.0, 2.0, 3.0]) == pytest.approx((2 - 1.1316, 2 + 1.1316), abs=1e-3)
