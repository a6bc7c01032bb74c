"""What all transmitters have in common: a sensed value becomes a current, within saturation."""

from typing import Any

from diagnose.loops.arrays import np
from diagnose.loops.kind import (
    Action,
    FaultMode,
    Kind,
    Parameter,
    Severity,
    becomes,
    copies,
    fixed,
)


def sensed(q: Any, process: Any) -> Any:
    """What the transmitter believes the process to be, fraction of range."""
    standing = q.equalised * q.at_nothing + (1 - q.equalised) * q.held
    seen = q.hold * standing + (1 - q.hold) * (process + q.sensed_shift)
    return q.stuck * q.stuck_at + (1 - q.stuck) * (seen * (1 + q.span_error) + q.zero_error)


def asked(q: Any, process: Any) -> Any:
    """The current that the electronics ask for, A: 4 mA + 16 mA of the sensed value.

    It is held within saturation.  A person can drive any transmitter that is alive and does not
    stand still; an error of the output stage stays in the driven current.
    """
    wanted = q.zero_current + (q.full_current - q.zero_current) * sensed(q, process)
    held = np.clip(wanted, q.saturation_low, q.saturation_high) + q.output_error
    left = q.failed * q.failed_current + (1 - q.failed) * held
    by_hand = q.driven * (1 - q.stuck)
    current = by_hand * (q.driven_current + q.output_error) + (1 - by_hand) * left
    return np.maximum(q.alive * current, 0.0)


CURRENTS = (
    Parameter("zero_current", "A", "current at 0 %", 4e-3, least=0, most=0.1),
    Parameter("full_current", "A", "current at 100 %", 20e-3, least=0, most=0.1),
    Parameter("saturation_low", "A", "lowest measuring current", 3.8e-3, least=0, most=0.1),
    Parameter("saturation_high", "A", "highest measuring current", 20.5e-3, least=0, most=0.1),
    Parameter("fail_low", "A", "failure current, low", 3.6e-3, least=0, most=0.1),
    Parameter("fail_high", "A", "failure current, high", 21.5e-3, least=0, most=0.1),
)
"""What the output means."""

SENSED = (
    Parameter(
        "at_nothing",
        "1",
        "where it is with nothing applied (default: where the range has its 0)",
        0.0,
        relative=False,
        least=-1,
        most=2,
    ),
    Parameter("equalised", "1", "1 while nothing is applied to it", 0.0, typed=False),
    Parameter("sensed_shift", "1", "error of the process connection", 0.0, typed=False),
    Parameter("hold", "1", "the connection holds its value", 0.0, typed=False),
    Parameter("held", "1", "value held by the connection", 0.0, typed=False),
    Parameter("zero_error", "1", "zero error of the sensor", 0.0, typed=False),
    Parameter("span_error", "1", "span error of the sensor", 0.0, typed=False),
    Parameter("stuck", "1", "the electronics stand still", 0.0, typed=False),
    Parameter("stuck_at", "1", "value at which they stand", 0.0, typed=False),
)
"""What faults and people move between the process and the electronics.

An absolute transmitter, and one on a filled leg, is not at 0 with nothing applied: the sheet says
where it is.
"""

STATE = (
    Parameter("output_error", "A", "error of the output stage", 0.0, typed=False),
    Parameter("failed", "1", "the output is fixed by a fault", 0.0, typed=False),
    Parameter("failed_current", "A", "current fixed by a fault", 0.0, typed=False),
    Parameter("alive", "1", "1 while the transmitter draws current at all", 1.0, typed=False),
    Parameter("driven", "1", "1 while a person fixes the output", 0.0, typed=False),
    Parameter("driven_current", "A", "current that the person asks for", 0.0, typed=False),
)
"""What they move between the electronics and the output."""

DEAD = FaultMode(
    "dead",
    "transmitter draws nothing",
    (fixed("alive", 0.0),),
    1.0,
    favoured={"lightning": 4},
    remedy="prove its terminal voltage, then renew the transmitter",
    minutes=60,
)

ALARMS = (
    FaultMode(
        "failed low",
        "transmitter signals failure low",
        (fixed("failed", 1.0), copies("failed_current", "fail_low")),
        1.2,
        remedy="read its diagnosis; renew sensor or electronics",
        minutes=60,
    ),
    FaultMode(
        "failed high",
        "transmitter signals failure high",
        (fixed("failed", 1.0), copies("failed_current", "fail_high")),
        1.2,
        remedy="read its diagnosis; renew sensor or electronics",
        minutes=60,
    ),
)
"""What a transmitter signals when it finds itself at fault."""

