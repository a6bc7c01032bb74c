"""Where a switch turns, or a part meets a limit, between two process values: nodes on either side.

A switch makes the level of whatever follows it leap; a part that follows a signal bends where it
comes to the end of what it can do.  Both tell their side as a whole number.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from diagnose.circuit.predictor import Predictor
from diagnose.circuit.rows import Array, State
from diagnose.circuit.signals import given, level
from diagnose.loops.loop import Part

if TYPE_CHECKING:
    from diagnose.inference.ground import Ground

GUESSED, HALVED = 4, 30
"""Steps of the search: the first ones guess by straight lines, the others halve."""

NARROW = 1e-8
"""Width of the process interval at which the search ends: far below the distance of the nodes."""

HALVINGS = 40
"""Of the share at which straight lines turn: to 1e-12 of the way, far below ``NARROW``."""

SIDES = 5
"""More than the sides that any part has."""

Signals = tuple[Array, ...]


@dataclass(frozen=True)
class Turning:
    """A part that turns or meets limits as the process moves.

    ``tell`` reads what it goes by off a solved circuit; between bends that is straight in the
    process value.  ``side`` says on which side it is with that.  ``by_way``: a side may be left for
    one and come to by way of others.
    """

    tell: Callable[[Predictor, State], Signals]
    side: Callable[[Predictor, State, Signals], Array]
    by_way: bool

    def at(self, machine: Predictor, state: State) -> Array:
        """The side at an operating point: (row,), whole numbers."""
        return self.side(machine, state, self.tell(machine, state))


def sides(machine: Predictor, state: State) -> Array:
    """On which side all switches and limits are, as one number for each row."""
    total = np.zeros(state.rows, int)
    for turning in turnings(machine):
        total = SIDES * total + turning.at(machine, state)
    return total


def turnings(machine: Predictor) -> list[Turning]:
    """The switches of a loop, and the parts that follow a signal within limits."""
    switches = [_switch(part) for part in machine.wiring.switches]
    return switches + [_limit(part) for part in machine.loop.parts if part.kind.follows]


def _switch(part: Part) -> Turning:
    gives = part.kind.signal
    assert gives is not None

    def tell(machine: Predictor, state: State) -> Signals:
        found = level(machine.wiring, part, gives, state.columns, state.v)
        return (np.broadcast_to(np.asarray(found, float), (state.rows,)),)

    def side(machine: Predictor, state: State, signals: Signals) -> Array:
        return (signals[0] > 0).astype(int)

    return Turning(tell, side, by_way=False)


def _limit(part: Part) -> Turning:
    def tell(machine: Predictor, state: State) -> Signals:
        found = given(machine.wiring, part, state.columns, state.v)
        several = found if isinstance(found, tuple) else (found,)
        return tuple(np.broadcast_to(np.asarray(one, float), (state.rows,)) for one in several)

    def side(machine: Predictor, state: State, signals: Signals) -> Array:
        q = machine.wiring.of(part, state.columns)
        found = part.kind.limited(q, signals if len(signals) > 1 else signals[0])
        return np.broadcast_to(np.asarray(found, int), (state.rows,))

    return Turning(tell, side, by_way=True)


def with_flips(
    ground: Ground,
    h: Array,
    x: Array,
    ends: tuple[State, State],
    between: tuple[Array, Array],
    bends: tuple[Array, Array],
) -> tuple[Array, Array]:
    """The two bends (line,) with those of switches and limits put where there is room for them.

    ``ends`` are the circuits at the process values ``between``, ``bends`` what was found there;
    a bend that is none stands at the end.  A side left and another come to by way of a third are
    two bends.
    """
    last, found, machine = between[1], [*bends], ground.machine
    for turning in turnings(machine):
        low, high = (End.of(machine, turning, *end) for end in zip(ends, between, strict=True))
        rows = np.flatnonzero(low.side != high.side)
        for near, far in ((low, high), (high, low))[: 1 + turning.by_way]:
            if len(rows):
                turn = last.copy()
                line = h[rows], x[rows]
                search = _Search(ground, turning, line, near.some(rows), far.some(rows))
                turn[rows] = search.run([known[rows] for known in reversed(found[2:])])
                found.append(turn)
    if len(found) == 2:
        return bends
    ordered = np.sort(np.stack(found), axis=0)
    return ordered[0], _second(ordered, last)


def _second(ordered: Array, last: Array) -> Array:
    """The next value above the first, else the end: equal bends are one."""
    later = np.where(ordered > ordered[0] + 4 * NARROW, ordered, last)
    result: Array = later.min(axis=0)
    return result


@dataclass(frozen=True)
class End:
    """One end of the way on each line: process value, signals and side there, all (line,)."""

    process: Array
    signals: Signals
    side: Array

    @classmethod
    def of(cls, machine: Predictor, turning: Turning, state: State, process: Array) -> End:
        """The end at which a state stands."""
        told = turning.tell(machine, state)
        return cls(process, told, turning.side(machine, state, told))

    def some(self, rows: Array) -> End:
        """Some of the lines, to be moved."""
        return End(self.process[rows], tuple(s[rows] for s in self.signals), self.side[rows])


class _Search:
    """Process values at which the side at ``near`` is left on the way to ``far``.

    What a part goes by is straight between bends, so that a straight line through both ends meets
    the turn at once as a rule: a pair of circuits beside the guess then proves it.
    """

    def __init__(
        self, ground: Ground, turning: Turning, line: tuple[Array, Array], near: End, far: End
    ) -> None:
        """``line`` are hypothesis and severity of each line."""
        self.ground, self.turning, self.line = ground, turning, line
        self.ends = np.stack([near.process, far.process])
        self.signals, self.start = (near.signals, far.signals), near.side

    def run(self, known: Sequence[Array]) -> Array:
        """Shape (line,); ``known`` are turns of other parts, tried first: one may turn the next."""
        for turn in range(max(GUESSED, len(known)) + HALVED):
            rows = np.flatnonzero(np.abs(self.ends[1] - self.ends[0]) > 1.01 * NARROW)
            if not len(rows):
                break
            share = self._guess(rows) if turn < GUESSED else np.full(len(rows), 0.5)
            if turn < len(known):
                share = self._hinted(rows, known[turn][rows], share)
            self._narrow(rows, share)
        found: Array = self.ends.mean(axis=0)
        return found

    def _look(self, rows: Array, process: Array) -> tuple[list[Signals], Array]:
        """Signals and sides at two process values (2, row) of some lines."""
        h, x = (np.tile(part[rows], 2) for part in self.line)
        machine, values = self.ground.machine, process.ravel()
        state = machine.solve(self.ground.columns(h, x, values), len(values))
        told = self.turning.tell(machine, state)
        halves = [tuple(one.reshape(2, -1)[k].copy() for one in told) for k in (0, 1)]
        return halves, self.turning.side(machine, state, told).reshape(2, -1)

    def _guess(self, rows: Array) -> Array:
        """Share of the way at which straight lines through the signals at both ends turn."""
        near, far = ([one[rows] for one in signals] for signals in self.signals)
        start, machine = self.start[rows], self.ground.machine
        low, high = np.zeros(len(rows)), np.ones(len(rows))
        h, x = (part[rows] for part in self.line)
        columns = self.ground.columns(h, x, self.ends[0, rows])
        state = State(len(rows), columns, {}, [], [], [], {})
        for _ in range(HALVINGS):
            middle = (low + high) / 2
            told = tuple(a + (b - a) * middle for a, b in zip(near, far, strict=True))
            same = self.turning.side(machine, state, told) == start
            low, high = np.where(same, middle, low), np.where(same, high, middle)
        return (low + high) / 2

    def _hinted(self, rows: Array, known: Array, share: Array) -> Array:
        """``share``, but where a turn that is known lies between the ends, that."""
        near, far = self.ends[:, rows]
        at = (known - near) / (far - near)
        return np.where((at > 0) & (at < 1), at, share)

    def _narrow(self, rows: Array, share: Array) -> None:
        """Bring the ends together round a guess, which two circuits close beside it judge."""
        near, far = self.ends[:, rows]
        at = near + (far - near) * share
        half = np.sign(far - near) * NARROW / 2
        beside = np.clip(
            np.stack([at - half, at + half]), np.minimum(near, far), np.maximum(near, far)
        )
        signals, sides_ = self._look(rows, beside)
        same = sides_ == self.start[rows]
        for end, probe, chosen in (
            (0, 0, same[0]),
            (0, 1, same[0] & same[1]),
            (1, 1, same[0] & ~same[1]),
            (1, 0, ~same[0]),
        ):
            self._move(
                end, rows[chosen], beside[probe, chosen], [s[chosen] for s in signals[probe]]
            )

    def _move(self, end: int, rows: Array, process: Array, signals: Sequence[Array]) -> None:
        self.ends[end, rows] = process
        for mine, new in zip(self.signals[end], signals, strict=True):
            mine[rows] = new
