"""What every operating point must obey, whatever is broken: Kirchhoff, one regime, passivity.

Source: Kirchhoff's two laws; Tellegen's theorem makes a network of passive parts unable to give
power; a network of continuous, never falling branch laws has one operating point (Duffin 1946,
from memory).  The regimes are recounted here by trying every combination of them on the sparse
tableau of the circuit (Hachtel, Brayton and Gustavson 1971, from memory), an independent solution.
"""

from __future__ import annotations

from functools import cache
from itertools import product
from math import exp, log
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.circuit.operating import Attachment, OperatingPoint, operating_point
from diagnose.circuit.predictor import Predictor
from diagnose.loops.kind import Branch, FaultMode
from diagnose.loops.loop import Loop, Part
from diagnose.loops.sheet import load_sheet
from spice import demand, moved

SHEET = Path(__file__).parents[2] / "cases" / "larkmere" / "sheets" / "LT-214.toml"
EXTREMES = {"ohm": (1e-4, 1e12), "A": (1e-6, 0.1), "V": (0.1, 1000.0), "S": (0.0, 1.0)}
ROUNDING = 16 * 2.0**-52
Changes = dict[tuple[str, str], float]


@cache
def loop() -> Loop:
    return load_sheet(SHEET)


@cache
def predictor() -> Predictor:
    return Predictor(loop())


@cache
def modes() -> tuple[tuple[Part, FaultMode], ...]:
    return tuple((part, mode) for part in loop().parts for mode in part.kind.modes)


@st.composite
def faults(draw: st.DrawFn) -> Changes:
    """Up to three faults within their ranges of severity."""
    found: Changes = {}
    for part, mode in draw(st.lists(st.sampled_from(modes()), max_size=3)):
        share, size = draw(st.floats(0, 1)), mode.severity
        value = 0.0
        if size and size.logarithmic:
            value = exp(log(size.low) + share * (log(size.high) - log(size.low)))
        elif size:
            value = size.low + share * (size.high - size.low)
        found |= moved(loop(), part, mode.changes, value)
    return found


@st.composite
def actions(draw: st.DrawFn) -> Changes:
    """Up to two deliberate actions."""
    possible = [(part, action) for part in loop().parts for action in part.kind.actions]
    found: Changes = {}
    for part, action in draw(st.lists(st.sampled_from(possible), max_size=2)):
        found |= moved(loop(), part, action.changes, draw(st.floats(0, 25e-3)))
    return found


@st.composite
def extremes(draw: st.DrawFn) -> Changes:
    """Up to three parameters anywhere at all, far outside any fault."""
    possible = [
        (part.name, item.name, EXTREMES[item.unit])
        for part in loop().parts
        for item in part.kind.parameters
        if item.unit in EXTREMES and item.typed and (part.name, item.name) not in linked()
    ]
    found: Changes = {}
    for part, name, (low, high) in draw(st.lists(st.sampled_from(possible), max_size=3)):
        share = draw(st.floats(0, 1))
        found[part, name] = max(low, 1e-9) * (high / max(low, 1e-9)) ** share
    return found


@cache
def linked() -> frozenset[tuple[str, str]]:
    """Parameters that only make sense together: the ramp must stay below lift-off."""
    sinks = [part.name for part in loop().parts if part.kind.name == "two_wire_transmitter"]
    return frozenset((sink, name) for sink in sinks for name in ("lift_off", "ramp"))


@st.composite
def meters(draw: st.DrawFn) -> Attachment | None:
    """None, or a meter, a burden or a jumper between any two nodes."""
    a, b = draw(st.lists(st.sampled_from(loop().nodes), min_size=2, max_size=2, unique=True))
    sorts = (None, (1e-7, 0.0), (1 / 3e3, 0.0), (0.25, 0.0), (20.0, 0.0), (1e-4, -1.2e-4))
    sort = draw(st.sampled_from(sorts))
    return Attachment(a, b, *sort) if sort else None


CIRCUITS = st.tuples(
    st.one_of(
        st.builds(lambda fault, done: fault | done, faults(), actions()),
        st.builds(lambda fault, wild: fault | wild, faults(), extremes()),
    ),
    st.floats(-0.1, 1.1),
    meters(),
)


def solved(changes: Changes, process: float, meter: Attachment | None) -> OperatingPoint:
    return operating_point(loop(), changes, process, meter, predictor())


def values(part: Part, changes: Changes, process: float) -> SimpleNamespace:
    """Parameters of one part after the changes."""
    q = dict(part.values) | {name: v for (owner, name), v in changes.items() if owner == part.name}
    if part.kind.name == "two_wire_transmitter":
        q["demand"] = demand(q, process)
    return SimpleNamespace(**q)


def across(part: Part, branch: Branch, voltages: dict[str, float]) -> float:
    return voltages[part.pins[branch.a]] - voltages[part.pins[branch.b]]


def blur(part: Part, q: SimpleNamespace, voltages: dict[str, float]) -> float:
    """How far rounding of the node voltages alone can throw the current of a part, A."""
    volts = max(abs(voltages[node]) for node in part.pins.values())
    steepest = max(
        float(segment.law(q)[0]) for branch in part.kind.branches for segment in branch.segments
    )
    return ROUNDING * volts * steepest


