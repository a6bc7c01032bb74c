"""What a measurement would show in each row: the level and its derivatives to the tolerances.

Levels are what statistics are done on: volts, amperes, for ohms the volts that the meter's own
current leaves across its leads (straight where resistance is not), fractions of range
for what is shown, volts above the trip point for a state.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import sqrt
from typing import Any

import numpy as np

from diagnose.circuit.predictor import Predictor
from diagnose.circuit.questions import current
from diagnose.circuit.questions import slopes as slopes_of
from diagnose.circuit.rows import Array, Attachment, Column, Pieces, State
from diagnose.circuit.signals import Chain, Slopes, level
from diagnose.inference.ammeter import metered_at
from diagnose.inference.measurement import Condition, Jumper, Measurement
from diagnose.inference.meters import Meter
from diagnose.inference.spreads import FITTED, spreads
from diagnose.loops.loop import Loop

JUMPER = 0.05
"""Resistance of a clipped jumper, ohm."""

UNSIGNED = frozenset({"Vlow", "VAC", "mA", "clamp"})
"""Functions that show no sign where the loop is an alternating one."""


@dataclass
class Seen:
    """Levels (row,) and sensitivities times standard uncertainty (row, spread)."""

    level: Array
    slope: Array


class Observer:
    """Asks the predictor what measurements show, in rows of parameter columns."""

    def __init__(self, machine: Predictor, meter: Meter) -> None:
        self.machine, self.meter = machine, meter
        self.alternating = machine.loop.alternating
        self.spreads = spreads(machine)
        self.numbers = tuple(spread.number for spread in self.spreads)

    @property
    def loop(self) -> Loop:
        """The loop that is looked at."""
        return self.machine.loop

    def base(
        self,
        columns: list[Column],
        rows: int,
        condition: Condition,
        start: Pieces | None = None,
    ) -> State:
        """The loop in its condition, no meter fitted; ``start`` guesses the regimes."""
        jumpers = tuple(
            Attachment(item.a, item.b, 1 / JUMPER) for item in condition if isinstance(item, Jumper)
        )
        return self.machine.solve(columns, rows, jumpers, start)

    def level(self, measurement: Measurement, state: State, process: Array) -> Array:
        """Level of a measurement in every row of ``state``, without sensitivities."""
        function = measurement.function
        found, _ = self._plain(function, self._reader(function)(measurement, state, process, ()))
        return np.broadcast_to(np.asarray(found, float), (state.rows,))

    def _reader(self, function: str) -> _Reader:
        reader: _Reader = getattr(self, f"_see_{function.lower()}")
        return reader

    def silent(self, function: str) -> bool:
        """Whether a meter function reads nothing on this loop, whatever is wrong with it."""
        return self.alternating and function == "V"

    def unsigned(self, function: str) -> bool:
        """Whether a meter function shows no sign on this loop."""
        return self.alternating and function in UNSIGNED

    def _plain(self, function: str, found: _Level) -> _Level:
        """What is read without the sign that alternating volts and currents do not have."""
        if not self.unsigned(function):
            return found
        sign = np.where(np.asarray(found[0]) < 0, -1.0, 1.0)
        return found[0] * sign, {number: value * sign for number, value in found[1].items()}

    def see(
        self,
        measurement: Measurement,
        state: State,
        process: Array,
        still: Array,
        opened: bool = False,
    ) -> Seen:
        """Level and sensitivities of a measurement in every row of ``state``.

        ``process`` (row,) is the true process value; ``still`` (row, spread) is False where a
        parameter was moved by the row's fault or condition and has no tolerance.  ``opened``: the
        joint that a milliampere meter needs open is open in ``state``, its burden in the gap.
        """
        function = measurement.function
        reader = self._series if opened else self._reader(function)
        read = reader(measurement, state, process, self.numbers)
        found, slope = self._plain(function, read)
        rows = state.rows
        table = np.zeros((rows, len(self.spreads)))
        for number, value in slope.items():
            table[:, self.numbers.index(number)] = value
        sd = np.array([spread.sd for spread in self.spreads])
        return Seen(np.broadcast_to(np.asarray(found, float), (rows,)), table * sd * still)

    # -- one reader for each function; each returns (level, {parameter: slope}) -----------------

    def meter_of(self, function: str, a: str, b: str) -> Attachment:
        """The meter as it hangs across two points: a resistance, for ohms a source as well."""
        if function == "ohm":
            behind = self.meter.ohm_resistance
            return Attachment(a, b, 1 / behind, -self.meter.ohm_source / behind)
        return Attachment(a, b, 1 / self.meter.volt_resistance(function))

    def _see_v(
        self, measurement: Measurement, state: State, process: Array, wanted: Sequence[int]
    ) -> _Level:
        if self.silent("V"):
            return 0.0, {}
        return self._see_vac(measurement, state, process, wanted)

    def _see_vac(
        self, measurement: Measurement, state: State, process: Array, wanted: Sequence[int]
    ) -> _Level:
        meter = self.meter_of(measurement.function, *measurement.points)
        fitted = self.machine.fit(state, meter)
        return fitted.attached, self.adjoint(fitted, fitted.probes[-1], wanted)

    _see_vlow = _see_vac

    def _see_ma(
        self, measurement: Measurement, state: State, process: Array, wanted: Sequence[int]
    ) -> _Level:
        number, fitted = self.opening(measurement)
        columns = list(state.columns)
        columns[number] = fitted(columns[number])
        found = self.machine.solve(columns, state.rows, state.attachments, state.pieces)
        return self._series(measurement, found, process, wanted)

    def opening(self, measurement: Measurement) -> tuple[int, Callable[[Column], Column]]:
        """The resistance in or beside which a milliampere meter lies, and what becomes of it."""
        part, index = metered_at(measurement, self.loop), self.machine.wiring.index
        if part.kind.opens_at:
            return index[part.name, "resistance"], lambda ohms: self._beside(FITTED)
        return index[part.name, part.kind.meters_across], self._beside

    def _beside(self, ohms: Column) -> Column:
        return 1 / (1 / ohms + 1 / self._burden)

    @property
    def _burden(self) -> float:
        return max(self.meter.burden, 1e-3)

    def _series(
        self, measurement: Measurement, fitted: State, process: Array, wanted: Sequence[int]
    ) -> _Level:
        a, b = (self.machine.wiring.node[node] for node in measurement.points)
        probe = self.machine.respond(fitted, {a: 1.0, b: -1.0})
        slopes = self.adjoint(fitted, probe, wanted)
        slopes.pop(self.opening(measurement)[0], None)
        through = (fitted.v[a] - fitted.v[b]) / self._burden
        return through, {n: value / self._burden for n, value in slopes.items()}

    def _see_clamp(
        self, measurement: Measurement, state: State, process: Array, wanted: Sequence[int]
    ) -> _Level:
        (k,) = self.machine.wiring.wires_of[measurement.points[0]][:1]
        wire = self.machine.wiring.wires[k]
        response = self.machine.respond(state, {wire.a: 1.0, wire.b: -1.0})
        chain = self._chain(state, wanted)
        slopes = self._reciprocal(state, [w * state.g[k] for w in response], chain.numbers)
        across = state.v[wire.a] - state.v[wire.b]
        for letter, branch, number, value in slopes_of(self.machine, state, chain.numbers):
            if branch == k:
                direct = value * across if letter == "g" else value
                slopes[number] = slopes.get(number, 0.0) + direct
        return current(self.machine, state, k), chain.through(slopes) if wanted else {}

    def _see_ohm(
        self, measurement: Measurement, state: State, process: Array, wanted: Sequence[int]
    ) -> _Level:
        fitted = self.machine.fit(state, self.meter_of("ohm", *measurement.points))
        return fitted.attached, self.adjoint(fitted, fitted.probes[-1], wanted)

    def _see_shows(
        self, measurement: Measurement, state: State, process: Array, wanted: Sequence[int]
    ) -> _Level:
        part = self.loop.part(measurement.points[0])
        shows = part.kind.shows
        assert shows is not None
        seen = level(self.machine.wiring, part, shows, state.columns, state.v)
        return seen, self._chain(state, wanted).level(part, shows) if wanted else {}

    def _chain(self, state: State, wanted: Sequence[int]) -> Chain:
        """How what parts show and hand on depends on the parameters."""

        def circuit(pins: tuple[int, int], gain: Column, numbers: Sequence[int]) -> Slopes:
            response = self.machine.respond(state, {pins[0]: 1.0, pins[1]: -1.0})
            return self._reciprocal(state, [w * gain for w in response], numbers)

        return Chain(self.machine.wiring, state, wanted, circuit)

    def _see_process(
        self, measurement: Measurement, state: State, process: Array, wanted: Sequence[int]
    ) -> _Level:
        return process, {}

    def adjoint(self, state: State, probe: list[Column], wanted: Sequence[int]) -> Slopes:
        """d(observed) / d(parameter) from the response to a unit current at the observed place."""
        if not self.machine.wiring.followers or not wanted:
            return self._reciprocal(state, probe, wanted)
        chain = self._chain(state, wanted)
        return chain.through(self._reciprocal(state, probe, chain.numbers))

    def _reciprocal(self, state: State, probe: list[Column], wanted: Sequence[int]) -> Slopes:
        """The same with all drives held.

        The reciprocal-network rule: ``-sum_k w_k (dj_k + dg_k v_k)`` over the branches k
        (S. Director and R. Rohrer, IEEE Trans. Circuit Theory CT-16:318, 1969; from memory).
        """
        found: dict[int, Column] = {}
        wires = self.machine.wiring.wires
        for letter, k, number, slope in slopes_of(self.machine, state, wanted):
            wire = wires[k]
            w = probe[wire.a] - probe[wire.b]
            v = state.v[wire.a] - state.v[wire.b] if letter == "g" else 1.0
            found[number] = found.get(number, 0.0) - w * slope * v
        return found


_Level = tuple[Any, Slopes]
_Reader = Callable[[Measurement, State, Array, Sequence[int]], _Level]


def systematic(loop: Loop, measurement: Measurement) -> tuple[str, float] | None:
    """Name and standard uncertainty of the lasting error of what a part shows, if it has one."""
    if measurement.function != "shows":
        return None
    part = loop.part(measurement.points[0])
    shows = part.kind.shows
    if shows is None:
        return None
    limit = part.values.get("accuracy", shows.accuracy)
    return part.name, limit / sqrt(3)
