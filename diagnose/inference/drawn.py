"""The points that carry a belief, drawn evenly from its cells.

What readings tie together stays tied: inside a cell they hold severity and process to a curve, and
a point beside it would read what nobody can read any more.  Shapes: (point,), (point, 2).
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from statistics import NormalDist

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.atlas import Atlas
from diagnose.inference.cells import UNIFORM, Peak, value_at
from diagnose.inference.data import Datum
from diagnose.inference.evidence import residuals
from diagnose.inference.measurement import alike
from diagnose.inference.moving import beyond
from diagnose.inference.views import Points
from diagnose.inference.weighing import Weighted

FEWEST, POINTS, EACH = 96, 240, 6
"""Points that carry the belief: so many at least, at most, and for each fault worth seeing."""

SEEN = 2e-3
"""Share of the belief above which a hypothesis gets points of its own."""

LEVELS = 512
"""Steps of the normal distribution from which places inside a cell are drawn."""

SHARES = (1.0, 0.7, 0.4, 0.2, 0.0)
"""Shares of the way from the peak that are tried, until the readings allow one."""

ALLOWED = 1.0
"""What a point may add to the sum of squared residuals beyond what it was drawn to add."""

_TURNS, _LOOKS = 3, 2
"""How often a point is led back to the curve on which the readings hold it: by what the cell says
of its levels, by what the circuit itself does."""


class Known:
    """The values read behind a belief, on the atlas of its cells.

    ``drift`` is the unrest of the process that the belief reckons with, share of range.
    """

    def __init__(self, atlas: Atlas, data: Sequence[Datum], drift: float) -> None:
        self.atlas, self.drift = atlas, beyond(drift, atlas.machine.loop)
        self.places = [n for n, datum in enumerate(data) if datum.side == 0]
        self.data = [data[n] for n in self.places]
        self.wanted = [datum.measurement for datum in self.data]
        self.levels = atlas.levels(self.wanted)

    def residuals(self, some: Weighted) -> tuple[Array, Array]:
        """Whitened residuals in cells (cell, reading, 4), and what whitens them."""
        cells, at = self.atlas.cells.some(some.row), (some.peak.s, some.peak.t)
        right = ~some.wrong[:, self.places]
        return residuals(cells, self.data, self.levels, right, self.drift, at)

    def off(self, h: Array, x: Array, p: Array) -> Array:
        """By how much the readings are off what the circuit itself shows: (point, reading)."""
        observer, ground, count = self.atlas.observer, self.atlas.ground, len(h)
        found = np.empty((count, len(self.wanted)))
        for some in alike(range(len(self.wanted)), lambda n: self.wanted[n].condition):
            condition = self.wanted[some[0]].condition
            guess = self.atlas.sound.pieces(condition, count)
            state = observer.base(ground.columns(h, x, p, condition), count, condition, guess)
            seen = observer.levels([self.wanted[n] for n in some], state, p)
            for n, level in zip(some, seen, strict=True):
                found[:, n] = self.data[n].y - level
        return found


def draw(weighted: Weighted, known: Known, count: int | None = None) -> Points:
    """Even, repeatable draw of points: every hypothesis by its weight, none worth seeing left out.

    As many as the hypotheses need, if no ``count`` is given.
    """
    if not len(weighted.log):
        empty = np.zeros(0)
        return Points(empty.astype(int), empty, empty, empty)
    weight = np.exp(weighted.log - np.logaddexp.reduce(weighted.log))
    order = np.lexsort((weighted.p, weighted.x, weighted.cells.h))
    share = np.bincount(weighted.cells.h, weights=weight)
    # Every hypothesis that matters gets a few points of its own, so that a rare one is still seen.
    tempered = np.maximum(share, 0.01 * (share > SEEN))
    if count is None:
        count = int(np.clip(EACH * (share > SEEN).sum(), FEWEST, POINTS))
    scale = tempered[weighted.cells.h] / np.maximum(share[weighted.cells.h], 1e-300)
    tilted = weight * scale
    edges = np.cumsum(tilted[order]) / tilted.sum()
    ticks = (np.arange(count) + 0.5) / count
    chosen = order[np.minimum(np.searchsorted(edges, ticks), len(order) - 1)]
    given = 1 / scale[chosen]
    some = weighted.some(chosen)
    return Points(some.cells.h, *_inside(some, known), given / given.sum())


def _inside(some: Weighted, known: Known) -> tuple[Array, Array]:
    """Severity coordinate and process value of one place in each cell: (point,).

    Every hypothesis gets the same even spread: two that would read the same must not be told apart
    by the luck of a draw.
    """
    h, peak = some.cells.h, some.peak
    first = np.searchsorted(h, h)
    z = _even(np.arange(len(h)) - first)[:, :, None]
    root = np.linalg.cholesky(np.linalg.inv(peak.precision))
    step = (root @ z)[:, :, 0]
    start = np.stack([peak.s, peak.t], axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        room = np.where(step > 0, (1 - start) / step, np.where(step < 0, -start / step, np.inf))
    step *= np.minimum(1.0, room.min(axis=1))[:, None]
    white, whitening = known.residuals(some)
    place = _led_back(peak, white, start, step)
    wanted = _off(white, place)
    for _ in range(_LOOKS):
        rows = np.flatnonzero((some.cells.low != some.cells.high) & white.any(axis=(1, 2)))
        x, p = _at(some, place)
        off = np.einsum("pkn,pn->pk", whitening[rows], known.off(h[rows], x[rows], p[rows]))
        place[rows] += _amiss(white[rows], place[rows], off - wanted[rows])
        place = np.clip(place, 0, 1)
    return _at(some, place)


def _at(some: Weighted, place: Array) -> tuple[Array, Array]:
    """Severity coordinate and process value at places (point, 2) of cells."""
    s, t = place.T
    return (1 - s) * some.ends[0] + s * some.ends[1], value_at(some.cells.p, s, t)


def _amiss(white: Array, place: Array, more: Array) -> Array:
    """The least step to where the circuit itself reads what the cell says: (point, 2).

    ``more`` (point, reading) are its residuals at a place beyond those of the cell.  A cell takes
    the pace at which a fault moves its levels, and the bends between its nodes, for even along the
    severity: that hardly matters to its weight, but a point that carries it would stand beside the
    curve.
    """
    s, t = place[:, :1], place[:, 1:]
    _, ds, dt, dst = white.transpose(2, 0, 1)
    slopes = np.stack([ds + dst * t, dt + dst * s], axis=2)
    pull = np.einsum("pna,pn->pa", slopes, more)
    square = np.einsum("pna,pnb->pab", slopes, slopes) + UNIFORM * np.eye(2)
    result: Array = np.linalg.solve(square, pull[:, :, None])[:, :, 0]
    return result


def _led_back(peak: Peak, white: Array, start: Array, step: Array) -> Array:
    """The farthest places along ``step`` to which the readings can be led back: (point, 2).

    The Gaussian of a cell is that of its peak; ``white`` (point, reading, 4) tells of levels that
    twist, so that what was drawn along a straight line must be moved across it.
    """
    across = _sharpest(peak.precision)
    found, open_ = start.copy(), np.ones(len(start), bool)
    for share in SHARES:
        place = np.clip(start + share * step, 0, 1)
        drawn = _off(white, start) - share * _along(white, start, step)
        for _ in range(_TURNS):
            slope = _along(white, place, across)
            pull = np.einsum("pn,pn->p", slope, _off(white, place) - drawn)
            pull /= np.einsum("pn,pn->p", slope, slope) + UNIFORM
            place = np.clip(place + pull[:, None] * across, 0, 1)
        more = (_off(white, place) ** 2).sum(axis=1) - (drawn**2).sum(axis=1)
        rows = open_ & (more < ALLOWED)
        found[rows] = place[rows]
        open_ &= ~rows
    return found


def _sharpest(precision: Array) -> Array:
    """The direction in which each cell is known best: (cell, 2)."""
    result: Array = np.linalg.eigh(precision)[1][:, :, 1]
    return result


def _off(white: Array, at: Array) -> Array:
    """Residuals at places (point, 2): (point, reading)."""
    s, t = at[:, :1], at[:, 1:]
    r, ds, dt, dst = white.transpose(2, 0, 1)
    result: Array = r - ds * s - dt * t - dst * s * t
    return result


def _along(white: Array, at: Array, way: Array) -> Array:
    """How fast the levels, in standard deviations, rise along ``way``: (point, reading)."""
    s, t = at[:, :1], at[:, 1:]
    _, ds, dt, dst = white.transpose(2, 0, 1)
    result: Array = (ds + dst * t) * way[:, :1] + (dt + dst * s) * way[:, 1:]
    return result


@cache
def _normals() -> Array:
    """Quantiles of the normal distribution at the middles of ``LEVELS`` equal shares."""
    return np.array([NormalDist().inv_cdf((n + 0.5) / LEVELS) for n in range(LEVELS)])


def _even(number: Array) -> Array:
    """Standard normal pairs (number, 2) that fill the plane evenly from the first on.

    The additive sequence of R. Roberts' generalised golden ratio (1/g, 1/g^2 with g^3 = g + 1; from
    memory).
    """
    share = (0.5 + number[:, None] * np.array([0.7548776662466927, 0.5698402909980532])) % 1.0
    result: Array = _normals()[(share * LEVELS).astype(int)]
    return result
