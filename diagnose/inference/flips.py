"""Where a switch turns between two process values: a bend with a leap, nodes on either side."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from diagnose.circuit.predictor import Predictor
from diagnose.circuit.rows import Array, State
from diagnose.circuit.signals import level
from diagnose.loops.loop import Part

if TYPE_CHECKING:
    from diagnose.inference.grid import Ground

ROUNDS = 30
"""Steps of the search; each halves at least."""

NARROW = 1e-8
"""Width of the process interval at which the search ends: far below the distance of the nodes."""


def above(machine: Predictor, state: State) -> Array:
    """Which switches are on, as one number for each row."""
    total = np.zeros(state.rows, int)
    for part in machine.wiring.switches:
        total = 2 * total + (_level(machine, part, state) > 0)
    return total


def _level(machine: Predictor, part: Part, state: State) -> Array:
    gives = part.kind.signal
    assert gives is not None
    found = level(machine.wiring, part, gives, state.columns, state.v)
    return np.broadcast_to(np.asarray(found, float), (state.rows,))


def with_flips(
    ground: Ground,
    h: Array,
    x: Array,
    ends: tuple[State, State],
    between: tuple[Array, Array],
    bends: tuple[Array, Array],
) -> tuple[Array, Array]:
    """The two bends (line,) with the flips of switches put where there is room for them.

    ``ends`` are the circuits at the process values ``between``, ``bends`` what was found there;
    a bend that is none stands at the end.
    """
    last = between[1]
    found = [*bends]
    for part in ground.machine.wiring.switches:
        low, high = (_level(ground.machine, part, state) for state in ends)
        rows = np.flatnonzero((low > 0) != (high > 0))
        if len(rows):
            flip = last.copy()
            flip[rows] = _turn(ground, part, (h[rows], x[rows]), [b[rows] for b in between])
            found.append(flip)
    if len(found) == 2:
        return bends
    ordered = np.sort(np.stack(found), axis=0)
    return ordered[0], _second(ordered, last)


def _second(ordered: Array, last: Array) -> Array:
    """The next value above the first, else the end: equal bends are one."""
    later = np.where(ordered > ordered[0] + NARROW, ordered, last)
    result: Array = later.min(axis=0)
    return result


def _turn(ground: Ground, part: Part, line: tuple[Array, Array], between: list[Array]) -> Array:
    """Process values at which a switch turns, by halving the interval."""
    low, high = between[0].copy(), between[1].copy()
    start = _on(ground, part, line, low)
    for _ in range(ROUNDS):
        if (high - low).max() < NARROW:
            break
        middle = (low + high) / 2
        same = _on(ground, part, line, middle) == start
        low, high = np.where(same, middle, low), np.where(same, high, middle)
    return (low + high) / 2


def _on(ground: Ground, part: Part, line: tuple[Array, Array], process: Array) -> Array:
    state = ground.machine.solve(ground.columns(*line, process), len(process))
    result: Array = _level(ground.machine, part, state) > 0
    return result
