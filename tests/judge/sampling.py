"""The posterior by draws, tolerances through the whole circuit: importance sampling.

The boxes of the quadrature say where severity and process have weight, the straight model where
the tolerances are then; what is drawn there is weighed by the full circuit, so that nothing of the
straight model is left in the result.  For a choice of sound readings the proposal of the tolerances
is their straight posterior, whose density over that of the prior is
``N(0; m + J z, F) / N(0; m, F + J J')`` with F what no tolerance changes.  Where tolerances are
wide the straight model is taken anew at the peak it found (Gauss-Newton steps, ``turns``), and the
proposal is made wider than that posterior by ``WIDE``.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import exp

import numpy as np

from judge.boxes import Used
from judge.evidence import Choice, log_density
from judge.gaussian import cholesky
from judge.model import Model

TEMPER = 0.75
"""Power of the masses of boxes in the proposal: tails get more draws than they weigh."""
WIDE = 6.0
"""Variance of the proposal over that of the readings, where the circuit is curved."""
BATCHES = 10
CHUNK = 4000


@dataclass(frozen=True)
class Sampled:
    """Probability of every hypothesis, of "none of the modelled", and their standard errors."""

    chance: np.ndarray
    unmodelled: float
    error: np.ndarray
    effective: float


def sampled(
    model: Model,
    sets: Sequence[Choice],
    used: Sequence[Used],
    lowest: float,
    draws: int,
    seed: int,
    turns: int,
) -> Sampled:
    """Posterior of the hypotheses of a model by ``draws`` draws near the boxes in ``used``."""
    rng = np.random.default_rng(seed)
    h, u, p, mass = _gathered(used)
    whole = np.logaddexp.reduce(mass, axis=1)
    top = whole.max()
    chance = np.exp(TEMPER * (whole - top)) + 1e-12
    chance /= chance.sum()
    pick = _systematic(chance, draws, rng)
    area = (u[:, 1] - u[:, 0]) * (p[:, 1] - p[:, 0])
    logs = np.concatenate(
        [
            _weights(model, sets, pick[k : k + CHUNK], (h, u, p, mass), rng, turns)
            for k in range(0, draws, CHUNK)
        ]
    )
    logs += np.log(area[pick]) - np.log(chance[pick])
    return _summed(model, logs, h[pick], lowest)


def _systematic(chance: np.ndarray, draws: int, rng: np.random.Generator) -> np.ndarray:
    """Draws in which each box comes as often as its chance says, within one."""
    marks = (np.arange(draws) + rng.random()) / draws
    return np.minimum(np.searchsorted(np.cumsum(chance), marks), len(chance) - 1)


def _gathered(used: Sequence[Used]) -> tuple[np.ndarray, ...]:
    return tuple(np.concatenate([getattr(b, n) for b in used]) for n in ("h", "u", "p", "log_mass"))


def _weights(
    model: Model,
    sets: Sequence[Choice],
    pick: np.ndarray,
    boxes: tuple[np.ndarray, ...],
    rng: np.random.Generator,
    turns: int,
) -> np.ndarray:
    """Log of prior times likelihood over the density of the tolerances' proposal."""
    h, u, p, mass = (x[pick] for x in boxes)
    at_u = u[:, 0] + (u[:, 1] - u[:, 0]) * rng.random(len(pick))
    at_p = p[:, 0] + (p[:, 1] - p[:, 0]) * rng.random(len(pick))
    mean, jac = model.straight(h, at_u, at_p)
    share = np.exp(mass - mass.max(axis=1, keepdims=True)) + 1e-3
    share /= share.sum(axis=1, keepdims=True)
    chosen = (rng.random((len(pick), 1)) > np.cumsum(share, axis=1)[:, :-1]).sum(axis=1)
    for _ in range(turns):
        peak = _peak(model, sets, chosen, mean, jac)
        mean, jac = model.straight(h, at_u, at_p, peak)
        mean = mean - np.einsum("rnt,rt->rn", jac, peak)
    off = rng.standard_normal((len(pick), jac.shape[2]))
    for rows, v, fixed in _by_choice(model, sets, chosen):
        off[rows] = _drawn_to(
            off[rows], mean[rows][:, v], jac[rows][:, v], _room(turns) * fixed, rng
        )
    full = model.moved(h, at_u, at_p, off)
    there = mean + np.einsum("rnt,rt->rn", jac, off)
    out = np.log([max(case.prior, 1e-300) for case in model.cases])[h]
    out = out + np.log(model.process_density(at_p)) - np.log(share[np.arange(len(h)), chosen])
    for k, choice in enumerate(sets):
        rows = np.flatnonzero(chosen == k)
        fixed = np.broadcast_to(model.fixed, (len(rows), *model.fixed.shape))
        wide = fixed * _room(turns)
        spread = wide + np.einsum("rnt,rmt->rnm", jac[rows], jac[rows])
        bare = Choice(choice.values, (), 0.0)
        out[rows] += _log(choice, fixed, full[rows])
        out[rows] -= _log(bare, wide, there[rows]) - _log(bare, spread, mean[rows])
    return np.asarray(out)


