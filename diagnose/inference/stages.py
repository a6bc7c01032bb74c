"""A hunt reading by reading: what each leaves in the running is kept for the next.

Most cells are far from the best after a reading or two, yet a later reading may bring one back.
What any reading can make of a cell at most is known without weighing it, and so only those cells
are weighed that may have come near enough to count.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log, pi

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.atlas import Atlas
from diagnose.inference.bends import circuits
from diagnose.inference.data import Datum
from diagnose.inference.evidence import misfits, own_variance
from diagnose.inference.measurement import Measurement
from diagnose.inference.overload import taken
from diagnose.inference.posterior import SPARE
from diagnose.inference.process_prior import room
from diagnose.inference.weighing import NEGLIGIBLE, Scales, Weighted, weigh

LEFT_OUT = -40.0
"""Log weight, against the best, below which a cell is out of the running for good.

A further reading can raise a cell against the best by its sharpest density over that of a worthless
reading: about 15, and what lies 14 below the best does not count.
"""

COUNTS = NEGLIGIBLE + SPARE
"""Log weight, against the best, above which a cell is weighed."""

SLACK = 2.0
"""What a weight may rise beyond its bound: a peak that moves meets other priors and tolerances."""

UNEVEN = 1.5
"""Variance of a reading at a corner of a cell, against its mean, from which no bound is relied on.

