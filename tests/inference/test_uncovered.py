"""Tolerances that only a fault lets anybody see, beside circuits solved with each of them moved.

Source: Ohm's law; the project's own circuits, solved anew with a resistance one standard
uncertainty off.
"""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.circuit.rows import Array
from diagnose.inference.engine import Engine
from diagnose.inference.spreads import spreads, tolerances
from diagnose.inference.uncovered import SEEN, SERIES, uncovered
from diagnose.loops.plant import open_plant

SEVERITIES, PROCESS = (0.02, 0.3, 0.7, 0.98), (0.0, 1.0)


def most_volts(engine: Engine, number: int, sd: float) -> float:
    """By how much a tolerance moves any voltage of the loop beside any one fault, at most."""
    machine, ground = engine.machine, engine.atlas.ground
    every = np.arange(len(engine.hypotheses))
    h, x, process = (one.ravel() for one in np.meshgrid(every, SEVERITIES, PROCESS, indexing="ij"))
    columns = ground.columns(h, x, process)
    before = volts(machine.solve(columns, len(h)).v, len(h))
    moved = list(columns)
    moved[number] = columns[number] + sd * ground.still(h, [number], ())[:, 0]
    return float(np.abs(volts(machine.solve(moved, len(h)).v, len(h)) - before).max())


def volts(nodes: list[Array], rows: int) -> Array:
    return np.stack([np.broadcast_to(v, rows) for v in nodes])


@pytest.mark.parametrize("tag", ["TT-132", "TT-133", "PT-322"])
def test_what_a_fault_lets_be_seen_is_found_and_nothing_else(tag: str) -> None:
    """Within a factor of three of the limit: a drop is shared with what else there is."""
    engine = Engine(open_plant().load(tag))
    known = spreads(engine.machine, engine.meter)
    found = {spread.number for spread in uncovered(engine.atlas.ground, known)}
    assert found
    have, wiring = {spread.number for spread in known}, engine.machine.wiring
    for spread in tolerances(wiring):
        part, name = wiring.parameters[spread.number]
        ohms = wiring.parts[part].parameter(name).unit == "ohm"
        if not ohms or spread.number in have or wiring.nominal[spread.number] >= SERIES:
            continue
        most = most_volts(engine, spread.number, spread.sd)
        if spread.number in found:
            assert most > SEEN / 3, (part, name, most)
        else:
            assert most < 3 * SEEN, (part, name, most)


def test_a_terminal_of_milliohms_that_an_earth_fault_sends_amperes_through() -> None:
    """5 mohm +- 50 % as a rectangular distribution is 1.44 mohm; an ampere makes 1.4 mV of it."""
    engine = Engine(open_plant().load("TT-132"))
    machine = engine.machine
    number = machine.wiring.index["TI-132.B", "resistance"]
    (spread,) = uncovered(engine.atlas.ground, spreads(machine, engine.meter))
    assert spread.number == number
    assert spread.sd == pytest.approx(0.5 * machine.wiring.nominal[number] / np.sqrt(3))
