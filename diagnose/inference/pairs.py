"""Two faults at once, looked for when no single one explains the readings.

All pairs with one of the leading single explanations are tried on a coarse grid of both severities
and the process value; the best are fitted (damped Gauss-Newton), and what then explains the
readings joins the hypotheses as a ``Pair``, to be weighed like any other.  One reading may be
left out of a fit as worthless.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import reduce
from itertools import product
from math import log

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.atlas import Atlas
from diagnose.inference.cells import together
from diagnose.inference.data import Datum
from diagnose.inference.evidence import shared_errors
from diagnose.inference.grid import NODES
from diagnose.inference.hypotheses import Pair
from diagnose.inference.outliers import Outliers
from diagnose.inference.posterior import Belief
from diagnose.inference.trial import Trial

MASS = 0.02
"""Prior share of two independent faults among calls (assumption)."""

TOGETHER = 3.0
"""How much likelier two faults are at one place: water, lightning, work (assumption)."""

DOUBT = 0.2
"""Pairs are looked for once this much of the belief distrusts a reading or the model, or holds what
the complaint does not come from."""

LEADERS, SCREENED, FITTED, KEPT = 20, 400, 200, 48
"""Faults that begin a pair; pairs on the finer grid, fitted, and weighed."""

CONTINUED, BESIDE = 3, 15
"""Single faults to which a second one is added where they are believed to be; how many of each."""

_Axes = tuple[Array, Array]
"""Severities and process values of a grid."""

_WIDE: _Axes = np.array([0.1, 0.5, 0.9]), np.array([0.08, 0.5, 0.92])
_FINE: _Axes = np.array([0.1, 0.3, 0.5, 0.7, 0.9]), np.array([0.08, 0.3, 0.5, 0.7, 0.92])
_MIDDLE = np.array([0.5])
BLOCK = 8000
"""Rows solved at once: more would not stay in the processor's cache."""

_STEP, _ROUNDS = 1e-4, 10


def forced(belief: Belief, data: Sequence[Datum], latent: float = 0.0) -> bool:
    """Whether single faults leave so much doubt that two must be considered.

    ``latent`` is the belief in faults that cannot cause what was complained of.
    """
    doubt = belief.unmodelled + min(1.0, float(belief.suspect.sum()))
    return len(data) >= 2 and max(doubt, latent) > DOUBT


def _grid(of: _Axes, first: bool, second: bool) -> Array:
    """Coarse points (point, 3): severities of those that have one, and the process value."""
    axes = [of[0] if sized else _MIDDLE for sized in (first, second)]
    found = np.meshgrid(*axes, of[1], indexing="ij")
    return np.stack([axis.ravel() for axis in found], axis=1)


def _parts(rows: Array, size: int) -> Iterator[Array]:
    """Some rows at a time."""
    return (rows[start : start + size] for start in range(0, len(rows), size))


