"""What a switch amplifier looks at: proximity sensor, monitored contact, and what moves them."""

from typing import Any

import numpy as np

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
    copies,
    fixed,
    ohmic,
    times,
)

_CLOSED = 1e-8
"""Least share of closing: what is left of an open contact."""

_MOVED = (
    Parameter("reach", "1", "share of the movement that arrives", 1.0, typed=False),
    Parameter("hold", "1", "1 while what moves it stands still", 0.0, typed=False),
    Parameter("held", "1", "position at which that stands", 0.0, typed=False),
    Parameter("stuck", "1", "1 while the switch itself stands still", 0.0, typed=False),
    Parameter("stuck_at", "1", "state in which it stands", 0.0, typed=False),
)


def _turned(q: Any, process: Any) -> Any:
    """How far the switch has turned over, 0 to 1, at the position of what moves it."""
    at = q.hold * q.held + (1 - q.hold) * process * q.reach
    free = np.clip((at - q.begins) / (q.ends - q.begins), 0.0, 1.0)
    return q.stuck * q.stuck_at + (1 - q.stuck) * free


def _corners(q: Any) -> tuple[Any, ...]:
    """Process values between which the switch turns over; infinite where it does not."""
    gain = (1 - q.hold) * (1 - q.stuck) * q.reach
    with np.errstate(divide="ignore", invalid="ignore"):
        return tuple(np.where(gain > 1e-6, at / gain, np.inf) for at in (q.begins, q.ends))


class ProximitySensor(Kind, name="proximity_sensor"):
    """A two-wire sensor whose current tells whether its target is there; blocks backwards."""

    title = "proximity sensor"
    pins = ("plus", "minus")
    carries_loop = True
    driven = ("conductance",)
    parameters = (
        Parameter("absent_current", "A", "without target", 3.5e-3, least=1e-5, most=7e-3),
        Parameter("present_current", "A", "with target", 0.8e-3, least=1e-5, most=7e-3),
        Parameter("rated_voltage", "V", "volts at which these hold", 8.2, least=2, most=60),
        Parameter("rated_resistance", "ohm", "behind those volts", 1e3, least=1, most=1e5),
        Parameter("drop", "V", "volts before it draws current", 1.0, 0.2, least=0.05, most=5),
        Parameter("leak", "ohm", "beside its electronics", 1e6, least=1e-3, most=1e15),
        Parameter("begins", "1", "position at which it begins to turn", 0.25, least=-1, most=1),
        Parameter("ends", "1", "position at which it has turned", 0.75, least=0, most=2),
        Parameter("trim", "1", "spread of its current", 0.0, 0.08, False, typed=False),
        Parameter("alive", "1", "1 while it draws current at all", 1.0, typed=False),
        Parameter("conductance", "S", "above the drop", 0.0, typed=False),
        *_MOVED,
    )
    branches = (
        Branch(
            "plus",
            "minus",
            (
                Segment("off", lambda q: (1 / q.leak, 0), lambda q: q.drop),
                Segment(
                    "supplied",
                    lambda q: (
                        q.conductance * (1 + q.trim) + 1 / q.leak,
                        -q.conductance * (1 + q.trim) * q.drop,
                    ),
                ),
            ),
        ),
    )
    modes = (
        FaultMode(
            "dead",
            "sensor draws nothing",
            (fixed("alive", 0.0),),
            0.8,
            favoured={"lightning": 4},
            remedy="prove its voltage at the junction box, then renew the sensor",
            minutes=45,
        ),
        FaultMode(
            "short",
            "sensor or its plug shorted",
            (becomes("leak"),),
            0.5,
            Severity("resistance", "ohm", 0.05, 100),
            favoured={"lightning": 4, "work": 2},
            remedy="lift the sensor in the junction box, then renew it",
            minutes=45,
        ),
        FaultMode(
            "frozen",
            "sensor no longer answers to its target",
            (fixed("stuck", 1.0), becomes("stuck_at")),
            0.5,
            Severity("state", "1", 0.0, 1.0, logarithmic=False),
            symptoms={"frozen": 0.9},
            remedy="hold steel before its face, and away: if nothing changes, renew it",
            minutes=45,
        ),
        FaultMode(
            "reversed",
            "sensor wired backwards",
            (fixed("alive", 0.0),),
            0.1,
            favoured={"work": 20},
            remedy="swap its two wires in the junction box",
            minutes=20,
        ),
        FaultMode(
            "other sense",
            "a sensor of the opposite sense is fitted",
            (
                copies("absent_current", "present_current"),
                copies("present_current", "absent_current"),
            ),
            0.1,
            favoured={"work": 10},
            remedy="compare the sensor with the sheet and fit the right one",
            minutes=45,
        ),
    )
    actions = (
        Action(
            "covered",
            "steel held before the sensor",
            (fixed("hold", 1.0), fixed("held", 1.0)),
            3.0,
            moves_signal=True,
            cautions=("by hand",),
            proves=lambda q: (None,),
        ),
        Action(
            "uncovered",
            "target moved away from the sensor",
            (fixed("hold", 1.0), fixed("held", 0.0)),
            6.0,
            moves_signal=True,
            cautions=("by hand",),
            proves=lambda q: (None,),
        ),
        Action(
            "replaced",
            "sensor replaced by a known resistor",
            (becomes("leak"), fixed("alive", 0.0)),
            8.0,
            unit="ohm",
            usual=1e3,
            interrupts=True,
            moves_signal=True,
            heals=True,
            cautions=("open loop", "by hand"),
        ),
    )

    @classmethod
    def drive(cls, q: Any, process: Any) -> dict[str, Any]:
        """Conductance above the drop, such that the rated currents flow from the rated source."""
        turned = _turned(q, process)
        current = q.absent_current + (q.present_current - q.absent_current) * turned
        left = q.rated_voltage - q.rated_resistance * current - q.drop
        return {"conductance": q.alive * current / np.maximum(left, 1e-3)}

    @classmethod
    def corners(cls, q: Any) -> tuple[Any, ...]:
        """Process values between which the current changes."""
        return _corners(q)


