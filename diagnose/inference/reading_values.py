"""The value of a reading line: numbers, spans, ``+-``, OL, lamps."""

from __future__ import annotations

import re
from collections.abc import Callable

from diagnose.inference.conditions import DEFAULT_PREFIX
from diagnose.inference.measurement import Measurement, ends_of, scale_of, states_of
from diagnose.inference.meters import FUNCTION_UNITS
from diagnose.inference.reading_bounds import Seen, Unit, refuse_impossible, shown_range
from diagnose.inference.reading_names import find_node, find_part
from diagnose.inference.reading_words import (
    IMPOSSIBLE_WORDS,
    OVERLOAD_WORDS,
    RefusedError,
    complaint_words,
)
from diagnose.loops.loop import Loop, Scale
from diagnose.loops.states import LIT, OPEN, PART_WAY, SAID, States
from diagnose.quantities import find_unit, parse_number, parse_quantity, plain, shown, si

_PREFIX = {"A": "m"}
_DOTS = re.compile(r"(?P<low>.+?)\s*(?:\.{2,3}|\u2026|\bto\b)\s*(?P<high>.+)")
_DASH = re.compile(
    r"(?P<low>[+-]?\s?[0-9][0-9A-Za-z.,]*(?:\s*%|\s[A-Za-z]+)?)\s*(?<![eE])-\s*(?P<high>[0-9].*)"
)
_PLUS_MINUS = re.compile(r"(?P<middle>.+?)\s*(?:\+-|\+/-)\s*(?P<width>.+)")
_SORT = re.compile(r"V ?(?P<sort>AC|DC)\s*$", re.IGNORECASE)
_UNIT = re.compile(r"[A-Za-z%][A-Za-z0-9%/ ]*$")


def read_value(text: str, measurement: Measurement, loop: Loop) -> Seen:
    """What a value text says; RefusedError or QuantityError with what is wrong."""
    words = " ".join(text.split()).casefold().rstrip(".")
    if words in IMPOSSIBLE_WORDS:
        return Seen("impossible")
    _refuse_names(text, loop)
    states = states_of(measurement, loop)
    if states is not None:
        return _state(text, words, measurement, states)
    if measurement.function == "process" and loop.states and words in PROCESS_WORDS:
        return Seen("value", PROCESS_WORDS[words])
    ends = ends_of(measurement, loop)
    if words in ends:
        return Seen("value", ends[words])
    if ends and words in PART_WAY:
        return Seen("span", 0.5, HALF_WAY)
    if words in OVERLOAD_WORDS:
        return _overload(measurement)
    if words in (said := complaint_words(loop)):
        raise RefusedError(f"write the value, or 'complaint {said[words]}'")
    if words in SAID and not words.isdigit():  # 0 and 1 are words for a command only
        raise RefusedError(f"{_what(measurement)} shows a value, and '{words}' is none")
    number = plain(text).strip()
    _refuse_other_volts(number, measurement, loop)
    seen = _number_or_span(number, _reader(measurement, loop))
    refuse_impossible(seen, measurement, loop, Unit.of(number))
    return seen


HALF_WAY = 0.3
"""How far from its middle a pointer may stand of which somebody says that it is part way."""


def _refuse_names(text: str, loop: Loop) -> None:
    if not text:
        raise RefusedError("the value is missing at the end")
    if find_node(text, loop) or find_part(text, loop):
        raise RefusedError(f"the value is missing behind {text}")


def _refuse_other_volts(number: str, measurement: Measurement, loop: Loop) -> None:
    """Volts with AC behind them are none of a direct voltage, nor the other way round."""
    found, function = _SORT.search(number), measurement.function
    alternating = {"V": False, "VAC": True, "Vlow": loop.alternating}.get(function)
    if found is None or alternating is None or (found["sort"].upper() == "AC") == alternating:
        return
    if alternating:
        raise RefusedError(f"{shown(number)} are direct volts: begin the line with V")
    raise RefusedError(f"{shown(number)} are alternating volts: begin the line with VAC")


PROCESS_WORDS = {
    word: float(sort == "lit") for item in (LIT, OPEN) for word, sort in item.words.items()
} | {"high": 1.0, "above": 1.0, "low": 0.0, "below": 0.0}
"""What a process that is on or off is said to be."""


def _state(text: str, words: str, measurement: Measurement, states: States) -> Seen:
    if words not in states.words:
        name = measurement.points[0]
        raise RefusedError(
            f"{name} is '{states.on}' or '{states.off}', and {shown(text)} is neither"
        )
    return Seen(states.words[words])


def _overload(measurement: Measurement) -> Seen:
    if measurement.function != "ohm":
        raise RefusedError("OL is understood for ohm only; choose a higher range or 'not possible'")
    return Seen("overload")


