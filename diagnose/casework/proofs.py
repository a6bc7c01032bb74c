"""The readings that prove a repair, as they stand."""

from __future__ import annotations

from diagnose.casework.case import Case
from diagnose.casework.events import ProofTaken
from diagnose.loops.states import SAID

_STATES = frozenset(word for said in SAID for word in said.split())


def latest(case: Case) -> tuple[ProofTaken, ...]:
    """The last proof reading of each point, in the order in which the points were first read."""
    last = {_point(item): item for item in case.proofs}
    return tuple(last.values())


def _point(item: ProofTaken) -> tuple[object, ...]:
    """What tells one point of a proof from another: its limits, and all of its text but the value.

    The note for the next shift is written without the loop, so that the text is not parsed.
    """
    head, _, condition = item.text.partition(" with ")
    first, *rest = head.split()[:3] or [""]
    names = (first, *(word for word in rest if not _is_value(word)))
    limits = (None if end is None else round(end, 6) for end in (item.low, item.high))
    return (*limits, names, condition)


def _is_value(word: str) -> bool:
    return word[0] in "+-.,0123456789" or word.casefold() in _STATES
