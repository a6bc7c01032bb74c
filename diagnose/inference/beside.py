"""What other loops on the same supply, card or cable do: a reading that costs a glance.

A fault in a part that both loops go through is likely to show in both; one anywhere else is not.
The chances are assumptions of this project (common practice, no source), and bounded: one word
about a neighbour moves no odds by more than the ratio of ``SHARED`` to ``BY_CHANCE``.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import log
from typing import TYPE_CHECKING

from diagnose.loops.arrays import np
from diagnose.loops.loop import Loop

if TYPE_CHECKING:
    from diagnose.circuit.rows import Array
    from diagnose.inference.hypotheses import Hypothesis

SHARED, BY_CHANCE = 0.85, 0.03
"""Chance that a neighbour is affected: by a fault in a part of both, and by anything else."""

AFFECTED, WELL = "affected", "well"

_AFFECTED = (
    "affected", "bad", "too", "as well", "also", "low", "high", "wrong", "dead", "zero",
    "reads low", "reads high", "reads zero", "reads low as well", "reads high as well",
    "affected as well",
)  # fmt: skip
_WELL = (
    "well",
    "fine",
    "good",
    "right",
    "ok",
    "normal",
    "not affected",
    "unaffected",
    "reads well",
)
WORDS = {**dict.fromkeys(_AFFECTED, AFFECTED), **dict.fromkeys(_WELL, WELL)}
"""What is said of a neighbour -> affected or well."""


def fact(tag: str, state: str) -> str:
    """The context fact that says how a neighbour is."""
    return f"{tag} {state}"


def log_odds(loop: Loop, facts: Iterable[str], hypotheses: Sequence[Hypothesis]) -> Array:
    """log likelihood of what is said of neighbours: (hypothesis,); zeros where nothing is."""
    said = frozenset(facts)
    total = np.zeros(len(hypotheses))
    for item in loop.neighbours:
        for state in (AFFECTED, WELL):
            if fact(item.tag, state) in said:
                total += [_log(h.part in item.through, state) for h in hypotheses]
    return total


def _log(shared: bool, state: str) -> float:
    chance = SHARED if shared else BY_CHANCE
    return log(chance if state == AFFECTED else 1 - chance)
