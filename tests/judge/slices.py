"""The one direction of the tolerances in which the circuit bends: the headroom of the transmitter.

Lift-off voltage and supply voltage are uncertain by a few tenths of a volt, and a transmitter
bends at lift-off; to first order about the nominal point one side of the bend is never seen.  So
the normal distribution along that direction is written as a sum of narrower ones, exactly
``N(0, 1) = integral of N(m; 0, 1 - s2) N(x; m, s2) dm`` by the trapezoidal rule, and each slice
is linearised about its own middle.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from diagnose.loops.loop import Loop
from judge.circuit import Circuit
from judge.world import Hypothesis, Values, nominal, state

REACH = 3.4
"""Slices cover this many standard deviations either way."""
RATIO = 0.65
"""Width of a slice over the spacing: the density ripples by 0.2 % with 12 slices, 0.6 % with 9."""
FULL = 0.9
"""Process value at which the direction is taken: near full current, where lift-off is met."""
NEAR = 4.5
"""Standard deviations of headroom within which a bend matters."""


class Slices:
    """Slice 0 is the whole distribution; 1 to ``count`` are its parts."""

    def __init__(
        self,
        loop: Loop,
        cases: Sequence[Hypothesis],
        tolerances: Sequence[tuple[Any, str, float]],
        count: int,
    ) -> None:
        self.loop, self.tolerances, self.count = loop, tolerances, count if count > 1 else 0
        self.signs = _headroom(loop, tolerances)
        moved = [{(m.part, m.name) for m in case.moves} for case in cases]
        self.free = np.array(
            [[(part.name, name) not in gone for part, name, _ in tolerances] for gone in moved]
        ).reshape(len(cases), len(tolerances))
        middles = np.linspace(-REACH, REACH, count) if self.count else np.zeros(0)
        width = RATIO * (middles[1] - middles[0]) if self.count else 1.0
        weight = np.exp(-0.5 * middles**2 / (1 - width**2)) if self.count else middles
        self.middle = np.concatenate([[0.0], middles])
        self.taken = np.concatenate([[0.0], np.full(len(middles), 1 - width**2)])
        self.log_weight = np.log(np.concatenate([[1.0], weight / max(weight.sum(), 1e-300)]))

    def direction(self, which: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Unit direction (tolerances, rows) and the headroom's standard deviation, V (rows,)."""
        free = self.free[which]
        raw = ((free if which.ndim == 1 else free.all(axis=1)) * self.signs).T
        norm = np.sqrt((raw**2).sum(axis=0))
        return raw / np.where(norm > 0, norm, 1.0), norm

    def shifted(self, weights: np.ndarray, slice_: np.ndarray) -> Values | None:
        """Sheet values moved to the middle of each row's slice."""
        if not np.any(slice_):
            return None
        values = nominal(self.loop)
        for t, (part, name, sd) in enumerate(self.tolerances):
            if np.any(weights[t]):
                step = sd * weights[t] * self.middle[slice_]
                values[part.name][name] = values[part.name][name] + step
        return values

    def near(self, circuit: Circuit, norm: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Distance of transmitters from their bends, in standard deviations; their regimes."""
        out, code = np.full(norm.shape, np.inf), np.zeros(norm.shape, dtype=int)
        for part in circuit.loop.parts:
            if part.kind.name == "two_wire_transmitter":
                number = circuit.index(part.name)[0]
                element = circuit.elements[number]
                v = circuit.point.across(element.a, element.b)
                for bend in element.bends[1:]:
                    out = np.minimum(out, np.abs(v - bend) / np.maximum(norm, 1e-12))
                code = 4 * code + np.where(norm > 0, circuit.point.regimes[number], 0)
        return out, code


def _headroom(loop: Loop, tolerances: Sequence[tuple[Any, str, float]]) -> np.ndarray:
    """Change of the transmitter's headroom by one standard deviation of each tolerance, V."""
    count = len(tolerances)
    values = nominal(loop)
    for t, (part, name, sd) in enumerate(tolerances):
        step = np.zeros(count + 1)
        step[t] = sd
        values[part.name][name] = values[part.name][name] + step
    zeros = np.zeros(count + 1)
    st = state(loop, [Hypothesis(None, "none", 1.0)], zeros.astype(int), zeros, (), values)
    circuit = Circuit(loop, st, zeros + FULL, (), None)
    for part in loop.parts:
        if part.kind.name == "two_wire_transmitter":
            element = circuit.elements[circuit.index(part.name)[0]]
            room = circuit.point.across(element.a, element.b) - element.bends[-1]
            return room[:count] - room[count]
    return np.zeros(count)
