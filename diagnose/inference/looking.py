"""Looking at solved circuits: many looks at once, in every row.

A *look* is a voltage between two nodes, times a gain, plus an offset; a meter that loads the
circuit hangs across the same two nodes.  Shapes: (look, row), or (row,) where each row has one look
of its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from diagnose.circuit.predictor import Predictor
from diagnose.circuit.questions import strays
from diagnose.circuit.regimes import MOST_ROUNDS
from diagnose.circuit.rows import Array, Attachment, Column, Leads, State, across, leads, subset
from diagnose.circuit.signals import Slopes


@dataclass
class Look:
    """One thing that is looked at in every row of a state.

    ``a`` and ``b`` are the numbers of the nodes, alike in all rows or (row,); the meter draws
    ``conductance * volts + source``.  ``direct`` are derivatives of the level, by parameter, that
    do not go through the volts.  What is ``unsigned`` is shown without its sign.
    """

    a: int | Array = 0
    b: int | Array = 0
    gain: Column = 1.0
    offset: Column = 0.0
    conductance: Column = 0.0
    source: float = 0.0
    direct: Slopes = field(default_factory=dict)
    unsigned: bool = False


@dataclass
class Looks:
    """Many looks as arrays (look, 1) or (look, row), or with one look for each row (row,)."""

    at: Leads
    gain: Array
    offset: Array
    conductance: Array
    source: Array

    @classmethod
    def of(cls, looks: Sequence[Look], rows: int) -> Looks:
        """The looks side by side, each in all rows."""
        a, b, gain, offset, conductance, source = (
            _beside([getattr(look, name) for look in looks], rows)
            for name in ("a", "b", "gain", "offset", "conductance", "source")
        )
        return cls(leads(a, b), gain, offset, conductance, source)

    def each(self, look: Array, row: Array, rows: int) -> Looks:
        """For each pair of a look and a row the one look: (pair,)."""

        def some(values: Array) -> Array:
            return np.broadcast_to(values, (len(values), rows))[look, row]

        at = {node: some(sign) for node, sign in self.at.items()}
        return Looks(
            at, some(self.gain), some(self.offset), some(self.conductance), some(self.source)
        )

    @property
    def loading(self) -> Array:
        """Whether a meter loads the circuit: as ``conductance``."""
        result: Array = (self.conductance != 0) | (self.source != 0)
        return result


def _beside(values: Sequence[Column], rows: int) -> Array:
    if all(np.ndim(value) == 0 for value in values):
        return np.array(values)[:, None]
    return np.stack([np.broadcast_to(np.asarray(value), (rows,)) for value in values])


@dataclass
class Load:
    """What looks see: levels, node voltages with the meter on, response of nodes to the level."""

    level: Array
    v: Sequence[Column]
    probe: list[Column]


@dataclass
class Settled:
    """Pairs (look, row) in which the meter pushes the circuit into other regimes.

    ``state`` is the circuit of each pair in these, without the meter; ``load`` what is seen.
    """

    look: Array
    row: Array
    state: State
    load: Load


def load(machine: Predictor, looks: Looks, state: State, probed: bool = True) -> Load:
    """Fit the meters: a rank-one change of the solved network, exact within the regime.

    Where nothing loads the circuit, the response is only found if it is to be ``probed``.
    """
    if not probed and not looks.loading.any():
        return Load(looks.gain * across(looks.at, state.v) + looks.offset, state.v, [])
    probe = machine.respond(state, dict(looks.at))
    seen = across(looks.at, probe)
    held = 1 + seen * looks.conductance
    volts = (across(looks.at, state.v) - looks.source * seen) / held
    v: Sequence[Column] = state.v
    if looks.loading.any():
        current = looks.conductance * volts + looks.source
        v = [u if _dead(w) else u - w * current for u, w in zip(state.v, probe, strict=True)]
    weight = looks.gain / held
    return Load(
        looks.gain * volts + looks.offset, v, [w if _dead(w) else w * weight for w in probe]
    )


def _dead(response: Column) -> bool:
    """A node that no look reaches."""
    return isinstance(response, float) and response == 0.0


def settle(machine: Predictor, looks: Looks, state: State, found: Load) -> Settled | None:
    """Where a meter moves a regime: these circuits solved with it; None where none does."""
    shape = (len(looks.gain), state.rows)
    if not looks.loading.any():
        return None
    look, row = np.nonzero(strays(machine, state, found.v, shape) & looks.loading)
    if not len(look):
        return None
    each, some = looks.each(look, row, state.rows), subset(state, row)
    seen = load(machine, each, some)
    for _ in range(MOST_ROUNDS):
        pieces = machine.fitting(replace(some, v=list(seen.v)))
        if not machine.differ(pieces, some.pieces).any():
            return Settled(look, row, some, seen)
        some = machine.held(some, pieces)
        seen = load(machine, each, some)
    some = _searched(machine, each, some)
    return Settled(look, row, some, load(machine, each, some))


def _searched(machine: Predictor, looks: Looks, state: State) -> State:
    """Pairs that circle between regimes, each solved with its meter as part of the circuit."""
    pieces = {k: piece.copy() for k, piece in state.pieces.items()}
    nodes = machine.wiring.nodes
    for n in range(state.rows):
        one = subset(state, np.array([n]))
        a, b = (
            next((node for node, at in looks.at.items() if at[n] == sign), 0) for sign in (1, -1)
        )
        meter = Attachment(nodes[a], nodes[b], looks.conductance[n], looks.source[n])
        solved = machine.operate(one.columns, 1, (*state.attachments, meter))
        for k, piece in solved.pieces.items():
            pieces[k][n] = piece[0]
    return machine.held(state, pieces)
