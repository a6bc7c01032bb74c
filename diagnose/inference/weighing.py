"""Weights of cells: their evidence over the sets of readings that may be worthless."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.atlas import Atlas
from diagnose.inference.cells import Cells, Levels, Peak, process_at
from diagnose.inference.data import Datum
from diagnose.inference.evidence import evidence, misfits
from diagnose.inference.first_severity import within
from diagnose.inference.overload import taken
from diagnose.inference.symptoms import Symptoms

MOST_WRONG = 2
"""Readings of one case that may be worthless at the same time."""

NEGLIGIBLE = -14.0
"""Log weight, against the whole, below which a cell is left out of the belief."""

WORTH_BLAMING = 12.0
"""A reading is called worthless only where the sum of squared residuals falls by more than this."""

LOOSE = 0.02
"""The same where it is as likely worthless as this, against what the others foretell of it.

Amperes through a shorted triac are foretold to some 25 %: any one value is unlikely.
"""

TOGETHER = 8000
"""Cells whose evidence is found at once."""

HOPELESS = 80.0
"""Sum of squared residuals that no further set of worthless readings can save."""


@dataclass
class Weighted:
    """Cells that matter after the readings: log weight (prior included) and place of the peak.

    ``row`` is the number of the cell in its atlas, ``wrong`` (cell, reading) what is called
    worthless there: a cell may come once for each such set.  ``ends`` are the severity coordinates
    of its two lines (2, cell), ``x`` and ``p`` where its peak is.
    """

    row: Array
    cells: Cells
    log: Array
    wrong: Array
    peak: Peak
    x: Array
    p: Array
    ends: Array

    @property
    def sd(self) -> Array:
        """Standard deviation along severity in cell widths: (cell,)."""
        return self.peak.sd

    def __len__(self) -> int:
        return len(self.log)

    def total(self) -> float:
        """Log of the whole weight."""
        return float(np.logaddexp.reduce(self.log)) if len(self.log) else -np.inf

    def some(self, rows: Array) -> Weighted:
        """Some of the cells."""
        return Weighted(
            self.row[rows],
            self.cells.some(rows),
            self.log[rows],
            self.wrong[rows],
            self.peak.some(rows),
            self.x[rows],
            self.p[rows],
            self.ends[:, rows],
        )

    def best(self) -> float:
        """The largest log weight."""
        return float(self.log.max(initial=-np.inf))

    def above(self, least: float) -> Weighted:
        """The cells whose log weight is more than this."""
        return self.some(np.flatnonzero(self.log > least))

    @classmethod
    def joined(cls, parts: Sequence[Weighted]) -> Weighted:
        """Several sets of cells one after the other."""
        return cls(
            np.concatenate([part.row for part in parts]),
            Cells.joined([part.cells for part in parts]),
            np.concatenate([part.log for part in parts]),
            np.concatenate([part.wrong for part in parts]),
            Peak.joined([part.peak for part in parts]),
            np.concatenate([part.x for part in parts]),
            np.concatenate([part.p for part in parts]),
            np.concatenate([part.ends for part in parts], axis=1),
        )


@dataclass
class Scales:
    """What the readings are weighed with: log priors (hypothesis,), and the complaint.

    ``drift`` is the unrest of the process beyond what the sheet allows for, share of range.
    """

    log_prior: Array
    symptoms: Symptoms
    drift: float


def weigh(
    atlas: Atlas,
    numbers: Array,
    data: Sequence[Datum],
    scales: Scales,
    least: float,
    known: float = -np.inf,
) -> Weighted:
    """Weights of some cells of an atlas, over the sets of worthless readings.

    A cell that explains every reading mostly gains nothing from calling one of them worthless: sets
    of worthless readings are tried where leaving a reading out mends a bad fit, or where a cell
    foretells a reading so loosely that it may as well be worthless.  Cells whose log
    weight is more than ``-least`` below the best, or below one ``known`` of others, are not kept.
    """
    levels = taken(atlas.levels([datum.measurement for datum in data]), data)
    cells = atlas.cells.some(numbers)
    rows, wrong = _unexplained(misfits(cells, data, levels, scales.drift))
    pieces: list[Weighted] = []
    best = known
    while len(rows) or not pieces:
        some = cells.some(rows)
        prior = _chance(data, wrong) + scales.log_prior[some.h]
        value, peak = _evidence(atlas, (some, prior), data, levels, ~wrong, (scales.drift, best))
        piece = _weighted(atlas, numbers[rows], some, value, wrong, peak)
        rows, wrong = _mended(rows, wrong, peak, data)
        # The complaint can only lower a weight, and not by more than its floor.
        piece = piece.above(max(best, piece.best() + scales.symptoms.least()) + least)
        piece.log = piece.log + scales.symptoms.cells(atlas, piece.cells, piece.peak)
        best = max(best, piece.best())
        pieces.append(piece.above(best + least))
    return Weighted.joined(pieces)


def _evidence(
    atlas: Atlas,
    own: tuple[Cells, Array],
    data: Sequence[Datum],
    levels: Sequence[Levels],
    right: Array,
    scale: tuple[float, float],
) -> tuple[Array, Peak]:
    """The log weights of cells with their log priors, some at a time: all at once take much room.

    ``scale`` is the unrest, and the log weight that something has already.
    """
    cells, prior = own
    drift, best = scale
    values, peaks = [], []
    for start in range(0, max(len(cells), 1), TOGETHER):
        rows = np.arange(start, min(start + TOGETHER, len(cells)))
        some = cells.some(rows)
        value, peak = evidence(some, data, levels, right[rows], drift)
        weighed = some, value + prior[rows], peak
        values.append(within(atlas, weighed, data, levels, right[rows], drift, best))
        peaks.append(peak)
    return np.concatenate(values), Peak.joined(peaks)


_Waiting = tuple[Array, Array]
"""Cells (row,) and the readings that are to be called worthless in each (row, reading)."""


def _unexplained(bad: Array) -> _Waiting:
    """Cells with the readings that they cannot explain: these must be worthless there."""
    rows = np.flatnonzero(bad.sum(axis=1) <= MOST_WRONG)
    return rows, bad[rows]


def _mended(rows: Array, wrong: Array, peak: Peak, data: Sequence[Datum]) -> _Waiting:
    """The cells in which leaving out one more reading would mend the fit, or may as well be."""
    left = peak.misfit[:, None] - peak.blame
    free = ~wrong & (wrong.sum(axis=1) < MOST_WRONG)[:, None]
    value = np.array([datum.side == 0 for datum in data], bool)
    worthless = np.array([log(datum.doubt) + datum.wrong for datum in data])
    loose = value & (worthless - peak.likely > log(LOOSE))
    asks = loose | (peak.blame > WORTH_BLAMING)
    place, reading = np.nonzero(asks & (left < HOPELESS) & free)
    more = wrong[place]
    more[np.arange(len(place)), reading] = True
    return _each_once(rows[place], more)


def _each_once(rows: Array, wrong: Array) -> _Waiting:
    """No cell twice with the same worthless readings: two ways lead to any two of them."""
    keys = np.column_stack([rows, np.packbits(wrong, axis=1)])
    _, first = np.unique(keys, axis=0, return_index=True)
    return rows[first], wrong[first]


def _chance(data: Sequence[Datum], wrong: Array) -> Array:
    """log probability that just these readings are worthless, and what they then say."""
    right = np.array([log(1 - datum.doubt) for datum in data])
    worthless = np.array([log(datum.doubt) + datum.wrong for datum in data])
    result: Array = right.sum() + wrong @ (worthless - right)
    return result


def _weighted(
    atlas: Atlas, row: Array, cells: Cells, value: Array, wrong: Array, peak: Peak
) -> Weighted:
    ends = np.stack([atlas.lines.x[cells.low], atlas.lines.x[cells.high]])
    x = (1 - peak.s) * ends[0] + peak.s * ends[1]
    return Weighted(row, cells, value, wrong, peak, x, process_at(cells, peak), ends)
