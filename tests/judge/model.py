"""Mean and covariance of the margins of readings, for rows of hypothesis, severity and process.

Tolerances to first order about each row (and slice of the headroom), shared meter gain, shared
receiver accuracy, jitter of the process, and each reading's own noise.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from diagnose.inference.measurement import Measurement, Reading
from diagnose.loops.loop import Loop, Part
from judge.circuit import UNSIGNED, Circuit, insertion, log_ohms
from judge.laws import SIGNALS
from judge.margins import CALM, margin
from judge.slices import Slices
from judge.world import Hypothesis, Values, nominal, process_prior, state

Row = Any
WAY = 1e-4
"""Way to either side in process value by which the sway of a margin is taken."""


class Model:
    """Means and covariances of the margins of some readings of a loop."""

    def __init__(
        self,
        loop: Loop,
        readings: Sequence[Reading],
        cases: Sequence[Hypothesis],
        slices: int = 1,
        rough: float = 0.0,
    ) -> None:
        """``rough`` is the unrest of the process beyond what the sheet allows for."""
        self.loop, self.cases, self.rough = loop, list(cases), rough
        self.margins = [margin(loop, r) for r in readings if r.sort != "impossible"]
        self.tolerances = [
            (part, name, part.spread(name))
            for part in loop.parts
            for name in part.tolerances
            if part.spread(name) > 0
        ]
        self.stretches = process_prior(loop)
        self.log_prior = np.log([max(case.prior, 1e-300) for case in self.cases])
        self.felt = np.ones(len(self.tolerances), dtype=bool)
        """Tolerances whose slopes are worth finding; the others count as 0 there."""
        self.slices = Slices(loop, self.cases, self.tolerances, slices)
        self.scenes = self._scenes()
        self.fixed = self._fixed()

    def process_density(self, p: np.ndarray) -> np.ndarray:
        """Prior density of process values."""
        return np.asarray(
            sum(share / (b - a) * ((p >= a) & (p < b)) for a, b, share in self.stretches)
        )

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

    def noise(self, which: np.ndarray, u: np.ndarray, p: np.ndarray) -> np.ndarray:
        """The part of the covariance that no tolerance changes: (rows, n, n)."""
        n = len(self.margins)
        out = np.broadcast_to(self.fixed, (len(which), n, n))
        if not self.rough:
            return out
        out = out.copy()
        out[:, range(n), range(n)] += (self.rough * self._swaying(which, u, p)) ** 2
        return out

    def _swaying(self, which: np.ndarray, u: np.ndarray, p: np.ndarray) -> np.ndarray:
        """How far margins move per unit of process value under each fault: (rows, n)."""
        none = np.zeros((len(which), len(self.tolerances)))
        rise = self.moved(which, u, p + WAY, none) - self.moved(which, u, p - WAY, none)
        rise[:, [m.threshold for m in self.margins]] = 0.0
        return rise / (2 * WAY)

    def _sway(self) -> np.ndarray:
        """How far the sound loop's levels move per unit of process value; 0 for thresholds."""
        out, p = np.zeros(len(self.margins)), np.array(CALM)
        sound = [Hypothesis(None, "none", 1.0)]
        for (condition, meter), members in self.scenes.items():
            st = state(self.loop, sound, np.zeros(2, dtype=int), np.zeros(2), condition)
            circuit = Circuit(self.loop, st, p, condition, meter)
            for k in members:
                m = self.margins[k]
                # What has two states is not in between, where ohms would go all the way.
                if not m.threshold and not (m.what.function == "ohm" and self.loop.states):
                    seen = np.broadcast_to(Seen(circuit, m.what, m.threshold).value, (2,))
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
        weights, norm = self.slices.direction(which)
        base = self.slices.shifted(weights, slice_)
        mean, jac, near, code = self._looked(which, u, p, base, norm)
        cov = np.einsum("itr,ktr->rik", jac, jac) + self.noise(which, u, p)
        along = np.einsum("itr,tr->ri", jac, weights)
        cov -= np.einsum("r,ri,rk->rik", self.slices.taken[slice_], along, along)
        return mean, cov, near, code

    def _looked(
        self, which: np.ndarray, u: np.ndarray, p: np.ndarray, base: Values | None, norm: np.ndarray
    ) -> tuple[np.ndarray, ...]:
        rows, n = len(which), len(self.margins)
        mean, near, code = np.zeros((rows, n)), np.full(rows, np.inf), np.zeros(rows, dtype=int)
        jac = np.zeros((n, len(self.tolerances), rows))
        for (condition, meter), members in self.scenes.items():
            st = state(self.loop, self.cases, which, u, condition, base)
            circuit = Circuit(self.loop, st, p, condition, meter)
            distance, regime = self.slices.near(circuit, norm)
            near, code = np.minimum(near, distance), 16 * code + regime
            for k in members:
                m = self.margins[k]
                seen = Seen(circuit, m.what, m.threshold)
                mean[:, k] = m.sign * (seen.value - m.target)
                for t in np.flatnonzero(self.felt):
                    part, name, sd = self.tolerances[t]
                    jac[k, t] = m.sign * sd * seen.by(part, name, 0.01 * sd)
        return mean, jac, near, code

    def straight(
        self, which: np.ndarray, u: np.ndarray, p: np.ndarray, off: np.ndarray | None = None
    ) -> tuple[np.ndarray, np.ndarray]:
        """Mean (rows, n) and its slopes by the tolerances in standard deviations (rows, n, t).

        The tolerances stand at their nominal values, or ``off`` (rows, t) from them.
        """
        _, norm = self.slices.direction(which)
        base = None if off is None else self._off(off)
        mean, jac, *_ = self._looked(which, u, p, base, norm)
        return mean, jac.transpose(2, 0, 1)

    def moved(self, which: np.ndarray, u: np.ndarray, p: np.ndarray, off: np.ndarray) -> np.ndarray:
        """Mean (rows, n) by the whole circuit with all tolerances moved: off (rows, t), in sd."""
        base = self._off(off)
        mean = np.zeros((len(which), len(self.margins)))
        for (condition, meter), members in self.scenes.items():
            st = state(self.loop, self.cases, which, u, condition, base)
            circuit = Circuit(self.loop, st, p, condition, meter)
            for k in members:
                m = self.margins[k]
                mean[:, k] = m.sign * (Seen(circuit, m.what, m.threshold).value - m.target)
        return mean

    def _off(self, off: np.ndarray) -> Values:
        """Sheet values with the tolerances moved; a positive value stays above 2 % of itself."""
        base = nominal(self.loop)
        for t, (part, name, sd) in enumerate(self.tolerances):
            value = base[part.name][name]
            drawn = value + sd * off[:, t]
            base[part.name][name] = np.maximum(drawn, 0.02 * value) if value > 0 else drawn
        return base


