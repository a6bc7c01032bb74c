"""Two faults at once, looked for when no single one explains the readings.

All pairs with one of the leading single explanations are tried on a coarse grid of both severities
and the process value; the best are fitted (damped Gauss-Newton, then once more in the circuit with
both of them, ``trial_fit``).  What then explains the readings joins the hypotheses as a ``Pair``,
to be weighed like any other.  One reading may be left out of a fit as worthless.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from math import inf, log

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.atlas import Atlas
from diagnose.inference.coarse import best_places
from diagnose.inference.continued import (
    PROCESS,
    SEVERITIES,
    Beside,
    beside,
    grown,
    idle_in,
)
from diagnose.inference.data import Datum
from diagnose.inference.hypotheses import Pair
from diagnose.inference.idle import idle_first
from diagnose.inference.leaders import left_over, unexplained
from diagnose.inference.misfit import Misfit
from diagnose.inference.normal import LOG_2PI
from diagnose.inference.posterior import Belief
from diagnose.inference.trial import Axes, Trial, falling, rounded
from diagnose.inference.trial_evidence import log_evidence
from diagnose.inference.trial_fit import closer, fitted

MASS = 0.02
"""Prior share of two independent faults among calls (assumption)."""

TOGETHER = 3.0
"""How much likelier two faults are at one place: water, lightning, work (assumption)."""

LEADERS, COUPLED = 6, 1000
"""Faults that are put beside every other; pairs that may explain most between them."""

FOUND, MUCH = 10, 0.1
"""Faults of the best pairs found that are put beside every other as well, where these pairs may
hold so much of the belief: those of which both faults show."""

FITTED, PLACED, KEPT = 320, 128, 100
"""Pairs that are fitted, fitted once more, and weighed at most."""

_NONE = 1e-150
"""Chance of any two faults below which there are none: all but one were found good."""

WORTH = 2e-4
"""Share of the belief, as a fit estimates it, below which a pair is not weighed."""

FOLDED = 0.01
"""The same for one that adds to a leading fault what does not show: all such count together."""

TELLS = 2.0
"""How much the squares of a coarse grid count, against twice the log chance of a pair."""

CONTINUED, BESIDE = 3, 15
"""Single faults to which a second one is added where they are believed to be; how many of each."""

_WIDE: Axes = np.array([0.05, 0.5, 0.95]), PROCESS
_FINE: Axes = SEVERITIES, PROCESS

FITS = 3
"""Decimals of what a fit finds: it is not closer to its end than that, wherever it began."""


class Search:
    """Looks for pairs that explain ``data`` on the whole atlas of a loop."""

    def __init__(
        self,
        atlas: Atlas,
        data: Sequence[Datum],
        log_prior: Array,
        drift: float,
        complained: bool = False,
    ) -> None:
        """``drift`` is the unrest of the process beyond what the sheet allows for.

        Where something was ``complained`` of, that may hang on a severity that no reading does.
        """
        self.complained = complained
        self.atlas, self.log_prior, self.drift = atlas, log_prior, drift
        self.misfit = Misfit(atlas, data, drift)
        self.hypotheses = atlas.ground.hypotheses
        self.sized = np.array([h.sized for h in self.hypotheses])
        self.leading: list[Beside] = []

    def find(self, belief: Belief) -> tuple[Pair, ...]:
        """The pairs worth weighing, numbered after the single hypotheses."""
        if not self.misfit.values:
            return ()
        couples = self._couples(belief)
        self.leading = self._leading_ones(belief)
        found, log = self._best(self._coarse(couples).plus(self._continued()))
        share = self._shares(found, log, belief)
        telling = ~idle_in(self.leading, found)
        if share[telling].sum() > MUCH:
            more = self._kindred(found.some(np.flatnonzero(telling & (share > WORTH))), couples)
            if len(more):
                others, their = self._best(self._coarse(more))
                found, log = found.plus(others), np.concatenate([log, their])
        order = self._leading(found, log)[:KEPT]
        share = self._shares(found.some(order), log[order], belief)
        least = np.where(idle_in(self.leading, found.some(order)), FOLDED, WORTH)
        trial = found.some(order[share > least])
        trial = trial if self.complained else idle_first(self.misfit, trial)
        return tuple(self._pair(trial, n, len(self.hypotheses) + n) for n in range(len(trial.a)))

    def _best(self, trial: Trial) -> tuple[Trial, Array]:
        """Where the best of some pairs fit, each once, with the log evidence for each."""
        both = trial.plus(trial)
        fit = fitted(self.misfit, both, np.arange(len(both.a)) < len(trial.a))
        best = self._leading(fit, self._log_density(fit))[:PLACED]
        some = fit.some(best)
        # Such a fit may come near to the wrong place: the next one sets out from others as well.
        again = best_places(self.misfit, (some.a, some.b), self.sized, _FINE)[0]
        trial, log, room = closer(self.misfit, some.plus(both.some(best)).plus(again))
        order = self._leading(trial, log + room)
        return trial.some(order), (log + room)[order]

    def _kindred(self, found: Trial, couples: Array) -> Array:
        """Pairs not tried yet, each with a fault of the best pairs that were found.

        What is good beside one fault may be as good beside others that read the same: an open wire
        beside each joint of the other wire.  By themselves neither of the two explains a reading.
        """
        a, b = self._apart
        count = len(self.hypotheses)
        left = np.setdiff1d(np.arange(len(a)), couples)
        untried = np.bincount(a[left], minlength=count) + np.bincount(b[left], minlength=count)
        faults = np.stack([found.a, found.b], axis=1).ravel().tolist()
        named = [fault for fault in dict.fromkeys(faults) if untried[fault]][:FOUND]
        return np.intersect1d(left, self._with(named))

    def _shares(self, trial: Trial, log: Array, belief: Belief) -> Array:
        """What each pair may hold beside what is believed already; ``log`` is its evidence."""
        chance = self._log_chance(trial) + self._log_share
        log = log + chance - len(self.misfit.values) / 2 * LOG_2PI
        whole = np.logaddexp(belief.evidence, np.logaddexp.reduce(log))
        result: Array = np.exp(log - whole)
        return result

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

    @cached_property
    def _apart(self) -> tuple[Array, Array]:
        """All pairs of faults, each once, never two of one part."""
        faults = np.array([h.number for h in self.hypotheses if h.mode is not None])
        part = np.array([h.part for h in self.hypotheses])
        a, b = (faults[side] for side in np.triu_indices(len(faults), 1))
        apart = part[a] != part[b]
        return a[apart], b[apart]

    def _with(self, faults: Sequence[int]) -> Array:
        """Places of the pairs in which one of some faults is."""
        a, b = self._apart
        return np.flatnonzero(np.isin(a, faults) | np.isin(b, faults))

    def _couples(self, belief: Belief) -> Array:
        """Pairs that may explain most between them, and every leader with every other fault."""
        a, b = self._apart
        squares = sum(np.minimum(one[a], one[b]) for one in self._unexplained.T)
        worth = 2 * self._log_chance(Trial(a, b, np.empty((len(a), 0)))) - squares
        leaders = [n for n in self._likeliest(belief) if self.hypotheses[n].mode is not None]
        return np.union1d(falling(worth)[:COUPLED], self._with(leaders[:LEADERS]))

    def _likeliest(self, belief: Belief) -> list[int]:
        """Hypotheses by what is believed of them; out of the running, by how much they explain."""
        believed = np.log(np.maximum(belief.probability, 1e-12))
        order = np.lexsort([-rounded(self._halves), -rounded(believed)])
        return [int(number) for number in order]

    @cached_property
    def _unexplained(self) -> Array:
        """Squares that each hypothesis leaves of each reading: (hypothesis, reading)."""
        data = [*self.misfit.values, *self.misfit.sides]
        return unexplained(self.atlas, data, self.misfit.sd)

    @cached_property
    def _halves(self) -> Array:
        """log chance of each hypothesis if any number of readings told of something else."""
        data = [*self.misfit.values, *self.misfit.sides]
        return self.log_prior - left_over(self.atlas, data, self.misfit.sd) / 2

    def _coarse(self, couples: Array) -> Trial:
        """The most promising of some pairs, each at its best place on a coarse grid."""
        a, b = self._apart
        places = a[couples], b[couples]
        found, squares = best_places(self.misfit, places, self.sized, _WIDE)
        return found.some(self._promising(found, squares)[:FITTED])

    def _promising(self, trial: Trial, squares: Array) -> Array:
        """Places of pairs, the most promising first: a grid tells little of a misfit."""
        return falling(2 * self._log_chance(trial) - np.log1p(squares) * TELLS)

    def _leading_ones(self, belief: Belief) -> list[Beside]:
        """The most likely single faults where they are believed to be, others put beside each.

        A fault that explains all readings, but not the complaint, stays where it is.
        """
        weighted, found = belief.weighted, []
        for a in self._likeliest(belief)[:CONTINUED]:
            own = np.flatnonzero(weighted.cells.h == a)
            if self.hypotheses[a].mode is not None and len(own):
                peak = own[int(rounded(weighted.log[own]).argmax())]
                x, p = float(rounded(weighted.x[peak])), float(rounded(weighted.p[peak]))
                found.append(beside(self.misfit, self.hypotheses, a, x, p))
        return found

    def _continued(self) -> Trial:
        """The best of the second faults beside each of the leading ones."""
        found = Trial(np.zeros(0, int), np.zeros(0, int), np.zeros((0, 3)))
        for trial, squares in (one.best() for one in self.leading):
            found = found.plus(trial.some(self._promising(trial, squares)[:BESIDE]))
        return found

    def grown(self, pairs: Sequence[Pair]) -> Array:
        """Log by which single faults grow with others that do not show: (hypothesis,).

        ``pairs`` are those that are weighed by themselves; after ``find``.
        """
        faults = np.array([h.mode is not None for h in self.hypotheses])
        numbers = np.arange(len(faults))
        together = np.zeros((len(self.leading), len(faults)))
        for row, one in zip(together, self.leading, strict=True):
            trial = Trial(np.full(len(faults), one.fault), numbers, np.empty((len(faults), 0)))
            row[:] = np.exp(self._log_chance(trial) + self._log_share - self.log_prior[one.fault])
        known = {frozenset((pair.first.number, self._number(pair))) for pair in pairs}
        return grown(self.leading, faults, together, known)

    def _log_density(self, trial: Trial) -> Array:
        """log density of all readings at the place of each pair, as far as it tells them apart."""
        beyond = self.misfit.beyond(self.misfit.seen(trial))
        result: Array = log_evidence(self.atlas, trial, self.misfit.values, self.drift) - beyond / 2
        return result

    def _log_chance(self, trial: Trial) -> Array:
        """log prior of each pair."""
        return self.log_prior[trial.a] + self.log_prior[trial.b] + self._together(trial)

    def _together(self, trial: Trial) -> Array:
        place = np.array([h.place for h in self.hypotheses])
        return np.where(place[trial.a] == place[trial.b], log(TOGETHER), 0.0)

    def log_priors(self, pairs: Sequence[Pair]) -> Array:
        """log priors of pairs: the share of all pairs split in proportion to both rates."""
        trial = Trial(
            np.array([pair.first.number for pair in pairs]),
            np.array([self._number(pair) for pair in pairs]),
            np.zeros((len(pairs), 3)),
        )
        return self._log_chance(trial) + self._log_share

    @cached_property
    def _log_share(self) -> float:
        """log of what makes chances of pairs priors: all of them together have their share.

        Where fewer than two faults are left that were not found good, there is no pair.
        """
        single = np.exp(self.log_prior) * [h.mode is not None for h in self.hypotheses]
        both = float(single.sum() ** 2 - (single**2).sum()) / 2
        return log(MASS / both) if both > _NONE else -inf

    def _number(self, pair: Pair) -> int:
        return next(h.number for h in self.hypotheses if h.key == pair.key)
