"""Readings that only say that a level is above or below something: lamps, end stops, OL.

Where a level crosses that mark inside a cell, the chances of all such readings together are
averaged over the cell, under what the other readings say of the place in it: two lamps that hang
on the same level are not independent.  Shapes: (cell,), (cell, reading).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.cells import UNIFORM, Cells, Levels, Peak, open_at, value_at
from diagnose.inference.data import Datum
from diagnose.inference.leaning import Leaning
from diagnose.inference.normal import below

LEAST = 1e-12
"""A chance is not taken to be smaller."""

_OPEN = 0.5
"""Standard deviations of a level between the corners of a cell from which it is averaged."""

_FAR = 6.0
"""Standard deviations from the mark beyond which a level cannot cross it."""

_REACH = 3.5
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(6)
_BROAD = 1e-6
"""Keeps a flat direction a proper one."""


def beyond(
    cells: Cells,
    data: Sequence[Datum],
    levels: Sequence[Levels],
    right: Array,
    peak: Peak,
    pull: Array,
    lean: Leaning,
) -> Array:
    """log P(levels on the sides that were seen): (cell,); ``peak`` learns their misfit and blame.

    ``right`` (cell, reading) are the readings that count, ``pull`` (cell, 2) the slope of the log
    density of the others at the peak, ``lean`` what these say of tolerances that they share.
    """
    total = np.zeros(len(cells))
    crossing = np.zeros(len(cells), bool)
    sides = [n for n, datum in enumerate(data) if datum.side]
    taken = [_taken(cells, data[n], levels[n], lean, k) for k, n in enumerate(sides)]
    for n, (corner, noise) in zip(sides, taken, strict=True):
        rows = np.flatnonzero(right[:, n])
        corner, noise, at = corner[rows], noise[rows], peak.some(rows)
        f = value_at(corner, at.s, at.t)
        chance = _log(_chance(data[n], f, np.sqrt(noise**2 + open_at(corner, at))))
        peak.blame[rows, n] = -2 * chance
        peak.misfit[rows] -= 2 * chance
        total[rows] += chance
        crossing[rows] |= _crosses(data[n], corner, noise)
    rows = np.flatnonzero(crossing)
    if len(rows):
        known = [
            (data[n], corner[rows], noise[rows])
            for n, (corner, noise) in zip(sides, taken, strict=True)
        ]
        total[rows] = _averaged(known, right[rows][:, sides], peak.some(rows), pull[rows])
    return total


_Taken = tuple[Array, Array]
"""A level at the corners (cell, 4) and the sd of what is seen of it, the place being known."""


def _taken(cells: Cells, datum: Datum, level: Levels, lean: Leaning, k: int) -> _Taken:
    corner = cells.corners(level.f) + lean.shift[:, k]
    return corner, np.sqrt(datum.noise**2 + lean.variance[:, k])


def _log(chance: Array) -> Array:
    result: Array = np.log(np.maximum(chance, LEAST))
    return result


def _chance(datum: Datum, f: Array, sd: Array) -> Array:
    """P(what is seen of a level ``f`` lies on the side that was seen)."""
    chance = below(datum.side * (f - datum.y) / sd)
    if datum.floor is not None:
        chance = chance + below((datum.floor - f) / sd)
    return chance


def _crosses(datum: Datum, corner: Array, noise: Array) -> Array:
    """Whether a level comes from one side of its mark to the other inside a cell."""
    least, most = corner.min(axis=1), corner.max(axis=1)
    marks = [datum.y] if datum.floor is None else [datum.y, datum.floor]
    near = [(least < y + _FAR * noise) & (most > y - _FAR * noise) for y in marks]
    result: Array = np.any(near, axis=0) & (most - least > _OPEN * noise)
    return result


def _averaged(
    known: Sequence[tuple[Datum, Array, Array]], right: Array, peak: Peak, pull: Array
) -> Array:
    """log of the mean over the cell of the chance of all sides together.

    ``known`` are readings with their levels as taken.
    """
    weights, chances = [], []
    for s, t, weight in _places(peak, pull):
        chance = np.ones(len(pull))
        for n, (datum, corner, noise) in enumerate(known):
            here = np.maximum(_chance(datum, value_at(corner, s, t), noise), LEAST)
            chance *= np.where(right[:, n], here, 1.0)
        weights.append(weight)
        chances.append(chance)
    log = np.array(weights)
    share = np.exp(log - log.max(axis=0))
    mean = np.einsum("kc,kc->c", share, np.array(chances)) / share.sum(axis=0)
    return _log(mean)


def _places(peak: Peak, pull: Array) -> list[tuple[Array, Array, Array]]:
    """Places (s, t) in each cell and the log of their weights, across what the readings leave."""
    known = peak.precision - UNIFORM * np.eye(2)
    ss, st, tt = known[:, 0, 0] + _BROAD, known[:, 0, 1], known[:, 1, 1] + _BROAD
    across = 1 / np.sqrt(np.maximum(ss - st * st / tt, _BROAD))
    centre = peak.s + (pull[:, 0] - st * pull[:, 1] / tt) * across**2
    found = []
    for s, width in _window(centre, across):
        off = s - peak.s
        middle = peak.t + (pull[:, 1] - st * off) / tt
        for t, height in _window(middle, 1 / np.sqrt(tt)):
            out = t - peak.t
            inner = pull[:, 0] * off + pull[:, 1] * out
            inner -= (ss * off * off + 2 * st * off * out + tt * out * out) / 2
            found.append((s, t, inner + width + height))
    return found


def _window(centre: Array, sd: Array) -> list[tuple[Array, Array]]:
    """Gauss nodes across a peak, inside [0, 1], and the log of their weights."""
    # A peak far outside leaves a thin layer at the edge.
    start = np.clip(centre - _REACH * sd, 0, 1)
    end = np.clip(centre + _REACH * sd, 0, 1)
    layer = np.minimum(_REACH * sd * sd / np.maximum(np.abs(centre - start), sd), 1.0)
    start = np.where(start == end, np.maximum(end - layer * (end > 0.5), 0), start)
    end = np.where(start == end, np.minimum(start + layer, 1), end)
    half = np.maximum((end - start) / 2, 1e-9)
    return [
        ((start + end) / 2 + half * node, np.log(half * weight))
        for node, weight in zip(_NODES, _WEIGHTS, strict=True)
    ]
