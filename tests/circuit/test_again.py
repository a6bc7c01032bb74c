"""Brought from one operating point to another, a circuit stands where it would if solved anew.

The network has one operating point (Duffin 1946, from memory), so that the way there cannot matter;
what is found anew is found by the same steps, so that not even the last bit may differ.  That these
points are right is checked against a circuit simulator elsewhere (``test_spice_agreement``).
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from diagnose.circuit.predictor import Predictor
from diagnose.circuit.rows import Array, Pieces, State
from diagnose.inference.ground import Ground
from diagnose.inference.hypotheses import hypotheses
from diagnose.loops.sheet import load_sheet

SHEETS = sorted((Path(__file__).parents[2] / "cases" / "larkmere" / "sheets").glob("*.toml"))
ROWS = 60


def volts(state: State) -> Array:
    """Node voltages: (node, row)."""
    return np.array([np.broadcast_to(np.asarray(v, float), state.rows) for v in state.v])


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda path: path.stem)
def test_other_regimes_and_drives_lead_to_the_point_that_is_found_anew(sheet: Path) -> None:
    loop = load_sheet(sheet)
    machine, rng = Predictor(loop), np.random.default_rng(len(sheet.stem))
    ground = Ground(machine, hypotheses(loop))
    h, x = rng.integers(0, len(ground.hypotheses), ROWS), rng.random(ROWS)
    start = machine.solve(ground.columns(h, x, rng.uniform(-0.1, 1.1, ROWS)), ROWS)
    driven = [
        machine.wiring.index[part.name, name]
        for part in machine.wiring.followers
        for name in part.kind.driven
    ]
    changed = 0
    for one in (*([k] for k in machine.bent), machine.bent):
        pieces = other(machine, start, one, rng)
        columns = list(start.columns)
        for number in driven:
            columns[number] = columns[number] * rng.uniform(0.5, 2.0, ROWS)
        for there in (start.columns, columns):
            found = machine.moved(start, there, pieces)
            anew = machine.fixed(there, ROWS, pieces, ())
            assert np.array_equal(volts(found), volts(anew))
            changed += not np.array_equal(volts(found), volts(start))
            assert all(np.array_equal(a, b) for a, b in zip(found.laws, anew.laws, strict=True))
            for name, factor in anew.factors.items():
                assert np.array_equal(found.factors[name], factor), name
    assert changed or not (machine.bent or driven)


def other(machine: Predictor, state: State, bent: list[int], rng: np.random.Generator) -> Pieces:
    """The regimes of a state, but for some branches drawn at random in half of the rows."""
    pieces = dict(state.pieces)
    for k in bent:
        count = len(machine.wiring.wires[k].law.segments)
        drawn = rng.integers(0, count, state.rows)
        pieces[k] = np.where(rng.random(state.rows) < 0.5, drawn, pieces[k])
    return pieces
