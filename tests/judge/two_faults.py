"""Two faults at once: the evidence of all pairs of faults, by particles and by draws.

The prior is the stated one: all pairs together hold ``MASS``, split in proportion to both rates,
three times as much where both parts are at one place; each severity has its own prior.  No pair is
left out beforehand.  Particles (pair, both severities, process) are carried from the prior to the
posterior by tempering (Del Moral, Doucet, Jasra, J. R. Stat. Soc. B 68:411, 2006; from memory),
tolerances to first order; they say which pairs matter and what all of them hold together.  Each
pair that holds more than 1 % is then drawn for by itself through the whole circuit, near its
particles, until its effective sample size is enough; the rest is corrected by draws as well.
What one fault explains of some of the readings (the boxes of the quadrature, for every choice of
worthless readings) is where half of the particles begin, and where they are often moved to: there
the other fault can explain the rest, or do no harm.  From the prior alone a sharp fault with any of
a hundred harmless ones beside it is not found in time, though all of these hold much together.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from math import log

import numpy as np

from judge.boxes import Used
from judge.evidence import Choice, log_density
from judge.model import Model
from judge.sampling import CHUNK, ENOUGH, HOLDS, SHARP, weights

MASS, TOGETHER = 0.02, 3.0
"""Prior of all pairs, against all else; how much likelier two faults are at one place."""
PARTICLES, RUNS, SWEEPS = 2000, 4, 2
MOST_RUNS = 8
"""Runs where the first ones leave the mass of all pairs in doubt."""
FALL = 0.5
"""Effective share of the particles at which the temperature moves on."""
SHARE_ANYWHERE = 0.1
"""Share of the draws of a pair from the prior."""
CENTRES = 60
SHARE_PRIOR = 0.3
"""Share of the moves to where one fault explains something that go to the prior instead."""
FLAT = 0.5
"""Power of the posterior of one fault in these moves."""
WORTH = 0.99
"""Share of these densities that is kept, by the fewest boxes: for speed, the prior has the rest."""
ROUNDS, MOST = 6, 20_000


COLUMNS = ("h", "u", "p", "logs", "lift")


@dataclass
class Cloud:
    """Particles: pair (rows, 2), severities (rows, 2), process, log likelihood by choice.

    ``lift`` (rows,) is the log of the density from which particles come over that of the prior.
    """

    h: np.ndarray
    u: np.ndarray
    p: np.ndarray
    logs: np.ndarray
    lift: np.ndarray

    @property
    def log(self) -> np.ndarray:
        """Log likelihood."""
        return np.asarray(np.logaddexp.reduce(self.logs, axis=1))

    def some(self, rows: np.ndarray) -> Cloud:
        """Some of them."""
        return Cloud(*(getattr(self, name)[rows] for name in COLUMNS))

    def put(self, rows: np.ndarray, other: Cloud) -> None:
        """Replaces some of them."""
        for name in COLUMNS:
            getattr(self, name)[rows] = getattr(other, name)


class Pairs:
    """All pairs of faults of different parts, with their log priors."""

    def __init__(self, model: Model) -> None:
        self.model = model
        cases = model.cases
        faults = np.flatnonzero([case.part is not None for case in cases])
        place = {part.name: part.place for part in model.loop.parts}
        part = np.array([str(cases[k].part) for k in faults])
        where = np.array([place[name] for name in part])
        chance = np.array([cases[k].prior for k in faults])
        self.number = np.full(len(cases), -1)
        self.number[faults] = np.arange(len(faults))
        self.faults = faults
        apart = part[:, None] != part[None]
        near = np.where(where[:, None] == where[None], TOGETHER, 1.0)
        whole = (chance.sum() ** 2 - (chance**2).sum()) / 2
        self.prior = MASS / whole * chance[:, None] * chance[None] * near * apart
        """Prior of the pair of two faults, in both orders."""
        self.partner = np.cumsum(self.prior, axis=1)

    def drawn(self, n: int, rng: np.random.Generator) -> np.ndarray:
        """Pairs (n, 2) from their prior, the fault of the smaller number first."""
        upper = np.triu(self.prior, 1).ravel()
        marks = (np.arange(n) + rng.random()) / n * upper.sum()
        at = np.minimum(np.searchsorted(np.cumsum(upper), marks), len(upper) - 1)
        return self.faults[np.stack(np.divmod(at, len(self.faults)), axis=1)]

    def partners(self, h: np.ndarray, rng: np.random.Generator) -> np.ndarray:
        """For each fault another one, from the prior of pairs with it."""
        rows = self.partner[self.number[h]]
        marks = rng.random(len(h)) * rows[:, -1]
        return self.faults[np.minimum((rows <= marks[:, None]).sum(axis=1), len(self.faults) - 1)]

    def log_partner(self, h: np.ndarray, other: np.ndarray) -> np.ndarray:
        """Log of the chance of another fault among ``partners``."""
        rows = self.number[h]
        found = self.prior[rows, self.number[other]] / self.partner[rows, -1]
        return np.asarray(np.log(np.maximum(found, 1e-300)))

    def log_prior(self, a: int, b: int) -> float:
        """Log of the prior of one pair."""
        return log(max(self.prior[self.number[a], self.number[b]], 1e-300))

    def log_priors(self, h: np.ndarray) -> np.ndarray:
        """Log priors of pairs (rows, 2); those of two faults of one part are no pairs."""
        found = self.prior[self.number[h[:, 0]], self.number[h[:, 1]]]
        return np.where(found > 0, np.log(np.maximum(found, 1e-300)), -1e6)

    @property
    def whole(self) -> float:
        """Prior of all pairs."""
        return float(np.triu(self.prior, 1).sum())


class Alone:
    """Where a single fault explains some of the readings: a density over fault, severity, process.

    A share of it is the prior, so that it is nowhere zero.
    """

    def __init__(self, model: Model, used: Sequence[Used]) -> None:
        h, u, p, mass = (
            np.concatenate([getattr(b, n) for b in used]) for n in ("h", "u", "p", "log_mass")
        )
        fault = np.flatnonzero([case.part is not None for case in model.cases])
        rows = np.flatnonzero(np.isin(h, fault))
        rows = rows[np.argsort(h[rows], kind="stable")]
        chance = np.zeros(len(rows))
        for logs in mass[rows].T:
            if np.isfinite(logs).any():
                flat = np.exp(FLAT * (logs - logs.max()))
                chance += flat / flat.sum()
        some = _heaviest(chance, WORTH)
        rows, chance = rows[some], chance[some]
        self.model, self.h, self.u, self.p = model, h[rows], u[rows], p[rows]
        self.start = np.searchsorted(self.h, np.arange(len(model.cases) + 1))
        self.chance = chance / max(chance.sum(), 1e-300)
        area = (self.u[:, 1] - self.u[:, 0]) * (self.p[:, 1] - self.p[:, 0])
        self.height = self.chance / area
        rate = np.exp(model.log_prior) * [case.part is not None for case in model.cases]
        self.rate = rate / rate.sum()

    def drawn(self, n: int, rng: np.random.Generator) -> tuple[np.ndarray, ...]:
        """Fault, severity and process (n,)."""
        h = rng.choice(len(self.rate), size=n, p=self.rate)
        u, p = rng.random(n), _process(self.model, n, rng)
        if len(self.h):
            rows = np.flatnonzero(rng.random(n) >= SHARE_PRIOR)
            box = rng.choice(len(self.h), size=len(rows), p=self.chance)
            h[rows] = self.h[box]
            u[rows] = rng.uniform(self.u[box, 0], self.u[box, 1])
            p[rows] = rng.uniform(self.p[box, 0], self.p[box, 1])
        return h, u, p

    def log(self, h: np.ndarray, u: np.ndarray, p: np.ndarray) -> np.ndarray:
        """Log density."""
        prior = self.rate[h] * self.model.process_density(p)
        if not len(self.h):
            return np.asarray(np.log(prior))
        found = SHARE_PRIOR * prior
        for k in np.unique(h):
            boxes = slice(self.start[k], self.start[k + 1])
            for rows in np.array_split(np.flatnonzero(h == k), 1 + (h == k).sum() // 500):
                at_u, at_p = u[rows, None], p[rows, None]
                held = (self.u[boxes, 0] <= at_u) & (at_u <= self.u[boxes, 1])
                held &= (self.p[boxes, 0] <= at_p) & (at_p <= self.p[boxes, 1])
                found[rows] += (1 - SHARE_PRIOR) * (held @ self.height[boxes])
        return np.asarray(np.log(np.maximum(found, 1e-300)))


class Start:
    """Where particles come from: half from the prior, half from beside what one fault explains."""

    def __init__(self, pairs: Pairs, alone: Alone, sets: Sequence[Choice]) -> None:
        self.pairs, self.alone, self.sets = pairs, alone, sets

    def drawn(self, n: int, rng: np.random.Generator) -> Cloud:
        """Particles."""
        pairs, half = self.pairs, n // 2
        h, u = pairs.drawn(n, rng), rng.random((n, 2))
        p = _process(pairs.model, n, rng)
        h[:half, 0], u[:half, 0], p[:half] = self.alone.drawn(half, rng)
        h[:half, 1] = pairs.partners(h[:half, 0], rng)
        return self.cloud(h, u, p)

    def cloud(self, h: np.ndarray, u: np.ndarray, p: np.ndarray) -> Cloud:
        """Particles at places, those of a pair in order."""
        turned = h[:, 0] > h[:, 1]
        h[turned], u[turned] = h[turned][:, ::-1], u[turned][:, ::-1]
        return Cloud(
            h, u, p, _likelihoods(self.pairs.model, self.sets, h, u, p), self._lift(h, u, p)
        )

    def _lift(self, h: np.ndarray, u: np.ndarray, p: np.ndarray) -> np.ndarray:
        pairs = self.pairs
        prior = pairs.log_priors(h) - log(pairs.whole) + np.log(pairs.model.process_density(p))
        beside = [
            self.alone.log(h[:, k], u[:, k], p) + pairs.log_partner(h[:, k], h[:, 1 - k])
            for k in (0, 1)
        ]
        return np.asarray(np.logaddexp(0.0, np.logaddexp(*beside) - prior) - log(2.0))


class _Plain(Start):
    """Particles that come from the prior alone."""

    def __init__(self, pairs: Pairs, sets: Sequence[Choice]) -> None:
        self.pairs, self.sets = pairs, sets

    def _lift(self, h: np.ndarray, u: np.ndarray, p: np.ndarray) -> np.ndarray:
        return np.zeros(len(p))


Moves = Sequence[Callable[[Start, Cloud, float, np.random.Generator], None]]


def _heaviest(chance: np.ndarray, share: float) -> np.ndarray:
    """Places, rising, of the fewest chances that hold a share of them all."""
    order = np.argsort(-chance, kind="stable")
    held = np.cumsum(chance[order])
    return np.sort(
        order[: int(np.searchsorted(held, share * held[-1])) + 1] if len(held) else order
    )


@dataclass(frozen=True)
class PairEvidence:
    """Log evidence, prior included, of the pairs that matter and of all others together.

    ``error`` are the relative standard errors, of the others last; ``effective`` the least
    effective sample size of a pair that holds more than 1 %.
    """

    logs: dict[tuple[int, int], float]
    rest: float
    error: np.ndarray
    effective: float


def pair_evidence(
    model: Model,
    sets: Sequence[Choice],
    used: Sequence[Used],
    others: float,
    seed: int,
    told: Collection[tuple[int, int]] = (),
) -> PairEvidence:
    """Evidence of pairs; ``others`` is the log evidence of all else, against which they count.

    ``used`` are the boxes of the quadrature over single faults.  Pairs ``told`` are drawn for
    wherever particles went: a pair that somebody else holds is judged, not overlooked.
    """
    rng = np.random.default_rng(seed)
    pairs, alone = Pairs(model), Alone(model, used)
    clouds, logs = [], []
    while len(logs) < MOST_RUNS:
        cloud, found = _tempered(Start(pairs, alone, sets), rng)
        clouds.append(cloud)
        logs.append(found + log(pairs.whole))
        if len(logs) >= RUNS and _sure(np.array(logs), others):
            break
    logs_ = np.array(logs)
    whole = np.logaddexp.reduce(logs_) - log(len(logs_))
    spread = float(np.exp(logs_ - whole).std(ddof=1) / len(logs_) ** 0.5)
    # A particle of a run that found more weighs more.
    weight = np.concatenate(
        [np.full(len(c.h), np.exp(one - whole)) for c, one in zip(clouds, logs_, strict=True)]
    )
    cloud = Cloud(*(np.concatenate([getattr(c, n) for c in clouds]) for n in COLUMNS))
    return _refined(pairs, sets, cloud, weight / weight.sum(), whole, spread, others, rng, told)


def _sure(logs: np.ndarray, others: float) -> bool:
    """Whether the mass of all pairs is known well enough for the difference it makes."""
    whole = np.logaddexp.reduce(logs) - log(len(logs))
    spread = np.exp(logs - whole).std(ddof=1) / len(logs) ** 0.5
    chance = 1 / (1 + np.exp(min(others - whole, 700.0)))
    return bool(spread * chance * (1 - chance) < 2 * SHARP)


def _tempered(
    start: Start, rng: np.random.Generator, first: Cloud | None = None, moves: Moves | None = None
) -> tuple[Cloud, float]:
    """Particles of the posterior over pairs, and the log of their mean likelihood.

    On the way they are of ``prior * likelihood ** heat * (start / prior) ** (1 - heat)``.
    """
    n = PARTICLES
    cloud = start.drawn(n, rng) if first is None else first
    heat, total = 0.0, 0.0
    while heat < 1.0:
        step = _step(cloud.log - cloud.lift, 1.0 - heat)
        logs = step * (cloud.log - cloud.lift)
        total += float(np.logaddexp.reduce(logs)) - log(n)
        chance = np.exp(logs - logs.max())
        marks = (np.arange(n) + rng.random()) / n
        pick = np.searchsorted(np.cumsum(chance / chance.sum()), marks)
        cloud = cloud.some(np.minimum(pick, n - 1))
        heat += step
        for _ in range(SWEEPS):
            for move in moves or (_stepped, _swapped, _placed):
                move(start, cloud, heat, rng)
    return cloud, total


def _process(model: Model, n: int, rng: np.random.Generator) -> np.ndarray:
    low, high, share = np.array(model.stretches).T
    piece = rng.choice(len(share), size=n, p=share / share.sum())
    return np.asarray(rng.uniform(low[piece], high[piece]))


def _likelihoods(
    model: Model, sets: Sequence[Choice], h: np.ndarray, u: np.ndarray, p: np.ndarray
) -> np.ndarray:
    """Log likelihood (rows, choices), tolerances to first order."""
    out = np.empty((len(p), len(sets)))
    for start in range(0, len(p), CHUNK):
        rows = slice(start, start + CHUNK)
        mean, cov, *_ = model.predict(h[rows], u[rows], p[rows])
        for k, choice in enumerate(sets):
            if choice.order:
                out[rows, k] = log_density(choice, cov, [mean])[0]
            else:
                out[rows, k] = choice.log_weight
    return np.maximum(out, -700.0)


def _step(logs: np.ndarray, most: float) -> float:
    """The step of the temperature that leaves ``FALL`` of the particles effective."""

    def effective(step: float) -> float:
        weight = np.exp(step * (logs - logs.max()))
        return float(weight.sum() ** 2 / (weight**2).sum() / len(weight))

    if effective(most) >= FALL:
        return most
    low, high = 0.0, most
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if effective(middle) >= FALL else (low, middle)
    return max(low, 1e-6)


def _accepted(
    cloud: Cloud, new: Cloud, gain: np.ndarray, heat: float, rng: np.random.Generator
) -> None:
    """Metropolis: keeps what is likelier, and some of the rest."""
    gain = gain + heat * (new.log - cloud.log) + (1 - heat) * (new.lift - cloud.lift)
    rows = np.flatnonzero(np.log(rng.random(len(gain))) < gain)
    cloud.put(rows, new.some(rows))


def _stepped(start: Start, cloud: Cloud, heat: float, rng: np.random.Generator) -> None:
    """Moves severities and process by steps of all sizes."""
    n = len(cloud.p)
    size = 10 ** rng.uniform(-3.0, -0.3, (n, 1))
    which = rng.random((n, 3)) < 0.6
    move = size * rng.standard_normal((n, 3)) * which
    u = np.abs(cloud.u + move[:, :2])
    u = np.where(u > 1, 2 - u, u)
    p = cloud.p + move[:, 2]
    inside = (p > -0.1) & (p < 1.1) & (u >= 0).all(axis=1) & (u <= 1).all(axis=1)
    u, p = np.where(inside[:, None], u, cloud.u), np.where(inside, p, cloud.p)
    density = start.pairs.model.process_density
    gain = np.log(density(p)) - np.log(density(cloud.p)) + np.where(inside, 0.0, -np.inf)
    _accepted(cloud, start.cloud(cloud.h.copy(), u, p), gain, heat, rng)


def _swapped(start: Start, cloud: Cloud, heat: float, rng: np.random.Generator) -> None:
    """Puts another fault in the place of one, from the prior of what goes with the other."""
    n = len(cloud.p)
    side = rng.integers(0, 2, n)
    rows = np.arange(n)
    h, u = cloud.h.copy(), cloud.u.copy()
    h[rows, side] = start.pairs.partners(cloud.h[rows, 1 - side], rng)
    # Faults of one kind look alike at the same severity.
    u[rows, side] = np.where(rng.random(n) < 0.5, rng.random(n), u[rows, side])
    _accepted(cloud, start.cloud(h, u, cloud.p), np.zeros(n), heat, rng)


def _placed(start: Start, cloud: Cloud, heat: float, rng: np.random.Generator) -> None:
    """Puts one fault, with the process, to where it explains some of the readings alone."""
    pairs, alone = start.pairs, start.alone
    n = len(cloud.p)
    side, rows = rng.integers(0, 2, n), np.arange(n)
    h, u = cloud.h.copy(), cloud.u.copy()
    h[rows, side], u[rows, side], p = alone.drawn(n, rng)
    density = pairs.model.process_density
    gain = alone.log(cloud.h[rows, side], cloud.u[rows, side], cloud.p)
    gain = gain - alone.log(h[rows, side], u[rows, side], p)
    gain += np.log(density(p)) - np.log(density(cloud.p))
    gain += pairs.log_priors(h) - pairs.log_priors(cloud.h)
    _accepted(cloud, start.cloud(h, u, p), gain, heat, rng)


def _refined(
    pairs: Pairs,
    sets: Sequence[Choice],
    cloud: Cloud,
    weight: np.ndarray,
    whole: float,
    spread: float,
    others: float,
    rng: np.random.Generator,
    told: Collection[tuple[int, int]] = (),
) -> PairEvidence:
    """The pairs that matter through the whole circuit, and a correction for the rest."""
    logs, shared = _corrected(pairs.model, sets, cloud, rng)
    ratio = np.exp(logs - logs.max()) * weight
    share = 1 / (1 + np.exp(min(others - whole, 700.0)))
    key = cloud.h[:, 0] * len(pairs.number) + cloud.h[:, 1]
    held = np.bincount(np.unique(key, return_inverse=True)[1], weights=weight) * share
    held_full = np.bincount(np.unique(key, return_inverse=True)[1], weights=ratio / ratio.sum())
    found: dict[tuple[int, int], float] = {}
    errors, effective = [], np.inf
    named = np.unique(key)
    matters = (held > 0.5 * HOLDS) | (held_full * share > 0.5 * HOLDS)
    near = {
        divmod(int(one), len(pairs.number)): (cloud.some(rows), shared[rows])
        for one in named[matters]
        for rows in [np.flatnonzero(key == one)]
    }
    for one in sorted({(min(pair), max(pair)) for pair in told} - set(near)):
        near[one] = _of_pair(pairs, sets, one, rng)
    for one, (some, shares) in near.items():
        log_z, error, size = _one(pairs, sets, some, one, shares, rng)
        found[one] = log_z
        errors.append(error)
        if log_z > max(others, whole) + log(HOLDS):
            effective = min(effective, size)
    left = ~np.isin(key, [a * len(pairs.number) + b for a, b in found])
    rest = float(ratio[left].sum())
    log_rest = whole + logs.max() + log(rest) if rest > 0 else -np.inf
    own = float(np.sqrt((ratio[left] ** 2).sum()) / max(rest, 1e-300))
    return PairEvidence(
        found, log_rest, np.array([*errors, float(np.hypot(spread, own))]), effective
    )


def _of_pair(
    pairs: Pairs, sets: Sequence[Choice], pair: tuple[int, int], rng: np.random.Generator
) -> tuple[Cloud, np.ndarray]:
    """Particles of one pair, carried from its prior, with their shares of the choices."""
    h = np.tile(np.array(pair), (PARTICLES, 1))
    u, p = rng.random((PARTICLES, 2)), _process(pairs.model, PARTICLES, rng)
    start = _Plain(pairs, sets)
    cloud, _ = _tempered(start, rng, start.cloud(h, u, p), (_stepped, _stepped))
    return cloud, _shares(cloud)


def _corrected(
    model: Model, sets: Sequence[Choice], cloud: Cloud, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray]:
    """Log of the likelihood through the whole circuit over that to first order, for particles."""
    share = _shares(cloud)
    out = np.empty(len(cloud.p))
    for start in range(0, len(out), CHUNK):
        rows = slice(start, start + CHUNK)
        points = cloud.h[rows], cloud.u[rows], cloud.p[rows], share[rows]
        drawn = weights(model, sets, points, 1, rng)
        out[rows] = drawn - np.log(model.process_density(cloud.p[rows])) - cloud.log[rows]
    return out, share


def _shares(cloud: Cloud) -> np.ndarray:
    """What each choice of worthless readings holds at each particle, none nothing."""
    share = np.exp(cloud.logs - cloud.logs.max(axis=1, keepdims=True)) + 1e-3
    return np.asarray(share / share.sum(axis=1, keepdims=True))


def _one(
    pairs: Pairs,
    sets: Sequence[Choice],
    cloud: Cloud,
    pair: tuple[int, int],
    shares: np.ndarray,
    rng: np.random.Generator,
) -> tuple[float, float, float]:
    """Log evidence of one pair, its relative error and effective sample size: draws near it."""
    model = pairs.model
    sized = [model.cases[k].severity is not None for k in pair]
    sides = np.flatnonzero([*sized, True])
    # A fault without a size has nothing to be near to: its coordinate is left out.
    at = np.column_stack([cloud.u, cloud.p])[:, sides]
    n = len(sides)
    pick = rng.choice(len(at), size=min(CENTRES, len(at)), replace=False)
    centres, share = at[pick], shares[pick]
    spread = np.maximum(at.std(axis=0), 0.004)
    wide = np.atleast_2d(np.cov(at.T)) if len(at) > 8 else np.diag(spread**2)
    room = max(0.15, 1.5 * len(pick) ** (-2 / 7)) * (wide + np.diag((0.1 * spread) ** 2))
    low, inverse = np.linalg.cholesky(room), np.linalg.inv(room)
    height = -0.5 * float(np.linalg.slogdet(room)[1]) - 0.5 * n * log(2 * np.pi)
    logs = np.zeros(0)
    count = 1500
    for _ in range(ROUNDS):
        free = rng.random(count) < SHARE_ANYWHERE
        centre = rng.integers(0, len(pick), count)
        x = np.column_stack([rng.random((count, 2)), _process(model, count, rng)])
        near = centres[centre] + rng.standard_normal((count, n)) @ low.T
        x[np.ix_(~free, sides)] = near[~free]
        held = ((x > [0, 0, -0.1]) & (x < [1, 1, 1.1])).all(axis=1)
        new = np.full(count, -np.inf)
        y = x[held]
        off = y[:, None, sides] - centres[None]
        height_ = np.exp(height - 0.5 * np.einsum("rci,ij,rcj->rc", off, inverse, off))
        density = (1 - SHARE_ANYWHERE) * height_.mean(axis=1)
        density = density + SHARE_ANYWHERE * model.process_density(y[:, 2])
        h = np.tile(np.array(pair), (len(y), 1))
        mixed = 0.9 * share[centre[held]] + 0.1 * share.mean(axis=0)
        mixed /= mixed.sum(axis=1, keepdims=True)
        parts = [
            weights(
                model,
                sets,
                (h[k : k + CHUNK], y[k : k + CHUNK, :2], y[k : k + CHUNK, 2], mixed[k : k + CHUNK]),
                2,
                rng,
            )
            for k in range(0, len(y), CHUNK)
        ]
        new[held] = np.concatenate(parts) - np.log(density)
        logs = np.concatenate([logs, new])
        weight = np.exp(logs - logs.max())
        effective = float(weight.sum() ** 2 / (weight**2).sum())
        if effective >= ENOUGH:
            break
        count = int(np.clip(1.1 * ENOUGH * len(logs) / effective - len(logs), 500, MOST))
    log_z = float(np.log(weight.mean()) + logs.max()) + pairs.log_prior(*pair)
    return log_z, float(np.sqrt(max(1 / effective - 1 / len(logs), 0.0))), effective
