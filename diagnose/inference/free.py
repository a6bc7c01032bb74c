"""What costs nothing to ask: displays within sight or call, and loops that share something.

A display is judged like any other measurement.  A neighbour is a test with two outcomes, whose
chances are those of ``beside``; what was worked on has no chances of its own, and is asked for as
long as little is known.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference import beside
from diagnose.inference.answer import Answer
from diagnose.inference.candidates import MANNED, Candidate
from diagnose.inference.groups import gain
from diagnose.inference.measurement import CONTEXTS, contexts_of
from diagnose.inference.moving import MOVING
from diagnose.inference.ranking import Free
from diagnose.inference.readings import describe

MOST = 3
"""Questions at once: more are not read."""

WORTH_ASKING = 0.05
"""Bits that an answer should tell."""

EARLY = 1
"""Readings up to which it is asked what was done to the loop."""


def free(answer: Answer) -> tuple[Free, ...]:
    """Questions that would tell something and cost nothing, the most telling first."""
    if answer.adviser.resolved or not len(answer.adviser.gains):
        return ()
    found = sorted((*_displays(answer), *_neighbours(answer)), key=lambda one: -one.gain_bits)
    asked = [*found[: MOST - 1], *_context(answer)] if _unasked(answer) else found
    return tuple(asked[:MOST])


def only_asked(candidate: Candidate, place: str) -> bool:
    """Whether a reading is a display within sight of a place, or one that is told by radio."""
    one = candidate.measurement
    near = candidate.place in (place, MANNED)
    return one.function == "shows" and not one.condition and near


def _displays(answer: Answer) -> Iterator[Free]:
    """Displays here, or where somebody answers; what the advice says first is not said twice."""
    adviser, loop = answer.adviser, answer.engine.loop
    for n, candidate in enumerate(adviser.candidates):
        one = candidate.measurement
        near = only_asked(candidate, adviser.place)
        told = near and adviser.fresh[n] and n not in adviser.order[:1]
        if told and adviser.gains[n] > WORTH_ASKING:
            yield Free(describe(one, loop), float(adviser.gains[n]), one.points[0])


def _neighbours(answer: Answer) -> Iterator[Free]:
    """Loops through the same parts, of which nothing was said yet."""
    known = {text.rpartition(" ")[0] for text in answer.told.facts}
    for item in answer.engine.loop.neighbours:
        bits = _tells(answer, item.through)
        if item.tag not in known and bits > WORTH_ASKING:
            yield Free(f"{item.tag} {beside.AFFECTED}", bits, item.tag, f"{item.tag} {beside.WELL}")


def _tells(answer: Answer, through: frozenset[str]) -> float:
    """Bits about the fault that the state of one neighbour is expected to tell."""
    weight = answer.belief.probability / max(float(answer.belief.probability.sum()), 1e-300)
    shared = np.array([h.part in through for h in answer.hypotheses])
    affected = np.where(shared, beside.SHARED, beside.BY_CHANCE)
    outcomes: Array = np.stack([affected, 1 - affected])[None]
    return float(gain(outcomes, weight)[0])


def _unasked(answer: Answer) -> bool:
    told = answer.told
    return len(told.data) <= EARLY and not set(told.facts) & (CONTEXTS.keys() - {MOVING})


def _context(answer: Answer) -> Iterator[Free]:
    """What was done to the loop, or happened around it."""
    shared = bool(answer.engine.loop.neighbours)  # then it is asked of each of them by name
    known = contexts_of(answer.engine.loop)
    first, *others = [fact for fact in known if not (shared and fact == "shared supply")]
    yield Free(f"context {first}", 0.0, "", ", ".join(others))


__all__ = ["free", "only_asked"]
