"""One reading left out of a fit: against the fit of the others, made anew."""

from __future__ import annotations

from math import log, pi

import numpy as np
import pytest

from diagnose.inference.data import Datum
from diagnose.inference.measurement import Measurement, Reading
from diagnose.inference.outliers import Outliers

WRONG, DOUBT = log(1 / 60), 0.01
COVARIANCE = np.array([[4e-6, 1e-6, 0.0], [1e-6, 9e-6, 2e-6], [0.0, 2e-6, 1e-6]])


def outliers() -> tuple[Outliers, np.ndarray]:
    reading = Reading(Measurement("V", ("a", "b")), "value", 0.0)
    data = [Datum(reading, 0, 0.0, 1e-3, (), WRONG, DOUBT, WRONG)] * 3
    whiten = np.linalg.inv(np.linalg.cholesky(COVARIANCE))
    return Outliers(whiten, data), whiten


@pytest.mark.parametrize("bad", [0, 1, 2])
def test_what_is_left_is_the_fit_of_the_others(bad: int) -> None:
    # source: generalised least squares of the two others with their own covariance
    found, whiten = outliers()
    r = np.array([1e-3, -2e-3, 5e-4])
    r[bad] += 3.0
    off = (whiten @ r)[None]
    which, saved = found.worst(off)
    others = [n for n in range(3) if n != bad]
    own = r[others] @ np.linalg.inv(COVARIANCE[np.ix_(others, others)]) @ r[others]
    left = found.without(off, (which, saved))[0]
    assert which[0] == bad
    # Of 1e7 squares some digits are lost.
    assert left @ left == pytest.approx(own, abs=1e-5)
    # source: Bayes' rule, given the others: N(0) / (chance times density of a worthless reading)
    alone = COVARIANCE[bad, bad] - COVARIANCE[bad, others] @ np.linalg.solve(
        COVARIANCE[np.ix_(others, others)], COVARIANCE[others, bad]
    )
    price = -log(2 * pi * alone) - 2 * (log(DOUBT) + WRONG)
    assert off[0] @ off[0] - saved[0] == pytest.approx(own + price, abs=1e-5)


def test_a_good_reading_stays() -> None:
    found, whiten = outliers()
    off = (whiten @ [1e-3, -2e-3, 5e-4])[None]
    left_out = found.worst(off)
    assert left_out[1][0] == 0
    assert (found.without(off, left_out) == off).all()
