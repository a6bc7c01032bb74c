"""Weights with wide tolerances taken where the readings put them.

A level is straight in a tolerance only as long as the tolerance is small.  Where readings say that
one lies far from its nominal value, by a share of it that counts, cells are weighed once more:
levels and slopes are found there (Gauss-Newton steps), and the integral over the tolerances by
Laplace's method with the bend of the levels.  That is done where the weight is; the other cells of
a hypothesis change as those next to them do.
Shapes: (cell,), (cell, reading), (cell, spread), (cell, reading, spread).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from diagnose.circuit.rows import Array, among, distinct
from diagnose.inference.atlas import Atlas
from diagnose.inference.cells import Levels, value_at
from diagnose.inference.data import Datum, by_condition
from diagnose.inference.evidence import evidence, own_variances, shared_errors
from diagnose.inference.overload import as_counted, taken
from diagnose.inference.weighing import Weighted

FAR = 0.05
"""Shift of a revealed tolerance, as a share of its value, from which it is looked at again."""

MOST = 300
"""Cells that are looked at again, about: shared out by weight, one at least of a hypothesis."""

COUNTS = 3e-4
"""Share of the belief from which a hypothesis with the same worthless readings is one of them."""

WORTH = 0.005
"""Share of the belief, all such together, below which nothing is looked at again."""

LEAST, SDS = 0.02, 6.0
"""A value is not moved below this share of itself, and by no more than so many deviations."""

TURNS, BENDS = 6, 3
"""Gauss-Newton steps at most; tolerances whose bend is looked at, the widest."""

CLOSE = 0.03
"""Standard deviations: where no step is longer, it was the last."""

STEP = 0.3
"""Standard deviations by which a tolerance is moved to see how a level bends."""

SMOOTH, NEAR = 0.4, 0.5
"""How far a level may miss the mean of its two slopes: share of half their difference; own sd."""

MOSTLY = 0.1
"""Share of the largest change of a slope from which a tolerance has its part in a bend."""

CLIP = 8.0
"""A log weight changes by no more."""

_FLAT = 0.1
"""What is left at least of the curvature of a peak: beyond that it is none."""


def reweighed(
    atlas: Atlas, weighted: Weighted, data: Sequence[Datum], drift: float, total: float
) -> Weighted:
    """The weights, tolerances taken where the readings put them; ``total`` is the log of all.

    They are what they were where no tolerance is far from its nominal value.
    """
    if not len(weighted) or not any(datum.side == 0 for datum in data):
        return weighted
    group, chosen = _chosen(weighted, len(atlas.ground.hypotheses), total)
    some = weighted.some(chosen)
    some.cells = atlas.cells.some(some.row)  # corners may be numbered as in another atlas
    levels = taken(atlas.levels([datum.measurement for datum in data]), data)
    view = _View(atlas, some, data, levels, drift)
    off = view.told(view.level, view.slope)
    far = np.flatnonzero((np.abs(off) * view.shares > FAR).any(axis=1))
    moved = among(group, group[chosen[far]])
    if np.exp(weighted.log[moved] - total).sum() < WORTH:
        return weighted
    change = np.zeros(len(chosen))
    change[far] = _change(view.some_of(far), off[far])
    log = weighted.log + _spread_out(weighted, group, chosen, change)
    return replace(weighted, log=log)


def _chosen(weighted: Weighted, hypotheses: int, total: float) -> tuple[Array, Array]:
    """The group of each cell, and the cells that stand for all: the heaviest of each group.

    A group are the cells of a hypothesis with the same worthless readings.
    """
    bits = weighted.wrong @ (1 << np.arange(weighted.wrong.shape[1]))
    _, group = np.unique(bits * hypotheses + weighted.cells.h, return_inverse=True)
    share = np.bincount(group, np.exp(weighted.log - total))
    wanted = np.where(share > COUNTS, np.ceil(MOST * share), 0)
    order = np.lexsort((-weighted.log, group))
    first = np.searchsorted(group[order], np.arange(len(share)))
    rank = np.arange(len(order)) - first[group[order]]
    return group, order[rank < wanted[group[order]]]


def _spread_out(weighted: Weighted, group: Array, chosen: Array, change: Array) -> Array:
    """The change of every cell: that of the nearest chosen one of its group, else none."""
    found = np.zeros(len(weighted))
    for number in distinct(group[chosen[change != 0]]):
        known = chosen[group[chosen] == number]
        rows = np.flatnonzero(group == number)
        away = np.abs(weighted.x[rows, None] - weighted.x[known])
        away = away + np.abs(weighted.p[rows, None] - weighted.p[known])
        found[rows] = change[group[chosen] == number][away.argmin(axis=1)]
    return found


_Line = tuple[Array, Array]
"""Levels (cell, reading) and slopes (cell, reading, spread)."""


@dataclass
class _View:
    """Some cells with what is seen at their peaks, tolerances at their nominal values.

    ``level`` (cell, reading) and ``slope`` (cell, reading, spread) are of all tolerances of the
    observer; ``right`` (cell, reading) are the values that count.
    """

    atlas: Atlas
    some: Weighted
    data: Sequence[Datum]
    levels: Sequence[Levels]
    drift: float

    def __post_init__(self) -> None:
        some, spreads = self.some, self.atlas.observer.spreads
        wiring = self.atlas.machine.wiring
        self.nominal = np.array([wiring.nominal[spread.number] for spread in spreads])
        self.sd = np.array([spread.sd for spread in spreads])
        size = np.abs(self.nominal)
        self.shares = np.where(size > 0, self.sd / np.where(size > 0, size, 1.0), 0.0)
        shape = len(some), len(self.data)
        self.level, self.slope = np.empty(shape), np.zeros((*shape, len(spreads)))
        for n, level in enumerate(self.levels):
            corner = some.cells.corners(level.f)
            self.level[:, n] = value_at(corner, some.peak.s, some.peak.t)
            kept = level.kept < len(spreads)
            slope = some.cells.at(level.slope, some.peak.s, some.peak.t)
            self.slope[:, n, level.kept[kept]] = slope[:, kept]
        self.own = own_variances(some.cells, self.data, self.levels, self.drift)
        self.right = ~some.wrong & np.array([datum.side == 0 for datum in self.data])

    def some_of(self, rows: Array) -> _View:
        """Some of the cells."""
        return _View(self.atlas, self.some.some(rows), self.data, self.levels, self.drift)

    def precision(self, slope: Array) -> Array:
        """Inverse covariance of the values (cell, reading, reading); others have none."""
        both = self.right[:, :, None] & self.right[:, None]
        covariance = np.where(both, slope @ slope.transpose(0, 2, 1) + shared_errors(self.data), 0)
        n = np.arange(len(self.data))
        covariance[:, n, n] += np.where(self.right, self.own, 1.0)
        result: Array = np.linalg.inv(covariance) * both
        return result

    def pull(self, level: Array, slope: Array) -> Array:
        """Residuals of the values times the inverse of their covariance: (cell, reading)."""
        off = np.array([datum.y for datum in self.data]) - level
        result: Array = np.einsum("cij,cj->ci", self.precision(slope), off)
        return result

    def told(self, level: Array, slope: Array) -> Array:
        """The likeliest tolerances, in standard deviations: (cell, spread).

        ``level`` and ``slope`` are those of a straight line at the nominal values.
        """
        found = np.einsum("cns,cn->cs", slope, self.pull(level, slope))
        least = np.where(self.nominal > 0, (LEAST - 1) * self.nominal / self.sd, -np.inf)
        result: Array = np.maximum(np.clip(found, -SDS, SDS), least)
        return result

    def smooth(self, off: Array, there: Array, slope: Array) -> Array:
        """Whether levels go to what they are at ``off`` without a break or a sharp bend.

        A level that bends evenly goes there by the mean of its slopes at both ends, or by halves.
        What a cell misses of a curve is no bend: the way may begin at the level itself as well.
        Shape (cell, reading).
        """
        start, end = (self.level, self.slope), (there, slope)
        result: Array = self._evenly(off, start, end) | self.some.wrong
        if not result.all():
            start = self.seen(np.zeros_like(off))
            result |= self._evenly(off, start, end)
        if not result.all():
            half = self.seen(off / 2)
            result |= self._evenly(off / 2, start, half) & self._evenly(off / 2, half, end)
        return result

    def taken(self, slope: Array, smooth: Array) -> Array:
        """``slope`` where levels go there smoothly, else as it was: (cell, reading, spread).

        What a tolerance does to a reading that bends sharply, it does to the others as well as it
        did: one reading must not follow it where another does not.
        """
        change = np.abs(slope - self.slope)
        most = change.max(axis=2, keepdims=True)
        spoilt = ~smooth[:, :, None] & (change > MOSTLY * most) & (most > 0)
        kept = ~smooth[:, :, None] | spoilt.any(axis=1, keepdims=True)
        return np.where(kept, self.slope, slope)

    def _evenly(self, way: Array, start: _Line, end: _Line) -> Array:
        """Whether the mean of the slopes leads from one place to another: (cell, reading)."""
        rise, last = (np.einsum("cns,cs->cn", slope, way) for _, slope in (start, end))
        miss = np.abs(end[0] - start[0] - (rise + last) / 2)
        result: Array = miss <= SMOOTH * np.abs(last - rise) / 2 + NEAR * np.sqrt(self.own)
        return result

    def seen(self, off: Array) -> tuple[Array, Array]:
        """Level and slope with tolerances ``off`` their nominal values, as ``level``, ``slope``."""
        observer, ground, some = self.atlas.observer, self.atlas.ground, self.some
        level, slope = np.empty_like(self.level), np.empty_like(self.slope)
        for condition, rows in by_condition(self.data):
            columns = ground.columns(some.cells.h, some.x, some.p, condition)
            still = ground.still(some.cells.h, observer.numbers, condition)
            moved = np.where(still, self.sd * off, 0.0)
            for k in np.flatnonzero(moved.any(axis=0)):
                columns[observer.numbers[k]] = columns[observer.numbers[k]] + moved[:, k]
            state = observer.base(columns, len(some), condition)
            wanted = [self.data[n].measurement for n in rows]
            seen = observer.see_all(wanted, state, some.p, still)
            level[:, rows], slope[:, rows] = seen.level.T, seen.slope.transpose(2, 0, 1)
        as_counted(level, slope, self.data)
        return level, slope


def _change(view: _View, off: Array) -> Array:
    """By how much the log weight of each cell changes: (cell,); ``off`` is a first guess."""
    for turn in range(TURNS):
        there, slope = view.seen(off)
        straight = there - np.einsum("cns,cs->cn", slope, off)
        told = view.told(straight, slope)
        if turn == TURNS - 1 or np.abs(told - off).max() < CLOSE:
            break
        off = told
    some = view.some
    # A reading that bends sharply counts as it did; what the others reveal counts all the same.
    smooth = view.smooth(off, there, slope)
    slope = view.taken(slope, smooth)
    straight = np.where(smooth, there - np.einsum("cns,cs->cn", slope, off), view.level)
    anew = [
        _moved(view, n, straight[:, n] - view.level[:, n], slope[:, n] - view.slope[:, n])
        for n in range(len(view.data))
    ]
    cells = replace(some.cells, corner=np.arange(4 * len(some)).reshape(-1, 4))
    after, _ = evidence(cells, view.data, anew, ~some.wrong, view.drift)
    before, _ = evidence(some.cells, view.data, view.levels, ~some.wrong, view.drift)
    possible = np.isfinite(after) & np.isfinite(before)
    change = np.subtract(after, before, out=np.zeros(len(off)), where=possible)
    change[possible] += _bent(view, off, straight, slope, smooth)[possible]
    result: Array = np.clip(change, -CLIP, CLIP)
    return result


def _moved(view: _View, n: int, shift: Array, more: Array) -> Levels:
    """A level on corners of the cells' own, by ``shift`` (cell,) higher, by ``more`` steeper."""
    level, cells = view.levels[n], view.some.cells
    every = np.arange(more.shape[1] + view.atlas.ground.pairs)
    slope = level.over(every)[cells.corner]
    slope[:, :, : more.shape[1]] += more[:, None]
    corner = cells.corners(level.f) + shift[:, None]
    return Levels(corner.ravel(), slope.reshape(corner.size, -1), level.calm)


