"""Instruments with power of their own: power terminals, and outputs that deliver a current."""

from dataclasses import replace
from typing import Any, ClassVar

from diagnose.loops.arrays import np
from diagnose.loops.kind import (
    OPEN,
    Action,
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
    saturates,
    sensed,
)


def _on(q: Any, given: Any) -> tuple[Any, Any]:
    return q.alive, -q.least


_ZERO, _SPAN = SENSOR_ERRORS
SENSOR_OFF = (
    replace(_ZERO, remedy="check zero with the process at zero and trim it"),
    replace(_SPAN, remedy="check range and factor against the sheet and its plate, then correct"),
)
"""The same errors of a sensor that has no manifold."""

BROUGHT_TO_ZERO = replace(
    EQUALISED, title="process brought to zero by operations, the sensor in its normal state"
)


class PowerInput(Kind, name="power_input"):
    """The power terminals of an instrument, with the lamp or lit display that tells of them."""

    title = "power terminals"
    pins = ("plus", "minus")
    carries_loop = True
    parameters = (
        Parameter("resistance", "ohm", "what it draws", 300.0, 0.2, least=1, most=1e6),
        Parameter("least", "V", "volts that it needs", 17.0, least=0.1, most=1000),
        Parameter("accuracy", "V", "limit of error of that", 0.5, least=1e-4, most=100),
        Parameter("alive", "1", "1 while its power section works", 1.0, typed=False),
    )
    branches = (Branch("plus", "minus", ohmic("resistance")),)
    shows = Shows("state", _on, accuracy=0.5, resolution=0.0, title="own display")
    signal = Shows("state", _on, accuracy=0.5)
    modes = (
        FaultMode(
            "dead",
            "power section dead: it draws nothing at full voltage",
            (fixed("alive", 0.0), fixed("resistance", OPEN)),
            0.8,
            favoured={"lightning": 5},
            remedy="prove the voltage at its power terminals; look at its own fuse; renew the "
            "instrument",
            minutes=60,
        ),
    )


class SensingElement(Kind, name="sensing_element"):
    """The sensor of a transmitter with power of its own, between the limits that it reports."""

    title = "sensor"
    driven = ("value",)
    parameters = (
        Parameter("lowest", "1", "least value reported", -0.0125, least=-1, most=0),
        Parameter("highest", "1", "largest value reported", 1.03125, least=1, most=2),
        Parameter("value", "1", "value reported", 0.0, typed=False),
        *SENSED,
    )
    signal = Shows("value", lambda q, process: (0.0, q.value), accuracy=0.0, least=-1, most=2)
    modes = (FROZEN, *SENSOR_OFF)
    actions = (BROUGHT_TO_ZERO,)

    @classmethod
    def drive(cls, q: Any, process: Any) -> dict[str, Any]:
        """The sensed value, held between the limits."""
        return {"value": np.clip(sensed(q, process), q.lowest, q.highest)}

    @classmethod
    def limited(cls, q: Any, process: Any) -> Any:
        """Which limit the value stands at."""
        seen = sensed(q, process)
        return np.where(seen <= q.lowest, -1, np.where(seen >= q.highest, 1, 0))

    @classmethod
    def corners(cls, q: Any) -> tuple[Any, ...]:
        """Process values at which it meets its limits."""
        return saturates(q, 1.0, q.lowest, q.highest)


def _knee(q: Any) -> Any:
    """Where a delivered current meets the line of the voltage that is left for it."""
    full = q.demand * (1 + q.trim)
    return (q.compliance / q.slope - full) / (1 / q.slope - 1 / q.leak)


