"""Newton steps in 50 digits on the decks of `spice`, from the simulator's own answer.

In double precision a simulator loses digits where a supply hangs on insulation alone: 1e-11 S
beside 20 S.  The equations are the same as in the deck, the method is the same modified nodal
analysis; only the arithmetic is longer.  Library: mpmath.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import mpmath

from spice import Answer, Circuit, Element, Given, branches, givens, parameters, wired

STEPS = 4


@dataclass(frozen=True)
class _Branch:
    """One chain of elements between two nodes, its own current an unknown."""

    part: str
    a: int
    b: int
    elements: list[Element]
    first: bool

    def drop(self, current: Any) -> Any:
        """Volts across the chain at a current, without what follows from the voltage."""
        total = mpmath.mpf(0)
        for sort, value in self.elements:
            if sort == "emf":
                total += mpmath.mpf(float(value))
            elif sort == "R":
                total += mpmath.mpf(float(value)) * current
            elif sort == "BV":
                total += _law(str(value), i=current)
        return total

    def lacks(self, across: Any, current: Any) -> Any:
        """What the law of the chain misses at a voltage and a current; 0 where it holds."""
        sinks = [str(value) for sort, value in self.elements if sort == "BI"]
        if sinks:
            emf = sum(float(value) for sort, value in self.elements if sort == "emf")
            return current - _law(sinks[0], v=across - emf)
        return across - self.drop(current)


def _law(text: str, **given: Any) -> Any:
    """The value of an expression that `physics` wrote."""
    names = {"min": min, "max": max, "abs": abs, **given}
    return eval(text.format(v="v", i="i"), {"__builtins__": {}}, names)  # noqa: S307


def refined(circuit: Circuit, answer: Answer) -> Answer:
    """The simulator's answer, taken to all digits that the equations have."""
    given = givens(circuit, answer.voltages)
    for _ in range(STEPS):
        better = _newton(circuit, given, answer)
        again = givens(circuit, better.voltages)
        if again == given:
            return better
        given, answer = again, better
    return answer


def _newton(circuit: Circuit, given: Mapping[str, Given], answer: Answer) -> Answer:
    with mpmath.workdps(50):
        nodes = {name: number for number, name in enumerate(circuit.loop.nodes)}
        chains = _chains(circuit, given, nodes)
        x = _start(chains, nodes, answer)
        for _ in range(STEPS):
            x = x - _step(chains, len(nodes) - 1, x)
        volts = {name: float(x[k - 1]) if k else 0.0 for name, k in nodes.items()}
        currents = dict.fromkeys(answer.currents, 0.0)
        for number, chain in enumerate(chains):
            if chain.first and chain.part in currents:
                currents[chain.part] += float(x[len(nodes) - 1 + number])
        return replace(answer, voltages=volts, currents=currents)


def _chains(
    circuit: Circuit, given: Mapping[str, Given], nodes: Mapping[str, int]
) -> list[_Branch]:
    values, found = parameters(circuit), []
    for part in wired(circuit.loop):
        told = branches(part, values[part.name], given[part.name])
        for first, second, elements in told:
            ends = nodes[part.pins[first]], nodes[part.pins[second]]
            found.append(_Branch(part.name, *ends, elements, (first, second) == told[0][:2]))
    for a, b, conductance, source in circuit.clips:
        found.append(_Branch("", nodes[a], nodes[b], [("R", 1 / conductance)], False))
        if source:
            found.append(_Branch("", nodes[a], nodes[b], [("BI", repr(source))], False))
    return found


def _start(chains: list[_Branch], nodes: Mapping[str, int], answer: Answer) -> Any:
    volts = [answer.voltages[name] for name in list(nodes)[1:]]
    currents = [answer.currents.get(chain.part, 0.0) * chain.first for chain in chains]
    return mpmath.matrix([*volts, *currents])


def _step(chains: list[_Branch], count: int, x: Any) -> Any:
    """Newton's correction: Kirchhoff at every node, the law of every chain."""
    size = count + len(chains)
    slope: list[dict[int, Any]] = [{} for _ in range(size)]
    missing = [mpmath.mpf(0) for _ in range(size)]
    tiny = mpmath.mpf(10) ** -20

    def volt(node: int) -> Any:
        return x[node - 1] if node else mpmath.mpf(0)

    for number, chain in enumerate(chains):
        row, current = count + number, x[count + number]
        across = volt(chain.a) - volt(chain.b)
        lack = chain.lacks(across, current)
        missing[row] = lack
        slope[row][row] = (chain.lacks(across, current + tiny) - lack) / tiny
        by_volt = (chain.lacks(across + tiny, current) - lack) / tiny
        for node, sign in ((chain.a, 1), (chain.b, -1)):
            if node:
                slope[row][node - 1] = slope[row].get(node - 1, 0) + sign * by_volt
                slope[node - 1][row] = slope[node - 1].get(row, 0) + sign
                missing[node - 1] += sign * current
    return mpmath.matrix(_eliminated(slope, missing))


def _eliminated(rows: list[dict[int, Any]], right: list[Any]) -> list[Any]:
    """Gauss's elimination that leaves zeros alone: the shortest row first, its rarest column."""
    rows = [{k: v for k, v in row.items() if v != 0} for row in rows]
    holders: dict[int, set[int]] = {}
    for number, row in enumerate(rows):
        for column in row:
            holders.setdefault(column, set()).add(number)
    left, order = set(range(len(rows))), []
    while left:
        pivot = min(left, key=lambda n: (len(rows[n]), n))
        left.discard(pivot)
        row = rows[pivot]
        least = max(map(abs, row.values())) * mpmath.mpf(10) ** -12
        column = min((k for k, v in row.items() if abs(v) > least), key=lambda k: len(holders[k]))
        order.append((pivot, column))
        for other in holders[column] & left:
            factor = rows[other].pop(column) / row[column]
            right[other] -= factor * right[pivot]
            for k, v in row.items():
                if k != column:
                    rows[other][k] = rows[other].get(k, 0) - factor * v
                    holders[k].add(other)
        for k in row:
            holders[k].discard(pivot)
    found = [mpmath.mpf(0)] * len(rows)
    for pivot, column in reversed(order):
        rest = sum((v * found[k] for k, v in rows[pivot].items() if k != column), mpmath.mpf(0))
        found[column] = (right[pivot] - rest) / rows[pivot][column]
    return found
