"""What the receivers, lamps and displays of a loop show at an operating point."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from diagnose.circuit.operating import OperatingPoint
from diagnose.circuit.predictor import Predictor
from diagnose.circuit.signals import level
from diagnose.loops.kind import Shows
from diagnose.loops.loop import Loop, Part
from diagnose.loops.states import STATES
from diagnose.quantities import format_quantity


@dataclass(frozen=True, slots=True)
class Indication:
    """What a part shows: a value in ``unit``, or whether it is on (``value`` is then unused).

    ``lit`` is for a horn whether it sounds; the ``unit`` of a state is its word for on.
    """

    part: str
    value: float = 0.0
    unit: str = "1"
    lit: bool | None = None

    def text(self) -> str:
        """As a person reads it off."""
        if self.lit is None:
            return format_quantity(self.value, self.unit)
        return STATES[self.unit].word(self.lit)


def indications(machine: Predictor, point: OperatingPoint) -> Iterator[Indication]:
    """All that is shown, in the order of the parts; displays stop at their ends."""
    volts = [point.voltages[node] for node in machine.wiring.nodes]
    for part in machine.loop.parts:
        shows = part.kind.shows
        if shows is not None:
            seen = float(level(machine.wiring, part, shows, point.columns, volts))
            yield _one(machine.loop, part, shows, seen)


def _one(loop: Loop, part: Part, shows: Shows, seen: float) -> Indication:
    if shows.what == "state":
        return Indication(part.name, unit=shows.states.on, lit=seen > 0)
    scale = loop.scale(part.name)
    held = min(max(seen, shows.least), shows.most)
    return Indication(part.name, scale.value(held), scale.unit)
