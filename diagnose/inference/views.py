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
from diagnose.inference.atlas import Atlas
from diagnose.inference.hypotheses import Pair, condition_moves
from diagnose.inference.measurement import Condition, Jumper, Measurement
from diagnose.inference.observe import Sight, in_place
from diagnose.inference.survey import NUDGE

FEW = 2
"""Things read in one condition up to which conditions are gone through rather than things."""


@dataclass
class Points:
    """Places of a belief: hypothesis, severity coordinate, process, weight; shapes (point,)."""

    h: Array
    x: Array
    p: Array
    weight: Array

    def __len__(self) -> int:
        return len(self.h)

    def some(self, rows: Array) -> Points:
        """Some of the points."""
        return Points(self.h[rows], self.x[rows], self.p[rows], self.weight[rows])

    def plus(self, other: Points) -> Points:
        """These points followed by ``other``."""
        pairs = zip(
            (self.h, self.x, self.p, self.weight),
            (other.h, other.x, other.p, other.weight),
            strict=True,
        )
        return Points(*(np.concatenate(pair) for pair in pairs))


@dataclass(frozen=True)
class View:
    """A condition; ``fitted`` is the milliampere reading whose meter is in the circuit."""

    condition: Condition
    fitted: Measurement | None = None


def sight(atlas: Atlas, points: Points, wanted: Sequence[Measurement]) -> Sight:
    """Levels and slopes of measurements; the first severity of pairs comes last of the spreads."""
    found = _Reading(atlas, points, wanted).taken()
    if atlas.ground.pairs:
        first = np.zeros_like(found.level)
        rows = np.flatnonzero(atlas.ground.paired[points.h])
        if len(rows):
            nudged = _Reading(atlas, points.some(rows), wanted, NUDGE).taken()
            first[:, rows] = (nudged.level - found.level[:, rows]) / NUDGE * Pair.SPREAD
        found.slope = np.concatenate([found.slope, first[:, None]], axis=1)
    return found


def _view(measurement: Measurement) -> View:
    return View(measurement.condition, measurement if in_place(measurement) else None)


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
        currents = [measurement for measurement in self.wanted if in_place(measurement)]
        for some in _alike(currents, lambda m: _jumpers(m.condition)):
            self._see_fitted(some)
        single = []
        plain = [measurement for measurement in self.wanted if not in_place(measurement)]
        for some in _alike(plain, lambda m: m.condition):
            if len(some) > FEW:
                self._see_beside(some)
            else:
                single += some
        for some in _alike(single, lambda m: (m.function, m.points, _jumpers(m.condition))):
            self._see_along(some)
        return self.sight

    def _see_beside(self, some: list[Measurement]) -> None:
        """Many things read in one condition."""
        state, still, process, _ = self._window(some[:1])
        seen = self.observer.see_all(some, state, process, still)
        rows = [self.wanted[measurement] for measurement in some]
        self.sight.level[rows], self.sight.slope[rows] = seen.level, seen.slope

    def _see_along(self, some: list[Measurement]) -> None:
        """One thing read in several conditions."""
        state, still, process, places = self._window(some)
        self._put(some, places, self.observer.see_all(some[:1], state, process, still))

    def _see_fitted(self, some: list[Measurement]) -> None:
        """Milliamperes, each in its own view, where the joint is open and the meter fitted."""
        state, still, _, places = self._window(some)
        count, node = len(self.points), self.observer.machine.wiring.node
        ends = np.zeros((2, state.rows), int)
        for measurement, place in zip(some, places, strict=True):
            for end, point in zip(ends, measurement.points, strict=True):
                end[place * count : (place + 1) * count] = node[point]
        self._put(some, places, self.observer.see_fitted(ends[0], ends[1], state, still))

    def _put(self, some: list[Measurement], places: list[int], seen: Sight) -> None:
        """What one look saw of measurements in the views at ``places`` of a run of views."""
        count = len(self.points)
        for measurement, place in zip(some, places, strict=True):
            rows = slice(place * count, (place + 1) * count)
            n = self.wanted[measurement]
            self.sight.level[n], self.sight.slope[n] = seen.level[0, rows], seen.slope[0][:, rows]

    def _window(self, some: list[Measurement]) -> tuple[State, Array, Array, list[int]]:
        """The shortest run of views that holds some measurements, and where in it they are."""
        stack = self.stacks[_jumpers(some[0].condition)]
        places = [stack.place[_view(measurement)] for measurement in some]
        first, last = min(places), max(places)
        state, still, process = stack.run(first, last)
        return state, still, process, [place - first for place in places]


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
        self.views = sorted(views, key=lambda view: view.fitted is not None)
        self.place = {view: n for n, view in enumerate(self.views)}
        observer = atlas.observer
        self.still = np.concatenate([self._still(view) for view in self.views])
        jumpers = _jumpers(self.views[0].condition)
        rows = len(points) * len(self.views)
        self.state = observer.base(self._columns(nudge), rows, jumpers, self._start())
        # Found once for all views, which look at parts of them.
        slopes(observer.machine, self.state, observer.numbers)
        self._runs: dict[tuple[int, int], State] = {}

    def run(self, first: int, last: int) -> tuple[State, Array, Array]:
        """The views from ``first`` to ``last``: state, ``still`` and process of their rows."""
        count = len(self.points)
        rows = slice(first * count, (last + 1) * count)
        if (first, last) not in self._runs:
            self._runs[first, last] = window(self.state, rows)
        return self._runs[first, last], self.still[rows], np.tile(self.points.p, last + 1 - first)

    def _still(self, view: View) -> Array:
        """Which tolerances hold in a view: (point, spread); what a meter replaces has none."""
        observer = self.atlas.observer
        found = self.atlas.ground.still(self.points.h, observer.numbers, view.condition)
        if view.fitted:
            found &= np.array(observer.numbers) != observer.opening(view.fitted)[0]
        return found

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
        if view.fitted is None:
            return moved
        observer = self.atlas.observer
        number, inserted = observer.opening(view.fitted)
        before = moved.get(number, observer.machine.wiring.nominal[number])
        return {**moved, number: inserted(before)}

    def _start(self) -> Pieces:
        """The regimes of the sound loop in each view: most points are not far from them."""
        sound = [self.atlas.sound.pieces(view.condition, len(self.points)) for view in self.views]
        return {k: np.concatenate([pieces[k] for pieces in sound]) for k in sound[0]}