def _room(turns: int) -> float:
    """By how much the proposal widens the variance of readings where the circuit is curved."""
    return WIDE if turns else 1.0


def _by_choice(
    model: Model, sets: Sequence[Choice], chosen: np.ndarray
) -> Iterator[tuple[np.ndarray, list[int], np.ndarray]]:
    """Rows of each choice that has values, these values, and their fixed covariance."""
    for k, choice in enumerate(sets):
        rows = np.flatnonzero(chosen == k)
        v = list(choice.values)
        if len(rows) and v:
            yield rows, v, model.fixed[np.ix_(v, v)]


def _peak(
    model: Model, sets: Sequence[Choice], chosen: np.ndarray, mean: np.ndarray, jac: np.ndarray
) -> np.ndarray:
    """Tolerances (rows, t) at the peak of the straight posterior."""
    out = np.zeros((len(mean), jac.shape[2]))
    for rows, v, fixed in _by_choice(model, sets, chosen):
        some = jac[rows][:, v]
        spread = fixed + np.einsum("rnt,rmt->rnm", some, some)
        gain = np.linalg.solve(spread, mean[rows][:, v][:, :, None])[:, :, 0]
        out[rows] = -np.einsum("rnt,rn->rt", some, gain)
    return np.clip(out, -9.0, 9.0)


def _log(choice: Choice, cov: np.ndarray, mean: np.ndarray) -> np.ndarray:
    if not choice.order:
        return np.full(len(mean), choice.log_weight)
    return np.asarray(log_density(choice, cov, [mean])[0])


def _drawn_to(
    off: np.ndarray, mean: np.ndarray, jac: np.ndarray, fixed: np.ndarray, rng: np.random.Generator
) -> np.ndarray:
    """Draws from the prior turned into draws from the straight posterior (Matheron's rule)."""
    low = np.stack([np.stack(np.broadcast_arrays(*row)) for row in cholesky(fixed[None])])[:, :, 0]
    noise = rng.standard_normal(mean.shape) @ low.T
    miss = mean + np.einsum("rnt,rt->rn", jac, off) + noise
    spread = fixed + np.einsum("rnt,rmt->rnm", jac, jac)
    gain = np.linalg.solve(spread, miss[:, :, None])[:, :, 0]
    return off - np.einsum("rnt,rn->rt", jac, gain)


def _summed(model: Model, logs: np.ndarray, h: np.ndarray, lowest: float) -> Sampled:
    top = max(float(logs.max()), lowest)
    weight = np.exp(logs - top)
    count, draws = len(model.cases), len(logs)
    rest = exp(lowest - top)

    def shares(rows: slice) -> np.ndarray:
        part = np.bincount(h[rows], weights=weight[rows], minlength=count)
        part = np.append(part / len(weight[rows]), rest)
        return np.asarray(part / part.sum())

    found = shares(slice(0, draws))
    parts = np.stack([shares(slice(k, draws, BATCHES)) for k in range(BATCHES)])
    error = parts.std(axis=0, ddof=1) / BATCHES**0.5
    effective = float(weight.sum() ** 2 / (weight**2).sum())
    return Sampled(found[:-1], float(found[-1]), error, effective)