Tolerances count as they are in the middle of a cell that is far from the best: there, such a cell
may look much worse than it is.
"""

WORTH_PARTING = 0.7
"""Share of the cells below which those in the running get an atlas of their own."""

MOST = 6
"""Stages that are kept: those of the hunt in hand, and some beside it that were asked about."""


BENCHES = 2
"""Atlases that are kept for what was done to the loop: that of the hunt, and one to go back to."""

LAST = 2
"""Stages whose weights are kept: the last one, and the one that an undo goes back to."""


@dataclass
class Stage:
    """The weights of the cells of ``atlas`` after some readings; ``next`` begins the next one.

    ``best`` is the largest weight; of ``next``, ``bound`` (cell,) is what the log weight of each
    cell is at most.  The weights go where they take up room and nobody asks for them any more.
    """

    atlas: Atlas
    weighted: Weighted | None
    best: float
    next: Atlas
    bound: Array


class Stages:
    """Stages of the hunt in hand; another complaint or context begins anew."""

    def __init__(self, atlas: Atlas) -> None:
        self.atlas = atlas
        self._key: object = None
        self._kept: dict[tuple[Datum, ...], Stage] = {}

    def after(self, data: tuple[Datum, ...], scales: Scales) -> tuple[Atlas, Weighted]:
        """The weights after some readings, from the stage before, and the atlas of their cells."""
        key = (scales.symptoms.complaint, scales.drift, scales.log_prior.tobytes())
        if key != self._key:
            self._key, self._kept = key, {}
        before: Stage | None = None
        for count in range(min(1, len(data)), len(data) + 1):
            read = data[:count]
            stage = self._kept.pop(read, None)
            if stage is None or (stage.weighted is None and count == len(data)):
                stage = _stage(self.atlas, before, read, scales)
            self._kept[read] = before = stage
        for oldest in list(self._kept)[: -max(MOST, len(data))]:
            del self._kept[oldest]
        self._make_room()
        assert before is not None and before.weighted is not None
        return before.atlas, before.weighted

    def _make_room(self) -> None:
        """Let go of what takes up room in stages that are not gone on with."""
        stages = list(self._kept.values())
        used = {id(self.atlas), *(id(stage.next) for stage in stages[-LAST:])}
        for stage in stages[:-LAST]:
            stage.weighted = None
            if id(stage.next) not in used:
                stage.next.survey.let_go()


def _stage(atlas: Atlas, before: Stage | None, data: tuple[Datum, ...], scales: Scales) -> Stage:
    if before is None:
        bound = np.zeros(len(atlas.cells))
        for datum in data:
            bound = _raised(bound, _most(atlas, datum, scales.drift))
        weighted = _weigh(atlas, np.arange(len(bound)), data, scales, bound)
    else:
        atlas = before.next
        bound = _raised(before.bound, _most(atlas, data[-1], scales.drift))
        # The best of the last turn tell how good the best is now; then all that may come near it.
        near = before.bound > before.best + NEGLIGIBLE
        first = _weigh(atlas, np.flatnonzero(near), data, scales, bound)
        others = np.flatnonzero(~near & (bound > first.best() + COUNTS))
        weighted = Weighted.joined([first, _weigh(atlas, others, data, scales, bound)])
    best = weighted.best()
    weighted = weighted.above(weighted.total() + COUNTS + SPARE)
    left = np.flatnonzero(bound > best + LEFT_OUT)
    if 0 < len(left) < WORTH_PARTING * len(atlas.cells):
        return Stage(atlas, weighted, best, atlas.part(left), bound[left])
    return Stage(atlas, weighted, best, atlas, bound)


def _weigh(
    atlas: Atlas, numbers: Array, data: tuple[Datum, ...], scales: Scales, bound: Array
) -> Weighted:
    """Weights of some cells, and their bounds put in place."""
    weighted = weigh(atlas, numbers, data, scales, LEFT_OUT)
    loose = bound == np.inf
    bound[numbers] = weighted.best() + LEFT_OUT
    most = weighted.log + room(weighted.cells, weighted.peak) - weighted.best()
    total = np.bincount(weighted.row, np.exp(most), len(atlas.cells))
    rows = np.flatnonzero(total)
    bound[rows] = weighted.best() + np.log(total[rows]) + SLACK
    bound[loose] = np.inf
    return weighted


def _raised(bound: Array, more: Array) -> Array:
    """The sum; what cannot be at all stays so, whatever is not known of it."""
    never = (bound == -np.inf) | (more == -np.inf)
    return np.where(never, -np.inf, np.where(never, 0.0, bound) + np.where(never, 0.0, more))


def _most(atlas: Atlas, datum: Datum, drift: float) -> Array:
    """By how much a reading can raise the log weight of each cell at most: (cell,)."""
    (level,) = taken(atlas.levels([datum.measurement]), [datum])
    own = own_variance(atlas.cells, datum, level, drift)
    density = 0.0 if datum.side else -0.5 * np.log(2 * pi * own)
    right, worthless = log(1 - datum.doubt) + density, log(datum.doubt) + datum.wrong
    bad = misfits(atlas.cells, [datum], [level], drift)[:, 0]
    result = np.where(bad, worthless, np.logaddexp(right, worthless))
    corner = atlas.cells.corners(level.variance)
    shared = sum(sd**2 for _, sd in datum.shared)
    total = own + shared + corner.mean(axis=1)
    result[own + shared + corner.max(axis=1) > UNEVEN * total] = np.inf
    return result


class Benches:
    """The stages of a hunt, on the atlas that its readings ask for.

    That is the atlas of the loop as it is, unless a reading is of a circuit that bends elsewhere.
    """

    def __init__(self, atlas: Atlas) -> None:
        self.own = Bench(atlas)
        self._kept: dict[frozenset[Measurement], Bench] = {}

    def of(self, data: tuple[Datum, ...]) -> Bench:
        """The one for some readings, whatever their order; the last few are kept."""
        key = self.own.atlas.bending(circuits(data))
        if not key:
            return self.own
        bench = self._kept.pop(key, None) or Bench(self.own.atlas.bent(key))
        while len(self._kept) >= BENCHES:
            del self._kept[next(iter(self._kept))]
        self._kept[key] = bench
        return bench

    def let_go(self) -> None:
        """Forget what takes room and can be found anew."""
        for bench in (self.own, *self._kept.values()):
            bench.atlas.survey.let_go()


class Bench:
    """One atlas with the stages of the hunt in hand, for a calm process and a restless one."""

    def __init__(self, atlas: Atlas) -> None:
        self.atlas = atlas
        self.calm, self.restless = Stages(atlas), Stages(atlas)
