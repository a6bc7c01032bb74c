"""A lamp, an end stop or OL beside a value: a tolerance that both hang on is the same in both.

Sources: the conditional normal distribution in closed form, and the double integral over severity
and tolerance by the midpoint rule.
"""

from __future__ import annotations

from math import asin, exp, log, pi, sqrt
from statistics import NormalDist

import numpy as np
import pytest

from diagnose.inference.cells import Cells, Levels
from diagnose.inference.data import Datum
from diagnose.inference.evidence import evidence
from diagnose.inference.leaning import leaning
from diagnose.inference.measurement import Measurement, Reading

NORMAL = NormalDist()
READ = Reading(Measurement("V", ("a", "b")), "value", 1.0)


def datum(side: int, y: float, noise: float, lasting: float = 0.0) -> Datum:
    shared = (("display", lasting),) if lasting else ()
    return Datum(READ, side, y, noise, shared, 0.0, 0.01, 0.0)


def level(along_s: float, *slopes: float) -> Levels:
    """0 at one end of the severity and ``along_s`` at the other, whatever the process."""
    return Levels(np.array([0.0, 0.0, along_s, along_s]), np.array([slopes] * 4), 0.0)


def log_evidence(*readings: tuple[Datum, Levels]) -> float:
    """What the engine makes of the readings in one cell."""
    p = np.array([[0.4, 0.5, 0.4, 0.5]])
    zero, corner = np.zeros(1, int), np.arange(4)[None]
    cells = Cells(zero, zero, zero, zero + 1, np.ones(1), p, corner, False)
    data, levels = zip(*readings, strict=True)
    return float(evidence(cells, data, levels, np.ones((1, len(data)), bool), 0.0)[0][0])


def side_given_value(known: tuple[Datum, Levels], side: tuple[Datum, Levels]) -> float:
    """P(side | value)."""
    return exp(log_evidence(known, side) - log_evidence(known))


@pytest.mark.parametrize(("slope", "own"), [(0.8, 0.3), (-0.8, 0.3), (0.8, 0.0), (0.0, 0.5)])
def test_one_draw_of_a_tolerance_holds_in_both(slope: float, own: float) -> None:
    # source: mean and variance of one of two normal variables, the other being known
    y, noise, mark, blur = 1.2, 0.4, 0.5, 0.2
    variance = 1.0 + noise**2
    mean = slope * y / variance
    left = slope**2 + own**2 + blur**2 - slope**2 / variance
    expected = NORMAL.cdf((mean - mark) / sqrt(left))
    known = datum(0, y, noise), level(0.0, 1.0, 0.0)
    seen = datum(1, mark, blur), level(0.0, slope, own)
    assert side_given_value(known, seen) == pytest.approx(expected, abs=1e-4)


@pytest.mark.parametrize("slope", [0.6, -0.6])
def test_a_level_that_crosses_its_mark_inside_a_cell(slope: float) -> None:
    # source: the double integral itself by 800 x 800 steps
    y, noise, mark, blur, steep, rise = 0.8, 0.3, 0.4, 0.1, 2.0, 1.5
    s = ((np.arange(800) + 0.5) / 800)[:, None]
    z = ((np.arange(800) + 0.5) / 800 * 10 - 5)[None]
    weight = np.exp(-(z**2) / 2 - ((y - steep * s - z) / noise) ** 2 / 2)
    beyond = np.vectorize(NORMAL.cdf)((rise * s + slope * z - mark) / blur)
    expected = float((weight * beyond).sum() / weight.sum())
    known, seen = (
        (datum(0, y, noise), level(steep, 1.0)),
        (datum(1, mark, blur), level(rise, slope)),
    )
    assert log(side_given_value(known, seen)) == pytest.approx(log(expected), abs=0.02)


def test_a_display_twice_at_its_end_stop() -> None:
    # source: chance that two normal variables are both positive, 1/4 + asin(correlation) / 2 pi
    lasting, noise = 0.2, 0.1
    expected = 1 / 4 + asin(lasting**2 / (lasting**2 + noise**2)) / (2 * pi)
    one = datum(1, 0.0, noise, lasting), level(0.0)
    # A reading on its mark, by itself one half, for what is the same in both.
    other = datum(1, 0.0, 1.0), level(0.0)
    found = exp(log_evidence(one, one) - log_evidence(other)) / 2
    assert found == pytest.approx(expected, rel=0.01)


@pytest.mark.parametrize("marks", [(0.3, -0.2, 0.5), (-1.0, 0.4, 0.1)])
def test_three_sides_that_hang_on_one_tolerance(marks: tuple[float, float, float]) -> None:
    # source: the integral over that tolerance by 4000 steps; the method of Mendell and Elston is
    # a few per cent off
    slopes, blur = (1.0, 0.8, -0.5), 0.5
    z = (np.arange(4000) + 0.5) / 4000 * 12 - 6
    weight = np.exp(-(z**2) / 2)
    for mark, slope in zip(marks, slopes, strict=True):
        weight = weight * np.vectorize(NORMAL.cdf)((slope * z - mark) / blur)
    expected = float(weight.sum() * 12 / 4000 / sqrt(2 * pi))
    seen = [
        (datum(1, mark, blur), level(0.0, slope)) for mark, slope in zip(marks, slopes, strict=True)
    ]
    other = datum(1, 0.0, 1.0), level(0.0)
    found = exp(log_evidence(*seen) - log_evidence(other)) / 2
    assert found == pytest.approx(expected, rel=0.06)


@pytest.mark.parametrize("rho", [0.6, 0.9995])
def test_what_a_value_tells_of_a_level_is_its_regression(rho: float) -> None:
    """Two normal variables of variance 1: given one that is r off, the other moves by rho * r and
    keeps 1 - rho**2 of its variance (any textbook of statistics); one thousandth is not nothing.
    """
    white = np.array([[[2.0, 0.5, 0.25, 0.1]]])  # residual at corner 00, slopes along s, t, twist
    found = leaning(white, np.array([[[rho]]]), np.array([[[1.0]]]))
    corners = np.array([2.0, 2.0 - 0.25, 2.0 - 0.5, 2.0 - 0.5 - 0.25 - 0.1])
    assert found.shift[0, 0] == pytest.approx(rho * corners)
    assert found.covariance[0, 0, 0] == pytest.approx(1 - rho**2)


def test_a_level_that_is_known_keeps_no_negative_variance() -> None:
    white = np.zeros((1, 1, 4))
    found = leaning(white, np.array([[[1.0 + 1e-12]]]), np.array([[[1.0]]]))
    assert 0 < found.covariance[0, 0, 0] < 1e-6
