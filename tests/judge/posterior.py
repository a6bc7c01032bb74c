"""The judge: evidence of every hypothesis by nested adaptive quadrature, at two resolutions.

First pass: cells over (severity coordinate, process) are split until the circuit's answers inside
them are as good as quadratic, wherever a bound on the integrand says that it matters.  Second
pass: within such a cell the answers come from the nine solved nodes, and boxes are split until
each is narrower than about two standard deviations of what the readings resolve; three-point
Gauss rules then integrate the Gaussian.  Tolerances are first order about every node, except along
the transmitter's headroom, where the circuit bends (``slices``).  The whole is done twice, with
shifted cells, another fineness and another number of slices; the difference is reported.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import exp, log

import numpy as np

from diagnose.inference.measurement import Reading
from diagnose.loops.loop import Loop
from judge.boxes import Used, integrate
from judge.cells import Cells, Fineness
from judge.evidence import Choice, choices, log_broad
from judge.model import Model
from judge.sampling import sampled
from judge.world import as_stated, hypotheses

Key = tuple[str | None, str]
SLICES = (12, 9)
"""Parts of the headroom's uncertainty at the two resolutions; (1, 1) is plain first order."""
FINE = Fineness(u_cells=9, p_cells=9, bend=0.06, step=1.8, gauss=3, floor=1e-4)
COARSE = Fineness(u_cells=7, p_cells=7, bend=0.1, step=2.4, gauss=3, floor=3e-4)


TOLERATED = 0.002
"""Largest change of a probability between the two resolutions."""


@dataclass(frozen=True)
class JudgeResult:
    """Posterior probabilities; the change between two resolutions for all that hold over 1 %."""

    probabilities: dict[Key, float]
    unmodelled: float
    ess_or_change: dict[Key, float]
    converged: bool
    log_evidence: float = 0.0
    work: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Drawn:
    """Posterior by draws, the largest standard error of a probability, effective draws."""

    probabilities: dict[Key, float]
    unmodelled: float
    error: float
    effective: float
    straight: dict[Key, float]

    @property
    def converged(self) -> bool:
        """Whether the draws leave no probability in doubt by more than ``ERROR``."""
        return self.error <= ERROR


def _evidence(
    model: Model, fineness: Fineness, lowest: float, record: list[Used] | None = None
) -> tuple[np.ndarray, dict[str, float]]:
    """Log of prior times evidence of every hypothesis."""
    sets: list[Choice] = choices(model.margins)
    cells = Cells(model, sets, fineness, lowest)
    leaves = cells.refine()
    logs, boxes = integrate(cells, leaves, sets, fineness, record)
    return logs, {"nodes": len(cells.mean), "leaves": len(leaves), "boxes": boxes}


def _normal(logs: np.ndarray, unmodelled: float) -> tuple[np.ndarray, float, float]:
    top = max(float(np.max(logs)), unmodelled)
    weights, rest = np.exp(logs - top), exp(unmodelled - top)
    total = float(weights.sum()) + rest
    return weights / total, rest / total, top + log(total)


def judge_posterior(
    loop: Loop,
    readings: Sequence[Reading],
    slices: tuple[int, int] = SLICES,
    attempts: int = 3,
) -> JudgeResult:
    """The posterior over ``none``, every part and mode, and ``unmodelled``.

    ``converged`` tells whether no probability moved by 0.002 or more between the two resolutions;
    until then the slices are doubled, in at most ``attempts`` rounds.  Raises KeyError for a kind
    the judge has no law for.
    """
    loop = as_stated(loop, readings)
    cases = hypotheses(loop)
    keys: list[Key] = [(h.part, h.mode) for h in cases]
    sound = Model(loop, readings, cases)
    lowest = log(loop.shares.unmodelled) + log_broad(sound.margins)
    if not sound.margins:
        prior = np.log([h.prior for h in cases])
        chance, rest, logz = _normal(prior, lowest)
        return JudgeResult(dict(zip(keys, chance.tolist(), strict=True)), rest, {}, True, logz)
    for attempt in range(attempts):
        fine, coarse = (n * 2**attempt if n > 1 else 1 for n in slices)
        logs, work = _evidence(Model(loop, readings, cases, fine), FINE, lowest)
        other, _ = _evidence(Model(loop, readings, cases, coarse), COARSE, lowest)
        result = _compared(keys, logs, other, lowest, {**work, "slices": fine})
        if result.converged or fine == 1:
            break
    return result


STAGES = ((6_000, 0), (10_000, 1), (30_000, 2))
"""Draws and turns, each tried where the one before leaves an error that is too large."""
ERROR = 0.004
"""Largest standard error of a probability at which draws are enough."""


def drawn_posterior(loop: Loop, readings: Sequence[Reading], seed: int = 1) -> Drawn:
    """The posterior by draws, tolerances through the whole circuit, beside the straight one."""
    loop = as_stated(loop, readings)
    cases = hypotheses(loop)
    keys: list[Key] = [(h.part, h.mode) for h in cases]
    model = Model(loop, readings, cases)
    lowest = log(loop.shares.unmodelled) + log_broad(model.margins)
    record: list[Used] = []
    logs, _ = _evidence(model, FINE, lowest, record)
    straight, _, _ = _normal(logs, lowest)
    sets = choices(model.margins)
    for draws, turns in STAGES:
        found = sampled(model, sets, record, lowest, draws, seed, turns)
        if found.error.max() <= ERROR:
            break
    return Drawn(
        dict(zip(keys, found.chance.tolist(), strict=True)),
        found.unmodelled,
        float(found.error.max()),
        found.effective,
        dict(zip(keys, straight.tolist(), strict=True)),
    )


def _compared(
    keys: Sequence[Key], logs: np.ndarray, other: np.ndarray, lowest: float, work: dict[str, float]
) -> JudgeResult:
    chance, rest, logz = _normal(logs, lowest)
    second, other_rest, _ = _normal(other, lowest)
    change = np.abs(chance - second)
    told = {k: float(d) for k, c, d in zip(keys, chance, change, strict=True) if c > 0.01}
    worst = max(float(change.max()), abs(rest - other_rest))
    result = dict(zip(keys, chance.tolist(), strict=True))
    return JudgeResult(result, rest, told, worst < TOLERATED, logz, work)