class MonitoredContact(Kind, name="monitored_contact"):
    """A contact whose line is watched by a resistor in series and another across the pair."""

    title = "contact"
    pins = ("a", "b")
    references = ("series", "end")
    carries_loop = True
    driven = ("resistance",)
    parameters = (
        Parameter("closed", "ohm", "closed", 0.1, 0.5, least=1e-4, most=1e3),
        Parameter("turning", "ohm", "scale of what it has while it turns", 2e3, least=1, most=1e6),
        Parameter("begins", "1", "position at which it begins to close", 0.45, least=-1, most=1),
        Parameter("ends", "1", "position at which it has closed", 0.55, least=0, most=2),
        Parameter("resistance", "ohm", "at this position", 0.0, typed=False),
        *_MOVED,
    )
    branches = (Branch("a", "b", ohmic("resistance")),)
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
        """Resistance: next to nothing when closed, next to endless when open."""
        turned = np.maximum(_turned(q, process), _CLOSED)
        return {"resistance": q.closed + q.turning * (1 - turned) / turned}

    @classmethod
    def corners(cls, q: Any) -> tuple[Any, ...]:
        """Process values between which the contact closes."""
        return _corners(q)


class LineResistor(Kind, name="line_resistor"):
    """A resistor at the far end by which an amplifier knows that its line is sound."""

    title = "monitoring resistor"
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


class Target(Kind, name="target"):
    """The flag or cam that comes before a proximity sensor."""

    title = "target"
    references = ("to",)
    modes = (
        FaultMode(
            "missing",
            "target lost, loose, of the wrong metal, or the gap has grown",
            (becomes("reach", of="to"),),
            3.0,
            Severity("share that arrives", "1", 0.0, 0.7, logarithmic=False),
            symptoms={"frozen": 0.6, "erratic": 0.3},
            favoured={"work": 3, "frost": 2},
            remedy="look at flag and gap; set and lock them after the sheet",
            minutes=30,
            group="process connection",
        ),
        FaultMode(
            "stands before it",
            "something stands before the sensor: swarf, ice, or the drive does not travel",
            (fixed("hold", 1.0, of="to"), fixed("held", 1.0, of="to")),
            1.0,
            symptoms={"frozen": 0.6},
            favoured={"work": 2, "frost": 3},
            remedy="have the drive moved by operations and watch the flag; clean the face",
            minutes=30,
            group="process connection",
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
