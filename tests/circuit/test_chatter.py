"""A relay that pulls down its own supply has no state to stay in: it counts as released.

Common practice, no source: what chatters does not hold, and a trip is made to fail to its alarm.
Held against the same circuit where the trip has released the relay for good, and against itself
from other guesses and in other company.
"""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.circuit.predictor import Predictor
from diagnose.loops.plant import open_plant

WEAK = np.array([5.0, 50.0, 58.0, 62.0, 65.0])
"""Ohms in the lead of the supply: the relay holds at the first two, and chatters at the others."""


def volts(machine: Predictor, ohms: np.ndarray, process: float, start: int | None = None) -> dict:
    number = machine.wiring.index["G2+.X25", "resistance"]
    rows = len(ohms)
    guess = None if start is None else {k: np.full(rows, start) for k in machine.bent}
    state = machine.solve(machine.columns({number: ohms}, process), rows, start=guess)
    node = machine.wiring.node
    ends = {"coil": ("RL1:A1", "RL1:A2"), "horn": ("H2:+", "H2:-"), "contact": ("RL1:11", "RL1:12")}
    return {
        name: np.broadcast_to(state.v[node[a]] - state.v[node[b]], rows)
        for name, (a, b) in ends.items()
    }


@pytest.fixture(scope="module")
def machine() -> Predictor:
    """The trip of a level."""
    return Predictor(open_plant().load("LAHH-214"))


def test_a_relay_that_chatters_counts_as_released(machine: Predictor) -> None:
    calm, tripped = volts(machine, WEAK, 0.2), volts(machine, WEAK, 0.9)
    held = calm["coil"] > 16
    assert held.tolist() == [True, True, False, False, False]
    assert (calm["horn"][held] == pytest.approx(0.0, abs=1e-3)) and (tripped["horn"] > 12).all()
    for name, value in calm.items():
        assert value[~held] == pytest.approx(tripped[name][~held], abs=1e-3)


@pytest.mark.parametrize("start", [None, 0])
def test_where_it_began_and_what_stands_beside_it_make_no_difference(
    machine: Predictor, start: int | None
) -> None:
    together = volts(machine, WEAK, 0.2)
    for n, ohms in enumerate(WEAK):
        alone = volts(machine, np.array([ohms]), 0.2, start)
        assert {k: v[0] for k, v in alone.items()} == pytest.approx(
            {k: v[n] for k, v in together.items()}, abs=1e-9
        )
