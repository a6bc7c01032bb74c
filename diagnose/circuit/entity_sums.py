"""The entity sums of a loop: which marked source feeds which devices, over how much cable.

Arithmetic of `loops.entity` on the markings that a sheet holds; the ways are those of the circuit.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from diagnose.circuit.edges import Edge, loop_edges
from diagnose.circuit.walk import graph, route
from diagnose.loops.entity import (
    CABLE_CAPACITANCE,
    CABLE_INDUCTANCE,
    Comparison,
    Device,
    Source,
    compare,
)
from diagnose.loops.facts import DEVICE, SOURCE
from diagnose.loops.loop import Loop, Part

LUMPED = 0.01
"""Share of Co and Lo above which own capacitance and inductance of devices count as lumped."""

USUAL = "60 pF/ft and 0.20 uH/ft of a control drawing are taken"


@dataclass(frozen=True, slots=True)
class Line:
    """One comparison; ``device`` is empty where it is about all devices and their cable."""

    device: str
    compared: Comparison


@dataclass(frozen=True, slots=True)
class EntitySum:
    """The sum of one source; ``length`` is that of its cable, m.

    ``missing`` says in one sentence each what the sheet does not tell; ``lumped``: the devices have
    more than 1 % of both Co and Lo of their own, where standards halve Co and Lo (from memory).
    """

    source: str
    length: float
    lines: tuple[Line, ...]
    missing: tuple[str, ...]
    lumped: bool

    @property
    def holds(self) -> bool:
        """Whether every line that could be compared holds; never that the circuit may be used."""
        return all(line.compared.holds for line in self.lines)


def safe_wiring(loop: Loop) -> bool:
    """Whether a loop has a part that belongs to intrinsically safe wiring."""
    return any("intrinsic safety" in part.kind.cautions for part in loop.parts)


def entity_sums(loop: Loop) -> tuple[EntitySum, ...]:
    """One sum for every source whose markings the sheet holds."""
    feeding = [part for part in loop.parts if part.kind.facts == SOURCE]
    marked = [part for part in feeding if part.facts]
    if not marked:
        return ()
    devices = [part for part in loop.parts if part.kind.facts == DEVICE]
    ways = _Ways(loop, feeding, devices)
    return tuple(_sum(part, ways) for part in marked)


class _Ways:
    """The cores between devices and what feeds them."""

    def __init__(self, loop: Loop, feeding: Sequence[Part], devices: Sequence[Part]) -> None:
        self.parts = {part.name: part for part in loop.parts}
        self.devices = devices
        self.ends = {node for part in feeding for node in part.pins.values()}
        names = {part.name for part in feeding}
        self.edges = [
            edge
            for edge in loop_edges(loop)
            if edge.carries and edge.connects and edge.part not in names
        ]

    def of(self, source: Part) -> dict[str, list[list[Part]]]:
        """Devices on a source, each with the cores from its first pin and from its others."""
        found = {}
        for device in self.devices:
            net = graph(edge for edge in self.edges if edge.part != device.name)
            ways = [self._nearest(net, node) for node in device.pins.values()]
            if any(way and way[0] in source.pins.values() for way in ways):
                found[device.name] = [way[1] if way else [] for way in ways]
        return found

    def _nearest(self, net: Any, node: str) -> tuple[str, list[Part]] | None:
        """The pin of a source that is next to a node by resistance, and the cores on the way."""
        routes = {end: route(net, node, end) for end in sorted(self.ends)}
        some = {end: steps for end, steps in routes.items() if steps is not None}
        if not some:
            return None
        end = min(some, key=lambda end: sum(1 / edge.conductance for edge, _ in some[end]))
        return end, self._cores([edge for edge, _ in some[end]])

    def _cores(self, edges: Sequence[Edge]) -> list[Part]:
        found = [self.parts[edge.part] for edge in edges]
        return [part for part in found if part.kind.copper]


def _sum(source: Part, ways: _Ways) -> EntitySum:
    devices = ways.of(source)
    count = max((len(way) for way in devices.values()), default=0)
    sides = [_side(devices, n) for n in range(count)]
    cable = max(sides, key=_capacitance, default={})
    fed = [ways.parts[name] for name in devices]
    known = [part for part in fed if _lacks(part.facts, ("Ui", "Ii", "Pi")) == []]
    missing = tuple(_missing(source, fed, cable.values()))
    if _lacks(source.facts, [fact.name for fact in SOURCE]):
        return EntitySum(source.name, _length(cable), (), missing, lumped=False)
    gives = Source(*(source.facts[fact.name] for fact in SOURCE))
    own = [sum(part.facts.get(name, 0.0) for part in fed) for name in ("Ci", "Li")]
    lines = [
        Line(part.name, line)
        for part in known
        for line in compare(gives, Device(*(part.facts[key] for key in ("Ui", "Ii", "Pi"))), 0)[:3]
    ]
    total = Device(0, 0, 0, own[0] + _capacitance(cable), own[1] + _inductance(cable))
    lines += [Line("", line) for line in compare(gives, total, 0)[3:]]
    lumped = own[0] > LUMPED * gives.capacitance and own[1] > LUMPED * gives.inductance
    return EntitySum(source.name, _length(cable), tuple(lines), missing, lumped)


def _side(devices: Mapping[str, list[list[Part]]], number: int) -> dict[str, Part]:
    """The cores on one side of all devices, each once: the cable counted by one of its cores."""
    cores = (core for way in devices.values() for core in way[number : number + 1])
    return {part.name: part for some in cores for part in some}


def _length(cable: Mapping[str, Part]) -> float:
    return sum(part.facts.get("length", 0.0) for part in cable.values())


def _capacitance(cable: Mapping[str, Part]) -> float:
    return _times(cable, "capacitance", CABLE_CAPACITANCE)


def _inductance(cable: Mapping[str, Part]) -> float:
    return _times(cable, "inductance", CABLE_INDUCTANCE)


def _times(cable: Mapping[str, Part], name: str, usual: float) -> float:
    return sum(
        part.facts.get("length", 0.0) * part.facts.get(name, usual) for part in cable.values()
    )


def _lacks(facts: Mapping[str, float], names: Sequence[str]) -> list[str]:
    return [name for name in names if name not in facts]


def _missing(source: Part, fed: Sequence[Part], cable: Any) -> Iterator[str]:
    lacks = _lacks(source.facts, [fact.name for fact in SOURCE])
    if lacks:
        yield f"{source.name} lacks {', '.join(lacks)}: nothing is compared"
    if not fed:
        yield f"no device of the field side of {source.name} can be marked: only cable counts"
    for part in fed:
        lacks = _lacks(part.facts, [fact.name for fact in DEVICE])
        if lacks:
            yield f"{part.name} lacks {', '.join(lacks)}"
    short = [part.name for part in cable if "length" not in part.facts]
    if short:
        yield f"{', '.join(short)} without length: that cable does not count"
    usual = [part.name for part in cable if not {"capacitance", "inductance"} <= part.facts.keys()]
    if usual:
        yield f"{', '.join(usual)} without capacitance or inductance: {USUAL}"
