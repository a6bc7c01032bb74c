"""The engine's belief beside the judge's posterior, for the same readings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from diagnose.inference.engine import Engine
from diagnose.inference.measurement import Reading
from judge.posterior import SLICES, Key, drawn_posterior, judge_posterior

UNMODELLED: Key = (None, "none of the modelled")


@dataclass(frozen=True)
class Comparison:
    """Probabilities (engine, judge) of every hypothesis, and whether the judge had converged.

    ``error`` is the largest standard error of the judge's; ``straight`` by how much tolerances to
    first order would have misled the judge.
    """

    pairs: dict[Key, tuple[float, float]]
    converged: bool
    error: float = 0.0
    straight: float = 0.0

    @property
    def worst(self) -> Key:
        """The hypothesis on which the two differ most."""
        return max(self.pairs, key=lambda key: abs(self.pairs[key][0] - self.pairs[key][1]))

    @property
    def largest(self) -> float:
        """The largest difference of any probability."""
        engine, judge = self.pairs[self.worst]
        return abs(engine - judge)


def engine_posterior(engine: Engine, readings: Sequence[Reading]) -> dict[Key, float]:
    """Belief in single faults and the unmodelled; pairs of faults, which no judge has, left out."""
    belief, _ = engine.believe(engine.sort(readings))
    found = {h.key: float(belief.probability[h.number]) for h in engine.hypotheses}
    found[UNMODELLED] = belief.unmodelled
    total = sum(found.values())
    return {key: value / total for key, value in found.items()}


def compare(
    engine: Engine, readings: Sequence[Reading], slices: tuple[int, int] = SLICES
) -> Comparison:
    """Both posteriors of some readings on the engine's loop."""
    found = engine_posterior(engine.at(readings), readings)
    judged = judge_posterior(engine.loop, readings, slices)
    truth = {**judged.probabilities, UNMODELLED: judged.unmodelled}
    return Comparison({key: (found[key], truth[key]) for key in found}, judged.converged)


def compare_drawn(engine: Engine, readings: Sequence[Reading]) -> Comparison:
    """The engine's belief beside the judge's draws, on any loop type."""
    found = engine_posterior(engine.at(readings), readings)
    drawn = drawn_posterior(engine.loop, readings)
    truth = {**drawn.probabilities, UNMODELLED: drawn.unmodelled}
    misled = max(abs(drawn.straight[key] - p) for key, p in drawn.probabilities.items())
    pairs = {key: (found[key], truth[key]) for key in found}
    return Comparison(pairs, drawn.converged, drawn.error, misled)
