"""The integral of a Gaussian over a cell: sharp ridges at any slant lie between no two nodes."""

from __future__ import annotations

from math import erf, exp, hypot, log, pi, sqrt

import numpy as np
import pytest

from diagnose.inference.normal import square


def exact(r: float, u: float, w: float) -> float:
    """The integral for one reading.

    Over s in closed form, over t by 200,000 steps of the midpoint rule.
    """
    t = (np.arange(200_000) + 0.5) / 200_000
    ends = [np.array([erf(x) for x in (u * s - r + w * t) / sqrt(2)]) for s in (0.0, 1.0)]
    return float((ends[1] - ends[0]).mean() * sqrt(2 * pi) / 2 / u)


@pytest.mark.parametrize(
    ("r", "u", "w"),
    [
        # Volts that lean on severity a thousand times sharper than a cell, and hardly on the
        # process: as -0.0901 V does between corners of -0.1593 V and 0.0011 V.
        (530.0, 1220.0, -2.5),
        (500.0, 1200.0, 60.0),
        (0.4, 1.5, 0.3),
    ],
)
def test_one_reading_either_way_round(r: float, u: float, w: float) -> None:
    # source: the integral itself, by other means; a Gaussian of the square's own counts as nothing
    expected = log(exact(r, u, w))
    column = [np.array([[x]]) for x in (r, u, w)]
    for one, two in ((column[1], column[2]), (column[2], column[1])):
        assert square(column[0], one, two)[0][0] == pytest.approx(expected, abs=0.01)


def test_two_readings_that_cross() -> None:
    # source: closed form: both together fix a point well inside, 2 pi over the determinant
    u, w, r = np.array([[300.0, 2.0]]), np.array([[-1.0, 200.0]]), np.array([[150.0, 100.0]])
    whole = 2 * pi / abs(300.0 * 200.0 + 1.0 * 2.0)
    found, sd = square(r, u, w)
    assert exp(found[0]) == pytest.approx(whole, rel=1e-3)
    assert sd[0] == pytest.approx(hypot(200.0, 1.0) / (300.0 * 200.0 + 2.0), rel=1e-3)