class Probe:
    """How volts between two nodes depend on what the parts of a circuit let through."""

    def __init__(self, circuit: Circuit, nodes: tuple[int, int] | None) -> None:
        self.circuit, self.nodes = circuit, nodes
        self.influence: dict[int, Row] | None = None

    def by(self, part: str, change: Sequence[Row]) -> Row:
        """Change of the volts by small changes of a part's currents at fixed voltages."""
        if self.nodes is None or not any(np.any(di) for di in change):
            return 0.0
        if self.influence is None:
            self.influence = self.circuit.point.influence(*self.nodes)
        total: Row = 0.0
        for k, di in zip(self.circuit.index(part), change, strict=True):
            e = self.circuit.elements[k]
            total = total - (self.influence[e.a] - self.influence[e.b]) * di
        return total


def nudged(circuit: Circuit, part: Part, name: str, step: float) -> list[Row]:
    """Derivative of a part's currents by one of its parameters, voltages and signals held."""
    q, given = circuit.state.values[part.name], circuit.told(part.name)
    ahead = circuit.change(part, {**q, name: q[name] + step}, given)
    behind = circuit.change(part, {**q, name: q[name] - step}, given)
    return [(a - b) / (2 * step) for a, b in zip(ahead, behind, strict=True)]


def with_given(given: Any, k: int, step: Row) -> Any:
    """What a part is given, with its ``k``-th signal moved."""
    if not isinstance(given, tuple):
        return given + step
    return tuple(g + step if n == k else g for n, g in enumerate(given))


