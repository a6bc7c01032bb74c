"""What a trip switches: relay, contact, lamp, horn, input, and the key that bypasses it."""

from typing import Any, ClassVar

from diagnose.loops.arrays import np
from diagnose.loops.kind import (
    OPEN,
    Action,
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
from diagnose.loops.states import PULLED_IN, SOUNDS

_STATE = {"accuracy": 0.02, "resolution": 0.0, "least": -1e9, "most": 1e9}


class RelayCoil(Kind, name="relay_coil"):
    """A relay: pulled in while its coil has enough volts."""

    title = "relay"
    symbol = "coil"
    pins = ("a1", "a2")
    carries_loop = True
    parameters = (
        Parameter("resistance", "ohm", "coil", 800.0, 0.1, least=1, most=1e6),
        Parameter("pull_in", "V", "volts that hold it", 16.0, 0.1, least=0.1, most=500),
        Parameter("held", "V", "added when it is held by hand", 0.0, typed=False),
        Parameter("works", "1", "1 while its coil pulls", 1.0, typed=False),
    )
    branches = (Branch("a1", "a2", ohmic("resistance")),)
    signal = Shows("state", lambda q, given: (q.works, -q.pull_in + q.held), **_STATE)  # type: ignore[arg-type]
    shows = Shows(
        "state",
        lambda q, given: (q.works, -q.pull_in + q.held),
        title="flag of the relay",
        states=PULLED_IN,
        **_STATE,  # type: ignore[arg-type]
    )
    modes = (
        FaultMode(
            "open",
            "relay coil open",
            (fixed("resistance", OPEN), fixed("works", 0.0)),
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
    symbol = "contact"
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


def _enough(q: Any, given: Any) -> tuple[Any, Any]:
    return q.works, -q.least_voltage


def _draws_nothing(name: str, title: str, remedy: str) -> FaultMode:
    changes = (fixed("resistance", OPEN), fixed("works", 0.0))
    return FaultMode(name, title, changes, 2.0, remedy=remedy, minutes=10)


def _does_nothing(name: str, title: str, remedy: str) -> FaultMode:
    return FaultMode(name, title, (fixed("works", 0.0),), 0.5, remedy=remedy, minutes=10)


class Lamp(Kind, name="lamp"):
    """A lamp: lit while it has enough volts."""

    title = "lamp"
    symbol = "lamp"
    pins = ("plus", "minus")
    carries_loop = True
    parameters: ClassVar[tuple[Parameter, ...]] = (
        Parameter("resistance", "ohm", "between its pins", 600.0, 0.2, least=1, most=1e6),
        Parameter("least_voltage", "V", "volts from which it is on", 12.0, 0.2, least=1, most=500),
        Parameter("works", "1", "1 unless it fails itself", 1.0, typed=False),
    )
    branches = (Branch("plus", "minus", ohmic("resistance")),)
    shows = Shows("state", _enough, **_STATE)  # type: ignore[arg-type]
    modes: ClassVar[tuple[FaultMode, ...]] = (
        _draws_nothing("burnt out", "lamp burnt out: open", "press the lamp test, then renew it"),
        _does_nothing("dark", "lamp has its volts and current, and stays dark", "renew it"),
    )


class Horn(Lamp, name="horn"):
    """A horn: sounds while it has enough volts."""

    title = "horn"
    symbol = "instrument"
    shows = Shows("state", _enough, states=SOUNDS, **_STATE)  # type: ignore[arg-type]
    modes = (
        _draws_nothing("open", "horn is open: it draws no current", "renew it"),
        _does_nothing("silent", "horn has its volts and current, and does not sound", "renew it"),
    )


class BinaryInput(Lamp, name="binary_input"):
    """The input of another system, with the lamp of its channel: lit while it has enough volts."""

    title = "binary input"
    symbol = "instrument"
    modes = (
        _draws_nothing(
            "open", "input channel is open: it draws no current",
            "prove volts at its terminals, then change the channel or the card",
        ),
        _does_nothing(
            "stuck off", "input channel has its volts and current, and does not see them",
            "prove volts at its terminals, then change the channel or the card",
        ),
    )  # fmt: skip


class BypassSwitch(Kind, name="bypass_switch"):
    """A key switch that holds the relay, so that the trip can be tested."""

    title = "bypass key"
    symbol = "contact"
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
