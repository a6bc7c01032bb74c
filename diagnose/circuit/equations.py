"""Symbolic solution of the nodal equations as a sequence of small exact expressions.

The network is solved by repeated star-mesh transformation (a node with its star of conductances
is replaced by the mesh between its neighbours; A. Rosen, J. IEE 62:916, 1924; from memory).  With
conductances ``g`` and neighbours ``k`` of the eliminated node 0:
``g_ij += g_0i * g_0j / sum_k g_0k``.  Nothing is ever subtracted, so that a milliohm link beside
a gigohm leak keeps every digit, where plain elimination of the nodal matrix loses them.

Every branch law is piecewise linear, ``i = g * v + j`` in each regime, so that one sequence serves
all regimes: the regime only decides which ``g`` and ``j`` are put in.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from diagnose.circuit.tape import Tape
from diagnose.circuit.wiring import Wiring

if TYPE_CHECKING:
    from collections.abc import Iterable


class _Writer:
    """Collects steps, giving each new expression a symbol of its own."""

    def __init__(self, prefix: str) -> None:
        import sympy

        self.sympy = sympy
        self.prefix = prefix
        self.steps: list[tuple[str, str]] = []

    def keep(self, expression: Any) -> Any:
        """A symbol for ``expression``; atoms stay as they are."""
        if expression.is_Atom:
            return expression
        symbol = self.sympy.Symbol(f"{self.prefix}{len(self.steps)}")
        self.steps.append((symbol.name, self.sympy.pycode(expression)))
        return symbol


def derive(wiring: Wiring) -> dict[str, Tape]:
    """Laws, their derivatives, the elimination and both halves of the solution.

    Returns tapes ``laws`` (parameters p -> segments of every branch), ``slopes`` (derivatives of
    the segments), ``factor`` (conductances g -> pivots and weights), ``solve`` (those and currents
    s injected into the nodes -> node voltages v).
    """
    laws, slopes = _laws(wiring)
    factor, solve = _eliminate(wiring)
    return {"laws": laws, "slopes": slopes, "factor": factor, "solve": solve}


def _laws(wiring: Wiring) -> tuple[Tape, Tape]:
    """Segments as g, j and upper end; and d g / d p, d j / d p for each parameter that occurs."""
    import sympy

    symbols = [sympy.Symbol(f"p{number}", real=True) for number in range(len(wiring.parameters))]
    steps: list[tuple[str, str]] = []
    slopes: list[tuple[str, str]] = []
    for number, wire in enumerate(wiring.wires):
        q = wiring.of(wiring.parts[wire.part], symbols)
        for piece, segment in enumerate(wire.law.segments):
            g, j = (sympy.sympify(item, strict=True) for item in segment.law(q))
            ends = [("g", g), ("j", j)]
            if segment.until:
                steps.append(
                    (
                        f"u{number}_{piece}",
                        sympy.pycode(sympy.sympify(segment.until(q), strict=True)),
                    )
                )
            for letter, expression in ends:
                steps.append((f"{letter}{number}_{piece}", sympy.pycode(expression)))
                slopes += [
                    (f"d{letter}{number}_{piece}_{symbol.name[1:]}", sympy.pycode(slope))
                    for symbol in sorted(expression.free_symbols, key=str)
                    if (slope := sympy.diff(expression, symbol)) != 0
                ]
    inputs = [symbol.name for symbol in symbols]
    return (
        Tape(inputs, steps, [name for name, _ in steps]),
        Tape(inputs, slopes, [name for name, _ in slopes]),
    )


def _eliminate(wiring: Wiring) -> tuple[Tape, Tape]:
    """Star-mesh elimination of every node but the reference, fewest neighbours first."""
    import sympy

    writer = _Writer("x")
    edges = _edges(wiring, writer)
    forward: list[tuple[str, str]] = []
    backward: list[tuple[str, str]] = []
    held = {n: sympy.Symbol(f"s{n}") for n in range(len(wiring.nodes))}
    outputs: list[str] = []
    left = set(range(1, len(wiring.nodes)))
    renamed = _Writer("f")
    while left:
        node = min(left, key=lambda n: (len(edges[n]), n))
        left.discard(node)
        star = edges[node]
        pivot = writer.keep(sum(star.values(), sympy.S.Zero))
        weights = {other: writer.keep(edge / pivot) for other, edge in star.items()}
        outputs += [str(item) for item in (pivot, *weights.values()) if item.is_Symbol]
        _mesh(edges, node, star, weights, writer)
        terms = held[node] / pivot
        for other, weight in weights.items():
            if other:
                held[other] = renamed.keep(held[other] + held[node] * weight)
                terms = terms + weight * sympy.Symbol(f"v{other}")
        backward.append((f"v{node}", sympy.pycode(terms)))
    forward = renamed.steps
    conductances = [f"g{number}" for number in range(len(wiring.wires))]
    kept = list(dict.fromkeys(outputs))
    injected = [f"s{n}" for n in range(1, len(wiring.nodes))]
    voltages = [f"v{n}" for n in range(1, len(wiring.nodes))]
    return (
        Tape(conductances, writer.steps, kept),
        Tape(kept + injected, forward + backward[::-1], voltages),
    )


def _edges(wiring: Wiring, writer: _Writer) -> list[dict[int, Any]]:
    """Conductance between each two nodes; branches side by side add up."""
    import sympy

    edges: list[dict[int, Any]] = [{} for _ in wiring.nodes]
    for number, wire in enumerate(wiring.wires):
        if wire.a != wire.b:
            g = sympy.Symbol(f"g{number}")
            edges[wire.a][wire.b] = edges[wire.a].get(wire.b, sympy.S.Zero) + g
    for a, row in enumerate(edges):
        for b, forwards in list(row.items()):
            if a < b or a not in edges[b]:
                total = writer.keep(forwards + edges[b].get(a, sympy.S.Zero))
                edges[a][b] = edges[b][a] = total
    return edges


def _mesh(
    edges: list[dict[int, Any]],
    node: int,
    star: dict[int, Any],
    weights: dict[int, Any],
    writer: _Writer,
) -> None:
    """Replace the star of ``node`` by the mesh between its neighbours."""
    import sympy

    neighbours: Iterable[int] = list(star)
    for other in neighbours:
        del edges[other][node]
    for first in star:
        for second in star:
            if first < second:
                old = edges[first].get(second, sympy.S.Zero)
                new = writer.keep(old + star[first] * weights[second])
                edges[first][second] = edges[second][first] = new
