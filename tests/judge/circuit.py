"""The network that a meter sees: a loop in one condition, with the meter in it, for many rows."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from diagnose.inference.measurement import Condition, Jumper, Measurement
from diagnose.loops.loop import Loop, Part
from judge.laws import DRIVEN, LAWS, SIGNALS, level
from judge.solver import Element, Point, current, operating_point
from judge.world import State

Row = Any
METER = {"V": 10e6, "VAC": 10e6, "Vlow": 3e3}
UNSIGNED = frozenset({"Vlow", "VAC", "mA", "clamp"})
"""Functions without a sign on a loop of alternating current."""
PASSES, ROUND = 12, 4
"""Rounds in which signals settle."""
BURDEN, LIFTED, JUMPER = 4.0, 1e12, 0.05
TEST_VOLTS, TEST_OHM, LEADS = 1.2, 10e3, 0.2


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
        part = next(
            p
            for p in loop.parts
            if (p.kind.opens_at or p.kind.meters_across) and set(p.pins.values()) == pins
        )
        opened = part.name if part.kind.opens_at else None
        return Insertion(*what.points, (1 / BURDEN, 0.0), opened)
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
        self.meter, self.condition = meter, condition
        self.leaders = {p.name: [p.references[r] for r in p.kind.follows] for p in loop.parts}
        self.order = in_order(loop, self.leaders)
        self.given: dict[str, Any] = {}
        self.slopes: dict[tuple[str, str, str], Row] = {}
        self.signals: dict[str, Any] = {}
        self._settle()

    def _settle(self) -> None:
        """Solves, lets followers follow, and solves again until nothing moves."""
        self._tell({})
        self._build()
        self.point: Point = operating_point(self.elements)
        for _ in range(PASSES if self.order else 0):
            if not self._tell(self.point.volts):
                return
            self._build()
            self.point = operating_point(self.elements, start=self.point.regimes)
        if self.order:
            self._let_go()

    def _let_go(self) -> None:
        """Where it goes round for good, each signal is the least of those that come round.

        Unless it stands still when one part follows after another.
        """
        lowest, before = dict(self.given), dict(self.given)
        moved: Row = False
        for _ in range(ROUND):
            self._tell(self.point.volts)
            for name, given in self.given.items():
                moved = moved | ~_alike(before[name], given)
                lowest[name] = _each(np.minimum, lowest[name], given)
            before = dict(self.given)
            self._build()
            self.point = operating_point(self.elements, start=self.point.regimes)
        self._put(moved, lowest)
        for _ in range(ROUND):
            moved = False
            for part in self.order:
                old = self.given[part.name]
                self._tell(self.point.volts, [part])
                moved = moved | ~_alike(old, self.given[part.name])
                self._build()
                self.point = operating_point(self.elements, start=self.point.regimes)
        self._put(moved, lowest)

    def _put(self, rows: Row, given: Mapping[str, Any]) -> None:
        """Tell all parts this in some rows."""
        self.given = {
            name: _each(lambda new, old: np.where(rows, new, old), given[name], last)
            for name, last in self.given.items()
        }
        self._build()
        self.point = operating_point(self.elements, start=self.point.regimes)

    def _tell(self, volts: Mapping[int, Row], parts: Sequence[Part] = ()) -> bool:
        """Tells followers, by default all, what their leaders hand on; whether anything changed."""
        moved = False
        for part in parts or self.order:
            told = [self.signal(name, volts) for name in self.leaders[part.name]]
            given = told[0] if len(told) == 1 else tuple(told)
            old = self.given.get(part.name)
            moved |= old is None or not _same(old, given)
            self.given[part.name] = given
        return moved

    def signal(self, name: str, volts: Mapping[int, Row]) -> Row:
        """What a part hands on at some node voltages; half of it where none are known yet."""
        part = self.loop.part(name)
        pins = [self.nodes[node] for node in list(part.pins.values())[:2]]
        if pins and not volts:
            return 1.0 if part.kind.signal and part.kind.signal.what == "state" else 0.5
        v = volts[pins[0]] - volts[pins[1]] if len(pins) == 2 else 0.0
        q = self.state.values[name]
        return SIGNALS[part.kind.name](q, v, self.given.get(name, self.process))

    def _build(self) -> None:
        self.owners: list[str] = []
        self.elements: list[Element] = []
        for part in self.loop.parts:
            for element in self.of(part, self.state.values[part.name], self.told(part.name)):
                self.owners.append(part.name)
                self.elements.append(element)
        extra = [
            self._wire(i.a, i.b, (1 / JUMPER, 0.0)) for i in self.condition if isinstance(i, Jumper)
        ]
        if self.meter is not None:
            extra.append(self._wire(self.meter.a, self.meter.b, self.meter.piece))
        self.owners += [""] * len(extra)
        self.elements += extra

    def told(self, name: str) -> Any:
        """What a part is given: signals of those it follows, or the process value."""
        return self.given.get(name, self.process)

    def _wire(self, a: str, b: str, piece: tuple[float, float]) -> Element:
        return Element(self.nodes[a], self.nodes[b], (piece,))

    def of(self, part: Part, q: Mapping[str, Row], given: Any) -> list[Element]:
        """The elements of a part at given values."""
        if not LAWS[part.kind.name]:
            return []
        if part.kind.name in DRIVEN:
            q = {**q, **DRIVEN[part.kind.name](q, given)}
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

    def change(self, part: Part, q: Mapping[str, Row], given: Any) -> list[Row]:
        """Currents of a part's elements at other values, voltages and regimes held."""
        found = zip(self.index(part.name), self.of(part, q, given), strict=True)
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

    def shown(self, what: Measurement, v: Row, q: Mapping[str, Row], given: Any) -> Row:
        """The level of a part that shows something."""
        return level(self.loop.part(what.points[0]).kind.name, q, v, given)


