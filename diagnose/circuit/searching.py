"""The last resort for rows that circle between regimes: every combination is tried."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from diagnose.circuit.rows import State, merge, spread, subset

if TYPE_CHECKING:
    from diagnose.circuit.predictor import Predictor


def try_all(machine: Predictor, state: State) -> State:
    """``state`` with the rows whose regimes do not fit solved in the one that fits best."""
    for row in np.flatnonzero(machine.differ(machine.fitting(state), state.pieces)):
        rows = np.array([row])
        state = merge(state, _best(machine, subset(state, rows)), rows)
    return state


def _best(machine: Predictor, one: State) -> State:
    """The one row of a state in the combination of regimes that fits it best."""
    bent = machine.bent
    sizes = [range(len(machine.wiring.wires[k].law.segments)) for k in bent]
    combos = np.array(np.meshgrid(*sizes, indexing="ij")).reshape(len(sizes), -1)
    count = combos.shape[1]
    wide = State(
        count,
        [spread(column, count) for column in one.columns],
        {},
        [],
        [],
        [],
        {},
        attachments=one.attachments,
        laws=[spread(value, count) for value in one.laws],
    )
    state = machine.held(wide, {k: combos[n] for n, k in enumerate(bent)})
    misfit = np.zeros(count)
    for n, k in enumerate(bent):
        wire = machine.wiring.wires[k]
        across = np.broadcast_to(state.v[wire.a] - state.v[wire.b], (count,))
        for piece, end in enumerate(machine.ends(wide.laws, k)):
            below = combos[n] <= piece
            misfit += np.maximum(np.where(below, across - end, end - across), 0)
    return subset(state, np.array([int(np.argmin(misfit))]))
