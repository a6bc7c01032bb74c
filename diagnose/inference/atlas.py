"""What every measurement would show under every hypothesis: cells and the levels at their nodes.

The atlas of a loop covers all hypotheses.  A part of it holds only the cells that readings leave in
the running, and can be cut finer where they turn out to be sharper than its strips.  Levels are
found when a measurement is first asked for.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from diagnose.circuit.predictor import Predictor
from diagnose.circuit.rows import Array, among, distinct
from diagnose.inference import bends
from diagnose.inference.bends import Bends
from diagnose.inference.cells import Cells, Levels, cells_of
from diagnose.inference.grid import STEP, Strips, lines_between
from diagnose.inference.ground import Ground
from diagnose.inference.hypotheses import Hypothesis, Pair
from diagnose.inference.measurement import Measurement
from diagnose.inference.observe import Observer
from diagnose.inference.shelf import lines_of
from diagnose.inference.sound import Sound
from diagnose.inference.survey import Survey

REMEMBERED = 100
"""Circuits whose bends are kept: a handful of numbers each."""


class Atlas:
    """Cells of one loop and the levels on their nodes.

    ``lines`` and ``strips`` are all that were ever laid; ``nodes`` those in use, as numbers along
    the lines (``line * NODES + place``); the corners of ``cells`` count in ``nodes``.
    """

    def __init__(
        self, observer: Observer, hypotheses: tuple[Hypothesis, ...], step: float = STEP
    ) -> None:
        self.observer = observer
        self.ground = Ground(observer.machine, hypotheses)
        self.sound = Sound(observer, self.ground)
        self.lines, self.strips = lines_of(self.ground, step)
        self.cells = cells_of(self.lines, self.strips, self._two_states)
        self.nodes = np.zeros(0, int)
        self._settle(self.cells)
        self.survey = Survey(self)
        self._bends: dict[Measurement, Bends] = {}

    def _settle(self, cells: Cells) -> None:
        """Take the nodes of new cells into use; their corners then count in ``nodes``."""
        used = distinct(cells.corner)
        new = used[~among(used, self.nodes)]
        self.nodes = np.concatenate([self.nodes, new])
        order = np.argsort(self.nodes)
        cells.corner = order[np.searchsorted(self.nodes, cells.corner, sorter=order)]

    @property
    def machine(self) -> Predictor:
        """The predictor behind the atlas."""
        return self.observer.machine

    @property
    def _two_states(self) -> bool:
        return self.machine.loop.states

    def levels(self, wanted: Sequence[Measurement]) -> list[Levels]:
        """Levels of measurements on all nodes with their sensitivities."""
        return self.survey.levels(wanted)

    def heights(self, wanted: Sequence[Measurement]) -> list[Array]:
        """Levels alone (node,), where no sensitivities are wanted."""
        return self.survey.heights(wanted)

    def along(self, wanted: Sequence[Measurement]) -> list[Array]:
        """Levels alone on whole lines, whether their nodes are in use or not: (line, place)."""
        return self.survey.along(wanted)

    # -- parts, finer strips, pairs --------------------------------------------------------------

    def part(self, cells: Array) -> Atlas:
        """An atlas of some cells (numbers); refining it does not change this one."""
        other = self._copy()
        other.cells = self.cells.some(cells)
        used, corner = np.unique(other.cells.corner, return_inverse=True)
        other.cells.corner = corner.reshape(-1, 4)
        other.nodes = self.nodes[used]
        other.survey = Survey(other, (self, used))
        return other

    def bending(self, circuits: Iterable[Measurement]) -> frozenset[Measurement]:
        """Those of some circuits that bend along the severity where the loop as it is does not."""
        return frozenset(one for one in circuits if len(self._cuts([one])[0]))

    def bent(self, circuits: Iterable[Measurement]) -> Atlas:
        """An atlas with strips cut beside the bends of circuits that bend; others as they are."""
        at = self._cuts(circuits)
        cells = np.flatnonzero(~among(self.cells.strip, distinct(at[0])))
        other, start = self.part(cells), len(self.strips.low)
        lines, strips = bends.divided(self.ground, self.lines, self.strips, at)
        other.lines, other.strips = self.lines.plus(lines), self.strips.plus(strips)
        other._lay(cells_of(other.lines, other.strips, self._two_states, start))
        return other

    def _cuts(self, circuits: Iterable[Measurement]) -> Bends:
        found = [self._bends_of(one) for one in circuits]
        return bends.cuts(self.ground, self.lines, self.strips, found)

    def _bends_of(self, circuit: Measurement) -> Bends:
        if circuit not in self._bends:
            solve = bends.solver(self.observer, self.ground, circuit)
            found = bends.bends(self.ground, self.lines, self.strips, solve)
            for oldest in list(self._bends)[: 1 - REMEMBERED]:
                del self._bends[oldest]
            self._bends[circuit] = found
        return self._bends[circuit]

    def _copy(self) -> Atlas:
        other = object.__new__(Atlas)
        other.observer, other.ground, other.sound = self.observer, self.ground, self.sound
        other.lines, other.strips = self.lines, self.strips
        other._bends = {}
        return other

    def refine(self, strips: Array, cuts: Array, between: Array) -> Array:
        """Cut strips (numbers) at x values: ``cuts`` (strip, 2), rising, inside the strip.

        Of the finer strips only the cells that overlap the process values ``between`` (strip, 2)
        are laid; returns their numbers.
        """
        low, high = self.strips.low[strips], self.strips.high[strips]
        first = len(self.lines) + 2 * np.arange(len(strips))
        start, before = len(self.strips.low), len(self.cells)
        sides = Strips(np.repeat(low, 2), np.repeat(high, 2))
        window = np.repeat(between, 2, axis=0)
        new = lines_between(self.ground, self.lines, sides, cuts.ravel(), window)
        self.lines = self.lines.plus(new)
        self.strips = self.strips.plus(
            Strips(
                np.concatenate([low, first, first + 1]), np.concatenate([first, first + 1, high])
            )
        )
        cells = cells_of(self.lines, self.strips, self._two_states, start)
        least, most = between[(cells.strip - start) % len(strips)].T
        touching = (cells.p.min(axis=1) <= most) & (cells.p.max(axis=1) >= least)
        self._lay(cells.some(np.flatnonzero(touching)))
        return np.arange(before, len(self.cells))

    def _lay(self, cells: Cells) -> None:
        self._settle(cells)
        self.cells = Cells.joined([self.cells, cells])

    def beside(
        self, observer: Observer, ground: Ground, circuits: Iterable[Measurement], step: float
    ) -> Atlas:
        """An atlas of other hypotheses in another circuit, cut beside the bends of ``circuits``.

        The sound loop is the same.
        """
        other = self._copy()
        other.observer, other.ground = observer, ground
        solves = [bends.solver(observer, ground, one) for one in circuits]
        other.lines, other.strips = bends.first_lines(ground, step, 0, solves)
        other.cells = cells_of(other.lines, other.strips, self._two_states)
        other.nodes = np.zeros(0, int)
        other._settle(other.cells)
        other.survey = Survey(other)
        return other

    def extended(self, pairs: tuple[Pair, ...], circuits: Iterable[Measurement] = ()) -> Atlas:
        """A copy with cells for pairs of faults added, cut beside the bends of some circuits."""
        other = self._copy()
        other.ground = Ground(self.machine, (*self.ground.hypotheses, *pairs))
        lines, strips = bends.first_lines(
            other.ground,
            STEP,
            len(self.ground.hypotheses),
            [bends.solver(self.observer, other.ground, one) for one in circuits],
        )
        shift, start = len(self.lines), len(self.strips.low)
        other.lines = self.lines.plus(lines)
        other.strips = self.strips.plus(Strips(strips.low + shift, strips.high + shift))
        other.cells, other.nodes = self.cells, self.nodes
        other.survey = Survey(other, (self, np.arange(len(self.nodes))))
        other._lay(cells_of(other.lines, other.strips, self._two_states, start))
        return other
