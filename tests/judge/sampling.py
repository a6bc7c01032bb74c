"""The posterior by draws, tolerances through the whole circuit: importance sampling.

The boxes of the quadrature say where severity and process have weight, the straight model where
the tolerances are then; what is drawn there is weighed by the full circuit, so that nothing of the
straight model is left in the result.  For a choice of sound readings the proposal of the tolerances
is their straight posterior, whose density over that of the prior is
``N(0; m + J z, F) / N(0; m, F + J J')`` with F what no tolerance changes.  The straight model is
taken anew at the peak it found (Gauss-Newton steps, ``turns``), and the proposal is wider than that
posterior, by several factors (``WIDE``).  A share of the draws takes the tolerances, and a share
severity and process, from their priors: what the straight model does not see (the other side of a
bend) then shows as a draw of great weight, and so as a small effective sample size, not as a wrong
answer.

Every hypothesis is drawn for by itself, until its effective sample size is enough.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from judge.boxes import Used
from judge.evidence import Choice, log_density
from judge.model import Model

TEMPER = 0.75
"""Power of the masses of boxes in the proposal: tails get more draws than they weigh."""
WIDE = ((1.5, 0.25), (6.0, 0.25), (30.0, 0.2), (200.0, 0.15))
"""Variances of the proposal over that of the readings, with their shares: circuits are curved."""
PRIOR, ANYWHERE = 0.15, 0.06
"""Share of draws with tolerances, and with severity and process, from their priors."""
FELT = 0.1
"""Shift of a reading in its own standard deviations from which a tolerance is felt."""
OTHER = 0.03
"""Share of draws for a choice of worthless readings that seems not to count, against the best."""
SLACK = 1e-3
"""Squares by which a step may be worse, rounding."""
CHUNK = 4000
ENOUGH = 1000.0
"""Effective sample size of a hypothesis that holds more than ``HOLDS``."""
HOLDS = 0.01
POOR = 0.15
"""Share of draws that is effective, below which the straight model is taken anew once more."""
SHARP = 0.0035
"""Standard error of a probability, as far as it is its own, that is aimed at."""
PILOT, LEAST, ROUNDS, MOST, BUDGET = 3000, 30, 6, 20_000, 250_000


@dataclass
class Tally:
    """What the draws for each hypothesis came to: sums of weights, of their squares, and count.

    ``wrong`` is the sum of weights times the number of readings that were taken for worthless.
    """

    log_scale: float
    total: np.ndarray
    square: np.ndarray
    count: np.ndarray
    wrong: np.ndarray

    @classmethod
    def empty(cls, size: int) -> Tally:
        """Nothing drawn yet."""
        return cls(-np.inf, np.zeros(size), np.zeros(size), np.zeros(size), np.zeros(size))

    def add(self, h: np.ndarray, logs: np.ndarray, wrong: np.ndarray) -> None:
        """Draws of hypotheses with the logs of their weights, and how many readings are wrong."""
        top = max(float(logs.max(initial=-np.inf)), self.log_scale)
        if np.isfinite(top) and top > self.log_scale:
            ratio = np.exp(self.log_scale - top) if np.isfinite(self.log_scale) else 0.0
            self.total, self.square, self.wrong, self.log_scale = (
                self.total * ratio,
                self.square * ratio**2,
                self.wrong * ratio,
                top,
            )
        weight = np.exp(logs - self.log_scale)
        size = len(self.total)
        self.total += np.bincount(h, weights=weight, minlength=size)
        self.square += np.bincount(h, weights=weight**2, minlength=size)
        self.count += np.bincount(h, minlength=size)
        self.wrong += np.bincount(h, weights=weight * wrong, minlength=size)

    def forget(self, some: np.ndarray) -> None:
        """Begins anew for some hypotheses."""
        for values in (self.total, self.square, self.count, self.wrong):
            values[some] = 0.0

    @property
    def effective(self) -> np.ndarray:
        """Effective sample size of every hypothesis."""
        return np.asarray(self.total**2 / np.maximum(self.square, 1e-300))

    @property
    def evidence(self) -> np.ndarray:
        """Log of prior times evidence of every hypothesis."""
        mean = self.total / np.maximum(self.count, 1)
        return np.asarray(np.log(np.maximum(mean, 1e-300)) + self.log_scale)

    @property
    def relative(self) -> np.ndarray:
        """Standard error of every evidence as a share of it."""
        spread = 1 / np.maximum(self.effective, 1e-9) - 1 / np.maximum(self.count, 1)
        return np.where(self.total > 0, np.sqrt(np.maximum(spread, 0.0)), 0.0)


@dataclass(frozen=True)
class Sampled:
    """Probability of every hypothesis, of "none of the modelled", and their standard errors.

    ``effective`` is the least effective sample size of a hypothesis that holds more than 1 %,
    ``suspect`` the number of readings that are expected to be worthless.
    """

    chance: np.ndarray
    unmodelled: float
    error: np.ndarray
    effective: float
    evidence: np.ndarray
    sizes: np.ndarray
    relative: np.ndarray
    suspect: float


def sampled(
    model: Model, sets: Sequence[Choice], used: Sequence[Used], lowest: float, seed: int
) -> Sampled:
    """Posterior of the hypotheses of a model by draws near the boxes in ``used``."""
    proposal = Proposal(model, sets, used, np.random.default_rng(seed))
    proposal.feel()
    tally = Tally.empty(len(model.cases))
    proposal.draw(tally, proposal.pilot(), 2)
    straight = np.exp(proposal.whole - np.logaddexp(np.logaddexp.reduce(proposal.whole), lowest))
    turned = np.zeros(len(model.cases), dtype=bool)
    left = BUDGET
    for _ in range(ROUNDS):
        found = posterior(tally, lowest, straight)
        target = np.maximum(ENOUGH, (found.chance * (1 - found.chance) / SHARP) ** 2)
        short = (np.maximum(found.chance, straight) > 0.8 * HOLDS) & (tally.effective < target)
        if not short.any() or left <= 0:
            break
        poor = short & (tally.effective < POOR * tally.count) & ~turned
        tally.forget(poor)
        turned |= poor
        rate = np.where(tally.count > 0, tally.effective / np.maximum(tally.count, 1), 0.4)
        wanted = 1.1 * target / np.maximum(rate, 1e-3) - tally.count
        wanted = np.where(short, np.clip(wanted, 500, MOST), 0).astype(int)
        proposal.draw(tally, np.where(turned, 0, wanted), 2)
        proposal.draw(tally, np.where(turned, wanted, 0), 3)
        left -= int(wanted.sum())
    return posterior(tally, lowest, straight)


def posterior(tally: Tally, lowest: float, straight: np.ndarray) -> Sampled:
    """Probabilities and their errors, from what was drawn.

    A hypothesis that the ``straight`` model gives more than 1 % must have draws enough as well.
    """
    logs = np.append(tally.evidence, lowest)
    chance = np.exp(logs - logs.max())
    chance /= chance.sum()
    error = errors(chance, np.append(tally.relative, 0.0))
    holding = np.maximum(chance[:-1], straight) > HOLDS
    sizes = tally.effective
    least = float(sizes[holding].min(initial=np.inf))
    suspect = float(chance[:-1] @ (tally.wrong / np.maximum(tally.total, 1e-300)))
    own = tally.evidence, sizes, tally.relative
    return Sampled(chance[:-1], float(chance[-1]), error, least, *own, suspect)


def errors(chance: np.ndarray, relative: np.ndarray) -> np.ndarray:
    """Standard errors of probabilities whose evidences have the relative ones given."""
    own = (chance * relative) ** 2
    return np.sqrt(own * (1 - chance) ** 2 + chance**2 * (own.sum() - own))


class Proposal:
    """Where draws are made for every hypothesis of a model."""

    def __init__(
        self,
        model: Model,
        sets: Sequence[Choice],
        used: Sequence[Used],
        rng: np.random.Generator,
    ) -> None:
        self.model, self.sets, self.rng = model, sets, rng
        self.wrong = len(model.margins) - np.array([len(one.order) for one in sets])
        h, u, p, mass = (
            np.concatenate([getattr(b, n) for b in used]) for n in ("h", "u", "p", "log_mass")
        )
        order = np.argsort(h, kind="stable")
        self.h, self.u, self.p, self.mass = h[order], u[order], p[order], mass[order]
        self.start = np.searchsorted(self.h, np.arange(len(model.cases) + 1))
        whole = np.logaddexp.reduce(self.mass, axis=1)
        self.log_chance = np.full(len(self.h), -np.inf)
        self.whole = np.full(len(model.cases), -np.inf)
        for k in range(len(model.cases)):
            boxes = slice(self.start[k], self.start[k + 1])
            if self.start[k] < self.start[k + 1]:
                self.whole[k] = np.logaddexp.reduce(whole[boxes])
                logs = TEMPER * whole[boxes]
                self.log_chance[boxes] = logs - np.logaddexp.reduce(logs)
        self.log_area = np.log((self.u[:, 1] - self.u[:, 0]) * (self.p[:, 1] - self.p[:, 0]))
        share = np.exp(self.mass - self.mass.max(axis=1, keepdims=True)) + OTHER
        self.share = share / share.sum(axis=1, keepdims=True)

    def pilot(self) -> np.ndarray:
        """Draws of each hypothesis for a first look."""
        share = np.exp(TEMPER * (self.whole - self.whole.max()))
        return (LEAST + PILOT * share / share.sum()).astype(int)

    def feel(self) -> None:
        """Finds out which tolerances move any reading near the boxes, to leave the others alone.

        That is a matter of time only: what is left alone is drawn from its prior, and moved.
        """
        model = self.model
        parts = [self._points(k, int(n)) for k, n in enumerate(2 + self.pilot() // 8)]
        h, u, p, *_ = (np.concatenate(column) for column in zip(*parts, strict=True))
        _, jac = model.straight(h, u, p)
        own = np.sqrt(np.diag(model.fixed)) + 1e-12
        model.felt = (np.abs(jac) > FELT * own[:, None]).any(axis=(0, 1))

    def draw(self, tally: Tally, counts: np.ndarray, turns: int) -> None:
        """Makes draws for each hypothesis and weighs them."""
        if not counts.any():
            return
        parts = [self._points(k, int(n)) for k, n in enumerate(counts) if n]
        h, u, p, share, density = (np.concatenate(column) for column in zip(*parts, strict=True))
        for start in range(0, len(h), CHUNK):
            rows = slice(start, start + CHUNK)
            points = h[rows], u[rows], p[rows], share[rows]
            logs, chosen = weighed(self.model, self.sets, points, turns, self.rng)
            logs = logs - density[rows] + self.model.log_prior[h[rows]]
            tally.add(h[rows], logs, self.wrong[chosen])

    def _points(self, k: int, n: int) -> tuple[np.ndarray, ...]:
        """(h, u, p, chances of the choices, log density) of ``n`` draws of one hypothesis."""
        first, last = self.start[k], self.start[k + 1]
        anywhere = ANYWHERE if last > first else 1.0
        free = self.rng.random(n) < anywhere
        box = np.full(n, -1)
        inside = np.flatnonzero(~free)
        if len(inside):
            chance = np.exp(self.log_chance[first:last])
            box[inside] = first + _systematic(chance / chance.sum(), len(inside), self.rng)
        a, b = self.rng.random(n), self.rng.random(n)
        u, p = a, self._process(b)
        u[inside] = _within(self.u[box[inside]], a[inside])
        p[inside] = _within(self.p[box[inside]], self.rng.random(len(inside)))
        rows = np.flatnonzero(free)
        box[rows] = self._box_of(k, u[rows], p[rows])
        density = anywhere * self.model.process_density(p)
        known = np.flatnonzero(box >= 0)
        density[known] += (1 - anywhere) * np.exp(
            self.log_chance[box[known]] - self.log_area[box[known]]
        )
        share = np.full((n, len(self.sets)), 1 / len(self.sets))
        share[known] = self.share[box[known]]
        return np.full(n, k), u, p, share, np.log(density)

    def _process(self, at: np.ndarray) -> np.ndarray:
        """Process values from their prior."""
        low, high, share = np.array(self.model.stretches).T
        edges = np.concatenate([[0.0], np.cumsum(share)])
        piece = np.clip(np.searchsorted(edges, at, side="right") - 1, 0, len(share) - 1)
        inside = (at - edges[piece]) / share[piece]
        return np.asarray(low[piece] + np.clip(inside, 0, 1) * (high - low)[piece])

    def _box_of(self, k: int, u: np.ndarray, p: np.ndarray) -> np.ndarray:
        """The box of a hypothesis in which each point lies, -1 for none."""
        first, last = self.start[k], self.start[k + 1]
        out = np.full(len(u), -1)
        for start in range(0, len(u) if last > first else 0, 256):
            at_u, at_p = u[start : start + 256, None], p[start : start + 256, None]
            boxes = slice(first, last)
            held = (self.u[boxes, 0] <= at_u) & (at_u < self.u[boxes, 1])
            held &= (self.p[boxes, 0] <= at_p) & (at_p < self.p[boxes, 1])
            found = held.any(axis=1)
            out[start : start + 256][found] = first + held[found].argmax(axis=1)
        return out


def weights(
    model: Model,
    sets: Sequence[Choice],
    points: tuple[np.ndarray, ...],
    turns: int,
    rng: np.random.Generator,
) -> np.ndarray:
    """The weights that ``weighed`` finds, without the choices."""
    return weighed(model, sets, points, turns, rng)[0]


def weighed(
    model: Model,
    sets: Sequence[Choice],
    points: tuple[np.ndarray, ...],
    turns: int,
    rng: np.random.Generator,
) -> tuple[np.ndarray, np.ndarray]:
    """Log of process prior times likelihood over the density of the tolerances' proposal.

    With it the choice of sound readings that each row was tried with.

    ``points`` are hypotheses and severities (rows,) or (rows, faults), process values (rows,), and
    the chances (rows, choices) with which a choice of sound readings is tried.
    """
    h, u, p, share = points
    mean, jac = model.straight(h, u, p)
    noise = model.noise(h, u, p)
    chosen = (rng.random((len(h), 1)) > np.cumsum(share, axis=1)[:, :-1]).sum(axis=1)
    peak = np.zeros((len(h), jac.shape[2]))
    for _ in range(turns):
        here = _misfit(noise, sets, chosen, mean + np.einsum("rnt,rt->rn", jac, peak), peak)
        new = _peak(noise, sets, chosen, mean, jac)
        mean, jac = model.straight(h, u, p, new)
        # A step too far, as where ohms rise without limit, is halved.
        far = np.flatnonzero(_misfit(noise, sets, chosen, mean, new) > here + SLACK)
        if len(far):
            new[far] = (new[far] + peak[far]) / 2
            mean[far], jac[far] = model.straight(h[far], u[far], p[far], new[far])
        peak = new
        mean = mean - np.einsum("rnt,rt->rn", jac, peak)
    off = rng.standard_normal((len(h), jac.shape[2]))
    scale = rng.choice(len(WIDE) + 1, size=len(h), p=[*(share for _, share in WIDE), PRIOR])
    for rows, v, fixed in _by_choice(noise, sets, chosen):
        for k, (wide, _) in enumerate(WIDE):
            here = scale[rows] == k
            some = rows[here]
            if len(some):
                moved = mean[some][:, v], jac[some][:, v], wide * fixed[here]
                off[some] = _drawn_to(off[some], *moved, rng)
    full = model.moved(h, u, p, off)
    there = mean + np.einsum("rnt,rt->rn", jac, off)
    out = np.log(model.process_density(p)) - np.log(share[np.arange(len(h)), chosen])
    for k, choice in enumerate(sets):
        rows = np.flatnonzero(chosen == k)
        fixed = noise[rows]
        bare = Choice(choice.values, (), 0.0)
        out[rows] += _log(choice, fixed, full[rows])
        moved = np.einsum("rnt,rmt->rnm", jac[rows], jac[rows])
        density = np.full(len(rows), np.log(PRIOR))
        for wide, part in WIDE:
            ratio = _log(bare, wide * fixed, there[rows])
            ratio = ratio - _log(bare, wide * fixed + moved, mean[rows])
            density = np.logaddexp(density, np.log(part) + ratio)
        out[rows] -= density
    return np.asarray(out), chosen


def _within(edges: np.ndarray, at: np.ndarray) -> np.ndarray:
    return np.asarray(edges[:, 0] + (edges[:, 1] - edges[:, 0]) * at)


def _systematic(chance: np.ndarray, draws: int, rng: np.random.Generator) -> np.ndarray:
    """Draws in which each box comes as often as its chance says, within one."""
    marks = (np.arange(draws) + rng.random()) / draws
    return np.minimum(np.searchsorted(np.cumsum(chance), marks), len(chance) - 1)


def _by_choice(
    noise: np.ndarray, sets: Sequence[Choice], chosen: np.ndarray
) -> Iterator[tuple[np.ndarray, list[int], np.ndarray]]:
    """Rows of each choice that has values, these values, and their own covariance in each row."""
    for k, choice in enumerate(sets):
        rows = np.flatnonzero(chosen == k)
        v = list(choice.values)
        if len(rows) and v:
            yield rows, v, noise[rows][:, v][:, :, v]


def _peak(
    noise: np.ndarray, sets: Sequence[Choice], chosen: np.ndarray, mean: np.ndarray, jac: np.ndarray
) -> np.ndarray:
    """Tolerances (rows, t) at the peak of the straight posterior."""
    out = np.zeros((len(mean), jac.shape[2]))
    for rows, v, fixed in _by_choice(noise, sets, chosen):
        some = jac[rows][:, v]
        spread = fixed + np.einsum("rnt,rmt->rnm", some, some)
        gain = np.linalg.solve(spread, mean[rows][:, v][:, :, None])[:, :, 0]
        out[rows] = -np.einsum("rnt,rn->rt", some, gain)
    return np.clip(out, -9.0, 9.0)


def _misfit(
    noise: np.ndarray, sets: Sequence[Choice], chosen: np.ndarray, mean: np.ndarray, off: np.ndarray
) -> np.ndarray:
    """Sum of squares (rows,) at tolerances ``off`` (rows, t) where the margins are ``mean``."""
    total = np.einsum("rt,rt->r", off, off)
    for rows, v, fixed in _by_choice(noise, sets, chosen):
        some = mean[rows][:, v]
        total[rows] += np.einsum("rn,rnm,rm->r", some, np.linalg.inv(fixed), some)
    return np.asarray(total)


def _log(choice: Choice, cov: np.ndarray, mean: np.ndarray) -> np.ndarray:
    if not choice.order:
        return np.full(len(mean), choice.log_weight)
    return np.asarray(log_density(choice, cov, [mean])[0])


def _drawn_to(
    off: np.ndarray, mean: np.ndarray, jac: np.ndarray, fixed: np.ndarray, rng: np.random.Generator
) -> np.ndarray:
    """Draws from the prior turned into draws from the straight posterior (Matheron's rule)."""
    low = np.linalg.cholesky(fixed)
    noise = np.einsum("rnm,rm->rn", low, rng.standard_normal(mean.shape))
    miss = mean + np.einsum("rnt,rt->rn", jac, off) + noise
    spread = fixed + np.einsum("rnt,rmt->rnm", jac, jac)
    gain = np.linalg.solve(spread, miss[:, :, None])[:, :, 0]
    return off - np.einsum("rnt,rn->rt", jac, gain)
