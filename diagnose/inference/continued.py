"""A second fault added to a single one, where that one is believed to be.

Most pairs are a fault that explains what is read, and another that does not show beside it.  Each
of them holds little, but there are many: what they hold together is told here without weighing
them one by one.  Shapes: (other,), (other, severity, process), (hypothesis,).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.coarse import BLOCK
from diagnose.inference.hypotheses import Hypothesis
from diagnose.inference.misfit import Misfit
from diagnose.inference.trial import Trial, parts, rounded

SEVERITIES: Array = np.array([0.1, 0.3, 0.5, 0.7, 0.9])
"""Of the second fault, as on a fine grid of pairs."""

PROCESS: Array = np.array([0.02, 0.5, 0.98])
"""Process values of a grid of pairs; here beside the one that is believed."""


MOSTLY = 0.5
"""Share of its severities from which a fault that leaves the readings as they are does not show."""


@dataclass
class Beside:
    """Other faults beside ``fault`` at severity ``x`` and process ``p``: squares of each."""

    fault: int
    x: float
    p: float
    others: Array
    squares: Array
    alone: float

    def best(self) -> tuple[Trial, Array]:
        """Each pair where it leaves the fewest squares, and these: (other,)."""
        count = len(self.others)
        place = rounded(self.squares.reshape(count, -1)).argmin(axis=1)
        at = _grid(self.x, self.p)[place]
        squares = self.squares.reshape(count, -1)[np.arange(count), place]
        return Trial(np.full(count, self.fault), self.others, at), squares

    def unseen(self) -> Array:
        """Share of its severities at which each other fault leaves readings as they are: (other,).

        That is what it takes off the evidence of the one at most; what it adds is another matter.
        """
        worse = np.maximum(self.squares[:, :, 0] - self.alone, 0.0)
        result: Array = np.exp(-worse / 2).mean(axis=1)
        return result


def beside(
    misfit: Misfit, hypotheses: Sequence[Hypothesis], fault: int, x: float, p: float
) -> Beside:
    """Every fault of another part beside ``fault``."""
    own = hypotheses[fault].part
    faults = (h.number for h in hypotheses if h.mode is not None and h.part != own)
    others = np.fromiter(faults, int)
    sound = next(h.number for h in hypotheses if h.mode is None)
    grid = _grid(x, p)
    shape = len(SEVERITIES), 1 + len(PROCESS)
    some = [np.zeros((0, *shape))]
    for rows in parts(np.arange(len(others)), BLOCK // len(grid)):
        some.append(_squares(misfit, fault, others[rows], grid).reshape(-1, *shape))
    alone = _squares(misfit, fault, np.array([sound]), grid[:1])
    return Beside(fault, x, p, others, np.concatenate(some), float(alone[0]))


def _grid(x: float, p: float) -> Array:
    """Places (point, 3): severity of the fault, of the other one, and process value."""
    axes = np.meshgrid(x, SEVERITIES, [p, *PROCESS], indexing="ij")
    return np.stack([axis.ravel() for axis in axes], axis=1)


def _squares(misfit: Misfit, fault: int, others: Array, grid: Array) -> Array:
    b = np.repeat(others, len(grid))
    trial = Trial(np.full(len(b), fault), b, np.tile(grid, (len(others), 1)))
    level = misfit.seen(trial)
    return misfit.squares(misfit.off(level), level)


def idle_in(leading: Sequence[Beside], trial: Trial) -> Array:
    """Whether a pair is a leading fault with one beside it that mostly does not show: (row,)."""
    found = np.zeros(len(trial.a), bool)
    for one in leading:
        idle = one.others[one.unseen() > MOSTLY]
        for first, second in ((trial.a, trial.b), (trial.b, trial.a)):
            found |= (first == one.fault) & np.isin(second, idle)
    return found


def grown(
    leading: Sequence[Beside], faults: Array, together: Array, known: set[frozenset[int]]
) -> Array:
    """Log by which each single fault grows with all that do not show beside it: (hypothesis,).

    ``faults`` (hypothesis,) says which are faults, ``together`` (leading, hypothesis) is the prior
    of a pair over that of its fault that leads.  Pairs that are ``known`` are weighed by
    themselves.  What does not lead has as much beside it as the first that does.
    """
    held = [one.unseen() * row[one.others] for one, row in zip(leading, together, strict=True)]
    more = np.where(faults, held[0].sum() if held else 0.0, 0.0)
    for one, shares in zip(leading, held, strict=True):
        new = [frozenset((one.fault, int(other))) not in known for other in one.others]
        more[one.fault] = shares[new].sum()
    result: Array = np.log1p(more)
    return result
