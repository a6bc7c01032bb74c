"""The output channel: a current source that holds on up to its compliance voltage."""

from typing import Any

from diagnose.loops.arrays import np
from diagnose.loops.kind import (
    Action,
    Branch,
    FaultMode,
    Kind,
    Parameter,
    Segment,
    Severity,
    Shows,
    becomes,
    fixed,
)


def _share(q: Any, station: Any) -> Any:
    """What the channel takes the station's output for, fraction of range."""
    seen = q.gain * station + q.offset
    return q.stuck * q.stuck_at + (1 - q.stuck) * seen


class CurrentOutput(Kind, name="current_output"):
    """A source of 4-20 mA that holds its current up to its compliance voltage.

    Its fault lamp comes on where it cannot hold it.
    """

    title = "output channel"
    pins = ("plus", "minus")
    references = ("from",)
    follows = ("from",)
    driven = ("demand",)
    parameters = (
        Parameter("compliance", "V", "most volts at full current", 18.0, 0.05, least=1, most=100),
        Parameter("zero_current", "A", "current at 0 %", 4e-3, least=0, most=0.1),
        Parameter("full_current", "A", "current at 100 %", 20e-3, least=0, most=0.1),
        Parameter("least_current", "A", "least current", 3.6e-3, least=0, most=0.1),
        Parameter("most_current", "A", "most current", 21e-3, least=0, most=0.1),
        Parameter("clip", "ohm", "slope beyond the compliance voltage", 50.0, least=0.1, most=1e4),
        Parameter("leak", "ohm", "output resistance", 50e6, 0.8, least=1e3, most=1e12),
        Parameter("trim", "1", "error of the stage, of reading", 0.0, 0.001, False, typed=False),
        Parameter("demand", "A", "current asked for", 0.0, typed=False),
        Parameter("gain", "1", "scaling between station and channel", 1.0, typed=False),
        Parameter("offset", "1", "shift between station and channel", 0.0, typed=False),
        Parameter("stuck", "1", "the channel stands still", 0.0, typed=False),
        Parameter("stuck_at", "1", "value at which it stands", 0.0, typed=False),
        Parameter("output_error", "A", "error of the output stage", 0.0, typed=False),
        Parameter("failed", "1", "the current is fixed by a fault", 0.0, typed=False),
        Parameter("failed_current", "A", "current fixed by a fault", 0.0, typed=False),
        Parameter("alive", "1", "1 while the channel has power", 1.0, typed=False),
    )  # fmt: skip
    branches = (
        Branch(
            "plus",
            "minus",
            (
                Segment(
                    "regulating",
                    lambda q: (1 / q.leak, -q.demand * (1 + q.trim)),
                    lambda q: q.compliance,
                ),
                Segment(
                    "giving up",
                    lambda q: (
                        1 / q.leak + 1 / q.clip,
                        -q.demand * (1 + q.trim) - q.compliance / q.clip,
                    ),
                ),
            ),
        ),
    )
    shows = Shows(
        "state",
        lambda q, given: (1.0, -q.compliance),
        accuracy=0.1,
        title="own display",
    )
    modes = (
        FaultMode(
            "failed low",
            "channel gives no current",
            (fixed("failed", 1.0), fixed("failed_current", 0.0)),
            1.2,
            favoured={"lightning": 4},
            remedy="move the loop to a spare channel; renew the card",
            minutes=40,
        ),
        FaultMode(
            "failed high",
            "channel stands at its highest current",
            (fixed("failed", 1.0), fixed("failed_current", 22e-3)),
            0.8,
            favoured={"lightning": 2},
            remedy="move the loop to a spare channel; renew the card",
            minutes=40,
        ),
        FaultMode(
            "frozen",
            "channel stands still: it no longer takes what the controller writes",
            (fixed("stuck", 1.0), becomes("stuck_at")),
            0.8,
            Severity("value held", "1", -0.02, 1.05, logarithmic=False),
            symptoms={"frozen": 0.9},
            favoured={"work": 2},
            remedy="look at the card's communication and state; restart or renew it once all its "
            "channels may drop",
            minutes=40,
        ),
        FaultMode(
            "output error",
            "the current is off from what the controller shows",
            (becomes("output_error"),),
            1.0,
            Severity("current error", "A", -4e-3, 4e-3, logarithmic=False),
            favoured={"work": 2},
            remedy="trim the channel against a known meter; renew the card",
            minutes=30,
        ),
        FaultMode(
            "weak",
            "output stage weak: too few volts for the loop",
            (becomes("compliance"),),
            0.6,
            Severity("compliance", "V", 2.0, 16.0, logarithmic=False),
            symptoms={"clips": 0.2},
            favoured={"shared supply": 10},
            remedy="read the feed of the card; move to a spare channel",
            minutes=40,
        ),
        FaultMode(
            "split range low",
            "channel configured for the lower half of a split range",
            (fixed("gain", 2.0),),
            0.2,
            favoured={"work": 8},
            remedy="set the channel's range to 0-100 %",
        ),
        FaultMode(
            "split range high",
            "channel configured for the upper half of a split range",
            (fixed("gain", 2.0), fixed("offset", -1.0)),
            0.2,
            favoured={"work": 8},
            remedy="set the channel's range to 0-100 %",
        ),
        FaultMode(
            "direction",
            "channel turned round: more output, less current",
            (fixed("gain", -1.0), fixed("offset", 1.0)),
            0.2,
            symptoms={"does not follow": 1.0},  # the other way, and right in the middle only
            favoured={"work": 8},
            remedy="set the direction of the output as the sheet says",
        ),
    )
    actions = (
        Action(
            "off",
            "channel off and isolated",
            (fixed("alive", 0.0),),
            6.0,
            interrupts=True,
            cautions=("de-energise",),
        ),
    )

    @classmethod
    def drive(cls, q: Any, process: Any) -> dict[str, Any]:
        """The current asked for: 4 mA + 16 mA of the station's output, within the limits."""
        wanted = q.zero_current + (q.full_current - q.zero_current) * _share(q, process)
        held = np.clip(wanted, q.least_current, q.most_current) + q.output_error
        left = q.failed * q.failed_current + (1 - q.failed) * held
        return {"demand": q.alive * np.maximum(left, 0.0)}

    @classmethod
    def limited(cls, q: Any, process: Any) -> Any:
        """Whether the current stands at a limit of the channel."""
        wanted = q.zero_current + (q.full_current - q.zero_current) * _share(q, process)
        low, high = wanted <= q.least_current, wanted >= q.most_current
        free = q.failed == 0
        return np.where(free & low, -1, np.where(free & high, 1, 0))
