"""The relay of a positioner, the actuator and the valve, as one: the stem is what closes it."""

from typing import Any

from diagnose.loops.arrays import np
from diagnose.loops.kind import Kind, Parameter, Severity, Shows, becomes, fixed
from diagnose.loops.kinds.control_valves import STOPS
from diagnose.loops.kinds.pneumatics import LIVE_SPAN, LIVE_ZERO, MOST, air_fault, pressure

ON_TARGET = 1e-9
"""Deviation below which a stem counts as being where it is sent, share of travel."""

STIFF = 20.0
"""Output of the relay in spans of the actuator for one travel of deviation."""


def _span(q: Any) -> Any:
    return q.high - q.low


def _awake(q: Any, signal: Any) -> Any:
    """1 while the current is enough for the electronics and the relay is whole."""
    enough = 1.0 * (LIVE_ZERO + LIVE_SPAN * signal >= q.least_current)
    return enough * (1 - q.failed)


def _target(q: Any, signal: Any) -> Any:
    return np.clip(signal, 0.0, 1.0) + q.feedback_shift + q.calibration


def _held(q: Any, free: Any) -> Any:
    """Where the stem stands if nothing but friction and stops is against it."""
    stopped = np.maximum(np.minimum(free, q.ceiling), q.floor)
    return q.stuck * q.stuck_at + (1 - q.stuck) * np.maximum(stopped, 0.0)


def _placed(q: Any, given: Any) -> tuple[Any, Any]:
    """Travel, and pressure on the actuator in Pa.

    The relay gives whatever brings the stem to its target: all of the air if the stem is held
    back, none if it is held up.
    """
    signal, air = given
    most = air * (1 - q.lost)
    awake, target = _awake(q, signal), _target(q, signal)
    stem = _held(q, np.minimum(target, (most - q.low) / _span(q)))
    push = np.clip(q.low + _span(q) * (stem + STIFF * (target - stem)), 0.0, most)
    fixed_at = q.failed * q.failed_share * most
    idle = _held(q, (fixed_at - q.low) / _span(q))
    return awake * stem + (1 - awake) * idle, awake * push + (1 - awake) * fixed_at


class PositionedValve(Kind, name="positioned_valve"):
    """Relay of a positioner, actuator and valve; follows the positioner's target and the air.

    Others see the pressure on the actuator.
    """

    title = "control valve with positioner"
    symbol = "valve"
    references = ("from", "air")
    follows = ("from", "air")
    senses = True
    parameters = (
        Parameter("low", "Pa", "pressure at which it begins to move", 80e3, least=0, most=MOST),
        Parameter("high", "Pa", "pressure at full travel", 240e3, least=0, most=MOST),
        Parameter("least_current", "A", "least current of the electronics", 3.6e-3, least=0,
                  most=0.02),
        Parameter("accuracy", "1", "limit of error of its scale", 0.02, least=1e-4, most=0.5),
        Parameter("calibration", "1", "error of its calibration", 0.0, 0.005, False, typed=False),
        Parameter("feedback_shift", "1", "error of the feedback linkage", 0.0, typed=False),
        Parameter("lost", "1", "share of the pressure that leaks away", 0.0, typed=False),
        Parameter("failed", "1", "the relay does not act", 0.0, typed=False),
        Parameter("failed_share", "1", "what it then gives, of the air", 0.0, typed=False),
        Parameter("stuck", "1", "the stem does not move", 0.0, typed=False),
        Parameter("stuck_at", "1", "where it stands", 0.0, typed=False),
        *STOPS,
    )  # fmt: skip
    shows = Shows(
        "value",
        lambda q, given: (0.0, _placed(q, given)[0]),
        accuracy=0.02,
        resolution=0.01,
        least=0.0,
        most=1.0,
        share=True,
    )
    signal = pressure(lambda q, given: _placed(q, given)[1])
    modes = (
        air_fault(
            "relay low",
            "nozzle or relay gives no air",
            (fixed("failed", 1.0),),
            1.5,
            symptoms={"frozen": 0.5},
            favoured={"rain": 2, "frost": 2},
            remedy="clean or renew the pneumatic block; look for oil or water in the air",
            minutes=60,
        ),
        air_fault(
            "relay high",
            "nozzle or relay gives full air",
            (fixed("failed", 1.0), fixed("failed_share", 1.0)),
            1.2,
            symptoms={"frozen": 0.5},
            favoured={"rain": 2},
            remedy="clean or renew the pneumatic block; look for oil or water in the air",
            minutes=60,
        ),
        air_fault(
            "feedback loose",
            "feedback linkage loose, slipped or worn",
            (becomes("feedback_shift"),),
            2.0,
            Severity("shift", "1", -0.6, 0.6, logarithmic=False),
            symptoms={"erratic": 0.4},
            favoured={"work": 4},
            remedy="tighten and set the feedback linkage, then calibrate the travel",
            minutes=45,
        ),
        air_fault(
            "leak",
            "tube, fitting or diaphragm leaks more than the relay can give",
            (becomes("lost"),),
            1.5,
            Severity("share lost", "1", 0.45, 1.0, logarithmic=False),
            symptoms={"erratic": 0.1, "clips": 0.3},
            favoured={"work": 3},
            remedy="soap tube and fittings, listen at the vent of the actuator; renew what leaks",
            minutes=45,
        ),
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
    )

    @classmethod
    def limited(cls, q: Any, process: Any) -> Any:
        """Asleep (-2), all air let go (-1), at its target (0), at a stop (2), all air used (1)."""
        signal, air = process
        stem, pressed = _placed(q, process)
        free = np.abs(stem - _target(q, signal)) < ON_TARGET
        side = np.where(pressed >= air * (1 - q.lost), 1, np.where(free, 0, 2))
        side = np.where(pressed <= 0, -1, side)
        return np.where(_awake(q, signal) > 0, side, -2)
