"""The tolerance that moves a bend of the circuit furthest: of a law itself, or of what drives it.

A transmitter lets go at so many volts; how many are left for it depends on its supply.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from diagnose.circuit.predictor import Predictor
from diagnose.circuit.rows import Array, Column, State

Bender = tuple[int, tuple[int, ...]]
"""Place of a tolerance among the spreads, and the branches that it bends."""

MOVES = 0.3
"""Volts by which a standard deviation must move the bend of a law."""

PUSHES = 0.2
"""Volts by which it must move what drives the law: one in twelve of what a transmitter needs."""


def bender(machine: Predictor, state: State) -> Bender | None:
    """The tolerance that moves the volts at which a law bends.

    ``state`` is the sound loop, then with each tolerance moved (``spreads.each_moved``).
    """
    shift = np.zeros((len(machine.bent), state.rows))
    for n, k in enumerate(machine.bent):
        for end in machine.ends(state.laws, k):
            shift[n] = np.maximum(shift[n], _moves(end, state.rows))
    return _furthest(shift, machine.bent, MOVES)


def pusher(machine: Predictor, state: State, branches: Sequence[int]) -> Bender | None:
    """The tolerance of another part that moves the volts across some bent branches."""
    bent = [k for k in machine.bent if k in branches]
    if not bent:
        return None
    shift = np.zeros((len(bent), state.rows))
    for n, k in enumerate(bent):
        wire = machine.wiring.wires[k]
        shift[n] = _moves(state.v[wire.a] - state.v[wire.b], state.rows)
    return _furthest(shift, bent, PUSHES)


def _moves(volts: Column, rows: int) -> Array:
    every = np.broadcast_to(volts, rows)
    result: Array = np.abs(every - every[0])
    return result


def _furthest(shift: Array, branches: Sequence[int], least: float) -> Bender | None:
    """Of shifts (branch, 1 + spread) the largest, where it is more than ``least``."""
    most = shift.max(axis=0, initial=0.0)
    if most.max() <= least:
        return None
    row = int(most.argmax())
    return row - 1, tuple(k for n, k in enumerate(branches) if shift[n, row] > least)
