"""Parts that follow signals, brought to where nothing moves: drives and regimes of many rows."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from diagnose.circuit.rows import Array, Attachment, Column, Pieces, merge_column, take, unsolved
from diagnose.circuit.signals import ends, follow
from diagnose.circuit.wiring import Wiring

if TYPE_CHECKING:
    from diagnose.circuit.predictor import Predictor

MOST_ROUNDS = 12
"""Rounds after which a circuit that feeds itself is left where it stands."""


class Following:
    """What follows in one circuit: ``driven`` parameters, ``told`` nodes that signals come from."""

    def __init__(self, wiring: Wiring) -> None:
        self.wiring = wiring
        self.driven = [
            wiring.index[part.name, name] for part in wiring.followers for name in part.kind.driven
        ]
        self.told = {
            node
            for part in wiring.followers
            for name in wiring.leaders(part)
            for node in ends(wiring, wiring.parts[name]) or ()
        }

    def brought_up(
        self,
        machine: Predictor,
        columns: list[Column],
        rows: int,
        attachments: tuple[Attachment, ...],
        start: Pieces,
    ) -> tuple[list[Column], Pieces]:
        """Columns with all drives in place, and the regimes of every row.

        Only rows in which something still moves are solved again, and nothing is kept of it but
        drives and regimes: a row that circles costs its own rounds, not those of all beside it.
        """
        drives = {
            number: np.array(np.broadcast_to(columns[number], rows), dtype=float)
            for number in self.driven
        }
        columns = [drives.get(number, column) for number, column in enumerate(columns)]
        pieces = {k: piece.copy() for k, piece in start.items()}
        open_ = np.arange(rows)
        before = np.full((len(drives), rows), np.nan)
        for turn in range(MOST_ROUNDS):
            some = list(columns)
            if len(open_) < rows:
                some = [take(column, open_) for column in columns]
            volts = self._volts(machine, some, attachments, pieces, open_)
            moved = follow(self.wiring, some, volts, len(open_))
            if not len(moved):
                break
            open_ = open_[moved]
            for number, values in drives.items():
                values[open_] = take(some[number], moved)
            if turn % 2:
                # What stands as it stood two turns ago would go on to and fro until the last turn.
                now = np.array([values[open_] for values in drives.values()])
                stays = (now == before[:, open_]).all(axis=0)
                before[:, open_] = now
                open_ = open_[~stays]
                if not len(open_):
                    break
        return columns, pieces

    def _volts(
        self,
        machine: Predictor,
        columns: list[Column],
        attachments: tuple[Attachment, ...],
        pieces: Pieces,
        rows: Array,
    ) -> list[Column]:
        """Node voltages, good where signals come from; ``pieces`` of these rows are brought up."""
        here = {k: piece[rows] for k, piece in pieces.items()}
        state = machine.fixed(columns, len(rows), here, attachments)
        found = machine.fitting(state)
        moved = np.flatnonzero(machine.differ(found, here))
        if not len(moved):
            return state.v
        part = unsolved(state, moved)
        settled = machine.settled(part, {k: piece[moved] for k, piece in found.items()})
        for k, piece in settled.items():
            pieces[k][rows[moved]] = piece
        new = machine.held(part, settled).v
        return [
            merge_column(old, new[node], moved, len(rows)) if node in self.told else old
            for node, old in enumerate(state.v)
        ]
