"""One operating point, spelt out by name: what `simulate` shows and tests compare."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
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

    A part with branches between several pairs of pins has the current between its first pair.
    ``attached`` is the voltage across the attached meter, 0 if none is fitted; ``columns`` are the
    parameters, and the process value behind them, in the order of the wiring.
    """

    voltages: dict[str, float]
    currents: dict[str, float]
    regimes: dict[str, str]
    attached: float
    columns: tuple[float, ...] = ()


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
        part: sum(_one(current(machine, state, k)) for k in _beside(machine, numbers))
        for part, numbers in wiring.wires_of.items()
    }
    regimes = {
        wiring.wires[numbers[0]].part: wiring.wires[numbers[0]]
        .law.segments[int(state.pieces[numbers[0]][0])]
        .regime
        for numbers in wiring.wires_of.values()
        if numbers[0] in state.pieces
    }
    columns = tuple(_one(column) for column in state.columns)
    return OperatingPoint(voltages, currents, regimes, _one(state.attached), columns)


def _beside(machine: Predictor, numbers: Sequence[int]) -> list[int]:
    """The branches of a part that join the same two pins as its first."""
    laws = [machine.wiring.wires[k].law for k in numbers]
    return [
        k for k, law in zip(numbers, laws, strict=True) if (law.a, law.b) == (laws[0].a, laws[0].b)
    ]


def _one(column: Column) -> float:
    return float(np.ravel(column)[0])
