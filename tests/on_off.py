"""What meters and lamps show on an on-off output with a fault put in: no errors, no noise."""

from __future__ import annotations

from functools import cache

import numpy as np

from diagnose.circuit.predictor import Predictor
from diagnose.circuit.rows import Column
from diagnose.inference.hypotheses import condition_moves, moves
from diagnose.inference.meters import GENERIC
from diagnose.inference.observe import Observer
from diagnose.inference.readings import parse_measurement
from diagnose.loops.sheet import load_type

DIRECT, ALTERNATING = "solenoid-output", "solenoid-output-ac"


@cache
def observer(name: str) -> Observer:
    """The observer of a shipped loop type."""
    return Observer(Predictor(load_type(name)), GENERIC)


class Stand:
    """A loop type with one fault, and parameters moved besides; ask it for readings."""

    def __init__(
        self,
        name: str,
        fault: str = "",
        severity: float = 0.0,
        besides: dict[tuple[str, str], float] | None = None,
    ) -> None:
        self.observer = observer(name)
        self.loop, self.wiring = self.observer.loop, self.observer.machine.wiring
        self.moved: dict[int, Column] = {}
        if fault:
            part, _, mode = fault.partition(": ")
            found = self.loop.part(part)
            self.moved.update(moves(self.wiring, found, found.kind.mode(mode).changes, severity))
        for pair, value in (besides or {}).items():
            self.moved[self.wiring.index[pair]] = value

    def level(self, command: int, text: str) -> float:
        """The level of a measurement at a command, 0 or 1; SI, resistance as volts."""
        measurement = parse_measurement(text, self.loop)
        by_hand, _ = condition_moves(self.wiring, measurement.condition)
        process = np.array([float(command)])
        columns = self.observer.machine.columns({**self.moved, **by_hand}, process)
        state = self.observer.base(columns, 1, measurement.condition)
        return float(self.observer.level(measurement, state, process)[0])

    def reads(self, command: int, text: str) -> float:
        """What the meter shows: V, mA or ohm."""
        level = self.level(command, text)
        if text.startswith("ohm"):
            return float(GENERIC.ohms(level))
        return 1e3 * level if text.startswith(("mA", "clamp")) else level

    def lit(self, command: int, *lamps: str) -> tuple[bool, ...]:
        """Which lamps are lit."""
        return tuple(self.level(command, lamp) > 0 for lamp in lamps)

    def gauge(self, command: int, part: str) -> float:
        """What an air gauge shows, kPa."""
        return float(self.loop.scale(part).value(self.level(command, part))) / 1e3
