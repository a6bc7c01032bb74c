"""What one part hands to another: signals, and how they depend on the uncertain parameters.

A signal goes one way.  The part that gives it has a level, ``gain * v + offset`` of the voltage
across its first two pins; the part that follows is driven by it and feels nothing back but through
the circuit.  Circuits that are tied by signals alone so stay circuits of their own.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from diagnose.circuit.rows import Array, Column, State
from diagnose.circuit.wiring import Parameters, Wiring
from diagnose.loops.kind import Shows
from diagnose.loops.loop import Part

STEP = 1e-6
"""Relative step of the differences that replace derivatives inside one part."""

Slopes = dict[int, Column]
"""Parameter number -> derivative by it."""

Circuit = Callable[[tuple[int, int], Column, Sequence[int]], Slopes]
"""Derivatives of ``gain * voltage`` with all drives held: (two nodes, gain, wanted parameters)."""


def drive(wiring: Wiring, columns: list[Column], part: Part, to: Any) -> Any:
    """Put in what ``part`` is driven to when it is given ``to``; where anything changed, by row."""
    changed: Any = False
    for name, value in part.kind.drive(wiring.of(part, columns), to).items():
        number = wiring.index[part.name, name]
        changed = changed | (columns[number] != value)
        columns[number] = value
    return changed


def follow(wiring: Wiring, columns: list[Column], volts: Any, rows: int) -> Array:
    """Drive all followers by the signals at ``volts``, in place; the rows where any changed."""
    return driven_by(wiring, columns, told(wiring, columns, volts), rows)


def told(wiring: Wiring, columns: Sequence[Column], volts: Any) -> list[Any]:
    """What each of the followers is given at ``volts``."""
    return [given(wiring, part, columns, volts) for part in wiring.followers]


def driven_by(wiring: Wiring, columns: list[Column], to: Sequence[Any], rows: int) -> Array:
    """Drive all followers by what they are ``told``, in place; the rows where any changed."""
    changed = np.zeros(rows, bool)
    for part, given_ in zip(wiring.followers, to, strict=True):
        changed |= drive(wiring, columns, part, given_)
    return np.flatnonzero(changed)


def least(one: Any, other: Any) -> Any:
    """The lesser of what a follower is told twice, signal by signal."""
    if isinstance(one, tuple):
        return tuple(np.minimum(a, b) for a, b in zip(one, other, strict=True))
    return np.minimum(one, other)


def given(wiring: Wiring, part: Part, columns: Sequence[Column], volts: Any) -> Any:
    """What a part is given: the process value, or the signals of the parts that it follows."""
    leaders = wiring.leaders(part)
    if not leaders:
        return columns[wiring.process]
    found = tuple(signal(wiring, wiring.parts[name], columns, volts) for name in leaders)
    return found[0] if len(found) == 1 else found


def signal(wiring: Wiring, part: Part, columns: Sequence[Column], volts: Any) -> Any:
    """What a part hands to those that follow it, held within its limits."""
    gives = part.kind.signal
    assert gives is not None
    seen = level(wiring, part, gives, columns, volts)
    if gives.what == "state":
        return np.where(np.asarray(seen) > 0, 1.0, 0.0)
    return np.clip(seen, gives.least, gives.most)


def level(wiring: Wiring, part: Part, of: Shows, columns: Sequence[Column], volts: Any) -> Any:
    """The level of what a part shows or hands on, without its limits; ``volts`` per node."""
    q = wiring.of(part, columns)
    gain, offset = of.level(q, given(wiring, part, columns, volts))
    return of.bend(q, gain * _across(wiring, part, volts) + offset)[0]


def look(
    wiring: Wiring, part: Part, of: Shows, columns: Sequence[Column], volts: Any
) -> tuple[Any, Any]:
    """The level as a straight line, gain and offset, over the volts that the part looks at."""
    q = wiring.of(part, columns)
    gain, offset = of.level(q, given(wiring, part, columns, volts))
    across = _across(wiring, part, volts)
    shown, steep = of.bend(q, gain * across + offset)
    return gain * steep, shown - gain * steep * across


def _across(wiring: Wiring, part: Part, volts: Any) -> Any:
    pins = ends(wiring, part)
    return 0.0 if pins is None else volts[pins[0]] - volts[pins[1]]


def ends(wiring: Wiring, part: Part) -> tuple[int, int] | None:
    """The nodes between which a part looks; None for a part without pins."""
    nodes = [wiring.node[node] for node in list(part.pins.values())[:2]]
    return (nodes[0], nodes[1]) if len(nodes) == 2 else None


@dataclass(frozen=True)
class _Drive:
    """One driven parameter of a part, as a function of its parameters and what it is given."""

    part: Part
    name: str

    def __call__(self, q: Any, to: Any) -> Any:
        return self.part.kind.drive(q, to)[self.name]


class Chain:
    """Derivatives that reach a level through signals, on one state of the circuit."""

    def __init__(
        self, wiring: Wiring, state: State, wanted: Sequence[int], circuit: Circuit
    ) -> None:
        self.wiring, self.state = wiring, state
        self.wanted, self.circuit = tuple(wanted), circuit
        self._found: dict[str, Slopes] = {}
        self._driven = {
            wiring.index[part.name, name]: (part, name)
            for part in wiring.followers
            for name in part.kind.driven
        }

    def through(self, direct: Slopes) -> Slopes:
        """``direct`` with what the drives of followers contribute in place of the drives."""
        found = {number: value for number, value in direct.items() if number not in self._driven}
        for number in self._driven.keys() & direct.keys():
            part, name = self._driven[number]
            drives = self._inside(part, _Drive(part, name), self.wanted)
            _add(found, drives, direct[number])
        return found

    @property
    def numbers(self) -> tuple[int, ...]:
        """The parameters by which the circuit is to be derived: those wanted, and the drives."""
        return (*self.wanted, *(n for n in self._driven if n not in self.wanted))

    def level(self, part: Part, of: Shows) -> Slopes:
        """Derivatives of a level of a part, without its limits."""
        pins = ends(self.wiring, part)
        found: Slopes = {}
        if pins is not None:
            gain, _ = look(self.wiring, part, of, self.state.columns, self.state.v)
            found = self.through(self.circuit(pins, gain, self.numbers))
        _add(found, self.own(part, of), 1.0)
        return found

    def own(self, part: Part, of: Shows) -> Slopes:
        """The same with the volts that the part looks at held."""
        across = _across(self.wiring, part, self.state.v)

        def value(q: Any, to: Any) -> Any:
            gain, offset = of.level(q, to)
            return of.bend(q, gain * across + offset)[0]

        # What is shown may be what the part is driven to, as behind a pilot valve.
        return self.through(self._inside(part, value, self.numbers))

    def signal(self, part: Part) -> Slopes:
        """Derivatives of a signal: those of its level, nothing where it stands at a limit."""
        if part.name not in self._found:
            # What comes round to it again, through the insulation between circuits, is nothing.
            self._found[part.name] = {}
            gives = part.kind.signal
            assert gives is not None
            free: Any = 0.0
            if gives.what == "value":
                seen = level(self.wiring, part, gives, self.state.columns, self.state.v)
                free = np.where((seen > gives.least) & (seen < gives.most), 1.0, 0.0)
            found: Slopes = {}
            if gives.what == "value":
                _add(found, self.level(part, gives), free)
            self._found[part.name] = found
        return self._found[part.name]

    def _of(self, part: Part) -> tuple[Parameters, Any]:
        wiring, state = self.wiring, self.state
        to = given(wiring, part, state.columns, state.v)
        return wiring.of(part, state.columns), to

    def _inside(
        self, part: Part, value: Callable[[Any, Any], Any], numbers: Sequence[int]
    ) -> Slopes:
        """How a value inside one part depends on its own parameters and on what it is given.

        Of its own parameters those among ``numbers``.
        """
        q, to = self._of(part)
        found: Slopes = {}
        here = value(q, to)
        for item in part.kind.parameters:
            number = self.wiring.index[part.name, item.name]
            if number in numbers:
                at = getattr(q, item.name)
                step = STEP * np.maximum(np.abs(at), 1e-3)
                moved = Parameters({**vars(q), item.name: at + step})
                by = (value(moved, to) - here) / step
                if np.any(by):
                    _add(found, {number: 1.0}, by)
        signals = to if isinstance(to, tuple) else (to,)
        for place, name in enumerate(self.wiring.leaders(part)):
            nudged = tuple(s + STEP * (n == place) for n, s in enumerate(signals))
            by = (value(q, nudged if len(nudged) > 1 else nudged[0]) - here) / STEP
            if np.any(by):  # most of what is shown hangs on nothing that is handed on
                _add(found, self.signal(self.wiring.parts[name]), by)
        return found


def _add(found: Slopes, more: Slopes, factor: Any) -> None:
    for number, value in more.items():
        found[number] = found.get(number, 0.0) + factor * value
