"""One predictor for healthy, faulted, metered and conditioned circuits, over many rows at once.

Arrays: a *column* holds one parameter, scalar or shape (rows,); voltages have shape (rows,) per
node; everything is in SI units.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from copy import copy

import numpy as np

from diagnose.circuit.again import Again
from diagnose.circuit.following import Following
from diagnose.circuit.network import Network
from diagnose.circuit.regimes import fitted
from diagnose.circuit.rows import (
    Array,
    Attachment,
    Column,
    Pieces,
    State,
    choose,
    picker,
)
from diagnose.circuit.signals import drive
from diagnose.circuit.store import tapes
from diagnose.circuit.tape import Tape
from diagnose.circuit.wiring import Wiring
from diagnose.loops.loop import Loop


class Predictor:
    """Compiled circuit of one loop."""

    def __init__(self, loop: Loop) -> None:
        self.loop = loop
        self.wiring = Wiring(loop)
        self._tapes = tapes(self.wiring)
        self._laws = self._tapes["laws"].program()
        self._factor = self._tapes["factor"].program()
        self._parameters, self._conductances = picker(self._laws[0]), picker(self._factor[0])
        self._network = Network(self.wiring, self._tapes)
        self._following = Following(self.wiring)
        self._bent = [k for k, wire in enumerate(self.wiring.wires) if len(wire.law.segments) > 1]
        at = {name: number for number, name in enumerate(self._tapes["laws"].outputs)}
        # Where the laws of each branch stand in the output, by letter; looked up once, for speed.
        self._law_at = {
            letter: [
                [at[name] for n in range(self._pieces(k)) if (name := f"{letter}{k}_{n}") in at]
                for k in range(len(self.wiring.wires))
            ]
            for letter in "gju"
        }
        self._first = {letter: [numbers[0] for numbers in self._law_at[letter]] for letter in "gj"}
        self._again = Again(self.wiring, self._tapes, self._network, self._in_force)

    # -- parameters -------------------------------------------------------------------------

    def columns(self, moved: Mapping[int, Column], process: Column) -> list[Column]:
        """Nominal parameters with some of them moved, the driven ones at ``process``, and that."""
        columns: list[Column] = [*self.wiring.nominal, process]
        for number, value in moved.items():
            columns[number] = value
        for part in self.wiring.driven():
            drive(self.wiring, columns, part, process)
        return columns

    def at(self, number: int, off: float) -> Predictor:
        """The same circuit with one nominal value ``off`` higher (SI): nothing is derived anew."""
        other = copy(self)
        other.wiring = self.wiring.at(number, off)
        return other

    # -- operating point --------------------------------------------------------------------

    def solve(
        self,
        columns: list[Column],
        rows: int,
        attachments: tuple[Attachment, ...] = (),
        start: Pieces | None = None,
    ) -> State:
        """Operating point of every row, each in the one regime that fits it.

        Parts that follow signals are driven by what is found, from the first of them to the last;
        a circuit that they feed back into is gone through until nothing moves.  ``start`` guesses
        the regimes: a good guess saves rounds, the answer is the same.
        """
        pieces = self._usual(rows) if start is None else start
        columns = self._following.owned(columns, rows)
        state = self.fixed(columns, rows, pieces, attachments)
        if self._following.driven:
            state = self._following.brought_up(self, state)
        return fitted(self, state)

    def operate(
        self,
        columns: list[Column],
        rows: int,
        attachments: tuple[Attachment, ...],
        start: Pieces | None = None,
    ) -> State:
        """Operating point with all drives held."""
        pieces = self._usual(rows) if start is None else start
        return fitted(self, self.fixed(columns, rows, pieces, attachments))

    def moved(
        self,
        state: State,
        columns: list[Column],
        pieces: Pieces | None = None,
    ) -> State:
        """``state`` at columns with other drives, and in other regimes, fit or not."""
        pieces = state.pieces if pieces is None else pieces
        if state.attachments:
            return self.fixed(columns, state.rows, pieces, state.attachments)
        bent = [k for k, piece in pieces.items() if (piece != state.pieces[k]).any()]
        # Few plans serve for all: each takes some milliseconds to make.
        bent = bent if len(bent) < 2 else self._bent
        drives = () if columns is state.columns else self._following.driven
        return self._again.moved(state, columns, drives, pieces, bent)

    def _usual(self, rows: int) -> Pieces:
        """The regimes of a sound loop: the last piece of most laws."""
        return {
            k: np.full(rows, 0 if self._starts_low(k) else self._pieces(k) - 1) for k in self._bent
        }

    def _pieces(self, k: int) -> int:
        return len(self.wiring.wires[k].law.segments)

    def _starts_low(self, k: int) -> bool:
        return self._pieces(k) == 2 and self.wiring.wires[k].law.segments[0].regime == "blocked"

    def _solve_fixed(
        self,
        columns: list[Column],
        rows: int,
        laws: Sequence[Column],
        pieces: Pieces,
        attachments: tuple[Attachment, ...],
    ) -> State:
        """Solve with the given segments, whether they fit or not."""
        g, j = self._laws_in_force(laws, pieces)
        factors = dict(
            zip(
                self._tapes["factor"].outputs,
                self._factor[1](*self._conductances(g)),
                strict=True,
            )
        )
        state = State(rows, columns, pieces, g, j, [], factors, laws=laws)
        state.v = self._network.under_sources(factors, j)
        for attachment in attachments:
            self._attach(state, attachment)
        return state

    def _attach(self, state: State, attachment: Attachment) -> None:
        """Fit the meter: a rank-one change of the solved network, exact within the regime."""
        a, b = self.wiring.node[attachment.a], self.wiring.node[attachment.b]
        response = self.respond(state, {a: 1.0, b: -1.0})
        seen = response[a] - response[b]
        held = 1 + attachment.conductance * seen
        state.attached = (state.v[a] - state.v[b] - attachment.source * seen) / held
        current = attachment.conductance * state.attached + attachment.source
        state.v = [
            v if isinstance(w, float) and w == 0.0 else v - w * current
            for v, w in zip(state.v, response, strict=True)
        ]
        probe = [w if isinstance(w, float) and w == 0.0 else w / held for w in response]
        state.attachments += (attachment,)
        state.probes += (probe,)

    def respond(self, state: State, injected: Mapping[int, Column]) -> list[Column]:
        """Node voltages per ampere injected, all sources dead, attachments fitted."""
        sources: dict[int, Column] = {}
        for node, value in injected.items():
            if node:
                sources[node] = sources.get(node, 0.0) + value
        response = self._network.injected(state.factors, sources)
        for attachment, probe in zip(state.attachments, state.probes, strict=True):
            a, b = self.wiring.node[attachment.a], self.wiring.node[attachment.b]
            current = attachment.conductance * (response[a] - response[b])
            response = [
                w if isinstance(u, float) and u == 0.0 else w - u * current
                for w, u in zip(response, probe, strict=True)
            ]
        return response

    def _laws_in_force(
        self, laws: Sequence[Column], pieces: Pieces
    ) -> tuple[list[Column], list[Column]]:
        g, j = ([laws[number] for number in self._first[letter]] for letter in "gj")
        for k in pieces:
            g[k], j[k] = (self._in_force(letter, k, laws, pieces) for letter in "gj")
        return g, j

    def _in_force(self, letter: str, k: int, laws: Sequence[Column], pieces: Pieces) -> Column:
        numbers = self._law_at[letter][k]
        if k not in pieces:
            return laws[numbers[0]]
        return choose(pieces[k], [laws[number] for number in numbers])

    def fitting(self, state: State) -> Pieces:
        """The segment in which each bent branch would be at the voltages of ``state``."""
        found = {}
        for k in self._bent:
            wire = self.wiring.wires[k]
            across = state.v[wire.a] - state.v[wire.b]
            number = np.zeros(state.rows, int)
            for piece, end in enumerate(self.ends(state.laws, k)):
                slack = 1e-12 * (1 + np.abs(end))
                stays = state.pieces[k] <= piece
                number += across > np.where(stays, end + slack, end - slack)
            # One piece at a time: a jump over several can circle for ever, a walk cannot, because
            # each straight law tells on which side of its piece the operating point lies.
            found[k] = np.clip(number, state.pieces[k] - 1, state.pieces[k] + 1)
        return found

    # -- for those who ask ------------------------------------------------------------------

    @property
    def bent(self) -> Sequence[int]:
        """Branches whose law has several pieces."""
        return self._bent

    def ends(self, laws: Sequence[Column], k: int) -> list[Column]:
        """Voltages at which the pieces of branch k meet."""
        return [laws[number] for number in self._law_at["u"][k]]

    def carried_on(self, here: State, there: State) -> State:
        """The columns of ``there`` solved with the regimes of ``here``, fit or not."""
        return self.fixed(there.columns, here.rows, here.pieces, here.attachments)

    def fixed(
        self,
        columns: list[Column],
        rows: int,
        pieces: Pieces,
        attachments: tuple[Attachment, ...],
    ) -> State:
        """Any columns solved in given regimes, fit or not."""
        laws = self._laws[1](*self._parameters(columns))
        return self._solve_fixed(columns, rows, laws, pieces, attachments)

    def held(self, state: State, pieces: Pieces) -> State:
        """The columns of ``state`` solved in other regimes, fit or not."""
        return self._solve_fixed(state.columns, state.rows, state.laws, pieces, state.attachments)

    @staticmethod
    def differ(some: Pieces, others: Pieces) -> Array:
        """True where any branch stands in another regime: (row,)."""
        result: Array = np.any([some[k] != others[k] for k in others], axis=0)
        return result

    def slope_tape(self) -> Tape:
        """Derivatives of the laws by parameter."""
        return self._tapes["slopes"]