def in_order(loop: Loop, leaders: Mapping[str, Sequence[str]]) -> list[Part]:
    """The parts that follow others, leaders before followers."""
    left = [part for part in loop.parts if leaders[part.name]]
    out: list[Part] = []
    while left:
        names = {part.name for part in left}
        ready = [part for part in left if not names & {*leaders[part.name]}] or left[:1]
        out += ready
        left = [part for part in left if part not in ready]
    return out


def _same(old: Any, new: Any) -> bool:
    return bool(np.all(_alike(old, new)))


def _alike(old: Any, new: Any) -> Row:
    pairs = zip(old, new, strict=True) if isinstance(old, tuple) else [(old, new)]
    return np.all(
        np.broadcast_arrays(*(np.abs(a - b) <= 1e-10 * (1 + np.abs(b)) for a, b in pairs)), axis=0
    )


def _each(rule: Callable[[Row, Row], Row], one: Any, other: Any) -> Any:
    if isinstance(one, tuple):
        return tuple(rule(a, b) for a, b in zip(one, other, strict=True))
    return rule(one, other)


def ohms(v: Row) -> Row:
    """What an ohmmeter makes of ``v`` volts across it (negative: its sources are outrun)."""
    i = (TEST_VOLTS - v) / TEST_OHM
    safe = np.where(i > 1e-15, i, 1e-15)
    return np.where(i > 1e-15, v / safe + LEADS, np.inf)


def volts_behind(r: float) -> tuple[float, float]:
    """Volts on the leads where a meter reads ``r`` ohms, and their change by an ohm."""
    held = r - LEADS
    return TEST_VOLTS * held / (held + TEST_OHM), TEST_VOLTS * TEST_OHM / (held + TEST_OHM) ** 2


def log_ohms(v: Row) -> tuple[Row, Row]:
    """ln(R + 1) and its derivative by ``v``; overload counts as 1 Tohm without a slope."""
    r = ohms(v)
    over = ~np.isfinite(r) | (r < 0)
    finite = np.where(over, 1.0, r)
    i = (TEST_VOLTS - np.where(over, 0.0, v)) / TEST_OHM
    slope = (TEST_VOLTS / TEST_OHM) / i**2 / (finite + 1.0)
    return np.where(over, np.log(1e12), np.log(finite + 1.0)), np.where(over, 0.0, slope)
