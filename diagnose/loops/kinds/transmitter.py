"""Two-wire transmitter: draws its demand while its terminals hold the lift-off voltage."""

from dataclasses import replace
from typing import Any

from diagnose.loops.facts import DEVICE
from diagnose.loops.kind import (
    Branch,
    FaultMode,
    Parameter,
    Segment,
    Severity,
    Shows,
    fixed,
    times,
)
from diagnose.loops.kinds.sensing import (
    ALARMS,
    CURRENTS,
    DEAD,
    DRIVEN,
    EQUALISED,
    FIXED,
    FROZEN,
    OUTPUT_ERROR,
    SENSED,
    SENSOR_ERRORS,
    STATE,
    Transmitter,
    asked,
    replaced,
    sensed,
)


def _starved(q: Any) -> tuple[Any, Any]:
    slope = q.demand * (1 + q.trim) / q.ramp
    return slope + 1 / q.leak, -slope * (q.lift_off - q.ramp)


_LIFT_OFF = Parameter("lift_off", "V", "least terminal voltage", 12.0, 0.03, least=1, most=100)


def _reaching(mode: FaultMode) -> FaultMode:
    """A failure current for which the supply may just not suffice, whatever the lift-off really is.

    The limit of error of the lift-off is carried as a rectangular distribution.
    """
    least, most = 1 - _LIFT_OFF.tolerance, 1 + _LIFT_OFF.tolerance
    return replace(
        mode,
        changes=(*mode.changes, times(_LIFT_OFF.name)),
        severity=Severity("lift-off voltage", "1", least, most, logarithmic=False, told=False),
    )


class TwoWireTransmitter(Transmitter, name="two_wire_transmitter"):
    """A current sink above lift-off, a steep slope below it, and a diode when reversed.

    The current rises over ``ramp`` volts and is complete at ``lift_off``, so that a sound loop is
    exact and the operating point stays unique.
    """

    pins = ("plus", "minus")
    carries_loop = True
    driven = ("demand",)
    facts = DEVICE
    parameters = (
        *CURRENTS,
        _LIFT_OFF,
        Parameter("ramp", "V", "volts from off to full current", 2.0, least=1e-3, most=50),
        Parameter("leak", "ohm", "resistance when off", 50e6, 0.8, least=1e3, most=1e12),
        Parameter("reverse_drop", "V", "drop of the reverse diode", 0.7, least=0.1, most=5),
        Parameter(
            "reverse_resistance", "ohm", "slope of the reverse diode", 10.0, least=0.1, most=1e12
        ),
        Parameter(
            "trim", "1", "error of the output stage, of reading", 0.0, 0.001, False, typed=False
        ),
        Parameter("demand", "A", "current asked for", 0.0, typed=False),
        Parameter("turned", "S", "conductance of the diode when wired backwards", 0.0, typed=False),
        *SENSED,
        *STATE,
    )
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
                Segment("off", lambda q: (1 / q.leak, 0), lambda q: q.lift_off - q.ramp),
                Segment("starved", _starved, lambda q: q.lift_off),
                Segment("regulating", lambda q: (1 / q.leak, q.demand * (1 + q.trim))),
            ),
        ),
        Branch(
            "plus",
            "minus",
            (
                Segment("blocked", lambda q: (0, 0), lambda q: q.reverse_drop),
                Segment("turned", lambda q: (q.turned, -q.turned * q.reverse_drop)),
            ),
        ),
    )
    shows = Shows(
        "value", lambda q, process: (0.0, sensed(q, process)), accuracy=0.002, title="own display"
    )
    modes = (
        DEAD,
        *(_reaching(mode) if mode.name == "failed high" else mode for mode in ALARMS),
        FROZEN,
        FIXED,
        *SENSOR_ERRORS,
        OUTPUT_ERROR,
        FaultMode(
            "reversed",
            "transmitter wired backwards",
            (
                fixed("alive", 0.0),
                fixed("turned", 0.1),
            ),
            0.2,
            favoured={"work": 15},
            remedy="swap the two wires at the transmitter",
            minutes=20,
        ),
    )
    actions = (
        DRIVEN,
        replaced("transmitter replaced by a known sink"),
        EQUALISED,
    )

    @classmethod
    def drive(cls, q: Any, process: Any) -> dict[str, Any]:
        """The current asked for."""
        return {"demand": asked(q, process)}
