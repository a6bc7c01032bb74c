"""Contact with resistors by which its line is watched, and the float that works it."""

from typing import Any

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
    becomes,
    fixed,
    ohmic,
    times,
)
from diagnose.loops.positions import MOVED, turned, turning

_LEAST = 1e-8
"""Least share of closing: what is left of an open contact."""


class MonitoredContact(Kind, name="monitored_contact"):
    """A contact whose line is watched by a resistor in series and another across the pair."""

    title = "contact"
    symbol = "contact"
    pins = ("a", "b")
    references = ("series", "end")
    carries_loop = True
    driven = ("beyond",)
    parameters = (
        Parameter("closed", "ohm", "closed", 0.1, 0.5, least=1e-4, most=1e3),
        Parameter("turning", "ohm", "scale of what it has while it turns", 2e3, least=1, most=1e6),
        Parameter("begins", "1", "position at which it begins to close", 0.45, least=-1, most=1),
        Parameter("ends", "1", "position at which it has closed", 0.55, least=0, most=2),
        Parameter("beyond", "ohm", "on top of closed at this position", 0.0, typed=False),
        *MOVED,
    )
    branches = (
        Branch("a", "b", (Segment("conducting", lambda q: (1 / (q.closed + q.beyond), 0)),)),
    )
    modes = (
        FaultMode(
            "high resistance",
            "contact dirty or worn: closed, it still resists",
            (becomes("closed"),),
            1.0,
            Severity("resistance", "ohm", 100, 100e3),
            symptoms={"erratic": 0.5},
            favoured={"rain": 2},
            remedy="renew the switch; cleaning a contact seldom lasts",
            minutes=45,
        ),
        FaultMode(
            "does not close",
            "contact stays open",
            (fixed("stuck", 1.0), fixed("stuck_at", 0.0)),
            0.8,
            symptoms={"frozen": 0.9},
            favoured={"lightning": 2},
            remedy="work the contact by hand; renew the switch",
            minutes=45,
        ),
        FaultMode(
            "welded",
            "contact stays closed",
            (fixed("stuck", 1.0), fixed("stuck_at", 1.0)),
            0.3,
            symptoms={"frozen": 0.9},
            favoured={"lightning": 4},
            remedy="work the contact by hand; renew the switch",
            minutes=45,
        ),
        FaultMode(
            "plain",
            "a plain contact without its resistors",
            (fixed("resistance", 1e-2, of="series"), fixed("resistance", OPEN, of="end")),
            0.1,
            favoured={"work": 20},
            remedy="fit the resistors of the sheet at the contact, not at the amplifier",
            minutes=30,
        ),
    )
    actions = (
        Action(
            "closed",
            "contact closed by hand",
            (fixed("hold", 1.0), fixed("held", 1.0)),
            5.0,
            moves_signal=True,
            cautions=("by hand",),
            proves=lambda q: (None,),
        ),
        Action(
            "released",
            "contact opened by hand",
            (fixed("hold", 1.0), fixed("held", 0.0)),
            5.0,
            moves_signal=True,
            cautions=("by hand",),
            proves=lambda q: (None,),
        ),
    )

    @classmethod
    def drive(cls, q: Any, process: Any) -> dict[str, Any]:
        """What comes on top of the closed contact: nothing, or next to endless when open."""
        share = np.maximum(turned(q, process), _LEAST)
        return {"beyond": q.turning * (1 - share) / share}

    @classmethod
    def corners(cls, q: Any) -> tuple[Any, ...]:
        """Process values between which the contact closes."""
        return turning(q)


class MonitoringResistor(Kind, name="monitoring_resistor"):
    """A resistor at the far end by which an amplifier knows that its line is sound."""

    title = "monitoring resistor"
    symbol = "resistor"
    pins = ("a", "b")
    carries_loop = True
    parameters = (
        Parameter("resistance", "ohm", "value", None, tolerance=0.01, least=0.1, most=1e9),
    )
    branches = (Branch("a", "b", ohmic("resistance")),)
    modes = (
        FaultMode(
            "open",
            "resistor open or not fitted",
            (fixed("resistance", OPEN),),
            0.5,
            favoured={"work": 4, "lightning": 2},
            remedy="measure it with one end lifted and renew it",
            minutes=30,
        ),
        FaultMode(
            "drift",
            "resistor off its value, or the wrong value fitted",
            (times("resistance"),),
            0.4,
            Severity("resistance", "ohm", 0.1, 10),
            favoured={"work": 6},
            remedy="measure it with one end lifted and fit the value of the sheet",
            minutes=30,
        ),
        FaultMode(
            "short",
            "resistor bridged",
            (becomes("resistance"),),
            0.3,
            Severity("resistance", "ohm", 0.05, 20),
            favoured={"work": 4},
            remedy="look for a strand or a bridge across it",
            minutes=30,
        ),
    )


class Float(Kind, name="float"):
    """The float, paddle or bellows that works a contact."""

    title = "float"
    references = ("to",)
    modes = (
        FaultMode(
            "hangs up",
            "float stands high although the level is low",
            (fixed("hold", 1.0, of="to"), fixed("held", 1.0, of="to")),
            1.5,
            symptoms={"frozen": 0.6},
            favoured={"frost": 3, "work": 2},
            remedy="have operations isolate and drain the chamber; free the float",
            minutes=60,
            group="process connection",
        ),
        FaultMode(
            "hangs down",
            "float stands low although the level is high: leaking, fallen or blocked",
            (fixed("hold", 1.0, of="to"), fixed("held", 0.0, of="to")),
            1.5,
            symptoms={"frozen": 0.6},
            favoured={"frost": 3, "work": 2},
            remedy="have operations isolate and drain the chamber; look for a leaking float",
            minutes=60,
            group="process connection",
        ),
    )
