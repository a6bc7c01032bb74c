"""A temperature loop with faults put in: what is shown, and what meters and displays read."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import SimpleNamespace

from diagnose.circuit.operating import OperatingPoint, operating_point
from diagnose.circuit.predictor import Predictor
from diagnose.circuit.rows import Attachment
from diagnose.circuit.signals import level
from diagnose.inference.hypotheses import action_of, moves
from diagnose.inference.meters import GENERIC
from diagnose.loops.loop import Loop
from diagnose.loops.sheet import load_sheet, load_type

SHEETS = Path(__file__).parents[1] / "cases" / "larkmere" / "sheets"
Fault = tuple[str, str] | tuple[str, str, float]
Changes = dict[tuple[str, str], float]


@cache
def machine(name: str) -> Predictor:
    """The predictor of a loop type or of a sheet of the demo plant."""
    path = SHEETS / f"{name}.toml"
    return Predictor(load_sheet(path) if path.is_file() else load_type(name))


def fault(loop: Loop, part: str, mode: str, severity: float = 0.0) -> Changes:
    """What a fault mode moves."""
    wiring = machine(loop.tag).wiring
    changes = loop.part(part).kind.mode(mode).changes
    found = moves(wiring, loop.part(part), changes, severity)
    return {wiring.parameters[number]: float(value) for number, value in found}


def action(loop: Loop, part: str, name: str, value: float = 0.0) -> Changes:
    """What a deliberate action moves."""
    wiring = machine(loop.tag).wiring
    found = moves(wiring, loop.part(part), action_of(loop, part, name).changes, value)
    return {wiring.parameters[number]: float(value) for number, value in found}


@dataclass
class Seen:
    """One operating point of one loop."""

    name: str
    changes: Changes
    celsius: float

    @property
    def point(self) -> OperatingPoint:
        _, low, high = machine(self.name).loop.range
        process = (self.celsius - low) / (high - low)
        return operating_point(
            machine(self.name).loop, self.changes, process, None, machine(self.name)
        )

    def shown(self, part: str = "U1") -> float:
        """What a display shows, degC, beyond its end stops as well."""
        known = machine(self.name)
        point = self.point
        volts = [point.voltages[node] for node in known.wiring.nodes]
        found = known.loop.part(part)
        assert found.kind.shows is not None
        share = level(known.wiring, found, found.kind.shows, point.columns, volts)
        low, high = found.kind.shows.scale(SimpleNamespace(**found.values))
        return float(low + (high - low) * share)

    def millivolts(self, a: str, b: str) -> float:
        """Volts between two points, the loop undisturbed."""
        point = self.point
        return 1e3 * (point.voltages[a] - point.voltages[b])

    def ohms(self, a: str, b: str) -> float:
        """What a meter on ohms shows, its own leads taken off."""
        known = machine(self.name)
        behind = GENERIC.ohm_resistance
        attachment = Attachment(a, b, 1 / behind, -GENERIC.ohm_source / behind)
        _, low, high = known.loop.range
        point = operating_point(
            known.loop, self.changes, (self.celsius - low) / (high - low), attachment, known
        )
        return float(GENERIC.ohms(point.attached)) - GENERIC.lead


def seen(name: str, celsius: float, *parts: Changes) -> Seen:
    """The loop at a process temperature, with changes."""
    changes: Changes = {}
    for more in parts:
        changes |= more
    return Seen(name, changes, celsius)
