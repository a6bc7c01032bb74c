"""Readings of a ranking under the numbers that they have in a session."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from diagnose.inference.ranking import Ranking


def renumbered(ranking: Ranking, numbers: Sequence[int], after: int) -> Ranking:
    """The ranking with reading n as ``numbers[n - 1]``; a supposed one comes last, as ``after``."""
    of = dict(enumerate(numbers, 1))

    def number(n: int) -> int:
        return of.get(n, after) if n else 0

    return replace(
        ranking,
        suspects=tuple(
            replace(item, index=number(item.index), retaken=number(item.retaken))
            for item in ranking.suspects
        ),
        next=tuple(replace(item, again=number(item.again)) for item in ranking.next),
    )
