"""What measurements show on the nodes of an atlas: found when first asked for, and kept.

A part of an atlas takes over what the whole knows of its nodes.  Nodes are only ever added behind
those that are known, so that only these are looked at.  Shapes: (node,), (node, spread).
"""

from __future__ import annotations

from collections.abc import Container, Iterator, Sequence
from typing import TYPE_CHECKING
from weakref import ref

import numpy as np

from diagnose.circuit.rows import Array, Pieces, State
from diagnose.inference.cells import Levels
from diagnose.inference.hypotheses import Pair
from diagnose.inference.measurement import Condition, Measurement
from diagnose.inference.nodes import NODES

if TYPE_CHECKING:
    from diagnose.inference.atlas import Atlas

NUDGE = 1e-3
"""Step in the severity coordinate by which the first fault of a pair is varied."""

ROOM = 60_000_000
"""Bytes of sensitivities that are kept of one atlas."""

STANDING = 200_000_000
"""Bytes of operating points that are kept of a whole atlas: without them the next thing that is
read takes nearly twice as long on a large sheet."""

SLOPES = np.float32
"""Seven digits of a sensitivity are plenty: it is times an uncertainty."""

FAINT = {"V": 1e-10, "mA": 1e-12, "clamp": 1e-12}
"""Volts (or fractions of range) and amperes that the spread of a tolerance must move a level by.

A millionth of the noise of the best meter: nobody can tell, not even by the order in which
readings were entered.
"""

BLOCK = 4000
"""Nodes that are solved at once; of more the operating points are mostly not kept."""


