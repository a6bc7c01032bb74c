"""What a trip switches: relay, contact, lamp or horn, and the key that bypasses it."""

from typing import Any

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


class Lamp(Kind, name="lamp"):
    """A lamp or a horn: on while it has enough volts."""

    title = "lamp"
    symbol = "lamp"
    pins = ("plus", "minus")
    carries_loop = True
    parameters = (
        Parameter("resistance", "ohm", "of the lamp or horn", 600.0, 0.2, least=1, most=1e6),
        Parameter("least_voltage", "V", "volts from which it is on", 12.0, 0.2, least=1, most=500),
        Parameter("works", "1", "1 unless it fails itself", 1.0, typed=False),
    )
    branches = (Branch("plus", "minus", ohmic("resistance")),)
    shows = Shows("state", lambda q, given: (q.works, -q.least_voltage), **_STATE)  # type: ignore[arg-type]
    modes = (
        FaultMode(
            "burnt out",
            "lamp or horn is open",
            (fixed("resistance", OPEN), fixed("works", 0.0)),
            2.0,
            remedy="renew it; press the lamp test first",
            minutes=10,
        ),
        FaultMode(
            "silent",
            "it has its volts and current, and does not work",
            (fixed("works", 0.0),),
            0.5,
            remedy="renew it",
            minutes=10,
        ),
    )


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
