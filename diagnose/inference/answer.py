"""All that an answer is composed of, and what its parts share."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.hypotheses import Hypothesis

if TYPE_CHECKING:
    from diagnose.inference.advice import Adviser
    from diagnose.inference.atlas import Atlas
    from diagnose.inference.engine import Engine, Told
    from diagnose.inference.posterior import Belief


@dataclass
class Answer:
    """One set of evidence with what the engine made of it."""

    engine: Engine
    atlas: Atlas
    belief: Belief
    told: Told
    adviser: Adviser

    @classmethod
    def of(cls, adviser: Adviser) -> Answer:
        """What the answer to a look is composed of."""
        return cls(adviser.engine, adviser.atlas, adviser.belief, adviser.told, adviser)

    @property
    def hypotheses(self) -> tuple[Hypothesis, ...]:
        """All explanations in the running, pairs of faults included."""
        return self.atlas.ground.hypotheses


def quantiles(values: Array, weight: Array, at: tuple[float, ...]) -> list[float]:
    """Weighted quantiles of ``values``."""
    order = np.argsort(values, kind="stable")
    steps = np.cumsum(weight[order]) - weight[order] / 2
    return [float(q) for q in np.interp(np.array(at) * weight.sum(), steps, values[order])]
