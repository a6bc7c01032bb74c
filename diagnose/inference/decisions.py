"""Finite decision problems: hypotheses, tests with outcomes, and what each test costs from here.

Nothing here knows a circuit.  A test is a table of chances; it costs minutes, a walk to its place,
and the opening of what it lies behind, paid once.  A test whose chances do not add up to one ends
the hunt with the chance that is missing: a repair that is proven at once, say.
Shapes: (test, outcome, hypothesis).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from diagnose.circuit.rows import Array

NOTHING = 1e-9
"""Bits, or probability, that count as none."""


@dataclass(frozen=True)
class Test:
    """Something that can be done: ``chance`` (outcome, hypothesis), columns add up to at most 1.

    ``place`` is where one must stand for it; an empty one needs no walk and moves nobody.
    ``opens`` names what has to be opened or switched first.
    """

    __test__ = False  # a word that pytest looks for

    name: str
    chance: Array
    minutes: float
    place: str = ""
    opens: str = ""


def _stays(here: str, there: str) -> float:
    return 0.0


@dataclass(frozen=True, eq=False)
class State:
    """Where a hunt stands: ``weight`` (hypothesis,) adds up to 1; what was opened and used up."""

    weight: Array
    place: str
    opened: frozenset[str] = frozenset()
    taken: frozenset[int] = frozenset()

    @cached_property
    def key(self) -> tuple[object, ...]:
        """Equal for states that are the same."""
        return np.round(self.weight, 10).tobytes(), self.place, self.opened, self.taken


@dataclass(frozen=True)
class Problem:
    """A whole decision problem.

    ``group`` (hypothesis,) numbers what need not be told apart, from 0; by default all must.
    ``walk`` are minutes from place to place, ``opening`` those of opening something.  The hunt is
    over when one group holds ``sure``; with ``sure`` above 1 only a test can end it.  It may be
    given up where ``per_bit`` is more than 0: minutes for each bit that is then missing.  Outcomes
    less probable than ``negligible`` are passed over.
    """

    prior: Array
    tests: Sequence[Test]
    group: Array | None = None
    start: str = ""
    walk: Callable[[str, str], float] = _stays
    opening: Mapping[str, float] = field(default_factory=dict)
    sure: float = 1 - NOTHING
    per_bit: float = 0.0
    negligible: float = NOTHING

    @cached_property
    def table(self) -> Array:
        """Chances of all tests; the last outcome is the end of the hunt."""
        most = max(len(test.chance) for test in self.tests)
        table = np.zeros((len(self.tests), most + 1, len(self.prior)))
        for n, test in enumerate(self.tests):
            table[n, : len(test.chance)] = test.chance
        table[:, -1] = np.clip(1 - table.sum(axis=1), 0, 1)
        return table

    @cached_property
    def member(self) -> Array:
        """Which group a hypothesis belongs to: (hypothesis, group) of 0 and 1."""
        count = len(self.prior)
        group = np.arange(count) if self.group is None else np.asarray(self.group)
        result: Array = (group[:, None] == np.arange(group.max() + 1)).astype(float)
        return result

    @cached_property
    def certain(self) -> frozenset[int]:
        """Tests whose outcome each hypothesis settles: taking them again tells nothing."""
        sharp = ((self.table < NOTHING) | (self.table > 1 - NOTHING)).all(axis=(1, 2))
        return frozenset(int(n) for n in np.flatnonzero(sharp))

    def begin(self) -> State:
        """Where the hunt begins."""
        prior = np.asarray(self.prior, float)
        return State(prior / prior.sum(), self.start)

    def done(self, state: State) -> bool:
        """Whether one group holds what it takes."""
        return bool((state.weight @ self.member).max() >= self.sure)

    def gains(self, state: State) -> Array:
        """Expected information about the group, bits: (test,)."""
        joint = (self.table * state.weight) @ self.member
        before = bits(joint.sum(axis=1)[:1])[0]
        after = bits(joint).sum(axis=1) - bits(joint.sum(axis=2)[:, :, None]).sum(axis=1)
        result: Array = np.maximum(before - after, 0.0)
        return result

    def useful(self, state: State, gains: Array | None = None) -> list[int]:
        """Tests that can tell something, or end the hunt, and were not taken yet."""
        ends = self.table[:, -1] @ state.weight
        told = ((self.gains(state) if gains is None else gains) > NOTHING) | (ends > NOTHING)
        return [int(n) for n in np.flatnonzero(told) if int(n) not in state.taken]

    def given_up(self, state: State) -> float:
        """What it costs to stop here: nothing where the hunt is over."""
        return 0.0 if self.done(state) else self.per_bit * entropy(state, self)

    def minutes(self, state: State, n: int) -> float:
        """What test ``n`` costs from here: walking, opening and working."""
        test = self.tests[n]
        walk = self.walk(state.place, test.place) if test.place else 0.0
        shut = test.opens and test.opens not in state.opened
        return walk + (self.opening[test.opens] if shut else 0.0) + test.minutes

    def after(self, state: State, n: int) -> Iterator[tuple[float, State]]:
        """Chance of each outcome of test ``n`` that leaves the hunt open, and where it then is."""
        test = self.tests[n]
        opened = state.opened | {test.opens} if test.opens else state.opened
        taken = state.taken if n in self.certain else state.taken | {n}
        for row in self.table[n, :-1] * state.weight:
            chance = float(row.sum())
            if chance > self.negligible:
                yield chance, State(row / chance, test.place or state.place, opened, taken)


def bits(weight: Array) -> Array:
    """Sum of -w log2 w over the last axis; weights need not add up to 1."""
    result: Array = -(weight * np.log2(np.maximum(weight, 1e-300))).sum(axis=-1)
    return result


def entropy(state: State, problem: Problem) -> float:
    """Bits that are missing about the group."""
    return float(bits(state.weight @ problem.member))


Policy = Callable[[Problem, State], "int | None"]
"""The next test, or None where there is nothing left that helps."""


class Followed:
    """What a policy costs from any state on, in mean minutes; every state is met once."""

    def __init__(self, problem: Problem, policy: Policy) -> None:
        self.problem, self.policy = problem, policy
        self._known: dict[object, float] = {}

    def cost(self, state: State) -> float:
        """Mean minutes from here to the end."""
        if self.problem.done(state):
            return 0.0
        if state.key not in self._known:
            n = self.policy(self.problem, state)
            stop = self.problem.given_up(state)
            self._known[state.key] = stop if n is None else self._through(state, n)
        return self._known[state.key]

    def _through(self, state: State, n: int) -> float:
        """Mean minutes with test ``n`` first."""
        later = sum(chance * self.cost(next_) for chance, next_ in self.problem.after(state, n))
        return self.problem.minutes(state, n) + later


def cost(problem: Problem, policy: Policy) -> float:
    """Mean minutes of a hunt by a policy."""
    return Followed(problem, policy).cost(problem.begin())


__all__ = ["Followed", "Policy", "Problem", "State", "Test", "bits", "cost", "entropy"]
