"""What is said of a process that moves while it is read: a context fact, with its size or without.

``moving`` is a process that moves by much; ``moving 3 %`` one that was watched for a while.  What
is seen in a minute is taken for one standard deviation of what happens between two readings
(assumption).
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from math import sqrt

from diagnose.loops.loop import Loop

MOVING = "moving"

UNREST = 0.05
"""Standard deviation of a restless process from reading to reading, share of range (assumption)."""

LEAST, MOST = 0.1, 20.0
"""Percent of range that are believed: less is a process at rest, more is no measuring at all."""

_WORDS = (
    "moving", "moves", "unsteady", "restless", "swinging", "swings", "wandering",
    "does not hold still", "does not stand still", "is not steady", "not steady",
)  # fmt: skip
_SAID = re.compile(
    rf"(?:the )?(?:process |value |it )?(?:is )?(?:{'|'.join(_WORDS)})(?: (?P<size>.+))?\Z"
)
_SIZE = re.compile(r"(?:by |about |up to |\+-)*\s*(?P<number>[0-9]{1,3}(?:[.,][0-9]{1,3})?) ?%\Z")
_FACT = re.compile(rf"{MOVING}(?: (?P<number>[0-9.]+) %)?\Z")


class SizeError(ValueError):
    """A size that nobody can mean; its text says what would be right."""


def moving_fact(phrase: str) -> str | None:
    """The context fact that a phrase in small letters states; None if it is about something else.

    Raises SizeError where it says how far, and that is no percentage of range within bounds.
    """
    said = _SAID.match(" ".join(phrase.split()))
    if said is None:
        return None
    if said["size"] is None:
        return MOVING
    size = _SIZE.match(said["size"])
    percent = float(size["number"].replace(",", ".")) if size else 0.0
    if not LEAST <= percent <= MOST:
        raise SizeError(
            f"say by how much of the range it moves in a minute, {LEAST:g} to {MOST:g} %, "
            "such as: moving 3 %"
        )
    return f"{MOVING} {percent:g} %"


def unrest(facts: Iterable[str]) -> float | None:
    """Standard deviation between readings that the facts tell, share of range; the last one holds.

    None where nothing is said of it.
    """
    found = None
    for fact in facts:
        said = _FACT.match(fact)
        if said:
            found = float(said["number"]) / 100 if said["number"] else UNREST
    return found


def drift(facts: Iterable[str], loop: Loop) -> float:
    """Standard deviation between readings to reckon with: what is said, else what the sheet says.

    What has two states does not move by a share of its range, whatever is said.
    """
    said = unrest(facts)
    return loop.drift if said is None or loop.states else said


def beyond(drift: float, loop: Loop) -> float:
    """What of an unrest is beyond that which the sheet allows for; both are standard deviations."""
    return sqrt(max(drift**2 - loop.drift**2, 0.0))
