"""The first severity of a pair where the readings put it, and not where the search did.

Cells of a pair carry that severity as if every level were straight in it.  A supply that is low
moves a reading until a transmitter dies of it, and then another one: what is straight on one side
of a bend says nothing of the other.  Where the readings put the severity elsewhere the circuit is
solved there, from there on by Gauss-Newton steps, and what the readings are worth in it takes the
place of what they were worth on the straight way.
Shapes: (cell,), (cell, reading), (cell, reading, spread).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.circuit.rows import Array, Column
from diagnose.inference.atlas import Atlas
from diagnose.inference.cells import (
    UNIFORM,
    Cells,
    Levels,
    Peak,
    process_at,
    slopes_at,
    slopes_of,
    value_at,
)
from diagnose.inference.data import Datum
from diagnose.inference.evidence import covariance_of, own_variances, shared_errors
from diagnose.inference.hypotheses import Pair
from diagnose.inference.normal import whiten

APART = 0.02
"""Way from where the search put the severity, share of its range, from which it is looked at."""

TURNS = 4
"""Places at which the circuit is solved."""

CLOSE = 2e-3
"""A step that is shorter ends the search."""

EVENLY: Array = (np.arange(9) + 0.5) / 9
"""Severities at which it is seen whether nothing hangs on one."""

NUDGE = 1e-3
FALL, RISE = 60.0, 3.0
"""By how much a log weight falls or rises at most."""


@dataclass
class Spot:
    """Some cells of pairs with first severities of their own, and the readings that are values."""

    atlas: Atlas
    cells: Cells
    peak: Peak
    data: Sequence[Datum]
    levels: Sequence[Levels]
    right: Array
    drift: float

    def __post_init__(self) -> None:
        ground = self.atlas.ground
        keys = {h.key: h.number for h in ground.hypotheses if not isinstance(h, Pair)}
        pairs = [h if isinstance(h, Pair) else None for h in ground.hypotheses]
        first = np.array([h.first.number if h else 0 for h in pairs])
        second = np.array([keys[h.key] if h else 0 for h in pairs])
        self.put = np.array([h.x_first if h else 0.5 for h in pairs])[self.cells.h]
        self.first, self.second = first[self.cells.h], second[self.cells.h]
        ends = (self.atlas.lines.x[side] for side in (self.cells.low, self.cells.high))
        low, high = ends
        self.x = low + self.peak.s * (high - low)
        self.p = process_at(self.cells, self.peak)
        self.own = own_variances(self.cells, self.data, self.levels, self.drift)
        self.shared = shared_errors(self.data)
        shape = len(self.cells), len(self.data)
        self.level, self.along = np.empty(shape), np.empty((*shape, 2))
        for n, level in enumerate(self.levels):
            corner = self.cells.corners(level.f)
            self.level[:, n] = value_at(corner, self.peak.s, self.peak.t)
            self.along[:, n] = np.stack(slopes_at(corner, self.peak.s, self.peak.t), axis=1)

    def some(self, rows: Array) -> Spot:
        """Some of the cells."""
        cells, peak = self.cells.some(rows), self.peak.some(rows)
        return Spot(self.atlas, cells, peak, self.data, self.levels, self.right[rows], self.drift)

    def change(self, at: Array) -> Array:
        """By how much the log weight changes where the readings put the severity ``at``: (cell,).

        ``at`` is what straight levels make of it.
        """
        at = np.clip(at, 0.0, 1.0)
        spread, every = slopes_of(self.cells, self.levels, (self.peak.s, self.peak.t))
        own = every == len(self.atlas.observer.spreads)
        lean = spread[:, :, own].sum(axis=2) / Pair.SPREAD
        way = lean * (at - self.put)[:, None]
        straight, _ = self._worth(way, spread[:, :, ~own], lean)
        found = np.full(len(at), -np.inf)
        here, x = self._seen(self.put), at.copy()
        open_ = np.arange(len(at))
        for _ in range(TURNS):
            some = self.some(open_)
            there, slope, lean_there = some._sight(x[open_])
            worth, step = some._worth(there - here[open_], slope, lean_there)
            found[open_] = np.maximum(found[open_], worth)
            moved = np.clip(x[open_] + step, 0.0, 1.0)
            further = np.abs(moved - x[open_]) > CLOSE
            x[open_] = moved
            open_ = open_[further]
            if not len(open_):
                break
        result: Array = np.clip(found - straight, -FALL, RISE)
        return result

    def log_mean(self) -> Array:
        """Log of what the readings are worth over the range, against where it was put: (cell,).

        For a severity that moves nothing where it was put: beyond a bend it may well.
        """
        spread, every = slopes_of(self.cells, self.levels, (self.peak.s, self.peak.t))
        slope = spread[:, :, every != len(self.atlas.observer.spreads)]
        none, here = np.zeros_like(self.level), self._seen(self.put)
        start, _ = self._worth(none, slope, none)
        total = np.zeros(len(start))
        for x in EVENLY:
            worth, _ = self._worth(self._seen(np.full(len(start), x)) - here, slope, none)
            total += np.exp(np.clip(worth - start, -FALL, RISE))
        result: Array = np.log(total / len(EVENLY))
        return result

    def _worth(self, way: Array, slope: Array, lean: Array) -> tuple[Array, Array]:
        """Log of what the readings are worth with levels ``way`` higher, and the step to make.

        The step is of the first severity (cell,); severity and process of the cell move along.
        """
        slope = slope * self.right[:, :, None]
        y = np.array([datum.y for datum in self.data])
        off = y - self.level - way
        columns = np.concatenate([off[:, :, None], self.along, lean[:, :, None]], axis=2)
        columns = columns * self.right[:, :, None]
        white, logdet = whiten(covariance_of(slope, self.shared, self.own, self.right), columns)
        off, beside, every = white[:, :, 0], white[:, :, 1:3], white[:, :, 1:]
        room = np.array([UNIFORM, UNIFORM, 1.0])
        step = _solved(every, off, room)[:, 2]
        square = _left(beside, off, off, room[:2])
        # How sharply the severity is told with severity and process of the cell open beside it.
        told = _left(beside, white[:, :, 3], white[:, :, 3], room[:2])
        return -logdet - square / 2 - np.log(told + UNIFORM) / 2, step

    def _columns(self, x: Array, rows: list[int]) -> list[Column]:
        """Parameters with the first severity at ``x``, under the condition of some readings."""
        faults = ((self.first, x), (self.second, self.x))
        condition = self.data[rows[0]].measurement.condition
        return self.atlas.ground.columns_of(faults, self.p, condition)

    def _seen(self, x: Array) -> Array:
        """Levels with the first severity at ``x``: (cell, reading)."""
        observer, found = self.atlas.observer, np.empty_like(self.level)
        for rows in self._together():
            wanted = [self.data[n].measurement for n in rows]
            condition = wanted[0].condition
            state = observer.base(self._columns(x, rows), len(x), condition)
            found[:, rows] = np.array(observer.levels(wanted, state, self.p)).T
        return found

    def _sight(self, x: Array) -> tuple[Array, Array, Array]:
        """Levels there, slopes by the tolerances, and slopes by the first severity."""
        observer, ground = self.atlas.observer, self.atlas.ground
        level = np.empty_like(self.level)
        slope = np.zeros((*level.shape, len(observer.spreads)))
        for rows in self._together():
            wanted = [self.data[n].measurement for n in rows]
            condition = wanted[0].condition
            state = observer.base(self._columns(x, rows), len(x), condition)
            still = ground.still(self.cells.h, observer.numbers, condition)
            seen = observer.see_all(wanted, state, self.p, still)
            level[:, rows], slope[:, rows] = seen.level.T, seen.slope.transpose(2, 0, 1)
        nudge = np.where(x > 0.5, -NUDGE, NUDGE)
        lean = (self._seen(x + nudge) - level) / nudge[:, None]
        return level, slope, lean

    def _together(self) -> list[list[int]]:
        """Numbers of the readings that were taken under the same condition."""
        found: dict[object, list[int]] = {}
        for n, datum in enumerate(self.data):
            found.setdefault(datum.measurement.condition, []).append(n)
        return list(found.values())


def _left(slope: Array, one: Array, other: Array, room: Array) -> Array:
    """Product (cell,) of two columns (cell, reading), what ``slope`` explains of one taken out."""
    left = one - np.einsum("cnk,ck->cn", slope, _solved(slope, one, room))
    result: Array = np.einsum("cn,cn->c", left, other)
    return result


def _solved(slope: Array, off: Array, room: Array) -> Array:
    """Least squares by ``slope`` (cell, reading, k), precision ``room`` (k,) added: (cell, k)."""
    square = np.einsum("cni,cnj->cij", slope, slope) + np.diag(room)
    right = np.einsum("cni,cn->ci", slope, off)
    result: Array = np.linalg.solve(square, right[:, :, None])[:, :, 0]
    return result
