"""What every measurement would show under every hypothesis: lines and their levels, kept together.

The atlas of a loop starts with lines over all hypotheses and is cut finer where readings turn out
to be sharper than its strips.  Levels are found when a measurement is first asked for.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from diagnose.circuit.predictor import Predictor
from diagnose.circuit.rows import Array, State
from diagnose.inference.evidence import Levels
from diagnose.inference.grid import NODES, STEP, Ground, Lines, Strips, first_lines, place_nodes
from diagnose.inference.hypotheses import Hypothesis, Pair
from diagnose.inference.measurement import Condition, Measurement
from diagnose.inference.observe import Observer
from diagnose.inference.shelf import lines_of

NUDGE = 1e-3
"""Step in the severity coordinate by which the first fault of a pair is varied."""

SWAYED = np.array([0.4, 0.6])
"""Process values between which it is seen how far a level moves."""


def with_first(level: Array, slope: Array, nudged: Array) -> Array:
    """Slopes (row, spread) with one more column: the severity of the first fault of a pair."""
    column = (nudged - level) / NUDGE * Pair.SPREAD
    return np.concatenate([slope, column[:, None]], axis=1)


class Atlas:
    """Lines, strips and levels of one loop; grows when it is refined."""

    def __init__(
        self, observer: Observer, hypotheses: tuple[Hypothesis, ...], step: float = STEP
    ) -> None:
        self.observer = observer
        self.ground = Ground(observer.machine, hypotheses)
        self.lines, self.strips = lines_of(self.ground, step)
        self._levels: dict[Measurement, Levels] = {}
        self._heights: dict[Measurement, Array] = {}
        self._states: dict[Condition, State] = {}
        self._whole: tuple[Atlas, Array] | None = None
        self._sways: dict[Measurement, float] = {}
        self._sound: dict[Condition, State] = {}

    @property
    def machine(self) -> Predictor:
        """The predictor behind the atlas."""
        return self.observer.machine

    def levels(self, measurement: Measurement) -> Levels:
        """Levels of a measurement on all lines, found once and kept."""
        found = self._levels.get(measurement)
        if found is None and self._whole is not None:
            whole, rows = self._whole
            found = whole.levels(measurement).some(rows)
        if found is None or len(found.f) < len(self.lines):
            have = 0 if found is None else len(found.f)
            new = self._find(measurement, have)
            found = new if found is None else found.plus(new)
            self._levels[measurement] = found
        return found

    def heights(self, measurement: Measurement) -> Array:
        """Levels alone (line, node), where no sensitivities are wanted."""
        if measurement in self._levels:
            return self.levels(measurement).f
        if self._whole is not None and len(self._whole[1]) == len(self.lines):
            return self._whole[0].heights(measurement)[self._whole[1]]
        found = self._heights.get(measurement)
        if found is None or len(found) < len(self.lines):
            h, x, p = self.rows(self.lines)
            state = self._first_state(h, x, p, measurement.condition)
            found = self.observer.level(measurement, state, p).reshape(-1, NODES)
            self._heights[measurement] = found
        return found

    def _first_state(self, h: Array, x: Array, p: Array, condition: Condition) -> State:
        """Operating points of all lines, kept while there are no more lines than at first."""
        kept = self._states.get(condition)
        if kept is None or kept.rows != len(h):
            kept = self._states[condition] = self._state(h, x, p, condition)
        return kept

    def _find(self, measurement: Measurement, start: int) -> Levels:
        """Levels on the lines from ``start`` on."""
        lines = Lines(*(part[start:] for part in self.lines.parts()))
        h, x, p = self.rows(lines)
        state = (
            self._state(h, x, p, measurement.condition)
            if start
            else self._first_state(h, x, p, measurement.condition)
        )
        nudged = None
        if self.ground.pairs:
            nudged = self._state(h, x, p, measurement.condition, NUDGE)
        return self._seen(measurement, state, nudged, h, p, len(lines))

    def _seen(
        self,
        measurement: Measurement,
        state: State,
        nudged: State | None,
        h: Array,
        p: Array,
        count: int,
    ) -> Levels:
        still = self.ground.still(h, self.observer.numbers, measurement.condition)
        seen = self.observer.see(measurement, state, p, still)
        slope = seen.slope
        if nudged is not None:
            other = self.observer.see(measurement, nudged, p, still)
            slope = with_first(seen.level, slope, other.level)
        f = seen.level.reshape(count, NODES)
        return Levels(f, slope.reshape(count, NODES, -1), self.sway(measurement))

    def sway(self, measurement: Measurement) -> float:
        """How far the level of the sound loop moves per unit of process value."""
        return self.sways([measurement])[measurement]

    def sways(self, wanted: Sequence[Measurement]) -> dict[Measurement, float]:
        """The same for many measurements; found once and kept."""
        for measurement in wanted:
            if measurement not in self._sways:
                self._sways[measurement] = self._swaying(measurement)
        return self._sways

    def _swaying(self, measurement: Measurement) -> float:
        if measurement.function == "ohm":
            return 0.0
        level = self._level(measurement, self.sound(measurement.condition), SWAYED)
        return float(abs(level[1] - level[0]) / (SWAYED[1] - SWAYED[0]))

    def sound(self, condition: Condition) -> State:
        """The sound loop in a condition, at the two process values ``SWAYED``; kept."""
        if condition not in self._sound:
            columns = self.ground.columns(np.zeros(2, int), np.full(2, 0.5), SWAYED, condition)
            self._sound[condition] = self.observer.base(columns, 2, condition)
        return self._sound[condition]

    def _level(self, measurement: Measurement, state: State, p: Array) -> Array:
        """Level in the two rows; what ten megohms take from a sound loop does not matter here."""
        if measurement.function != "V":
            return self.observer.level(measurement, state, p)
        a, b = (state.v[self.machine.wiring.node[node]] for node in measurement.points)
        return np.broadcast_to(np.asarray(a - b, float), (2,))

    def _state(
        self, h: Array, x: Array, p: Array, condition: Condition, nudge: float = 0.0
    ) -> State:
        columns = self.ground.columns(h, x, p, condition, nudge)
        return self.observer.base(columns, len(h), condition)

    @staticmethod
    def rows(lines: Lines) -> tuple[Array, Array, Array]:
        """Lines spread out to rows (line x node): hypothesis, x, process."""
        return np.repeat(lines.h, NODES), np.repeat(lines.x, NODES), lines.p.ravel()

    def refine(self, strips: Array, cuts: Array) -> None:
        """Cut strips (numbers) at x values: ``cuts`` (strip, 2), rising, inside the strip."""
        low, high = self.strips.low[strips], self.strips.high[strips]
        start = len(self.lines)
        h = np.repeat(self.lines.h[low], 2)
        new, _ = place_nodes(self.ground, h, cuts.ravel())
        self.lines = self.lines.plus(new)
        first = start + 2 * np.arange(len(strips))
        kept = np.ones(len(self.strips.low), bool)
        kept[strips] = False
        self.strips = Strips(
            np.concatenate([self.strips.low[kept], low, first, first + 1]),
            np.concatenate([self.strips.high[kept], first, first + 1, high]),
        )

    def part(self, strips: Array) -> Atlas:
        """An atlas of some strips (numbers); refining it does not change this one."""
        rows = np.unique(np.concatenate([self.strips.low[strips], self.strips.high[strips]]))
        place = np.full(len(self.lines), -1)
        place[rows] = np.arange(len(rows))
        other = object.__new__(Atlas)
        other.observer, other.ground = self.observer, self.ground
        other.lines = Lines(*(part[rows] for part in self.lines.parts()))
        other.strips = Strips(place[self.strips.low[strips]], place[self.strips.high[strips]])
        other._levels, other._heights, other._states, other._whole = {}, {}, {}, (self, rows)
        other._sways, other._sound = self._sways, self._sound
        return other

    def extended(self, pairs: tuple[Pair, ...]) -> Atlas:
        """A copy with lines for pairs of faults added."""
        other = object.__new__(Atlas)
        other.observer = self.observer
        other.ground = Ground(self.machine, (*self.ground.hypotheses, *pairs))
        lines, strips = first_lines(other.ground, STEP, len(self.ground.hypotheses))
        shift = len(self.lines)
        other.lines = self.lines.plus(lines)
        other.strips = Strips(
            np.concatenate([self.strips.low, strips.low + shift]),
            np.concatenate([self.strips.high, strips.high + shift]),
        )
        other._levels, other._heights, other._states, other._whole = {}, {}, {}, None
        other._sways, other._sound = self._sways, self._sound
        return other
