"""Sharp readings along curves, and levels that cross nothing: the engine against quadrature.

The quadrature (``tests/judge``) has its own circuit laws and its own grid, cut until its answers
no longer change; tolerances count there to first order.
"""

from __future__ import annotations

from math import log

import numpy as np
import pytest

from diagnose.inference.engine import Engine
from diagnose.inference.measurement import Applied, Measurement, Reading
from diagnose.inference.meters import GENERIC
from diagnose.inference.overload import driven_back
from diagnose.loops.plant import open_plant
from judge.comparison import compare

GOAL = 0.005

SIMULATED = (Applied("TE-132", "replaced", 100.0),)
OFF = (Applied("TI-140", "off", None),)
DARK = (Applied("G1", "off", None),)

CASES = {
    # Ohms of a bad contact go by decades: the chord of a strip puts 55 % where 50 % is.
    "TT-132": (Reading(Measurement("shows", ("TI-132",), SIMULATED), "value", 0.556),),
    # Below some 8 % a thermocouple drives the ohmmeter backwards, which then shows OL.
    "TE-140": (
        Reading(Measurement("shows", ("TH-140",)), "value", 0.63, rounding=0.0005),
        Reading(Measurement("shows", ("TG-140",)), "value", 0.76, rounding=0.0025),
        Reading(Measurement("ohm", ("TE-140:+", "TE-140:-"), OFF), "overload"),
    ),
    # 8 Mohm say that the transmitter's leak lies a fifth below its nominal value, with any fault.
    "PT-305": (
        Reading(Measurement("ohm", ("JB21:1", "PE"), DARK), "value", 8.05e6, rounding=5000.0),
        Reading(Measurement("V", ("PT-305:+", "PT-305:-")), "value", 18.31, rounding=0.005),
    ),
}


@pytest.mark.parametrize("tag", CASES)
def test_the_engine_is_as_sharp_as_quadrature(tag: str) -> None:
    found = compare(Engine(open_plant().load(tag)), CASES[tag], slices=(1, 1))
    assert max(value for value, _ in found.pairs.values()) > 0.05
    assert found.largest < GOAL, found.worst


@pytest.mark.parametrize(
    ("volts", "logs"),
    [
        # 1.2 V behind 10 kohm: R kohm on top of the leads leave 1.2 R / (R + 10) V
        (0.0, 0.0),
        (0.6, log(2)),  # 10 kohm
        (1.0, log(6)),  # 50 kohm
        (-0.3, log(0.8)),  # a source against it
    ],
)
def test_logs_of_ohms_by_hand(volts: float, logs: float) -> None:
    found, slope = GENERIC.ohm_logs(volts)
    assert float(found) == pytest.approx(logs, abs=1e-12)
    # d/dv of ln(1.2 / (1.2 - v))
    assert float(slope) == pytest.approx(1 / (1.2 - volts))


def test_what_lies_far_above_nothing_is_not_driven_back() -> None:
    """At 50 kohm, ln 6, 1 of 1.2 V is held: 5/6 of it.  0.5 in logs is there 0.5 / 6 of 1.2 V."""
    far = driven_back(np.array([log(6), 1e4]), np.array([0.5, 0.5]), 0.0)
    assert far[0] == pytest.approx(-10.0)
    assert -np.inf < far[1] < -1e6


def test_an_open_wire_of_an_output_reads_overload() -> None:
    """Common practice, no source: with the channel off nothing else is in the way of the meter."""
    engine = Engine(open_plant().load("LV-214"))
    wire = Measurement("ohm", ("X31:1", "K1:+"), (Applied("K1", "off", None),))
    belief, atlas = engine.believe(engine.sort([Reading(wire, "overload")]))
    cases = atlas.ground.hypotheses
    assert cases[int(belief.probability.argmax())].key == ("K1+.X31", "open")
