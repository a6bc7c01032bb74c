"""What candidates would be seen to show: levels spread over bins, with all errors put in.

Shapes: (candidate, point), (candidate, error, point), (candidate, bin, point); the *errors* are
the uncertain tolerances, the first severity of a pair, and the lasting errors of meter and displays
that readings so far share, in this order, each in units of its standard uncertainty.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.data import PROCESS_SD, WORTHLESS, WORTHLESS_METER, Datum, stray
from diagnose.inference.measurement import Measurement
from diagnose.inference.meters import FUNCTION_UNITS, Meter
from diagnose.inference.normal import below
from diagnose.inference.observe import Sight
from diagnose.inference.spreads import systematic
from diagnose.loops.loop import Loop

BINS = 24
"""Outcomes that a value is sorted into."""

DISPLAY_NOISE = 0.001
"""Noise of a display, fraction of range."""

BETWEEN = 0.75
"""Share of the way to the nearest point of its family over which a point is spread.

A few points that stand for a whole range of severities must not look like as many sharp outcomes:
without it a reading seems to tell up to 0.4 bits more than it does (240 points over 90 faults).
"""

_TOGETHER = 16
"""Candidates whose bins are found at once: large arrays cost more than they save."""


@dataclass
class Outlook:
    """Outcomes of candidates: mean and sd (candidate, point), and P(bin | point)."""

    mean: Array
    sd: Array
    bins: Array
    side: list[bool]

    @classmethod
    def empty(cls, candidates: int, points: int) -> Outlook:
        """Room for the outcomes of so many candidates at so many points."""
        shape = (candidates, points)
        bins = np.empty((candidates, BINS, points))
        return cls(np.empty(shape), np.empty(shape), bins, [False] * candidates)

    def put(self, rows: Sequence[int], other: Outlook) -> None:
        """Fill in some of the candidates."""
        self.mean[rows], self.sd[rows], self.bins[rows] = other.mean, other.sd, other.bins
        for row, side in zip(rows, other.side, strict=True):
            self.side[row] = side


class Errors:
    """The errors of tolerances, meter and displays at each point, as the readings reveal them.

    Gaussian: ``mean`` (error, point) and covariance 1 - sum of g g' over ``known`` (reading,
    error, point), one g for each reading.
    """

    def __init__(self, width: int, count: int) -> None:
        self.mean = np.zeros((width, count))
        self.known = np.zeros((0, width, count))

    def learn(self, level: Array, slope: Array, y: float, variance: float) -> None:
        """Take in a reading ``y`` of a level (point,) that leans on the errors by ``slope``."""
        gain = slope - np.einsum("kp,kwp->wp", self._lean(slope[None])[:, 0], self.known)
        total = np.einsum("wp,wp->p", gain, slope) + variance
        off = y - level - np.einsum("wp,wp->p", slope, self.mean)
        self.mean += gain * np.clip(off / total, -3 / np.sqrt(total), 3 / np.sqrt(total))
        self.known = np.concatenate([self.known, (gain / np.sqrt(total))[None]])

    def seen(self, sight: Sight) -> tuple[Array, Array]:
        """Mean and variance that the errors give to levels: (measurement, point)."""
        mean = sight.level + np.einsum("mwp,wp->mp", sight.slope, self.mean)
        variance = np.einsum("mwp,mwp->mp", sight.slope, sight.slope)
        for lean in self._lean(sight.slope):
            variance -= lean**2
        return mean, variance

    def _lean(self, slope: Array) -> Array:
        """How far levels lean on what each reading revealed: (reading, measurement, point)."""
        result: Array = np.einsum("mwp,kwp->kmp", slope, self.known)
        return result


class Outcomes:
    """Spreads what measurements show over bins, for one loop, meter and set of points."""

    def __init__(
        self,
        loop: Loop,
        meter: Meter,
        data: Sequence[Datum],
        tolerances: int,
        weight: Array,
        family: Array | None = None,
    ) -> None:
        """``family`` (point,): what stands between points of one family is possible as well."""
        self.loop, self.meter, self.weight, self.family = loop, meter, weight, family
        self.tolerances = tolerances
        self.names = sorted({name for datum in data for name, _ in datum.shared})
        self.errors = Errors(tolerances + len(self.names), len(weight))

    def learn(self, datum: Datum, level: Array, slope: Array, sway: float) -> None:
        """Take in a reading of what has this level and slope by tolerance, and this sway."""
        wide = self._widened(slope[None])[0]
        for name, sd in datum.shared:
            wide[self.tolerances + self.names.index(name)] = sd
        unrest = self.loop.drift * sway
        self.errors.learn(level, wide, datum.y, datum.noise**2 + unrest**2)

    def of(self, wanted: Sequence[Measurement], sight: Sight, sways: Sequence[float]) -> Outlook:
        """Outcomes of all candidates."""
        level, slope = sight.level.copy(), self._widened(sight.slope)
        noise = np.empty_like(level)
        functions = np.array([measurement.function for measurement in wanted])
        for function in dict.fromkeys(functions):
            rows = np.flatnonzero(functions == function)
            if function in FUNCTION_UNITS:
                noise[rows] = self._metered(function, level[rows], slope, rows)
            elif function == "process":
                noise[rows] = PROCESS_SD
            else:
                for n in rows:
                    noise[n] = self._displayed(wanted[int(n)], level[n], slope[n])
        mean, variance = self.errors.seen(Sight(level, slope))
        unrest = self.loop.drift * np.asarray(sways)
        sd = np.sqrt(np.maximum(variance + noise**2 + unrest[:, None] ** 2, 1e-18))
        lit = np.array([self._state(measurement) for measurement in wanted])
        mean[lit] = level[lit]
        doubt = np.array([WORTHLESS.get(function, WORTHLESS_METER) for function in functions])
        room = 0.0 if self.family is None else BETWEEN * nearest(mean, self.family)
        return Outlook(mean, sd, self._bins(mean, np.hypot(sd, room), lit, doubt), list(lit))

    def _bins(self, mean: Array, sd: Array, lit: Array, doubt: Array) -> Array:
        bins = np.empty((len(mean), BINS, mean.shape[1]))
        for start in range(0, len(mean), _TOGETHER):
            some = slice(start, start + _TOGETHER)
            bins[some] = _bins(mean[some], sd[some], self.weight, doubt[some])
        if lit.any():
            bins[lit] = _two(below(mean[lit] / sd[lit]), doubt[lit])
        return bins

    def _widened(self, slope: Array) -> Array:
        """Slopes by tolerance with room for the lasting errors behind them."""
        count, width, points = slope.shape
        wide = np.zeros((count, width + len(self.names), points))
        wide[:, :width] = slope
        return wide

    def _state(self, measurement: Measurement) -> bool:
        """Whether what is seen is a lamp or the like."""
        if measurement.function != "shows":
            return False
        shows = self.loop.part(measurement.points[0]).kind.shows
        return shows is not None and shows.what == "state"

    def _metered(self, function: str, level: Array, slope: Array, rows: Array) -> Array:
        """Noise of readings with one function of a meter; fills in the error that they share."""
        gain, noise = self._meter(function, level)
        noise = np.hypot(noise, stray(self.loop, function))
        if function not in self.names:
            return np.hypot(noise, gain)
        middle = np.median(gain, axis=1)[:, None]
        slope[rows, self.tolerances + self.names.index(function)] = middle
        return noise

    def _displayed(self, measurement: Measurement, level: Array, slope: Array) -> float:
        """Noise of a display; clips what is shown and fills in the lasting error."""
        shows = self.loop.part(measurement.points[0]).kind.shows
        name, sd = systematic(self.loop, measurement) or ("", 0.0)
        if shows is None or shows.what == "state":
            return sd
        np.clip(level, shows.least, shows.most, out=level)
        if name in self.names:
            slope[self.tolerances + self.names.index(name)] = sd
            return DISPLAY_NOISE
        return float(np.hypot(DISPLAY_NOISE, sd))

    def _meter(self, function: str, level: Array) -> tuple[Array, Array]:
        """Gain error and noise of the meter in the unit of the level."""
        if function != "ohm":
            return self.meter.uncertainties(function, level)
        full = self.meter.ohm_volts(self.meter.ohm_overload)
        held = np.clip(level, 0.0, full * (1 - 1e-9))
        gain, noise = self.meter.uncertainties(function, self.meter.ohms(held))
        steep = self.meter.ohm_steepness(held)
        return gain / steep, noise / steep


def nearest(mean: Array, family: Array) -> Array:
    """Distance of each mean to the nearest one of its family, 0 where it is alone: as ``mean``."""
    order = np.lexsort((mean, np.broadcast_to(family, mean.shape)), axis=1)
    ordered, whose = np.take_along_axis(mean, order, axis=1), family[order]
    step = np.where(whose[:, 1:] == whose[:, :-1], np.diff(ordered, axis=1), np.inf)
    end = np.full((len(mean), 1), np.inf)
    least = np.minimum(np.hstack([end, step]), np.hstack([step, end]))
    result = np.empty_like(mean)
    np.put_along_axis(result, order, np.where(np.isfinite(least), least, 0.0), axis=1)
    return result


def _two(lit: Array, doubt: Array) -> Array:
    table = np.zeros((lit.shape[0], BINS, lit.shape[1]))
    table[:, 0], table[:, 1] = lit, 1 - lit
    wrong = doubt[:, None, None]
    table[:, :2] = (1 - wrong) * table[:, :2] + wrong * 0.5
    return table


def _bins(mean: Array, sd: Array, weight: Array, doubt: Array) -> Array:
    """P(bin | point): edges where the outcomes of the points thin out or part."""
    edges = _edges(mean, sd, weight)
    x = edges[:, :, None] - mean[:, None]
    x /= sd[:, None]
    inside = below(x)
    table = np.empty((len(mean), BINS, mean.shape[1]))
    table[:, 0], table[:, -1] = inside[:, 0], 1 - inside[:, -1]
    np.subtract(inside[:, 1:], inside[:, :-1], out=table[:, 1:-1])
    np.maximum(table, 0, out=table)
    table *= (1 - doubt)[:, None, None]
    table += (doubt / BINS)[:, None, None]
    return table


def _edges(mean: Array, sd: Array, weight: Array) -> Array:
    """The ``BINS - 1`` edges: half at even shares of the outcomes, half at even distances."""
    ends = np.concatenate([mean - 1.5 * sd, mean, mean + 1.5 * sd], axis=1)
    order = np.argsort(ends, axis=1)
    ends = np.take_along_axis(ends, order, axis=1)
    steps = np.cumsum(np.tile(weight, 3)[order], axis=1)
    shares = np.linspace(0, 1, BINS // 2 + 1)[1:-1]
    even = np.array(
        [np.interp(shares * step[-1], step, end) for step, end in zip(steps, ends, strict=True)]
    )
    count = BINS - even.shape[1] + 1
    spread = np.linspace(ends[:, 0], ends[:, -1], count, axis=1)[:, 1:-1]
    result: Array = np.sort(np.concatenate([even, spread], axis=1), axis=1)
    return result
