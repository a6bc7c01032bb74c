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

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from math import exp, log, sqrt

import numpy as np

from diagnose.inference.measurement import Reading
from diagnose.loops.loop import Loop
from judge.boxes import Used, integrate
from judge.cells import Cells, Fineness
from judge.evidence import Choice, choices, log_broad
from judge.model import Model
from judge.sampling import ENOUGH, HOLDS, Sampled, errors, sampled
from judge.two_faults import pair_evidence
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
    """Posterior by draws, the largest standard error of a probability.

    ``effective`` is the least effective sample size of a hypothesis that holds more than 1 %.
    ``pairs`` are those of two faults that hold something, where single ones leave ``doubt``;
    ``other_pairs`` is what all other pairs hold together.
    """

    probabilities: dict[Key, float]
    unmodelled: float
    error: float
    effective: float
    straight: dict[Key, float]
    doubt: float = 0.0
    pairs: dict[frozenset[Key], float] = field(default_factory=dict)
    other_pairs: float = 0.0

    @property
    def converged(self) -> bool:
        """Whether there are draws enough, and no probability is in doubt by more than ``ERROR``."""
        return self.effective >= ENOUGH and self.error <= ERROR


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


ERROR = 0.006
"""Largest standard error of a probability at which draws are enough."""
DOUBT = 0.2
"""Share of the belief that distrusts readings or the model, from which pairs are weighed."""


UNREST, RESTLESS, HELD = 0.05, 0.05, 0.9
"""Unrest of a restless process and its prior; belief in one fault rarer than that which asks."""


@dataclass(frozen=True)
class _Single:
    """The judgement of single faults, by quadrature and by draws."""

    model: Model
    sets: list[Choice]
    record: list[Used]
    lowest: float
    straight: np.ndarray
    found: Sampled
    doubt: float

    @property
    def evidence(self) -> float:
        """Log probability of the readings."""
        return float(np.logaddexp(np.logaddexp.reduce(self.found.evidence), self.lowest))

    @property
    def doubtful(self) -> bool:
        """Whether readings or model are distrusted so much that more must be considered."""
        return self.doubt > DOUBT and len(self.model.margins) >= 2

    @property
    def unlikely(self) -> bool:
        """Whether one fault is as good as certain that is rarer than a restless process."""
        first = int(self.found.chance.argmax())
        return bool(self.found.chance[first] > HELD and self.model.cases[first].prior < RESTLESS)


def _single(loop: Loop, readings: Sequence[Reading], seed: int, rough: float = 0.0) -> _Single:
    model = Model(loop, readings, hypotheses(loop), rough=rough)
    lowest = log(loop.shares.unmodelled) + log_broad(model.margins)
    record: list[Used] = []
    logs, _ = _evidence(model, COARSE, lowest, record)
    sets = choices(model.margins)
    found = sampled(model, sets, record, lowest, seed)
    doubt = found.unmodelled + min(1.0, found.suspect)
    return _Single(model, sets, record, lowest, _normal(logs, lowest)[0], found, doubt)


def drawn_posterior(
    loop: Loop,
    readings: Sequence[Reading],
    seed: int = 1,
    told: Collection[frozenset[Key]] | None = None,
) -> Drawn:
    """The posterior by draws, tolerances through the whole circuit, beside the straight one.

    As the model states: where single faults leave doubt, or one rare fault is as good as certain,
    the process may be restless, and what is the likelier of the two holds; pairs of faults count
    where doubt is left even so.  Where pairs are ``told``, of which each is drawn for, all count
    in any case: which side of the limit a doubt stands on is no question of probability.
    """
    loop = as_stated(loop, readings)
    one = _single(loop, readings, seed)
    # What has two states is in one of them: it does not move by a share of its range.
    if loop.drift < UNREST and not loop.states and (one.doubtful or one.unlikely):
        other = _single(loop, readings, seed, sqrt(UNREST**2 - loop.drift**2))
        if other.evidence - one.evidence > log((1 - RESTLESS) / RESTLESS):
            one = other
    found, keys = one.found, [(h.part, h.mode) for h in one.model.cases]
    named = dict(zip(keys, one.straight.tolist(), strict=True))
    if told is None and not one.doubtful:
        chance = dict(zip(keys, found.chance.tolist(), strict=True))
        error, effective = float(found.error.max()), found.effective
        return Drawn(chance, found.unmodelled, error, effective, named, one.doubt)
    number = {key: n for n, key in enumerate(keys)}
    named_pairs = [(number[a], number[b]) for a, b in map(sorted, told or ())]
    two = pair_evidence(one.model, one.sets, one.record, one.evidence, seed, named_pairs)
    every = np.array([*found.evidence, one.lowest, *two.logs.values(), two.rest])
    share, _, _ = _normal(every, -np.inf)
    relative = np.array([*found.relative, 0.0, *two.error])
    n = len(keys)
    holding = share[:n] > HOLDS
    return Drawn(
        dict(zip(keys, share[:n].tolist(), strict=True)),
        float(share[n]),
        float(errors(share, relative).max()),
        float(min(found.sizes[holding].min(initial=np.inf), two.effective)),
        named,
        one.doubt,
        {
            frozenset((keys[a], keys[b])): float(value)
            for (a, b), value in zip(two.logs, share[n + 1 :], strict=False)
        },
        float(share[-1]),
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
