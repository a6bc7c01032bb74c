"""One operating point with its regimes fixed: drops, currents and the way between two nodes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from math import inf
from typing import Any

from diagnose.circuit.netlist import Piece, parameter_values, pieces_of
from diagnose.circuit.predictor import Predictor
from diagnose.circuit.rows import Attachment
from diagnose.errors import UnknownNameError

OPENED = 1e6
"""Ohm above which Ohm's law across a part explains nothing: the way round does."""

METER = "meter"


@dataclass(frozen=True, slots=True)
class Edge:
    """One branch at the operating point, seen from node ``a``: drop, current, law in force."""

    label: str
    a: int
    b: int
    law: Piece
    drop: float
    bent: bool

    @property
    def current(self) -> float:
        """Amperes from ``a`` to ``b``."""
        return self.law.g * self.drop + self.law.j

    @property
    def emf(self) -> float:
        """The voltage at which the law in force carries nothing."""
        return -self.law.j / self.law.g

    def turned(self) -> Edge:
        """The same branch seen from its other end."""
        law = Piece(self.law.g, -self.law.j, -self.law.high, -self.law.low)
        return Edge(self.label, self.b, self.a, law, -self.drop, self.bent)


class Case:
    """The circuit at one operating point, with numbers and regimes fixed."""

    def __init__(
        self,
        machine: Predictor,
        changes: Mapping[tuple[str, str], float],
        process: float,
        fitted: Attachment | None,
    ) -> None:
        self.wiring, self.fitted = machine.wiring, fitted
        self.columns = parameter_values(self.wiring, changes, process)
        for node in (fitted.a, fitted.b) if fitted else ():
            self.node(node)
        self.state = machine.solve([*self.columns], 1, (fitted,) if fitted else ())
        self.columns = [one(column) for column in self.state.columns]
        self.v = [one(v) for v in self.state.v]
        self.edges = [*self._edges()]

    def node(self, name: str) -> int:
        """The number of a node; UnknownNameError if there is none such."""
        if name not in self.wiring.node:
            raise UnknownNameError("point", name, self.wiring.node)
        return self.wiring.node[name]

    def piece(self, k: int) -> int:
        """Which segment of branch k is in force."""
        return int(self.state.pieces[k][0]) if k in self.state.pieces else 0

    def regime(self, k: int) -> str:
        """Its name."""
        return self.wiring.wires[k].law.segments[self.piece(k)].regime

    def _edges(self) -> Iterator[Edge]:
        for k, wire in enumerate(self.wiring.wires):
            pieces = pieces_of(wire, self.wiring.of(self.wiring.parts[wire.part], self.columns))
            drop = self.v[wire.a] - self.v[wire.b]
            yield Edge(wire.part, wire.a, wire.b, pieces[self.piece(k)], drop, len(pieces) > 1)
        if self.fitted:
            a, b = self.node(self.fitted.a), self.node(self.fitted.b)
            law = Piece(self.fitted.conductance, self.fitted.source, -inf, inf)
            yield Edge(METER, a, b, law, one(self.state.attached), False)

    def way(self, start: int, end: int) -> list[Edge]:
        """Branches from one node to another on the way of least resistance, each seen along it."""
        import networkx

        net = networkx.Graph()
        for edge in self.edges:
            known = net.get_edge_data(edge.a, edge.b)
            if edge.a != edge.b and edge.law.g and (not known or known["edge"].law.g < edge.law.g):
                net.add_edge(edge.a, edge.b, edge=edge, ohm=1 / edge.law.g)
        net = _without_open(net, start, end)
        steps = pairwise(networkx.dijkstra_path(net, start, end, weight="ohm"))
        found = ((a, net[a][b]["edge"]) for a, b in steps)
        return [edge if edge.a == a else edge.turned() for a, edge in found]


def _without_open(net: Any, start: int, end: int) -> Any:
    """The graph without a part that is open between the two nodes, if there is a way round it."""
    import networkx

    direct = net.get_edge_data(start, end)
    if not direct or direct["ohm"] < OPENED or direct["edge"].bent:
        return net
    rest = net.copy()
    rest.remove_edge(start, end)
    return rest if networkx.has_path(rest, start, end) else net


def one(column: Any) -> float:
    """The only row of a column."""
    return float(column if isinstance(column, int | float) else column.reshape(-1)[0])
