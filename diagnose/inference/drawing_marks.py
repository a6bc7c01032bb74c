"""What is written into the drawing of a loop: expected values, readings, suspects."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import isinf
from types import MappingProxyType

from diagnose.circuit.bases import bases
from diagnose.circuit.lettering import Marks
from diagnose.circuit.operating import operating_point
from diagnose.circuit.predictor import Predictor
from diagnose.circuit.store import topology
from diagnose.circuit.strands import strands
from diagnose.inference.expected import ExpectedRow, expected_rows
from diagnose.inference.measurement import Measurement, Reading, scale_of, volts_of
from diagnose.inference.meters import Meter
from diagnose.inference.observe import Observer
from diagnose.inference.ranking import Ranking
from diagnose.inference.reading_text import describe_condition, value_text
from diagnose.loops.loop import Loop
from diagnose.quantities import format_quantity

MIDDLE = 0.5
"""Process value at which a loop is drawn where nothing tells it, fraction of range."""

WORTH_MARKING = 0.05
"""Probability from which a part is marked as a suspect."""


STATED = 0.005
"""How far the process may be from what somebody states without saying how well, of range."""


@dataclass(frozen=True, slots=True)
class Process:
    """The process value that a loop is drawn at, and how far the true one may be from it.

    Both are fractions of range; ``reach`` None says that the value is only an example.
    """

    value: float
    reach: float | None = None


@dataclass(frozen=True, slots=True)
class Compared:
    """A reading, by its number, against the sound loop.

    ``differs`` says that it lies outside of the expected band; None where that cannot be said.
    """

    number: int
    reading: Reading
    differs: bool | None


def compared(
    loop: Loop, meter: Meter, readings: Mapping[int, Reading], process: Process
) -> tuple[Compared, ...]:
    """Each reading against what a sound loop shows, in its own condition."""
    reach = process.reach or 0.0
    at = tuple(min(1.1, max(-0.1, process.value + side * reach)) for side in (-1, 0, 1))
    taken = [item.measurement for item in readings.values()]
    rows = _rows(loop, meter, taken, at)
    return tuple(
        Compared(
            number,
            reading,
            None
            if process.reach is None
            else _differs(reading, rows.get(reading.measurement), loop),
        )
        for number, reading in readings.items()
    )


def _differs(reading: Reading, row: ExpectedRow | None, loop: Loop) -> bool | None:
    if row is None or reading.sort == "impossible":
        return None
    least = min(due.low for due in row.values)
    most = max(due.high for due in row.values)
    if reading.sort in ("lit", "dark"):
        return not least <= (reading.sort == "lit") <= most
    if reading.sort == "overload":
        return not isinf(most)
    scale = scale_of(reading.measurement, loop)
    slack = reading.spread + reading.rounding
    low, high = scale.value(reading.value - slack), scale.value(reading.value + slack)
    return bool(high < least or low > most)


def _rows(
    loop: Loop, meter: Meter, wanted: Sequence[Measurement], at: Sequence[float]
) -> dict[Measurement, ExpectedRow]:
    return expected_rows(wanted, Observer(Predictor(loop), meter), at)


def told_process(loop: Loop, meter: Meter, readings: Iterable[Reading]) -> Process | None:
    """The process value that readings tell by themselves: stated, else by a gauge or a display.

    None where none does.  A display may be wrong: it is where to look first, not the truth.
    """
    values = [item for item in readings if item.sort in ("value", "span")]
    stated = [item for item in values if item.measurement.function == "process"]
    if stated:
        reach = stated[-1].spread + stated[-1].rounding
        return Process(stated[-1].value, max(reach, STATED))
    shows = [item for item in values if item.measurement.function == "shows"]
    plain = [item for item in shows if scale_of(item.measurement, loop).unit == "1"]
    parts = [loop.part(item.measurement.points[0]) for item in plain]
    gauges = [item for item, part in zip(plain, parts, strict=True) if not part.pins]
    driven = [item for item, part in zip(plain, parts, strict=True) if part.kind.driven]
    for found in (*gauges[::-1], *driven[::-1]):
        value = min(1.0, max(0.0, found.value))
        row = _rows(loop, meter, [found.measurement], (value,)).get(found.measurement)
        if row is None:
            continue
        due = row.values[0]
        return Process(value, due.high - due.value + found.spread + found.rounding)
    return None


def marks_of(
    loop: Loop,
    meter: Meter,
    process: Process,
    readings: Mapping[int, Reading] = MappingProxyType({}),
    ranking: Ranking | None = None,
    cause: tuple[str, str] | None = None,
) -> Marks:
    """What to write into the drawing of a loop at a process value.

    ``readings`` go by the numbers that are to be shown; ``cause`` is the part and the fault that
    were confirmed.
    """
    suspected = dict(_suspects(ranking))
    if cause is not None:
        suspected = {cause[0]: f"CAUSE {cause[1]}"}
    found = strands(loop, topology(loop), suspected)
    base = bases(loop, found.rings)
    current = operating_point(loop, {}, process.value).currents
    captions = {}
    for ring in found.rings:
        source, minus = ring.steps[0].part, ring.steps[0].a
        amperes = format_quantity(abs(current[source]), "A")
        captions[source] = f"{amperes} expected; volts against {base.get(minus, minus)}"
    read: dict[str, list[str]] = {}
    for name, line in _read(loop, compared(loop, meter, readings, process), base):
        read.setdefault(name, []).append(line)
    return Marks(_expected(loop, meter, process.value, base), read, suspected, captions)


def _expected(loop: Loop, meter: Meter, at: float, base: Mapping[str, str]) -> dict[str, str]:
    """What a sound loop shows at each point and on each display."""
    volts = [
        Measurement(volts_of(loop), (point.name, base[point.name]))
        for point in loop.points
        if base.get(point.name, point.name) != point.name
    ]
    displays = [
        Measurement("shows", (part.name,)) for part in loop.parts if part.kind.shows is not None
    ]
    rows = _rows(loop, meter, [*volts, *displays], (at,))
    found = {row.measurement.points[0]: _short(row) for row in rows.values()}
    return found | {node: "0 V" for node in base.values() if loop.place_of(node)}


def _short(row: ExpectedRow) -> str:
    due = row.values[0]
    if row.unit == "lit":
        return "lit or dark" if due.low != due.high else "lit" if due.value else "dark"
    text = format_quantity(due.value, row.unit)
    return f"shows {text}" if row.measurement.function == "shows" else text


def _read(
    loop: Loop, found: Sequence[Compared], base: Mapping[str, str]
) -> Iterator[tuple[str, str]]:
    """Lines at the points and parts that each reading is about."""
    for item in found:
        taken = item.reading.measurement
        if item.reading.sort == "impossible" or not taken.points:
            continue
        here, *others = taken.points
        value = value_text(replace(item.reading, spread=0.0, sort=_sort(item)), loop)
        line = f"({item.number}) read {value}"
        if others and base.get(here) != others[0]:
            line += f" to {others[0]}"
            yield others[0], f"({item.number})"
        if taken.condition:
            line += f" with {describe_condition(taken.condition, loop)}"
        yield here, line + ", differs" * bool(item.differs)


def _sort(item: Compared) -> str:
    """A span is told by its middle."""
    return "value" if item.reading.sort == "span" else item.reading.sort


def _suspects(ranking: Ranking | None) -> Iterator[tuple[str, str]]:
    """Parts that may have failed, each with its most probable fault."""
    told: set[str] = set()
    for item in ranking.hypotheses if ranking else ():
        if item.probability < WORTH_MARKING:
            continue
        share = f"{min(99, round(100 * item.probability))} %"
        for part, fault in ((item.part, item.fault), *item.also):
            if part is not None and part not in told:
                told.add(part)
                yield part, f"SUSPECT {share} {fault}"
