"""Tolerances that move a bend of the circuit, taken in slices.

A level is straight in a tolerance on one side of a bend only.  In the direction in which tolerances
move the volts at which a law bends, or those across it, their normal distribution is written as a
sum of narrower ones, exactly ``N(x; 0, 1) = integral of N(m; 0, 1 - w^2) N(x; m, w^2) dm``, by the
trapezoidal rule.  Hypotheses that such a bend comes near are weighed with nominal values in the
middle of each slice, on lines that stand on the bends of that circuit; their weights change by what
the slices make of them against the nominal values alone, on lines laid in the same way.
Shapes: (hypothesis,), (slice,).
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from dataclasses import replace

import numpy as np

from diagnose.circuit.rows import Array, among, distinct
from diagnose.inference.atlas import Atlas
from diagnose.inference.benders import Bender, benders, pusher
from diagnose.inference.bends import circuits
from diagnose.inference.data import Datum
from diagnose.inference.ground import Ground
from diagnose.inference.hypotheses import Hypothesis
from diagnose.inference.measurement import Condition, Measurement
from diagnose.inference.observe import Observer
from diagnose.inference.posterior import SPARE, refined
from diagnose.inference.spreads import each_moved
from diagnose.inference.weighing import NEGLIGIBLE, Scales, Weighted, weigh

SLICES, THIN, REACH = 11, 21, 3.0
"""Slices of the tolerance, so many where they must be thin, and the standard deviations either way
that they cover.

What a display shows just below a bend is as sharp as the display.
"""

RATIO = 0.65
"""Width of a slice over the distance to the next one: their sum ripples by 0.2 %."""

STEP = 1.0
"""Distance of lines, nepers of severity: both sides of a ratio are laid alike."""

COUNTS, FIXED_COUNTS = 3e-3, 0.02
"""Share of the belief from which a hypothesis is looked at again; one that holds the process fixed.

