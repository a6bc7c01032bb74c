"""The circuit at points of a belief in every condition in which something is to be read.

All conditions are stacked into one solved state, and everything that can be read off it is read in
few passes.  Shapes: (point,), (measurement, point), (measurement, spread, point).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.circuit.questions import slopes
from diagnose.circuit.rows import Array, Pieces, State, window
from diagnose.inference.atlas import Atlas
from diagnose.inference.hypotheses import Pair
from diagnose.inference.measurement import Condition, Measurement, alike, jumpers_of
from diagnose.inference.observe import Sight, in_place
from diagnose.inference.survey import NUDGE

FEW = 2
"""Things read in one condition up to which conditions are gone through rather than things."""

ROWS = 4000
"""Rows that are solved at once: what fits a processor's cache is quick, and takes less room."""

LOT = 32
"""Measurements that are seen at once: what fits a processor's cache is quick."""


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


def sight(atlas: Atlas, points: Points, wanted: Sequence[Measurement]) -> Sight:
    """Levels and slopes of measurements; the first severity of pairs comes last of the spreads."""
    reader = Reader(atlas, points, wanted)
    place = {measurement: n for n, measurement in enumerate(wanted)}
    count, spreads = len(points), reader.spreads
    found = Sight(np.empty((len(place), count)), np.empty((len(place), spreads, count)))
    for some in reader.together(wanted):
        rows, seen = [place[measurement] for measurement in some], reader.see(some)
        found.level[rows], found.slope[rows] = seen.level, seen.slope
    return found


class Reader:
    """Reads measurements at the points of a belief; every condition is solved once, at the start.

    What it sees has a slope for each tolerance, and one for the first severity of pairs where the
    atlas has pairs: ``spreads`` in all.
    """

    def __init__(self, atlas: Atlas, points: Points, wanted: Sequence[Measurement]) -> None:
        self._plain = _Reading(atlas, points, wanted)
        self._pairs = np.flatnonzero(atlas.ground.paired[points.h])
        self._varied = atlas.ground.pairs
        if len(self._pairs):
            self._nudged = _Reading(atlas, points.some(self._pairs), wanted, NUDGE)
        self.spreads = len(atlas.observer.spreads) + self._varied

    @staticmethod
    def together(wanted: Iterable[Measurement]) -> Iterator[list[Measurement]]:
        """Measurements in lots that are quickly seen at once: what ``see`` takes."""
        plain: list[Measurement] = []
        metered: list[Measurement] = []
        for measurement in dict.fromkeys(wanted):
            (metered if in_place(measurement) else plain).append(measurement)
        single = []
        for some in alike(plain, lambda m: m.condition):
            if len(some) > FEW:
                yield from _lots(some)
            else:
                single += some
        for some in alike(single, lambda m: (m.function, m.points, jumpers_of(m.condition))):
            yield from _lots(some)
        for some in alike(metered, lambda m: m.condition):
            yield from _lots(some)

    def see(self, some: list[Measurement]) -> Sight:
        """Measurements of one lot: (measurement, point), (measurement, spread, point)."""
        found = self._plain.see(some)
        if self._varied:
            first = np.zeros_like(found.level)
            if len(self._pairs):
                change = self._nudged.see(some).level - found.level[:, self._pairs]
                first[:, self._pairs] = change / NUDGE * Pair.SPREAD
            found.slope = np.concatenate([found.slope, first[:, None]], axis=1)
        return found


def _lots(some: list[Measurement]) -> Iterator[list[Measurement]]:
    for start in range(0, len(some), LOT):
        yield some[start : start + LOT]


class _Reading:
    """Reads measurements off stacks of conditions: one for each set of jumpers."""

    def __init__(
        self, atlas: Atlas, points: Points, wanted: Sequence[Measurement], nudge: float = 0.0
    ) -> None:
        self.observer, self.points = atlas.observer, points
        conditions: dict[Condition, dict[Condition, None]] = {}
        for condition in (measurement.condition for measurement in wanted):
            conditions.setdefault(jumpers_of(condition), {})[condition] = None
        most = max(1, ROWS // max(len(points), 1))
        self.stacks: dict[Condition, _Stack] = {}
        for some in map(list, conditions.values()):
            for start in range(0, len(some), most):
                stack = _Stack(atlas, points, some[start : start + most], nudge)
                self.stacks.update(dict.fromkeys(stack.place, stack))

    def see(self, some: list[Measurement]) -> Sight:
        """Many things in one condition, or one thing in several conditions."""
        parts = alike(range(len(some)), lambda n: id(self.stacks[some[n].condition]))
        seen = [
            self._off(self.stacks[some[part[0]].condition], [some[n] for n in part])
            for part in parts
        ]
        if len(seen) == 1:
            return seen[0]
        order = np.argsort(np.concatenate(parts))
        level, slope = ([getattr(one, name) for one in seen] for name in ("level", "slope"))
        return Sight(np.concatenate(level)[order], np.concatenate(slope)[order])

    def _off(self, stack: _Stack, some: list[Measurement]) -> Sight:
        """The same off one stack."""
        places = [stack.place[measurement.condition] for measurement in some]
        first, last = min(places), max(places)
        state, still, process = stack.run(first, last)
        if in_place(some[0]):
            return self.observer.see_metered(some, state, still)
        if first == last:
            return self.observer.see_all(some, state, process, still)
        seen = self.observer.see_all(some[:1], state, process, still)
        shape = last - first + 1, len(self.points)
        level = seen.level[0].reshape(shape)
        slope = seen.slope[0].reshape(-1 if seen.slope.size else 0, *shape)
        rows = [place - first for place in places]
        return Sight(level[rows], slope[:, rows].transpose(1, 0, 2))


class _Stack:
    """The points in several conditions, one after the other in one state."""

    def __init__(
        self, atlas: Atlas, points: Points, conditions: Sequence[Condition], nudge: float
    ) -> None:
        self.atlas, self.points, self.conditions = atlas, points, conditions
        self.place = {condition: n for n, condition in enumerate(conditions)}
        observer, numbers = atlas.observer, atlas.observer.numbers
        self.still = np.concatenate(
            [atlas.ground.still(points.h, numbers, condition) for condition in conditions]
        )
        jumpers = jumpers_of(conditions[0])
        rows = len(points) * len(conditions)
        columns = atlas.ground.stacked(points.h, points.x, points.p, conditions, nudge)
        self.state = observer.base(columns, rows, jumpers, self._start())
        # Found once for all conditions, which look at parts of them.
        slopes(observer.machine, self.state, numbers)
        self._runs: dict[tuple[int, int], State] = {}

    def run(self, first: int, last: int) -> tuple[State, Array, Array]:
        """The conditions from ``first`` to ``last``: state, ``still`` and process of their rows."""
        count = len(self.points)
        rows = slice(first * count, (last + 1) * count)
        if (first, last) not in self._runs:
            self._runs[first, last] = window(self.state, rows, plain=first == last)
        return self._runs[first, last], self.still[rows], np.tile(self.points.p, last + 1 - first)

    def _start(self) -> Pieces:
        """The regimes of the sound loop in each condition: most points are not far from them."""
        count, known = len(self.points), self.atlas.sound
        known.look(self.conditions)
        sound = [known.pieces(condition, count) for condition in self.conditions]
        return {k: np.concatenate([pieces[k] for pieces in sound]) for k in sound[0]}
