"""Operating points of piecewise-linear networks by star-mesh elimination, many rows at once.

Eliminating a node turns the star of its conductances into a mesh: only sums, products and
quotients of positive numbers, never a difference, so that 1 mohm and 1 Tohm live side by side
without loss (Grassmann, Taksar, Heyman 1985 use the same trick for Markov chains).  The nodes of
the bent elements are left to the end; their regimes are found on that small rest by Newton steps,
and by pivoting one element at a time where these do not settle.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations
from typing import Any

import numpy as np

Row = Any
Step = tuple[int, Row, dict[int, Row]]


@dataclass(frozen=True)
class Element:
    """A branch from node ``a`` to node ``b``: pieces (g, j), and the voltages where they meet."""

    a: int
    b: int
    pieces: Sequence[tuple[Row, Row]]
    bends: Sequence[Row] = ()


@dataclass
class Point:
    """An operating point: node voltages, regime of each element, factors for more right sides."""

    volts: dict[int, Row]
    regimes: dict[int, Row]
    steps: list[Step]
    conflict: Row = field(default=0)

    def across(self, a: int, b: int) -> Row:
        """Voltage of node ``a`` over node ``b``."""
        return self.volts[a] - self.volts[b]

    def influence(self, a: int, b: int) -> dict[int, Row]:
        """Voltages for 1 A into ``a`` and out of ``b`` with all sources dead (regimes kept)."""
        inject: dict[int, Row] = {}
        if a != b:
            inject = {a: 1.0, b: -1.0}
        return back(self.steps, forward(self.steps, inject))


def pick(regime: Row, choices: Sequence[Row]) -> Row:
    """The choice of each row's regime."""
    if len(choices) == 1:
        return choices[0]
    out = choices[0]
    for k, choice in enumerate(choices[1:], 1):
        out = np.where(np.equal(regime, k), choice, out)
    return out


def add_edge(edges: dict[int, dict[int, Row]], a: int, b: int, g: Row) -> None:
    """Conductance between two nodes, on top of what is there."""
    if a == b:
        return
    old = edges.setdefault(a, {}).get(b)
    new = g if old is None else old + g
    edges[a][b] = new
    edges.setdefault(b, {})[a] = new


def eliminate(edges: dict[int, dict[int, Row]], keep: set[int]) -> list[Step]:
    """Star-mesh elimination of all nodes but ``keep``, fewest neighbours first (in place)."""
    steps: list[Step] = []
    while left := [node for node in edges if node not in keep]:
        node = min(left, key=lambda n: (len(edges[n]), n))
        star = edges.pop(node)
        # A circuit that nothing ties to the ground stands at 0 V.
        total = sum(star.values(), start=1e-18 if not star else 0.0)
        shares = {other: g / total for other, g in star.items()}
        steps.append((node, total, shares))
        for other in star:
            del edges[other][node]
        for one, two in combinations(star, 2):
            add_edge(edges, one, two, star[one] * shares[two])
    return steps


def forward(steps: list[Step], inject: Mapping[int, Row]) -> dict[int, Row]:
    """Carries injected currents to the nodes that remain."""
    current = dict(inject)
    for node, _, shares in steps:
        if node in current:
            for other, share in shares.items():
                current[other] = current.get(other, 0.0) + share * current[node]
    return current


def back(steps: list[Step], current: Mapping[int, Row], ground: int = 0) -> dict[int, Row]:
    """Node voltages from the last eliminated to the first; the ground is at 0 V."""
    return back_from(steps, current, {ground: 0.0})


def back_from(
    steps: list[Step], current: Mapping[int, Row], volts: dict[int, Row]
) -> dict[int, Row]:
    """Node voltages of the eliminated nodes, given those of the kept ones."""
    for node, total, shares in reversed(steps):
        value = sum(share * volts[other] for other, share in shares.items())
        volts[node] = value + current[node] / total if node in current else value
    return volts


def injected(elements: Sequence[Element], regimes: Mapping[int, Row]) -> dict[int, Row]:
    """Currents that the sources of the elements push into their nodes."""
    inject: dict[int, Row] = {}
    for k, element in enumerate(elements):
        j = pick(regimes.get(k, 0), [piece[1] for piece in element.pieces])
        if np.any(j):
            inject[element.a] = inject.get(element.a, 0.0) - j
            inject[element.b] = inject.get(element.b, 0.0) + j
    return inject


def regime_of(element: Element, volts: Row) -> Row:
    """Number of the piece that holds at this voltage."""
    return sum((np.asarray(volts > bend)).astype(int) for bend in element.bends)