FROZEN = FaultMode(
    "frozen",
    "transmitter stands still",
    (fixed("stuck", 1.0), becomes("stuck_at")),
    0.5,
    Severity("value held", "1", -0.0125, 1.03, logarithmic=False),
    symptoms={"frozen": 0.9},
    remedy="restart the transmitter with the loop in manual; renew the electronics",
    minutes=45,
)

FIXED = FaultMode(
    "fixed output",
    "output left in fixed-current test",
    (fixed("failed", 1.0), becomes("failed_current")),
    0.5,
    Severity("current", "A", 3.8e-3, 20.5e-3, logarithmic=False),
    symptoms={"frozen": 0.9},
    favoured={"work": 8},
    remedy="take the transmitter out of its output test, with the loop in manual; at a steady "
    "4 mA look whether it is set to multidrop",
)

SENSOR_ERRORS = (
    FaultMode(
        "zero error",
        "sensor zero has shifted",
        (becomes("zero_error"),),
        1.0,
        Severity("shift", "1", -0.5, 0.5, logarithmic=False),
        favoured={"work": 2},
        remedy="check zero at the manifold, equalised or vented, and trim it; a filled leg "
        "must not run out",
        minutes=45,
    ),
    FaultMode(
        "span error",
        "range or span is wrong",
        (becomes("span_error"),),
        0.7,
        Severity("span error", "1", -0.5, 0.5, logarithmic=False),
        favoured={"work": 4},
        remedy="check the range against the sheet and trim the span",
        minutes=45,
    ),
)
"""What the display tells as well as the output."""

OUTPUT_ERROR = FaultMode(
    "output error",
    "output stage is off: the display is right, the current is not",
    (becomes("output_error"),),
    0.5,
    Severity("current error", "A", -4e-3, 4e-3, logarithmic=False),
    favoured={"work": 2},
    remedy="trim the output current; renew the electronics",
    minutes=45,
)

DRIVEN = Action(
    "driven",
    "transmitter made to drive a fixed current",
    (fixed("driven", 1.0), becomes("driven_current")),
    6.0,
    unit="A",
    usual=12e-3,
    moves_signal=True,
    cautions=("inject",),
    proves=lambda q: (4e-3, 8e-3, 12e-3, 16e-3, 20e-3),
    spans=lambda q: (4e-3, 20e-3),
)


def replaced(title: str) -> Action:
    """The transmitter taken out, something that is known put in its place."""
    return Action(
        "replaced",
        title,
        (fixed("driven", 1.0), becomes("driven_current")),
        12.0,
        unit="A",
        usual=12e-3,
        interrupts=True,
        moves_signal=True,
        heals=True,
        cautions=("open loop", "inject"),
    )


EQUALISED = Action(
    "equalised",
    "process connection shut and the transmitter equalised to zero",
    (fixed("hold", 1.0), fixed("equalised", 1.0), fixed("sensed_shift", 0.0)),
    15.0,
    moves_signal=True,
    cautions=("process side",),
)


def saturates(q: Any, gain: Any, low: Any, high: Any) -> tuple[Any, Any]:
    """Process values at which the sensed value meets two limits; infinite where it never does."""
    slope = gain * (1 - q.stuck) * (1 - q.hold) * (1 + q.span_error)
    with np.errstate(divide="ignore", invalid="ignore"):
        at = [
            np.where(slope > 1e-9, (limit - q.zero_error) / slope - q.sensed_shift, np.inf)
            for limit in (low, high)
        ]
    return at[0], at[1]


class Transmitter(Kind):
    """Follows the process between two saturation currents; kinds add what their output is."""

    title = "transmitter"
    symbol = "instrument"

    @classmethod
    def limited(cls, q: Any, process: Any) -> Any:
        """Whether the output is held at a saturation current."""
        wanted = q.zero_current + (q.full_current - q.zero_current) * sensed(q, process)
        return np.where(wanted <= q.saturation_low, -1, np.where(wanted >= q.saturation_high, 1, 0))

    @classmethod
    def corners(cls, q: Any) -> tuple[Any, ...]:
        """Process values at which the output saturates (infinite where it never does)."""
        span = q.full_current - q.zero_current
        limits = ((end - q.zero_current) / span for end in (q.saturation_low, q.saturation_high))
        return saturates(q, q.alive * (1 - q.failed), *limits)
