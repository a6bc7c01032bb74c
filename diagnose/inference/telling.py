"""Which reading tells two explanations apart, and what each of them would make of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.inference.answer import Answer
from diagnose.inference.candidates import HOME
from diagnose.inference.engine import Engine, Evidence
from diagnose.inference.groups import APART, gain
from diagnose.inference.measurement import Measurement
from diagnose.inference.readings import describe
from diagnose.inference.report_advice import Span, outcome

Key = tuple[str | None, str]
"""Part and fault; no part and ``none`` is the sound loop."""

SHOWN = 3


@dataclass(frozen=True, slots=True)
class Telling:
    """One reading: how much of the one bit between two explanations it tells, and its outcomes.

    ``first`` and ``second`` are the middle 90 % of what each would show, in SI with the unit.
    """

    measurement: Measurement
    text: str
    place: str
    minutes: float
    bits: float
    interrupts_loop: bool
    moves_signal: bool
    first: Span
    second: Span


def telling(
    engine: Engine,
    evidence: Sequence[Evidence],
    first: Key,
    second: Key,
    place: str = HOME,
    without: frozenset[str] = frozenset(),
    calm: bool = False,
) -> tuple[Telling, ...]:
    """The readings that tell two explanations apart, by bits per minute; empty where none does.

    Both are taken for equally likely.  An explanation that the evidence has ruled out is none to
    be told from another: KeyError, with the (part, fault) of the one.  The other arguments are
    those of ``Engine.rank``.
    """
    adviser = engine.look(evidence, place, without, calm)
    answer = Answer.of(adviser)
    pair = [_number(answer, key) for key in (first, second)]
    if not adviser.candidates:
        return ()
    bits = gain(adviser.given.of(np.array(pair)), np.array([0.5, 0.5]))
    worth = [n for n in range(len(adviser.candidates)) if bits[n] >= APART and adviser.fresh[n]]
    worth.sort(key=lambda n: -bits[n] / adviser.minutes[n])
    return tuple(_told(answer, n, pair, float(bits[n])) for n in worth[:SHOWN])


def _number(answer: Answer, key: Key) -> int:
    """The hypothesis of a key, which must have some weight left to be looked ahead from."""
    found = next((h.number for h in answer.hypotheses if h.key == key and not h.also), None)
    if (
        found is None
        or not len(answer.adviser.points)
        or not (answer.adviser.points.h == found).any()
    ):
        raise KeyError(key)
    return found


def _told(answer: Answer, n: int, pair: Sequence[int], bits: float) -> Telling:
    adviser = answer.adviser
    candidate = adviser.candidates[n]
    outlook, spans = adviser.outlook, []
    for number in pair:
        rows = np.flatnonzero(adviser.points.h == number)
        mean, sd = outlook.mean[n][rows], outlook.sd[n][rows]
        weight = adviser.points.weight[rows]
        spans.append(outcome(answer, n, bool(outlook.side[n]), mean, sd, weight))
    return Telling(
        measurement=candidate.measurement,
        text=describe(candidate.measurement, answer.engine.loop),
        place=candidate.place,
        minutes=float(adviser.own_minutes(candidate)),
        bits=bits,
        interrupts_loop=candidate.interrupts,
        moves_signal=candidate.moves_signal,
        first=spans[0],
        second=spans[1],
    )
