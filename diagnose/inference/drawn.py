"""The points that carry a belief, drawn evenly from its cells.

What readings tie together stays tied: inside a cell they hold severity and process to a curve, and
a point beside it would read what nobody can read any more.  Shapes: (point,), (point, 2).
"""

from __future__ import annotations

from functools import cache
from statistics import NormalDist

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.cells import UNIFORM, Peak, value_at
from diagnose.inference.known import Known, amiss, off_at, slopes_at
from diagnose.inference.views import Points
from diagnose.inference.weighing import Weighted

FEWEST, POINTS, EACH = 96, 240, 6
"""Points that carry the belief: so many at least, at most, and for each fault worth seeing."""

SEEN = 2e-3
"""Share of the belief above which a hypothesis gets points of its own."""

LEAST = 4
"""Points of a fault worth seeing, where there is room: by one alone, whatever asks for another size
seems to rule it out."""

LEVELS = 512
"""Steps of the normal distribution from which places inside a cell are drawn."""

SHARES = (1.0, 0.7, 0.4, 0.2, 0.0)
"""Shares of the way from the peak that are tried, until the readings allow one."""

ALLOWED = 1.0
"""What a point may add to the sum of squared residuals beyond what it was drawn to add."""

_TURNS, _LOOKS = 3, 2
"""How often a point is led back to the curve on which the readings hold it: by what the cell says
of its levels, by what the circuit itself does."""


def draw(weighted: Weighted, known: Known, count: int | None = None) -> Points:
    """Even, repeatable draw of points: every hypothesis by its weight, none worth seeing left out.

    As many as the hypotheses need, if no ``count`` is given.  Two hypotheses that would read the
    same are drawn alike; a point of a rare one stands for those beside it as well.
    """
    if not len(weighted.log):
        empty = np.zeros(0)
        return Points(empty.astype(int), empty, empty, empty)
    weight = np.exp(weighted.log - np.logaddexp.reduce(weighted.log))
    share = np.bincount(weighted.cells.h, weights=weight)
    if count is None:
        count = int(np.clip(EACH * (share > SEEN).sum(), FEWEST, POINTS))
    order = np.lexsort((weighted.p, weighted.x, weighted.cells.h))
    seen = share[weighted.cells.h[order]] > SEEN
    chosen, given = [], []
    # Every hypothesis that matters gets a few points of its own, so that a rare one is still seen.
    tempered = np.maximum(share, 0.01) * (share > SEEN)
    tail = weight[order[~seen]].sum()
    for rows, shares, asked, whose in (
        (order[seen], share, tempered, weighted.cells.h),
        (order[~seen], np.array([tail]), np.array([tail]), np.zeros(len(weight), int)),
    ):
        fewest = np.clip(count // (2 * max((asked > 0).sum(), 1)), 1, LEAST)
        each = np.round(count * asked / (tempered.sum() + tail)).astype(int)
        each = np.where(asked > 0, np.maximum(each, fewest), 0)
        own, cells = _ticked(whose[rows], weight[rows], each)
        chosen.append(rows[cells])
        given.append(shares[own] / each[own])
    numbers, mass = np.concatenate(chosen), np.concatenate(given)
    place = np.argsort(weighted.cells.h[numbers], kind="stable")
    some = weighted.some(numbers[place])
    return Points(some.cells.h, *_inside(some, known), mass[place] / mass.sum())


def _ticked(h: Array, weight: Array, each: Array) -> tuple[Array, Array]:
    """``each`` (hypothesis,) cells of every hypothesis, at even shares of its weight.

    ``h`` (cell,) rises.  The hypothesis and the place of the cell of each point: (point,).
    """
    total = np.bincount(h, weight, len(each))
    before = np.concatenate([[0.0], np.cumsum(total)[:-1]])
    edges = h + (np.cumsum(weight) - before[h]) / np.maximum(total[h], 1e-300)
    own = np.repeat(np.arange(len(each)), each)
    tick = np.arange(len(own)) - np.repeat(np.cumsum(each) - each, each)
    cells = np.searchsorted(edges, own + (tick + 0.5) / each[own])
    ends = np.searchsorted(h, own, side="right") - 1
    return own, np.minimum(cells, ends)


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
    found = known.residuals(some)
    return _by_the_circuit(some, known, found, _led_back(peak, found[0], start, step))


def likeliest(weighted: Weighted, known: Known) -> tuple[float, float]:
    """Severity coordinate and process value at which the circuit reads what the best cell says."""
    best = weighted.some(np.array([int(weighted.log.argmax())]))
    place = np.stack([best.peak.s, best.peak.t], axis=1)
    x, p = _by_the_circuit(best, known, known.residuals(best), place)
    return float(x[0]), float(p[0])


def _by_the_circuit(
    some: Weighted, known: Known, found: tuple[Array, Array], place: Array
) -> tuple[Array, Array]:
    """Severity coordinate and process value where the circuit reads what cells say at ``place``.

    That a cell takes things for even hardly matters to its weight, but a point that carries it
    would stand beside the curve.  ``place`` (point, 2), ``found`` are the residuals in the cells.
    """
    sized = np.flatnonzero((some.cells.low != some.cells.high) & found[0].any(axis=(1, 2)))
    if len(sized):
        (white, whitening), here = (one[sized] for one in found), place[sized]
        part = some.some(sized)
        wanted = off_at(white, here)
        for _ in range(_LOOKS):
            off = np.einsum("pkn,pn->pk", whitening, known.off(part.cells.h, *_at(part, here)))
            here = np.clip(here + amiss(white, here, off - wanted), 0, 1)
        place[sized] = here
    return _at(some, place)


def _at(some: Weighted, place: Array) -> tuple[Array, Array]:
    """Severity coordinate and process value at places (point, 2) of cells."""
    s, t = place.T
    return (1 - s) * some.ends[0] + s * some.ends[1], value_at(some.cells.p, s, t)


def _led_back(peak: Peak, white: Array, start: Array, step: Array) -> Array:
    """The farthest places along ``step`` to which the readings can be led back: (point, 2).

    The Gaussian of a cell is that of its peak; ``white`` (point, reading, 4) tells of levels that
    twist, so that what was drawn along a straight line must be moved across it.
    """
    across = _sharpest(peak.precision)
    ahead = np.einsum("pna,pa->pn", slopes_at(white, start), step)
    found, open_ = start.copy(), np.ones(len(start), bool)
    for share in SHARES:
        place = np.clip(start + share * step, 0, 1)
        drawn = off_at(white, start) - share * ahead
        for _ in range(_TURNS):
            slope = np.einsum("pna,pa->pn", slopes_at(white, place), across)
            pull = np.einsum("pn,pn->p", slope, off_at(white, place) - drawn)
            pull /= np.einsum("pn,pn->p", slope, slope) + UNIFORM
            place = np.clip(place + pull[:, None] * across, 0, 1)
        more = (off_at(white, place) ** 2).sum(axis=1) - (drawn**2).sum(axis=1)
        rows = open_ & (more < ALLOWED)
        found[rows] = place[rows]
        open_ &= ~rows
    return found


def _sharpest(precision: Array) -> Array:
    """The direction in which each cell is known best: (cell, 2)."""
    result: Array = np.linalg.eigh(precision)[1][:, :, 1]
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
