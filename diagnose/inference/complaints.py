"""Which complaints the displays of a loop can give rise to; asked before anything is computed."""

from __future__ import annotations

from diagnose.inference.measurement import COMPLAINTS
from diagnose.loops.loop import Loop, Part

_OF_A_TRIP = ("tripped", "no trip")
_OF_A_STATE = ("stays on", "stays off")
_OF_AN_OUTPUT = ("does not follow",)
_OF_ANY = ("erratic",)
_OF_SEVERAL = ("disagree",)


def told_by(loop: Loop, what: str) -> list[Part]:
    """Displays that tell the operator something of the loop: not those beside the loop."""
    return [
        part
        for part in loop.parts
        if (shows := part.kind.shows)
        and shows.what == what
        and (part.pins or part.kind.follows)
        and shows.title != "own display"
    ]


def complaints(loop: Loop) -> tuple[str, ...]:
    """The complaints that the displays of a loop can give rise to, in the usual order."""
    values, states = told_by(loop, "value"), told_by(loop, "state")
    trip = "trip" in loop.role
    return tuple(
        name
        for name in COMPLAINTS
        if (bool(states) and trip if name in _OF_A_TRIP else True)
        and (bool(states) and not trip if name in _OF_A_STATE else True)
        and ("output" in loop.role or name not in _OF_AN_OUTPUT)
        and (len(values) > 1 or name not in _OF_SEVERAL)
        and (bool(values) or name in (*_OF_A_TRIP, *_OF_A_STATE, *_OF_AN_OUTPUT, *_OF_ANY))
    )
