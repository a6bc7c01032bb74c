"""The electrical side of a positioner: a load of nearly constant voltage, no coil."""

from typing import Any

from diagnose.loops.facts import DEVICE
from diagnose.loops.kind import (
    OPEN,
    Branch,
    FaultMode,
    Kind,
    Parameter,
    Segment,
    Severity,
    Shows,
    becomes,
    fixed,
    ohmic,
)
from diagnose.loops.kinds.pneumatics import LIVE_SPAN, LIVE_ZERO


def _taken(q: Any, given: Any) -> tuple[Any, Any]:
    """Gain and offset from the volts across the input to what the electronics take for target."""
    free = q.alive * (1 - q.local)
    gain = free / (q.slope * LIVE_SPAN)
    by_current = -(q.drop / q.slope + LIVE_ZERO) / LIVE_SPAN + q.input_error
    return gain, free * by_current + q.alive * q.local * q.local_at - (1 - q.alive)


class Positioner(Kind, name="positioner"):
    """The electrical input of a positioner: it lives on the loop current at nearly fixed volts."""

    title = "positioner"
    symbol = "instrument"
    pins = ("plus", "minus")
    carries_loop = True
    facts = DEVICE
    parameters = (
        Parameter("drop", "V", "least volts that it works at", 9.0, 0.05, least=1, most=50),
        Parameter("slope", "ohm", "slope above them", 50.0, 0.2, least=1, most=5e3),
        Parameter("leak", "ohm", "resistance when off", 50e6, 0.8, least=1e3, most=1e12),
        Parameter("reverse_drop", "V", "drop of the reverse diode", 0.7, least=0.1, most=5),
        Parameter("reverse_resistance", "ohm", "slope of the reverse diode", 10.0, least=0.1,
                  most=1e12),
        Parameter("accuracy", "1", "limit of error of its display", 0.002, least=1e-5, most=0.5),
        Parameter("shunt", "ohm", "failed protection across the input", OPEN, typed=False),
        Parameter("alive", "1", "1 while the electronics act", 1.0, typed=False),
        Parameter("local", "1", "1 while it is set at its own keys", 0.0, typed=False),
        Parameter("local_at", "1", "target set there", 0.0, typed=False),
        Parameter("input_error", "1", "error of the current that it reads", 0.0, typed=False),
    )  # fmt: skip
    branches = (
        Branch(
            "plus",
            "minus",
            (
                Segment(
                    "reversed",
                    lambda q: (
                        1 / q.reverse_resistance + 1 / q.leak,
                        q.reverse_drop / q.reverse_resistance,
                    ),
                    lambda q: -q.reverse_drop,
                ),
                Segment("off", lambda q: (1 / q.leak, 0), lambda q: q.drop),
                Segment("working", lambda q: (1 / q.leak + 1 / q.slope, -q.drop / q.slope)),
            ),
        ),
        Branch("plus", "minus", ohmic("shunt")),
    )
    shows = Shows("value", _taken, accuracy=0.002, title="own display", share=True)
    signal = Shows("value", _taken, 0.0, least=-LIVE_ZERO / LIVE_SPAN, most=1.5)
    modes = (
        FaultMode(
            "open",
            "input open: it draws nothing",
            (fixed("drop", 1e3),),
            0.6,
            favoured={"lightning": 5},
            remedy="prove the volts at its terminals; renew the positioner",
            minutes=60,
        ),
        FaultMode(
            "input shorted",
            "protection across its input has failed",
            (becomes("shunt"),),
            0.4,
            Severity("resistance", "ohm", 0.5, 400),
            favoured={"lightning": 10},
            remedy="renew the positioner or its input board; look at the surge protection",
            minutes=60,
        ),
        FaultMode(
            "dead",
            "electronics dead, though the input holds its volts",
            (fixed("alive", 0.0),),
            0.8,
            symptoms={"frozen": 0.4},
            favoured={"lightning": 4, "rain": 2},
            remedy="take its current off and on again; renew the electronics",
            minutes=60,
        ),
        FaultMode(
            "left in local",
            "positioner left in its own manual or calibration mode",
            (fixed("local", 1.0), becomes("local_at")),
            0.8,
            Severity("target held", "1", 0.0, 1.0, logarithmic=False),
            symptoms={"frozen": 0.8},
            favoured={"work": 10},
            remedy="have the operator set the output to where the valve stands, then put it back "
            "to automatic at its keys",
        ),
        FaultMode(
            "input error",
            "it reads its current wrong: input range or trim",
            (becomes("input_error"),),
            0.5,
            Severity("error", "1", -0.3, 0.3, logarithmic=False),
            favoured={"work": 4},
            remedy="compare its display with the current; set input range and trim",
            minutes=30,
        ),
    )
