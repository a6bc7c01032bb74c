"""SPICE text of a circuit as the predictor holds it, so that any simulator can check it.

Every branch is written at its zero: a source for the voltage at which it carries nothing, and a
law through the origin behind it.  So a simulator can raise the sources bit by bit when it looks for
the operating point of a starved transmitter, which it cannot do with constants inside a law.

Resistances below `SMALL` are written as volts per ampere of their own ammeter.  As conductances,
the 200 S of a clean contact would drown the 1e-11 S of insulation that alone holds a lifted wire.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from math import inf

import numpy as np

from diagnose.circuit.predictor import Predictor
from diagnose.circuit.rows import Attachment
from diagnose.circuit.wiring import Parameters, Wire, Wiring
from diagnose.errors import UnknownNameError
from diagnose.loops.loop import Loop

SMALL = 10.0
"""Ohm below which a resistance is written as a current-controlled voltage."""

OPTIONS = (
    ".options reltol=1e-8 vntol=1e-9 abstol=1e-13 gmin=1e-20 "
    "pivtol=1e-30 pivrel=1e-3 itl1=1000 itl6=200"
)
METER = "meter"
_WORDS = str.maketrans({"+": "p", ":": "_", ".": "_", "-": "_"})


@dataclass(frozen=True, slots=True)
class Piece:
    """One straight piece of a law: ``i = g v + j`` from ``low`` to ``high`` volts."""

    g: float
    j: float
    low: float
    high: float

    def zero(self) -> float | None:
        """The voltage nearest to nothing at which the piece carries no current, if there is one."""
        if self.g == 0.0:
            return min(max(0.0, self.low), self.high) if self.j == 0.0 else None
        found = -self.j / self.g
        slack = 1e-12 * (1 + abs(found))
        return found if self.low - slack <= found <= self.high + slack else None


@dataclass(frozen=True, slots=True)
class Written:
    """One branch of the deck: its name, SPICE nodes and what stands in the comment above it."""

    name: str
    a: str
    b: str
    pieces: tuple[Piece, ...]
    comment: str


def netlist(
    loop: Loop,
    changes: Mapping[tuple[str, str], float],
    process: float,
    attachment: Attachment | None = None,
) -> str:
    """SPICE text of the loop with parameters moved: ``(part, parameter) -> SI value``.

    ``process`` is a fraction of range; ``attachment`` a meter that is fitted.  Run it with
    ``ngspice -b``: it prints every node voltage and every branch current (first pin to second) at
    the operating point.  The same arguments give the same text.  Raises UnknownNameError for a
    part, parameter or node that is not there.
    """
    wiring = Wiring(loop)
    nodes = _node_names(loop)
    branches = [*_branches(wiring, nodes, changes, process, attachment), *_meter(nodes, attachment)]
    lines = [
        *_header(loop, changes, process, attachment),
        *(f"*   {spice:<24} {node}" for node, spice in nodes.items()),
        *(line for branch in branches for line in _branch_lines(branch)),
        OPTIONS,
        *_control(nodes, branches),
        ".end",
    ]
    return "\n".join(lines) + "\n"


def _node_names(loop: Loop) -> dict[str, str]:
    """Node -> SPICE node; the reference is node 0."""
    found = {loop.reference: "0"}
    for node in loop.nodes[1:]:
        found[node] = _unused(f"n_{_word(node)}", set(found.values()))
    return found


def _word(name: str) -> str:
    """A name that every simulator takes: lower case, letters, digits, ``_``."""
    ended = f"{name[:-1]}m" if name.endswith("-") else name.replace("-.", "m.")
    return ended.translate(_WORDS).lower()


def _unused(wish: str, taken: set[str]) -> str:
    number, name = 2, wish
    while name in taken:
        number, name = number + 1, f"{wish}_{number}"
    return name


def _branches(
    wiring: Wiring,
    nodes: Mapping[str, str],
    changes: Mapping[tuple[str, str], float],
    process: float,
    fitted: Attachment | None,
) -> Iterator[Written]:
    columns = operated(wiring, changes, process, fitted)
    taken = {METER}
    for part in wiring.loop.parts:
        q = wiring.of(part, columns)
        for number in wiring.wires_of.get(part.name, ()):
            wire = wiring.wires[number]
            name = _unused(_word(part.name), taken)
            taken.add(name)
            a, b = (nodes[wiring.nodes[end]] for end in (wire.a, wire.b))
            title = f"{part.name}: {part.title or part.kind.title}"
            yield Written(name, a, b, pieces_of(wire, q), title)


def parameter_values(
    wiring: Wiring, changes: Mapping[tuple[str, str], float], process: float
) -> list[float]:
    """All parameters, SI, in the order of the wiring; the process value behind them."""
    columns = list(wiring.nominal)
    for pair, value in changes.items():
        if pair not in wiring.index:
            known = (" ".join(known) for known in wiring.index)
            raise UnknownNameError("parameter", " ".join(pair), known)
        columns[wiring.index[pair]] = float(value)
    columns.append(process)
    for part in wiring.driven():
        for name, value in part.kind.drive(wiring.of(part, columns), process).items():
            columns[wiring.index[part.name, name]] = float(value)
    return columns


def operated(
    wiring: Wiring,
    changes: Mapping[tuple[str, str], float],
    process: float,
    fitted: Attachment | None = None,
) -> list[float]:
    """The same with what follows signals driven by them, at the operating point."""
    columns = parameter_values(wiring, changes, process)
    if not wiring.followers:
        return columns
    machine = Predictor(wiring.loop)
    state = machine.solve([*columns], 1, (fitted,) if fitted else ())
    return [float(np.ravel(column)[0]) for column in state.columns]


def pieces_of(wire: Wire, q: Parameters) -> tuple[Piece, ...]:
    """The law of a branch with numbers put in, from the lowest voltage up."""
    found, low = [], -inf
    for segment in wire.law.segments:
        g, j = segment.law(q)
        high = inf if segment.until is None else float(segment.until(q))
        found.append(Piece(float(g), float(j), low, high))
        low = high
    return tuple(found)


def _meter(nodes: Mapping[str, str], fitted: Attachment | None) -> Iterator[Written]:
    if fitted is None:
        return
    for node in (fitted.a, fitted.b):
        if node not in nodes:
            raise UnknownNameError("node", node, nodes)
    law = Piece(float(fitted.conductance), float(fitted.source), -inf, inf)
    yield Written(METER, nodes[fitted.a], nodes[fitted.b], (law,), "the meter that is fitted")


def _header(
    loop: Loop,
    changes: Mapping[tuple[str, str], float],
    process: float,
    fitted: Attachment | None,
) -> Iterator[str]:
    yield f"* {loop.tag}: the circuit at its operating point, for a circuit simulator"
    yield "* Volts, amperes, ohms. Currents count from the first pin of a part to the second."
    yield f"* process value: {process * 100:.10g} % of range"
    for (part, name), value in sorted(changes.items()):
        yield f"* changed: {part} {name} = {float(value)!r}"
    if not changes:
        yield "* changed: nothing"
    if fitted is not None:
        law = f"i = {float(fitted.conductance)!r} v + {float(fitted.source)!r}"
        yield f"* meter from {fitted.a} to {fitted.b}: {law}"
    yield "* Vm_ is the ammeter of a branch, Ve_ the voltage at which the branch carries nothing."
    yield f"* A resistance below {SMALL:g} ohm is written H, volts per ampere of its ammeter:"
    yield "* as a conductance a clean contact would drown the insulation beside it."
    yield "* Nodes of this text and of the loop:"


def _branch_lines(branch: Written) -> Iterator[str]:
    yield f"* {branch.comment}"
    inner = f"m_{branch.name}"
    yield f"Vm_{branch.name} {branch.a} {inner} 0"
    start = _anchor(branch.pieces)
    if start is None:
        yield f"I_{branch.name} {inner} {branch.b} {_at(branch.pieces, 0.0)!r}"
        start = 0.0
    if start:
        yield f"Ve_{branch.name} {inner} e_{branch.name} {start!r}"
        inner = f"e_{branch.name}"
    yield from _law_lines(branch, inner, start)


def _anchor(pieces: tuple[Piece, ...]) -> float | None:
    """The voltage at which a branch carries nothing; None if it always carries something."""
    zeros = [zero for piece in pieces if (zero := piece.zero()) is not None]
    return min(zeros, key=abs) if zeros else None


def _at(pieces: tuple[Piece, ...], volts: float) -> float:
    """Current at a voltage."""
    here = next(piece for piece in pieces if volts <= piece.high)
    return here.g * volts + here.j


def _law_lines(branch: Written, inner: str, start: float) -> Iterator[str]:
    """The law behind the source: a resistance, or a bent law through the origin."""
    if len(branch.pieces) > 1:
        law = _bent(branch.pieces, start, f"V({inner},{branch.b})")
        yield f"B_{branch.name} {inner} {branch.b} I = {law}"
        return
    ohms = 1 / branch.pieces[0].g if branch.pieces[0].g else inf
    if ohms < SMALL:
        yield f"H_{branch.name} {inner} {branch.b} Vm_{branch.name} {ohms!r}"
    elif ohms < inf:
        yield f"R_{branch.name} {inner} {branch.b} {ohms!r}"


def _bent(pieces: tuple[Piece, ...], start: float, v: str) -> str:
    """A law through the origin: the slope there, and what each bend adds beyond it."""
    home = next(n for n, piece in enumerate(pieces) if start <= piece.high)
    terms = [f"{pieces[home].g!r}*{v}"]
    for number, (below, above) in enumerate(pairwise(pieces)):
        bend = f"{v}-({below.high - start!r})"
        if number >= home:
            terms.append(f"{above.g - below.g!r}*max({bend},0)")
        else:
            terms.append(f"{below.g - above.g!r}*min({bend},0)")
    return "+".join(f"({term})" for term in terms)


def _control(nodes: Mapping[str, str], branches: list[Written]) -> Iterator[str]:
    """What is printed: sixteen digits, one value on each line."""
    yield from (".control", "set numdgt=16", "op")
    yield from (f"print v({spice})" for spice in nodes.values() if spice != "0")
    yield from (f"print i(vm_{branch.name.lower()})" for branch in branches)
    yield from ("quit", ".endc")
