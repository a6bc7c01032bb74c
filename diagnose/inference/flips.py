"""Where a switch turns, or a part meets a limit, between two process values: nodes on either side.

A switch makes the level of whatever follows it leap; a part that follows a signal bends where it
comes to the end of what it can do.  Both tell their side as a whole number.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

from diagnose.circuit.predictor import Predictor
from diagnose.circuit.rows import Array, State
from diagnose.circuit.signals import given, level
from diagnose.loops.loop import Part

if TYPE_CHECKING:
    from diagnose.inference.ground import Ground

ROUNDS = 30
"""Steps of the search; each halves at least."""

NARROW = 1e-8
"""Width of the process interval at which the search ends: far below the distance of the nodes."""

SIDES = 5
"""More than the sides that any part has."""

Side = Callable[[Predictor, State], Array]
Turning = tuple[Side, bool]
"""What tells a side, and whether it may be left for one and come to by way of others."""


def sides(machine: Predictor, state: State) -> Array:
    """On which side all switches and limits are, as one number for each row."""
    total = np.zeros(state.rows, int)
    for side, _ in _turning(machine):
        total = SIDES * total + side(machine, state)
    return total


def _turning(machine: Predictor) -> list[Turning]:
    """What tells the side of each part that turns or meets limits as the process moves."""
    switches = [(_switch(part), False) for part in machine.wiring.switches]
    limits = [(_limit(part), True) for part in machine.loop.parts if part.kind.follows]
    return switches + limits


def _switch(part: Part) -> Side:
    def side(machine: Predictor, state: State) -> Array:
        gives = part.kind.signal
        assert gives is not None
        found = level(machine.wiring, part, gives, state.columns, state.v)
        return np.broadcast_to(np.asarray(found, float) > 0, (state.rows,)).astype(int)

    return side


def _limit(part: Part) -> Side:
    def side(machine: Predictor, state: State) -> Array:
        wiring = machine.wiring
        to = given(wiring, part, state.columns, state.v)
        found = part.kind.limited(wiring.of(part, state.columns), to)
        return np.broadcast_to(np.asarray(found, int), (state.rows,))

    return side


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
    first, last = between
    found = [*bends]
    for side, by_way in _turning(ground.machine):
        low, high = (side(ground.machine, state) for state in ends)
        rows = np.flatnonzero(low != high)
        for start, stop in ((first, last), (last, first))[: 1 + by_way]:
            if len(rows):
                turn = last.copy()
                turn[rows] = _turn(ground, side, (h[rows], x[rows]), start[rows], stop[rows])
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


def _turn(ground: Ground, side: Side, line: tuple[Array, Array], near: Array, far: Array) -> Array:
    """Process values at which the side at ``near`` is left on the way to ``far``, by halving."""
    start = _at(ground, side, line, near)
    for _ in range(ROUNDS):
        if np.abs(far - near).max() < NARROW:
            break
        middle = (near + far) / 2
        same = _at(ground, side, line, middle) == start
        near, far = np.where(same, middle, near), np.where(same, far, middle)
    return (near + far) / 2


def _at(ground: Ground, side: Side, line: tuple[Array, Array], process: Array) -> Array:
    state = ground.machine.solve(ground.columns(*line, process), len(process))
    return side(ground.machine, state)
