"""Parts that follow signals, brought to where nothing moves: drives and regimes of many rows."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from diagnose.circuit.regimes import followed, quick, settled
from diagnose.circuit.rows import (
    Array,
    Attachment,
    Column,
    Pieces,
    State,
    merge_column,
    take,
    unsolved,
)
from diagnose.circuit.signals import drive, driven_by, ends, follow, least, told
from diagnose.circuit.wiring import Wiring

if TYPE_CHECKING:
    from diagnose.circuit.predictor import Predictor

MOST_TURNS = 12
"""Turns after which a circuit that feeds itself goes round for good."""

ROUND = 4
"""Turns that such a circuit is watched for: it comes round in two or three."""

TOGETHER = 3
"""Turns after which most rows stand still: the rest go on by themselves."""


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

    def owned(self, columns: list[Column], rows: int) -> list[Column]:
        """The columns with arrays of their own for whatever is driven."""
        found = list(columns)
        for number in self.driven:
            found[number] = np.array(np.broadcast_to(columns[number], rows), dtype=float)
        return found

    def brought_up(self, machine: Predictor, state: State) -> State:
        """A solved state with all drives in place, in the regimes found on the way.

        The first turns bring up all rows together where that is quick.
        """
        rows = state.rows
        before = np.full((len(self.driven), rows), np.nan)
        for turn in range(TOGETHER):
            found = machine.fitting(state)
            moved = np.flatnonzero(machine.differ(found, state.pieces))
            if len(moved):
                state = followed(machine, state, found, moved)
            columns = list(state.columns)
            moved = follow(self.wiring, columns, state.v, rows)
            if not len(moved):
                return state
            if turn % 2:
                before[:, moved] = self._drives(columns, rows)[:, moved]
            if turn == TOGETHER - 1 or not quick(state, len(moved)):
                break
            state = machine.moved(state, columns)
        return self._apart(machine, state, columns, moved, before, turn + 1)

    def _drives(self, columns: list[Column], rows: int) -> Array:
        """What is driven, as it stands: (drive, row)."""
        return np.array([np.broadcast_to(columns[number], rows) for number in self.driven])

    def _apart(
        self,
        machine: Predictor,
        state: State,
        columns: list[Column],
        open_: Array,
        before: Array,
        first: int,
    ) -> State:
        """The same from turn ``first`` on: only rows in which something still moves are solved.

        Nothing is kept of it but drives and regimes: a row that circles costs its own rounds, not
        those of all beside it.  ``before`` (drive, row) are the drives two turns ago.

        Where it goes round for good, as a relay chatters that pulls down its own supply, what comes
        and goes counts as gone: wherever it was left would hang on where it began.
        """
        rows, attachments = state.rows, state.attachments
        drives = dict(zip(self.driven, self._drives(columns, rows), strict=True))
        for number, values in drives.items():
            columns[number] = values
        pieces = {k: piece.copy() for k, piece in state.pieces.items()}
        circling: list[Array] = []
        for turn in range(first, MOST_TURNS):
            some = [take(column, open_) for column in columns] if len(open_) < rows else columns[:]
            here = {k: piece[open_] for k, piece in pieces.items()}
            one = machine.fixed(some, len(open_), here, attachments)
            volts = self._volts(machine, one, pieces, open_)
            moved = follow(self.wiring, some, volts, len(open_))
            open_ = open_[moved]
            if not len(open_):
                break
            for number, values in drives.items():
                values[open_] = take(some[number], moved)
            if turn % 2:
                # What stands as it stood two turns ago would go on to and fro until the last turn.
                now = np.array([values[open_] for values in drives.values()])
                stays = (now == before[:, open_]).all(axis=0)
                before[:, open_] = now
                circling.append(open_[stays])
                open_ = open_[~stays]
        circling.append(open_)
        if len(round_ := np.concatenate(circling)):
            self._let_go(machine, columns, pieces, round_, attachments)
        return machine.moved(state, columns, pieces)

    def _let_go(
        self,
        machine: Predictor,
        columns: list[Column],
        pieces: Pieces,
        rows: Array,
        attachments: tuple[Attachment, ...],
    ) -> None:
        """Put circling rows where every signal is the least of those that come round, in place.

        What only goes round because all follow at once stands still when one follows after another:
        a trip that holds itself in.
        """
        some = [take(column, rows) for column in columns]

        def now() -> list[Any]:
            here = {k: piece[rows] for k, piece in pieces.items()}
            one = machine.fixed(some, len(rows), here, attachments)
            return told(self.wiring, some, self._volts(machine, one, pieces, rows))

        heard = lowest = now()
        for _ in range(ROUND):
            driven_by(self.wiring, some, heard, len(rows))
            heard = now()
            lowest = [least(*pair) for pair in zip(lowest, heard, strict=True)]
        driven_by(self.wiring, some, lowest, len(rows))
        gone = self._drives(some, len(rows))
        for _ in range(ROUND):
            moved = np.zeros(len(rows), bool)
            for n, part in enumerate(self.wiring.followers):
                moved |= drive(self.wiring, some, part, now()[n])
        for number, low in zip(self.driven, gone, strict=True):
            values = np.asarray(columns[number])  # an array of its own: no copy
            values[rows] = np.where(moved, low, some[number])

    def _volts(self, machine: Predictor, state: State, pieces: Pieces, rows: Array) -> list[Column]:
        """Node voltages of some rows, good where signals come from; brings up their ``pieces``."""
        found = machine.fitting(state)
        moved = np.flatnonzero(machine.differ(found, state.pieces))
        if not len(moved):
            return state.v
        part = unsolved(state, moved)
        stay = settled(machine, part, {k: piece[moved] for k, piece in found.items()})
        for k, piece in stay.items():
            pieces[k][rows[moved]] = piece
        new = machine.held(part, stay).v
        return [
            merge_column(old, new[node], moved, state.rows) if node in self.told else old
            for node, old in enumerate(state.v)
        ]
