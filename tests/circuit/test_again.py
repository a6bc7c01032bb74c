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
from diagnose.circuit.rows import Array, State
from diagnose.inference.ground import Ground
from diagnose.inference.hypotheses import hypotheses
from diagnose.loops.sheet import load_sheet

SHEETS = sorted((Path(__file__).parents[2] / "cases" / "larkmere" / "sheets").glob("*.toml"))
ROWS, MOVES = 60, 40


def volts(state: State) -> Array:
    """Node voltages: (node, row)."""
    return np.array([np.broadcast_to(np.asarray(v, float), state.rows) for v in state.v])


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda path: path.stem)
def test_a_moved_parameter_leads_to_the_point_that_is_found_anew(sheet: Path) -> None:
    loop = load_sheet(sheet)
    machine, rng = Predictor(loop), np.random.default_rng(len(sheet.stem))
    ground = Ground(machine, hypotheses(loop))
    h, x = rng.integers(0, len(ground.hypotheses), ROWS), rng.random(ROWS)
    columns = ground.columns(h, x, rng.uniform(-0.1, 1.1, ROWS))
    start = machine.solve(columns, ROWS)
    resistances = [
        n for n, (_, name) in enumerate(machine.wiring.parameters) if name == "resistance"
    ]
    other, bent = 0, 0
    for number in rng.choice(resistances, min(MOVES, len(resistances)), replace=False):
        there = list(start.columns)
        there[number] = rng.choice([1e-3, 250.0, 1e9], ROWS)
        found = machine.solve_changed(start, there, int(number))
        anew = machine.solve(there, ROWS)
        assert np.array_equal(volts(found), volts(anew))
        assert not machine.differ(found.pieces, anew.pieces).any()
        assert not machine.differ(machine.fitting(found), found.pieces).any()
        other += not np.array_equal(volts(found), volts(start))
        bent += bool(machine.differ(found.pieces, start.pieces).any())
    assert other, "no parameter that was moved changed a voltage"
    assert bent or not machine.bent, "no regime was left"