def step_of(given: Any, k: int) -> Row:
    """A small step of a signal, whatever its unit."""
    value = given[k] if isinstance(given, tuple) else given
    return 1e-6 * (1 + np.abs(value))


def followed(circuit: Circuit, part: Part, k: int) -> list[Row]:
    """Derivative of a follower's currents by its ``k``-th signal."""
    q, given = circuit.state.values[part.name], circuit.told(part.name)
    step = step_of(given, k)
    ahead = circuit.change(part, q, with_given(given, k, step))
    behind = circuit.change(part, q, with_given(given, k, -step))
    return [(a - b) / (2 * step) for a, b in zip(ahead, behind, strict=True)]


class Signal:
    """The signal of a part, with its derivatives; those of states are nothing."""

    def __init__(self, circuit: Circuit, name: str) -> None:
        self.circuit, self.part = circuit, circuit.loop.part(name)
        nodes = [circuit.nodes[node] for node in list(self.part.pins.values())[:2]]
        self.volts = circuit.point.across(*nodes) if len(nodes) == 2 else 0.0
        self.probe = Probe(circuit, (nodes[0], nodes[1]) if len(nodes) == 2 else None)
        self.weight = (self._at(self.volts + 1e-6) - self._at(self.volts - 1e-6)) / 2e-6

    def _at(self, v: Row, q: Any = None, given: Any = None) -> Row:
        q = self.circuit.state.values[self.part.name] if q is None else q
        given = self.circuit.told(self.part.name) if given is None else given
        return SIGNALS[self.part.kind.name](q, v, given)

    def by(self, part: Part, name: str, step: float) -> Row:
        """Derivative by a parameter of any part."""
        key = (self.part.name, part.name, name)
        known = self.circuit.slopes
        if key not in known:
            known[key] = 0.0  # what comes round to it again through insulation is nothing
            known[key] = self._by(part, name, step)
        return known[key]

    def _by(self, part: Part, name: str, step: float) -> Row:
        if self.part.kind.signal is None or self.part.kind.signal.what == "state":
            return 0.0
        out: Row = 0.0
        q, given = self.circuit.state.values[self.part.name], self.circuit.told(self.part.name)
        if part.name == self.part.name:
            # Volts and value go together: in a loop that stands open they stay on their side of
            # the bend at no current, which lies nearer than either of them is moved.
            with_it = volts_by(self.circuit, self.probe, part, name, step)
            ends = [
                self._at(self.volts + s * with_it, {**q, name: q[name] + s}) for s in (step, -step)
            ]
            out = (ends[0] - ends[1]) / (2 * step)
        elif np.any(self.weight):
            out = self.weight * volts_by(self.circuit, self.probe, part, name, step)
        for k, leader in enumerate(self.circuit.leaders[self.part.name]):
            slope = signal_of(self.circuit, leader).by(part, name, step)
            if np.any(slope):
                h = step_of(given, k)
                ends = [self._at(self.volts, q, with_given(given, k, s)) for s in (h, -h)]
                out = out + slope * (ends[0] - ends[1]) / (2 * h)
        return out


def signal_of(circuit: Circuit, name: str) -> Signal:
    """The signal of a part, made once for each circuit."""
    if name not in circuit.signals:
        circuit.signals[name] = Signal(circuit, name)
    found: Signal = circuit.signals[name]
    return found


