"""What is written into the drawing of a loop: expected values, readings, suspects."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from types import MappingProxyType

from diagnose.circuit.bases import bases
from diagnose.circuit.lettering import Marks
from diagnose.circuit.operating import operating_point
from diagnose.circuit.predictor import Predictor
from diagnose.circuit.store import topology
from diagnose.circuit.strands import strands
from diagnose.inference.due import AS_DUE, Basis, Due, due, everywhere, verdict
from diagnose.inference.measurement import Measurement, Reading
from diagnose.inference.meters import Meter
from diagnose.inference.observe import Observer
from diagnose.inference.ranking import Ranking
from diagnose.inference.reading_text import describe_condition, shown_text
from diagnose.loops.loop import Loop
from diagnose.loops.states import STATES
from diagnose.quantities import format_quantity

WORTH_MARKING = 0.05
"""Probability from which a part is marked as a suspect."""


def marks_of(
    loop: Loop,
    meter: Meter,
    known: Basis,
    readings: Mapping[int, Reading] = MappingProxyType({}),
    ranking: Ranking | None = None,
    cause: tuple[str, str] | None = None,
) -> Marks:
    """What to write into the drawing of a loop at the middle of what is known of its process.

    ``readings`` go by the numbers that are to be shown; whether they are as due is said where the
    process is known.  ``cause`` is the part and the fault that were confirmed.
    """
    suspected = {cause[0]: f"CAUSE {cause[1]}"} if cause else dict(_suspects(ranking))
    rings = strands(loop, topology(loop), suspected).rings
    base = bases(loop)
    observer = Observer(Predictor(loop), meter)
    current = operating_point(loop, {}, known.middle, predictor=observer.machine).currents
    at = format_quantity(known.middle, "1", 3)
    captions = {}
    for ring in rings:
        source, minus = ring.steps[0].part, ring.steps[0].a
        amperes = format_quantity(abs(current[source]), "A")
        captions[source] = f"{amperes} due at {at}, volts to {base.get(minus, minus)}"
    wanted = everywhere(loop)
    taken = [item.measurement for item in readings.values() if item.sort != "impossible"]
    found = due([*wanted, *taken], observer, known)
    expected = {item.points[0]: _short(item, found[item]) for item in wanted}
    expected |= {node: "0 V" for node in base.values() if loop.place_of(node)}
    read: dict[str, list[str]] = {}
    doubted = {item.index for item in ranking.suspects} if ranking else set()
    for name, line in _read(loop, readings, found if known.known else {}, base, doubted):
        read.setdefault(name, []).append(line)
    return Marks(expected, read, suspected, captions)


def _short(measurement: Measurement, expected: Due) -> str:
    if expected.unit in STATES:
        states = STATES[expected.unit]
        same = expected.low == expected.high
        return states.word(expected.value > 0) if same else states.either
    text = format_quantity(expected.value, expected.unit)
    return f"shows {text}" if measurement.function == "shows" else text


def _read(
    loop: Loop,
    readings: Mapping[int, Reading],
    found: Mapping[Measurement, Due],
    base: Mapping[str, str],
    doubted: Collection[int],
) -> Iterator[tuple[str, str]]:
    """Lines at the points and parts that each reading is about; ``doubted`` counts from 1."""
    for index, (number, reading) in enumerate(readings.items(), 1):
        taken = reading.measurement
        if reading.sort == "impossible" or not taken.points:
            continue
        here, *others = taken.points
        line = f"({number}) read {shown_text(reading, loop)}"
        if others and base.get(here) != others[0]:
            line += f" to {others[0]}"
            yield others[0], f"({number})"
        if taken.condition:
            line += f" with {describe_condition(taken.condition, loop)}"
        said = verdict(reading, found[taken], loop) if taken in found else AS_DUE
        line += f", {said}" if said != AS_DUE else ""
        yield here, f"{line}, distrusted" if index in doubted else line


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
