"""From readings to belief: evidence of every hypothesis, wrong readings allowed for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from math import log

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.atlas import Atlas
from diagnose.inference.data import Datum
from diagnose.inference.evidence import (
    Cells,
    Levels,
    Peak,
    cells_of,
    evidence,
    misfits,
    process_at,
)
from diagnose.inference.symptoms import Symptoms

MOST_WRONG = 2
"""Readings of one case that may be worthless at the same time."""

NEGLIGIBLE = -14.0
"""Log weight, against the best, below which a cell or a subset is left out."""

WORTH_BLAMING = 12.0
"""A reading is called worthless only where the sum of squared residuals falls by more than this."""

HOPELESS = 80.0
"""Sum of squared residuals that no further set of worthless readings can save."""

SHARP = 0.35
"""Standard deviation, in widths of a strip, below which the strip is cut finer."""

ROUNDS = 2
"""How often strips are cut where the readings are sharper than the grid."""


@dataclass
class Weighted:
    """Cells that matter after the readings: log weight (prior included) and place of the peak.

    ``ends`` are the severity coordinates of the two lines of each cell (2, cell).
    ``sd`` is the standard deviation along severity in cell widths, ``peak`` what is known of
    both coordinates inside each cell.
    """

    cells: Cells
    log: Array
    x: Array
    p: Array
    sd: Array
    ends: Array
    peak: Peak


@dataclass
class Belief:
    """Posterior of one case.

    ``probability`` (hypothesis,), ``unmodelled``, ``suspect`` (datum,) chance that a reading is
    worthless; ``weighted`` the cells behind it, weights normalised with the unmodelled.
    """

    probability: Array
    unmodelled: float
    suspect: Array
    weighted: Weighted


def believe(
    atlas: Atlas,
    data: Sequence[Datum],
    log_prior: Array,
    unmodelled: float,
    symptoms: Symptoms,
    drift: float,
    rounds: int = ROUNDS,
) -> tuple[Belief, Atlas]:
    """The posterior after ``data``, and the part of the atlas that it rests on, refined for it.

    ``log_prior`` (hypothesis,) holds priors with context; ``unmodelled`` the log prior of "none
    of the modelled" with its likelihood of the complaint.
    """
    own = atlas
    for turn in range(rounds + 1):
        levels = [own.levels(datum.measurement) for datum in data]
        weighted, suspect = _weigh(own, data, levels, log_prior, symptoms, drift)
        if turn == rounds or not data or not len(weighted.log):
            break
        if turn == 0:
            own, weighted = _narrow(own, weighted)
        if not _sharpen(own, weighted):
            break
    broad = unmodelled + sum(datum.broad for datum in data)
    return _normalise(own, weighted, suspect, broad), own


def _narrow(atlas: Atlas, weighted: Weighted) -> tuple[Atlas, Weighted]:
    """Only the strips that still carry weight, in an atlas of their own."""
    strip = _strip_numbers(atlas)[weighted.cells.low]
    kept = np.unique(strip)
    own = atlas.part(kept)
    where = np.searchsorted(kept, strip)
    cells = replace(weighted.cells, low=own.strips.low[where], high=own.strips.high[where])
    return own, replace(weighted, cells=cells)


def _strip_numbers(atlas: Atlas) -> Array:
    """Number of the strip that begins at each line; -1 for none."""
    numbers = np.full(len(atlas.lines) + 1, -1)
    numbers[atlas.strips.low] = np.arange(len(atlas.strips.low))
    return numbers


def _normalise(atlas: Atlas, weighted: Weighted, suspect: Array, broad: float) -> Belief:
    modelled = float(np.logaddexp.reduce(weighted.log)) if len(weighted.log) else -np.inf
    total = float(np.logaddexp(modelled, broad))
    weight = np.exp(weighted.log - total)
    count = len(atlas.ground.hypotheses)
    probability = np.bincount(weighted.cells.h, weights=weight, minlength=count)
    weighted.log = weighted.log - total
    share = float(np.exp(modelled - total))
    return Belief(probability, float(np.exp(broad - total)), suspect * share, weighted)


def _weigh(
    atlas: Atlas,
    data: Sequence[Datum],
    levels: list[Levels],
    log_prior: Array,
    symptoms: Symptoms,
    drift: float,
) -> tuple[Weighted, Array]:
    """Weights of all cells over the sets of worthless readings; chance of each being worthless.

    A cell that explains every reading gains nothing from calling one of them worthless: sets of
    worthless readings are tried only where leaving the reading out mends a bad fit.
    """
    cells = cells_of(atlas.lines, atlas.strips, atlas.machine.loop.states)
    bad = misfits(cells, data, levels, drift) if data else np.zeros((len(cells), 0), bool)
    waiting = _by_misfit(bad)
    pieces: list[_Piece] = []
    best = -np.inf
    for wrong in _subsets(len(data)):
        rows = np.unique(np.concatenate(waiting.pop(wrong, [np.zeros(0, int)])))
        if not len(rows):
            continue
        right = [n for n in range(len(data)) if n not in wrong]
        some = cells.some(rows)
        value, peak = evidence(
            atlas.lines, some, [data[n] for n in right], [levels[n] for n in right], drift
        )
        if len(wrong) < MOST_WRONG:
            _queue(waiting, wrong, right, rows, peak)
        value = value + _chance(data, wrong) + log_prior[some.h] + symptoms.cells(atlas, some, peak)
        best = max(best, float(value.max()))
        keep = np.flatnonzero(value > best + NEGLIGIBLE)
        pieces.append((rows[keep], value[keep], peak.some(keep), wrong))
    return _gather(atlas, cells, pieces, len(data))


def _by_misfit(bad: Array) -> dict[tuple[int, ...], list[Array]]:
    """Cells by the readings that they cannot explain at all: (cell, reading) -> {set: cells}."""
    count = bad.sum(axis=1)
    waiting: dict[tuple[int, ...], list[Array]] = {(): [np.flatnonzero(count == 0)]}
    for size in range(1, MOST_WRONG + 1):
        rows = np.flatnonzero(count == size)
        sets, which = np.unique(bad[rows], axis=0, return_inverse=True)
        for n, members in enumerate(sets):
            wrong = tuple(int(k) for k in np.flatnonzero(members))
            waiting.setdefault(wrong, []).append(rows[which.ravel() == n])
    return waiting


def _queue(
    waiting: dict[tuple[int, ...], list[Array]],
    wrong: tuple[int, ...],
    right: list[int],
    rows: Array,
    peak: Peak,
) -> None:
    """Line up the cells in which leaving out one more reading would mend the fit."""
    left = peak.misfit[:, None] - peak.blame
    mends = (peak.blame > WORTH_BLAMING) & (left < HOPELESS)
    for place, n in enumerate(right):
        some = rows[mends[:, place]]
        if len(some):
            waiting.setdefault(tuple(sorted((*wrong, n))), []).append(some)


_Piece = tuple[Array, Array, Peak, tuple[int, ...]]


def _subsets(count: int) -> list[tuple[int, ...]]:
    return [
        s for size in range(min(MOST_WRONG, count) + 1) for s in combinations(range(count), size)
    ]


def _chance(data: Sequence[Datum], wrong: tuple[int, ...]) -> float:
    """log probability that just these readings are worthless, and what they then say."""
    return sum(
        log(datum.doubt) + datum.wrong if n in wrong else log(1 - datum.doubt)
        for n, datum in enumerate(data)
    )


def _gather(atlas: Atlas, cells: Cells, pieces: list[_Piece], count: int) -> tuple[Weighted, Array]:
    if not pieces:
        none = cells.some(np.zeros(0, int))
        nothing = np.zeros(0)
        square = np.zeros((0, 2, 2))
        peak = Peak(nothing, nothing, nothing, square, nothing, np.zeros((0, 0)))
        weighted = Weighted(none, nothing, nothing, nothing, nothing, np.zeros((2, 0)), peak)
        return weighted, np.zeros(count)
    rows = np.concatenate([piece[0] for piece in pieces])
    value = np.concatenate([piece[1] for piece in pieces])
    total = np.logaddexp.reduce(value)
    keep = value > total + NEGLIGIBLE
    suspect = np.zeros(count)
    for _, logs, _, wrong in pieces:
        for n in wrong:
            suspect[n] += float(np.exp(logs - total).sum())
    some = cells.some(rows[keep])
    joined = Peak.joined([piece[2] for piece in pieces]).some(keep)
    ends = np.stack([atlas.lines.x[some.low], atlas.lines.x[some.high]])
    x = (1 - joined.s) * ends[0] + joined.s * ends[1]
    weighted = Weighted(some, value[keep], x, process_at(some, joined), joined.sd, ends, joined)
    return weighted, suspect


def _sharpen(atlas: Atlas, weighted: Weighted) -> bool:
    """Cut the strips that carry weight and are wider than the readings are sharp."""
    weight = np.exp(weighted.log - np.logaddexp.reduce(weighted.log))
    order: dict[int, int] = {}
    numbers = _strip_numbers(atlas)
    sized = weighted.cells.low != weighted.cells.high
    sharp = sized & (weight > 2e-4) & (weighted.sd < SHARP)
    for n in np.flatnonzero(sharp):
        strip = int(numbers[weighted.cells.low[n]])
        if strip not in order or weight[n] > weight[order[strip]]:
            order[strip] = int(n)
    if not order:
        return False
    strips = np.array(list(order))
    heavy = np.array(list(order.values()))
    low, high = atlas.lines.x[atlas.strips.low[strips]], atlas.lines.x[atlas.strips.high[strips]]
    width = high - low
    reach = np.clip(4 * weighted.sd[heavy], 0.02, 0.25) * width
    centre = np.clip(weighted.x[heavy], low + 1.5 * reach, high - 1.5 * reach)
    centre = np.where(high - low < 3 * reach, (low + high) / 2, centre)
    atlas.refine(strips, np.stack([centre - reach, centre + reach], axis=1))
    return True
