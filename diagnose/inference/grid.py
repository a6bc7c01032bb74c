"""Where severity and process value are looked at: lines of nodes, and strips between two lines.

A *line* is one hypothesis at one severity, with ``NODES`` process values on it.  Between the bends
of the circuit everything that can be read is a straight function of the process value, so the
nodes of a line stand on the bends: saturation of the transmitter, lift-off, current limits.  Two
neighbouring lines of one hypothesis span a *strip*; the quadrilaterals between their nodes are
the cells over which the evidence is integrated.  Shapes: (line,) and (line, node).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

import numpy as np

from diagnose.circuit.predictor import Predictor
from diagnose.circuit.questions import leaves
from diagnose.circuit.rows import Array, State, subset, window
from diagnose.inference.flips import sides, with_flips
from diagnose.inference.ground import Ground
from diagnose.inference.nodes import (
    AFTER,
    BEFORE,
    BETWEEN,
    NODES,
    SOONER,
    stand_before,
    stand_on_ends,
    stand_on_the_whole,
)

LOWEST, HIGHEST = -0.1, 1.1
"""Range of the process value, fraction of the measuring range."""

EDGE = 3e-4
"""A bend has a node this far on either side of it, for sensitivities leap there.

The current that a voltmeter draws shifts the bends by some 1e-4: the nodes stand beyond that.
"""

BENDS = [1, 1 + BEFORE, 2 + BEFORE, 2 + BEFORE + BETWEEN, 3 + BEFORE + BETWEEN, NODES - 2]
"""Places of a line that stand beside bends, or where a driven part comes to its limits."""

NEAR_BEND = 0.01
"""How near to process values that count, share of range, a bend is hunted down."""

STEP = 0.7
"""Distance of neighbouring lines, nepers of severity."""

NEAREST = 0.02
"""Strips are not cut finer than this share of STEP when a bend is hunted down."""


KNOTS = (LOWEST, 0.0, 1.0, HIGHEST)

STEADY, TWO_STATES = (0.0, 0.02, 0.98, 1.0), (0.0, 0.48, 0.52, 1.0)
"""Prior probability that the process lies below each of ``KNOTS``: a measured value is 96 % in
range, 2 % on either side; what has two states is 96 % in one of them, at or beyond its end."""


def cumulative(p: Array, states: bool = False) -> Array:
    """Prior probability that the process lies below ``p``."""
    result: Array = np.interp(p, KNOTS, TWO_STATES if states else STEADY)
    return result


def process_of(share: float, states: bool) -> float:
    """The process value below which ``share`` of the prior lies."""
    return float(np.interp(share, TWO_STATES if states else STEADY, KNOTS))


@dataclass
class Lines:
    """Lines by number: hypothesis, severity coordinate x in [0, 1], process values of the nodes."""

    h: Array
    x: Array
    p: Array

    def __len__(self) -> int:
        return len(self.h)

    def plus(self, other: Lines) -> Lines:
        """These lines followed by ``other``."""
        return Lines(
            *(np.concatenate(pair) for pair in zip(self.parts(), other.parts(), strict=True))
        )

    def parts(self) -> tuple[Array, Array, Array]:
        """The three arrays."""
        return self.h, self.x, self.p


@dataclass
class Strips:
    """Pairs of lines (numbers); the one line of a hypothesis without size pairs with itself."""

    low: Array
    high: Array

    def plus(self, other: Strips) -> Strips:
        """These strips followed by ``other``."""
        return Strips(
            np.concatenate([self.low, other.low]), np.concatenate([self.high, other.high])
        )


Marked = tuple[Lines, Array]
"""Lines and the regimes at the ends of their slopes: (line, mark), equal marks mean equal ones."""


def even_lines(ground: Ground, step: float = STEP, start: int = 0) -> Marked:
    """Lines evenly over all severities of the hypotheses from ``start`` on."""
    h: list[int] = []
    x: list[float] = []
    for hypothesis in ground.hypotheses[start:]:
        count = max(6, ceil(hypothesis.width() / step)) if hypothesis.sized else 0
        h += [hypothesis.number] * (count + 1)
        x += list(np.linspace(0, 1, count + 1)) if count else [0.5]
    return place_nodes(ground, np.array(h), np.array(x))


def halved(ground: Ground, marked: Marked, step: float = STEP) -> Lines:
    """Lines with more of them between where the circuits bend."""
    for _ in range(4):
        cut = _cuts(ground, *marked, step)
        if not len(cut):
            break
        lines, _ = marked
        marked = joined(ground, marked, lines.h[cut], (lines.x[cut] + lines.x[cut + 1]) / 2)
    return marked[0]


def joined(ground: Ground, marked: Marked, h: Array, x: Array) -> Marked:
    """Lines with new ones among them: all by hypothesis, then by severity."""
    new, new_marks = place_nodes(ground, h, x)
    lines, marks = marked[0].plus(new), np.concatenate([marked[1], new_marks])
    order = np.lexsort((lines.x, lines.h))
    return Lines(*(part[order] for part in lines.parts())), marks[order]


def paired(lines: Lines) -> Strips:
    """The strips between neighbours of lines that are in order, and the lines that have none."""
    same = lines.h[1:] == lines.h[:-1]
    low = np.flatnonzero(same)
    alone = np.flatnonzero(np.bincount(lines.h)[lines.h] == 1)
    return Strips(np.concatenate([alone, low]), np.concatenate([alone, low + 1]))


def _cuts(ground: Ground, lines: Lines, marks: Array, step: float) -> Array:
    """Lines after which a new one is needed: the regimes at the ends differ, or a bend leaps."""
    widths = np.array([hypothesis.width() for hypothesis in ground.hypotheses])
    same = lines.h[1:] == lines.h[:-1]
    wide = (lines.x[1:] - lines.x[:-1]) * widths[lines.h[1:]] > NEAREST * step
    differ = (marks[1:] != marks[:-1]).any(axis=1)
    leap = np.abs(lines.p[1:, 1 + BEFORE] - lines.p[:-1, 1 + BEFORE]) > 0.25
    found: Array = np.flatnonzero(same & wide & (differ | leap))
    return found


def place_nodes(ground: Ground, h: Array, x: Array) -> Marked:
    """Nodes of new lines on the bends of the circuit."""
    machine, count = ground.machine, len(h)
    first, last = _saturation(ground, h, x)
    ends = solved(ground, np.tile(h, 2), np.tile(x, 2), np.concatenate([first, last]))
    left, right = window(ends, slice(0, count)), window(ends, slice(count, 2 * count))
    bends = _bends(machine, left, right, first, last)
    bends = with_flips(ground, h, x, (left, right), (first, last), bends)
    p = np.empty((count, NODES))
    p[:, 0], p[:, -1] = LOWEST, HIGHEST
    edges = [np.where(bend < last, EDGE, 0.0) for bend in bends]
    starts = (first, bends[0] + edges[0], bends[1] + edges[1])
    stops = (bends[0] - edges[0], bends[1] - edges[1], last)
    at = 1
    for start, end, cells in zip(starts, stops, (BEFORE, BETWEEN, AFTER), strict=True):
        share = np.linspace(0, 1, cells + 1)
        p[:, at : at + cells + 1] = start[:, None] + np.maximum(end - start, 0)[:, None] * share
        at += cells + 1
    stand_before(p, np.flatnonzero((bends[0] < last) & (bends[0] - first > 2 * SOONER)))
    stand_on_the_whole(p, (bends[0] >= last) & (first <= LOWEST) & (last >= HIGHEST))
    if machine.loop.states:
        stand_on_ends(p)
    marks = np.stack(
        [state.pieces[k] for state in (left, right) for k in sorted(state.pieces)]
        + [sides(machine, state) for state in (left, right)]
        + [_limits(machine, state, at) for state, at in ((left, first), (right, last))],
        axis=1,
    )
    return Lines(h, x, p), marks


def lines_between(ground: Ground, known: Lines, sides: Strips, x: Array, between: Array) -> Lines:
    """Lines at ``x`` (line,) between known ones, good for the process values ``between`` (line, 2).

    Where the bends of both neighbours lie well outside of these, on the same side, or are the same,
    the nodes stand on the straight way from the one to the other.
    """
    low, high = (known.p[side] for side in (sides.low, sides.high))
    ends = known.x[sides.low], known.x[sides.high]
    share = ((x - ends[0]) / (ends[1] - ends[0]))[:, None]
    p, h = low + share * (high - low), known.h[sides.low]
    near = np.flatnonzero(_bent(ground, low, high, between))
    if len(near):
        p[near] = place_nodes(ground, h[near], x[near])[0].p
    return Lines(h, x, p)


def _bent(ground: Ground, low: Array, high: Array, between: Array) -> Array:
    """Whether a bend that moves may come near ``between`` on the way from low to high: (line,)."""
    if ground.machine.loop.states:
        return np.ones(len(low), bool)
    bends = low[:, BENDS], high[:, BENDS]
    least, most = between[:, :1] - NEAR_BEND, between[:, 1:] + NEAR_BEND
    below = (bends[0] < least) & (bends[1] < least)
    above = (bends[0] > most) & (bends[1] > most)
    # Nodes stand EDGE away from a bend on either side: it stays between them.
    still = np.abs(bends[0] - bends[1]) < EDGE / 3
    result: Array = ~(below | above | still).all(axis=1)
    return result


def _limits(machine: Predictor, state: State, process: Array) -> Array:
    """Which driven parts stand at a limit, as one number for each line."""
    total = np.zeros(state.rows, int)
    for part in machine.wiring.driven():
        q = machine.wiring.of(part, state.columns)
        # Just inside the ends of the slope, where a part that follows the process is free.
        inside = process + 1e-6 * (0.5 - process)
        total = 3 * total + part.kind.limited(q, inside)
    return total


def solved(ground: Ground, h: Array, x: Array, process: Array) -> State:
    """Operating points of lines at one process value each."""
    return ground.machine.solve(ground.columns(h, x, process), len(h))


def _saturation(ground: Ground, h: Array, x: Array) -> tuple[Array, Array]:
    """Process values between which the driven parts follow the process; shapes (line,)."""
    machine = ground.machine
    columns = ground.columns(h, x, np.full(len(h), 0.5))
    low, high = (0.0, 1.0) if machine.loop.states else (LOWEST, HIGHEST)
    first, last = np.full(len(h), low), np.full(len(h), high)
    for part in machine.wiring.driven():
        corners = part.kind.corners(machine.wiring.of(part, columns))
        if len(corners) == 2:
            lower, upper = (np.broadcast_to(np.asarray(c, float), (len(h),)) for c in corners)
            first = np.where(np.isfinite(lower), np.clip(lower, LOWEST, HIGHEST), first)
            last = np.where(np.isfinite(upper), np.clip(upper, LOWEST, HIGHEST), last)
    return first, last


def _bends(
    machine: Predictor, left: State, right: State, first: Array, last: Array
) -> tuple[Array, Array]:
    """First and last bend of the circuit between ``first`` and ``last``; ``last`` if there is none.

    With the straight laws of one end kept, every voltage is a straight line in the process value,
    so that the end of a piece is met exactly.
    """
    differ = np.zeros(left.rows, bool)
    apart = np.zeros(left.rows, int)
    for k in left.pieces:
        differ |= left.pieces[k] != right.pieces[k]
        apart += np.abs(left.pieces[k] - right.pieces[k])
    bend = last.copy()
    second = last.copy()
    if differ.any():
        rows = np.flatnonzero(differ)
        span = last[rows] - first[rows]
        theta = leaves(machine, subset(left, rows), subset(right, rows))
        bend[rows] = first[rows] + span * theta
        two = rows[apart[rows] > 1]
        second[rows] = bend[rows]
        if len(two):
            back = leaves(machine, subset(right, two), subset(left, two))
            second[two] = np.maximum(bend[two], last[two] - (last[two] - first[two]) * back)
    return bend, second
