"""Small decision problems taken from real loops: a few faults, a few measurements, real minutes.

Each fault has one severity and the process one value.  Two faults give one answer to a measurement
where no gap wider than ``APART`` joint standard deviations of meter and tolerances parts them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial

import numpy as np

from diagnose.inference.advice import charged
from diagnose.inference.candidates import HOME, MANNED, Candidate, travel
from diagnose.inference.decisions import Problem, Test
from diagnose.inference.engine import Engine
from diagnose.inference.foresight import Foresight, Points
from diagnose.loops.plant import open_plant

APART = 4.0
"""Joint standard deviations that part two answers."""

Array = np.ndarray


def plant_problems(each: int, seed: int, tags: Sequence[str] = ()) -> Iterator[tuple[str, Problem]]:
    """Some problems of each of some loops of the demo plant, by default all, with the tag."""
    plant = open_plant()
    for tag in tags or plant.tags():
        rng = np.random.default_rng(seed)
        for problem in problems(Engine(plant.load(tag)), each, rng):
            yield tag, problem


def problems(
    engine: Engine, count: int, rng: np.random.Generator, faults: int = 8, measurements: int = 8
) -> Iterator[Problem]:
    """Problems of a loop in which the measurements can tell some of the faults apart."""
    found = 0
    while found < count:
        problem = _problem(engine, rng, faults, measurements)
        if problem is not None:
            found += 1
            yield problem


def _problem(
    engine: Engine, rng: np.random.Generator, faults: int, measurements: int
) -> Problem | None:
    prior = np.array([h.prior for h in engine.hypotheses])
    some = rng.choice(len(prior), faults, replace=False, p=prior / prior.sum())
    points = Points(some, rng.random(faults), np.full(faults, rng.random()), prior[some])
    tried = rng.permutation(len(engine.candidates))[: 4 * measurements]
    candidates = [engine.candidates[n] for n in tried]
    outlook = Foresight(engine.atlas, engine.meter, points, candidates, ()).outlook
    tests = []
    for n, candidate in enumerate(candidates):
        chance = answers(outlook.mean[n], outlook.sd[n], outlook.side[n])
        if len(chance) > 1:
            tests.append(_test(candidate, chance))
        if len(tests) == measurements:
            return Problem(prior[some], tests, start=HOME, walk=partial(travel, engine.loop))
    return None


def answers(mean: Array, sd: Array, state: bool) -> Array:
    """Which answer each fault gives: (answer, fault) of 0 and 1."""
    if state:
        label = (mean > 0).astype(int)
    else:
        order = np.argsort(mean)
        parted = np.diff(mean[order]) > APART * np.hypot(sd[order][1:], sd[order][:-1])
        label = np.empty(len(mean), int)
        label[order] = np.concatenate([[0], np.cumsum(parted)])
    result: Array = (label == np.unique(label)[:, None]).astype(float)
    return result


def _test(candidate: Candidate, chance: Array) -> Test:
    place = "" if candidate.place == MANNED else candidate.place
    return Test(str(candidate.measurement), chance, charged(candidate), place)
