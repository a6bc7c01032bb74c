"""A spring-and-diaphragm control valve: from the pressure on it to where its stem stands."""

from typing import Any

from diagnose.loops.arrays import np
from diagnose.loops.kind import FaultMode, Kind, Parameter, Severity, Shows, becomes, fixed
from diagnose.loops.kinds.pneumatics import KPA_SPAN, MOST, air_fault, pressure
from diagnose.loops.states import ENGAGED

FAR = 10.0
"""A travel stop that no stem reaches."""

STOPS = (
    Parameter("ceiling", "1", "travel that a handwheel lets it have", FAR, typed=False),
    Parameter("floor", "1", "travel that a handwheel keeps it at", -FAR, typed=False),
)
"""What a handwheel moves on the valve that it belongs to."""


def _chamber(q: Any, given: Any) -> Any:
    """Pressure behind the diaphragm, Pa."""
    return (1 - q.lost) * given


def _free(q: Any, given: Any) -> Any:
    """Where spring and diaphragm would put the stem, without stops: share of travel."""
    return (_chamber(q, given) - q.low) / (q.high - q.low) + q.shift + q.setting


def _stem(q: Any, given: Any) -> Any:
    stopped = np.maximum(np.minimum(_free(q, given), q.ceiling), q.floor)
    return q.stuck * q.stuck_at + (1 - q.stuck) * stopped


class ControlValve(Kind, name="control_valve"):
    """A control valve that follows a pressure; travel counts from the end where the signal is 0 %.

    Others see the pressure behind its diaphragm.
    """

    title = "control valve"
    symbol = "valve"
    references = ("from",)
    follows = ("from",)
    senses = True
    parameters = (
        Parameter("low", "Pa", "pressure at which it begins to move", KPA_SPAN[0], 0, least=0,
                  most=MOST),
        Parameter("high", "Pa", "pressure at full travel", KPA_SPAN[1], least=0, most=MOST),
        Parameter("accuracy", "1", "limit of error of its scale", 0.02, least=1e-4, most=0.5),
        Parameter("setting", "1", "error of its spring setting", 0.0, 0.01, False, typed=False),
        Parameter("shift", "1", "shift of its spring setting", 0.0, typed=False),
        Parameter("lost", "1", "share of the pressure that the diaphragm lets go", 0.0,
                  typed=False),
        Parameter("stuck", "1", "the stem does not move", 0.0, typed=False),
        Parameter("stuck_at", "1", "where it stands", 0.0, typed=False),
        *STOPS,
    )  # fmt: skip
    shows = Shows(
        "value",
        lambda q, given: (0.0, _stem(q, given)),
        accuracy=0.02,
        resolution=0.01,
        least=0.0,
        most=1.0,
        share=True,
    )
    signal = pressure(_chamber)
    modes = (
        air_fault(
            "stuck",
            "stem stuck: packing, plug or guide",
            (fixed("stuck", 1.0), becomes("stuck_at")),
            2.5,
            Severity("travel", "1", 0.0, 1.0, logarithmic=False),
            symptoms={"frozen": 0.9},
            remedy="keep hands off the stem, it may let go; have operations isolate the line; free "
            "packing, plug or guide",
            minutes=120,
            cautions=("output", "air", "process side"),
        ),
        air_fault(
            "spring shifted",
            "spring setting has shifted, or the scale plate",
            (becomes("shift"),),
            0.5,
            Severity("shift", "1", -0.4, 0.4, logarithmic=False),
            favoured={"work": 4},
            remedy="set the spring: begin and end of travel at the pressures of the sheet",
            minutes=40,
        ),
        air_fault(
            "diaphragm leaking",
            "diaphragm leaks",
            (becomes("lost"),),
            0.8,
            Severity("share lost", "1", 0.05, 1.0, logarithmic=False),
            symptoms={"erratic": 0.1},
            remedy="listen at the vent of the actuator; renew the diaphragm",
            minutes=120,
            cautions=("output", "air", "process side"),
        ),
    )

    @classmethod
    def limited(cls, q: Any, process: Any) -> Any:
        """Whether the stem stands at a travel stop."""
        free = _free(q, process)
        return np.where(free <= q.floor, -1, np.where(free >= q.ceiling, 1, 0))


def _left_on(name: str, title: str, stop: str) -> FaultMode:
    return air_fault(
        name,
        title,
        (fixed("engaged", 1.0), becomes(stop, of="to")),
        0.3,
        Severity("travel at the stop", "1", 0.05, 0.95, logarithmic=False),
        favoured={"work": 8},
        remedy="ask why it was engaged; turn it back to neutral once the valve may move; lock it",
        minutes=5,
        cautions=("output",),
    )


class Handwheel(Kind, name="handwheel"):
    """The handwheel of a valve; engaged, it is a stop in its travel."""

    title = "handwheel"
    references = ("to",)
    parameters = (Parameter("engaged", "1", "1 while it is engaged", 0.0, typed=False),)
    shows = Shows(
        "state",
        lambda q, process: (0.0, q.engaged - 0.5),
        0.02,
        title="own display",
        states=ENGAGED,
    )
    modes = (
        _left_on("holds back", "handwheel engaged: it stops the travel short", "ceiling"),
        _left_on("holds up", "handwheel engaged: it keeps the travel up", "floor"),
    )
