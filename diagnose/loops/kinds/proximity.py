"""Proximity sensor of two wires, and the target that comes before it."""

from typing import Any

from diagnose.loops.arrays import np
from diagnose.loops.facts import DEVICE
from diagnose.loops.kind import (
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
)
from diagnose.loops.positions import MOVED, turned, turning


def _above(q: Any) -> Any:
    """Conductance above the drop, such that the rated currents flow from the rated source.

    A sensor with another drop has another conductance: the rated currents are what it is made for.
    """
    return q.drawn / (q.across - q.drop) * q.trim


class ProximitySensor(Kind, name="proximity_sensor"):
    """A two-wire sensor whose current tells whether its target is there; blocks backwards."""

    title = "proximity sensor"
    pins = ("plus", "minus")
    carries_loop = True
    driven = ("drawn", "across")
    facts = DEVICE
    parameters = (
        Parameter("absent_current", "A", "without target", 3.5e-3, least=1e-5, most=7e-3),
        Parameter("present_current", "A", "with target", 0.8e-3, least=1e-5, most=7e-3),
        Parameter("rated_voltage", "V", "volts at which these hold", 8.2, least=2, most=60),
        Parameter("rated_resistance", "ohm", "behind those volts", 1e3, least=1, most=1e5),
        Parameter("drop", "V", "volts before it draws current", 1.0, 0.2, least=0.05, most=5),
        Parameter("leak", "ohm", "beside its electronics", 1e6, least=1e-3, most=1e15),
        Parameter("begins", "1", "position at which it begins to turn", 0.25, least=-1, most=1),
        Parameter("ends", "1", "position at which it has turned", 0.75, least=0, most=2),
        Parameter("trim", "1", "spread of its current", 1.0, 0.08, typed=False),
        Parameter("alive", "1", "1 while it draws current at all", 1.0, typed=False),
        Parameter("drawn", "A", "current at this position, by the rated source", 0.0, typed=False),
        Parameter("across", "V", "volts that are then left for it", 1e3, typed=False),
        *MOVED,
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
                        _above(q) + 1 / q.leak,
                        -_above(q) * q.drop,
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
        """What the rated source drives through it at this position, and the volts left for it."""
        share = turned(q, process)
        current = q.absent_current + (q.present_current - q.absent_current) * share
        left = q.rated_voltage - q.rated_resistance * current
        return {"drawn": q.alive * current, "across": np.maximum(left, q.drop + 1e-3)}

    @classmethod
    def corners(cls, q: Any) -> tuple[Any, ...]:
        """Process values between which the current changes."""
        return turning(q)


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
