"""A meter in series is not advised where a short may be behind it.

By Ohm's law: 230 V through a triac of some 30 ohm and a shorted coil is amperes, and milliampere
jacks are fused for less than half of one (common practice, no source).
"""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.inference.advice import FUSED
from diagnose.inference.engine import Engine
from diagnose.inference.readings import parse_line
from diagnose.loops.plant import open_plant

BLOWN = ("complaint stays off", "VAC X61:3 X60:0 0.15", "VAC X61:1 X61:2 223.5")


def test_no_meter_bridges_a_fuse_that_a_short_may_have_blown() -> None:
    loop = open_plant().load("XV-222")
    adviser = Engine(loop).look([parse_line(line, loop) for line in BLOWN])
    series = [n for n, c in enumerate(adviser.candidates) if c.measurement.function == "mA"]
    across = [n for n in series if adviser.candidates[n].measurement.points == ("X61:1", "X61:2")]
    assert np.abs(adviser.outlook.mean[across]).max() > 223.5 / 60  # triac, wires, the short
    assert not [n for n in adviser.order if n in across]
    assert not adviser.fresh[across].any()


def test_a_fuse_that_a_short_blew_is_told_and_not_risked_again() -> None:
    """0 mA over a blown fuse: the fuse of the meter has gone as well, as likely as not."""
    loop = open_plant().load("XV-222")
    lines = (*BLOWN, "mA X61:1 X61:2 0")
    ranking = Engine(loop).rank([parse_line(line, loop) for line in lines])
    suspect = {item.index: item for item in ranking.suspects}
    assert suspect[3].probability > 0.5 and suspect[3].once
    assert "meter fuse blown" in suspect[3].reason
    assert 2 not in suspect or not suspect[2].once


@pytest.mark.parametrize("tag", ["LT-214", "FV-118"])
def test_in_a_loop_of_milliamperes_it_is_advised_as_before(tag: str) -> None:
    """20 mA, or what a supply of 24 V drives through 250 ohm: far less than the fuse."""
    loop = open_plant().load(tag)
    adviser = Engine(loop).look([parse_line("complaint reads low", loop)])
    series = [n for n, c in enumerate(adviser.candidates) if c.measurement.function == "mA"]
    assert series
    assert np.abs(adviser.outlook.mean[series]).max() < FUSED
    assert adviser.fresh[series].all()
