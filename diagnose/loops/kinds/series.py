"""What else stands in a current loop: an indicator fed by it, a transmitter's test diode."""

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
)

_BLANK = 10.0
"""How far below its range a display stands that shows nothing, in ranges."""


def _told(q: Any, process: Any) -> tuple[Any, Any]:
    """What the display shows of its current: as a straight line in the voltage across it."""
    free, span = 1 - q.stuck, q.full_current - q.zero_current
    at_rest = -(q.drop / q.resistance + q.zero_current) / span
    shown = at_rest + q.shown_shift - _BLANK * q.blank
    return free / (q.resistance * span), free * shown + q.stuck * q.stuck_at


class SeriesIndicator(Kind, name="series_indicator"):
    """A field indicator that lives on a small drop of the loop current that it shows."""

    title = "field indicator"
    symbol = "instrument"
    pins = ("plus", "minus")
    carries_loop = True
    facts = DEVICE
    parameters = (
        Parameter("drop", "V", "volts that feed it", 1.1, 0.2, least=0.01, most=20),
        Parameter("resistance", "ohm", "slope above the drop", 10.0, least=0.1, most=1e12),
        Parameter("leak", "ohm", "beside its electronics", 1e6, least=1e-3, most=1e15),
        Parameter("zero_current", "A", "current at 0 %", 4e-3, least=0, most=0.1),
        Parameter("full_current", "A", "current at 100 %", 20e-3, least=0, most=0.1),
        Parameter("accuracy", "1", "limit of error, fraction of range", 0.01, least=1e-5, most=0.5),
        Parameter("shown_shift", "1", "error of what is shown", 0.0, typed=False),
        Parameter("blank", "1", "1 while the display shows nothing", 0.0, typed=False),
        Parameter("stuck", "1", "1 while the display stands still", 0.0, typed=False),
        Parameter("stuck_at", "1", "value at which it stands", 0.0, typed=False),
    )
    branches = (
        Branch(
            "plus",
            "minus",
            (
                Segment("unfed", lambda q: (1 / q.leak, 0), lambda q: q.drop),
                Segment(
                    "fed",
                    lambda q: (1 / q.resistance + 1 / q.leak, -q.drop / q.resistance),
                ),
            ),
        ),
    )
    shows = Shows("value", _told, accuracy=0.01, least=-0.15, most=1.15)
    modes = (
        FaultMode(
            "open",
            "indicator open: no current passes",
            (fixed("resistance", OPEN), fixed("leak", OPEN)),
            0.7,
            symptoms={"erratic": 0.1},
            favoured={"lightning": 3},
            remedy="bridge it to restore the loop, then renew the indicator",
            minutes=30,
            cautions=("jumper",),
        ),
        FaultMode(
            "short",
            "indicator bridged: it shows nothing, the loop is right",
            (becomes("leak"),),
            0.4,
            Severity("resistance", "ohm", 0.05, 20),
            favoured={"work": 5, "lightning": 2},
            remedy="look for a bridge left on; renew the indicator",
            minutes=20,
        ),
        FaultMode(
            "drop too high",
            "indicator takes more volts than the loop can spare",
            (becomes("drop"),),
            0.5,
            Severity("drop", "V", 2.0, 12.0, logarithmic=False),
            favoured={"work": 4},
            remedy="compare its drop with the sheet; renew it or fit the type on the sheet",
            minutes=30,
        ),
        FaultMode(
            "scaling",
            "what the indicator shows is wrong: zero, span or scaling",
            (becomes("shown_shift"),),
            0.7,
            Severity("error shown", "1", -0.6, 0.6, logarithmic=False),
            favoured={"work": 4},
            remedy="compare it with a known current and correct zero, span or scaling",
            minutes=30,
        ),
        FaultMode(
            "display dead",
            "display shows nothing though current flows",
            (fixed("blank", 1.0),),
            0.4,
            remedy="renew the display; the loop needs nothing",
            minutes=30,
        ),
        FaultMode(
            "display stuck",
            "display stands still",
            (fixed("stuck", 1.0), becomes("stuck_at")),
            0.2,
            Severity("value shown", "1", 0.0, 1.0, logarithmic=False),
            symptoms={"frozen": 0.5},
            remedy="renew the display; the loop needs nothing",
            minutes=30,
        ),
    )


class TestDiode(Kind, name="test_diode"):
    """A diode in the return of a transmitter: a meter across it takes the current over."""

    title = "test diode"
    symbol = "diode"
    pins = ("plus", "minus")
    carries_loop = True
    meters_across = "leak"
    parameters = (
        Parameter("forward", "V", "volts at which it conducts", 0.63, 0.06, least=0.1, most=2),
        Parameter("slope", "ohm", "resistance above that", 5.0, least=0.1, most=1e12),
        Parameter("leak", "ohm", "resistance below that", 10e6, least=1e-3, most=1e15),
    )
    branches = (
        Branch(
            "plus",
            "minus",
            (
                Segment("blocking", lambda q: (1 / q.leak, 0), lambda q: q.forward),
                Segment("conducting", lambda q: (1 / q.slope + 1 / q.leak, -q.forward / q.slope)),
            ),
        ),
    )
    modes = (
        FaultMode(
            "open",
            "test diode open: the loop runs only while a meter is across it",
            (fixed("slope", OPEN), fixed("leak", OPEN)),
            0.3,
            symptoms={"erratic": 0.1},
            favoured={"lightning": 6, "work": 2},
            remedy="bridge the test terminals to restore the loop; renew the terminal block",
            minutes=45,
            cautions=("jumper",),
        ),
        FaultMode(
            "short",
            "test diode shorted: a meter across it reads too little",
            (becomes("leak"),),
            0.3,
            Severity("resistance", "ohm", 0.05, 20),
            favoured={"lightning": 6},
            remedy="read the current elsewhere; renew the terminal block when convenient",
            minutes=45,
        ),
    )
