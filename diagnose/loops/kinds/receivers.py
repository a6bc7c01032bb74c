"""What hangs on a 1-5 V bus: receivers that show a value and comparators that trip."""

from typing import Any

from diagnose.loops.kind import (
    Branch,
    FaultMode,
    Kind,
    Parameter,
    Severity,
    Shows,
    becomes,
    fixed,
    ohmic,
)

_INPUT = (
    FaultMode(
        "input collapsed",
        "input resistance has collapsed and drags the bus down",
        (becomes("input_resistance"),),
        0.4,
        Severity("input resistance", "ohm", 20, 20e3),
        favoured={"lightning": 6},
        remedy="lift this receiver from the bus, then renew its input",
        minutes=30,
    ),
    FaultMode(
        "second resistor",
        "a second sense resistor is fitted at this receiver",
        (fixed("input_resistance", 250.0),),
        0.3,
        favoured={"work": 6},
        remedy="remove the extra resistor or the card's jumper",
    ),
)


def _share(q: Any, process: Any) -> tuple[Any, Any]:
    """Gain and offset of what a receiver shows of its volts, a fraction of its range."""
    live, span = 1 - q.stuck, q.high - q.low
    return live / span, live * (q.shown_shift - q.low / span) + q.stuck * q.stuck_at


class VoltageReceiver(Kind, name="voltage_receiver"):
    """A high-resistance input that shows the bus voltage as a share of range."""

    title = "receiver"
    symbol = "instrument"
    pins = ("signal", "common")
    parameters = (
        Parameter("input_resistance", "ohm", "input", 1e6, tolerance=0.05, least=1, most=1e12),
        Parameter("low", "V", "volts at 0 %", 1.0, least=-100, most=100),
        Parameter("high", "V", "volts at 100 %", 5.0, least=-100, most=100),
        Parameter(
            "accuracy", "1", "limit of error, fraction of range", 0.0025, least=1e-5, most=0.5
        ),
        Parameter("shown_shift", "1", "error of what is shown", 0.0, typed=False),
        Parameter("stuck", "1", "what it shows stands still", 0.0, typed=False),
        Parameter("stuck_at", "1", "value at which it stands", 0.0, typed=False),
    )
    branches = (Branch("signal", "common", ohmic("input_resistance")),)
    shows = Shows("value", _share, accuracy=0.0025)
    modes = (
        *_INPUT,
        FaultMode(
            "scaling",
            "what it shows is wrong: zero, span or scaling",
            (becomes("shown_shift"),),
            0.7,
            Severity("error shown", "1", -0.6, 0.6, logarithmic=False),
            favoured={"work": 4},
            remedy="feed a known voltage and correct zero, span or scaling",
            minutes=30,
        ),
        FaultMode(
            "frozen",
            "what it shows stands still: forced, substituted, or its card has stopped",
            (fixed("stuck", 1.0), becomes("stuck_at")),
            0.5,
            Severity("value held", "1", -0.05, 1.05, logarithmic=False),
            symptoms={"frozen": 0.9},
            favoured={"work": 3},
            remedy="look for a forced or substituted value; restart the card once all its channels "
            "may drop; renew it",
            minutes=40,
        ),
    )


CLEAR = 2.0
"""Limits of error of a set point between it and the volts at which it is tried (assumption)."""


def either_side(q: Any) -> tuple[float, float]:
    """Volts just on the safe side of a set point, and just past it.

    The first lies beyond the dead band, if there is one: within it a trip that came in stays in.
    """
    apart, band = CLEAR * q.accuracy, getattr(q, "dead_band", 0.0)
    return q.set_point - q.direction * (band + apart), q.set_point + q.direction * apart


class Comparator(Kind, name="comparator"):
    """A trip on the bus voltage, with the lamp that tells its state."""

    title = "trip"
    pins = ("signal", "common")
    parameters = (
        Parameter("input_resistance", "ohm", "input", 1e6, tolerance=0.05, least=1, most=1e12),
        Parameter("set_point", "V", "bus voltage at which it trips", None, least=-100, most=100),
        Parameter("direction", "1", "1 trips when high, -1 when low", 1.0, least=-1, most=1),
        Parameter("accuracy", "V", "limit of error of the set point", 0.02, least=1e-4, most=1),
        Parameter("forced", "V", "added when the output is stuck", 0.0, typed=False),
    )
    branches = (Branch("signal", "common", ohmic("input_resistance")),)
    tries = either_side
    shows = Shows(
        "state",
        lambda q, process: (q.direction, -q.direction * q.set_point + q.forced),
        accuracy=0.02,
        resolution=0.0,
        least=-1e9,
        most=1e9,
    )
    modes = (
        *_INPUT,
        FaultMode(
            "set point wrong",
            "trips at the wrong voltage",
            (becomes("set_point"),),
            1.0,
            Severity("set point", "V", 1.0, 5.0, logarithmic=False),
            favoured={"work": 4},
            remedy="under an authorised bypass, ramp the input and set the trip point",
            minutes=60,
        ),
        FaultMode(
            "stuck on",
            "output stuck in trip, or the trip is latched",
            (fixed("forced", 1000.0),),
            0.7,
            favoured={"work": 2},
            remedy="find out what tripped it, then reset by the site's procedure; prove relay and "
            "output",
            minutes=30,
        ),
        FaultMode(
            "stuck off",
            "output cannot trip, or a bypass was left on",
            (fixed("forced", -1000.0),),
            0.7,
            favoured={"work": 5},
            remedy="look for a bypass left on, to be taken off by whoever may do so; then prove "
            "relay, output and lamp",
            minutes=30,
        ),
    )
