"""A controller's output as its faceplate shows it, and whether it is in manual."""

from typing import Any

from diagnose.loops.arrays import np
from diagnose.loops.kind import (
    Action,
    FaultMode,
    Kind,
    Parameter,
    Severity,
    Shows,
    becomes,
    fixed,
)
from diagnose.loops.states import MANUAL

AGREED = 0.05
"""How often a controller is found in manual for a reason of its own (common practice, no source).

Operators take a loop that misbehaves in hand, before anybody is called; what is put in manual for
the hunt itself does not count.
"""

_WISHED = 1.6448536269514715
"""Of a standard normal distribution ``AGREED`` lies above this (tables of it)."""

_FOR_CERTAIN = 10.0
"""What "left in manual" adds to the level of the lamp: more than a wish can take from it."""


def asked(q: Any, process: Any) -> Any:
    """What the station is told before its limits: by hand, held, or by the controller."""
    told = q.hold * q.held + (1 - q.hold) * process
    return q.by_hand * q.typed + (1 - q.by_hand) * told


class OutputStation(Kind, name="output_station"):
    """A controller's output as its faceplate shows it: automatic, or set by hand."""

    title = "controller output"
    symbol = "instrument"
    driven = ("output",)
    parameters = (
        Parameter("low_limit", "1", "least output", 0.0, relative=False, least=-0.1, most=1.1),
        Parameter("high_limit", "1", "most output", 1.0, relative=False, least=-0.1, most=1.1),
        Parameter(
            "accuracy", "1", "limit of error, fraction of range", 0.001, least=1e-5, most=0.5
        ),
        Parameter("output", "1", "output in force", 0.0, typed=False),
        Parameter("hold", "1", "1 while the output is left where it stands", 0.0, typed=False),
        Parameter("held", "1", "where it stands", 0.0, typed=False),
        Parameter("by_hand", "1", "1 while a person sets the output", 0.0, typed=False),
        Parameter("typed", "1", "what that person asks for", 0.0, typed=False),
    )
    shows = Shows("value", lambda q, process: (0.0, q.output), 0.001, share=True)
    signal = shows
    modes = (
        FaultMode(
            "high limit",
            "output held back by a high limit",
            (becomes("high_limit"),),
            0.8,
            Severity("limit", "1", 0.1, 0.95, logarithmic=False),
            favoured={"work": 4},
            remedy="compare the high limit with what was agreed; look for an override that holds "
            "the output; a limit is changed by authority",
            minutes=10,
            group="process connection",
            cautions=("output",),
        ),
        FaultMode(
            "low limit",
            "output held up by a low limit",
            (becomes("low_limit"),),
            0.5,
            Severity("limit", "1", 0.05, 0.7, logarithmic=False),
            favoured={"work": 4},
            remedy="compare the low limit with what was agreed; look for an override that holds "
            "the output; a limit is changed by authority",
            minutes=10,
            group="process connection",
            cautions=("output",),
        ),
    )
    actions = (
        Action(
            "driven",
            "output set by hand",
            (fixed("by_hand", 1.0), becomes("typed")),
            2.0,
            unit="1",
            usual=0.5,
            moves_signal=True,
            cautions=("output",),
            proves=lambda q: (0.0, 0.25, 0.5, 0.75, 1.0),
        ),
    )

    @classmethod
    def drive(cls, q: Any, process: Any) -> dict[str, Any]:
        """The output in force: what is asked, within the limits."""
        return {"output": np.clip(asked(q, process), q.low_limit, q.high_limit)}

    @classmethod
    def limited(cls, q: Any, process: Any) -> Any:
        """Whether the output stands at a limit."""
        told = asked(q, process)
        return np.where(told <= q.low_limit, -1, np.where(told >= q.high_limit, 1, 0))

    @classmethod
    def corners(cls, q: Any) -> tuple[Any, ...]:
        """Process values at which the limits come in (infinite where it stands still)."""
        free = (q.hold == 0) & (q.by_hand == 0)
        return tuple(np.where(free, limit, np.inf) for limit in (q.low_limit, q.high_limit))


def _in_manual(q: Any, process: Any) -> tuple[Any, Any]:
    """Level of the lamp; the wish has a standard deviation of one."""
    return 0.0, q.agreed + _FOR_CERTAIN * q.manual - _WISHED


class StationMode(Kind, name="station_mode"):
    """The switch between automatic and manual of a controller, and the lamp that tells manual.

    Manual is an operating state as well as a fault: ``agreed`` stands for what people want of the
    loop, which nothing in it tells; the lamp is lit where it lies in its upper ``AGREED``.
    """

    title = "manual lamp"
    symbol = "lamp"
    references = ("to",)
    parameters = (
        Parameter("manual", "1", "1 where it was left in manual", 0.0, typed=False),
        Parameter("agreed", "1", "wish for manual", 0.0, 3**0.5, relative=False, typed=False),
    )
    shows = Shows("state", _in_manual, 0.02, title="own display", states=MANUAL)
    modes = (
        FaultMode(
            "left in manual",
            "controller left in manual, or tracking: its output stands still",
            (fixed("manual", 1.0), fixed("hold", 1.0, of="to"), becomes("held", of="to")),
            3.0,
            Severity("output held", "1", 0.0, 1.0, logarithmic=False),
            symptoms={"frozen": 0.9, "does not follow": 0.9},
            favoured={"work": 6},
            remedy="ask why it was put there; have the operator put it back to automatic, bumpless",
            minutes=3,
            group="process connection",
            cautions=("output",),
        ),
    )