def _what(measurement: Measurement) -> str:
    return measurement.points[0] if measurement.function == "shows" else measurement.function


def _reader(measurement: Measurement, loop: Loop) -> Callable[[str], float]:
    """What turns number text into SI, or into a fraction of range."""
    unit = FUNCTION_UNITS.get(measurement.function)
    scale = scale_of(measurement, loop)
    if _is_marked(measurement, loop):
        return lambda text: fraction(text, loop.range, bare="unit")
    if scale.unit != "1":
        return lambda text: _on(scale, text)
    if unit is None:
        return lambda text: fraction(text, shown_range(measurement, loop))
    return lambda text: parse_quantity(text, unit, default_prefix=_PREFIX.get(unit, ""))


def _is_marked(measurement: Measurement, loop: Loop) -> bool:
    """Whether a dial is marked in the unit of the range: a bare number is then no %."""
    shows = loop.part(measurement.points[0]).kind.shows if measurement.function == "shows" else None
    return shows is not None and shows.marked


def _on(scale: Scale, text: str) -> float:
    """A share of a display's own scale: a value in its unit, or a number with ``%``."""
    if text.rstrip().endswith("%"):
        return parse_quantity(text, "1")
    prefix = DEFAULT_PREFIX.get(scale.unit, "")
    return scale.fraction(parse_quantity(text, scale.unit, default_prefix=prefix))


def fraction(text: str, of: tuple[str, float, float], bare: str = "%") -> float:
    """A share of a range: ``62 %``, a bare number in %, or a value in the unit of the range.

    ``of`` is the unit and both ends; with ``bare="unit"`` a bare number is in that unit.  Raises
    RefusedError for another unit.
    """
    value, suffix = parse_number(text)
    unit, low, high = of
    if suffix.casefold() == plain(unit).casefold() or (bare == "unit" and not suffix):
        return (value - low) / (high - low)
    if suffix in {"", "%"} or suffix.casefold() in {"percent", "pct"}:
        return value / 100
    wanted, given = find_unit(plain(unit)), find_unit(suffix)
    if wanted is None or given is None or wanted[0] != given[0]:
        full = f", or {unit} ({low:g} to {high:g} {unit})" if unit != "%" else ""
        raise RefusedError(f"{shown(text)}: write % of range{full}")
    bounds = si(low, wanted[1]), si(high, wanted[1])
    return (si(value, given[1]) - bounds[0]) / (bounds[1] - bounds[0])


def _number_or_span(text: str, read: Callable[[str], float]) -> Seen:
    """One number, ``2.8..3.1 V``, ``2.8-3.1 V`` or ``45 % +- 3 %``."""
    stated = _PLUS_MINUS.fullmatch(text)
    if stated:
        return _plus_minus(*_with_units(stated["middle"], stated["width"]), read)
    span = _DOTS.fullmatch(text) or _DASH.fullmatch(text)
    if not span:
        return Seen("value", read(text), rounding=_rounding(text, read))
    low, high = (read(end) for end in _with_units(span["low"], span["high"]))
    if low > high and not _DOTS.fullmatch(text):
        raise RefusedError(f"{shown(text)}: a span goes from the smaller to the larger value")
    return Seen("span", (low + high) / 2, abs(high - low) / 2)


def _rounding(text: str, read: Callable[[str], float]) -> float:
    """Half a unit of the last digit typed: ``24`` leaves half a volt open, ``24.00`` does not."""
    suffix = parse_number(text)[1]  # its digits, as in m3/h, are none of the number's
    number = text[: len(text) - len(suffix)] if text.endswith(suffix) else text
    digits = list(re.finditer(r"[0-9]", re.split(r"[eE][+-]?[0-9]", number)[0]))
    if not digits:
        return 0.0
    end = digits[-1].end()
    blank = re.sub(r"[0-9]", "0", text[:end]).replace("-", "").replace("+", "")
    return (read(f"{blank[:-1]}1{text[end:]}") - read(f"{blank}{text[end:]}")) / 2


def _plus_minus(middle: str, width: str, read: Callable[[str], float]) -> Seen:
    unit = _UNIT.search(width)
    spread = read(width) - read(f"0 {unit[0]}" if unit else "0")
    if spread <= 0:
        raise RefusedError(f"'+- {width}' must be more than zero")
    return Seen("value", read(middle), spread)


def _with_units(first: str, second: str) -> tuple[str, str]:
    """Two numbers of which one may lend the other its unit."""
    units = [_UNIT.search(text) for text in (first, second)]
    if units[0] and not units[1]:
        return first, f"{second} {units[0][0]}"
    if units[1] and not units[0]:
        return f"{first} {units[1][0]}", second
    return first, second