def operating_point(
    elements: Sequence[Element], ground: int = 0, start: Mapping[int, Row] | None = None
) -> Point:
    """The operating point of a network of elements; ``start`` guesses the regimes."""
    bent = [k for k, element in enumerate(elements) if len(element.pieces) > 1]
    ports = {ground, *(n for k in bent for n in (elements[k].a, elements[k].b))}
    edges: dict[int, dict[int, Row]] = {}
    for k, element in enumerate(elements):
        add_edge(edges, element.a, element.b, 0.0 if k in bent else element.pieces[0][0])
    first = eliminate(edges, ports)
    linear = [
        e if k not in bent else Element(e.a, e.b, ((0.0, 0.0),)) for k, e in enumerate(elements)
    ]
    inject = forward(first, injected(linear, {}))
    rest = _Rest({k: elements[k] for k in bent}, edges, inject, ground)
    regimes = rest.settle(start or {})
    steps, volts = rest.solve(regimes)
    sources = injected(elements, regimes)
    done = first + steps
    volts = back(done, forward(done, sources), ground)
    return Point(volts, regimes, done, rest.conflict(regimes, volts))


@dataclass
class _Rest:
    """The bent elements on what the linear part leaves between their nodes."""

    bent: dict[int, Element]
    edges: dict[int, dict[int, Row]]
    inject: dict[int, Row]
    ground: int

    def solve(self, regimes: Mapping[int, Row]) -> tuple[list[Step], dict[int, Row]]:
        edges = {node: dict(star) for node, star in self.edges.items()}
        inject = {n: c for n, c in self.inject.items() if n in edges}
        for k, element in self.bent.items():
            g = pick(regimes[k], [piece[0] for piece in element.pieces])
            j = pick(regimes[k], [piece[1] for piece in element.pieces])
            add_edge(edges, element.a, element.b, g)
            inject[element.a] = inject.get(element.a, 0.0) - j
            inject[element.b] = inject.get(element.b, 0.0) + j
        steps = eliminate(edges, {self.ground})
        return steps, back(steps, forward(steps, inject), self.ground)

    def settle(self, start: Mapping[int, Row]) -> dict[int, Row]:
        regimes = {k: start.get(k, len(e.pieces) - 1) for k, e in self.bent.items()}
        for _ in range(12):
            volts = self.solve(regimes)[1]
            new = {k: regime_of(e, volts[e.a] - volts[e.b]) for k, e in self.bent.items()}
            if all(np.array_equal(*np.broadcast_arrays(new[k], regimes[k])) for k in new):
                return new
            regimes = new
        return self._mended(regimes)

    def _mended(self, regimes: Mapping[int, Row]) -> dict[int, Row]:
        """Searches the rows in which Newton steps went round in circles."""
        conflict = self.conflict(regimes, self.solve(regimes)[1])
        shape = np.shape(conflict) or (1,)
        rows = np.flatnonzero(np.broadcast_to(conflict, shape) > 1e-9)
        out = {k: np.broadcast_to(v, shape).copy() for k, v in regimes.items()}
        few = self._only(rows)._pivot({k: v[rows] for k, v in out.items()})
        for k, found in few.items():
            out[k][rows] = found
        return out

    def _only(self, rows: Row) -> _Rest:
        def cut(x: Row) -> Row:
            return x[rows] if np.ndim(x) else x

        bent = {
            k: Element(e.a, e.b, [(cut(g), cut(j)) for g, j in e.pieces], [cut(b) for b in e.bends])
            for k, e in self.bent.items()
        }
        edges = {n: {m: cut(g) for m, g in star.items()} for n, star in self.edges.items()}
        return _Rest(bent, edges, {n: cut(c) for n, c in self.inject.items()}, self.ground)

    def _pivot(self, regimes: dict[int, Row], most: int = 400) -> dict[int, Row]:
        """In every row the first element that leaves its piece goes one piece on.

        Murty's least-index rule, which ends where laws never fall (K. Murty, Opsearch 11:123,
        1974; from memory).
        """
        for _ in range(most):
            volts = self.solve(regimes)[1]
            free = np.ones(len(next(iter(regimes.values()))), dtype=bool)
            for k, e in self.bent.items():
                v = volts[e.a] - volts[e.b]
                low = pick(regimes[k], [-np.inf, *e.bends])
                high = pick(regimes[k], [*e.bends, np.inf])
                turn = np.where(v > high + 1e-12, 1, np.where(v < low - 1e-12, -1, 0)) * free
                regimes[k] = regimes[k] + turn
                free &= turn == 0
            if free.all():
                break
        return regimes

    def conflict(self, regimes: Mapping[int, Row], volts: Mapping[int, Row]) -> Row:
        """Largest voltage by which an element lies outside its piece (0 where all agree)."""
        worst: Row = 0.0
        for k, element in self.bent.items():
            v = volts[element.a] - volts[element.b]
            low = pick(regimes[k], [-np.inf, *element.bends])
            high = pick(regimes[k], [*element.bends, np.inf])
            worst = np.maximum(worst, np.maximum(low - v, v - high))
        return np.maximum(worst, 0.0)


def current(element: Element, regime: Row, volts: Row) -> Row:
    """Current from ``a`` to ``b`` in a given piece."""
    g = pick(regime, [piece[0] for piece in element.pieces])
    return g * volts + pick(regime, [piece[1] for piece in element.pieces])
