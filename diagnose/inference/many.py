"""Many pairs of points at once: one pass through the circuit for all that a meter could span."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.circuit.questions import slopes, strays
from diagnose.circuit.rows import Array, Column, State
from diagnose.inference.observe import Observer


@dataclass
class Spanned:
    """Levels (pair, row) and slopes (pair, row, spread) of many pairs.

    ``moved`` (pair,) marks pairs where the meter pushed some row into another regime: these must
    be asked one by one.
    """

    level: Array
    slope: Array
    moved: Array


def span(
    observer: Observer, function: str, pairs: Sequence[tuple[str, str]], state: State, still: Array
) -> Spanned:
    """What a meter on ``V`` or ``ohm`` shows across each pair, fitted there alone."""
    machine = observer.machine
    wiring = machine.wiring
    meter = observer.meter_of(function, *pairs[0])
    ends = [(wiring.node[a], wiring.node[b]) for a, b in pairs]
    probe = machine.respond(state, _injected(ends))
    seen = np.stack(
        [_row(probe[a], n, state) - _row(probe[b], n, state) for n, (a, b) in enumerate(ends)]
    )
    volts = np.stack([np.broadcast_to(state.v[a] - state.v[b], (state.rows,)) for a, b in ends])
    held = 1 + seen * meter.conductance
    level = (volts - meter.source * seen) / held
    current = meter.conductance * level + meter.source
    loaded = [
        v if isinstance(w, float) else v - w * current for v, w in zip(state.v, probe, strict=True)
    ]
    slope = np.zeros((len(pairs), state.rows, len(observer.spreads)))
    for letter, k, number, value in slopes(machine, state, observer.numbers):
        wire = wiring.wires[k]
        across = loaded[wire.a] - loaded[wire.b] if letter == "g" else 1.0
        place = observer.numbers.index(number)
        slope[:, :, place] -= (probe[wire.a] - probe[wire.b]) / held * value * across
    slope *= np.array([spread.sd for spread in observer.spreads]) * still
    return Spanned(level, slope, strays(machine, state, loaded))


def _injected(ends: Sequence[tuple[int, int]]) -> dict[int, Column]:
    """One ampere into the first and out of the second node of each pair: node -> (pair, 1)."""
    injected: dict[int, Array] = {}
    for n, (a, b) in enumerate(ends):
        for node, sign in ((a, 1.0), (b, -1.0)):
            if node:
                injected.setdefault(node, np.zeros((len(ends), 1)))[n] += sign
    return dict(injected)


def _row(column: Column, n: int, state: State) -> Array:
    """Row ``n`` of a (pair, row) response; a dead node answers nothing to any pair."""
    one = column if isinstance(column, float) else column[n]
    return np.broadcast_to(np.asarray(one, float), (state.rows,))
