"""Regimes of bent branches: followed from the voltages until they stay.

The network is monotone, so that every row has one operating point, in one combination of regimes.
Voltages are those of straight laws in force; where they lie beyond the end of a piece, the branch
goes one piece on, and the network is solved again.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from diagnose.circuit.rows import Array, Pieces, State, unsolved
from diagnose.circuit.searching import try_all

if TYPE_CHECKING:
    from diagnose.circuit.predictor import Predictor

MOST_ROUNDS = 12
"""Rounds after which a row that circles is left to a search of all combinations."""

FEW, SHARE = 1000, 0.4
"""Rows, and share of the rows that have moved, from which only these are solved again: below, or
where more have moved, it is quicker to bring up all rows to what has changed."""


def fitted(machine: Predictor, state: State) -> State:
    """The same columns in the regimes that fit them; all are tried where rows do not settle."""
    found = machine.fitting(state)
    moved = np.flatnonzero(machine.differ(found, state.pieces))
    return try_all(machine, followed(machine, state, found, moved)) if len(moved) else state


def followed(machine: Predictor, state: State, found: Pieces, moved: Array) -> State:
    """``state`` with the regimes of rows that have ``moved`` to ``found`` followed on."""
    if quick(state, len(moved)):
        return _followed(machine, state, found)
    part = {k: piece[moved] for k, piece in found.items()}
    pieces = dict(state.pieces)
    for k, piece in settled(machine, unsolved(state, moved), part).items():
        pieces[k] = pieces[k].copy()
        pieces[k][moved] = piece
    return machine.moved(state, state.columns, pieces)


def _followed(machine: Predictor, state: State, found: Pieces) -> State:
    for _ in range(MOST_ROUNDS + 1):
        state = machine.moved(state, state.columns, found)
        found = machine.fitting(state)
        if not machine.differ(found, state.pieces).any():
            break
    return state


def quick(state: State, moved: int) -> bool:
    """Whether all rows are sooner brought up to a change than ``moved`` ones solved anew."""
    return not state.attachments and (state.rows < FEW or moved > SHARE * state.rows)


def settled(machine: Predictor, state: State, found: Pieces) -> Pieces:
    """Regimes of rows that have moved to ``found``: followed until they stay, if they do.

    Only what still moves is solved again, and nothing is kept of it but the regimes: to put
    some rows of a state into another costs more than to solve all rows once more.
    """
    pieces = {k: piece.copy() for k, piece in found.items()}
    open_ = np.arange(state.rows)
    for _ in range(MOST_ROUNDS):
        state = machine.held(state, found)
        found = machine.fitting(state)
        moved = np.flatnonzero(machine.differ(found, state.pieces))
        if not len(moved):
            break
        open_, state = open_[moved], unsolved(state, moved)
        found = {k: piece[moved] for k, piece in found.items()}
        for k, piece in found.items():
            pieces[k][open_] = piece
    return pieces
