"""Readings that only say that a level is above or below something: lamps, end stops, OL.

Where a level crosses that mark inside a cell, the chances of all such readings together are
averaged over the cell, under what the other readings say of the place in it: two lamps that hang
on the same level are not independent.  Shapes: (cell,), (cell, reading).
"""

from __future__ import annotations

from collections.abc import Sequence
from math import pi, sqrt

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.cells import UNIFORM, Cells, Levels, Peak, open_at, value_at
from diagnose.inference.data import Datum
from diagnose.inference.leaning import Leaning
from diagnose.inference.normal import below
from diagnose.inference.overload import driven_back

LEAST = 1e-12
"""A chance is not taken to be smaller."""

_OPEN = 0.5
"""Standard deviations of a level between the corners of a cell from which it is averaged."""

_FAR = 6.0
"""Standard deviations from the mark beyond which a level cannot cross it."""

_TOGETHER = 0.05
"""Correlation of two levels below which they count as independent."""

_SURE = 1e-3
"""Log of a chance that is not worth a second look."""

_MOST_KNOWN = 0.999
"""Share of a variance that the side of a level takes away at most."""

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
    if not any(datum.side for datum in data):
        return total
    crossing = np.zeros(len(cells), bool)
    numbers = [n for n, datum in enumerate(data) if datum.side]
    sides = [data[n] for n in numbers]
    corner = np.empty((len(cells), len(sides), 4))
    for k, n in enumerate(numbers):
        corner[:, k] = cells.corners(levels[n].f) + lean.shift[:, k]
    covariance = lean.covariance + np.diag([datum.noise**2 for datum in sides])
    for k, n in enumerate(numbers):
        rows = np.flatnonzero(right[:, n])
        noise, at = np.sqrt(covariance[rows, k, k]), peak.some(rows)
        f = value_at(corner[rows, k], at.s, at.t)
        chance = _log(_chance(data[n], f, np.sqrt(noise**2 + open_at(corner[rows, k], at))))
        peak.blame[rows, n] = -2 * chance
        peak.misfit[rows] -= 2 * chance
        total[rows] += chance
        crossing[rows] |= _crosses(data[n], corner[rows, k], noise)
    # What is as good as certain is not made more so by another.
    both = right[:, numbers]
    rows = np.flatnonzero(crossing | ((total < -_SURE) & _related(covariance, both)))
    if len(rows):
        known = sides, corner[rows], covariance[rows]
        total[rows] = _averaged(known, both[rows], peak.some(rows), pull[rows])
    return total


_Known = tuple[Sequence[Datum], Array, Array]
"""Readings, their levels at the corners (cell, side, 4) and the covariance of what is seen."""


def _related(covariance: Array, right: Array) -> Array:
    """Whether two of the sides that count hang together: (cell,)."""
    variance = np.einsum("cii->ci", covariance)
    room = _TOGETHER**2 * variance[:, :, None] * variance[:, None]
    near = (covariance**2 > room) & right[:, :, None] & right[:, None]
    result: Array = near.sum(axis=(1, 2)) > right.sum(axis=1)
    return result


def _log(chance: Array) -> Array:
    result: Array = np.log(np.maximum(chance, LEAST))
    return result


def _chance(datum: Datum, f: Array, sd: Array) -> Array:
    """P(what is seen of a level ``f`` lies on the side that was seen)."""
    chance = below(datum.side * (f - datum.y) / sd)
    if datum.floor is not None:
        chance = chance + below(driven_back(f, sd, datum.floor))
    return chance


def _crosses(datum: Datum, corner: Array, noise: Array) -> Array:
    """Whether a level comes from one side of its mark to the other inside a cell."""
    least, most = corner.min(axis=1), corner.max(axis=1)
    marks = [datum.y] if datum.floor is None else [datum.y, datum.floor]
    near = [(least < y + _FAR * noise) & (most > y - _FAR * noise) for y in marks]
    result: Array = np.any(near, axis=0) & (most - least > _OPEN * noise)
    return result


def _averaged(known: _Known, right: Array, peak: Peak, pull: Array) -> Array:
    """log of the mean over the cell of the chance of all sides together."""
    sides, corner, covariance = known
    related = np.flatnonzero(_related(covariance, right))
    weights, chances = [], []
    for s, t, weight in _places(peak, pull):
        f = np.stack([value_at(corner[:, k], s, t) for k in range(len(sides))], axis=1)
        chance = np.ones(len(pull))
        for k, datum in enumerate(sides):
            here = np.maximum(_chance(datum, f[:, k], np.sqrt(covariance[:, k, k])), LEAST)
            chance *= np.where(right[:, k], here, 1.0)
        if len(related):
            chance[related] = _joint(sides, f[related], covariance[related], right[related])
        weights.append(weight)
        chances.append(chance)
    log = np.array(weights)
    share = np.exp(log - log.max(axis=0))
    mean = np.einsum("kc,kc->c", share, np.array(chances)) / share.sum(axis=0)
    return _log(mean)


def _joint(sides: Sequence[Datum], f: Array, covariance: Array, right: Array) -> Array:
    """P(all levels lie on their sides): (cell,), one after the other.

    What is left after each is taken as normal again, with the moments of the truncated normal
    distribution (N. R. Mendell, R. C. Elston, Biometrics 30:41, 1974; from memory).
    """
    sign = np.array([float(datum.side) for datum in sides])
    mean = sign * (f - np.array([datum.y for datum in sides]))
    covariance = covariance * np.outer(sign, sign)
    total = np.ones(len(f))
    # In an order of their own, not that in which they were read.
    for k in sorted(range(len(sides)), key=lambda k: (repr(sides[k].measurement), sides[k].y)):
        sd = np.sqrt(covariance[:, k, k])
        x = mean[:, k] / sd
        chance = below(x)
        if sides[k].floor is not None:
            chance = _chance(sides[k], f[:, k], sd)
        chance = np.where(right[:, k], np.maximum(chance, LEAST), 1.0)
        total *= chance
        if sides[k].floor is None:
            slope = np.where(right[:, k], np.exp(-x * x / 2) / sqrt(2 * pi) / chance, 0.0)
            lean = covariance[:, k] / sd[:, None]
            mean = mean + slope[:, None] * lean
            less = np.clip(slope * (slope + x), 0, _MOST_KNOWN)
            covariance = covariance - less[:, None, None] * lean[:, :, None] * lean[:, None]
    return total


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
