"""A trip behind its input: comparator, transistor, relay, contact, lamp and horn.

Statics only.  A dead band and a delay are numbers of the sheet that a person reads off; what a
meter sees is the state that the trip is in now.
"""

from typing import Any

import numpy as np

from diagnose.loops.kind import (
    OPEN,
    Action,
    Branch,
    Change,
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

_STATE = {"accuracy": 0.02, "resolution": 0.0, "least": -1e9, "most": 1e9}


class SignalBus(Kind, name="signal_bus"):
    """The 1-5 V of an input loop that has a sheet of its own: volts behind its sense resistor."""

    title = "signal from the input loop"
    pins = ("signal", "common")
    parameters = (
        Parameter("low", "V", "volts at 0 %", 1.0, least=-100, most=100),
        Parameter("high", "V", "volts at 100 %", 5.0, least=-100, most=100),
        Parameter("resistance", "ohm", "sense resistor behind it", 250.0, 0.001, least=1, most=1e6),
        Parameter("shifted", "1", "error of the input loop", 0.0, typed=False),
        Parameter("lost", "1", "1 while the input loop gives nothing", 0.0, typed=False),
        Parameter("fed", "1", "1 while a person feeds it", 0.0, typed=False),
        Parameter("fed_volts", "V", "volts that the person feeds", 0.0, typed=False),
        Parameter("volts", "V", "what it gives now", 0.0, typed=False),
    )
    driven = ("volts",)
    branches = (
        Branch(
            "signal",
            "common",
            (Segment("driving", lambda q: (1 / q.resistance, -q.volts / q.resistance)),),
        ),
    )
    modes = (
        FaultMode(
            "shifted",
            "the input loop is wrong",
            (becomes("shifted"),),
            1.5,
            Severity("error", "1", -0.6, 0.6, logarithmic=False),
            remedy="hunt on the sheet of the input loop",
            minutes=30,
            group="process connection",
        ),
        FaultMode(
            "lost",
            "the input loop gives nothing",
            (fixed("lost", 1.0),),
            1.0,
            remedy="hunt on the sheet of the input loop",
            minutes=30,
            group="process connection",
        ),
    )
    actions = (
        Action(
            "off",
            "input loop off and isolated",
            (fixed("lost", 1.0), fixed("fed", 0.0)),
            8.0,
            interrupts=True,
            cautions=("de-energise",),
        ),
        Action(
            "fed",
            "input loop lifted, known volts fed in its place",
            (fixed("fed", 1.0), becomes("fed_volts")),
            10.0,
            unit="V",
            usual=3.5,
            moves_signal=True,
            heals=True,
            cautions=("inject",),
        ),
    )

    @classmethod
    def drive(cls, q: Any, process: Any) -> dict[str, Any]:
        """Volts at a process value, within what a transmitter can signal (3.8 to 20.5 mA)."""
        share = np.clip(process + q.shifted, -0.0125, 1.03125)
        own = (1 - q.lost) * (q.low + (q.high - q.low) * share)
        return {"volts": q.fed * q.fed_volts + (1 - q.fed) * own}

    @classmethod
    def corners(cls, q: Any) -> tuple[Any, ...]:
        """Process values at which the signal of the transmitter stands still."""
        gone = np.where((q.lost > 0.5) | (q.fed > 0.5), np.inf, 0.0)
        return -0.0125 - q.shifted + gone, 1.03125 - q.shifted + gone


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
        Parameter("fail_safe", "1", "1 conducts until it trips, 0 when", 1.0, least=0, most=1),
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


class RelayCoil(Kind, name="relay_coil"):
    """A relay: pulled in while its coil has enough volts."""

    title = "relay"
    pins = ("a1", "a2")
    carries_loop = True
    parameters = (
        Parameter("resistance", "ohm", "coil", 800.0, 0.1, least=1, most=1e6),
        Parameter("pull_in", "V", "volts that hold it", 16.0, 0.1, least=0.1, most=500),
        Parameter("held", "V", "added when it is held by hand", 0.0, typed=False),
    )
    branches = (Branch("a1", "a2", ohmic("resistance")),)
    signal = Shows("state", lambda q, given: (1.0, -q.pull_in + q.held), **_STATE)  # type: ignore[arg-type]
    shows = Shows(
        "state",
        lambda q, given: (1.0, -q.pull_in + q.held),
        title="flag of the relay",
        **_STATE,  # type: ignore[arg-type]
    )
    modes = (
        FaultMode(
            "open",
            "relay coil open",
            (fixed("resistance", OPEN),),
            1.0,
            favoured={"lightning": 2},
            remedy="renew the relay",
            minutes=20,
        ),
        FaultMode(
            "sticking",
            "relay stays pulled in",
            (fixed("held", 1000.0),),
            0.7,
            remedy="renew the relay",
            minutes=20,
        ),
        FaultMode(
            "out of its socket",
            "relay does not pull in although its coil has volts",
            (fixed("held", -1000.0),),
            0.7,
            favoured={"work": 6},
            remedy="seat or renew the relay",
            minutes=20,
        ),
    )


class RelayContact(Kind, name="relay_contact"):
    """A contact that follows a relay."""

    title = "contact"
    pins = ("a", "b")
    references = ("of",)
    follows = ("of",)
    carries_loop = True
    parameters = (
        Parameter("makes", "1", "1 closes with the relay, 0 without", 1.0, least=0, most=1),
        Parameter("closed", "ohm", "closed", 0.1, least=1e-4, most=1e3),
        Parameter("opened", "ohm", "open", OPEN, typed=False),
        Parameter("stuck", "1", "1 while it does not switch", 0.0, typed=False),
        Parameter("stuck_at", "1", "state in which it stands", 0.0, typed=False),
        Parameter("resistance", "ohm", "now", 0.1, typed=False),
    )
    driven = ("resistance",)
    branches = (Branch("a", "b", ohmic("resistance")),)
    modes = (
        FaultMode(
            "welded",
            "contact welded: always closed",
            (fixed("stuck", 1.0), fixed("stuck_at", 1.0)),
            0.6,
            favoured={"lightning": 2},
            remedy="renew the relay; look for a short of its load",
            minutes=20,
        ),
        FaultMode(
            "open",
            "contact does not close",
            (fixed("stuck", 1.0), fixed("stuck_at", 0.0)),
            1.0,
            remedy="renew the relay",
            minutes=20,
        ),
        FaultMode(
            "high resistance",
            "contact burnt or dirty",
            (becomes("closed"),),
            1.0,
            Severity("resistance", "ohm", 20, 1e5),
            symptoms={"erratic": 0.3},
            remedy="renew the relay",
            minutes=20,
        ),
    )

    @classmethod
    def drive(cls, q: Any, given: Any) -> dict[str, Any]:
        """Resistance from the state of the relay."""
        asked = q.makes * given + (1 - q.makes) * (1 - given)
        on = q.stuck * q.stuck_at + (1 - q.stuck) * asked
        return {"resistance": np.where(on > 0.5, q.closed, q.opened)}


class Lamp(Kind, name="lamp"):
    """A lamp or a horn: on while it has enough volts."""

    title = "lamp"
    pins = ("plus", "minus")
    carries_loop = True
    parameters = (
        Parameter("resistance", "ohm", "of the lamp or horn", 600.0, 0.2, least=1, most=1e6),
        Parameter("least_voltage", "V", "volts from which it is on", 12.0, 0.2, least=1, most=500),
    )
    branches = (Branch("plus", "minus", ohmic("resistance")),)
    shows = Shows("state", lambda q, given: (1.0, -q.least_voltage), **_STATE)  # type: ignore[arg-type]
    modes = (
        FaultMode(
            "burnt out",
            "lamp or horn is open",
            (fixed("resistance", OPEN),),
            2.0,
            remedy="renew it; press the lamp test first",
            minutes=10,
        ),
        FaultMode(
            "silent",
            "it has its volts and current, and does not work",
            (fixed("least_voltage", 1e6),),
            0.5,
            remedy="renew it",
            minutes=10,
        ),
    )


class BypassSwitch(Kind, name="bypass_switch"):
    """A key switch that holds the relay, so that the trip can be tested."""

    title = "bypass key"
    pins = ("a", "b")
    parameters = (Parameter("resistance", "ohm", "open", OPEN, typed=False),)
    branches = (Branch("a", "b", ohmic("resistance")),)
    modes = (
        FaultMode(
            "left on",
            "bypass was left on",
            (fixed("resistance", 0.1),),
            3.0,
            favoured={"work": 5},
            remedy="have it taken off by whoever may do so, and recorded",
            minutes=10,
        ),
    )
    actions = (
        Action(
            "bypassed",
            "trip bypassed by its key",
            (fixed("resistance", 0.1),),
            5.0,
            cautions=("trip",),
        ),
    )
