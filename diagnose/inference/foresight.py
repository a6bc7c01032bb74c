"""What every candidate measurement would show, given all that is now believed.

The belief is carried by a fixed number of points drawn evenly from its cells; at each the circuit
is solved anew, the tolerances that the readings so far have already revealed are taken into
account, and the outcomes of every candidate are spread over bins.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from statistics import NormalDist

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.atlas import Atlas
from diagnose.inference.candidates import Candidate
from diagnose.inference.cells import Peak, value_at
from diagnose.inference.data import Datum
from diagnose.inference.measurement import Measurement
from diagnose.inference.meters import Meter
from diagnose.inference.observe import Sight
from diagnose.inference.outcomes import Outcomes, Outlook
from diagnose.inference.stated import states
from diagnose.inference.views import Points, Reader
from diagnose.inference.weighing import Weighted

FEWEST, POINTS, EACH = 96, 240, 6
"""Points that carry the belief: so many at least, at most, and for each fault worth seeing."""

SEEN = 2e-3
"""Share of the belief above which a hypothesis gets points of its own."""

SOUND_POINTS = 24
"""Points at which it is told what a sound loop would show."""

LEVELS = 512
"""Steps of the normal distribution from which places inside a cell are drawn."""


def draw(weighted: Weighted, count: int | None = None) -> Points:
    """Even, repeatable draw of points: every hypothesis by its weight, none worth seeing left out.

    As many as the hypotheses need, if no ``count`` is given.
    """
    if not len(weighted.log):
        empty = np.zeros(0)
        return Points(empty.astype(int), empty, empty, empty)
    weight = np.exp(weighted.log - np.logaddexp.reduce(weighted.log))
    order = np.lexsort((weighted.p, weighted.x, weighted.cells.h))
    share = np.bincount(weighted.cells.h, weights=weight)
    # Every hypothesis that matters gets a few points of its own, so that a rare one is still seen.
    tempered = np.maximum(share, 0.01 * (share > SEEN))
    if count is None:
        count = int(np.clip(EACH * (share > SEEN).sum(), FEWEST, POINTS))
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


class Foresight:
    """What candidates would show, all that ``data`` tell of the tolerances put in.

    ``outlook`` are the outcomes at the points of the belief; ``sound`` are points of the sound loop
    at process values of these.
    """

    def __init__(
        self,
        atlas: Atlas,
        meter: Meter,
        points: Points,
        candidates: Sequence[Candidate],
        data: Sequence[Datum],
        drift: float | None = None,
    ) -> None:
        """``drift`` is the unrest of the process, where it is not the loop's own."""
        self.atlas, self.meter = atlas, meter
        self.wanted = [candidate.measurement for candidate in candidates]
        self.sound = _sound(points)
        self.read = read = [datum for datum in data if datum.side == 0]
        every = [*self.wanted, *(datum.measurement for datum in read)]
        reader = Reader(atlas, points, every)
        loop = atlas.machine.loop
        if drift is not None and drift != loop.drift:
            loop = replace(loop, drift=drift)
        outcomes = Outcomes(loop, meter, data, reader.spreads, points.weight, points.h)
        seen = _Seen(reader, self.wanted)
        for some in reader.together(datum.measurement for datum in read):
            sways = atlas.sound.sways(some)
            for datum in read:
                if datum.measurement in some:
                    sway = sways[some.index(datum.measurement)]
                    outcomes.learn(datum, *seen.of(datum.measurement), sway)
        self.outlook = self._outlook(seen, outcomes, len(points))

    def _outlook(self, seen: _Seen, outcomes: Outcomes, count: int) -> Outlook:
        """Outcomes of all candidates, lot by lot: slopes of all at once would take much room."""
        found = Outlook.empty(len(self.wanted), count)
        place = {measurement: n for n, measurement in enumerate(self.wanted)}
        for number, some in enumerate(seen.lots):
            sways = self.atlas.sound.sways(some)
            rows = [place[measurement] for measurement in some]
            found.put(rows, outcomes.of(some, seen.lot(number), sways))
        return found

    def healthy(self, numbers: Sequence[int]) -> Outlook:
        """What some candidates would show at the sound points, before any reading.

        But for what tells an operating state: the loop is sound where a person has set it.
        """
        wanted, sound = [self.wanted[n] for n in numbers], self.atlas.sound
        seen = [sound.sight(measurement, self.sound.p) for measurement in wanted]
        level, slope = [one.level for one in seen], [one.slope for one in seen]
        sight = Sight(np.concatenate(level), np.concatenate(slope))
        loop, spreads = self.atlas.machine.loop, sight.slope.shape[1]
        told = [datum for datum in self.read if states(loop, datum.measurement)]
        outcomes = Outcomes(loop, self.meter, told, spreads, self.sound.weight)
        for datum in told:
            one = sound.sight(datum.measurement, self.sound.p)
            outcomes.learn(datum, one.level[0], one.slope[0], sound.sway(datum.measurement))
        return outcomes.of(wanted, sight, sound.sways(wanted))


class _Seen:
    """Lots of candidates as they are read at the points; what was read before is among them."""

    def __init__(self, reader: Reader, wanted: Sequence[Measurement]) -> None:
        self.reader, self.lots = reader, list(reader.together(wanted))
        self._lot = {one: number for number, some in enumerate(self.lots) for one in some}
        self._kept: dict[int, Sight] = {}

    def of(self, measurement: Measurement) -> tuple[Array, Array]:
        """Level (point,) and slopes (spread, point) of one; its lot is kept until asked for."""
        if measurement not in self._lot:
            alone = self.reader.see([measurement])
            return alone.level[0], alone.slope[0]
        number = self._lot[measurement]
        if number not in self._kept:
            self._kept[number] = self.reader.see(self.lots[number])
        sight, n = self._kept[number], self.lots[number].index(measurement)
        return sight.level[n], sight.slope[n]

    def lot(self, number: int) -> Sight:
        """Levels and slopes of a lot."""
        kept = self._kept.pop(number, None)
        return self.reader.see(self.lots[number]) if kept is None else kept


def _sound(points: Points) -> Points:
    """The sound loop at ``SOUND_POINTS`` of the process values."""
    some = np.linspace(0, len(points) - 1, SOUND_POINTS).astype(int)
    zero = np.zeros(SOUND_POINTS, int)
    return Points(zero, np.full(SOUND_POINTS, 0.5), points.p[some], points.weight[some])


__all__ = ["POINTS", "Foresight", "Points", "draw"]
