"""The severity of the first fault of a pair, kept within its range.

Cells of a pair carry that severity like a tolerance: Gaussian around where the search put it.  That
counts what lies beyond the ends of the range, and counts too little of what lies within it but far
away.  Both are put right: the uniform prior is integrated under what the readings say of the
severity in a cell, which is Gaussian where levels are straight.
Shapes: (cell,), (cell, reading).
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf, pi

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.atlas import Atlas
from diagnose.inference.cells import Cells, Levels, Peak, slopes_at, slopes_of, value_at
from diagnose.inference.data import Datum
from diagnose.inference.evidence import covariance_of, own_variances, shared_errors
from diagnose.inference.first_moved import APART, Spot
from diagnose.inference.hypotheses import Pair
from diagnose.inference.normal import whiten
from diagnose.inference.trial import rounded

COUNTS = 40.0
"""Log of a weight below the heaviest that does not count, whatever prior and range make of it."""

NEAR = 14.0
"""The same where a severity is put far from where the search had it: few then come near."""

FLAT = 0.8
"""Variance of a severity, of that of its Gaussian, from which readings do not hang on it there."""

_SHARP = 1e-12
"""A variance is not taken to be smaller."""

_LEAST = 1e-30
_REACH = 6.0
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(16)


def within(
    atlas: Atlas,
    weighed: tuple[Cells, Array, Peak],
    data: Sequence[Datum],
    levels: Sequence[Levels],
    right: Array,
    drift: float,
    best: float = -inf,
) -> Array:
    """The log weights (cell,) of cells with the first severity kept within its range.

    ``weighed`` are the cells, their log weights and peaks; ``right`` (cell, reading) says which
    readings count.  Cells that come near the heaviest neither way stay as they are; ``best`` is the
    log weight of something else.
    """
    cells, value, peak = weighed
    found, ground = value.copy(), atlas.ground
    values = [n for n, datum in enumerate(data) if datum.side == 0]
    if not (len(cells) and ground.pairs and values):
        return found
    put = [
        h.x_first if isinstance(h, Pair) and h.first.sized else np.nan for h in ground.hypotheses
    ]
    at = np.array(put)[cells.h]
    left, first = ~np.isnan(at), len(atlas.observer.spreads)
    some, seen, right = [data[n] for n in values], [levels[n] for n in values], right[:, values]
    mean, flat = np.full(len(at), np.nan), np.zeros(len(at), bool)
    # What is heaviest may lose all its weight: then others count that did not before.
    while len(rows := np.flatnonzero(left & (value > max(found.max() - COUNTS, best - NEAR)))):
        left[rows] = False
        told = _told(cells.some(rows), some, seen, right[rows], peak.some(rows), drift, first)
        mean[rows], flat[rows] = at[rows] + Pair.SPREAD * told[0], told[1] > FLAT
        found[rows] += log_share(at[rows], mean[rows], Pair.SPREAD**2 * told[1])
    heads = _heads(cells.h, found, flat & (found > max(found.max(), best) - NEAR))
    if len(heads):
        part = cells.some(heads), peak.some(heads)
        more = np.zeros(len(ground.hypotheses))
        more[cells.h[heads]] = Spot(atlas, *part, some, seen, right[heads], drift).log_mean()
        found += more[cells.h]
    mean = np.clip(mean, 0.0, 1.0)
    away = np.abs(mean - at) > APART
    while len(rows := np.flatnonzero(away & (found > max(found.max(), best) - NEAR))):
        away[rows] = False
        part = cells.some(rows), peak.some(rows)
        found[rows] += Spot(atlas, *part, some, seen, right[rows], drift).change(mean[rows])
    return found


def _heads(h: Array, value: Array, some: Array) -> Array:
    """The heaviest cell of each pair, where it is one of ``some`` (cell,)."""
    order = np.lexsort((-rounded(value), h))
    _, first = np.unique(h[order], return_index=True)
    heads = order[first]
    result: Array = heads[some[heads]]
    return result


def _told(
    cells: Cells,
    data: Sequence[Datum],
    levels: Sequence[Levels],
    right: Array,
    peak: Peak,
    drift: float,
    first: int,
) -> tuple[Array, Array]:
    """Mean and variance of the first severity in each cell, under its Gaussian and the readings.

    In units of that Gaussian, from where it was put; ``first`` is its number among the spreads.
    """
    spread, every = slopes_of(cells, levels, (peak.s, peak.t))
    spread *= right[:, :, None]
    lean = spread[:, :, every == first].sum(axis=2)
    own = own_variances(cells, data, levels, drift)
    covariance = covariance_of(spread, shared_errors(data), own, right)
    columns = np.zeros((len(cells), len(data), 4))
    for k, (datum, level) in enumerate(zip(data, levels, strict=True)):
        corner = cells.corners(level.f)
        columns[:, k, 0] = datum.y - value_at(corner, peak.s, peak.t)
        columns[:, k, 1:3] = np.stack(slopes_at(corner, peak.s, peak.t), axis=1)
    columns[:, :, 3] = lean
    columns *= right[:, :, None]
    off, u, w, lean = whiten(covariance, columns)[0].transpose(2, 0, 1)
    mean = np.einsum("cn,cn->c", lean, off)
    # Severity and process are open as well, each cell by itself.
    open_ = np.stack([np.einsum("cn,cn->c", lean, slope) for slope in (u, w)], axis=1)
    left = np.linalg.solve(peak.precision, open_[:, :, None])[:, :, 0]
    variance = 1 - np.einsum("cn,cn->c", lean, lean) + np.einsum("ck,ck->c", open_, left)
    return mean, np.clip(variance, _SHARP, 1.0)


def log_share(at: Array, mean: Array, variance: Array) -> Array:
    """Log of the integral over the range against that of the Gaussian around ``at``: (cell,).

    ``mean`` and ``variance`` are what readings and Gaussian make of the severity.
    """
    # What the readings alone say: the Gaussian taken out again.
    told = np.maximum(1 / variance - 2 * pi, 0.0)
    sd = 1 / np.sqrt(told + 1e-9)
    centre = (mean / variance - 2 * pi * at) * sd**2
    near = np.clip(centre, 0.0, 1.0)
    # Far outside of the range a thin layer at its end is all that counts.
    reach = _REACH * sd**2 / np.hypot(sd, centre - near)
    start, end = np.maximum(near - reach, 0.0), np.minimum(near + reach, 1.0)
    half = (end - start) / 2
    x = (start + end)[:, None] / 2 + half[:, None] * _NODES
    off, out = x - mean[:, None], x - at[:, None]
    log = pi * out**2 - off**2 / (2 * variance[:, None])
    top = log.max(axis=1)
    whole = half * (np.exp(log - top[:, None]) @ _WEIGHTS) / np.sqrt(2 * pi * variance)
    result: Array = top + np.log(np.maximum(whole, _LEAST))
    return result
