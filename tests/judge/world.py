"""A loop under a hypothesis and a condition: parameter values, and the circuit that a meter sees."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from diagnose.inference.measurement import Applied, Condition, Jumper, Measurement
from diagnose.loops.kind import Change, Severity
from diagnose.loops.loop import Loop, Part
from judge.laws import LAWS, demand, level
from judge.solver import Element, Point, current, operating_point

Row = Any
Values = dict[str, dict[str, Row]]
METER = {"V": 10e6, "Vlow": 3e3}
BURDEN, LIFTED, JUMPER = 4.0, 1e12, 0.05
TEST_VOLTS, TEST_OHM, LEADS = 1.2, 10e3, 0.2
LARGEST_OHM = 60e6


@dataclass(frozen=True)
class Move:
    """One parameter moved by a fault: its new value as a function of severity."""

    part: str
    name: str
    value: Callable[[Any], Any]


@dataclass(frozen=True)
class Hypothesis:
    """No fault, or one mode of one part, with its prior probability."""

    part: str | None
    mode: str
    prior: float
    moves: tuple[Move, ...] = ()
    severity: Severity | None = None

    def size(self, u: Row) -> Row:
        """Severity at the coordinate ``u`` in [0, 1] in which its prior is uniform."""
        s = self.severity
        if s is None:
            return u
        if s.logarithmic:
            return s.low * (s.high / s.low) ** u
        return s.low + (s.high - s.low) * u


def aim(loop: Loop, part: Part, change: Change) -> tuple[str, float]:
    """The part whose parameter a change moves, and the nominal that its value starts from."""
    if change.of.startswith("="):
        return part.name, part.values[change.of[1:]]
    target = loop.part(part.references[change.of]) if change.of else part
    return target.name, target.values.get(change.parameter, 0.0)


def moves_of(loop: Loop, part: Part, changes: Sequence[Change]) -> tuple[Move, ...]:
    """The changes of a mode or action, aimed and closed over their nominal values."""
    moves = []
    for change in changes:
        name, nominal = aim(loop, part, change)
        moves.append(Move(name, change.parameter, lambda s, c=change, n=nominal: c.value(n, s)))
    return tuple(moves)


def hypotheses(loop: Loop) -> list[Hypothesis]:
    """``none`` and every part and mode, with prior shares split by rate within a group."""
    modes = [(part, mode) for part in loop.parts for mode in part.kind.modes]
    shares = {
        "process connection": loop.shares.process_connection,
        "electrical": loop.shares.electrical,
    }
    total = {g: sum(m.rate for _, m in modes if m.group == g) for g in shares}
    faults = [
        Hypothesis(
            part.name,
            mode.name,
            shares[mode.group] * mode.rate / total[mode.group],
            moves_of(loop, part, mode.changes),
            mode.severity,
        )
        for part, mode in modes
    ]
    return [Hypothesis(None, "none", loop.shares.sound), *faults]


@dataclass
class State:
    """Values of all parameters for rows of (hypothesis, severity), and which ones were moved."""

    values: Values
    moved: dict[tuple[str, str], Row] = field(default_factory=dict)

    def put(self, part: str, name: str, value: Row) -> None:
        """Moves a parameter in all rows."""
        self.values[part][name] = value
        self.moved[part, name] = True


def nominal(loop: Loop) -> Values:
    """Sheet values, with defaults for the parameters that only faults move."""
    return {
        part.name: {
            **{p.name: p.default for p in part.kind.parameters if p.default is not None},
            **part.values,
        }
        for part in loop.parts
    }


def state(
    loop: Loop,
    cases: Sequence[Hypothesis],
    which: np.ndarray,
    u: np.ndarray,
    condition: Condition,
    base: Values | None = None,
) -> State:
    """Parameter values of rows: hypothesis ``cases[which]`` at ``u``, then the condition."""
    values = {part: dict(q) for part, q in (base or nominal(loop)).items()}
    out = State(values)
    applied = [item for item in condition if isinstance(item, Applied)]
    healed = {a.part for a in applied if _action(loop, a).heals}
    for k in np.unique(which):
        rows = which == k
        size = cases[k].size(u[rows])
        for move in cases[k].moves:
            if move.part not in healed:
                _put_rows(out, move, rows, size)
    for item in applied:
        action = _action(loop, item)
        size = action.usual if item.value is None else item.value
        for move in moves_of(loop, loop.part(item.part), action.changes):
            out.put(move.part, move.name, move.value(size))
    return out


def _action(loop: Loop, item: Applied) -> Any:
    return {a.name: a for a in loop.part(item.part).kind.actions}[item.action]


def _put_rows(out: State, move: Move, rows: np.ndarray, size: Row) -> None:
    key = (move.part, move.name)
    if key not in out.moved:
        start = out.values[move.part].get(move.name, 0.0)
        out.values[move.part][move.name] = np.full(rows.shape, start, dtype=float)
        out.moved[key] = np.zeros(rows.shape, dtype=bool)
    out.values[move.part][move.name][rows] = move.value(size)
    out.moved[key][rows] = True


@dataclass(frozen=True)
class Insertion:
    """What a meter does to the circuit: an extra element, and a part that it opens."""

    a: str
    b: str
    piece: tuple[float, float]
    opens: str | None = None


def insertion(loop: Loop, what: Measurement) -> Insertion | None:
    """The meter of a measurement as part of the circuit; None where it disturbs nothing."""
    if what.function in METER:
        return Insertion(*what.points, (1 / METER[what.function], 0.0))
    if what.function == "mA":
        pins = set(what.points)
        part = next(p for p in loop.parts if p.kind.opens_at and set(p.pins.values()) == pins)
        return Insertion(*what.points, (1 / BURDEN, 0.0), part.name)
    if what.function == "ohm":
        return Insertion(*what.points, (1 / TEST_OHM, -TEST_VOLTS / TEST_OHM))
    return None


class Circuit:
    """The network of a loop in one condition with one meter in it, for many rows."""

    def __init__(
        self, loop: Loop, st: State, process: Row, condition: Condition, meter: Insertion | None
    ) -> None:
        self.loop, self.state, self.process = loop, st, process
        if meter is not None and meter.opens:
            st.put(meter.opens, "resistance", LIFTED)
        self.nodes = {name: k for k, name in enumerate(loop.nodes)}
        self.owners: list[str] = []
        self.elements: list[Element] = []
        for part in loop.parts:
            for element in self.of(part, st.values[part.name], process):
                self.owners.append(part.name)
                self.elements.append(element)
        extra = [
            self._wire(i.a, i.b, (1 / JUMPER, 0.0)) for i in condition if isinstance(i, Jumper)
        ]
        if meter is not None:
            extra.append(self._wire(meter.a, meter.b, meter.piece))
        self.owners += [""] * len(extra)
        self.elements += extra
        self.point: Point = operating_point(self.elements)

    def _wire(self, a: str, b: str, piece: tuple[float, float]) -> Element:
        return Element(self.nodes[a], self.nodes[b], (piece,))

    def of(self, part: Part, q: Mapping[str, Row], process: Row) -> list[Element]:
        """The elements of a part at given values."""
        if part.kind.name == "two_wire_transmitter":
            q = {**q, "demand": demand(q, process)}
        return [
            Element(
                self.nodes[part.pins[law.a]],
                self.nodes[part.pins[law.b]],
                law.pieces(q),
                law.bends(q),
            )
            for law in LAWS[part.kind.name]
        ]

    def index(self, part: str) -> list[int]:
        """Numbers of the elements of a part."""
        return [k for k, owner in enumerate(self.owners) if owner == part]

    def change(self, part: Part, q: Mapping[str, Row], process: Row) -> list[Row]:
        """Currents of a part's elements at other values, voltages and regimes held."""
        found = zip(self.index(part.name), self.of(part, q, process), strict=True)
        return [
            current(element, self.point.regimes.get(k, 0), self.point.across(element.a, element.b))
            for k, element in found
        ]

    def through(self, part: str) -> Row:
        """Current through a part in its pin order, A."""
        here = self.point
        return sum(
            current(
                self.elements[k],
                here.regimes.get(k, 0),
                here.across(self.elements[k].a, self.elements[k].b),
            )
            for k in self.index(part)
        )

    def slope(self, part: str) -> Row:
        """Conductance of a part at its operating point, S."""
        total: Row = 0.0
        for k in self.index(part):
            element, regime = self.elements[k], self.point.regimes.get(k, 0)
            a, b = current(element, regime, 1.0), current(element, regime, 0.0)
            total = total + (a - b)
        return total

    def pair(self, what: Measurement) -> tuple[int, int] | None:
        """The two nodes whose voltage a measurement looks at."""
        if what.function == "process":
            return None
        names: Sequence[str] = what.points
        if what.function in ("clamp", "shows"):
            names = list(self.loop.part(what.points[0]).pins.values())[:2]
        return (self.nodes[names[0]], self.nodes[names[1]]) if len(names) == 2 else None

    def shown(self, what: Measurement, v: Row, q: Mapping[str, Row], process: Row) -> Row:
        """The level of a part that shows something."""
        return level(self.loop.part(what.points[0]).kind.name, q, v, process)


def ohms(v: Row) -> Row:
    """What an ohmmeter makes of ``v`` volts across it (negative: its sources are outrun)."""
    i = (TEST_VOLTS - v) / TEST_OHM
    safe = np.where(i > 1e-15, i, 1e-15)
    return np.where(i > 1e-15, v / safe + LEADS, np.inf)


def log_ohms(v: Row) -> tuple[Row, Row]:
    """ln(R + 1) and its derivative by ``v``; overload counts as 1 Tohm without a slope."""
    r = ohms(v)
    over = ~np.isfinite(r) | (r < 0)
    finite = np.where(over, 1.0, r)
    i = (TEST_VOLTS - np.where(over, 0.0, v)) / TEST_OHM
    slope = (TEST_VOLTS / TEST_OHM) / i**2 / (finite + 1.0)
    return np.where(over, np.log(1e12), np.log(finite + 1.0)), np.where(over, 0.0, slope)
