"""Three-wire transmitter: fed between plus and common, its current comes out of a third wire."""

from typing import Any

from diagnose.loops.kind import (
    INTACT,
    OPEN,
    Branch,
    FaultMode,
    Parameter,
    Segment,
    Shows,
    copies,
    fixed,
    ohmic,
)
from diagnose.loops.kinds.sensing import (
    ALARMS,
    CURRENTS,
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


def _sink(pin: str, demand: str, carries: bool) -> Branch:
    """A current from plus to a pin, complete from ``lift_off`` volts on, off below the ramp."""

    def full(q: Any) -> Any:
        return getattr(q, demand) * (1 + q.trim)

    def starved(q: Any) -> tuple[Any, Any]:
        slope = full(q) / q.ramp
        return slope + 1 / q.leak, -slope * (q.lift_off - q.ramp)

    return Branch(
        "plus",
        pin,
        (
            Segment("off", lambda q: (1 / q.leak, 0), lambda q: q.lift_off - q.ramp),
            Segment("starved", starved, lambda q: q.lift_off),
            Segment("regulating", lambda q: (1 / q.leak, full(q))),
        ),
        carries,
    )


class ThreeWireTransmitter(Transmitter, name="three_wire_transmitter"):
    """Draws its own current from plus to common, and sends its signal from plus out.

    Where the common is lost, what it draws finds its way out through the output as well.
    """

    pins = ("plus", "out", "common")
    carries_loop = True
    driven = ("demand", "swapped_demand")
    parameters = (
        *CURRENTS,
        Parameter("lift_off", "V", "least volts from plus to output", 8.0, 0.05, least=1, most=100),
        Parameter("ramp", "V", "volts from off to full current", 2.0, least=1e-3, most=50),
        Parameter("load", "ohm", "what it draws itself", 3e3, 0.2, least=10, most=1e9),
        Parameter("leak", "ohm", "output when off", 50e6, 0.8, least=1e3, most=1e12),
        Parameter("drop", "V", "diode from common to output", 0.7, least=0.1, most=5),
        Parameter("drop_slope", "ohm", "its slope", 10.0, least=0.1, most=1e6),
        Parameter("trim", "1", "error of the output, of reading", 0.0, 0.001, False, typed=False),
        Parameter("demand", "A", "current asked for", 0.0, typed=False),
        Parameter("swapped", "1", "1 if output and common are swapped", 0.0, typed=False),
        Parameter("swapped_demand", "A", "the same, then", 0.0, typed=False),
        Parameter("swapped_load", "ohm", "what it draws itself, then", INTACT, typed=False),
        *SENSED,
        *STATE,
    )
    branches = (
        _sink("out", "demand", carries=True),
        Branch("plus", "out", ohmic("swapped_load"), carries=False),
        Branch("plus", "common", ohmic("load"), carries=False),
        _sink("common", "swapped_demand", carries=False),
        Branch(
            "common",
            "out",
            (
                Segment("blocked", lambda q: (0, 0), lambda q: q.drop),
                Segment("common lost", lambda q: (1 / q.drop_slope, -q.drop / q.drop_slope)),
            ),
            carries=False,
        ),
    )
    shows = Shows(
        "value", lambda q, process: (0.0, sensed(q, process)), accuracy=0.002, title="own display"
    )
    modes = (
        FaultMode(
            "dead",
            "transmitter draws nothing and sends nothing",
            (fixed("alive", 0.0), fixed("load", OPEN)),
            1.0,
            favoured={"lightning": 4},
            remedy="prove its terminal voltage, then renew the transmitter",
            minutes=60,
        ),
        *ALARMS,
        FROZEN,
        FIXED,
        *SENSOR_ERRORS,
        OUTPUT_ERROR,
        FaultMode(
            "swapped",
            "output and common swapped: the receiver sees what the transmitter draws",
            (fixed("swapped", 1.0), copies("swapped_load", "load"), fixed("load", INTACT)),
            0.2,
            favoured={"work": 15},
            remedy="swap output and common at the transmitter",
            minutes=20,
        ),
    )
    actions = (
        DRIVEN,
        replaced("transmitter replaced by a known source of current"),
        EQUALISED,
    )

    @classmethod
    def drive(cls, q: Any, process: Any) -> dict[str, Any]:
        """The current asked for, through one wire or the other."""
        current = asked(q, process)
        return {"demand": (1 - q.swapped) * current, "swapped_demand": q.swapped * current}
