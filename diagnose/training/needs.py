"""What a trainee should work on next, from the mistakes and the score of one drill."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping

from diagnose.training.safety import UNSAFE
from diagnose.training.score import INFORMATION, Score

GUESSED, LEFT = "guessed", "left altered"
"""What can be done wrong in a drill as a whole, beside the mistakes of its steps."""

WASTED = 0.5
"""Share of what could be learnt per minute below which readings were badly chosen."""

SAFETY, METER, BACK, VERDICT, CHOICE = (
    "safety before a step", "minding the meter", "putting back", "reading on before a verdict",
    "choosing readings",
)  # fmt: skip

NEEDS = (SAFETY, METER, BACK, VERDICT, CHOICE)
"""What may be wanting, the gravest first."""

METER_MISTAKES = ("short", "wrong jack", "blown fuse", "live ohms")
"""The mistakes with the meter itself."""

CURES: Mapping[str, str] = {
    "short": "Put the lead back into the V jack before the next volts: jack V.",
    "wrong jack": "Look at the jack before every reading: the foot of the screen tells it.",
    "blown fuse": "Prove the fuse of the meter before the first current: fuse.",
    "live ohms": "Ohms only on what is dead: have the supply isolated and proved dead (dead), and "
    "read with supply off.",
    "no bypass": "Have the trip bypassed before its loop is disturbed: bypass. Undisturbed volts "
    "across a resistor, or a clamp, tell a current as well.",
    "no manual": "Have the controller put in manual before its loop is disturbed: manual.",
    "no permit": "Have gas test and permit before a hazardous area is worked in: permit.",
    "live work": "Have it isolated and proved dead first: dead, or licence where it is mains.",
    "not isolated": "Have the final element isolated or blocked in before it can move: isolate.",
    "process open": "Have operations isolate the process connection first: operations.",
    LEFT: "Put back what is altered before you close: items lists it, restore all puts it back.",
}
"""What to do next time, for each mistake."""


def needed(mistakes: Collection[str], score: Score | None) -> tuple[str, ...]:
    """What to work on, the gravest first; nothing where nothing went wrong."""
    return tuple(_needed(mistakes, score))


def _needed(mistakes: Collection[str], score: Score | None) -> Iterator[str]:
    if {*UNSAFE} & {*mistakes} - {*METER_MISTAKES} or (score is not None and score.trips):
        yield SAFETY
    if {*METER_MISTAKES} & {*mistakes}:
        yield METER
    if LEFT in mistakes:
        yield BACK
    if GUESSED in mistakes:
        yield VERDICT
    if score is not None and score.information < WASTED * INFORMATION:
        yield CHOICE
