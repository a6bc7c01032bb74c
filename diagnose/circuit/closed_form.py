"""A voltage or current as an exact formula in one parameter, the regimes fixed.

The quotient of two straight lines, ``(a + b x) / (c + d x)``, exact in all else (the bilinear
theorem of linear networks; from memory).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from diagnose.circuit.fixed import Case
from diagnose.circuit.rows import picker
from diagnose.circuit.store import tapes
from diagnose.errors import UnknownNameError
from diagnose.quantities import format_quantity

Pair = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Closed:
    """``(a + b x) / (c + d x)`` for one parameter of the circuit, all in SI.

    ``value`` is what the parameter is here, ``result`` what the formula then gives.
    """

    part: str
    parameter: str
    unit: str
    value: float
    a: float
    b: float
    c: float
    d: float
    result: float
    text: str


def symbol_of(case: Case, changes: Iterable[Pair], wanted: Pair | None) -> Pair | None:
    """The parameter to leave as x: the one asked for, or the first change the circuit feels."""
    if wanted is not None:
        if wanted not in case.wiring.index:
            known = (" ".join(pair) for pair in case.wiring.index)
            raise UnknownNameError("parameter", " ".join(wanted), known)
        return wanted
    moved = tuple(changes)
    parts = case.wiring.parts
    driven = [(part, name) for part, _ in moved for name in parts[part].kind.driven]
    return next((pair for pair in (*moved, *driven) if _felt(case, pair)), None)


def _felt(case: Case, pair: Pair) -> bool:
    """Whether the parameter stands in a law that is in force."""
    moved = list(case.columns)
    number = case.wiring.index[pair]
    moved[number] = moved[number] * 1.25 + 0.125
    for k in case.wiring.wires_of.get(pair[0], ()):
        wire = case.wiring.wires[k]
        law = wire.law.segments[case.piece(k)].law
        part = case.wiring.parts[wire.part]
        if law(case.wiring.of(part, moved)) != law(case.wiring.of(part, case.columns)):
            return True
    return False


def closed_form(
    case: Case, name: str, unit: str, pair: Pair | None, of: tuple[int, ...]
) -> Closed | None:
    """The answer as a quotient of straight lines in one parameter; None if it is none.

    ``of`` are two nodes for volts, the branches of a part for amperes.
    """
    if pair is None:
        return None
    found = _rational(case, pair, unit, of)
    if max(found.numer.degree(), found.denom.degree()) > 1:
        return None
    above, below = found.numer, found.denom
    (a, b), (c, d) = ((poly.coeff(1), poly.coeff(poly.ring.gens[0])) for poly in (above, below))
    x = _exact(case.columns[case.wiring.index[pair]])
    scale = d or c
    result = float((a + b * x) / (c + d * x))
    parameter = case.wiring.parts[pair[0]].parameter(pair[1])
    a, b, c, d = (float(item / scale) for item in (a, b, c, d))
    told = f"x = {parameter.meaning} of {pair[0]} = {format_quantity(float(x), parameter.unit)}"
    text = f"{name} = {_quotient(a, b, c, d)} {unit} with {told}, while no regime changes"
    return Closed(pair[0], pair[1], parameter.unit, float(x), a, b, c, d, result, text)


def _quotient(a: float, b: float, c: float, d: float) -> str:
    rising = f"{abs(b):.6g} x"
    if not a or not b:
        above = f"{'-' if b < 0 else ''}{rising}" if b else f"{a:.6g}"
    else:
        above = f"{a:.6g} {'-' if b < 0 else '+'} {rising}"
    return f"({above}) / ({c:.6g} + x)" if d else above


def _exact(value: float) -> Any:
    """A float as the rational number that it is written as."""
    from sympy import QQ, Rational

    return QQ.from_sympy(Rational(repr(float(value))))


def _rational(case: Case, pair: Pair, unit: str, of: tuple[int, ...]) -> Any:
    """The observed value as an exact quotient of polynomials in the parameter."""
    from sympy import QQ, symbols

    field = QQ.frac_field(symbols("x"))
    columns = [field(_exact(value)) for value in case.columns]
    columns[case.wiring.index[pair]] = field.gens[0]
    laws = [
        wire.law.segments[case.piece(k)].law(case.wiring.of(case.wiring.parts[wire.part], columns))
        for k, wire in enumerate(case.wiring.wires)
    ]
    g, j = ([field.one * item for item in column] for column in zip(*laws, strict=True))
    v = _exact_voltages(case, g, j)
    if unit == "V":
        return field.one * (v[of[0]] - v[of[1]])
    wires = [(k, case.wiring.wires[k]) for k in of]
    return sum((g[k] * (v[wire.a] - v[wire.b]) + j[k] for k, wire in wires), field.zero)


def _exact_voltages(case: Case, g: list[Any], j: list[Any]) -> list[Any]:
    """Node voltages from conductances and sources of any exact field, the meter fitted."""
    zero = g[0] * 0
    sources = [zero] * len(case.wiring.nodes)
    for wire, current in zip(case.wiring.wires, j, strict=True):
        sources[wire.a] -= current
        sources[wire.b] += current
    tape = tapes(case.wiring)
    needs, factor = tape["factor"].program()
    factors = dict(zip(tape["factor"].outputs, factor(*picker(needs)(g)), strict=True))
    needs, solve = tape["solve"].program()

    def volts(injected: list[Any]) -> list[Any]:
        known = [injected[int(n[1:])] if n[0] == "s" else factors[n] for n in needs]
        return [zero, *solve(*known)]

    v = volts(sources)
    if case.fitted is None:
        return v
    a, b = case.node(case.fitted.a), case.node(case.fitted.b)
    probe = [zero] * len(sources)
    probe[a], probe[b] = probe[a] + 1, probe[b] - 1
    w = volts(probe)
    held, source = (_exact(x) for x in (case.fitted.conductance, case.fitted.source))
    current = (held * (v[a] - v[b]) + source) / (1 + held * (w[a] - w[b]))
    return [there - here * current for there, here in zip(v, w, strict=True)]
