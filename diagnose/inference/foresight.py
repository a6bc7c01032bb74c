"""What every candidate measurement would show, given all that is now believed.

The belief is carried by a fixed number of points drawn evenly from its cells; at each the circuit
is solved anew, the tolerances that the readings so far have already revealed are taken into
account, and the outcomes of every candidate are spread over bins.  Shapes: (point,),
(candidate, point), (candidate, bin, point).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.circuit.rows import Array, Column, State
from diagnose.inference.atlas import NUDGE, Atlas, with_first
from diagnose.inference.candidates import Candidate
from diagnose.inference.data import PROCESS_SD, STRAY, WORTHLESS, WORTHLESS_METER, Datum
from diagnose.inference.evidence import Peak, value_at
from diagnose.inference.many import span
from diagnose.inference.measurement import Condition, Measurement
from diagnose.inference.meters import Meter
from diagnose.inference.normal import below
from diagnose.inference.observe import systematic
from diagnose.inference.posterior import Weighted

POINTS = 240
"""Points that carry the belief."""

BINS = 24
"""Outcomes that a value is sorted into."""


@dataclass
class Points:
    """Places of the belief: hypothesis, severity coordinate, process, weight; shapes (point,)."""

    h: Array
    x: Array
    p: Array
    weight: Array

    def __len__(self) -> int:
        return len(self.h)


@dataclass
class Outlook:
    """Outcomes of candidates: mean and sd (candidate, point), and P(bin | point)."""

    mean: Array
    sd: Array
    bins: Array
    side: list[bool]


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
    s, t = _inside(weighted.peak.some(chosen))
    cells = weighted.cells.some(chosen)
    x = (1 - s) * weighted.ends[0][chosen] + s * weighted.ends[1][chosen]
    return Points(cells.h, x, value_at(cells.p, s, t), given / given.sum())


def _inside(peak: Peak) -> tuple[Array, Array]:
    """One place (s, t) in each cell, drawn from what is known there.

    Readings that tie severity and process together stay obeyed.
    """
    count = len(peak.s)
    z = np.random.default_rng(7).normal(size=(count, 2, 1))
    root = np.linalg.cholesky(np.linalg.inv(peak.precision))
    step = (root @ z)[:, :, 0]
    start = np.stack([peak.s, peak.t], axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        room = np.where(step > 0, (1 - start) / step, np.where(step < 0, -start / step, np.inf))
    share = np.minimum(1.0, room.min(axis=1))
    at = start + share[:, None] * step
    return np.clip(at[:, 0], 0, 1), np.clip(at[:, 1], 0, 1)


class Foresight:
    """Predicts candidates at points of a belief."""

    def __init__(self, atlas: Atlas, meter: Meter, data: Sequence[Datum], points: Points) -> None:
        self.atlas, self.meter, self.points = atlas, meter, points
        self.observer = atlas.observer
        self._states: dict[Condition, tuple[State, Array, State | None]] = {}
        self.names = sorted({name for datum in data for name, _ in datum.shared})
        self._learn([datum for datum in data if datum.side == 0])

    def see(self, measurement: Measurement) -> tuple[Array, Array]:
        """Level (point,) and slopes (point, spread) of a measurement at the points."""
        state, still, nudged = self._state(measurement.condition)
        seen = self.observer.see(measurement, state, self.points.p, still)
        if nudged is None:
            return seen.level, seen.slope
        other = self.observer.see(measurement, nudged, self.points.p, still)
        return seen.level, with_first(seen.level, seen.slope, other.level)

    def _state(self, condition: Condition) -> tuple[State, Array, State | None]:
        """The circuit in a condition, which tolerances hold, and the circuit with pairs nudged."""
        if condition not in self._states:
            points, ground = self.points, self.atlas.ground
            columns = ground.columns(points.h, points.x, points.p, condition)
            numbers = [spread.number for spread in self.observer.spreads]
            still = ground.still(points.h, numbers, condition)
            state, nudged = self.observer.base(columns, len(points), condition), None
            if ground.pairs:
                columns = ground.columns(points.h, points.x, points.p, condition, NUDGE)
                nudged = self.observer.base(columns, len(points), condition)
            self._states[condition] = (state, still, nudged)
        return self._states[condition]

    def _extend(self, slope: Array, shared: Sequence[tuple[str, float]]) -> Array:
        """Slopes with a column for every lasting error of meter and displays."""
        extra = np.zeros((len(self.points), len(self.names)))
        for name, sd in shared:
            if name in self.names:
                extra[:, self.names.index(name)] = sd
        return np.concatenate([slope, extra], axis=1)

    def _learn(self, data: list[Datum]) -> None:
        """Mean and covariance of the tolerances after the readings, at each point."""
        count = len(self.points)
        width = len(self.observer.spreads) + self.atlas.ground.pairs + len(self.names)
        self.mean = np.zeros((count, width))
        self.cov = np.broadcast_to(np.eye(width), (count, width, width)).copy()
        for datum in data:
            level, slope = self.see(datum.measurement)
            j = self._extend(slope, datum.shared)
            gain = np.einsum("pab,pb->pa", self.cov, j)
            unrest = self.atlas.machine.loop.drift * self.atlas.sway(datum.measurement)
            total = np.einsum("pa,pa->p", gain, j) + datum.noise**2 + unrest**2
            off = datum.y - level - np.einsum("pa,pa->p", j, self.mean)
            step = np.clip(off / total, -3 / np.sqrt(total), 3 / np.sqrt(total))
            self.mean += gain * step[:, None]
            self.cov -= gain[:, :, None] * gain[:, None, :] / total[:, None, None]

    def look(self, candidates: Sequence[Candidate]) -> Outlook:
        """Outcomes of all candidates."""
        wanted = [c.measurement for c in candidates]
        known, self._sways = self._spanned(wanted), self.atlas.sways(wanted)
        if not self.atlas.ground.pairs:
            known |= self._stacked([m for m in wanted if m.condition and m not in known])
        means, sds, bins, sides = [], [], [], []
        for candidate in candidates:
            level, slope = known.get(candidate.measurement) or self.see(candidate.measurement)
            mean, sd, table, state = self._one(candidate.measurement, level, slope)
            means.append(mean)
            sds.append(sd)
            bins.append(table)
            sides.append(state)
        return Outlook(np.array(means), np.array(sds), np.array(bins), sides)

    def _stacked(self, wanted: Sequence[Measurement]) -> dict[Measurement, tuple[Array, Array]]:
        """One thing read in many conditions: all conditions in one pass through the circuit."""
        alike: dict[tuple[str, tuple[str, ...]], list[Measurement]] = {}
        for measurement in wanted:
            alike.setdefault((measurement.function, measurement.points), []).append(measurement)
        alike = {key: some for key, some in alike.items() if len(some) > 1}
        conditions = list(dict.fromkeys(m.condition for some in alike.values() for m in some))
        if len(conditions) < 2:
            return {}
        state, still = self._stack(conditions)
        count, found = len(self.points), {}
        for some in alike.values():
            seen = self.observer.see(some[0], state, np.tile(self.points.p, len(conditions)), still)
            for measurement in some:
                start = conditions.index(measurement.condition) * count
                rows = slice(start, start + count)
                found[measurement] = seen.level[rows], seen.slope[rows]
        return found

    def _stack(self, conditions: Sequence[Condition]) -> tuple[State, Array]:
        """The circuit at the points in several conditions, one after the other."""
        points, ground = self.points, self.atlas.ground
        numbers = [spread.number for spread in self.observer.spreads]
        parts = [ground.columns(points.h, points.x, points.p, c) for c in conditions]
        columns: list[Column] = [
            pieces[0]
            if all(np.ndim(piece) == 0 and piece == pieces[0] for piece in pieces)
            else np.concatenate([np.broadcast_to(piece, (len(points),)) for piece in pieces])
            for pieces in zip(*parts, strict=True)
        ]
        still = np.concatenate([ground.still(points.h, numbers, c) for c in conditions])
        return self.observer.base(columns, len(still), ()), still

    def _spanned(self, wanted: Sequence[Measurement]) -> dict[Measurement, tuple[Array, Array]]:
        """Volts, or ohms, of one condition all at once, where no meter moves a regime."""
        found = {}
        for key in dict.fromkeys((m.condition, m.function) for m in wanted):
            some = [m for m in wanted if (m.condition, m.function) == key]
            if len(some) < 2 or key[1] not in ("V", "ohm") or self.atlas.ground.pairs:
                continue
            state, still, _ = self._state(key[0])
            pairs = [(m.points[0], m.points[1]) for m in some]
            seen = span(self.observer, key[1], pairs, state, still)
            found.update(
                {m: (seen.level[n], seen.slope[n]) for n, m in enumerate(some) if not seen.moved[n]}
            )
        return found

    def _one(
        self, measurement: Measurement, level: Array, slope: Array
    ) -> tuple[Array, Array, Array, bool]:
        function = measurement.function
        loop = self.atlas.machine.loop
        doubt = WORTHLESS.get(function, WORTHLESS_METER)
        state = False
        shared: tuple[tuple[str, float], ...] = ()
        if function in ("shows", "process"):
            shows = loop.part(measurement.points[0]).kind.shows if function == "shows" else None
            state = shows is not None and shows.what == "state"
            lasting = systematic(loop, measurement)
            noise = np.full(len(level), 0.001)
            if function == "process":
                noise = np.full(len(level), PROCESS_SD)
            if lasting and state:
                noise = np.full(len(level), lasting[1])
            elif lasting:
                shared = (lasting,)
                noise = np.hypot(noise, 0.0 if lasting[0] in self.names else lasting[1])
            if shows is not None and not state:
                level = np.clip(level, shows.least, shows.most)
        else:
            gain, noise = self._errors(function, level)
            noise = np.hypot(noise, STRAY.get(function, 0.0))
            if function in self.names:
                shared = ((function, float(np.median(gain))),)
            else:
                noise = np.hypot(noise, gain)
        j = self._extend(slope, shared)
        mean = level + np.einsum("pa,pa->p", j, self.mean)
        unrest = loop.drift * self._sways[measurement]
        var = np.einsum("pa,pab,pb->p", j, self.cov, j) + noise**2 + unrest**2
        sd = np.sqrt(np.maximum(var, 1e-18))
        if state:
            table = _two(below(level / sd), doubt)
            return level, sd, table, True
        return mean, sd, _bins(mean, sd, self.points.weight, doubt), False

    def _errors(self, function: str, level: Array) -> tuple[Array, Array]:
        """Gain error and noise of the meter in the unit of the level."""
        if function != "ohm":
            return self.meter.uncertainties(function, level)
        full = self.meter.ohm_volts(self.meter.ohm_overload)
        held = np.clip(level, 0.0, full * (1 - 1e-9))
        gain, noise = self.meter.uncertainties(function, self.meter.ohms(held))
        steep = self.meter.ohm_steepness(held)
        return gain / steep, noise / steep


def _two(lit: Array, doubt: float) -> Array:
    table = np.zeros((BINS, len(lit)))
    table[0], table[1] = lit, 1 - lit
    table[:2] = (1 - doubt) * table[:2] + doubt * 0.5
    return table


def _bins(mean: Array, sd: Array, weight: Array, doubt: float) -> Array:
    """P(bin | point): edges where the outcomes of the points thin out or part."""
    ends = np.concatenate([mean - 1.5 * sd, mean, mean + 1.5 * sd])
    heavy = np.concatenate([weight, weight, weight])
    order = np.argsort(ends, kind="stable")
    steps = np.cumsum(heavy[order])
    even = np.interp(np.linspace(0, steps[-1], BINS // 2 + 1)[1:-1], steps, ends[order])
    spread = np.linspace(ends.min(), ends.max(), BINS - len(even) + 1)[1:-1]
    edges = np.sort(np.concatenate([even, spread]))
    inside = below((edges[:, None] - mean) / sd)
    table = np.diff(
        np.concatenate([np.zeros((1, len(mean))), inside, np.ones((1, len(mean)))], axis=0), axis=0
    )
    result = np.zeros((BINS, len(mean)))
    result[: len(table)] = (1 - doubt) * np.maximum(table, 0) + doubt / len(table)
    return result


__all__ = ["BINS", "POINTS", "Foresight", "Outlook", "Points", "draw"]
