"""A further fault behind the one that leads: no reading shows it until that one is put right."""

from __future__ import annotations

import numpy as np

from diagnose.inference.answer import Answer
from diagnose.inference.continued import beside
from diagnose.inference.hypotheses import Hypothesis, Pair
from diagnose.inference.moving import beyond
from diagnose.inference.pairs import Search


def behind(answer: Answer) -> float:
    """Chance that another fault stands beside the first, if the first (or one of its group) is it.

    Pairs that readings speak for count with those that no reading shows.  0 while there is more to
    measure, where a sound loop leads, and where the first is a pair itself.
    """
    chance, unseen = answer.belief.probability, answer.belief.unseen
    first = answer.hypotheses[int(chance.argmax())]
    if first.mode is None or first.also or not answer.told.data:
        return 0.0
    if not unseen.any():  # one fault explains all: two were not considered
        return _idle(answer, first)
    group = answer.adviser.group
    lead = {
        h.key: h.number
        for h in answer.hypotheses
        if h.mode is not None and not h.also and group[h.number] == group[first.number]
    }
    alone = sum(float(chance[number]) for number in lead.values())
    idle = sum(float(unseen[number]) for number in lead.values())
    pairs = sum(
        float(chance[h.number])
        for h in answer.hypotheses
        if h.also and not lead.keys().isdisjoint((h.key, *h.also))
    )
    return (idle + pairs) / (alone + pairs)


def _idle(answer: Answer, first: Hypothesis) -> float:
    """The same where one fault explains all: what leaves each reading as it is beside it."""
    engine, told, weighted = answer.engine, answer.told, answer.belief.weighted
    prior = engine.priors(told.facts, told.cleared)
    drift = beyond(answer.belief.drift, engine.loop)
    search = Search(engine.atlas, told.data, prior, drift)
    own = np.flatnonzero(weighted.cells.h == first.number)
    if not (len(own) and search.misfit.values):
        return 0.0
    peak = own[int(weighted.log[own].argmax())]
    at = float(weighted.x[peak]), float(weighted.p[peak])
    one = beside(search.misfit, engine.hypotheses, first.number, *at)
    others = [engine.hypotheses[int(number)] for number in one.others]
    pairs = [Pair(h.number, h.part, h.mode, 0.0, h.place, first, 0.5) for h in others]
    together = np.exp(search.log_priors(pairs) - prior[first.number])
    more = float(one.unseen() @ together)
    return more / (1 + more)
