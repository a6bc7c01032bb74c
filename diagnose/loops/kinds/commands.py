"""What an on-off output is told to do: by the plant, or by hand at the faceplate."""

from typing import Any

from diagnose.loops.kind import Action, Kind, Parameter, Shows, fixed
from diagnose.loops.states import COMMANDED

EDGE = 1e-3
"""The command turns from off to on between this far below and above the middle of the range."""


def _by_hand(name: str, title: str, asked: float) -> Action:
    return Action(
        name,
        title,
        (fixed("by_hand", 1.0), fixed("asked", asked)),
        2.0,
        moves_signal=True,
        cautions=("output",),
    )


class OutputCommand(Kind, name="output_command"):
    """The command of an on-off output, as the operator sees it and can set it by hand."""

    title = "command"
    driven = ("command",)
    parameters = (
        Parameter("command", "1", "0 off, 1 on", 0.0, typed=False),
        Parameter("by_hand", "1", "1 while a person sets the command", 0.0, typed=False),
        Parameter("asked", "1", "what that person asks for", 0.0, typed=False),
    )
    shows = Shows("state", lambda q, process: (0.0, q.command - 0.5), 0.02, states=COMMANDED)
    signal = shows
    actions = (
        _by_hand("commanded on", "output commanded on in manual", 1.0),
        _by_hand("commanded off", "output commanded off in manual", 0.0),
    )

    @classmethod
    def drive(cls, q: Any, process: Any) -> dict[str, Any]:
        """The command in force: the person's while there is one, else that of the plant."""
        return {"command": q.by_hand * q.asked + (1 - q.by_hand) * process}

    @classmethod
    def corners(cls, q: Any) -> tuple[Any, ...]:
        """Between these the command turns from off to on."""
        return (0.5 - EDGE, 0.5 + EDGE)
