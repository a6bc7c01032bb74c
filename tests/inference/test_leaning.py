"""A lamp, an end stop or OL beside a value: a tolerance that both hang on is the same in both.

Sources: the conditional normal distribution in closed form, and the double integral over severity
and tolerance by the midpoint rule.
"""

from __future__ import annotations

from math import log, sqrt
from statistics import NormalDist

import numpy as np
import pytest

from diagnose.inference.cells import Cells, Levels
from diagnose.inference.data import Datum
from diagnose.inference.evidence import evidence
from diagnose.inference.measurement import Measurement, Reading

NORMAL = NormalDist()
READ = Reading(Measurement("V", ("a", "b")), "value", 1.0)


def datum(side: int, y: float, noise: float) -> Datum:
    return Datum(READ, side, y, noise, (), 0.0, 0.01, 0.0)


def level(along_s: float, *slopes: float) -> Levels:
    """0 at one end of the severity and ``along_s`` at the other, whatever the process."""
    return Levels(np.array([0.0, 0.0, along_s, along_s]), np.array([slopes] * 4), 0.0)


def side_given_value(known: tuple[Datum, Levels], side: tuple[Datum, Levels]) -> float:
    """What the engine makes of P(side | value) in one cell."""
    p = np.array([[0.4, 0.5, 0.4, 0.5]])
    zero, corner = np.zeros(1, int), np.arange(4)[None]
    cells = Cells(zero, zero, zero, zero + 1, np.ones(1), p, corner, False)

    def total(*readings: tuple[Datum, Levels]) -> float:
        data, levels = zip(*readings, strict=True)
        return float(evidence(cells, data, levels, np.ones((1, len(data)), bool), 0.0)[0][0])

    return float(np.exp(total(known, side) - total(known)))


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
