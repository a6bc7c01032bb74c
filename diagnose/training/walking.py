"""From reading to reading: somebody walks through a simulated loop, as a policy says."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from diagnose.inference.advice import SURE, Adviser
from diagnose.inference.candidates import Candidate, travel
from diagnose.inference.engine import Engine, Evidence
from diagnose.inference.world import World
from diagnose.loops.loop import MANNED

Choose = Callable[[Engine, Adviser, Sequence[Candidate]], Candidate | None]
"""A policy with its luck: engine, what it sees ahead, what may be read -> the next step."""


@dataclass
class Walk:
    """Where somebody stands, and what it took to get there."""

    place: str
    readings: int = 0
    minutes: float = 0.0
    interruptions: int = 0
    been: set[str] = field(default_factory=set)

    def go(self, engine: Engine, place: str) -> None:
        """Walk to a place; somebody in the control room answers the radio: nobody walks there."""
        self.minutes += travel(engine.loop, self.place, place, self.been)
        self.been.add(place)
        self.place = self.place if place == MANNED else place


def read_on(
    engine: Engine, world: World, evidence: list[Evidence], choose: Choose, walk: Walk, most: int
) -> Adviser:
    """Read until one group holds enough, nothing is left, or ``most`` readings were taken.

    Whatever the policy, a reading on which the verdict hangs is looked at twice.

    ``evidence`` and ``walk`` are kept up to date; returns the last look.
    """
    last = walk.readings + most
    while True:
        adviser = engine.look(evidence, walk.place)
        step = None
        if adviser.hinge is not None and walk.readings < last:
            step = adviser.candidates[adviser.hinge]
        elif not len(adviser.gains):
            return adviser  # nothing that is modelled explains what was read: no step is better
        elif adviser.group_probability().max() < SURE and walk.readings < last:
            fresh = zip(adviser.candidates, adviser.fresh, strict=True)
            step = choose(engine, adviser, [candidate for candidate, new in fresh if new])
        if step is None:
            return adviser
        walk.go(engine, step.place)
        walk.minutes += step.minutes
        walk.interruptions += step.interrupts
        walk.readings += 1
        evidence.append(world.read(step.measurement))
