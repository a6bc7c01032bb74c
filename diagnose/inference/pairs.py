"""Two faults at once, looked for when no single one explains the readings.

All pairs with one of the leading single explanations are tried on a coarse grid of both severities
and the process value; the best are fitted (damped Gauss-Newton, then once more in the circuit with
both of them, ``trial_fit``).  What then explains the readings joins the hypotheses as a ``Pair``,
to be weighed like any other.  One reading may be left out of a fit as worthless.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property, reduce
from itertools import product
from math import log

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.atlas import Atlas
from diagnose.inference.data import Datum
from diagnose.inference.grid import NODES
from diagnose.inference.hypotheses import Pair
from diagnose.inference.leaders import left_over
from diagnose.inference.outliers import Outliers
from diagnose.inference.posterior import Belief
from diagnose.inference.trial import Axes, Trial, falling, grid_of, parts, rounded
from diagnose.inference.trial_evidence import apart, levels, log_evidence
from diagnose.inference.trial_fit import FLAT, STEP, closer

MASS = 0.02
"""Prior share of two independent faults among calls (assumption)."""

TOGETHER = 3.0
"""How much likelier two faults are at one place: water, lightning, work (assumption)."""

LEADERS, SCREENED, FITTED, PLACED, KEPT = 20, 400, 200, 96, 48
"""Faults that begin a pair; pairs on the finer grid, fitted, fitted once more, and weighed."""

CONTINUED, BESIDE = 3, 15
"""Single faults to which a second one is added where they are believed to be; how many of each."""

_WIDE: Axes = np.array([0.1, 0.5, 0.9]), np.array([0.08, 0.5, 0.92])
_FINE: Axes = np.array([0.1, 0.3, 0.5, 0.7, 0.9]), np.array([0.08, 0.3, 0.5, 0.7, 0.92])
BLOCK = 8000
"""Rows solved at once: more would not stay in the processor's cache."""

_ROUNDS = 10
FITS = 3
"""Decimals of what a fit finds: it is not closer to its end than that, wherever it began."""


