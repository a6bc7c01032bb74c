"""The severity of the first fault of a pair stays within its range.

Source: the integral over the range by scipy's quadrature, the Gaussian that stands for the range
worked out by hand; and a plugged nozzle, which passes the air that it is given and no more (common
practice, no source).
"""

from __future__ import annotations

from itertools import pairwise
from math import exp, log, pi
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import quad

from diagnose.inference import pairs as pairs_
from diagnose.inference.engine import Engine
from diagnose.inference.first_severity import log_share
from diagnose.inference.hypotheses import Pair
from diagnose.inference.measurement import Applied, Measurement, Reading
from diagnose.inference.symptoms import Symptoms
from diagnose.inference.weighing import Scales, weigh
from diagnose.loops.sheet import load_sheet

SHEETS = Path(__file__).parents[2] / "cases" / "larkmere" / "sheets"


def by_quadrature(at: float, centre: float, sd: float) -> float:
    """Log of the range under a likelihood of height 1, against the Gaussian around ``at``."""

    def likelihood(x: float) -> float:
        return exp(-(((x - centre) / sd) ** 2) / 2)

    marks = sorted({min(max(centre + k * sd, -20.0), 21.0) for k in range(-8, 9)} | {0.0, 1.0})
    pieces = list(pairwise(marks))
    held = sum(quad(likelihood, a, b)[0] for a, b in pieces if a >= 0.0 and b <= 1.0)
    whole = sum(
        quad(lambda x: likelihood(x) * exp(-pi * (x - at) ** 2), a, b)[0] for a, b in pieces
    )
    return log(max(held, 1e-300) / whole)


@pytest.mark.parametrize(
    ("at", "centre", "sd"),
    [
        (0.5, 0.5, 0.01),  # sharp and where the search put it
        (0.99, 1.18, 0.02),  # beyond the end
        (0.01, 0.0, 0.05),  # on the end
        (0.9, 0.2, 0.1),  # within, but far away
        (0.3, 0.7, 2.0),  # the readings hardly tell
        (0.99, 1.5, 0.4),
    ],
)
def test_the_range_is_what_counts(at: float, centre: float, sd: float) -> None:
    precision = 1 / sd**2 + 2 * pi
    mean = (centre / sd**2 + 2 * pi * at) / precision
    found = log_share(np.array([at]), np.array([mean]), np.array([1 / precision]))
    assert found[0] == pytest.approx(max(by_quadrature(at, centre, sd), -60.0), abs=0.02)


def test_no_reading_tells_no_more_than_the_range() -> None:
    # source: by hand: the integral of 1 over [0, 1], and that of a density over all
    found = log_share(np.array([0.01, 0.5]), np.array([0.01, 0.5]), np.full(2, 1 / (2 * pi)))
    assert found == pytest.approx([0.0, 0.0], abs=1e-3)


def test_a_plugged_nozzle_gives_no_more_than_its_air(monkeypatch: pytest.MonkeyPatch) -> None:
    # source: a gauge of 160 kPa at 0.94 shows 150 kPa, the air has 140 kPa
    monkeypatch.setattr(pairs_, "FOLDED", pairs_.WORTH)  # each pair by itself
    engine = Engine(load_sheet(SHEETS / "LV-214.toml"))
    air, gauge = (engine.loop.part(name).values for name in ("AS", "PG3"))
    assert 0.94 * gauge["high"] > 1.05 * air["pressure"]
    readings = [
        Reading(Measurement("ohm", ("X31:3", "X31:4"), (Applied("K1", "off"),)), "value", 0.1),
        Reading(Measurement("shows", ("LIC-214.M",)), "dark"),
        Reading(Measurement("shows", ("PG3",)), "value", 0.94),
    ]
    belief, atlas = engine.believe(engine.sort(readings))
    held = {
        frozenset((h.key, *h.also)): belief.probability[h.number] for h in atlas.ground.hypotheses
    }
    pairs = [
        p for key, p in held.items() if len(key) == 2 and ("LY-214.P", "nozzle plugged") in key
    ]
    assert pairs
    assert sum(pairs) < 0.02


def test_pairs_none_of_which_can_be_are_no_fault_of_the_reckoning() -> None:
    """Every pair that was found may be impossible by a look at its own circuit: nothing is left."""
    engine = Engine(load_sheet(SHEETS / "TT-131.toml"))
    told = engine.sort([Reading(Measurement("V", ("X31:1", "PE")), "value", 0.12)])
    first = next(h for h in engine.hypotheses if h.key == ("TE-131", "open"))
    second = next(h for h in engine.hypotheses if h.key == ("TI-131", "frozen"))
    number = len(engine.hypotheses)
    pair = Pair(number, second.part, second.mode, 0.0, second.place, first, 0.5)
    atlas = engine.atlas.extended((pair,))
    assert atlas.ground.pairs
    scales = Scales(np.zeros(len(atlas.ground.hypotheses)), Symptoms(None, None), 0.0)
    assert not len(weigh(atlas, np.zeros(0, int), told.data, scales, -20.0))
