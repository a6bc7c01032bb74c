"""What a measurement would show in each row: the level and its derivatives to the tolerances.

Levels are what statistics are done on: volts, amperes, for ohms the volts that the meter's own
current leaves across its leads (straight where resistance is not), fractions of range
for what is shown, volts above the trip point for a state.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from diagnose.circuit.predictor import Predictor
from diagnose.circuit.questions import slopes as slopes_of
from diagnose.circuit.rows import Array, Attachment, Column, Pieces, State
from diagnose.circuit.signals import Chain, Slopes, ends, look
from diagnose.inference.ammeter import opening
from diagnose.inference.looking import Load, Look, Looks, load, settle
from diagnose.inference.measurement import Condition, Jumper, Measurement
from diagnose.inference.meters import Meter
from diagnose.inference.sensitivities import Sensitivities
from diagnose.inference.spreads import Spreads, spreads
from diagnose.loops.loop import Loop

JUMPER = 0.05
"""Resistance of a clipped jumper, ohm."""

TOGETHER = 8000
"""Looks times rows that are seen at once."""

UNSIGNED = frozenset({"Vlow", "VAC", "mA", "clamp"})
"""Functions that show no sign where the loop is an alternating one."""


def is_rms(measurement: Measurement, loop: Loop) -> bool:
    """Whether a reading is the rms value of something that alternates, and so never negative."""
    everywhere = loop.alternating and measurement.function in UNSIGNED
    return everywhere or measurement.function == "VAC"


@dataclass
class Seen:
    """Levels (row,) and sensitivities times standard uncertainty (row, spread)."""

    level: Array
    slope: Array


@dataclass
class Sight:
    """The same of many measurements: (measurement, row), (measurement, spread, row)."""

    level: Array
    slope: Array

    def at(self, rows: slice) -> Sight:
        """Some of the rows."""
        return Sight(self.level[:, rows], self.slope[:, :, rows])


class Observer:
    """Asks the predictor what measurements show, in rows of parameter columns."""

    def __init__(
        self,
        machine: Predictor,
        meter: Meter,
        known: Spreads = (),
        narrowed: tuple[Array, float] | None = None,
    ) -> None:
        """``narrowed``: a direction of the tolerances (spread,), and the width left along it."""
        self.narrowed = narrowed
        self.machine, self.meter = machine, meter
        self.alternating = machine.loop.alternating
        self.spreads = known or spreads(machine, meter)
        self._sensitivities = Sensitivities(machine)
        self.numbers = tuple(spread.number for spread in self.spreads)
        self._place = {number: place for place, number in enumerate(self.numbers)}
        self._sd = np.array([spread.sd for spread in self.spreads])

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
        return self.levels([measurement], state, process)[0]

    def levels(
        self, measurements: Sequence[Measurement], state: State, process: Array
    ) -> list[Array]:
        """Levels of some measurements in every row of ``state``: (row,) each."""
        return list(self._seen(measurements, state, process, None).level)

    def silent(self, function: str) -> bool:
        """Whether a meter function reads nothing on this loop, whatever is wrong with it."""
        return self.alternating and function == "V"

    def unsigned(self, function: str) -> bool:
        """Whether a meter function shows no sign on this loop."""
        return self.alternating and function in UNSIGNED

    def see(self, measurement: Measurement, state: State, process: Array, still: Array) -> Seen:
        """Level and sensitivities of a measurement in every row of ``state``.

        ``process`` (row,) is the true process value; ``still`` (row, spread) is False where a
        parameter was moved by the row's fault or condition and has no tolerance.
        """
        found = self._seen([measurement], state, process, still)
        return Seen(found.level[0], found.slope[0].T)

    def see_all(
        self, measurements: Sequence[Measurement], state: State, process: Array, still: Array
    ) -> Sight:
        """The same for many measurements at once."""
        return self._seen(measurements, state, process, still)

    def see_metered(self, measurements: Sequence[Measurement], state: State, still: Array) -> Sight:
        """Milliamperes of many meters, each alone in the circuit of ``state``.

        The burden in place of a joint, or beside a resistance, is one more conductance across it: a
        change of rank one.  What follows signals is held, as it is under every meter but this one;
        exact where the meter does not push on what others follow.
        """
        sight = self._sight([self._ammeter(one, state) for one in measurements], state, still)
        for slope, measurement in zip(sight.slope, measurements, strict=True):
            number = opening(measurement, self.machine.wiring, self.burden)[0]
            if number in self._place:
                slope[self._place[number]] = 0.0
        return sight

    def _ammeter(self, measurement: Measurement, state: State) -> Look:
        number, inserted = opening(measurement, self.machine.wiring, self.burden)
        ohms = state.columns[number]
        a, b = (self.machine.wiring.node[node] for node in measurement.points)
        more = 1 / inserted(ohms) - 1 / ohms
        return Look(a, b, 1 / self.burden, conductance=more, unsigned=self.unsigned("mA"))

    def _seen(
        self,
        measurements: Sequence[Measurement],
        state: State,
        process: Array,
        still: Array | None,
    ) -> Sight:
        if any(in_place(measurement) for measurement in measurements) and len(measurements) > 1:
            parts = [self._seen([one], state, process, still) for one in measurements]
            return Sight(
                np.concatenate([part.level for part in parts]),
                np.concatenate([part.slope for part in parts]),
            )
        if in_place(measurements[0]):
            return self._through(measurements[0], state, still)
        wanted = () if still is None else self.numbers
        chain = self._sensitivities.chain(state, wanted) if wanted else None
        looks = [self._look(one, state, process, chain) for one in measurements]
        return self._sight(looks, state, still)

    def _through(self, measurement: Measurement, state: State, still: Array | None) -> Sight:
        """Milliamperes: the burden put in place of a joint, or beside a resistance."""
        number, inserted = opening(measurement, self.machine.wiring, self.burden)
        columns = list(state.columns)
        columns[number] = inserted(columns[number])
        fitted = self.machine.solve(columns, state.rows, state.attachments, state.pieces)
        if still is not None:
            still = still & (np.array(self.numbers) != number)
        a, b = (self.machine.wiring.node[node] for node in measurement.points)
        look = Look(a, b, 1 / self.burden, unsigned=self.unsigned("mA"))
        return self._sight([look], fitted, still)

    # -- looks, and what they see ---------------------------------------------------------------

    def _sight(self, looks: Sequence[Look], state: State, still: Array | None) -> Sight:
        """Levels, and slopes by tolerance where ``still`` (row, spread) asks for them."""
        spreads = 0 if still is None else len(self.spreads)
        sight = Sight(
            np.empty((len(looks), state.rows)), np.zeros((len(looks), spreads, state.rows))
        )
        # What fits a processor's cache is quick.
        together = max(1, TOGETHER // max(state.rows, 1))
        for start in range(0, len(looks), together):
            some = slice(start, start + together)
            part = Sight(sight.level[some], sight.slope[some])
            self._see_into(part, looks[some], state, still)
        return sight

    def _see_into(
        self, sight: Sight, looks: Sequence[Look], state: State, still: Array | None
    ) -> None:
        """Put what some looks see into ``sight``, whose slopes are zero."""
        many = Looks.of(looks, state.rows)
        found = load(self.machine, many, state, still is not None)
        settled = settle(self.machine, many, state, found)
        sight.level[:] = found.level
        if settled is not None:
            sight.level[settled.look, settled.row] = settled.load.level
        if still is not None:
            for place, value in self._slopes(state, found):
                sight.slope[:, place] = value
            if settled is not None:
                sight.slope[settled.look, :, settled.row] = 0.0
                for place, value in self._slopes(settled.state, settled.load):
                    sight.slope[settled.look, place, settled.row] = value
            for n, one in enumerate(looks):
                for number, value in one.direct.items():
                    sight.slope[n, self._place[number]] += value
            sight.slope *= (still * self._sd).T
            if self.narrowed is not None:
                way, width = self.narrowed
                along = np.einsum("lsr,s->lr", sight.slope, way)
                sight.slope -= (1 - width) * along[:, None] * (still * way).T
        _shown(looks, sight)

    def _slopes(self, state: State, found: Load) -> list[tuple[int, Column]]:
        """(number of the spread, derivative of the level by its parameter)."""
        loaded = replace(state, v=list(found.v))
        slopes = self._sensitivities.adjoint(loaded, found.probe, self.numbers)
        return [(self._place[number], value) for number, value in slopes.items()]

    def _look(
        self, measurement: Measurement, state: State, process: Array, chain: Chain | None
    ) -> Look:
        """How a measurement looks at the circuit; ``chain`` tells what is not through the volts."""
        function = measurement.function
        if function == "process":
            return Look(offset=process)
        if function == "shows":
            return self._display(measurement.points[0], state, chain)
        if function == "clamp":
            return self._clamp(measurement.points[0], state, chain)
        if self.silent(function):
            return Look()
        a, b = (self.machine.wiring.node[node] for node in measurement.points)
        if function == "ohm":
            behind = self.meter.ohm_resistance
            return Look(a, b, conductance=1 / behind, source=-self.meter.ohm_source / behind)
        conductance = 1 / self.meter.volt_resistance(function)
        return Look(a, b, conductance=conductance, unsigned=self.unsigned(function))

    def _clamp(self, name: str, state: State, chain: Chain | None) -> Look:
        k = self.machine.wiring.wires_of[name][0]
        wire = self.machine.wiring.wires[k]
        direct: Slopes = {}
        if chain is not None:
            volts = state.v[wire.a] - state.v[wire.b]
            for letter, branch, number, value in slopes_of(self.machine, state, chain.numbers):
                if branch == k:
                    through = value * volts if letter == "g" else value
                    direct[number] = direct.get(number, 0.0) + through
            direct = chain.through(direct)
        unsigned = self.unsigned("clamp")
        return Look(wire.a, wire.b, state.g[k], state.j[k], direct=direct, unsigned=unsigned)

    def _display(self, name: str, state: State, chain: Chain | None) -> Look:
        part = self.loop.part(name)
        shows = part.kind.shows
        assert shows is not None
        wiring = self.machine.wiring
        gain, offset = look(wiring, part, shows, state.columns, state.v)
        a, b = ends(wiring, part) or (0, 0)
        direct = chain.own(part, shows) if chain is not None else {}
        return Look(a, b, gain, offset, direct=direct)

    @property
    def burden(self) -> float:
        """Resistance of the milliampere meter, ohm."""
        return max(self.meter.burden, 1e-3)


def _shown(looks: Sequence[Look], sight: Sight) -> None:
    """Take away, in place, the sign that alternating volts and currents do not have."""
    rows = [n for n, one in enumerate(looks) if one.unsigned]
    if rows:
        sign = np.where(sight.level[rows] < 0, -1.0, 1.0)
        sight.level[rows] *= sign
        sight.slope[rows] *= sign[:, None]


def in_place(measurement: Measurement) -> bool:
    """Whether the meter takes the place of a joint or lies beside a resistance."""
    return measurement.function == "mA"