class Search:
    """Looks for pairs that explain ``data`` on the whole atlas of a loop."""

    def __init__(self, atlas: Atlas, data: Sequence[Datum], log_prior: Array, drift: float) -> None:
        """``drift`` is the unrest of the process, share of range."""
        self.atlas, self.log_prior, self.drift = atlas, log_prior, drift
        self.data = [datum for datum in data if datum.side == 0]
        self.sides = [datum for datum in data if datum.side != 0]
        self.hypotheses = atlas.ground.hypotheses
        if self.data:
            covariance = self._covariance()
            self._whiten = np.linalg.inv(np.linalg.cholesky(covariance))
            self._outliers = Outliers(self._whiten, self.data)
            self._sd = np.sqrt(np.diag(covariance))

    def _covariance(self) -> Array:
        """Covariance of the readings by the tolerances of the sound loop, good enough to search."""
        sound, lines = self.atlas.sound, self.atlas.lines
        wanted = [datum.measurement for datum in self.data]
        middle = lines.p[np.flatnonzero(lines.h == 0)[:1], NODES // 3]
        slope = np.array(
            [sound.sight(measurement, middle).slope[0, :, 0] for measurement in wanted]
        )
        result: Array = slope @ slope.T + apart(self.atlas, self.data, self.drift)
        return result

    def find(self, belief: Belief) -> tuple[Pair, ...]:
        """The pairs worth weighing, numbered after the single hypotheses."""
        if not self.data:
            return ()
        trial = self._coarse(self._couples(belief)).plus(self._continued(belief))
        # Such a fit may come near to the wrong place: the next one sets out from both of its ends.
        fitted = self._fit(Trial(trial.a, trial.b, trial.z.copy()))
        best = self._leading(fitted, self._log_evidence(fitted))[:PLACED]
        trial = fitted.some(best).plus(trial.some(best))
        trial, log = closer(self.atlas, trial, self.data, self.drift, self._beyond)
        order = self._leading(trial, log)[:KEPT]
        return tuple(
            self._pair(trial, int(row), len(self.hypotheses) + n) for n, row in enumerate(order)
        )

    def _leading(self, trial: Trial, log: Array) -> Array:
        """Places of pairs by chance and ``log`` density, the best first, each pair once.

        A pair may have been fitted from two starts.
        """
        order = falling(self._log_chance(trial) + log, FITS)
        _, first = np.unique(trial.keys()[order], axis=0, return_index=True)
        result: Array = order[np.sort(first)]
        return result

    def _pair(self, trial: Trial, row: int, number: int) -> Pair:
        first, second = self.hypotheses[trial.a[row]], self.hypotheses[trial.b[row]]
        at = round(float(trial.z[row, 0]), FITS)
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
        leaders = [n for n in self._likeliest(belief) if self.hypotheses[n].mode is not None]
        found = {
            (min(a, b), max(a, b))
            for a in leaders[:LEADERS]
            for b in faults
            if self.hypotheses[a].part not in (None, self.hypotheses[b].part)
        }
        pairs = np.array(sorted(found))
        return pairs[:, 0], pairs[:, 1]

    def _likeliest(self, belief: Belief) -> list[int]:
        """Hypotheses by what is believed of them; out of the running, by how much they explain."""
        believed = np.log(np.maximum(belief.probability, 1e-12))
        order = np.lexsort([-rounded(self._halves), -rounded(believed)])
        return [int(number) for number in order]

    @cached_property
    def _halves(self) -> Array:
        """log chance of each hypothesis if any number of readings told of something else."""
        noise = np.array([datum.sd for datum in self.sides])
        data, sd = [*self.data, *self.sides], np.concatenate([self._sd, noise])
        return self.log_prior - left_over(self.atlas, data, sd) / 2

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
        for a in self._likeliest(belief)[:CONTINUED]:
            own = np.flatnonzero(weighted.cells.h == a)
            if self.hypotheses[a].mode is not None and len(own):
                peak = own[int(rounded(weighted.log[own]).argmax())]
                at = float(rounded(weighted.x[peak])), float(rounded(weighted.p[peak]))
                found += [self._beside(a, at, b) for b in self._others(a)]
        return reduce(Trial.plus, found)

    def _others(self, a: int) -> list[Array]:
        """Faults of other parts, so many at a time that their grid is one block."""
        own = self.hypotheses[a].part
        others = np.array(
            [h.number for h in self.hypotheses if h.mode is not None and h.part != own], int
        )
        grid = len(_FINE[0]) * (1 + len(_WIDE[1]))
        return [others[rows] for rows in parts(np.arange(len(others)), BLOCK // grid)]

    def _beside(self, a: int, at: tuple[float, float], others: Array) -> Trial:
        """The best of some second faults beside ``a`` at severity and process ``at``."""
        axes = np.meshgrid(at[0], _FINE[0], [at[1], *_WIDE[1]], indexing="ij")
        grid = np.stack([axis.ravel() for axis in axes], axis=1)
        b = np.repeat(others, len(grid))
        trial = Trial(np.full(len(b), a), b, np.tile(grid, (len(others), 1)))
        misfit = self._misfit(self._off(trial), trial).reshape(len(others), len(grid))
        place = rounded(misfit).argmin(axis=1)
        best = trial.some(np.arange(len(others)) * len(grid) + place)
        worth = 2 * self._log_chance(best) - np.log1p(misfit.min(axis=1)) * 4
        return best.some(falling(worth)[:BESIDE])

    def _best(self, couples: tuple[Array, Array], axes: Axes, count: int) -> Trial:
        """The most promising pairs, each at its best point of a grid."""
        sized = np.array([h.sized for h in self.hypotheses])
        best, best_z = np.empty(len(couples[0])), np.empty((len(couples[0]), 3))
        for kind in product((True, False), repeat=2):
            here = (sized[couples[0]] == kind[0]) & (sized[couples[1]] == kind[1])
            grid = grid_of(axes, *kind)
            for rows in parts(np.flatnonzero(here), BLOCK // len(grid)):
                a, b = couples[0][rows], couples[1][rows]
                trial = Trial(
                    np.repeat(a, len(grid)), np.repeat(b, len(grid)), np.tile(grid, (len(a), 1))
                )
                misfit = self._misfit(self._off(trial), trial).reshape(len(a), len(grid))
                place = rounded(misfit).argmin(axis=1)
                best_z[rows], best[rows] = grid[place], misfit[np.arange(len(a)), place]
        whole = Trial(*couples, best_z)
        worth = 2 * self._log_chance(whole) - np.log1p(best) * 4
        return whole.some(falling(worth)[:count])

    def _off(self, trial: Trial) -> Array:
        """Whitened residuals (row, reading)."""
        y = np.array([datum.y for datum in self.data])
        result: Array = (y - levels(self.atlas, trial, self.data)) @ self._whiten.T
        return result

    def _misfit(self, off: Array, trial: Trial) -> Array:
        """Sum of squares, of lamps and clipped displays on the wrong side as well.

        Where it is cheaper to call a reading worthless, that one is left out.
        """
        total: Array = np.einsum("rn,rn->r", off, off) - self._outliers.worst(off)[1]
        return total + self._beyond(trial)

    def _beyond(self, trial: Trial) -> Array:
        """Sum of squares of lamps and clipped displays that stand on the wrong side: (row,)."""
        total = np.zeros(len(trial.a))
        if self.sides:
            level = levels(self.atlas, trial, self.sides)
            for n, datum in enumerate(self.sides):
                wrong = np.maximum(datum.side * (datum.y - level[:, n]) / datum.sd, 0)
                if datum.floor is not None:
                    under = np.maximum(level[:, n] - datum.floor, 0) / datum.sd
                    wrong = np.minimum(wrong, under)
                total = total + np.minimum(wrong, 7.0) ** 2
        return total

    def _log_evidence(self, trial: Trial) -> Array:
        """log density of all readings at the place of each pair, as far as it tells them apart."""
        found: Array = self._beyond(trial) / -2
        if self.data:
            found = found + log_evidence(self.atlas, trial, self.data, self.drift)
        return found

    def _fit(self, trial: Trial) -> Trial:
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
            tried = trial.moved(step[:, :, 0])
            new = self._off(tried)
            better = self._misfit(new, tried)
            good = better < misfit
            trial.z = np.where(good[:, None], tried.z, trial.z)
            off = np.where(good[:, None], new, off)
            misfit = np.where(good, better, misfit)
            damping = np.where(good, damping / 5, damping * 6)
        return trial

    def _slope(self, trial: Trial, off: Array, k: int) -> Array:
        moved = trial.z.copy()
        moved[:, k] += STEP
        found = (off - self._off(Trial(trial.a, trial.b, moved))) / STEP
        # What changes nothing stays where it is: the last bits would drive it anywhere.
        return np.where(np.abs(found) > FLAT, found, 0.0)

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
