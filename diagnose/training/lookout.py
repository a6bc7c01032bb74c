"""What is known at one moment of a hunt, and what a measurement is worth then."""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass

import numpy as np

from diagnose.inference.advice import LEAST_GAIN, Adviser, charged
from diagnose.inference.answer import Answer
from diagnose.inference.candidates import Candidate, candidate_of
from diagnose.inference.drawn import likeliest
from diagnose.inference.engine import Engine
from diagnose.inference.free import only_asked
from diagnose.inference.known import Known
from diagnose.inference.measurement import Condition, Measurement
from diagnose.inference.moving import beyond
from diagnose.inference.ranking import Advice, Ranking
from diagnose.inference.readings import parse_lines
from diagnose.inference.report import compose, size_at
from diagnose.inference.report_advice import advise

Keys = tuple[tuple[str | None, str], ...]
"""The faults of one explanation: one (part, fault), or two."""


@dataclass(frozen=True)
class Example:
    """One explanation as it would most likely look: parameters moved, process value.

    ``size`` is what the fault named last would leave its parameter at, SI; 0 where it has none.
    """

    keys: Keys
    changes: tuple[tuple[tuple[str, str], float], ...]
    process: float
    size: float = 0.0


@dataclass(frozen=True)
class Look:
    """What is known at one moment, and what a chosen measurement is worth then.

    ``chosen`` is None at the end; ``best`` where nothing is worth reading.  ``share`` is what the
    chosen step was expected to tell per minute, against the best that could be had, 0 to 1: a
    reading with its handling, a display that is only asked for without.
    """

    evidence: tuple[str, ...]
    place: str
    ranking: Ranking
    chosen: Advice | None
    best: Advice | None
    share: float
    examples: tuple[Example, ...] = ()

    @property
    def probability(self) -> dict[Keys, float]:
        """Probability of every explanation."""
        return {
            ((item.part, item.fault), *item.also): item.probability
            for item in self.ranking.hypotheses
        }

    @property
    def groups(self) -> dict[Keys, int]:
        """Ambiguity group of every explanation."""
        return {
            ((item.part, item.fault), *item.also): item.group for item in self.ranking.hypotheses
        }

    def alike(self, key: tuple[str | None, str]) -> frozenset[tuple[str | None, str]]:
        """The single faults that no reading within reach tells from one; that one included."""
        own = self.groups.get((key,))
        return frozenset({k[0] for k, n in self.groups.items() if len(k) == 1 and n == own} | {key})


class Lookout:
    """Looks from the readings of one hunt; what was worked out once is kept."""

    def __init__(self, engine: Engine) -> None:
        self.engine = engine
        self._kept: dict[object, Answer] = {}

    def answer(
        self,
        evidence: Sequence[str],
        place: str,
        chosen: Measurement | None = None,
        where: str = "",
    ) -> Answer:
        """Belief and advice; ``chosen`` is looked at too where it is no usual measurement."""
        said = parse_lines(evidence, self.engine.loop)
        engine = self.engine.at(said)
        usual = chosen is None or any(c.measurement == chosen for c in engine.candidates)
        key = tuple(evidence), place, None if usual else chosen
        if key not in self._kept:
            able = engine if usual or chosen is None else _wider(engine, chosen, where)
            told = engine.sort(said)
            belief, atlas = engine.believe(told)
            adviser = Adviser(able, atlas, belief, told, place, frozenset())
            self._kept[key] = Answer(engine, atlas, belief, told, adviser)
        return self._kept[key]

    def look(
        self,
        evidence: Sequence[str],
        place: str,
        chosen: Measurement | None = None,
        where: str = "",
        new: Condition | None = None,
    ) -> Look:
        """What is known from some lines, and the worth of one measurement, taken at ``where``.

        ``new`` is what is altered for it, all of its condition where that is not said.
        """
        answer = self.answer(evidence, place, chosen, where)
        adviser, ranking = answer.adviser, compose(answer)
        steps = () if ranking.resolved else adviser.order[:1]
        best = advise(answer, steps) if len(adviser.gains) else ()
        number = _number(adviser, chosen)
        spelt = advise(answer, [number]) if number is not None else ()
        share = _share(adviser, number, bool(best), new) if number is not None else 0.0
        return Look(
            tuple(evidence), place, ranking, next(iter(spelt), None), next(iter(best), None),
            share, tuple(_examples(answer)),
        )  # fmt: skip


def _wider(engine: Engine, chosen: Measurement, where: str) -> Engine:
    """The engine with a measurement among its candidates that is none of the usual ones."""
    wider = copy(engine)
    wider.candidates = (*engine.candidates, candidate_of(engine.loop, chosen, where))
    return wider


def _number(adviser: Adviser, chosen: Measurement | None) -> int | None:
    if chosen is None or not len(adviser.gains):
        return None
    found = (n for n, c in enumerate(adviser.candidates) if c.measurement == chosen)
    return next(found, None)


def _share(adviser: Adviser, number: int, wanted: bool, new: Condition | None) -> float:
    """The worth of a step against the best, bits per minute; the advised one is the best.

    What is only asked for costs no handling of a meter: the tool says itself to ask first.  What
    stands altered already costs nothing again: of its condition what is ``new`` counts.
    """
    if not wanted:
        return 0.0
    if number == adviser.order[0]:
        return 1.0
    rate = np.where(adviser.fresh, adviser.gains / adviser.minutes, 0.0)
    candidate, minutes = adviser.candidates[number], adviser.minutes[number]
    if new is not None and new != candidate.measurement.condition:
        whole, candidate = candidate, _left(adviser, candidate, new)
        minutes -= charged(whole) - charged(candidate)
    if only_asked(candidate, adviser.place):
        minutes = adviser.own_minutes(candidate)
    own = float(adviser.gains[number] / minutes)
    if adviser.gains[number] < LEAST_GAIN or not adviser.fresh[number]:
        return 0.0
    return min(1.0, own / max(float(rate.max()), 1e-12))


def _left(adviser: Adviser, whole: Candidate, new: Condition) -> Candidate:
    """What is left to be done of a measurement where part of its condition stands."""
    wanted = Measurement(whole.measurement.function, whole.measurement.points, new)
    return candidate_of(adviser.engine.loop, wanted, whole.place)


def _examples(answer: Answer) -> list[Example]:
    """The leading explanations where the readings put their size and the process value."""
    weighted, wiring = answer.belief.weighted, answer.engine.machine.wiring
    drift = beyond(answer.belief.drift, answer.engine.loop)
    known = Known(answer.atlas, answer.told.data, drift)
    found = []
    for number in np.argsort(-answer.belief.probability, kind="stable")[:12]:
        rows = np.flatnonzero(weighted.cells.h == number)
        if answer.belief.probability[number] < 0.01 or not len(rows):
            continue
        h = answer.hypotheses[int(number)]
        x, process = likeliest(weighted.some(rows), known)
        moved = h.moves(wiring, x)
        changes = tuple((wiring.parameters[n], float(value)) for n, value in moved)
        found.append(Example((h.key, *h.also), changes, process, size_at(answer, h, x)))
    return found
