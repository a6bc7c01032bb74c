"""The readings that prove a repair, as they stand."""

from __future__ import annotations

from diagnose.casework.case import Case
from diagnose.casework.events import ProofTaken


def latest(case: Case) -> tuple[ProofTaken, ...]:
    """The last proof reading of each point, in the order in which the points were first read.

    A point is known by its limits: what was typed beside them differs from time to time.
    """
    last = {_point(item): item for item in case.proofs}
    return tuple(last.values())


def _point(item: ProofTaken) -> tuple[float | None, ...]:
    return tuple(None if end is None else round(end, 6) for end in (item.low, item.high))
