"""What the receivers, lamps and displays of a loop show at an operating point."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from diagnose.circuit.operating import OperatingPoint
from diagnose.circuit.predictor import Predictor
from diagnose.circuit.rows import Column
from diagnose.loops.loop import Part
from diagnose.quantities import format_quantity


@dataclass(frozen=True, slots=True)
class Indication:
    """What a part shows: a fraction of range, or whether it is lit (``value`` is then unused)."""

    part: str
    value: float = 0.0
    lit: bool | None = None

    def text(self) -> str:
        """As a person reads it off."""
        if self.lit is None:
            return format_quantity(self.value, "1")
        return "lit" if self.lit else "dark"


def indications(
    machine: Predictor,
    changes: Mapping[tuple[str, str], float],
    process: float,
    point: OperatingPoint,
) -> Iterator[Indication]:
    """All that is shown, in the order of the parts; displays stop at their ends."""
    index = machine.wiring.index
    moved: dict[int, Column] = {index[pair]: value for pair, value in changes.items()}
    columns = machine.columns(moved, process)
    for part in machine.loop.parts:
        if part.kind.shows is not None:
            yield _one(part, machine.wiring.of(part, columns), process, point)


def _one(part: Part, q: object, process: float, point: OperatingPoint) -> Indication:
    shows = part.kind.shows
    assert shows is not None
    gain, offset = shows.level(q, process)
    nodes = [*part.pins.values()][:2]
    volts = point.voltages[nodes[0]] - point.voltages[nodes[1]] if len(nodes) == 2 else 0.0
    level = float(gain * volts + offset)
    if shows.what == "state":
        return Indication(part.name, lit=level > 0)
    return Indication(part.name, min(max(level, shows.least), shows.most))