class Survey:
    """Levels on the nodes of one atlas; ``parent`` is (the whole, nodes of it)."""

    def __init__(self, atlas: Atlas, parent: tuple[Atlas, Array] | None = None) -> None:
        # The atlas holds this: a strong way back would keep both until a collector comes round.
        self._atlas, self.parent = ref(atlas), parent
        self.observer, self.ground = atlas.observer, atlas.ground
        self._levels: dict[Measurement, Levels] = {}
        self._heights: dict[Measurement, Array] = {}
        self._along: dict[Measurement, Array] = {}
        self._kept: dict[tuple[Condition, int], list[tuple[slice, State]]] = {}
        self._regimes: dict[tuple[Condition, int], Pieces] = {}

    @property
    def atlas(self) -> Atlas:
        """The atlas that this is of."""
        atlas = self._atlas()
        assert atlas is not None
        return atlas

    def let_go(self) -> None:
        """Forget operating points and sensitivities, which take room: they can be found anew."""
        self._kept.clear()
        self._levels.clear()

    # -- levels, with and without sensitivities ----------------------------------------------------

    def levels(self, wanted: Sequence[Measurement]) -> list[Levels]:
        """Levels of some measurements with their sensitivities."""
        known = {m: found for m in wanted if (found := self._known_levels(m)) is not None}
        for some, start in self._missing({m: known[m].count if m in known else 0 for m in wanted}):
            for measurement, new in zip(some, self._seen(some, start), strict=True):
                before = [known[measurement]] if start else []
                known[measurement] = Levels.joined([*before, *new])
        self._levels.update(known)
        self._forget(known)
        return [known[measurement] for measurement in wanted]

    def _forget(self, wanted: Container[Measurement]) -> None:
        """Let the oldest sensitivities go where they take too much room: they can be found anew."""
        room = sum(level.slope.nbytes for level in self._levels.values()) - ROOM
        for measurement in [*self._levels]:
            if room <= 0:
                break
            if measurement not in wanted:
                room -= self._levels.pop(measurement).slope.nbytes

    def _known_levels(self, measurement: Measurement) -> Levels | None:
        """What is known here, or to the whole: that may know a part of its own nodes only."""
        found = self._levels.get(measurement)
        if found is not None or self.parent is None:
            return found
        whole, nodes = self.parent
        known = whole.survey._known_levels(measurement)
        return known.some(nodes) if known and nodes.max(initial=-1) < known.count else None

    def heights(self, wanted: Sequence[Measurement]) -> list[Array]:
        """Levels alone, where no sensitivities are wanted."""
        known = {m: found for m in wanted if (found := self._known_heights(m)) is not None}
        for some, start in self._missing({m: len(known.get(m, ())) for m in wanted}):
            blocks = [
                self.observer.levels(some, state, self._rows(start, rows)[2])
                for rows, state in self._states(some[0].condition, start)
            ]
            for n, measurement in enumerate(some):
                before = [known[measurement]] if start else []
                known[measurement] = np.concatenate([*before, *(block[n] for block in blocks)])
        self._heights.update(known)
        return [known[measurement] for measurement in wanted]

    def _known_heights(self, measurement: Measurement) -> Array | None:
        if measurement in self._levels:
            return self._levels[measurement].f
        found = self._heights.get(measurement)
        if found is not None or self.parent is None:
            return found
        whole, nodes = self.parent
        known = whole.survey._known_heights(measurement)
        return known[nodes] if known is not None and nodes.max(initial=-1) < len(known) else None

    def along(self, wanted: Sequence[Measurement]) -> list[Array]:
        """Levels alone on whole lines, whether their nodes are in use or not: (line, place)."""
        known = self._known_along(wanted)
        lines, groups = len(self.atlas.lines), dict[tuple[Condition, int], list[Measurement]]()
        for m, found in known.items():
            if len(found) < lines:
                groups.setdefault((m.condition, len(found)), []).append(m)
        for (condition, start), some in groups.items():
            nodes = np.arange(start * NODES, lines * NODES)
            guess = self.atlas.sound.pieces(condition, len(nodes))
            blocks = [
                self.observer.levels(some, state, self._of(nodes[rows])[2])
                for rows, state in self._solved(nodes, condition, guess)
            ]
            for n, m in enumerate(some):
                new = np.concatenate([block[n] for block in blocks]).reshape(-1, NODES)
                known[m] = np.concatenate([known[m], new])
        self._along.update(known)
        return [known[m] for m in wanted]

    def _known_along(self, wanted: Sequence[Measurement]) -> dict[Measurement, Array]:
        new = [m for m in wanted if m not in self._along]
        if self.parent is not None:
            found = self.parent[0].along(new)
        else:
            found = [np.zeros((0, NODES))] * len(new)
        return {m: self._along[m] for m in wanted if m in self._along} | dict(
            zip(new, found, strict=True)
        )

    def _missing(self, have: dict[Measurement, int]) -> list[tuple[list[Measurement], int]]:
        """What is not known on all nodes, as groups that one state serves; from which node on."""
        groups: dict[tuple[Condition, int], tuple[list[Measurement], int]] = {}
        for measurement, start in have.items():
            if start < len(self.atlas.nodes):
                key = (measurement.condition, start)
                groups.setdefault(key, ([], start))[0].append(measurement)
        return list(groups.values())

    # -- looking at the nodes from ``start`` on ----------------------------------------------------

    def _seen(self, some: Sequence[Measurement], start: int) -> list[list[Levels]]:
        """Levels of each measurement, in blocks of nodes."""
        condition, numbers = some[0].condition, self.observer.numbers
        calm = self.atlas.machine.loop.drift * np.array(self.atlas.sound.sways(some))
        faint = [FAINT.get(measurement.function, FAINT["V"]) for measurement in some]
        found: list[list[Levels]] = [[] for _ in some]
        for rows, state in self._states(condition, start):
            h, x, p = self._rows(start, rows)
            still = self.ground.still(h, numbers, condition)
            seen = self.observer.see_all(some, state, p, still)
            slopes = [seen.slope]
            if self.ground.pairs:
                slopes.append(self._first(some, seen.level, state, (h, x, p))[:, None])
            for n, blocks in enumerate(found):
                slope = np.concatenate([part[n] for part in slopes])
                kept = np.flatnonzero(np.abs(slope).max(axis=1, initial=0.0) > faint[n])
                by_node = np.ascontiguousarray(slope[kept].T, SLOPES)
                blocks.append(Levels(seen.level[n], by_node, float(calm[n]), kept))
        return found

    def _first(
        self,
        some: Sequence[Measurement],
        level: Array,
        state: State,
        nodes: tuple[Array, Array, Array],
    ) -> Array:
        """Slopes by the severity of the first fault of pairs; single ones have none: as level."""
        found, (h, x, p) = np.zeros_like(level), nodes
        rows = np.flatnonzero(self.ground.paired[h])
        if len(rows):
            condition = some[0].condition
            columns = self.ground.columns(h[rows], x[rows], p[rows], condition, NUDGE)
            guess = {k: piece[rows] for k, piece in state.pieces.items()}
            nudged = self.observer.base(columns, len(rows), condition, guess)
            seen = np.array(self.observer.levels(some, nudged, p[rows]))
            found[:, rows] = (seen - level[:, rows]) / NUDGE * Pair.SPREAD
        return found

    def _rows(self, start: int, rows: slice = slice(None)) -> tuple[Array, Array, Array]:
        """Hypothesis, x and process of (some of) the nodes from ``start`` on."""
        return self._of(self.atlas.nodes[start:][rows])

    def _of(self, nodes: Array) -> tuple[Array, Array, Array]:
        lines, line = self.atlas.lines, nodes // NODES
        return lines.h[line], lines.x[line], lines.p.ravel()[nodes]

    def _states(self, condition: Condition, start: int) -> Iterator[tuple[slice, State]]:
        """Operating points of the nodes from ``start`` on, in blocks of rows; kept where few.

        Those of the loop as it is are kept on the whole atlas as well, up to ``STANDING``:
        each hunt begins there.
        """
        key, count = (condition, start), len(self.atlas.nodes) - start
        kept = self._kept.get(key, [])
        if sum(state.rows for _, state in kept) == count:
            yield from kept
            return
        guess = self._guess(condition, start)
        pieces: dict[int, list[Array]] = {k: [] for k in guess}
        found, room = list[tuple[slice, State]](), STANDING
        often = count <= BLOCK or (self.parent is None and not condition)
        for rows, state in self._solved(self.atlas.nodes[start:], condition, guess):
            for k, piece in state.pieces.items():
                pieces[k].append(piece)
            room -= state.size
            found = [*found, (rows, state)] if often and room > 0 else []
            yield rows, state
        self._regimes[key] = {k: np.concatenate(blocks) for k, blocks in pieces.items()}
        if found:
            self._kept[key] = found

    def _guess(self, condition: Condition, start: int) -> Pieces:
        """The regimes that are known here, or to the whole; else those of the sound loop."""
        count = len(self.atlas.nodes) - start
        known = self._regimes.get((condition, start))
        if known is None and self.parent is not None and not start:
            whole, nodes = self.parent
            all_ = whole.survey._regimes.get((condition, 0), {})
            known = {k: piece[nodes] for k, piece in all_.items() if nodes.max() < len(piece)}
        if known and all(len(piece) == count for piece in known.values()):
            return known
        return self.atlas.sound.pieces(condition, count)

    def _solved(
        self, nodes: Array, condition: Condition, guess: Pieces
    ) -> Iterator[tuple[slice, State]]:
        """Operating points of any nodes in blocks: what fits a processor's cache is quick."""
        for start in range(0, len(nodes), BLOCK):
            rows = slice(start, min(start + BLOCK, len(nodes)))
            h, x, p = self._of(nodes[rows])
            columns = self.ground.columns(h, x, p, condition)
            pieces = {k: piece[rows] for k, piece in guess.items()}
            yield rows, self.observer.base(columns, len(h), condition, pieces)
