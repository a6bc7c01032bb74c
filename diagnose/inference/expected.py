"""What a sound loop shows: every reading worth taking, at some process values, with its band."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from diagnose.circuit.predictor import Predictor
from diagnose.circuit.rows import Array
from diagnose.inference.candidates import candidates
from diagnose.inference.data import stray
from diagnose.inference.hypotheses import condition_moves
from diagnose.inference.measurement import Applied, Condition, Measurement, normal_condition
from diagnose.inference.meters import FUNCTION_UNITS, Meter
from diagnose.inference.observe import Observer, is_rms
from diagnose.inference.readings import describe
from diagnose.inference.spreads import systematic
from diagnose.loops.loop import Loop

QUARTERS = (0.0, 0.25, 0.5, 0.75, 1.0)
"""The usual five points, fractions of range."""

ENDS = (0.0, 1.0)
"""The points of a process that has two states."""

COVERAGE = 2.0
"""Half width of a band in standard uncertainties: about 95 % (JCGM 100:2008, 6.3.3)."""


@dataclass(frozen=True, slots=True)
class Expected:
    """One value with its band, in the unit of its row.

    Infinite ohms are beyond the meter.  A lamp has 1 for lit and 0 for dark; a band from 0 to 1
    means that either would be right.
    """

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class ExpectedRow:
    """One measurement, a value at each process value; unit SI, ``1`` (fraction) or a state's."""

    measurement: Measurement
    text: str
    place: str
    unit: str
    values: tuple[Expected, ...]


@dataclass(frozen=True, slots=True)
class ExpectedTable:
    """Rows by place, in the order of the sheet; ``at`` are process values, fractions of range."""

    tag: str
    at: tuple[float, ...]
    condition: Condition
    rows: tuple[ExpectedRow, ...]


def usual(loop: Loop) -> tuple[float, ...]:
    """The process values at which a loop is looked at where nobody says which."""
    return ENDS if loop.states else QUARTERS


def expected_table(
    loop: Loop,
    meter: Meter,
    at: Sequence[float] = QUARTERS,
    condition: Condition = (),
    observer: Observer | None = None,
) -> ExpectedTable:
    """The table of a sound loop in some condition.

    Bands are +-2 standard uncertainties of parts, displays and meter together; the process value
    is taken as exact.  Ohms are among the rows when every supply is off.
    """
    seer = _Seer(observer or Observer(Predictor(loop), meter), tuple(at), condition)
    places = [place.name for place in loop.places]
    rows = [seer.row(*pair) for pair in _worth_reading(loop, seer.condition)]
    rows.sort(key=lambda row: places.index(row.place))
    return ExpectedTable(loop.tag, tuple(at), seer.condition, tuple(rows))


def expected_rows(
    wanted: Iterable[Measurement],
    observer: Observer,
    at: Sequence[float],
    stated: Mapping[str, float] | None = None,
) -> dict[Measurement, ExpectedRow]:
    """Some measurements on a sound loop, each in its own condition; rows name no place.

    ``stated`` tells operating states by part: they stand there, and are no tolerance any more.
    The true process value is no measurement of the loop, and is left out.
    """
    seers: dict[Condition, _Seer] = {}
    found = {}
    for measurement in wanted:
        if measurement.function != "process":
            condition = measurement.condition
            seer = seers.get(condition) or _Seer(observer, tuple(at), condition, stated or {})
            seers[condition] = seer
            found[measurement] = seer.row(measurement, "")
    return found


def _worth_reading(loop: Loop, condition: Condition) -> Iterator[tuple[Measurement, str]]:
    """Measurements under the condition, each with its place."""
    for candidate in candidates(loop):
        taken = candidate.measurement
        if not taken.condition or (taken.function == "ohm" and _within(taken.condition, condition)):
            yield Measurement(taken.function, taken.points, condition), candidate.place


def _within(needed: Condition, condition: Condition) -> bool:
    """Whether everything that a measurement needs has been done."""
    done = {(item.part, item.action) for item in condition if isinstance(item, Applied)}
    return all(isinstance(n, Applied) and (n.part, n.action) in done for n in needed)


class _Seer:
    """The sound loop in one condition, a row of the predictor for each process value."""

    def __init__(
        self,
        observer: Observer,
        at: tuple[float, ...],
        condition: Condition,
        stated: Mapping[str, float] = MappingProxyType({}),
    ) -> None:
        self.observer, self.condition = observer, normal_condition(condition)
        self.process = np.array(at, dtype=float)
        machine = observer.machine
        moved, _ = condition_moves(machine.wiring, self.condition)
        kinds = {name: observer.loop.part(name).kind for name in stated}
        told = {machine.wiring.index[n, kinds[n].stated]: v for n, v in stated.items()}
        moved = {**told, **dict(moved)}  # what is done by hand on purpose is done last
        columns = machine.columns(dict(moved), self.process)
        self.state = observer.base(columns, len(at), self.condition)
        free = [spread.number not in moved for spread in observer.spreads]
        self.still = np.broadcast_to(np.array(free, bool), (len(at), len(free)))

    def row(self, measurement: Measurement, place: str) -> ExpectedRow:
        """One measurement at every process value."""
        seen = self.observer.see(measurement, self.state, self.process, self.still)
        variance = (seen.slope**2).sum(axis=1) + self._errors(measurement, seen.level)
        reach = COVERAGE * np.sqrt(variance)
        unit, ends = self._ends(measurement, seen.level - reach, seen.level, seen.level + reach)
        values = tuple(
            Expected(float(value), float(low), float(high))
            for low, value, high in zip(*ends, strict=True)
        )
        text = describe(measurement, self.observer.loop)
        return ExpectedRow(measurement, text, place, unit, values)

    def _errors(self, measurement: Measurement, level: Array) -> Array:
        """Variance that meter or display add."""
        function = measurement.function
        if function not in FUNCTION_UNITS:
            lasting = systematic(self.observer.loop, measurement)
            shows = self.observer.loop.part(measurement.points[0]).kind.shows
            fine = shows.resolution if shows and shows.what == "value" else 0.0
            return np.full_like(level, (lasting[1] if lasting else 0.0) ** 2 + fine**2 / 3)
        meter = self.observer.meter
        if function == "ohm":
            held = np.clip(level, 0.0, meter.ohm_volts(meter.ohm_overload) * (1 - 1e-9))
            gain, noise = meter.uncertainties(function, meter.ohms(held))
            return np.asarray((gain**2 + noise**2) / meter.ohm_steepness(held) ** 2)
        gain, noise = meter.uncertainties(function, level)
        return np.asarray(gain**2 + noise**2 + stray(self.observer.loop, function) ** 2)

    def _ends(self, measurement: Measurement, *levels: Array) -> tuple[str, list[Array]]:
        """Unit, and low end, value and high end as they are shown."""
        if measurement.function == "ohm":
            return "ohm", [self.observer.meter.ohms(level) for level in levels]
        if measurement.function in FUNCTION_UNITS:
            least = 0.0 if is_rms(measurement, self.observer.loop) else -np.inf
            return FUNCTION_UNITS[measurement.function], [np.maximum(v, least) for v in levels]
        shows = self.observer.loop.part(measurement.points[0]).kind.shows
        if shows is None:
            return "1", list(levels)
        scale = self.observer.loop.scale(measurement.points[0])
        if shows.what == "state":
            return shows.states.on, [np.where(level > 0, 1.0, 0.0) for level in levels]
        held = (np.clip(level, shows.least, shows.most) for level in levels)
        return scale.unit, [scale.value(level) for level in held]
