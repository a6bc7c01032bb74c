"""Why a voltage or a current is what it is: the laws of Kirchhoff and Ohm, numbers put in.

A voltage between two points is the sum of the drops on the way of least resistance between them;
a current is the law of its part.  With one parameter left as a symbol, ``closed_form`` adds the
exact formula.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from math import isclose

from diagnose.circuit.closed_form import Closed, Pair, closed_form, symbol_of
from diagnose.circuit.fixed import METER, Case, Edge
from diagnose.circuit.netlist import Piece
from diagnose.circuit.predictor import Predictor
from diagnose.circuit.rows import Attachment
from diagnose.errors import UnknownNameError
from diagnose.loops.loop import Loop
from diagnose.quantities import format_quantity

Changes = Mapping[Pair, float]

FAINT = 1e-4
"""Conductance below which a bent law is told as a current, not as volts behind ohms, S."""

SMALL = 0.005
"""Share of the resistance of a run below which a part in it is counted, not named."""

FAR = 1e4
"""Volts beyond which the end of a regime is not worth telling."""


@dataclass(frozen=True, slots=True)
class Explanation:
    """A predicted value with its reasons: ``formula``, ``numbers`` put in and ``result`` as text.

    ``regimes`` says what bent parts do here; ``closed`` is the formula in the changed parameter,
    ``notes`` what else there is to say.  ``value`` is in SI.
    """

    quantity: str
    unit: str
    value: float
    formula: str
    numbers: str
    result: str
    regimes: tuple[str, ...]
    closed: Closed | None = None
    notes: tuple[str, ...] = ()

    @property
    def lines(self) -> tuple[str, ...]:
        """Everything as text, ready to be shown."""
        sums = (f"{self.quantity} = {item}" for item in (self.formula, self.numbers, self.result))
        closed = (self.closed.text,) if self.closed else ()
        return (*dict.fromkeys(sums), *self.notes, *self.regimes, *closed)


def explain(
    loop: Loop,
    changes: Changes,
    process: float,
    points: Pair,
    attachment: Attachment | None = None,
    symbol: Pair | None = None,
    predictor: Predictor | None = None,
    closed: bool = True,
) -> Explanation:
    """Why the voltage from the first of two points to the second is what it is.

    ``changes`` are moved parameters, (part, parameter) -> SI value; ``symbol`` is the parameter to
    keep as ``x`` in the closed form (default: the first change that the circuit feels), which takes
    longest and is left out unless ``closed``.  Raises
    UnknownNameError for a point or parameter that is not there.
    """
    case = Case(predictor or Predictor(loop), changes, process, attachment)
    a, b = (case.node(point) for point in points)
    name = f"V({points[0]})" if points[1] == loop.reference else f"V({points[0]}, {points[1]})"
    terms = list(_terms(case.way(a, b)))
    value = sum(term.value for term in terms)
    told = [term for term in terms if abs(term.value) > 1e-6 * max(abs(t.value) for t in terms)]
    exact = (
        closed_form(case, name, "V", symbol_of(case, changes, symbol), (a, b)) if closed else None
    )
    return Explanation(
        name, "V", value, _joined((t.sign, t.formula) for t in told),
        _joined((t.sign, t.numbers) for t in told), format_quantity(value, "V"),
        tuple(_regimes(case)), exact,
    )  # fmt: skip


def explain_current(
    loop: Loop,
    changes: Changes,
    process: float,
    part: str,
    attachment: Attachment | None = None,
    symbol: Pair | None = None,
    predictor: Predictor | None = None,
    closed: bool = True,
) -> Explanation:
    """Why the current through a part, first pin to second, is what it is; else as ``explain``."""
    case = Case(predictor or Predictor(loop), changes, process, attachment)
    numbers = case.wiring.wires_of.get(part)
    if not numbers:
        raise UnknownNameError("part with a current", part, case.wiring.wires_of)
    edges = [case.edges[k] for k in numbers if case.edges[k].law.g or case.edges[k].law.j]
    value, name = sum(edge.current for edge in edges), f"I({part})"
    across = f"V({', '.join(case.wiring.nodes[end] for end in (edges[0].a, edges[0].b))})"
    several = len({edge.label for edge in edges}) < len(edges)
    sums = [_ohm(edge, across, case.wiring.nodes if several else ()) for edge in edges]
    exact = (
        closed_form(case, name, "A", symbol_of(case, changes, symbol), numbers) if closed else None
    )
    return Explanation(
        name, "A", value, " + ".join(item[0] for item in sums),
        " + ".join(item[1] for item in sums), amperes(value),
        tuple(_regimes(case)), exact, tuple(_shared(case, part, value)),
    )  # fmt: skip


# -- Kirchhoff and Ohm ----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Term:
    """One term of a sum of voltages."""

    value: float
    formula: str
    numbers: str

    @property
    def sign(self) -> bool:
        return self.value >= 0


def _terms(way: list[Edge]) -> Iterator[_Term]:
    """Sources one by one; resistances that carry one current together."""
    for edge in way:
        if edge.law.j:
            told = format_quantity(abs(edge.emf), "V")
            yield _Term(edge.emf, f"E({edge.label})", told)
    for current, group in groupby(_alike(way), key=lambda pair: pair[0]):
        run = [edge for _, edge in group]
        ohms = sum(1 / edge.law.g for edge in run)
        value = sum(edge.current / edge.law.g for edge in run)
        most = max(run, key=lambda edge: 1 / edge.law.g).label
        put_in = f"{amperes(abs(current))} x {format_quantity(ohms, 'ohm')}"
        yield _Term(value, f"I({most}) x {_named(run, ohms)}", put_in)


def _named(run: list[Edge], ohms: float) -> str:
    """The parts of a run that count, and how many do not."""
    names = [edge.label for edge in run if 1 / edge.law.g >= SMALL * ohms]
    if len(names) < len(run):
        names.append(f"{len(run) - len(names)} small")
    return f"({' + '.join(names)})" if len(names) > 1 else names[0]


def _alike(way: Iterable[Edge]) -> Iterator[tuple[float, Edge]]:
    """Edges with their current; one that differs by a millionth from the last counts as that."""
    last: float | None = None
    for edge in way:
        if last is None or not isclose(edge.current, last, rel_tol=1e-6):
            last = edge.current
        yield last, edge


def _joined(terms: Iterable[tuple[bool, str]]) -> str:
    text = "".join(f" {'+' if plus else '-'} {item}" for plus, item in terms)
    return text.removeprefix(" + ").strip() or "0"


def _ohm(edge: Edge, across: str, nodes: Sequence[str]) -> tuple[str, str]:
    """The law of one branch as formula and with numbers.

    ``nodes`` are the names of all nodes where what is drawn would not be told apart without.
    """
    ohms = format_quantity(1 / edge.law.g, "ohm") if edge.law.g else ""
    volts = format_quantity(edge.drop, "V")
    if not edge.law.j:
        return f"{across} / {edge.label}", f"{volts} / {ohms}"
    if edge.law.g < FAINT:
        drawn, sign = amperes(edge.law.j), "-" if edge.drop < 0 else "+"
        where = f" from {nodes[edge.a]} to {nodes[edge.b]}" if nodes else ""
        rest = f" {sign} {volts.removeprefix('-')} / {ohms}" if ohms else ""
        return f"drawn by {edge.label}{where}", drawn + rest
    emf = format_quantity(edge.emf, "V")
    return f"({across} - E({edge.label})) / R({edge.label})", f"({volts} - {emf}) / {ohms}"


def _shared(case: Case, part: str, value: float) -> Iterator[str]:
    """Which current sink sets the current of a part that is nearly in series with it."""
    for edge in case.edges:
        if edge.label in (part, METER) or not edge.bent or edge.law.g >= FAINT or edge.law.j <= 0:
            continue
        rest = abs(value) - abs(edge.current)
        if abs(rest) < 0.02 * abs(edge.current):
            way = "joins" if rest > 0 else "leaves"
            more = f"; {amperes(abs(rest))} {way} on the way" if abs(rest) > 1e-8 else ""
            yield f"{edge.label} sets this current: {amperes(edge.current)}{more}"


def _regimes(case: Case) -> Iterator[str]:
    """What each bent part does here."""
    for k, edge in enumerate(case.edges):
        if not edge.bent or not (edge.law.g or edge.law.j):
            continue
        yield f"{edge.label} {case.regime(k)}: {_does(edge)} {_between(edge.law)}"


def _does(edge: Edge) -> str:
    if edge.law.g >= FAINT:
        ohms = format_quantity(1 / edge.law.g, "ohm")
        return f"acts as {format_quantity(edge.emf, 'V')} behind {ohms} while its voltage is"
    if abs(edge.current) < 1e-5:
        return "draws next to nothing while its voltage is"
    verb = "draws" if edge.current > 0 else "delivers"
    return f"{verb} {amperes(abs(edge.current))} whatever the voltage"


def _between(law: Piece) -> str:
    low, high = (format_quantity(end, "V") for end in (law.low, law.high))
    if law.low < -FAR:
        return f"below {high}" if law.high < FAR else "anything"
    return f"above {low}" if law.high > FAR else f"between {low} and {high}"


def amperes(value: float) -> str:
    """A current as text; below what a hand-held meter shows, in microamperes or nanoamperes."""
    if value == 0.0 or abs(value) >= 1e-4:
        return format_quantity(value, "A")
    scale, unit = (1e6, "uA") if abs(value) >= 1e-7 else (1e9, "nA")
    return f"{value * scale:.4g} {unit}"
