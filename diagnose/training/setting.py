"""What a drill is: the loop, the hidden fault or how it is drawn, and what the trainee may see."""

from __future__ import annotations

from dataclasses import dataclass

from diagnose.errors import DiagnoseError

DRAWS = ("one", "two", "none", "any")
"""How the hidden fault is drawn: one from the priors, two, none at all, or as calls come."""

VISIBLE = ("hidden", "request", "shown")
"""Whether ranking and advice are hidden, given on request for points, or always shown."""

DIFFICULTIES = {
    1: "plain faults; the meter's lead is moved for you; what a step needs is told before it",
    2: "any fault that is noticed; mind the jacks and the arrangements yourself",
    3: "faults that are barely noticed; the meter may have come with a blown fuse",
}
"""What each step of the difficulty dial means."""

MINUTES = 240.0
"""Usual time limit, simulated minutes: a shift's half."""


class DrillError(DiagnoseError):
    """A drill that cannot be set, or a command that makes no sense in it."""


@dataclass(frozen=True)
class Setting:
    """One drill as the trainer sets it.

    ``faults`` are texts such as ``R1:drift=310 ohm``; where there are none, ``draw`` says how one
    is drawn.  ``process`` is the true process value as a fraction of range (drawn where None).
    ``complaint`` and ``contexts`` are told to the trainee.  ``lead`` is the jack in which the
    meter's lead is found; ``fuse`` is ``whole`` or ``blown``.  ``minutes`` is the time limit,
    ``pass_mark`` the score that passes.  ``logged`` are readings of a case that answer first.
    """

    loop: str
    faults: tuple[str, ...] = ()
    draw: str = "one"
    seed: int = 1
    difficulty: int = 2
    intermittent: bool = False
    minutes: float = MINUTES
    visible: str = "request"
    process: float | None = None
    complaint: str = ""
    contexts: tuple[str, ...] = ()
    lead: str = "V"
    fuse: str = "whole"
    name: str = ""
    title: str = ""
    story: str = ""
    lesson: str = ""
    logged: tuple[str, ...] = ()
    pass_mark: float = 60.0

    def __post_init__(self) -> None:
        """Refuse what no drill can be; DrillError with one line."""
        _one_of("draw", self.draw, DRAWS)
        _one_of("advice", self.visible, VISIBLE)
        _one_of("difficulty", str(self.difficulty), tuple(map(str, DIFFICULTIES)))
        _one_of("lead", self.lead, ("V", "mA"))
        _one_of("fuse", self.fuse, ("whole", "blown"))
        if not 5 <= self.minutes <= 10_000:
            raise DrillError(f"minutes: {self.minutes:g} is outside of 5 to 10000")
        if not 0 <= self.seed < 2**31:
            raise DrillError(f"seed: {self.seed} is no whole number from 0 to 2147483647")
        if self.process is not None and not -0.1 <= self.process <= 1.1:
            raise DrillError(f"process: {self.process:g} is outside of -10 to 110 %")
        if not 0 <= self.pass_mark <= 100:
            raise DrillError(f"pass: {self.pass_mark:g} is outside of 0 to 100")


def _one_of(key: str, word: str, known: tuple[str, ...]) -> None:
    if word not in known:
        raise DrillError(f"{key}: '{word[:40]}' is none of {', '.join(known)}")
