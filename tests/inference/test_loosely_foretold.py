"""A reading that a fault foretells loosely may as well be worthless.

By Ohm's law and the normal distribution: 230 V through a triac of 30 ohm +-50 % and a shorted coil
are some 6 A +-25 %, so that any one value has a density of less than that of a worthless reading
times its chance.  Where the process is on and where it is off, a worthless reading fits alike.
"""

from __future__ import annotations

from math import exp, pi, sqrt

import numpy as np
import pytest

from diagnose.inference.data import BROAD, FUSE, WORTHLESS_METER
from diagnose.inference.engine import Engine
from diagnose.inference.measurement import Measurement, Reading
from diagnose.inference.readings import parse_line
from diagnose.loops.plant import open_plant

SHOWN = 6.22
ON = 0.5
"""Chance that the valve is commanded on: as likely as off, whatever lies between."""


def test_amperes_through_a_short_may_be_worthless() -> None:
    loop = open_plant().load("XV-222")
    engine = Engine(loop)
    coil = parse_line("ohm JB22:1 JB22:2 1.2 with supply off", loop)
    through = Reading(Measurement("mA", ("X61:1", "X61:2")), "value", SHOWN, rounding=0.005)
    belief, _ = engine.believe(engine.sort([through, coil]))
    cells = belief.weighted
    short = cells.cells.h == engine.hypothesis(("XY-222", "short")).number
    weight = np.exp(cells.log[short])
    found = weight @ cells.wrong[short, 0] / weight.sum()
    path = [part.values["resistance"] for part in loop.parts if part.name in PATH]
    ohms = sum(path) + 0.5 + 30.0 + 0.09  # source and triac; the short, as the ohmmeter tells
    ohms += engine.meter.burden
    mean = 230 / ohms
    sd = mean * sqrt((30 * 0.5 / sqrt(3) / ohms) ** 2 + (0.06 / sqrt(3)) ** 2)
    right = ON * 0.99 * exp(-(((SHOWN - mean) / sd) ** 2) / 2) / (sd * sqrt(2 * pi))
    wrong = WORTHLESS_METER * (1 - FUSE) * BROAD["mA"]
    assert found == pytest.approx(wrong / (right + wrong), abs=0.03)
    assert found > 0.3


PATH = ("F1", "W61L", "W61N", "W62L", "W62N")
"""Fuse and cable cores on the way of the current; the meter bridges the other fuse."""
