"""The engine's belief beside the judge's posterior, for the same readings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from diagnose.inference.engine import Engine
from diagnose.inference.measurement import Reading
from judge.posterior import DOUBT, SLICES, Key, drawn_posterior, judge_posterior

TOLD = 0.003
"""Belief of the engine in two faults from which the judge draws for them, found or not."""

UNMODELLED: Key = (None, "none of the modelled")


Named = Key | frozenset[Key]
"""A single explanation, or two faults at once."""


@dataclass(frozen=True)
class Comparison:
    """Probabilities (engine, judge) of every hypothesis, and whether the judge had converged.

    ``error`` is the largest standard error of the judge's; ``straight`` by how much tolerances to
    first order would have misled the judge.  ``doubtful`` are cases in which pairs were weighed,
    ``two`` (engine, judge) what all of them hold together.
    """

    pairs: dict[Named, tuple[float, float]]
    converged: bool
    error: float = 0.0
    straight: float = 0.0
    effective: float = 0.0
    doubtful: bool = False
    two: tuple[float, float] = (0.0, 0.0)

    @property
    def worst(self) -> Named:
        """The hypothesis on which the two differ most."""
        return max(self.pairs, key=lambda key: abs(self.pairs[key][0] - self.pairs[key][1]))

    @property
    def largest(self) -> float:
        """The largest difference of any probability."""
        engine, judge = self.pairs[self.worst]
        return abs(engine - judge)


def engine_posterior(
    engine: Engine, readings: Sequence[Reading], pairs: bool = False
) -> dict[Named, float]:
    """Belief in single faults and the unmodelled; with ``pairs`` those of two faults as well.

    Without, they are left out, and the rest is made to add up.
    """
    belief, atlas = engine.believe(engine.sort(readings))
    alone = belief.probability[: len(belief.unseen)] - belief.unseen
    found: dict[Named, float] = {h.key: float(alone[h.number]) for h in engine.hypotheses}
    found[UNMODELLED] = belief.unmodelled
    for h in atlas.ground.hypotheses[len(engine.hypotheses) :] if pairs else ():
        key = frozenset((h.key, *h.also))
        found[key] = found.get(key, 0.0) + float(belief.probability[h.number])
    total = sum(found.values()) + (float(belief.unseen.sum()) if pairs else 0.0)
    return {key: value / total for key, value in found.items()}


def compare(
    engine: Engine, readings: Sequence[Reading], slices: tuple[int, int] = SLICES
) -> Comparison:
    """Both posteriors of some readings on the engine's loop, single faults only."""
    found = engine_posterior(engine.at(readings), readings)
    judged = judge_posterior(engine.loop, readings, slices)
    truth = {**judged.probabilities, UNMODELLED: judged.unmodelled}
    return Comparison({key: (found[key], truth[key]) for key in found}, judged.converged)


def compare_drawn(engine: Engine, readings: Sequence[Reading]) -> Comparison:
    """The engine's belief beside the judge's draws, on any loop type, two faults included."""
    found = engine_posterior(engine.at(readings), readings, True)
    two = {key: value for key, value in found.items() if isinstance(key, frozenset)}
    told = {key for key, value in two.items() if value > TOLD}
    drawn = drawn_posterior(engine.loop, readings, told=told if two else None)
    truth: dict[Named, float] = {**drawn.probabilities, UNMODELLED: drawn.unmodelled, **drawn.pairs}
    misled = max(abs(drawn.straight[key] - p) for key, p in drawn.probabilities.items())
    pairs = {key: (found.get(key, 0.0), truth.get(key, 0.0)) for key in {*found, *truth}}
    both = (
        1 - sum(found[key] for key in found if key not in two),
        sum(drawn.pairs.values()) + drawn.other_pairs,
    )
    return Comparison(
        pairs,
        drawn.converged,
        drawn.error,
        misled if not drawn.pairs else 0.0,
        drawn.effective,
        drawn.doubt > DOUBT or bool(two),
        both,
    )
