"""Output sides of galvanic isolators: they deliver, or sink, what the field side senses."""

from dataclasses import replace
from typing import Any

from diagnose.loops.arrays import np
from diagnose.loops.kind import (
    Branch,
    FaultMode,
    Kind,
    Parameter,
    Segment,
    Severity,
    becomes,
    copies,
    fixed,
)
from diagnose.loops.kinds.isolators import SCALE
from diagnose.loops.kinds.powered import LOW_COMPLIANCE, REVERSED, STAND_IN, CurrentOutput

_OUTPUT = (
    *SCALE,
    Parameter("safe_current", "A", "forced by line monitoring", 3.5e-3, least=0, most=0.1),
    Parameter("alive", "1", "1 while the output works", 1.0, typed=False),
    Parameter("gain_error", "1", "error between the sides, of reading", 0.0, typed=False),
    Parameter("failed", "1", "the output is fixed by a fault", 0.0, typed=False),
    Parameter("failed_current", "A", "current fixed by a fault", 0.0, typed=False),
)

_SIDES = (
    FaultMode(
        "dead",
        "output gives no current while the field side works",
        (fixed("alive", 0.0),),
        2.0,
        favoured={"lightning": 4, "work": 3},
        remedy="check that the output is set to deliver its current itself, then renew the "
        "isolator",
        minutes=30,
    ),
    FaultMode(
        "frozen",
        "output stands still while the field side moves",
        (fixed("failed", 1.0), becomes("failed_current")),
        0.6,
        Severity("current", "A", 3.6e-3, 20.5e-3, logarithmic=False),
        symptoms={"frozen": 0.9},
        remedy="switch its power off and on with the loop in manual; renew the isolator",
        minutes=30,
    ),
    FaultMode(
        "drift",
        "the two sides disagree by a constant share",
        (becomes("gain_error"),),
        1.0,
        Severity("error", "1", -0.4, 0.4, logarithmic=False),
        remedy="measure both sides, trim or renew the isolator",
        minutes=30,
    ),
    FaultMode(
        "forced",
        "line monitoring holds the output at its safe current",
        (fixed("failed", 1.0), copies("failed_current", "safe_current")),
        1.0,
        favoured={"work": 3},
        remedy="look at its fault lamp; find what line monitoring saw, then reset it",
        minutes=20,
    ),
)
"""How the two sides of an isolator come to disagree."""


def _output(q: Any, signal: Any) -> Any:
    """4 mA + 16 mA of the signal, unless a fault fixes it."""
    wanted = q.zero_current + (q.full_current - q.zero_current) * signal
    return q.failed * q.failed_current + (1 - q.failed) * (1 + q.gain_error) * wanted


class IsolatorOutput(CurrentOutput, name="isolator_output"):
    """Output side of an isolator: delivers the current that its field side senses."""

    title = "isolator, output side"
    parameters = (
        *CurrentOutput.parameters,
        *_OUTPUT,
    )
    modes = (
        *_SIDES,
        LOW_COMPLIANCE,
        REVERSED,
    )
    actions = (STAND_IN,)

    @classmethod
    def current(cls, q: Any, signal: Any) -> Any:
        """The current that is asked for, A."""
        return _output(q, signal)


def _starved(q: Any) -> tuple[Any, Any]:
    slope = q.demand * (1 + q.trim) / q.ramp
    return slope + 1 / q.leak, -slope * (q.lift_off - q.ramp)


class IsolatorSink(Kind, name="isolator_sink"):
    """Output side of an isolator that sinks its current, fed by the card that receives it."""

    title = "isolator, output side"
    pins = ("plus", "minus")
    references = ("from", "power")
    follows = ("from", "power")
    carries_loop = True
    driven = ("demand",)
    parameters = (
        Parameter("lift_off", "V", "least volts that it needs", 5.0, 0.05, least=1, most=100),
        Parameter("ramp", "V", "volts from off to full current", 2.0, least=1e-3, most=50),
        Parameter("leak", "ohm", "resistance when off", 20e6, least=1e4, most=1e12),
        Parameter("reverse_drop", "V", "drop of the reverse diode", 0.7, least=0.1, most=5),
        Parameter("reverse_slope", "ohm", "slope of that diode", 10.0, least=0.1, most=1e12),
        Parameter("trim", "1", "error of the output, of reading", 0.0, 0.001, False, typed=False),
        Parameter("demand", "A", "current asked for", 0.0, typed=False),
        *_OUTPUT,
    )
    branches = (
        Branch(
            "plus",
            "minus",
            (
                Segment(
                    "reversed",
                    lambda q: (1 / q.reverse_slope + 1 / q.leak, q.reverse_drop / q.reverse_slope),
                    lambda q: -q.reverse_drop,
                ),
                Segment("off", lambda q: (1 / q.leak, 0), lambda q: q.lift_off - q.ramp),
                Segment("starved", _starved, lambda q: q.lift_off),
                Segment("regulating", lambda q: (1 / q.leak, q.demand * (1 + q.trim))),
            ),
        ),
    )
    modes = (
        replace(
            _SIDES[0],
            remedy="check that the card feeds it and that the output is set to sink, then renew "
            "the isolator",
        ),
        *_SIDES[1:],
    )

    @classmethod
    def drive(cls, q: Any, process: Any) -> dict[str, Any]:
        """The current, while there is power."""
        signal, power = process
        return {"demand": np.maximum(power * q.alive * _output(q, signal), 0.0)}