def volts_by(circuit: Circuit, probe: Probe, part: Part, name: str, step: float) -> Row:
    """Derivative of probed volts by a parameter, through the circuit and through signals."""
    out = probe.by(part.name, nudged(circuit, part, name, step))
    for follower in circuit.order:
        if not circuit.index(follower.name):
            continue
        for k, leader in enumerate(circuit.leaders[follower.name]):
            slope = signal_of(circuit, leader).by(part, name, step)
            if np.any(slope):
                out = out + slope * probe.by(follower.name, followed(circuit, follower, k))
    return out


class Seen:
    """One observed quantity of a circuit, with its derivatives."""

    def __init__(self, circuit: Circuit, what: Measurement, logs: bool = True) -> None:
        """``logs``: ohms count as ln(R + 1), and not in the volts that the meter sees."""
        self.circuit, self.what, self.logs = circuit, what, logs
        self.nodes = circuit.pair(what)
        self.volts: Row = circuit.point.across(*self.nodes) if self.nodes else 0.0
        self.weight: Row = 0.0
        self.probe = Probe(circuit, self.nodes)
        self.sign: Row = 1.0
        self.value = self._value()
        if circuit.loop.alternating and what.function in UNSIGNED:
            self.sign = np.where(np.less(self.value, 0), -1.0, 1.0)
            self.value = self.value * self.sign

    def _value(self) -> Row:
        what, circuit, function = self.what, self.circuit, self.what.function
        if function == "process":
            return circuit.process
        if function == "clamp":
            self.weight = circuit.slope(what.points[0])
            return circuit.through(what.points[0])
        if function == "shows":
            if self.nodes:
                ends = [self._level(self.volts + h) for h in (1e-6, -1e-6)]
                self.weight = (ends[0] - ends[1]) / 2e-6
            return self._level(self.volts)
        if function == "ohm" and self.logs:
            y, self.weight = log_ohms(self.volts)
            return y
        self.weight = 0.25 if function == "mA" else 1.0
        return self.volts * self.weight

    def _level(self, v: Row, q: Mapping[str, Row] | None = None, given: Any = None) -> Row:
        name = self.what.points[0]
        q = self.circuit.state.values[name] if q is None else q
        return self.circuit.shown(
            self.what, v, q, self.circuit.told(name) if given is None else given
        )

    def by(self, part: Any, name: str, step: float) -> Row:
        """Derivative by a parameter; zero in rows where it was moved."""
        if self.what.function == "process":
            return 0.0
        circuit = self.circuit
        moved = circuit.state.moved.get((part.name, name), False)
        if moved is True:
            return 0.0
        out: Row = 0.0
        if np.any(self.weight):
            out = self.weight * volts_by(circuit, self.probe, part, name, step)
        if self.what.function == "clamp" and self.what.points[0] == part.name:
            out = out + sum(nudged(circuit, part, name, step))
        if self.what.function == "shows":
            out = out + self._own(part, name, step)
        return np.where(moved, 0.0, self.sign * out)

    def _own(self, part: Any, name: str, step: float) -> Row:
        """What a display owes to its own parameters and to the signals that it follows."""
        own, circuit, out = self.what.points[0], self.circuit, 0.0
        q, given = circuit.state.values[own], circuit.told(own)
        if part.name == own:
            ends = [self._level(self.volts, {**q, name: q[name] + s}) for s in (step, -step)]
            out = out + (ends[0] - ends[1]) / (2 * step)
        for k, leader in enumerate(circuit.leaders[own]):
            slope = signal_of(circuit, leader).by(part, name, step)
            if np.any(slope):
                h = step_of(given, k)
                ends = [self._level(self.volts, q, with_given(given, k, s)) for s in (h, -h)]
                out = out + slope * (ends[0] - ends[1]) / (2 * h)
        return out
