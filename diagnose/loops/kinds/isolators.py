"""Field sides of galvanic isolators: they take a current, or feed a transmitter that draws one.

Field side, output side and power terminals are parts of their own on a sheet: the circuits that
they stand in have nothing in common but a signal.
"""

from typing import Any

from diagnose.loops.facts import SOURCE
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
    times,
)

LEAST, MOST = -0.25, 1.15
"""Signals that an isolator can pass, fractions of range: 0 mA and 22.4 mA."""

SCALE = (
    Parameter("zero_current", "A", "current at 0 %", 4e-3, least=0, most=0.1),
    Parameter("full_current", "A", "current at 100 %", 20e-3, least=0, most=0.1),
)


def _fraction(q: Any, gain: Any, current: Any) -> tuple[Any, Any]:
    """A current ``gain * v + current`` as a fraction of range."""
    span = q.full_current - q.zero_current
    return gain / span, (current - q.zero_current) / span


class IsolatorInput(Kind, name="isolator_input"):
    """Field side of an isolator that takes the current of a transmitter with its own power."""

    title = "isolator, field side"
    pins = ("plus", "minus")
    carries_loop = True
    cautions = ("intrinsic safety",)
    facts = SOURCE
    parameters = (
        Parameter("resistance", "ohm", "input", 100.0, 0.05, least=1, most=1e5),
        Parameter("beside", "ohm", "what bypasses the input", 1e9, typed=False),
        *SCALE,
    )
    branches = (
        Branch("plus", "minus", ohmic("resistance")),
        Branch("plus", "minus", ohmic("beside"), carries=False),
    )
    signal = Shows(
        "value", lambda q, given: _fraction(q, 1 / q.resistance, 0), 0.0, least=LEAST, most=MOST
    )
    modes = (
        FaultMode(
            "open",
            "input open",
            (fixed("resistance", OPEN),),
            0.6,
            favoured={"lightning": 3, "work": 2},
            remedy="renew the isolator with the type on the sheet",
            minutes=30,
        ),
        FaultMode(
            "high resistance",
            "input resistance too high, or the wrong type fitted",
            (times("resistance"),),
            0.3,
            Severity("resistance", "ohm", 3, 50),
            favoured={"work": 4},
            remedy="compare the type with the sheet and renew the isolator",
            minutes=30,
        ),
        FaultMode(
            "bypassed",
            "input collapsed: part of the current passes beside it",
            (becomes("beside"),),
            0.4,
            Severity("resistance beside the input", "ohm", 1, 2e3),
            favoured={"lightning": 8},
            remedy="renew the isolator; look for what its input had to bear",
            minutes=30,
        ),
    )


def _fed(q: Any, power: Any) -> tuple[Any, Any]:
    """What the field draws from the feed, as a signal."""
    given = power * q.alive * q.voltage
    return _fraction(q, -1 / q.source_resistance, given / q.source_resistance)


class IsolatorFeed(Kind, name="isolator_feed"):
    """Field side of an isolator that feeds a two-wire transmitter and senses what it draws.

    It gives a voltage behind a resistance, up to a current limit, while the isolator has power.
    """

    title = "isolator, field side"
    pins = ("plus", "minus")
    references = ("power",)
    follows = ("power",)
    carries_loop = True
    cautions = ("intrinsic safety",)
    driven = ("given",)
    facts = SOURCE
    parameters = (
        Parameter("voltage", "V", "open-circuit voltage", 23.0, 0.03, least=1, most=100),
        Parameter("source_resistance", "ohm", "behind it", 300.0, 0.05, least=1, most=1e5),
        Parameter("current_limit", "A", "current limit", 30e-3, least=1e-3, most=1),
        Parameter("limit_slope", "ohm", "residual slope of the limit", 1e6, least=1e4, most=1e12),
        Parameter("given", "V", "voltage given", 0.0, typed=False),
        Parameter("alive", "1", "1 while the feed works", 1.0, typed=False),
        *SCALE,
    )
    branches = (
        Branch(
            "plus",
            "minus",
            (
                Segment(
                    "limited",
                    lambda q: (
                        1 / q.limit_slope,
                        -q.current_limit
                        - (q.given - q.source_resistance * q.current_limit) / q.limit_slope,
                    ),
                    lambda q: q.given - q.source_resistance * q.current_limit,
                ),
                Segment(
                    "feeding",
                    lambda q: (1 / q.source_resistance, -q.given / q.source_resistance),
                ),
            ),
        ),
    )
    signal = Shows("value", _fed, accuracy=0.0, least=LEAST, most=MOST)
    modes = (
        FaultMode(
            "dead",
            "field side gives no voltage",
            (fixed("alive", 0.0),),
            1.0,
            favoured={"lightning": 5, "work": 2},
            remedy="prove its power, then renew the isolator with the type on the sheet",
            minutes=30,
        ),
        FaultMode(
            "weak",
            "field side sags: its volts fall under load",
            (becomes("source_resistance"),),
            0.6,
            Severity("source resistance", "ohm", 400, 5e3),
            remedy="renew the isolator with the type on the sheet",
            minutes=30,
        ),
        FaultMode(
            "open",
            "field terminals open inside",
            (fixed("source_resistance", OPEN),),
            0.3,
            favoured={"lightning": 3},
            remedy="renew the isolator with the type on the sheet",
            minutes=30,
        ),
    )

    @classmethod
    def drive(cls, q: Any, process: Any) -> dict[str, Any]:
        """The voltage, while there is power."""
        return {"given": process * q.alive * q.voltage}
