"""From the armature of a solenoid to the valve: override, pilot, actuator, position switches.

None of it has wires; all of it is known by what it shows.  Faults here are the commonest of the
whole loop (common practice, no source).
"""

from typing import Any

from diagnose.loops.kind import FaultMode, Kind, Parameter, Severity, Shows, becomes, fixed
from diagnose.loops.kinds.pneumatics import MOST, air_fault, pressure
from diagnose.loops.states import OPEN, TURNED

SHORT = 0.25
"""Travel from its end at which a limit switch lets go, as a share (common practice, no source)."""


class Override(Kind, name="manual_override"):
    """The knob that pushes the spool of a pilot valve over by hand."""

    title = "manual override"
    parameters = (Parameter("turned", "1", "1 while it is on", 0.0, typed=False),)
    shows = Shows("state", lambda q, given: (0.0, q.turned - 0.5), 0.02, states=TURNED)
    signal = shows
    modes = (
        FaultMode(
            "left on",
            "manual override of the pilot valve left on",
            (fixed("turned", 1.0),),
            0.6,
            favoured={"work": 10},
            remedy="ask why it was turned; turn it back once the valve may move",
            minutes=3,
            group="process connection",
            cautions=("output",),
        ),
    )


class PilotValve(Kind, name="pilot_valve"):
    """The spool that an armature moves: air to the actuator, or the actuator to exhaust.

    Follows the coil, the override and the air; ``pressure`` is what stands at its outlet.
    """

    title = "pilot valve"
    symbol = "valve"
    references = ("from", "override", "air")
    follows = ("from", "override", "air")
    driven = ("pressure",)
    parameters = (
        Parameter("pressure", "Pa", "at the outlet", 0.0, typed=False),
        Parameter("stuck", "1", "the spool does not move", 0.0, typed=False),
        Parameter("stuck_at", "1", "where it stands", 0.0, typed=False),
        Parameter("plugged", "1", "the exhaust is plugged", 0.0, typed=False),
    )
    signal = pressure(lambda q, given: q.pressure)
    modes = (
        air_fault(
            "stuck shut",
            "spool stuck: no air to the actuator though the coil is pulled in",
            (fixed("stuck", 1.0), fixed("stuck_at", 0.0)),
            1.0,
            favoured={"frost": 3},
            remedy="work the spool by its override once the valve may move; clean or renew the "
            "pilot valve",
            minutes=30,
        ),
        air_fault(
            "stuck over",
            "spool stuck: air stays on the actuator though the coil is released",
            (fixed("stuck", 1.0), fixed("stuck_at", 1.0)),
            0.7,
            favoured={"frost": 3},
            remedy="work the spool by its override once the valve may move; clean or renew the "
            "pilot valve",
            minutes=30,
        ),
        air_fault(
            "exhaust plugged",
            "exhaust plugged: the actuator cannot let its air go",
            (fixed("plugged", 1.0),),
            0.7,
            favoured={"frost": 5, "rain": 2},
            remedy="loosen the silencer of the exhaust slowly, for the valve goes over as the air "
            "leaves; clean or renew it",
            minutes=8,
        ),
    )

    @classmethod
    def drive(cls, q: Any, process: Any) -> dict[str, Any]:
        """Air while the spool is over; a plugged exhaust keeps what was there."""
        coil, override, air = process
        pushed = coil + override - coil * override
        spool = q.stuck * q.stuck_at + (1 - q.stuck) * pushed
        return {"pressure": air * (spool + (1 - spool) * q.plugged)}


_STUCK = (
    "keep hands off the stem, it may let go; have operations isolate the line and make the "
    "actuator safe; free or renew valve and actuator"
)


class OnOffValve(Kind, name="on_off_valve"):
    """A valve with a spring: air opens it, or shuts it where ``opens`` is -1."""

    title = "valve"
    symbol = "valve"
    references = ("from",)
    follows = ("from",)
    driven = ("open",)
    parameters = (
        Parameter("needs", "Pa", "pressure at which it moves", 300e3, least=1e3, most=MOST),
        Parameter(
            "opens", "1", "1 where air opens it, -1 where air shuts it", 1.0, 0.0, False, -1, 1
        ),
        Parameter("open", "1", "how far it stands open", 0.0, typed=False),
        Parameter("stuck", "1", "the valve does not move", 0.0, typed=False),
        Parameter("stuck_at", "1", "where it stands", 0.0, typed=False),
    )
    shows = Shows(
        "value",
        lambda q, given: (0.0, q.open),
        accuracy=0.03,
        resolution=0.05,
        least=0.0,
        most=1.0,
        title="own display",
        states=OPEN,
        share=True,
    )
    signal = Shows("value", lambda q, given: (0.0, q.open), accuracy=0.0, least=0.0, most=1.0)
    modes = (
        FaultMode(
            "stuck shut",
            "valve or actuator stuck shut",
            (fixed("stuck", 1.0), fixed("stuck_at", 0.0)),
            0.5,
            remedy=_STUCK,
            minutes=120,
            group="process connection",
            cautions=("output", "air", "process side"),
        ),
        FaultMode(
            "stuck open",
            "valve or actuator stuck open",
            (fixed("stuck", 1.0), fixed("stuck_at", 1.0)),
            0.5,
            remedy=_STUCK,
            minutes=120,
            group="process connection",
            cautions=("output", "air", "process side"),
        ),
        FaultMode(
            "stuck part way",
            "valve or actuator stuck part way: neither end is reached",
            (fixed("stuck", 1.0), becomes("stuck_at")),
            0.8,
            Severity("travel", "1", 0.1, 0.9, logarithmic=False),
            remedy=_STUCK,
            minutes=120,
            group="process connection",
            cautions=("output", "air", "process side"),
        ),
    )

    @classmethod
    def drive(cls, q: Any, process: Any) -> dict[str, Any]:
        """Where it stands at the pressure on its actuator."""
        lifted = 1.0 * (process > q.needs)
        follows = (1 - q.opens) / 2 + q.opens * lifted
        return {"open": q.stuck * q.stuck_at + (1 - q.stuck) * follows}


class PositionSwitch(Kind, name="position_switch"):
    """A limit switch on a valve and the lamp that it lights: at open, or at shut (``end`` -1)."""

    title = "position lamp"
    symbol = "lamp"
    references = ("from",)
    follows = ("from",)
    driven = ("seen",)
    parameters = (
        Parameter("end", "1", "1 lit when open, -1 lit when shut", 1.0, 0.0, False, -1, 1),
        Parameter("seen", "1", "where the valve stands", 0.0, typed=False),
        Parameter("forced", "1", "added when the lamp is stuck", 0.0, typed=False),
    )
    shows = Shows("state", lambda q, given: (0.0, q.end * (q.seen - 0.5) - SHORT + q.forced), 0.02)
    modes = (
        FaultMode(
            "stuck lit",
            "position lamp stays lit: switch stuck, misplaced or shorted",
            (fixed("forced", 10.0),),
            0.4,
            favoured={"work": 3, "rain": 3},
            remedy="compare with the pointer of the valve; set or renew the switch",
            minutes=30,
        ),
        FaultMode(
            "stuck dark",
            "position lamp stays dark: switch misplaced, its wire open or the lamp gone",
            (fixed("forced", -10.0),),
            0.8,
            favoured={"work": 3},
            remedy="compare with the pointer of the valve; set or renew the switch, try the lamp",
            minutes=30,
        ),
    )

    @classmethod
    def drive(cls, q: Any, process: Any) -> dict[str, Any]:
        """The position of the valve."""
        return {"seen": process}
