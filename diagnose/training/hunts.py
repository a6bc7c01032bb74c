"""One simulated hunt: a hidden fault, a meter with all its errors, a policy, and how it ended."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from diagnose.inference.advice import SURE, Adviser
from diagnose.inference.candidates import HOME, Candidate, travel
from diagnose.inference.engine import Engine, Evidence
from diagnose.inference.measurement import Complaint
from diagnose.inference.posterior import Belief
from diagnose.inference.world import World
from diagnose.training.draws import draw
from diagnose.training.policies import POLICIES

MOST_READINGS = 12
"""Readings after which a hunt is called off."""

MANNED = "control room"


@dataclass(frozen=True)
class Hunt:
    """How one hunt went.

    ``rank`` is the place of the true group in the end, 1 the first; ``said`` the probability of the
    leading group; ``sure`` whether that reached the limit; ``unmodelled`` the probability of none
    of the modelled faults; ``members`` the size of the leading group.
    """

    tag: str
    type: str
    policy: str
    seed: int
    part: str | None
    fault: str
    rank: int
    sure: bool
    said: float
    unmodelled: float
    readings: int
    minutes: float
    interruptions: int
    brier: float
    members: int

    @property
    def right(self) -> bool:
        """The true group leads."""
        return self.rank == 1


def hunt(engine: Engine, policy: str, seed: int, most: int = MOST_READINGS) -> Hunt:
    """One hunt by one policy; the same seed hides the same fault for every policy."""
    world, complaint = draw(engine, seed)
    rng = np.random.default_rng([seed, 1])
    evidence: list[Evidence] = [Complaint(complaint, complaint)]
    place, minutes, interruptions, readings = HOME, 0.0, 0, 0
    taken: set[object] = set()
    while True:
        belief, adviser = _look(engine, evidence, place)
        step = None
        if adviser.group_probability().max() < SURE and readings < most:
            left = [c for c in adviser.candidates if c.measurement not in taken]
            step = POLICIES[policy](engine, adviser, left, rng)
        if step is None:
            break
        minutes += step.minutes + travel(engine.loop, place, step.place)
        place = _stands(place, step)
        interruptions += step.interrupts
        readings += 1
        taken.add(step.measurement)
        evidence.append(world.read(step.measurement))
    return _ended(engine, world, belief, adviser, (policy, seed, readings, minutes, interruptions))


def _look(engine: Engine, evidence: list[Evidence], place: str) -> tuple[Belief, Adviser]:
    engine = engine.at(evidence)
    told = engine.sort(evidence)
    belief, atlas = engine.believe(told)
    return belief, Adviser(engine, atlas, belief, told, place, frozenset())


def _stands(place: str, step: Candidate) -> str:
    """Somebody in the control room answers the radio: nobody walks there."""
    return place if step.place == MANNED else step.place


def _ended(
    engine: Engine,
    world: World,
    belief: Belief,
    adviser: Adviser,
    walked: tuple[str, int, int, float, int],
) -> Hunt:
    """How a hunt stands: ``walked`` are policy, seed, readings, minutes, interruptions."""
    policy, seed, readings, minutes, interruptions = walked
    weight = adviser.group_probability()
    mine = int(adviser.group[world.hypothesis.number])
    share = weight / max(float(weight.sum()) + belief.unmodelled, 1e-12)
    part, fault = world.hypothesis.key
    return Hunt(
        tag=engine.loop.tag,
        type=engine.loop.type,
        policy=policy,
        seed=seed,
        part=part,
        fault=fault,
        rank=1 + int((weight > weight[mine]).sum()),
        sure=bool(weight.max() >= SURE),
        said=float(weight.max()),
        unmodelled=float(belief.unmodelled),
        readings=readings,
        minutes=minutes,
        interruptions=interruptions,
        brier=float(((share - (np.arange(len(share)) == mine)) ** 2).sum()) / 2,
        members=int((adviser.group == int(weight.argmax())).sum()),
    )
