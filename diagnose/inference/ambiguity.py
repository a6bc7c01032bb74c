"""Faults of a loop that no reading within reach tells apart, and what would split them.

Asked before anything has failed: every fault at every severity, at known process values.  Two
faults are apart where the outcomes of the best reading differ by ``groups.APART`` bits or more
(the Jensen-Shannon divergence, as in the ranking); the others are one group.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.candidates import Candidate, candidates
from diagnose.inference.engine import Engine
from diagnose.inference.groups import APART, apart, entropy, gain, given
from diagnose.inference.measurement import Measurement
from diagnose.inference.observe import Sight
from diagnose.inference.outcomes import Outcomes, Outlook
from diagnose.inference.reading_text import describe
from diagnose.inference.views import Points, sight
from diagnose.loops.loop import EARTH, Loop, Point

SEVERITIES = 15
"""Places along the severity of a fault, evenly in its prior."""

PROCESS = (0.3, 0.7)
"""Process values at which faults are compared, fractions of range; a state is 0 or 1."""

WIDTH = 0.55
"""Spread of a place along the severity, in distances to its neighbours: ripples under 1 %."""

_TOGETHER = 48
"""Candidates that are looked at in one go."""

Fault = tuple[str | None, str]


@dataclass(frozen=True, slots=True)
class Split:
    """A reading that is out of reach so far: its text, the new points, their place, its bits."""

    reading: str
    points: tuple[str, ...]
    place: str
    bits: float


@dataclass(frozen=True, slots=True)
class Group:
    """Faults that no reading within reach tells apart, the most probable first.

    ``share`` is their probability before any reading, ``bits`` what it would take to tell them all
    apart; ``latent``: the sound loop is one of them, so that nothing shows the others.
    """

    faults: tuple[Fault, ...]
    share: float
    bits: float
    latent: bool
    split: Split | None


def ambiguity(engine: Engine) -> tuple[Group, ...]:
    """All groups of a loop with more than one member, the largest share first."""
    known = engine.candidates
    label = _linked(separations(engine, known))
    more = beyond(engine.loop, known)
    found = []
    for number in dict.fromkeys(label.tolist()):
        members = np.flatnonzero(label == number)
        if len(members) > 1:
            found.append(_group(engine, members, more))
    return tuple(sorted(found, key=lambda group: -group.share))


def separations(engine: Engine, known: Sequence[Candidate]) -> Array:
    """Bits by which the best of some candidates tells each two faults apart: (fault, fault)."""
    count = len(engine.hypotheses)
    best = np.zeros((count, count))
    for told in _told(engine, np.arange(count), known):
        best = np.maximum(best, apart(told))
    result: Array = np.maximum(best, best.T)
    return result


def _linked(bits: Array) -> Array:
    """A label for each fault: those that are not apart are linked, over others as well."""
    label = np.arange(len(bits))
    for first, second in zip(*np.nonzero(np.triu(bits < APART, 1)), strict=True):
        label[label == label[second]] = label[first]
    return label


def _group(engine: Engine, members: Array, more: Sequence[Candidate]) -> Group:
    prior = np.array([engine.hypotheses[n].prior for n in members])
    order = members[np.argsort(-prior, kind="stable")]
    weight = prior / prior.sum()
    needed = float(entropy(weight[None, :, None])[0, 0])
    return Group(
        tuple(engine.hypotheses[n].key for n in order if n),
        float(prior.sum() - (engine.hypotheses[0].prior if 0 in members else 0.0)),
        needed,
        bool(0 in members),
        _best(engine, members, weight, more),
    )


def _best(engine: Engine, members: Array, weight: Array, more: Sequence[Candidate]) -> Split | None:
    """The reading beyond reach that tells most within a group; None where none tells enough."""
    gains = np.zeros(len(more))
    done = 0
    for told in _told(engine, members, more):
        some = slice(done % len(more), done % len(more) + len(told))
        gains[some] = np.maximum(gains[some], gain(told, weight))
        done += len(told)
    if not len(gains) or gains.max() < APART:
        return None
    # The easiest of those that tell about the same.
    good = np.flatnonzero(gains >= 0.95 * gains.max())
    n = min(good.tolist(), key=lambda k: (more[k].interrupts, more[k].minutes, k))
    reach = {point.name for point in engine.loop.points}
    measurement = more[n].measurement
    new = tuple(name for name in measurement.points if name not in reach | {EARTH})
    return Split(describe(measurement, engine.loop), new, more[n].place, float(gains[n]))


def _told(engine: Engine, members: Array, wanted: Sequence[Candidate]) -> Iterator[Array]:
    """P(bin | fault) of some candidates at a time, at each process value in turn."""
    levels = (0.0, 1.0) if engine.loop.states else PROCESS
    for process in levels:
        points = _points(engine, members, process)
        for start in range(0, len(wanted), _TOGETHER):
            some = [item.measurement for item in wanted[start : start + _TOGETHER]]
            yield given(_outlook(engine, points, some), points).told


def _outlook(engine: Engine, points: Points, some: Sequence[Measurement]) -> Outlook:
    """Outcomes at the points, each spread over the way to its neighbours along the severity.

    Without that a sharp meter would tell two faults apart by the places alone that stand for them.
    """
    seen = sight(engine.atlas, points, some)
    level = np.stack([_held(engine.loop, *pair) for pair in zip(some, seen.level, strict=True)])
    wide = np.zeros_like(level)
    for number in np.unique(points.h):
        here = np.flatnonzero(points.h == number)
        if len(here) > 1:
            wide[:, here] = WIDTH * np.abs(np.gradient(level[:, here], axis=1))
    sight_ = Sight(level, np.concatenate([seen.slope, wide[:, None]], axis=1))
    spreads = sight_.slope.shape[1]
    outcomes = Outcomes(engine.loop, engine.meter, (), spreads, points.weight)
    return outcomes.of(some, sight_, [0.0] * len(some))


def _held(loop: Loop, measurement: Measurement, level: Array) -> Array:
    """The level as a display shows it, within its limits."""
    shows = loop.part(measurement.points[0]).kind.shows if measurement.function == "shows" else None
    if shows is None or shows.what == "state":
        return level
    held: Array = np.clip(level, shows.least, shows.most)
    return held


def _points(engine: Engine, members: Array, process: float) -> Points:
    """Every fault at severities evenly spread over its prior, one place where it has none."""
    along = (np.arange(SEVERITIES) + 0.5) / SEVERITIES
    each = [along if engine.hypotheses[n].sized else np.array([0.5]) for n in members]
    h = np.repeat(members, [len(x) for x in each])
    weight = np.concatenate([np.full(len(x), 1 / len(x) / len(members)) for x in each])
    return Points(h, np.concatenate(each), np.full(len(h), process), weight)


def beyond(loop: Loop, known: Sequence[Candidate]) -> list[Candidate]:
    """Readings that would be within reach if a lead reached every node of the loop."""
    reach = {point.name for point in loop.points} | {EARTH}
    places = {node: part.place for part in loop.parts for node in part.pins.values() if part.place}
    hidden = [Point(node, place) for node, place in places.items() if node not in reach]
    wider = replace(loop, points=(*loop.points, *hidden))
    have = {item.measurement for item in known}
    return [item for item in candidates(wider) if item.measurement not in have]