class Search:
    """Looks for pairs that explain ``data`` on the whole atlas of a loop."""

    def __init__(self, atlas: Atlas, data: Sequence[Datum], log_prior: Array, drift: float) -> None:
        """``drift`` is the unrest of the process, share of range."""
        self.atlas, self.log_prior, self.drift = atlas, log_prior, drift
        self.data = [datum for datum in data if datum.side == 0]
        self.sides = [datum for datum in data if datum.side != 0]
        self.hypotheses = atlas.ground.hypotheses
        if self.data:
            self._whiten = np.linalg.inv(np.linalg.cholesky(self._covariance()))
            self._outliers = Outliers(self._whiten, self.data)

    def _covariance(self) -> Array:
        """Covariance of the readings by the tolerances of the sound loop, good enough to search."""
        drift = self.drift
        sound = self.atlas.part(np.flatnonzero(self.atlas.cells.h == 0))
        levels = sound.levels([datum.measurement for datum in self.data])
        middle = int(np.argmin(np.abs(sound.nodes % NODES - NODES // 3)))
        every = together(levels)
        slope = np.array([level.some(np.array([middle])).over(every)[0] for level in levels])
        own = [d.noise**2 + (drift * v.sway) ** 2 for d, v in zip(self.data, levels, strict=True)]
        result: Array = slope @ slope.T + np.diag(own) + shared_errors(self.data)
        return result

    def find(self, belief: Belief) -> tuple[Pair, ...]:
        """The pairs worth weighing, numbered after the single hypotheses."""
        if not self.data:
            return ()
        trial = self._coarse(self._couples(belief)).plus(self._continued(belief))
        trial, misfit = self._fit(trial)
        worth = self._log_chance(trial) - misfit / 2
        order = np.argsort(-worth, kind="stable")
        _, first = np.unique(trial.keys()[order], axis=0, return_index=True)
        # A pair may have been fitted from two starts.  The misfit counts tolerances as on the sound
        # loop: it ranks, and is no ground to drop one.
        order = order[np.sort(first)][:KEPT]
        return tuple(
            self._pair(trial, int(row), len(self.hypotheses) + n) for n, row in enumerate(order)
        )

    def _pair(self, trial: Trial, row: int, number: int) -> Pair:
        first, second = self.hypotheses[trial.a[row]], self.hypotheses[trial.b[row]]
        at = float(trial.z[row, 0])
        if first.sized and not second.sized:
            first, second, at = second, first, 0.5
        return Pair(
            number,
            second.part,
            second.mode,
            0.0,
            second.place,
            first,
            float(np.clip(at, 0.01, 0.99)),
        )

    def _couples(self, belief: Belief) -> tuple[Array, Array]:
        """Every leader with every other fault, each pair once, never two faults of one part."""
        faults = [h.number for h in self.hypotheses if h.mode is not None]
        weight = np.where(np.isin(np.arange(len(self.hypotheses)), faults), belief.probability, -1)
        leaders = np.argsort(-(weight + 1e-12 * np.exp(self.log_prior)), kind="stable")[:LEADERS]
        found = {
            (min(a, b), max(a, b))
            for a in map(int, leaders)
            for b in faults
            if self.hypotheses[a].part not in (None, self.hypotheses[b].part)
        }
        pairs = np.array(sorted(found))
        return pairs[:, 0], pairs[:, 1]

    def _coarse(self, couples: tuple[Array, Array]) -> Trial:
        """The best point of a coarse grid for every pair; the most promising pairs.

        A wide grid thins the pairs out first.
        """
        some = self._best(couples, _WIDE, SCREENED)
        return self._best((some.a, some.b), _FINE, FITTED)

    def _continued(self, belief: Belief) -> Trial:
        """The most likely single faults where they are believed to be, with a second one added.

        A fault that explains all readings, but not the complaint, stays where it is.
        """
        weighted = belief.weighted
        found = [Trial(np.zeros(0, int), np.zeros(0, int), np.zeros((0, 3)))]
        for a in map(int, np.argsort(-belief.probability, kind="stable")[:CONTINUED]):
            own = np.flatnonzero(weighted.cells.h == a)
            if self.hypotheses[a].mode is not None and len(own):
                peak = own[int(weighted.log[own].argmax())]
                at = float(weighted.x[peak]), float(weighted.p[peak])
                found += [self._beside(a, at, b) for b in self._others(a)]
        return reduce(Trial.plus, found)

    def _others(self, a: int) -> list[Array]:
        """Faults of other parts, so many at a time that their grid is one block."""
        own = self.hypotheses[a].part
        others = np.array(
            [h.number for h in self.hypotheses if h.mode is not None and h.part != own], int
        )
        grid = len(_FINE[0]) * (1 + len(_WIDE[1]))
        return [others[rows] for rows in _parts(np.arange(len(others)), BLOCK // grid)]

    def _beside(self, a: int, at: tuple[float, float], others: Array) -> Trial:
        """The best of some second faults beside ``a`` at severity and process ``at``."""
        axes = np.meshgrid(at[0], _FINE[0], [at[1], *_WIDE[1]], indexing="ij")
        grid = np.stack([axis.ravel() for axis in axes], axis=1)
        b = np.repeat(others, len(grid))
        trial = Trial(np.full(len(b), a), b, np.tile(grid, (len(others), 1)))
        misfit = self._misfit(self._off(trial), trial).reshape(len(others), len(grid))
        best = trial.some(np.arange(len(others)) * len(grid) + misfit.argmin(axis=1))
        worth = 2 * self._log_chance(best) - np.log1p(misfit.min(axis=1)) * 4
        return best.some(np.argsort(-worth, kind="stable")[:BESIDE])

    def _best(self, couples: tuple[Array, Array], axes: _Axes, count: int) -> Trial:
        """The most promising pairs, each at its best point of a grid."""
        sized = np.array([h.sized for h in self.hypotheses])
        best, best_z = np.empty(len(couples[0])), np.empty((len(couples[0]), 3))
        for kind in product((True, False), repeat=2):
            here = (sized[couples[0]] == kind[0]) & (sized[couples[1]] == kind[1])
            grid = _grid(axes, *kind)
            for rows in _parts(np.flatnonzero(here), BLOCK // len(grid)):
                a, b = couples[0][rows], couples[1][rows]
                trial = Trial(
                    np.repeat(a, len(grid)), np.repeat(b, len(grid)), np.tile(grid, (len(a), 1))
                )
                misfit = self._misfit(self._off(trial), trial).reshape(len(a), len(grid))
                place = misfit.argmin(axis=1)
                best_z[rows], best[rows] = grid[place], misfit[np.arange(len(a)), place]
        whole = Trial(*couples, best_z)
        worth = 2 * self._log_chance(whole) - np.log1p(best) * 4
        return whole.some(np.argsort(-worth, kind="stable")[:count])

    def _levels(self, trial: Trial, wanted: Sequence[Datum]) -> Array:
        """Levels (row, reading)."""
        ground, observer = self.atlas.ground, self.atlas.observer
        process, rows = trial.z[:, 2], len(trial.a)
        faults = ((trial.a, trial.z[:, 0]), (trial.b, trial.z[:, 1]))
        states = {}
        out = np.empty((rows, len(wanted)))
        for n, datum in enumerate(wanted):
            condition = datum.measurement.condition
            if condition not in states:
                columns = ground.columns_of(faults, process, condition)
                states[condition] = observer.base(columns, rows, condition)
            out[:, n] = observer.level(datum.measurement, states[condition], process)
        return out

    def _off(self, trial: Trial) -> Array:
        """Whitened residuals (row, reading)."""
        y = np.array([datum.y for datum in self.data])
        result: Array = (y - self._levels(trial, self.data)) @ self._whiten.T
        return result

    def _misfit(self, off: Array, trial: Trial) -> Array:
        """Sum of squares, with lamps and clipped displays on the wrong side counted as well.

        Where it is cheaper to call a reading worthless, that one is left out.
        """
        total: Array = np.einsum("rn,rn->r", off, off) - self._outliers.worst(off)[1]
        if self.sides:
            level = self._levels(trial, self.sides)
            for n, datum in enumerate(self.sides):
                wrong = np.maximum(datum.side * (datum.y - level[:, n]) / datum.noise, 0)
                if datum.floor is not None:
                    under = np.maximum(level[:, n] - datum.floor, 0) / datum.noise
                    wrong = np.minimum(wrong, under)
                total = total + np.minimum(wrong, 7.0) ** 2
        return total

    def _fit(self, trial: Trial) -> tuple[Trial, Array]:
        """Damped Gauss-Newton from each start, kept inside the ranges."""
        off = self._off(trial)
        misfit = self._misfit(off, trial)
        damping = np.full(len(trial.a), 1e-2)
        for _ in range(_ROUNDS):
            bad = self._outliers.worst(off)
            slope = np.stack(
                [self._outliers.without(self._slope(trial, off, k), bad) for k in range(3)], axis=2
            )
            kept = self._outliers.without(off, bad)
            normal = slope.transpose(0, 2, 1) @ slope
            size = np.einsum("rkk->rk", normal) + 1e-6
            normal[:, range(3), range(3)] += damping[:, None] * size
            step = np.linalg.solve(normal, np.einsum("rnk,rn->rk", slope, kept)[:, :, None])
            tried = Trial(trial.a, trial.b, np.clip(trial.z + step[:, :, 0], 0.002, 0.998))
            new = self._off(tried)
            better = self._misfit(new, tried)
            good = better < misfit
            trial.z = np.where(good[:, None], tried.z, trial.z)
            off = np.where(good[:, None], new, off)
            misfit = np.where(good, better, misfit)
            damping = np.where(good, damping / 5, damping * 6)
        return trial, misfit

    def _slope(self, trial: Trial, off: Array, k: int) -> Array:
        moved = trial.z.copy()
        moved[:, k] += _STEP
        return (off - self._off(Trial(trial.a, trial.b, moved))) / _STEP

    def _log_chance(self, trial: Trial) -> Array:
        """log prior of each pair."""
        return self.log_prior[trial.a] + self.log_prior[trial.b] + self._together(trial)

    def _together(self, trial: Trial) -> Array:
        place = np.array([h.place for h in self.hypotheses])
        return np.where(place[trial.a] == place[trial.b], log(TOGETHER), 0.0)

    def log_priors(self, pairs: Sequence[Pair]) -> Array:
        """log priors of pairs: the share of all pairs split in proportion to both rates."""
        single = np.exp(self.log_prior) * [h.mode is not None for h in self.hypotheses]
        whole = (single.sum() ** 2 - (single**2).sum()) / 2
        trial = Trial(
            np.array([pair.first.number for pair in pairs]),
            np.array([self._number(pair) for pair in pairs]),
            np.zeros((len(pairs), 3)),
        )
        return self._log_chance(trial) + log(MASS / whole)

    def _number(self, pair: Pair) -> int:
        return next(h.number for h in self.hypotheses if h.key == pair.key)
