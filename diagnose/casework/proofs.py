"""The readings that prove a repair, as they stand."""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.casework.case import Case
from diagnose.casework.events import ProofTaken
from diagnose.loops.states import SAID

_STATES = frozenset(word for said in SAID for word in said.split())


def latest(case: Case) -> tuple[ProofTaken, ...]:
    """The last proof reading of each point, in the order in which the points were first read."""
    last = {_point(item): item for item in case.proofs}
    return tuple(last.values())


def proved(case: Case) -> bool:
    """Whether there are proof readings, the last of each point within its limits."""
    return bool(case.proofs) and all(item.passed for item in latest(case))


def did_not_help(case: Case) -> bool:
    """Whether the hunt went on after the last repair, and no proof spoke for it since."""
    return case.hunted_on and not proved(case)


def ends(proofs: Sequence[ProofTaken]) -> tuple[ProofTaken, ...]:
    """Of many points those that failed, and the first and the last of each thing that was read."""
    things = [_names(item) for item in proofs]
    last = {names: n for n, names in enumerate(things)}
    first = {names: n for n, names in reversed(list(enumerate(things)))}
    told = {*first.values(), *last.values()}
    return tuple(item for n, item in enumerate(proofs) if n in told or not item.passed)


def _point(item: ProofTaken) -> tuple[object, ...]:
    """What tells one point of a proof from another: its limits, and all of its text but the value.

    The note for the next shift is written without the loop, so that the text is not parsed.
    """
    condition = item.text.partition(" with ")[2]
    limits = (None if end is None else round(end, 6) for end in (item.low, item.high))
    return (*limits, _names(item), condition)


def _names(item: ProofTaken) -> tuple[str, ...]:
    """What was read: the text before a condition, but for the value."""
    first, *rest = item.text.partition(" with ")[0].split()[:3] or [""]
    return (first, *(word for word in rest if not _is_value(word)))


def _is_value(word: str) -> bool:
    return word[0] in "+-.,0123456789" or word.casefold() in _STATES
