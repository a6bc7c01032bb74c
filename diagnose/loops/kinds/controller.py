"""A controller between an input and an output on one sheet: its output is an unknown of its own."""

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


def _output(q: Any, given: Any) -> tuple[Any, Any]:
    """What the station puts out: left standing, set by hand, or wherever the controller is."""
    free = q.hold * q.held + (1 - q.hold) * q.output
    told = q.by_hand * q.typed + (1 - q.by_hand) * free
    return 0.0, np.clip(told, q.low_limit, q.high_limit)


class Controller(Kind, name="controller"):
    """A controller's output on its faceplate, where the input is on the same sheet.

    In automatic the output is where the controller has brought it, so that nothing on the input
    side tells it: the sheet leaves it wide open, and the faceplate says it at once.
    """

    title = "controller output"
    symbol = "instrument"
    stated = "output"
    parameters = (
        Parameter("output", "1", "where it may stand", 0.5, 0.5, False, least=0, most=1),
        Parameter("low_limit", "1", "least output", 0.0, relative=False, least=-0.1, most=1.1),
        Parameter("high_limit", "1", "most output", 1.0, relative=False, least=-0.1, most=1.1),
        Parameter(
            "accuracy", "1", "limit of error, fraction of range", 0.001, least=1e-5, most=0.5
        ),
        Parameter("hold", "1", "1 while the output is left where it stands", 0.0, typed=False),
        Parameter("held", "1", "where it stands", 0.0, typed=False),
        Parameter("by_hand", "1", "1 while a person sets the output", 0.0, typed=False),
        Parameter("typed", "1", "what that person asks for", 0.0, typed=False),
    )
    shows = Shows("value", _output, accuracy=0.001, share=True)
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
