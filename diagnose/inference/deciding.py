"""Policies for finite decision problems: greedy ones, chance, and the exact optimum.

Those that look ahead are in ``ahead``.
"""

from __future__ import annotations

import numpy as np

from diagnose.inference.decisions import Policy, Problem, State


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


def _least(
    problem: Problem, state: State, found: list[tuple[float, int]]
) -> tuple[float, int | None]:
    """Least cost and its test; stopping counts where it may be done, or where no test is left."""
    every: list[tuple[float, int | None]] = [*found]
    if problem.per_bit or not found:
        every.append((problem.given_up(state), None))
    return min(every, key=lambda pair: pair[0])


def by_place(problem: Problem, state: State) -> int | None:
    """The ratio rule over places: the best first few repairs at one place share the way there.

    Of each place, or of what is opened together, the repairs in the order of p/c; the beginning of
    such a row with the highest chance to end the hunt per minute, walk and opening counted once,
    comes first.  T. J. Ottosen and F. V. Jensen, "The cost of troubleshooting cost clusters with
    inside information", UAI 2010 (abstract seen), show this to be optimal for clusters that need
    not be closed for the test.
    """
    ends = problem.table[:, -1] @ state.weight
    useful = problem.useful(state)
    alike: dict[tuple[str, str], list[int]] = {}
    for n in useful:
        alike.setdefault((problem.tests[n].place, problem.tests[n].opens), []).append(n)
    best: tuple[float, int | None] = (0.0, None)
    for some in alike.values():
        row = sorted(some, key=lambda n: -ends[n] / problem.tests[n].minutes)
        minutes = problem.minutes(state, row[0]) - problem.tests[row[0]].minutes
        chance = 0.0
        for n in row:
            chance, minutes = chance + float(ends[n]), minutes + problem.tests[n].minutes
            if chance / minutes > best[0] * (1 + 1e-12):
                best = chance / minutes, row[0]
    return best[1]


class Optimum:
    """The best that can be done: dynamic programming over all states that can be reached."""

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
            self._known[state.key] = _least(self.problem, state, found)
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


__all__ = [
    "Optimum",
    "at_random",
    "by_place",
    "by_rate",
    "greedy_gain",
    "greedy_rate",
    "ratio_rule",
]
