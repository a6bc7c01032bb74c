"""What follows the verdict of a hunt: repairs in their order, proof, and on if the proof fails.

A second fault that the first hides cannot be seen before the first is put right.  Readings from
before a repair tell of the loop as it was: after it the hunt begins anew, with the proof readings,
what the other receivers show meanwhile, what is still complained of, and the faults that were
looked for and not found.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.advice import Adviser
from diagnose.inference.answer import Answer
from diagnose.inference.candidates import MINUTES, candidate_of
from diagnose.inference.engine import Engine, Evidence
from diagnose.inference.hypotheses import Hypothesis, Pair
from diagnose.inference.measurement import Cleared, Complaint, Reading, scale_of
from diagnose.inference.ranking import Proof
from diagnose.inference.report_repair import remedies
from diagnose.inference.world import World
from diagnose.training.draws import complaint_chances
from diagnose.training.walking import Choose, Walk, read_on

MOST_ROUNDS = 5
"""How often the suspects are looked at before a hunt for two faults is called off."""

MOST_INSPECTED = 6
"""Suspects that are looked at before the meter is taken out again."""

FEW = 3
"""A fault counts as named when one of so many leading groups names it."""

Key = tuple[str | None, str]


@dataclass(frozen=True)
class Repairs:
    """How the faults of a loop were found one after the other.

    ``named`` whether each was named among the leading groups when a repair was due; ``shown``
    whether the proof after the first repair, or a complaint, told that there is another fault;
    ``found`` how many were put right; ``readings`` and ``minutes`` of the whole, proof included.
    """

    named: bool
    shown: bool
    found: int
    readings: int
    minutes: float


def to_the_end(
    engine: Engine,
    world: World,
    adviser: Adviser,
    evidence: list[Evidence],
    choose: Choose,
    walk: Walk,
    most: int,
) -> Repairs:
    """Repairs and proofs until a proof passes; between them the hunt goes on."""
    faults = faults_of(world.hypothesis)
    left, named, shown = set(faults), named_first(adviser, faults), False
    cleared: list[Evidence] = []
    for _ in range(MOST_ROUNDS):
        looked, hit = _repaired(engine, adviser, world, walk)
        if not looked:
            break
        cleared += looked
        if hit:
            left.discard(hit)
            passed, evidence = _proven(engine, world, walk)
            shown = shown or bool(left and not passed)
            if passed:
                break
        evidence = [*evidence, *cleared]
        adviser = read_on(engine, world, evidence, choose, walk, most)
        named |= named_first(adviser, left)
    found = len(faults) - len(left)
    return Repairs(named == faults, shown, found, walk.readings, walk.minutes)


def faults_of(h: Hypothesis) -> set[Key]:
    """The faults (part, fault) of a hypothesis; none of the sound loop."""
    return {key for key in (h.key, *h.also) if key[0] is not None}


def named_first(adviser: Adviser, faults: set[Key]) -> set[Key]:
    """Those of some faults that the leading groups name."""
    own = adviser.atlas.ground.hypotheses
    found: set[Key] = set()
    for number in np.argsort(-shares(adviser), kind="stable")[:FEW]:
        for n in np.flatnonzero(adviser.group == number):
            found |= faults_of(own[int(n)]) & faults
    return found


def shares(adviser: Adviser) -> Array:
    """Probability of each group by number; 0 is none of the modelled."""
    share = adviser.group_probability()
    share[0] = adviser.belief.unmodelled
    result: Array = share / max(float(share.sum()), 1e-12)
    return result


def _repaired(
    engine: Engine, adviser: Adviser, world: World, walk: Walk
) -> tuple[list[Cleared], Key | None]:
    """Look at the suspects in their order until a fault is found, and put it right.

    Returns what is known not to be faulty then, and what was found.
    """
    answer = Answer.of(adviser)
    looked: list[Cleared] = []
    for remedy in list(remedies(answer))[:MOST_INSPECTED]:
        assert remedy.part is not None
        walk.go(engine, remedy.place)
        walk.minutes += remedy.minutes
        looked.append(Cleared(remedy.part, remedy.fault))
        key = remedy.part, remedy.fault
        if key in faults_of(world.hypothesis):
            put_right(engine, world, key)
            return looked, key
    return looked, None


def put_right(engine: Engine, world: World, key: Key) -> None:
    """Take one fault out of a simulated loop."""
    h, left = world.hypothesis, engine.hypotheses[0]
    if isinstance(h, Pair):
        other = h.key if h.first.key == key else h.first.key
        world.x = world.x if h.first.key == key else h.x_first
        left = engine.hypothesis(other)
    world.hypothesis, world.ground = left, engine.atlas.ground


def _proven(engine: Engine, world: World, walk: Walk) -> tuple[bool, list[Evidence]]:
    """Whether all is well after a repair: what is complained of still, proof, other receivers."""
    found: list[Evidence] = list(_complaint(engine, world))
    passed = not found
    for proof in (*engine.proof, *engine.receivers):
        if proof.measurement is not None:
            reading = world.read(proof.measurement)
            walk.minutes += _minutes(engine, proof, walk)
            walk.readings += 1
            passed = passed and _within(engine, reading, proof)
            found.append(reading)
    return passed, found


def _minutes(engine: Engine, proof: Proof, walk: Walk) -> float:
    """What a proof reading takes; the other displays are read while the signal is driven anyway."""
    if proof.measurement is None or proof in engine.receivers:
        return MINUTES["shows"]
    return candidate_of(engine.loop, proof.measurement, walk.place).minutes


def _complaint(engine: Engine, world: World) -> list[Complaint]:
    """What the operator complains of with what is wrong still, if it is noticed."""
    if world.hypothesis.part is None:
        return []
    chances = complaint_chances(engine, world.hypothesis.number, world.x, world.process)
    total = sum(chances.values())
    if world.rng.random() >= total:
        return []
    weights = np.array(list(chances.values())) / total
    name = list(chances)[int(world.rng.choice(len(weights), p=weights))]
    return [Complaint(name, name)]


def _within(engine: Engine, reading: Reading, proof: Proof) -> bool:
    """Whether a proof reading lies in its limits."""
    value = scale_of(reading.measurement, engine.loop).value(reading.value)
    if reading.sort in ("lit", "dark"):
        value = float(reading.sort == "lit")
    return reading.sort != "overload" and proof.low <= value <= proof.high
