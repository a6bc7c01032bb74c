"""Mean and covariance of the margins of readings, for rows of hypothesis, severity and process.

Tolerances to first order about each row (and slice of the headroom), shared meter gain, shared
receiver accuracy, jitter of the process, and each reading's own noise.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from diagnose.inference.measurement import Measurement, Reading
from diagnose.loops.loop import Loop
from judge.circuit import Circuit, insertion, log_ohms
from judge.margins import CALM, margin
from judge.slices import Slices
from judge.world import Hypothesis, state

Row = Any


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
