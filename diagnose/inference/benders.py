"""The tolerances that move a bend of the circuit: of a law itself, or of what drives it.

A transmitter lets go at so many volts; how many are left for it depends on its supply, and on what
lies between.  Of many independent tolerances one direction counts, in which all that move a bend
do so together.  Shapes: (spread,), (branch, 1 + spread).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.circuit.predictor import Predictor
from diagnose.circuit.rows import Array, Column, State

MOVES = 0.3
"""Volts by which a standard deviation must move the bend of a law."""

PUSHES = 0.2
"""Volts by which it must move what drives the law: one in twelve of what a transmitter needs."""

FAINT = 0.1
"""Share of the largest part of a direction below which a tolerance is left out of it."""


@dataclass(frozen=True)
class Bender:
    """Standard deviations of each tolerance in one of their direction (spread,); what it bends."""

    way: Array
    branches: tuple[int, ...]


def benders(machine: Predictor, state: State) -> tuple[Bender, ...]:
    """The tolerances that move the volts at which a law bends: a direction for each such law.

    An isolator lets go at volts of its own, whatever those of the transmitter are.  ``state`` is
    the sound loop, then with each tolerance moved (``spreads.each_moved``).
    """
    ends = [(k, end) for k in machine.bent for end in machine.ends(state.laws, k)]
    shift = np.array([_moved(end, state.rows) for _, end in ends]).reshape(-1, state.rows)
    found: list[Bender] = []
    while one := _furthest(shift, [k for k, _ in ends], MOVES):
        found.append(one)
        shift[:, 1:] -= np.outer(shift[:, 1:] @ one.way, one.way)
    return tuple(found)


def pusher(machine: Predictor, state: State, branches: Sequence[int]) -> Bender | None:
    """The tolerances of other parts that move the volts across some bent branches."""
    bent = [k for k in machine.bent if k in branches]
    wires = [machine.wiring.wires[k] for k in bent]
    volts = [_moved(state.v[wire.a] - state.v[wire.b], state.rows) for wire in wires]
    return _furthest(np.array(volts).reshape(-1, state.rows), bent, PUSHES)


def _moved(volts: Column, rows: int) -> Array:
    every = np.broadcast_to(volts, rows)
    result: Array = every - every[0]
    return result


def _furthest(shift: Array, branches: Sequence[int], least: float) -> Bender | None:
    """The direction of the bend that is shifted most, where that is more than ``least`` volts."""
    most = np.linalg.norm(shift, axis=1)
    if most.max(initial=0.0) <= least:
        return None
    way = shift[most.argmax(), 1:]
    way = np.where(np.abs(way) > FAINT * np.abs(way).max(), way, 0.0)
    way = way / np.linalg.norm(way)
    along = np.abs(shift[:, 1:] @ way)
    return Bender(way, tuple(dict.fromkeys(np.array(branches)[along > least].tolist())))
