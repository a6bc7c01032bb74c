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

ROUNDS = 3
"""How often strips are cut where the readings are sharper than the grid."""


@dataclass
class Weighted:
    """Cells that matter after the readings: log weight (prior included) and place of the peak.

    ``sd`` and ``loose`` are the standard deviations along severity and process, in cell widths.
    """

    cells: Cells
    log: Array
    x: Array
    p: Array
    sd: Array
    loose: Array


@dataclass
class Belief:
    """Posterior of one case.

    ``probability`` (hypothesis,), ``unmodelled``, ``suspect`` (datum,) chance that a reading is
    worthless; ``weighted`` the cells behind it, weights normalised with the unmodelled;
    ``surprise`` is the log evidence of everything modelled.
    """

    probability: Array
    unmodelled: float
    suspect: Array
    weighted: Weighted
    surprise: float


def believe(
    atlas: Atlas, data: Sequence[Datum], log_prior: Array, unmodelled: float, symptoms: Symptoms,
    drift: float, rounds: int = ROUNDS,
) -> tuple[Belief, Atlas]:
    """The posterior after ``data``, and the part of the atlas that it rests on, refined for it.

    ``log_prior`` (hypothesis,) holds priors with context; ``unmodelled`` the log prior of "none
    of the modelled" with its likelihood of the complaint.
    """
    own = atlas
    for turn in range(rounds + 1):
        levels = [own.levels(datum.measurement) for datum in data]
        weighted, suspect = _weigh(own, data, levels, log_prior, symptoms, drift)
        if turn == rounds or len(data) < 2 or not len(weighted.log):
            break
        if turn == 0:
            own, weighted = _narrow(own, weighted)
        if not _sharpen(own, weighted):
            break
    broad = unmodelled + sum(datum.wrong for datum in data)
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
    return Belief(probability, float(np.exp(broad - total)), suspect * share, weighted, modelled)


def _weigh(
    atlas: Atlas, data: Sequence[Datum], levels: list[Levels], log_prior: Array,
    symptoms: Symptoms, drift: float,
) -> tuple[Weighted, Array]:
    """Weights of all cells over all sets of worthless readings; chance of each being worthless."""
    cells = cells_of(atlas.lines, atlas.strips)
    bad = misfits(cells, data, levels, drift) if data else np.zeros((len(cells), 0), bool)
    prior = log_prior[cells.h]
    pieces: list[tuple[Array, Array, Peak, tuple[int, ...]]] = []
    best = -np.inf
    for wrong in _subsets(len(data)):
        right = [n for n in range(len(data)) if n not in wrong]
        chance = _chance(data, wrong)
        if len(wrong) > 1 and chance + _most([data[n] for n in right]) < best + NEGLIGIBLE:
            continue
        rows = np.flatnonzero(~bad[:, right].any(axis=1))
        if not len(rows):
            continue
        some = cells.some(rows)
        value, peak = evidence(
            atlas.lines, some, [data[n] for n in right], [levels[n] for n in right], drift
        )
        value = value + chance + prior[rows] + symptoms.cells(atlas, some, peak)
        keep = value > max(best, float(value.max())) + NEGLIGIBLE
        best = max(best, float(value.max()))
        pieces.append((rows[keep], value[keep], _some(peak, keep), wrong))
    return _gather(atlas, cells, pieces, len(data))


def _subsets(count: int) -> list[tuple[int, ...]]:
    return [s for size in range(min(MOST_WRONG, count) + 1) for s in combinations(range(count), size)]


def _chance(data: Sequence[Datum], wrong: tuple[int, ...]) -> float:
    """log probability that just these readings are worthless, and what they then say."""
    return sum(
        log(datum.doubt) + datum.wrong if n in wrong else log(1 - datum.doubt)
        for n, datum in enumerate(data)
    )


def _most(data: Sequence[Datum]) -> float:
    """The most that the log density of these readings can be."""
    return sum(-log(max(datum.noise, 1e-9)) - 0.92 for datum in data if datum.side == 0)


def _some(peak: Peak, keep: Array) -> Peak:
    return Peak(peak.s[keep], peak.t[keep], peak.sd[keep], peak.precision[keep])


def _gather(
    atlas: Atlas, cells: Cells, pieces: list[tuple[Array, Array, Peak, tuple[int, ...]]], count: int
) -> tuple[Weighted, Array]:
    if not pieces:
        none = cells.some(np.zeros(0, int))
        nothing = np.zeros(0)
        return Weighted(none, *[nothing] * 5), np.zeros(count)
    rows = np.concatenate([piece[0] for piece in pieces])
    value = np.concatenate([piece[1] for piece in pieces])
    total = np.logaddexp.reduce(value)
    keep = value > total + NEGLIGIBLE
    suspect = np.zeros(count)
    for _, logs, _, wrong in pieces:
        for n in wrong:
            suspect[n] += float(np.exp(logs - total).sum())
    some = cells.some(rows[keep])
    joined = Peak(
        *(
            np.concatenate([getattr(piece[2], name) for piece in pieces])[keep]
            for name in ("s", "t", "sd", "precision")
        )
    )
    x = (1 - joined.s) * atlas.lines.x[some.low] + joined.s * atlas.lines.x[some.high]
    loose = 1 / np.sqrt(joined.precision[:, 1, 1])
    return Weighted(some, value[keep], x, process_at(some, joined), joined.sd, loose), suspect


def _sharpen(atlas: Atlas, weighted: Weighted) -> bool:
    """Cut the strips that carry weight and are wider than the readings are sharp."""
    weight = np.exp(weighted.log - np.logaddexp.reduce(weighted.log))
    order = {}
    numbers = _strip_numbers(atlas)
    sized = weighted.cells.low != weighted.cells.high
    sharp = sized & (weight > 2e-4) & (weighted.sd < 0.12)
    for n in np.flatnonzero(sharp):
        strip = int(numbers[weighted.cells.low[n]])
        if strip not in order or weight[n] > weight[order[strip]]:
            order[strip] = n
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