def _bent(view: _View, off: Array, straight: Array, slope: Array, smooth: Array) -> Array:
    """What the bend of the levels at the likeliest tolerances adds to the log weight: (cell,).

    Only of readings that are ``smooth`` (cell, reading).

    The integral over the tolerances goes by the root of the determinant of the second derivatives:
    those of the levels count by how hard the readings pull there (Laplace's method).
    """
    precision, pull = view.precision(slope), view.pull(straight, slope)
    told = np.einsum("cis,cij,cjs->cs", slope, precision, slope, optimize=True)
    wide = np.max(np.abs(off) * view.shares * (1 - told), axis=0)
    some = np.argsort(-wide, kind="stable")[:BENDS]
    some = some[wide[some] > FAR / 2]
    leans = slope[:, :, some]
    left = np.eye(len(some)) - np.einsum("cik,cij,cjl->ckl", leans, precision, leans, optimize=True)
    bend = np.empty((len(off), len(some), len(some)))
    for k, number in enumerate(some):
        aside = off.copy()
        aside[:, number] += STEP
        further = np.where(smooth[:, :, None], view.seen(aside)[1][:, :, some], leans)
        bend[:, k] = -np.einsum("cn,cnl->cl", pull, further - leans) / STEP
    bend = (bend + bend.transpose(0, 2, 1)) / 2
    flat = np.linalg.det(np.eye(len(some)) + left @ bend)
    result: Array = -np.log(np.maximum(flat, _FLAT)) / 2
    return result
