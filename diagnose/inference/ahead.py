"""Looking ahead in a decision problem: what it costs in the end to begin with each test.

In each step the most telling tests per minute are tried in every state that can then be reached, as
many of them as the step is broad; a step that is one broad follows the greedy policy.  One broad
step and the greedy policy after it are a rollout: F. Tu and K. R. Pattipati, "Rollout strategies
for sequential fault diagnosis", IEEE Trans. SMC-A 33:86-99, 2003 (abstract seen).  All states of a
step are looked at together.  Shapes: (state, test), (state, hypothesis).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.decisions import NOTHING, Problem, State, bits


@dataclass
class _States:
    """Weights (state, hypothesis) that add up to 1; ``share`` is the chance to come there at all.

    ``rate`` are the minutes that a bit cost on the way there.
    """

    weight: Array
    place: Array
    taken: Array
    share: Array
    rate: Array

    def some(self, rows: Array) -> _States:
        """Some of the states."""
        return _States(
            self.weight[rows], self.place[rows], self.taken[rows], self.share[rows], self.rate[rows]
        )


class Ahead:
    """Expected cost of beginning with each test; problems without anything to be opened."""

    def __init__(self, problem: Problem, breadth: Sequence[int]) -> None:
        self.problem, self.breadth = problem, breadth
        self.places = list(dict.fromkeys([problem.start, *(t.place for t in problem.tests)]))
        self.walk = np.array([[self._walk(a, b) for b in self.places] for a in self.places])
        self.at = np.array([self.places.index(t.place) for t in problem.tests])
        self.still = np.array([not t.place for t in problem.tests])
        self.own = np.array([t.minutes for t in problem.tests])
        group = problem.member.argmax(axis=1)
        self.order = np.argsort(group, kind="stable")
        self.table = problem.table[:, :, self.order].reshape(-1, len(group))
        self.ends = np.searchsorted(group[self.order], np.arange(problem.member.shape[1] + 1))
        self.uncertain = np.array([n not in problem.certain for n in range(len(problem.tests))])

    def _walk(self, here: str, there: str) -> float:
        return self.problem.walk(here, there) if here and there else 0.0

    def best(self, state: State) -> tuple[float, int | None]:
        """Least expected cost, and the test to begin with; None where it is better to stop."""
        taken = np.zeros((1, len(self.own)), bool)
        taken[0, list(state.taken)] = True
        place = np.array([self.places.index(state.place)])
        one = np.ones(1)
        states = _States(state.weight[None], place, taken, one, one * self.problem.per_bit)
        cost, first = self._look(states, self.breadth)
        return float(cost[0]), None if first[0] < 0 else int(first[0])

    def _look(self, states: _States, breadth: Sequence[int]) -> tuple[Array, Array]:
        """Expected cost of each state, and its best test; -1 to stop."""
        group = states.weight @ self.problem.member
        missing, first = bits(group), np.full(len(group), -1)
        done = group.max(axis=1) >= self.problem.sure
        cost = np.where(done, 0.0, missing * states.rate)
        rows = np.flatnonzero(~done & (states.share > self.problem.negligible))
        if breadth and len(rows):
            cost[rows], first[rows] = self._tried(states.some(rows), missing[rows], breadth)
        return cost, first

    def _tried(
        self, states: _States, missing: Array, breadth: Sequence[int]
    ) -> tuple[Array, Array]:
        """The same for states that are worth looking at."""
        gains, minutes = self._gains(states.weight), self._minutes(states.place)
        rate = np.where(states.taken | (gains < NOTHING), 0.0, gains / minutes)
        per_bit = self.problem.per_bit
        order = np.argsort(-rate, axis=1, kind="stable")[:, : breadth[0]]
        worth = np.take_along_axis(rate, order, axis=1) > (1 / per_bit if per_bit else 0.0)
        through = np.full((len(rate), order.shape[1] + 1), np.inf)
        row, column = np.nonzero(worth)
        test = order[row, column]
        if len(row):
            spent = minutes[row, test] / gains[row, test]
            later = self._after(states, row, test, spent, breadth[1:])
            through[row, column] = minutes[row, test] + later
        # Stopping counts where it may be done, or where no test is left.
        stops = ~worth.any(axis=1) | (per_bit > 0)
        through[stops, -1] = per_bit * missing[stops]
        best = through.round(9).argmin(axis=1)
        every = np.arange(len(best))
        first = np.append(order, np.full((len(best), 1), -1), axis=1)[every, best]
        return through[every, best], first

    def _after(
        self, states: _States, row: Array, test: Array, spent: Array, breadth: Sequence[int]
    ) -> Array:
        """Expected cost after a test in a state: (pair,)."""
        weight = self.problem.table[test, :-1] * states.weight[row][:, None, :]
        chance = weight.sum(axis=2)
        pair, outcome = np.nonzero(chance > NOTHING)
        own = chance[pair, outcome]
        taken = states.taken[row[pair]]
        taken[np.arange(len(pair)), test[pair]] |= self.uncertain[test[pair]]
        place = np.where(self.still[test[pair]], states.place[row[pair]], self.at[test[pair]])
        reached = _States(
            weight[pair, outcome] / own[:, None],
            place,
            taken,
            states.share[row[pair]] * own,
            spent[pair],
        )
        later, _ = self._look(reached, breadth)
        result: Array = np.bincount(pair, weights=own * later, minlength=len(row))
        return result

    def _minutes(self, place: Array) -> Array:
        """Minutes of every test from some places: (state, test)."""
        result: Array = np.where(self.still, 0.0, self.walk[place][:, self.at]) + self.own
        return result

    def _gains(self, weight: Array) -> Array:
        """Expected information of every test in every state, bits: (state, test)."""
        tests, outcomes, _ = self.problem.table.shape
        joint = np.empty((weight.shape[0], tests * outcomes, len(self.ends) - 1))
        ordered = weight[:, self.order]
        for n, (start, end) in enumerate(zip(self.ends[:-1], self.ends[1:], strict=True)):
            joint[:, :, n] = ordered[:, start:end] @ self.table[:, start:end].T
        left = bits(joint) - bits(joint.sum(axis=2)[:, :, None])
        before = bits(weight @ self.problem.member)[:, None]
        after = left.reshape(len(weight), tests, outcomes).sum(axis=2)
        result: Array = np.maximum(before - after, 0.0)
        return result


DEEP = (1,) * 9
"""The greedy policy for as many steps as there are readings in a hunt."""


class LookAhead:
    """A policy that tries some tests in each of the first steps, and is greedy after them."""

    def __init__(self, *breadth: int, deep: Sequence[int] = DEEP) -> None:
        self.breadth = (*breadth, *deep)
        self._ahead: Ahead | None = None

    def __call__(self, problem: Problem, state: State) -> int | None:
        """The next test."""
        if self._ahead is None or self._ahead.problem is not problem:
            self._ahead = Ahead(problem, self.breadth)
        return self._ahead.best(state)[1]


__all__ = ["Ahead", "LookAhead"]
