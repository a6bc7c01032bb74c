"""A trip behind its input: comparator, supply of its module, transistor.

Statics only.  A dead band and a delay are numbers of the sheet that a person reads off; what a
meter sees is the state that the trip is in now.
"""

from typing import Any

from diagnose.loops.arrays import np
from diagnose.loops.kind import (
    Branch,
    Change,
    FaultMode,
    Kind,
    Parameter,
    Severity,
    Shows,
    becomes,
    fixed,
    ohmic,
)
from diagnose.loops.kinds.receivers import either_side

_STATE = {"accuracy": 0.02, "resolution": 0.0, "least": -1e9, "most": 1e9}


class TripAmplifier(Kind, name="trip_amplifier"):
    """The comparator of a trip: its input, its set point, and the lamp on its front."""

    title = "trip amplifier"
    pins = ("signal", "common")
    parameters = (
        Parameter("input_resistance", "ohm", "input", 1e6, tolerance=0.05, least=1, most=1e12),
        Parameter("set_point", "V", "input at which it trips", None, least=-100, most=100),
        Parameter("direction", "1", "1 trips when high, -1 when low", 1.0, least=-1, most=1),
        Parameter("dead_band", "V", "way back to reset", 0.04, least=0, most=10),
        Parameter("delay", "s", "time until it trips", 0.0, least=0, most=3600),
        Parameter("accuracy", "V", "limit of error of the set point", 0.02, least=1e-4, most=1),
        Parameter("forced", "V", "added when the state is forced", 0.0, typed=False),
    )
    branches = (Branch("signal", "common", ohmic("input_resistance")),)
    tries = either_side
    shows = Shows(
        "state",
        lambda q, given: (q.direction, -q.direction * q.set_point + q.forced),
        title="front lamp",
        **_STATE,  # type: ignore[arg-type]
    )
    signal = shows
    modes = (
        FaultMode(
            "input collapsed",
            "input resistance has collapsed and drags the bus down",
            (becomes("input_resistance"),),
            0.4,
            Severity("input resistance", "ohm", 20, 20e3),
            favoured={"lightning": 6},
            remedy="lift the input, then renew the amplifier",
            minutes=30,
        ),
        FaultMode(
            "set point wrong",
            "trips at the wrong input: set point or its unit",
            (becomes("set_point"),),
            3.0,
            Severity("set point", "V", 1.0, 5.0, logarithmic=False),
            favoured={"work": 4},
            remedy="under an authorised bypass, ramp the input and set the trip point",
            minutes=60,
        ),
        FaultMode(
            "direction wrong",
            "trips in the wrong direction",
            (Change("direction", lambda nominal, s: -nominal),),
            1.0,
            favoured={"work": 8},
            remedy="set the direction as the trip list says, and prove it under a bypass",
            minutes=60,
        ),
        FaultMode(
            "latched",
            "trip is latched and was not reset",
            (fixed("forced", 1000.0),),
            3.0,
            favoured={"work": 2},
            remedy="find out what tripped it, then reset by the site's procedure",
            minutes=10,
        ),
        FaultMode(
            "stuck off",
            "amplifier does not trip",
            (fixed("forced", -1000.0),),
            0.7,
            remedy="renew the amplifier, and prove it under a bypass",
            minutes=60,
        ),
    )


class ModuleSupply(Kind, name="module_supply"):
    """What a module draws from its supply, and whether that keeps it working."""

    title = "supply of the module"
    pins = ("plus", "minus")
    parameters = (
        Parameter("resistance", "ohm", "load of the module", 400.0, 0.1, least=10, most=1e6),
        Parameter("least_voltage", "V", "least voltage at which it works", 18.0, least=1, most=500),
    )
    branches = (Branch("plus", "minus", ohmic("resistance")),)
    signal = Shows("state", lambda q, given: (1.0, -q.least_voltage), **_STATE)  # type: ignore[arg-type]
    modes = (
        FaultMode(
            "dead",
            "the module's own supply circuit is dead",
            (fixed("least_voltage", 1e6),),
            0.5,
            favoured={"lightning": 4},
            remedy="renew the module",
            minutes=45,
        ),
    )


class TransistorOutput(Kind, name="transistor_output"):
    """The output of a trip: conducts while all is well if it is fail-safe."""

    title = "transistor output"
    pins = ("collector", "emitter")
    references = ("of", "power")
    follows = ("of", "power")
    carries_loop = True
    parameters = (
        Parameter(
            "fail_safe", "1", "1 conducts until it trips, 0 from then on", 1.0, least=0, most=1
        ),
        Parameter("closed", "ohm", "conducting", 8.0, least=1e-3, most=1e4),
        Parameter("opened", "ohm", "blocking", 5e6, least=1e3, most=1e12),
        Parameter("stuck", "1", "1 while it does not switch", 0.0, typed=False),
        Parameter("stuck_at", "1", "state in which it stands", 0.0, typed=False),
        Parameter("inverted", "1", "1 when wired for the other sense", 0.0, typed=False),
        Parameter("resistance", "ohm", "now", 8.0, typed=False),
    )
    driven = ("resistance",)
    branches = (Branch("collector", "emitter", ohmic("resistance")),)
    modes = (
        FaultMode(
            "shorted",
            "output transistor shorted: the load stays on",
            (fixed("stuck", 1.0), fixed("stuck_at", 1.0)),
            1.0,
            favoured={"work": 2, "lightning": 3},
            remedy="renew the output; look for what overloaded it",
            minutes=60,
        ),
        FaultMode(
            "open",
            "output transistor open: the load stays off",
            (fixed("stuck", 1.0), fixed("stuck_at", 0.0)),
            1.0,
            remedy="renew the output",
            minutes=60,
        ),
        FaultMode(
            "inverted",
            "output set or wired for the other sense",
            (fixed("inverted", 1.0),),
            0.3,
            favoured={"work": 10},
            remedy="set the sense as the drawing says, and prove it under a bypass",
            minutes=60,
        ),
    )

    @classmethod
    def drive(cls, q: Any, given: Any) -> dict[str, Any]:
        """Resistance from the state of the trip and of the supply of its module."""
        tripped, powered = given
        sense = np.abs(q.fail_safe - q.inverted)
        asked = powered * (sense * (1 - tripped) + (1 - sense) * tripped)
        on = q.stuck * q.stuck_at + (1 - q.stuck) * asked
        return {"resistance": np.where(on > 0.5, q.closed, q.opened)}
