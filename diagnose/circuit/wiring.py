"""The circuit of a loop as numbers: which branch joins which nodes, which parameter is where."""

from __future__ import annotations

from collections.abc import Iterator
from copy import copy
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from diagnose.loops.kind import Branch
from diagnose.loops.loop import Loop, Part


@dataclass(frozen=True)
class Wire:
    """One branch of the circuit: nodes by number, the part and the law that it came from."""

    a: int
    b: int
    part: str
    law: Branch


class Parameters:
    """Attribute access to the parameters of one part, whatever their type."""

    def __init__(self, values: dict[str, Any]) -> None:
        self.__dict__.update(values)


class Wiring:
    """Numbers for nodes, branches and parameters of a loop, in a fixed order.

    Node 0 is the reference.  ``parameters`` lists (part, parameter) pairs; ``nominal`` their
    values in SI units.  Columns of parameters carry the process value behind them, as number
    ``process``.
    """

    def __init__(self, loop: Loop) -> None:
        self.loop = loop
        self.nodes = loop.nodes
        self.node = {name: number for number, name in enumerate(self.nodes)}
        self.parameters = tuple(
            (part.name, item.name) for part in loop.parts for item in part.kind.parameters
        )
        self.index = {pair: number for number, pair in enumerate(self.parameters)}
        self.parts = {part.name: part for part in loop.parts}
        self.process = len(self.parameters)

    @cached_property
    def nominal(self) -> tuple[float, ...]:
        """Nominal values, SI, in the order of ``parameters``."""
        return tuple(
            float(part.values[item.name])
            for part in self.loop.parts
            for item in part.kind.parameters
        )

    def at(self, number: int, off: float) -> Wiring:
        """The same with one nominal value ``off`` higher (SI)."""
        other = copy(self)
        values = enumerate(self.nominal)
        other.nominal = tuple(value + off * (n == number) for n, value in values)
        return other

    @cached_property
    def wires(self) -> tuple[Wire, ...]:
        """All branches in the order of the parts."""
        return tuple(
            Wire(self.node[part.pins[law.a]], self.node[part.pins[law.b]], part.name, law)
            for part in self.loop.parts
            for law in part.kind.branches
        )

    @cached_property
    def wires_of(self) -> dict[str, tuple[int, ...]]:
        """Branch numbers of each part."""
        found: dict[str, tuple[int, ...]] = {}
        for number, wire in enumerate(self.wires):
            found[wire.part] = (*found.get(wire.part, ()), number)
        return found

    def of(self, part: Part, columns: Any) -> Parameters:
        """The parameters of one part as a namespace over ``columns`` (any sequence)."""
        return Parameters({name: columns[number] for name, number in self._numbers[part.name]})

    @cached_property
    def _numbers(self) -> dict[str, list[tuple[str, int]]]:
        """Names and numbers of the parameters of each part."""
        found: dict[str, list[tuple[str, int]]] = {part.name: [] for part in self.loop.parts}
        for (part, name), number in self.index.items():
            found[part].append((name, number))
        return found

    def driven(self) -> Iterator[Part]:
        """Parts whose parameters follow the process."""
        return (part for part in self.loop.parts if part.kind.driven and not part.kind.follows)

    @cached_property
    def followers(self) -> tuple[Part, ...]:
        """Parts whose parameters follow the signals of others, each after all that it follows."""
        rank = self._ranks()
        found = [part for part in self.loop.parts if part.kind.driven and part.kind.follows]
        return tuple(sorted(found, key=lambda part: rank[part.name]))

    @cached_property
    def switches(self) -> tuple[Part, ...]:
        """Parts whose signal is a state that some other part follows."""
        followed = {name for part in self.loop.parts for name in self.leaders(part)}
        return tuple(
            part
            for part in self.loop.parts
            if part.name in followed and part.kind.signal and part.kind.signal.what == "state"
        )

    @staticmethod
    def leaders(part: Part) -> tuple[str, ...]:
        """Names of the parts whose signals a part is given."""
        return tuple(part.references[reference] for reference in part.kind.follows)

    def _ranks(self) -> dict[str, int]:
        """How many others stand before each part; parts that follow in a ring get no end."""
        rank = dict.fromkeys(self.parts, 0)
        led = {part.name: self.leaders(part) for part in self.loop.parts if part.kind.follows}
        for _ in self.parts:
            before = dict(rank)
            for name, leaders in led.items():
                steps = [rank[leader] + 1 for leader in leaders if leader in rank]
                rank[name] = max([rank[name], *steps])
            if rank == before:
                break
        return rank

    def ring(self) -> tuple[str, ...]:
        """Parts that follow each other in a ring, in the order of the sheet; empty if none do."""
        rank = self._ranks()
        return tuple(name for name, value in rank.items() if value >= len(rank))

    def structure(self) -> list[list[Any]]:
        """What the equations depend on: kinds and the numbers of nodes; no value and no name.

        So the sheets of one loop type share what is derived, whatever their plant calls things.
        """
        return [
            [part.kind.name, *(self.node[part.pins[pin]] for pin in part.kind.pins)]
            for part in self.loop.parts
        ]

    def names(self) -> list[list[str]]:
        """What the plant calls the parts and nodes behind ``structure``."""
        return [[part.name for part in self.loop.parts], list(self.nodes)]
