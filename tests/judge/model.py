"""Readings as margins: Gaussian numbers whose value is 0 (values) or positive (states, clips).

For rows of (hypothesis, severity coordinate, process) this gives the mean of every margin and
their covariance: tolerances to first order, shared meter gain, shared receiver accuracy, jitter
of the process by the sway of the sound loop, and each reading's own noise.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import log, sqrt
from typing import Any

import numpy as np

from diagnose.inference.measurement import Measurement, Reading
from diagnose.loops.kind import Shows
from diagnose.loops.loop import Loop
from judge.slices import Slices
from judge.world import (
    LARGEST_OHM,
    Circuit,
    Hypothesis,
    insertion,
    log_ohms,
    state,
)

Row = Any
ROOT3 = sqrt(3.0)
PERCENT = {"V": 1e-3, "Vlow": 1e-2, "mA": 3e-3, "clamp": 2e-3, "ohm": 5e-3}
COUNTS = {"V": 2, "Vlow": 3, "mA": 3, "clamp": 5, "ohm": 2}
SPANS = {
    "V": (0.6, 6.0, 60.0, 600.0),
    "Vlow": (0.6, 6.0, 60.0, 600.0),
    "ohm": (600.0, 6e3, 60e3, 600e3, 6e6, 60e6),
}
BROAD = {
    "V": 1 / 60,
    "Vlow": 1 / 60,
    "mA": 1 / 0.06,
    "clamp": 1 / 0.06,
    "ohm": 1 / 18,
    "shows": 1 / 1.5,
    "process": 1 / 1.5,
}
WORTHLESS = {"shows": 0.005, "process": 0.005}
FREE_PROCESS = 0.02
STRAY = {"V": 2e-3, "Vlow": 1e-3, "mA": 5e-6, "clamp": 5e-6}
"""Standard deviation of stray voltages and currents, SI."""
CALM = (0.4, 0.6)
"""Process values between which the sway of a level is taken."""


def resolution(function: str, y: float) -> float:
    """Last digit of the meter at a reading (SI)."""
    if function in ("mA", "clamp"):
        return 1e-5
    return next((s for s in SPANS[function] if abs(y) <= s), SPANS[function][-1]) / 6000


@dataclass(frozen=True)
class Margin:
    """How a reading enters: ``sign * (y - target)``, zero for a value, positive for a state.

    ``own`` is the standard deviation of its independent noise, ``gain`` and ``accuracy`` the
    signed effects of the errors that it shares with others.
    """

    reading: Reading
    sign: float
    target: float
    threshold: bool
    own: float
    gain: float
    accuracy: float
    broad: float
    worthless: float

    @property
    def what(self) -> Measurement:
        """The measurement behind it."""
        return self.reading.measurement


def shows_of(loop: Loop, part: str) -> tuple[Shows, float]:
    """What a part shows, and its limit of error (the part's own value where it has one)."""
    owner = loop.part(part)
    shows = owner.kind.shows
    if shows is None:
        raise KeyError(f"{part} shows nothing")
    return shows, owner.values.get("accuracy", shows.accuracy)


def margin(loop: Loop, reading: Reading) -> Margin:
    """The margin of a reading."""
    function = reading.measurement.function
    if function == "shows":
        return _shown(loop, reading)
    q = WORTHLESS.get(function, 0.01)
    extra = reading.spread / ROOT3 if reading.sort == "span" else 0.0
    if function == "process":
        own = FREE_PROCESS if reading.sort == "span" or not reading.spread else reading.spread / 2
        return Margin(
            reading, 1, reading.value, False, sqrt(own**2 + extra**2), 0, 0, BROAD["process"], q
        )
    y = LARGEST_OHM if reading.sort == "overload" else reading.value
    gain = PERCENT[function] / ROOT3 * y
    counts = COUNTS[function] * resolution(function, y) / ROOT3
    own = sqrt(counts**2 + extra**2 + reading.rounding**2 / 3 + STRAY.get(function, 0.0) ** 2)
    if function != "ohm":
        return Margin(reading, 1, y, False, own, gain, 0, BROAD[function], q)
    over = reading.sort == "overload"
    return Margin(
        reading,
        1,
        log(y + 1),
        over,
        own / (y + 1),
        gain / (y + 1),
        0,
        0.1 if over else BROAD["ohm"],
        q,
    )


def _shown(loop: Loop, reading: Reading) -> Margin:
    shows, accuracy = shows_of(loop, reading.measurement.points[0])
    q, systematic = WORTHLESS["shows"], accuracy / ROOT3
    if reading.sort in ("lit", "dark"):
        sign = 1.0 if reading.sort == "lit" else -1.0
        return Margin(reading, sign, 0.0, True, 0.0, 0, sign * systematic, 0.5, q)
    extra = reading.spread / ROOT3 if reading.sort == "span" else 0.0
    own = sqrt((shows.resolution**2 + reading.rounding**2) / 3 + extra**2)
    y = reading.value
    if shows.least < y < shows.most:
        return Margin(reading, 1, y, False, own, 0, systematic, BROAD["shows"], q)
    sign, clip = (1.0, shows.most) if y >= shows.most else (-1.0, shows.least)
    return Margin(reading, sign, clip, True, own, 0, sign * systematic, 0.5, q)


class Model:
    """Means and covariances of the margins of some readings of a loop."""

    def __init__(
        self, loop: Loop, readings: Sequence[Reading], cases: Sequence[Hypothesis], slices: int = 1
    ) -> None:
        self.loop, self.cases = loop, list(cases)
        self.margins = [margin(loop, r) for r in readings if r.sort != "impossible"]
        self.tolerances = [
            (part, name, part.spread(name))
            for part in loop.parts
            for name in part.tolerances
            if part.spread(name) > 0
        ]
        self.slices = Slices(loop, self.cases, self.tolerances, slices)
        self.scenes = self._scenes()
        self.fixed = self._fixed()

    def _fixed(self) -> np.ndarray:
        """The part of the covariance that no row changes."""
        n = len(self.margins)
        out = np.diag([m.own**2 for m in self.margins]).reshape(n, n)
        for i, one in enumerate(self.margins):
            for k, two in enumerate(self.margins):
                if one.what.function == two.what.function:
                    out[i, k] += one.gain * two.gain
                    if one.what.points == two.what.points:
                        out[i, k] += one.accuracy * two.accuracy
        return out + np.diag((self.loop.drift * self._sway()) ** 2).reshape(n, n)

    def _sway(self) -> np.ndarray:
        """How far the sound loop's levels move per unit of process value; 0 for thresholds."""
        out, p = np.zeros(len(self.margins)), np.array(CALM)
        sound = [Hypothesis(None, "none", 1.0)]
        for (condition, meter), members in self.scenes.items():
            st = state(self.loop, sound, np.zeros(2, dtype=int), np.zeros(2), condition)
            circuit = Circuit(self.loop, st, p, condition, meter)
            for k in members:
                if not self.margins[k].threshold:
                    seen = np.broadcast_to(Seen(circuit, self.margins[k].what).value, (2,))
                    out[k] = abs(seen[1] - seen[0]) / (CALM[1] - CALM[0])
        return out

    def _scenes(self) -> dict[Any, list[int]]:
        """Margins that see the same circuit."""
        scenes: dict[Any, list[int]] = {}
        for k, m in enumerate(self.margins):
            key = (m.what.condition, insertion(self.loop, m.what))
            scenes.setdefault(key, []).append(k)
        return scenes

    def predict(
        self,
        which: np.ndarray,
        u: np.ndarray,
        p: np.ndarray,
        slice_: np.ndarray | None = None,
        chunk: int = 4096,
    ) -> tuple[np.ndarray, ...]:
        """Mean (rows, n), covariance (rows, n, n), nearness to bends and regimes.

        ``slice_`` is the number of the slice of the headroom in each row (0: the whole).
        """
        slice_ = np.zeros(len(which), dtype=int) if slice_ is None else slice_
        parts = [
            self._rows(*(x[k : k + chunk] for x in (which, u, p, slice_)))
            for k in range(0, len(which), chunk)
        ]
        return tuple(np.concatenate(items) for items in zip(*parts, strict=True))

    def _rows(
        self, which: np.ndarray, u: np.ndarray, p: np.ndarray, slice_: np.ndarray
    ) -> tuple[np.ndarray, ...]:
        rows, n = len(which), len(self.margins)
        mean, near, code = np.zeros((rows, n)), np.full(rows, np.inf), np.zeros(rows, dtype=int)
        jac = np.zeros((n, len(self.tolerances), rows))
        weights, norm = self.slices.direction(which)
        base = self.slices.shifted(weights, slice_)
        for (condition, meter), members in self.scenes.items():
            st = state(self.loop, self.cases, which, u, condition, base)
            circuit = Circuit(self.loop, st, p, condition, meter)
            distance, regime = self.slices.near(circuit, norm)
            near, code = np.minimum(near, distance), 16 * code + regime
            for k in members:
                seen = Seen(circuit, self.margins[k].what)
                m = self.margins[k]
                mean[:, k] = m.sign * (seen.value - m.target)
                for t, (part, name, sd) in enumerate(self.tolerances):
                    jac[k, t] = m.sign * sd * seen.by(part, name, 0.01 * sd)
        cov = np.einsum("itr,ktr->rik", jac, jac) + self.fixed
        along = np.einsum("itr,tr->ri", jac, weights)
        cov -= np.einsum("r,ri,rk->rik", self.slices.taken[slice_], along, along)
        return mean, cov, near, code


class Seen:
    """One observed quantity of a circuit, with its derivatives."""

    def __init__(self, circuit: Circuit, what: Measurement) -> None:
        self.circuit, self.what = circuit, what
        self.nodes = circuit.pair(what)
        self.volts: Row = circuit.point.across(*self.nodes) if self.nodes else 0.0
        self.weight: Row = 0.0
        self.influence: dict[int, Row] | None = None
        self.value = self._value()

    def _value(self) -> Row:
        what, circuit, function = self.what, self.circuit, self.what.function
        if function == "process":
            return circuit.process
        if function == "clamp":
            self.weight = circuit.slope(what.points[0])
            return circuit.through(what.points[0])
        if function == "shows":
            self.weight = self._level(self.volts + 0.5) - self._level(self.volts - 0.5)
            return self._level(self.volts)
        if function == "ohm":
            y, self.weight = log_ohms(self.volts)
            return y
        self.weight = 0.25 if function == "mA" else 1.0
        return self.volts * self.weight

    def _level(self, v: Row, q: Mapping[str, Row] | None = None, p: Row = None) -> Row:
        q = self.circuit.state.values[self.what.points[0]] if q is None else q
        return self.circuit.shown(self.what, v, q, self.circuit.process if p is None else p)

    def _by_currents(self, part: str, change: Sequence[Row]) -> Row:
        """Effect of small changes of a part's currents at fixed voltages."""
        if self.nodes is None or not np.any(self.weight):
            return 0.0
        if self.influence is None:
            self.influence = self.circuit.point.influence(*self.nodes)
        total: Row = 0.0
        for k, di in zip(self.circuit.index(part), change, strict=True):
            if np.any(di):
                e = self.circuit.elements[k]
                total = total - (self.influence[e.a] - self.influence[e.b]) * di
        return total * self.weight

    def _direct(self, part: str, change: Sequence[Row]) -> Row:
        is_clamp = self.what.function == "clamp" and self.what.points[0] == part
        return sum(change) if is_clamp else 0.0

    def by(self, part: Any, name: str, step: float) -> Row:
        """Derivative by a parameter; zero in rows where it was moved."""
        if self.nodes is None and self.what.function == "process":
            return 0.0
        moved = self.circuit.state.moved.get((part.name, name), False)
        if moved is True:
            return 0.0
        q = self.circuit.state.values[part.name]
        up, down = {**q, name: q[name] + step}, {**q, name: q[name] - step}
        p = self.circuit.process
        ahead, behind = self.circuit.change(part, up, p), self.circuit.change(part, down, p)
        change = [(a - b) / (2 * step) for a, b in zip(ahead, behind, strict=True)]
        out = self._by_currents(part.name, change) + self._direct(part.name, change)
        if self.what.function == "shows" and self.what.points[0] == part.name:
            out = out + (self._level(self.volts, up) - self._level(self.volts, down)) / (2 * step)
        return np.where(moved, 0.0, out)
