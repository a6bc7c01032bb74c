"""The circuit at points of a belief in every condition in which something is to be read.

All conditions are stacked into one solved state, and everything that can be read off it is read in
few passes.  Shapes: (point,), (measurement, point), (measurement, spread, point).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from diagnose.circuit.questions import slopes
from diagnose.circuit.rows import Array, Column, Pieces, State, window
from diagnose.inference.atlas import NUDGE, Atlas
from diagnose.inference.hypotheses import Pair, condition_moves
from diagnose.inference.many import span
from diagnose.inference.measurement import Condition, Jumper, Measurement

SPANNED = ("V", "Vlow", "VAC", "ohm")
"""Functions whose meter is fitted across two points and can be fitted across many at once."""


@dataclass
class Points:
    """Places of a belief: hypothesis, severity coordinate, process, weight; shapes (point,)."""

    h: Array
    x: Array
    p: Array
    weight: Array

    def __len__(self) -> int:
        return len(self.h)


@dataclass
class Sight:
    """What measurements show at the points: level and slope, tolerances in standard units."""

    level: Array
    slope: Array


@dataclass(frozen=True)
class View:
    """A condition; ``opened`` is the measurement for which a joint is open, its meter fitted."""

    condition: Condition
    opened: Measurement | None = None


def sight(atlas: Atlas, points: Points, wanted: Sequence[Measurement]) -> Sight:
    """Levels and slopes of measurements; the first severity of pairs comes last of the spreads."""
    found = _Reading(atlas, points, wanted).taken()
    if atlas.ground.pairs:
        nudged = _Reading(atlas, points, wanted, NUDGE).taken()
        first = (nudged.level - found.level) / NUDGE * Pair.SPREAD
        found.slope = np.concatenate([found.slope, first[:, None]], axis=1)
    return found


def _view(measurement: Measurement) -> View:
    opened = measurement if measurement.function == "mA" else None
    return View(measurement.condition, opened)


class _Reading:
    """Reads measurements off stacks of views: one for each set of jumpers."""

    def __init__(
        self, atlas: Atlas, points: Points, wanted: Sequence[Measurement], nudge: float = 0.0
    ) -> None:
        self.observer, self.points = atlas.observer, points
        self.wanted = {measurement: n for n, measurement in enumerate(wanted)}
        views: dict[Condition, dict[View, None]] = {}
        for view in map(_view, wanted):
            views.setdefault(_jumpers(view.condition), {})[view] = None
        self.stacks = {
            jumpers: _Stack(atlas, points, list(some), nudge) for jumpers, some in views.items()
        }

    def taken(self) -> Sight:
        """All measurements."""
        count, spreads = len(self.points), len(self.observer.spreads)
        self.sight = Sight(
            np.empty((len(self.wanted), count)), np.empty((len(self.wanted), spreads, count))
        )
        left = list(self.wanted)
        for some in _alike(left, lambda m: (m.condition, m.function in SPANNED and m.function)):
            if some[0].function in SPANNED and len(some) > 1:
                settled = self._span(some)
                left = [m for m in left if m not in settled]
        for some in _alike(left, lambda m: (m.function, m.points, _jumpers(m.condition))):
            self._see(some)
        return self.sight

    def _span(self, some: list[Measurement]) -> set[Measurement]:
        """Volts, or ohms, of one condition all at once; returns those that were settled."""
        state, still, _, _ = self._window(some[:1])
        pairs = [(m.points[0], m.points[1]) for m in some]
        seen = span(self.observer, some[0].function, pairs, state, still)
        rows = [self.wanted[measurement] for measurement in some]
        self.sight.level[rows], self.sight.slope[rows] = seen.level, seen.slope
        return {m for m, open_ in zip(some, seen.unsettled, strict=True) if not open_}

    def _see(self, some: list[Measurement]) -> None:
        """One thing read in several conditions."""
        state, still, process, places = self._window(some)
        opened = _view(some[0]).opened is not None
        seen = self.observer.see(some[0], state, process, still, opened)
        count = len(self.points)
        for measurement, place in zip(some, places, strict=True):
            rows = slice(place * count, (place + 1) * count)
            n = self.wanted[measurement]
            self.sight.level[n], self.sight.slope[n] = seen.level[rows], seen.slope[rows].T

    def _window(self, some: list[Measurement]) -> tuple[State, Array, Array, list[int]]:
        """The shortest run of views that holds some measurements, and where in it they are."""
        stack, count = self.stacks[_jumpers(some[0].condition)], len(self.points)
        places = [stack.place[_view(measurement)] for measurement in some]
        first, last = min(places), max(places)
        rows = slice(first * count, (last + 1) * count)
        process = np.tile(self.points.p, last + 1 - first)
        return window(stack.state, rows), stack.still[rows], process, [p - first for p in places]


def _alike(
    measurements: Sequence[Measurement], key: Callable[[Measurement], Any]
) -> list[list[Measurement]]:
    """Measurements sorted into groups of one key, in the order in which they come."""
    found: dict[Any, list[Measurement]] = {}
    for measurement in measurements:
        found.setdefault(key(measurement), []).append(measurement)
    return list(found.values())


def _jumpers(condition: Condition) -> Condition:
    return tuple(item for item in condition if isinstance(item, Jumper))


class _Stack:
    """The points in several views, one after the other in one state."""

    def __init__(self, atlas: Atlas, points: Points, views: Sequence[View], nudge: float) -> None:
        self.atlas, self.points = atlas, points
        # Views in which a joint is open are read alone: they stand last, out of the way.
        self.views = sorted(views, key=lambda view: view.opened is not None)
        self.place = {view: n for n, view in enumerate(self.views)}
        ground, observer = atlas.ground, atlas.observer
        self.still = np.concatenate(
            [ground.still(points.h, observer.numbers, view.condition) for view in self.views]
        )
        jumpers = _jumpers(self.views[0].condition)
        rows = len(points) * len(self.views)
        self.state = observer.base(self._columns(nudge), rows, jumpers, self._start())
        slopes(observer.machine, self.state, observer.numbers)

    def _columns(self, nudge: float) -> list[Column]:
        machine, count = self.atlas.machine, len(self.points)
        moved: dict[int, Array] = {}
        for n, here in enumerate(self._moves(nudge)):
            for number, value in here.items():
                if number not in moved:
                    nominal = machine.wiring.nominal[number]
                    moved[number] = np.full(count * len(self.views), nominal)
                moved[number][n * count : (n + 1) * count] = value
        return machine.columns(dict(moved), np.tile(self.points.p, len(self.views)))

    def _moves(self, nudge: float) -> Iterator[dict[int, Column]]:
        """What each view moves: faults, then what was done on purpose, then the meter."""
        ground, points = self.atlas.ground, self.points
        faults = ((points.h, points.x),)
        plain = ground.faults(faults, set(), nudge)
        for view in self.views:
            by_hand, healed = condition_moves(self.atlas.machine.wiring, view.condition)
            moved = ground.faults(faults, healed, nudge) if healed else plain
            yield self._metered(view, {**moved, **by_hand})

    def _metered(self, view: View, moved: dict[int, Column]) -> dict[int, Column]:
        """With the milliampere meter of a view fitted as well."""
        if view.opened is None:
            return moved
        observer = self.atlas.observer
        number, fitted = observer.opening(view.opened)
        before = moved.get(number, observer.machine.wiring.nominal[number])
        return {**moved, number: fitted(before)}

    def _start(self) -> Pieces:
        """The regimes of the sound loop in each view: most points are not far from them."""
        sound = [self.atlas.sound(view.condition).pieces for view in self.views]
        return {
            k: np.repeat([pieces[k][0] for pieces in sound], len(self.points)) for k in sound[0]
        }