class CurrentOutput(Kind):
    """Delivers a current out of ``plus``, or of ``minus`` if turned, while it has voltage left.

    It follows a signal, and whether the instrument has power.
    """

    pins = ("plus", "minus")
    references = ("from", "power")
    follows = ("from", "power")
    carries_loop = True
    driven = ("demand", "turned_demand")
    parameters: ClassVar[tuple[Parameter, ...]] = (
        Parameter("compliance", "V", "voltage that it can give", 18.0, 0.05, least=1, most=100),
        Parameter("slope", "ohm", "output resistance at that voltage", 50.0, least=0.1, most=1e5),
        Parameter("leak", "ohm", "output resistance below it", 20e6, least=1e4, most=1e12),
        Parameter("trim", "1", "error of the output, of reading", 0.0, 0.001, False, typed=False),
        Parameter("reversed", "1", "1 if its wires are swapped", 0.0, typed=False),
        Parameter("demand", "A", "current asked for", 0.0, typed=False),
        Parameter("turned_demand", "A", "the same with the wires swapped", 0.0, typed=False),
        Parameter("stand_in", "1", "1 while a known source stands in", 0.0, typed=False),
        Parameter("stand_in_current", "A", "current of that source", 0.0, typed=False),
    )
    branches = (
        Branch(
            "plus",
            "minus",
            (
                Segment("delivering", lambda q: (1 / q.leak, -q.demand * (1 + q.trim)), _knee),
                Segment("at its voltage", lambda q: (1 / q.slope, -q.compliance / q.slope)),
            ),
        ),
        Branch(
            "plus",
            "minus",
            (
                Segment(
                    "turned, at its voltage",
                    lambda q: (1 / q.slope, q.compliance / q.slope),
                    lambda q: q.turned_demand * (1 + q.trim) * q.slope - q.compliance,
                ),
                Segment("turned", lambda q: (0, q.turned_demand * (1 + q.trim))),
            ),
            carries=False,
        ),
    )

    @classmethod
    def current(cls, q: Any, signal: Any) -> Any:
        """The current of the powered output, A."""
        raise NotImplementedError

    @classmethod
    def drive(cls, q: Any, process: Any) -> dict[str, Any]:
        """The current, out of one pin or the other; nothing without power of its own."""
        signal, power = process
        own = power * q.alive * cls.current(q, signal)
        current = np.maximum(q.stand_in * q.stand_in_current + (1 - q.stand_in) * own, 0.0)
        return {"demand": (1 - q.reversed) * current, "turned_demand": q.reversed * current}


STAND_IN = Action(
    "replaced",
    "output replaced by a known source",
    (fixed("stand_in", 1.0), becomes("stand_in_current")),
    12.0,
    unit="A",
    usual=12e-3,
    interrupts=True,
    moves_signal=True,
    heals=True,
    cautions=("open loop", "inject"),
)

LOW_COMPLIANCE = FaultMode(
    "low compliance",
    "output gives too little voltage: right below, clipped above",
    (becomes("compliance"),),
    0.4,
    Severity("voltage", "V", 1.0, 8.0, logarithmic=False),
    remedy="compare what the load takes with what the output should give; renew it",
    minutes=60,
)

REVERSED = FaultMode(
    "reversed",
    "output wired backwards",
    (fixed("reversed", 1.0),),
    0.2,
    favoured={"work": 15},
    remedy="swap the two wires of the output",
    minutes=20,
)


class FourWireTransmitter(CurrentOutput, name="four_wire_transmitter"):
    """Display and output of a transmitter with power of its own; the output is isolated."""

    title = "transmitter"
    symbol = "instrument"
    parameters = (*CurrentOutput.parameters, *CURRENTS, *STATE)
    shows = Shows(
        "value",
        lambda q, given: (0.0, given[1] * q.alive * (1 + given[0]) - 1),
        accuracy=0.002,
        title="own display",
    )
    modes = (
        FaultMode(
            "dead",
            "electronics dead: display dark, no current",
            (fixed("alive", 0.0),),
            1.0,
            favoured={"lightning": 4},
            remedy="prove its power terminals, then renew the transmitter",
            minutes=60,
        ),
        FaultMode(
            "output dead",
            "output stage dead: the display is right, no current comes",
            (fixed("failed", 1.0), fixed("failed_current", 0.0)),
            0.6,
            favoured={"lightning": 6, "work": 3},
            remedy="check that the output is set to deliver its current itself; renew the "
            "electronics",
            minutes=60,
        ),
        *ALARMS,
        FIXED,
        OUTPUT_ERROR,
        LOW_COMPLIANCE,
        REVERSED,
    )
    actions = (DRIVEN, STAND_IN)

    @classmethod
    def current(cls, q: Any, signal: Any) -> Any:
        """4 mA + 16 mA of the value reported, unless a fault or a person fixes it."""
        wanted = q.zero_current + (q.full_current - q.zero_current) * signal + q.output_error
        left = q.failed * q.failed_current + (1 - q.failed) * wanted
        return q.driven * (q.driven_current + q.output_error) + (1 - q.driven) * left
