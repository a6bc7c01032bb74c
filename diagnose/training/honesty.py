"""Whether the end of a simulated hunt would send somebody to the wrong part."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from diagnose.inference.advice import Adviser
from diagnose.inference.candidates import HOME
from diagnose.inference.engine import Engine, Evidence
from diagnose.inference.hypotheses import SOUND
from diagnose.inference.world import World
from diagnose.training.repairing import Key, faults_of

BEYOND = 3.0
"""A fault is beyond its tolerance if it moves a value by more than so many times its limit."""


def named(adviser: Adviser) -> set[Key]:
    """The faults that the leading group names; (None, "none") is the sound loop."""
    own = adviser.atlas.ground.hypotheses
    lead = np.flatnonzero(adviser.group == int(adviser.group_probability().argmax()))
    return {key for n in lead for key in (own[int(n)].key, *own[int(n)].also)}


def misled(adviser: Adviser, world: World, full: Engine, evidence: Sequence[Evidence]) -> bool:
    """Whether the leading group names nothing that is wrong with the loop.

    Right is a part that is faulty or not as its sheet says, and what no reading within reach parts
    from the fault, even with an engine ``full`` that knows it.
    """
    keys = named(adviser)
    shifted = {part for (part, _), n in full.machine.wiring.index.items() if n in world.shifts}
    wrong = {part for part, _ in faults_of(world.hypothesis)} | shifted
    if world.hypothesis.part is None and (None, SOUND) in keys:
        return False
    return not wrong & {part for part, _ in keys} and not _alike(keys, world, full, evidence)


def _alike(keys: set[Key], world: World, full: Engine, evidence: Sequence[Evidence]) -> bool:
    """Whether one that knew the fault would have it in one group with one of these."""
    if world.hypothesis.also:
        return False
    adviser = full.look(evidence, HOME)
    mine = adviser.group[full.hypothesis(world.hypothesis.key).number]
    known = {h.key: h.number for h in full.hypotheses}
    return any(adviser.group[known[key]] == mine for key in keys if key in known)


def plain(engine: Engine, world: World) -> bool:
    """Whether there is one fault, without a size or well beyond the tolerance of what it moves."""
    h, wiring = world.hypothesis, engine.machine.wiring
    if h.mode is None or h.also:
        return False
    names = {number: key for key, number in wiring.index.items()}
    moved = []
    for number, value in h.moves(wiring, world.x):
        part, parameter = names[number]
        limit = engine.loop.part(part).tolerances.get(parameter, 0.0)
        moved.append(abs(float(value) - float(wiring.nominal[number])) > BEYOND * limit)
    return not h.sized or any(moved)
