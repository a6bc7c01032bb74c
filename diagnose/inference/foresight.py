"""What every candidate measurement would show, given all that is now believed.

The belief is carried by a fixed number of points drawn evenly from its cells; at each the circuit
is solved anew, the tolerances that the readings so far have already revealed are taken into
account, and the outcomes of every candidate are spread over bins.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from statistics import NormalDist

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.atlas import Atlas
from diagnose.inference.candidates import Candidate
from diagnose.inference.cells import Peak, value_at
from diagnose.inference.data import Datum
from diagnose.inference.meters import Meter
from diagnose.inference.observe import Sight
from diagnose.inference.outcomes import Outcomes, Outlook
from diagnose.inference.views import Points, sight
from diagnose.inference.weighing import Weighted

POINTS = 240
"""Points that carry the belief."""

LEVELS = 512
"""Steps of the normal distribution from which places inside a cell are drawn."""


def draw(weighted: Weighted, count: int = POINTS) -> Points:
    """Even, repeatable draw of points: every hypothesis by its weight, none above 1 % left out."""
    if not len(weighted.log):
        empty = np.zeros(0)
        return Points(empty.astype(int), empty, empty, empty)
    weight = np.exp(weighted.log - np.logaddexp.reduce(weighted.log))
    order = np.lexsort((weighted.p, weighted.x, weighted.cells.h))
    share = np.bincount(weighted.cells.h, weights=weight)
    # Every hypothesis that matters gets a few points of its own, so that a rare one is still seen.
    tempered = np.maximum(share, 0.01 * (share > 2e-3))
    scale = tempered[weighted.cells.h] / np.maximum(share[weighted.cells.h], 1e-300)
    tilted = weight * scale
    edges = np.cumsum(tilted[order]) / tilted.sum()
    ticks = (np.arange(count) + 0.5) / count
    chosen = order[np.minimum(np.searchsorted(edges, ticks), len(order) - 1)]
    given = 1 / scale[chosen]
    cells = weighted.cells.some(chosen)
    s, t = _inside(weighted.peak.some(chosen), cells.h)
    x = (1 - s) * weighted.ends[0][chosen] + s * weighted.ends[1][chosen]
    return Points(cells.h, x, value_at(cells.p, s, t), given / given.sum())


def _inside(peak: Peak, h: Array) -> tuple[Array, Array]:
    """One place (s, t) in each cell, drawn from what is known there.

    Readings that tie severity and process together stay obeyed.  Every hypothesis gets the same
    even spread: two that would read the same must not be told apart by the luck of a draw.
    """
    first = np.searchsorted(h, h)
    z = _even(np.arange(len(h)) - first)[:, :, None]
    root = np.linalg.cholesky(np.linalg.inv(peak.precision))
    step = (root @ z)[:, :, 0]
    start = np.stack([peak.s, peak.t], axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        room = np.where(step > 0, (1 - start) / step, np.where(step < 0, -start / step, np.inf))
    share = np.minimum(1.0, room.min(axis=1))
    at = start + share[:, None] * step
    return np.clip(at[:, 0], 0, 1), np.clip(at[:, 1], 0, 1)


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


def look(
    atlas: Atlas,
    meter: Meter,
    points: Points,
    candidates: Sequence[Candidate],
    data: Sequence[Datum] = (),
) -> Outlook:
    """Outcomes of all candidates at the points, by what ``data`` tell of the tolerances."""
    wanted = [candidate.measurement for candidate in candidates]
    read = [datum for datum in data if datum.side == 0]
    every = list(dict.fromkeys([*wanted, *(datum.measurement for datum in read)]))
    seen = sight(atlas, points, every)
    sways = [atlas.sound.sway(measurement) for measurement in every]
    outcomes = Outcomes(atlas.machine.loop, meter, data, seen.slope.shape[1], points.weight)
    for datum in read:
        n = every.index(datum.measurement)
        outcomes.learn(datum, seen.level[n], seen.slope[n], sways[n])
    count = len(wanted)
    some = Sight(seen.level[:count], seen.slope[:count])
    return outcomes.of(wanted, some, sways[:count])


__all__ = ["POINTS", "Points", "draw", "look"]