Elsewhere a supply that moves the bend moves it along the process, where it is seen from all sides.
"""

HEAVY = 1e-3
"""Share of a hypothesis from which one of its cells tells whether a bend is near."""

NEAR = 4.0
"""Standard deviations of the tolerance within which a bend is near."""

KEPT = 2
"""Sets of atlases that are kept: hypotheses stay in the running from reading to reading."""


class Shifting:
    """Hypotheses of an atlas, weighed again where the tolerances of ``bender`` move a bend near.

    ``some`` (hypothesis,) are those that are looked at, where they hold more than ``counts``.
    """

    def __init__(
        self, whole: Atlas, bender: Bender, some: Array, counts: float, slices: int
    ) -> None:
        self.whole, self.observer = whole, whole.observer
        self.bender, self.some, self.counts, self.slices = bender, some, counts, slices
        self._kept: dict[frozenset[Measurement], tuple[Array, list[Atlas]]] = {}

    @classmethod
    def of(cls, whole: Atlas) -> tuple[Shifting, ...]:
        """One for tolerances of each law, one for those of its supply, where there are such."""
        every = np.arange(len(whole.ground.hypotheses))
        fixed = np.array([h.number for h in whole.ground.hypotheses if _stands_in(h)], int)
        machine = whole.machine
        spreads = whole.observer.spreads
        laws = benders(machine, each_moved(machine, spreads, (0.5,)))
        supply = None
        if len(fixed):
            # What lies between supply and transmitter takes most of the volts at full current.
            full = each_moved(machine, spreads, (1.0,))
            supply = pusher(machine, full, _branches(whole, fixed))
        found = [cls(whole, law, every, COUNTS, SLICES) for law in laws]
        if supply is not None:
            found.append(cls(whole, supply, fixed, FIXED_COUNTS, THIN))
        return tuple(found)

    def let_go(self) -> None:
        """Forget what takes room and can be found anew."""
        self._kept.clear()

    def changes(
        self, atlas: Atlas, weighted: Weighted, data: Sequence[Datum], scales: Scales
    ) -> Array:
        """By how much the log weights of each hypothesis of ``atlas`` change: (hypothesis,)."""
        change = np.zeros(len(atlas.ground.hypotheses))
        if not data or not len(weighted):
            return change
        some = self._near(atlas, weighted, data)
        if not len(some):
            return change
        laid, atlases = self._atlases(some, data)
        fewer = replace(scales, log_prior=scales.log_prior[laid])
        place = np.searchsorted(laid, some)
        found = [_evidence(one, place, data, fewer) for one in atlases]
        change[some] = _gained(found[0], np.array(found[1:]))
        return change

    def _near(self, atlas: Atlas, weighted: Weighted, data: Sequence[Datum]) -> Array:
        """The hypotheses that count and have a bend near: single faults, by number."""
        weight = np.exp(weighted.log - weighted.total())
        share = np.bincount(weighted.cells.h, weight, len(atlas.ground.hypotheses))
        if not (share[self.some] > self.counts).any():
            return np.zeros(0, int)
        own = share[weighted.cells.h]
        heavy = (own > self.counts) & (weight > HEAVY * own) & among(weighted.cells.h, self.some)
        cells = weighted.some(np.flatnonzero(heavy))
        passed = np.zeros(len(cells), bool)
        for condition in dict.fromkeys(datum.measurement.condition for datum in data):
            passed |= self._passes(cells, condition)
        return distinct(cells.cells.h[passed])

    def _passes(self, cells: Weighted, condition: Condition) -> Array:
        """Whether the bend passes the peak of a cell on the way of the tolerance: (cell,)."""
        ground, numbers, pieces = self.whole.ground, self.observer.numbers, []
        still = ground.still(cells.cells.h, numbers, condition)
        for off in (-NEAR, 0.0, NEAR):
            columns = ground.columns(cells.cells.h, cells.x, cells.p, condition)
            for n, number in self._ways():
                moved = still[:, n] * off * self.bender.way[n] * self.observer.spreads[n].sd
                columns[number] = columns[number] + moved
            pieces.append(self.observer.base(columns, len(cells), condition).pieces)
        low, middle, high = ([one[k] for k in self.bender.branches] for one in pieces)
        ways = zip(low, middle, high, strict=True)
        result: Array = np.any([(a != b) | (b != c) for a, b, c in ways], axis=0)
        return result

    def _atlases(self, some: Array, data: Sequence[Datum]) -> tuple[Array, list[Atlas]]:
        """Atlases at the nominal value, then in the middle of each slice; of which hypotheses.

        These are ``some`` or more: fewer and fewer stay in the running of a hunt.
        """
        measured = circuits(data)
        laid, found = self._kept.pop(measured, (np.zeros(0, int), []))
        if not among(some, laid).all():
            hypotheses, laid = self.whole.ground.hypotheses, some
            few = tuple(replace(hypotheses[h], number=n) for n, h in enumerate(laid))
            middle, _, width = _slices(self.slices)
            observers = [self.observer, *(self._moved(float(off), width) for off in middle)]
            grounds = [Ground(one.machine, few) for one in observers]
            pairs = zip(observers, grounds, strict=True)
            found = [self.whole.beside(one, ground, measured, STEP) for one, ground in pairs]
        while len(self._kept) >= KEPT:
            del self._kept[next(iter(self._kept))]
        self._kept[measured] = laid, found
        return laid, found

    def _moved(self, off: float, width: float) -> Observer:
        """The observer of a circuit in the middle of a slice that is ``width`` sd wide."""
        machine, spreads, way = self.observer.machine, self.observer.spreads, self.bender.way
        for n, number in self._ways():
            machine = machine.at(number, off * float(way[n]) * spreads[n].sd)
        return Observer(machine, self.observer.meter, spreads, (way, width))

    def _ways(self) -> list[tuple[int, int]]:
        """Tolerances of the direction: place among the spreads, and number of the parameter."""
        numbers = self.observer.numbers
        return [(int(n), numbers[n]) for n in np.flatnonzero(self.bender.way)]


def _stands_in(hypothesis: Hypothesis) -> bool:
    """Whether its severity stands for a tolerance within which the circuit bends."""
    severity = hypothesis.mode.severity if hypothesis.mode else None
    return severity is not None and not severity.told


def _branches(whole: Atlas, some: Array) -> tuple[int, ...]:
    """The branches of the parts that some hypotheses are of."""
    parts = {whole.ground.hypotheses[h].part for h in some}
    wires = whole.machine.wiring.wires_of
    return tuple(k for part in sorted(filter(None, parts)) for k in wires[part])


def changed(weighted: Weighted, change: Array) -> Weighted:
    """The weights with those of each hypothesis changed: (hypothesis,), others as they are."""
    if not change.any():
        return weighted
    more = np.zeros(max(len(change), weighted.cells.h.max(initial=0) + 1))
    more[: len(change)] = change
    other = copy(weighted)
    other.log = weighted.log + more[weighted.cells.h]
    return other


def _evidence(atlas: Atlas, some: Array, data: Sequence[Datum], scales: Scales) -> Array:
    """Log of prior times evidence of some hypotheses of an atlas."""
    rows = np.flatnonzero(among(atlas.cells.h, some))
    weighted = weigh(atlas, rows, data, scales, 2 * NEGLIGIBLE + SPARE)
    _, weighted = refined(atlas, weighted, data, scales)
    top, count = weighted.best(), len(atlas.ground.hypotheses)
    total = np.bincount(weighted.cells.h, np.exp(weighted.log - top), count)[some]
    return np.log(total, out=np.full(len(some), -np.inf), where=total > 0) + top


def _gained(plain: Array, sliced: Array) -> Array:
    """By how much slices (slice, hypothesis) hold more than the nominal value (hypothesis,): logs.

    Nothing where either holds too little to be weighed.
    """
    total = np.logaddexp.reduce(np.log(_slices(len(sliced))[1])[:, None] + sliced, axis=0)
    known = np.isfinite(plain) & np.isfinite(total)
    return np.subtract(total, plain, out=np.zeros(len(plain)), where=known)


def _slices(count: int) -> tuple[Array, Array, float]:
    """Middles and shares of the slices, and their width, in standard deviations."""
    middle = np.linspace(-REACH, REACH, count)
    width = float(RATIO * (middle[1] - middle[0]))
    share = np.exp(-(middle**2) / 2 / (1 - width**2))
    return middle, share / share.sum(), width
