"""Where what a reading is of bends along the severity: lines stand on either side.

The first lines follow the bends of the loop as it is.  A reading with something done to the loop,
or with a meter that is felt, is of another circuit: a transmitter driven at 12 mA starves at one
severity, whatever the process, and there its current leaves the straight line.  Such bends are
hunted down strip by strip.  One that moves with the process is left to the cells.

A *circuit* is a measurement that stands for all those of the same circuit.  Shapes: (strip,),
(bend,), (row,), (row, mark).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from diagnose.circuit.predictor import Predictor
from diagnose.circuit.rows import Array, Attachment, State, among, distinct
from diagnose.inference.ammeter import opening
from diagnose.inference.data import Datum
from diagnose.inference.flips import turnings
from diagnose.inference.grid import (
    EDGE,
    HIGHEST,
    LOWEST,
    STEP,
    Lines,
    Strips,
    even_lines,
    halved,
    joined,
    lines_between,
    paired,
    solved,
)
from diagnose.inference.ground import Ground
from diagnose.inference.measurement import Jumper, Measurement
from diagnose.inference.observe import JUMPER, Observer

FELT = frozenset({"ohm", "mA"})
"""Functions whose meter may change a regime by itself: a source, a burden."""

PARTS = 16
"""Parts into which the way is cut in each step of the hunt for a bend."""

MOST = 4
"""Bends in one strip: where there are more, the regime is in doubt and nothing bends."""

Solve = Callable[[Array, Array, Array], State]
"""Operating points of rows of (hypothesis, x, process)."""

Bends = tuple[Array, Array]
"""Numbers of strips and the severity coordinates of bends in them: (bend,) each."""


def circuits(data: Iterable[Datum]) -> frozenset[Measurement]:
    """The circuits that readings are of, but for the loop as it is."""
    found = {_circuit(datum.reading.measurement) for datum in data}
    return frozenset(found - {Measurement("process", ())})


def _circuit(measurement: Measurement) -> Measurement:
    if measurement.function in FELT:
        return measurement
    return Measurement("process", (), measurement.condition)


def solver(observer: Observer, ground: Ground, circuit: Measurement) -> Solve:
    """What solves a circuit."""
    wiring, meter = observer.machine.wiring, observer.meter
    fitted = [
        Attachment(item.a, item.b, 1 / JUMPER)
        for item in circuit.condition
        if isinstance(item, Jumper)
    ]
    if circuit.function == "ohm":
        (a, b), behind = circuit.points, meter.ohm_resistance
        fitted.append(Attachment(a, b, 1 / behind, -meter.ohm_source / behind))

    def solve(h: Array, x: Array, process: Array) -> State:
        columns = ground.columns(h, x, process, circuit.condition)
        if circuit.function == "mA":
            number, inserted = opening(circuit, wiring, observer.burden)
            columns[number] = inserted(columns[number])
        return observer.machine.solve(columns, len(h), tuple(fitted))

    return solve


def bends(ground: Ground, lines: Lines, strips: Strips, solve: Solve) -> Bends:
    """Where strips bend at one severity, whatever the process."""
    used = distinct(np.concatenate([strips.low, strips.high]))
    low, high = (np.searchsorted(used, side) for side in (strips.low, strips.high))
    ends = [_marks(ground, solve, lines.h[used], lines.x[used], p) for p in (LOWEST, HIGHEST)]
    # What depends on the process at either end of a strip bends along a slope.
    still = ends[0] == ends[1]
    wanted = still[low] & still[high] & (ends[0][low] != ends[0][high])
    numbers = np.flatnonzero(wanted.any(axis=1))
    hunt = _Hunt(ground, solve, lines.h[strips.low[numbers]], wanted[numbers])
    way = lines.x[strips.low[numbers]], lines.x[strips.high[numbers]]
    row, x = hunt.run(LOWEST, np.arange(len(numbers)), way)
    # What depends on the process somewhere on the way only bends elsewhere at its other end.
    others = np.flatnonzero(~among(np.arange(len(numbers)), row[hunt.turns(HIGHEST, row, x)]))
    more, y = hunt.run(HIGHEST, others, (way[0][others], way[1][others]))
    return numbers[np.concatenate([row, more])], np.concatenate([x, y])


@dataclass(frozen=True)
class _Hunt:
    """Looks for bends by the ``wanted`` marks (row, mark) of hypotheses (row,)."""

    ground: Ground
    solve: Solve
    h: Array
    wanted: Array

    def run(self, p: float, row: Array, way: tuple[Array, Array]) -> tuple[Array, Array]:
        """Bends of rows on the way from one x to another: row and x of each."""
        low, high = way
        narrow = _edge(self.ground, self.h) / 10
        while len(row) and (high - low > narrow[row]).any():
            x = np.linspace(low, high, PARTS + 1, axis=1)
            turned = self._turned(p, row, x)
            at, part = np.nonzero(turned)
            row, low, high = row[at], x[at, part], x[at, part + 1]
            few = np.bincount(row, minlength=len(self.h))[row] <= MOST
            row, low, high = row[few], low[few], high[few]
        return row, (low + high) / 2

    def turns(self, p: float, row: Array, x: Array) -> Array:
        """Whether rows bend just at x."""
        edge = _edge(self.ground, self.h[row])
        result: Array = self._turned(p, row, np.stack([x - edge, x + edge], axis=1))[:, 0]
        return result

    def _turned(self, p: float, row: Array, x: Array) -> Array:
        """Whether marks differ between neighbours of x (row, point)."""
        every = np.repeat(self.h[row], x.shape[1])
        marks = _marks(self.ground, self.solve, every, x.ravel(), p)
        marks = marks.reshape(*x.shape, marks.shape[1])
        turned = (marks[:, 1:] != marks[:, :-1]) & self.wanted[row][:, None]
        result: Array = turned.any(axis=2)
        return result


def _marks(ground: Ground, solve: Solve, h: Array, x: Array, p: float) -> Array:
    """Regimes, and the sides of switches and limits: equal marks mean equal laws."""
    process = np.full(len(h), p)
    machine, state = ground.machine, solve(h, x, process)
    marks = [state.pieces[k] for k in sorted(state.pieces)]
    marks += [turning.at(machine, state) for turning in turnings(machine)]
    marks += _limits(machine, state, process)
    return np.stack([np.zeros(len(h), int), *marks], axis=1)


def _limits(machine: Predictor, state: State, process: Array) -> list[Array]:
    found = []
    for part in machine.wiring.driven():
        side = part.kind.limited(machine.wiring.of(part, state.columns), process)
        found.append(np.broadcast_to(np.asarray(side, int), process.shape))
    return found


def _edge(ground: Ground, h: Array) -> Array:
    """How far from a bend a line stands, in x: ``EDGE`` nepers."""
    result: Array = EDGE / np.array([ground.hypotheses[number].width() or 1.0 for number in h])
    return result


def cuts(ground: Ground, lines: Lines, strips: Strips, found: Sequence[Bends]) -> Bends:
    """Where strips are cut for all bends that were found: on either side of each; rising.

    Bends side by side share the two lines.  The order in which they were found does not matter.
    """
    strip, x = (np.concatenate(part) for part in zip(*found, strict=True))
    order = np.lexsort((x, strip))
    strip, x = strip[order], x[order]
    edge = _edge(ground, lines.h[strips.low[strip]])
    parted = (strip[1:] != strip[:-1]) | (x[1:] - x[:-1] > 4 * edge[1:])
    first, last = (np.ones(len(x), bool) for _ in range(2))
    first[1:], last[:-1] = parted, parted
    x = np.concatenate([x[first] - edge[first], x[last] + edge[last]])
    edge, strip = (np.concatenate([one[first], one[last]]) for one in (edge, strip))
    low, high = lines.x[strips.low[strip]], lines.x[strips.high[strip]]
    inside = np.flatnonzero((x > low + edge / 2) & (x < high - edge / 2))
    inside = inside[np.lexsort((x[inside], strip[inside]))]
    return strip[inside], x[inside]


def divided(ground: Ground, lines: Lines, strips: Strips, at: Bends) -> tuple[Lines, Strips]:
    """The lines of cuts, rising as ``cuts`` gives them, and the strips that take the place."""
    strip, x = at
    sides = Strips(strips.low[strip], strips.high[strip])
    new = lines_between(ground, lines, sides, x, np.tile((LOWEST, HIGHEST), (len(x), 1)))
    number = len(lines) + np.arange(len(x))
    parted = strip[1:] != strip[:-1]
    first, last = np.append(True, parted), np.append(parted, True)
    low = np.where(first, strips.low[strip], number - 1)
    return new, Strips(
        np.concatenate([low, number[last]]),
        np.concatenate([number, strips.high[strip[last]]]),
    )


def first_lines(
    ground: Ground, step: float = STEP, start: int = 0, solves: Sequence[Solve] = ()
) -> tuple[Lines, Strips]:
    """Lines over all severities of the hypotheses from ``start`` on.

    They stand beside the bends of the loop as it is and of some circuits, and are close where bends
    move with the process.
    """
    marked = even_lines(ground, step, start)
    lines, strips = marked[0], paired(marked[0])
    solves = (partial(solved, ground), *solves)
    strip, x = cuts(ground, lines, strips, [bends(ground, lines, strips, one) for one in solves])
    lines = halved(ground, joined(ground, marked, lines.h[strips.low[strip]], x), step)
    return lines, paired(lines)
