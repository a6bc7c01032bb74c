"""Policies for finite decision problems: greedy, with look-ahead, and the exact optimum.

Sources: rollout of a greedy policy, F. Tu and K. R. Pattipati, "Rollout strategies for sequential
fault diagnosis", IEEE Trans. SMC-A 33:86-99, 2003 (abstract seen); dynamic programming over what is
still possible is the textbook method.
"""

from __future__ import annotations

import numpy as np

from diagnose.inference.decisions import Followed, Policy, Problem, State

BREADTH = 6
"""Tests that are looked at in each step of a look-ahead."""


def greedy_gain(problem: Problem, state: State) -> int | None:
    """The test that tells most, whatever it costs."""
    gains = problem.gains(state)
    return max(problem.useful(state), key=lambda n: gains[n], default=None)


def greedy_rate(problem: Problem, state: State) -> int | None:
    """The test that tells most per minute."""
    return next(iter(by_rate(problem, state)), None)


def by_rate(problem: Problem, state: State) -> list[int]:
    """The useful tests, the most telling per minute first; none that is not worth its minutes."""
    gains = problem.gains(state)
    rate = {n: gains[n] / problem.minutes(state, n) for n in problem.useful(state, gains)}
    worth = [n for n in rate if not problem.per_bit or rate[n] * problem.per_bit > 1]
    return sorted(worth, key=lambda n: -rate[n])


def ratio_rule(problem: Problem, state: State) -> int | None:
    """The test most likely to end the hunt per minute: p/c of repairs, nothing else weighed."""
    ends = problem.table[:, -1] @ state.weight
    useful = problem.useful(state)
    return max(useful, key=lambda n: ends[n] / problem.minutes(state, n), default=None)


class LookAhead:
    """The test that leads to the least expected cost, seen some steps ahead.

    After ``steps`` steps the ``base`` policy is followed to the end (one step is a rollout), or for
    ``most`` more steps.  Of the useful tests the ``breadth`` best by gain per minute and by gain
    are looked at.
    """

    def __init__(
        self,
        steps: int = 1,
        base: Policy = greedy_rate,
        breadth: int | None = BREADTH,
        most: int | None = None,
    ) -> None:
        self.steps, self.base, self.breadth, self.most = steps, base, breadth, most

    def __call__(self, problem: Problem, state: State) -> int | None:
        """The next test."""
        return _Search(problem, self).best(state, self.steps)[1]

    def policy(self, problem: Problem) -> Policy:
        """The same, for one problem, with all that it has seen kept."""
        search = _Search(problem, self)
        return lambda _, state: search.best(state, self.steps)[1]


def least(
    problem: Problem, state: State, found: list[tuple[float, int]]
) -> tuple[float, int | None]:
    """Least cost and its test; stopping counts where it may be done, or where no test is left."""
    every: list[tuple[float, int | None]] = [*found]
    if problem.per_bit or not found:
        every.append((problem.given_up(state), None))
    # Equal costs differ in the last bits: the first of them is taken, as it was tried.
    return min(every, key=lambda pair: round(pair[0], 9))


class _Search:
    def __init__(self, problem: Problem, how: LookAhead) -> None:
        self.problem, self.how = problem, how
        self.followed = Followed(problem, how.base, how.most)
        self._known: dict[object, tuple[float, int | None]] = {}

    def best(self, state: State, steps: int) -> tuple[float, int | None]:
        """Least cost and the test that brings it."""
        if self.problem.done(state):
            return 0.0, None
        if not steps:
            return self.followed.cost(state), None
        key = state.key, steps
        if key not in self._known:
            found = [(self._through(state, n, steps), n) for n in self._tried(state)]
            self._known[key] = least(self.problem, state, found)
        return self._known[key]

    def _tried(self, state: State) -> list[int]:
        useful = by_rate(self.problem, state)
        if self.how.breadth is None:
            return useful
        gains = self.problem.gains(state)
        telling = sorted(useful, key=lambda n: -gains[n])
        return list(dict.fromkeys(useful[: self.how.breadth] + telling[: self.how.breadth]))

    def _through(self, state: State, n: int, steps: int) -> float:
        problem = self.problem
        later = sum(p * self.best(next_, steps - 1)[0] for p, next_ in problem.after(state, n))
        return problem.minutes(state, n) + later


class Optimum:
    """The best that can be done, by dynamic programming over all states that can be reached."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self._known: dict[object, tuple[float, int | None]] = {}

    def cost(self, state: State | None = None) -> float:
        """Least mean minutes from a state, by default from the beginning."""
        return self._best(state or self.problem.begin())[0]

    def __call__(self, problem: Problem, state: State) -> int | None:
        """The best next test."""
        return self._best(state)[1]

    def _best(self, state: State) -> tuple[float, int | None]:
        if self.problem.done(state):
            return 0.0, None
        if state.key not in self._known:
            found = [(self._through(state, n), n) for n in self.problem.useful(state)]
            self._known[state.key] = least(self.problem, state, found)
        return self._known[state.key]

    def _through(self, state: State, n: int) -> float:
        later = sum(p * self.cost(next_) for p, next_ in self.problem.after(state, n))
        return self.problem.minutes(state, n) + later


def at_random(rng: np.random.Generator) -> Policy:
    """Any useful test."""

    def choose(problem: Problem, state: State) -> int | None:
        useful = problem.useful(state)
        return int(rng.choice(useful)) if useful else None

    return choose


__all__ = ["BREADTH", "LookAhead", "Optimum", "at_random", "by_rate", "greedy_gain",
           "greedy_rate", "ratio_rule"]  # fmt: skip