@settings(max_examples=300)
@given(CIRCUITS)
def test_currents_add_up_to_nothing_at_every_node(
    circuit: tuple[Changes, float, Attachment | None],
) -> None:
    changes, process, meter = circuit
    point = solved(changes, process, meter)
    sums = dict.fromkeys(loop().nodes, 0.0)
    allowed = dict.fromkeys(loop().nodes, 1e-9)
    for part in loop().parts:
        if not part.kind.branches:
            continue
        q, amperes = values(part, changes, process), point.currents[part.name]
        ends = {(branch.a, branch.b) for branch in part.kind.branches}
        assert len(ends) == 1, "this test counts two-ended parts only"
        for pin, sign in zip(ends.pop(), (1, -1), strict=True):
            sums[part.pins[pin]] += sign * amperes
            allowed[part.pins[pin]] += 1e-9 * abs(amperes) + blur(part, q, point.voltages)
    if meter:
        amperes = meter.conductance * point.attached + meter.source
        sums[meter.a] += amperes
        sums[meter.b] -= amperes
        seen = point.voltages[meter.a] - point.voltages[meter.b]
        assert abs(point.attached - seen) <= 1e-6 + 1e-6 * abs(seen)
    wrong = {node: left for node, left in sums.items() if abs(left) > allowed[node]}
    assert not wrong, wrong


@settings(max_examples=300)
@given(CIRCUITS)
def test_no_passive_part_gives_power(circuit: tuple[Changes, float, Attachment | None]) -> None:
    changes, process, meter = circuit
    point = solved(changes, process, meter)
    for part in loop().parts:
        q = values(part, changes, process)
        driven = part.kind.name == "supply" or getattr(q, "emf", 0) or getattr(q, "shift", 0)
        if driven or not part.kind.branches:
            continue
        v = across(part, part.kind.branches[0], point.voltages)
        i = point.currents[part.name]
        assert v * i >= -abs(v) * (1e-9 + blur(part, q, point.voltages)), (part.name, v, i)


def bounds(branch: Branch, q: SimpleNamespace) -> list[tuple[float, float]]:
    """The span of voltage of each segment."""
    ends = [float(segment.until(q)) for segment in branch.segments if segment.until]
    return list(zip([-np.inf, *ends], [*ends, np.inf], strict=True))


@settings(max_examples=200)
@given(CIRCUITS)
def test_the_regime_told_is_the_one_that_holds(
    circuit: tuple[Changes, float, Attachment | None],
) -> None:
    changes, process, meter = circuit
    point = solved(changes, process, meter)
    bent = [part for part in loop().parts if any(len(b.segments) > 1 for b in part.kind.branches)]
    assert {part.name for part in bent} == point.regimes.keys()
    for part in bent:
        branch = part.kind.branches[0]
        spans = bounds(branch, values(part, changes, process))
        names = [segment.regime for segment in branch.segments]
        low, high = spans[names.index(point.regimes[part.name])]
        v = across(part, branch, point.voltages)
        slack = 1e-6 * (1 + abs(v))
        assert low - slack <= v <= high + slack, (part.name, point.regimes[part.name], v)


class Tableau:
    """Node voltages and branch currents as unknowns; each law is one row, scaled to its size."""

    def __init__(self, changes: Changes, process: float, meter: Attachment | None) -> None:
        self.branches: list[tuple[int, int, list[tuple[float, float]], list[Any]]] = []
        number = {node: k for k, node in enumerate(loop().nodes)}
        for part in loop().parts:
            q = values(part, changes, process)
            for branch in part.kind.branches:
                laws = [tuple(map(float, segment.law(q))) for segment in branch.segments]
                ends = number[part.pins[branch.a]], number[part.pins[branch.b]]
                self.branches.append((*ends, laws, bounds(branch, q)))
        if meter:
            law = [(meter.conductance, meter.source)]
            self.branches.append((number[meter.a], number[meter.b], law, [(-np.inf, np.inf)]))
        self.count = len(number)

    def voltages(self, pieces: tuple[int, ...]) -> np.ndarray[Any, Any]:
        size = self.count + len(self.branches)
        matrix, right = np.zeros((size, size)), np.zeros(size)
        matrix[0, 0] = 1.0
        for k, ((a, b, laws, _), piece) in enumerate(zip(self.branches, pieces, strict=True)):
            row, (g, j) = self.count + k, laws[piece]
            scale = g if g > 1e-6 else 1.0
            matrix[row, a], matrix[row, b] = -g / scale, g / scale
            matrix[row, row], right[row] = 1 / scale, j / scale
            for node, sign in ((a, 1.0), (b, -1.0)):
                if node:
                    matrix[node, row] += sign
        return np.linalg.solve(matrix, right)[: self.count]

    def consistent(self) -> list[np.ndarray[Any, Any]]:
        """Solutions of every combination of regimes that fit their own regimes."""
        found = []
        for pieces in product(*(range(len(laws)) for _, _, laws, _ in self.branches)):
            v = self.voltages(pieces)
            fits = (
                spans[piece][0] - 1e-7 <= v[a] - v[b] <= spans[piece][1] + 1e-7
                for (a, b, _, spans), piece in zip(self.branches, pieces, strict=True)
            )
            if all(fits):
                found.append(v)
        return found


@settings(max_examples=100)
@given(
    st.tuples(st.builds(lambda f, a: f | a, faults(), actions()), st.floats(-0.1, 1.1), meters())
)
def test_exactly_one_regime_fits(circuit: tuple[Changes, float, Attachment | None]) -> None:
    changes, process, meter = circuit
    point = solved(changes, process, meter)
    ours = np.array([point.voltages[node] for node in loop().nodes])
    fitting = Tableau(changes, process, meter).consistent()
    assert fitting, "no combination of regimes fits"
    for v in fitting:  # several only where a part stands on the edge between two regimes
        assert np.all(np.abs(v - ours) <= 1e-6 * (1 + np.abs(v)))
