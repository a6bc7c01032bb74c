"""What measurements show on the nodes of an atlas: found when first asked for, and kept.

A part of an atlas takes over what the whole knows of its nodes.  Nodes are only ever added behind
those that are known, so that only these are looked at.  Shapes: (node,), (node, spread).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from diagnose.circuit.rows import Array, State, subset
from diagnose.inference.cells import Levels
from diagnose.inference.grid import NODES
from diagnose.inference.hypotheses import Pair
from diagnose.inference.measurement import Condition, Measurement

if TYPE_CHECKING:
    from diagnose.inference.atlas import Atlas

NUDGE = 1e-3
"""Step in the severity coordinate by which the first fault of a pair is varied."""

SMALL = 5000
"""Nodes of which the operating points are kept; more would cost much memory."""


class Survey:
    """Levels on the nodes of one atlas; ``parent`` is (survey of the whole, nodes of it)."""

    def __init__(self, atlas: Atlas, parent: tuple[Survey, Array] | None = None) -> None:
        self.atlas, self.parent = atlas, parent
        self.observer, self.ground = atlas.observer, atlas.ground
        self._levels: dict[Measurement, Levels] = {}
        self._heights: dict[Measurement, Array] = {}
        self._along: dict[Measurement, Array] = {}
        self._states: dict[tuple[Condition, int], State] = {}

    # -- levels, with and without sensitivities ----------------------------------------------------

    def levels(self, wanted: Sequence[Measurement]) -> list[Levels]:
        """Levels of some measurements with their sensitivities."""
        known = {m: found for m in wanted if (found := self._known_levels(m)) is not None}
        for some, start in self._missing({m: known[m].count if m in known else 0 for m in wanted}):
            for measurement, new in zip(some, self._seen(some, start), strict=True):
                known[measurement] = known[measurement].plus(new) if start else new
        self._levels.update(known)
        return [known[measurement] for measurement in wanted]

    def _known_levels(self, measurement: Measurement) -> Levels | None:
        """What is known here, or to the whole; room is made for the first fault of new pairs."""
        found = self._levels.get(measurement)
        if found is not None or self.parent is None:
            return found
        whole, nodes = self.parent
        known = whole._known_levels(measurement)
        return None if known is None else known.some(nodes).widened(self._width)

    @property
    def _width(self) -> int:
        return len(self.observer.spreads) + self.ground.pairs

    def heights(self, wanted: Sequence[Measurement]) -> list[Array]:
        """Levels alone, where no sensitivities are wanted."""
        known = {m: found for m in wanted if (found := self._known_heights(m)) is not None}
        for some, start in self._missing({m: len(known.get(m, ())) for m in wanted}):
            state = self._state(some[0].condition, start)
            levels = self.observer.levels(some, state, self._rows(start)[2])
            for measurement, new in zip(some, levels, strict=True):
                known[measurement] = (
                    np.concatenate([known[measurement], new]) if start else new.copy()
                )
        self._heights.update(known)
        return [known[measurement] for measurement in wanted]

    def _known_heights(self, measurement: Measurement) -> Array | None:
        if measurement in self._levels:
            return self._levels[measurement].f
        found = self._heights.get(measurement)
        if found is not None or self.parent is None:
            return found
        whole, nodes = self.parent
        known = whole._known_heights(measurement)
        return None if known is None else known[nodes]

    def along(self, measurement: Measurement) -> Array:
        """Levels alone on whole lines, whether their nodes are in use or not: (line, place)."""
        found = self._along.get(measurement, np.zeros((0, NODES)))
        if not len(found) and self.parent is not None:
            found = self.parent[0].along(measurement)
        lines = self.atlas.lines
        if len(found) < len(lines):
            nodes = np.arange(len(found) * NODES, len(lines) * NODES)
            state = self._solved(nodes, measurement.condition)
            new = self.observer.level(measurement, state, self._of(nodes)[2])
            found = np.concatenate([found, new.reshape(-1, NODES)])
        self._along[measurement] = found
        return found

    def _missing(self, have: dict[Measurement, int]) -> list[tuple[list[Measurement], int]]:
        """What is not known on all nodes, as groups that one state serves; from which node on."""
        groups: dict[tuple[Condition, int], tuple[list[Measurement], int]] = {}
        for measurement, start in have.items():
            if start < len(self.atlas.nodes):
                key = (measurement.condition, start)
                groups.setdefault(key, ([], start))[0].append(measurement)
        return list(groups.values())

    # -- looking at the nodes from ``start`` on ----------------------------------------------------

    def _seen(self, some: Sequence[Measurement], start: int) -> list[Levels]:
        h, _, p = self._rows(start)
        condition = some[0].condition
        state = self._state(condition, start)
        still = self.ground.still(h, self.observer.numbers, condition)
        seen = self.observer.see_all(some, state, p, still)
        found = []
        for n, measurement in enumerate(some):
            slope = np.zeros((len(h), self._width))
            slope[:, : len(self.observer.spreads)] = seen.slope[n].T
            found.append(Levels(seen.level[n], slope, self.atlas.sound.sway(measurement)))
        if self.ground.pairs:
            self._vary_first(some, found, start)
        return found

    def _vary_first(self, some: Sequence[Measurement], found: list[Levels], start: int) -> None:
        """Put in the slopes by the severity of the first fault of pairs; single ones have none."""
        h, x, p = self._rows(start)
        rows = np.flatnonzero(self.ground.paired[h])
        if not len(rows):
            return
        condition = some[0].condition
        columns = self.ground.columns(h[rows], x[rows], p[rows], condition, NUDGE)
        pieces = {k: piece[rows] for k, piece in self._state(condition, start).pieces.items()}
        nudged = self.observer.base(columns, len(rows), condition, pieces)
        for level, other in zip(found, self.observer.levels(some, nudged, p[rows]), strict=True):
            level.slope[rows, -1] = (other - level.f[rows]) / NUDGE * Pair.SPREAD

    def _rows(self, start: int) -> tuple[Array, Array, Array]:
        """Hypothesis, x and process of the nodes from ``start`` on."""
        return self._of(self.atlas.nodes[start:])

    def _of(self, nodes: Array) -> tuple[Array, Array, Array]:
        lines, line = self.atlas.lines, nodes // NODES
        return lines.h[line], lines.x[line], lines.p.ravel()[nodes]

    def _state(self, condition: Condition, start: int) -> State:
        """Operating points of the nodes from ``start`` on, kept where they are few.

        Those of the loop as it is are kept on the whole atlas as well: each hunt begins there.
        """
        count = len(self.atlas.nodes) - start
        kept = self._states.get((condition, start))
        if kept is None or kept.rows != count:
            known = None if start else self._known_state(condition)
            kept = known or self._solved(self.atlas.nodes[start:], condition)
            if count <= SMALL or (self.parent is None and not condition):
                self._states[condition, start] = kept
        return kept

    def _known_state(self, condition: Condition) -> State | None:
        """The part of the whole's operating points, if it has kept them and they are all."""
        if self.parent is None:
            return None
        whole, nodes = self.parent
        known = whole._states.get((condition, 0))
        if known is None or known.rows < len(whole.atlas.nodes):
            return None
        return subset(known, nodes) if len(nodes) == len(self.atlas.nodes) else None

    def _solved(self, nodes: Array, condition: Condition) -> State:
        h, x, p = self._of(nodes)
        columns = self.ground.columns(h, x, p, condition)
        guess = self.atlas.sound.pieces(condition, len(nodes))
        return self.observer.base(columns, len(nodes), condition, guess)
