"""One operating point, spelt out by name: what `simulate` shows and tests compare."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from diagnose.circuit.predictor import Predictor
from diagnose.circuit.questions import current, polish
from diagnose.circuit.rows import Attachment, Column
from diagnose.errors import UnknownNameError
from diagnose.loops.loop import Loop

__all__ = ["Attachment", "OperatingPoint", "operating_point"]


@dataclass(frozen=True)
class OperatingPoint:
    """Voltages to the reference (V), currents from the first pin to the second (A), regimes.

    ``attached`` is the voltage across the attached meter, 0 if none is fitted.
    """

    voltages: dict[str, float]
    currents: dict[str, float]
    regimes: dict[str, str]
    attached: float


def operating_point(
    loop: Loop,
    changes: Mapping[tuple[str, str], float],
    process: float,
    attachment: Attachment | None = None,
    predictor: Predictor | None = None,
) -> OperatingPoint:
    """The operating point with some parameters moved, ``(part, parameter) -> SI value``."""
    machine = predictor or Predictor(loop)
    moved: dict[int, Column] = {}
    for pair, value in changes.items():
        if pair not in machine.wiring.index:
            known = (" ".join(known) for known in machine.wiring.index)
            raise UnknownNameError("parameter", " ".join(pair), known)
        moved[machine.wiring.index[pair]] = value
    fitted = (attachment,) if attachment else ()
    state = polish(machine, machine.solve(machine.columns(moved, process), 1, fitted))
    wiring = machine.wiring
    voltages = {name: _one(state.v[number]) for name, number in wiring.node.items()}
    currents = {
        part: sum(_one(current(machine, state, k)) for k in numbers)
        for part, numbers in wiring.wires_of.items()
    }
    regimes = {
        wiring.wires[numbers[0]].part: wiring.wires[numbers[0]]
        .law.segments[int(state.pieces[numbers[0]][0])]
        .regime
        for numbers in wiring.wires_of.values()
        if numbers[0] in state.pieces
    }
    return OperatingPoint(voltages, currents, regimes, _one(state.attached))


def _one(column: Column) -> float:
    return float(np.ravel(column)[0])
