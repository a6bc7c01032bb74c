"""What readings would be on a sound loop, at what is known of the process, and where they part.

A loop is told from its own displays: so what is due is told at the process value that somebody
knows, or else at the one that a display shows.  Numbers are SI, or fractions of a display's scale.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import inf

from diagnose.circuit.bases import bases
from diagnose.inference.expected import ExpectedRow, expected_rows
from diagnose.inference.measurement import Measurement, Reading, is_hum, scale_of, volts_of
from diagnose.inference.observe import Observer
from diagnose.inference.stated import stated_values
from diagnose.loops.loop import Loop, Part

AS_DUE, LOW, HIGH, OTHER = "as due", "LOW", "HIGH", "NOT AS DUE"
"""How a reading stands to what is due; a lamp is as due or not."""


@dataclass(frozen=True, slots=True)
class Basis:
    """The process values at which readings are due: ends and middle, fractions of range.

    ``source`` names what tells it, empty where nothing does.  ``stated`` are operating states that
    are told as well, such as a controller's output: (part, value).
    """

    low: float = 0.0
    middle: float = 0.5
    high: float = 1.0
    source: str = ""
    stated: tuple[tuple[str, float], ...] = ()

    @property
    def known(self) -> bool:
        """Whether anything tells the process value."""
        return bool(self.source)


@dataclass(frozen=True, slots=True)
class Due:
    """What a sound loop would show: the middle and a band that holds about 95 %.

    ``unit`` as in an ``ExpectedRow``.
    """

    value: float
    low: float
    high: float
    unit: str


def basis(said: Iterable[object], loop: Loop) -> Basis:
    """What is known of the process and of operating states: see ``_process`` and ``stated``."""
    said = list(said)
    stated = tuple(sorted(stated_values(loop, said).items()))
    return replace(_process(said, loop), stated=stated)


def _process(said: Iterable[object], loop: Loop) -> Basis:
    """What is known of the process: what was told last, else what the nearest display showed.

    Nearest is a command or a gauge that hangs on nothing else, then a transmitter's own display,
    then receivers and what follows a signal; of these the last one read.
    """
    readings = [item for item in said if isinstance(item, Reading) and not _moved(item)]
    told = [item for item in readings if item.measurement.function == "process"]
    shown = [item for item in readings if _tells(item, loop)]
    shown.sort(key=lambda item: _nearness(loop.part(item.measurement.points[0])))
    for item in (*told[::-1], *shown[::-1]):
        source = "as told" if item in told else f"as {item.measurement.points[0]} shows"
        if item.sort in ("lit", "dark"):
            value = 1.0 if item.sort == "lit" else 0.0
            return Basis(value, value, value, source)
        if item.sort in ("value", "span"):
            reach = item.spread + item.rounding
            return Basis(item.value - reach, item.value, item.value + reach, source)
    return Basis()


def _nearness(part: Part) -> int:
    if part.kind.follows:
        return 0
    if not part.pins:
        return 2
    return 1 if part.kind.driven else 0


def _moved(reading: Reading) -> bool:
    return bool(reading.measurement.condition)


def _tells(reading: Reading, loop: Loop) -> bool:
    """Whether a display tells the process value: on the loop's range; a state where it has two."""
    if reading.measurement.function != "shows":
        return False
    shows = loop.part(reading.measurement.points[0]).kind.shows
    scale, wanted = loop.scale(reading.measurement.points[0]), "state" if loop.states else "value"
    same = not shows or not shows.unit or (scale.unit, scale.low, scale.high) == loop.range
    own = loop.range_of(reading.measurement.points[0]) == loop.range  # an output is no level
    return shows is not None and shows.what == wanted and same and own


def everywhere(loop: Loop) -> list[Measurement]:
    """Volts of every terminal, and what every display shows."""
    at, function = bases(loop), volts_of(loop)
    volts = [
        Measurement(function, (point.name, at[point.name]))
        for point in loop.points
        if at.get(point.name, point.name) != point.name
    ]
    shown = [Measurement("shows", (part.name,)) for part in loop.parts if part.kind.shows]
    return [*volts, *shown]


def due(wanted: Sequence[Measurement], observer: Observer, known: Basis) -> dict[Measurement, Due]:
    """What is due for each measurement that a sound loop can be asked for."""
    loop = observer.loop
    fit = [item for item in wanted if not is_hum(item, loop)]
    at = tuple(dict.fromkeys((known.low, known.middle, known.high)))
    rows = expected_rows(fit, observer, at, dict(known.stated))
    return {item: _banded(row, at.index(known.middle)) for item, row in rows.items()}


def _banded(row: ExpectedRow, middle: int) -> Due:
    low = min(value.low for value in row.values)
    high = max(value.high for value in row.values)
    return Due(row.values[middle].value, low, high, row.unit)


def verdict(reading: Reading, expected: Due, loop: Loop) -> str:
    """How a reading stands to what is due: its own digits and spread allowed for."""
    if reading.sort in ("lit", "dark"):
        return AS_DUE if expected.low <= float(reading.sort == "lit") <= expected.high else OTHER
    if reading.sort == "overload":
        return AS_DUE if expected.high == inf else HIGH
    scale = scale_of(reading.measurement, loop)
    reach = scale.value(reading.spread + reading.rounding) - scale.value(0.0)
    value = scale.value(reading.value)
    if value + reach < expected.low:
        return LOW
    return HIGH if value - reach > expected.high else AS_DUE
