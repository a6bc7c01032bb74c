"""One typed line -> a reading, a complaint, a context fact or a fault that there is not.

``V X21:7 X20:0 3.02``, ``mA X21:4 8.03``, ``LIC-214 62 %``, ``LAHH-214 lit``,
``process 45 % +- 3 %``, ``ohm JB9:1 JB9:2 1.2k with supply off``, ``complaint reads low``,
``context rain``, ``good R1 drift``.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace

from diagnose.errors import DiagnoseError, ReadingError
from diagnose.inference.conditions import parse_condition
from diagnose.inference.found_good import SOUND, example, found_good
from diagnose.inference.measurement import (
    Applied,
    Cleared,
    Complaint,
    Condition,
    Context,
    Measurement,
    Reading,
    normal_condition,
)
from diagnose.inference.reading_names import find_node, find_part, supplies, unknown
from diagnose.inference.reading_points import POINTS
from diagnose.inference.reading_suggest import suggest
from diagnose.inference.reading_text import describe, value_text
from diagnose.inference.reading_values import read_value
from diagnose.inference.reading_words import FILLERS, FUNCTION_WORDS, FUNCTIONS, RefusedError, told
from diagnose.loops.loop import Loop, Part
from diagnose.loops.names import without_hyphen
from diagnose.quantities import plain, shown

__all__ = [
    "ReadingsError",
    "describe",
    "parse_line",
    "parse_lines",
    "parse_measurement",
    "suggest",
    "value_text",
]

LONGEST = 240
"""Longest line taken for a reading, characters."""

Line = Reading | Complaint | Context | Cleared

_COLON = re.compile(r"(?<=[A-Za-z0-9]) *: *(?=[0-9])")
_WITH = re.compile(r"(?:^|\s)(?:with|while)(?:\s|$)", re.IGNORECASE)


class ReadingsError(DiagnoseError):
    """Lines of a file or of the command line that cannot be understood."""

    def __init__(self, problems: Iterable[tuple[int, ReadingError]]) -> None:
        """``problems``: (line number from 1, error) in order."""
        self.problems = tuple(problems)
        super().__init__("\n".join(f"line {number}: {error}" for number, error in self.problems))


def parse_line(text: str, loop: Loop) -> Line:
    """What one line says; ReadingError with one sentence if it cannot be understood."""
    try:
        clean = _clean(text)
        words = clean.split()
        said = told(words, text.strip(), loop) or found_good(words, loop)
        return said or _reading(clean, text.strip(), loop)
    except ReadingError:
        raise
    except DiagnoseError as error:
        raise ReadingError(text, str(error)) from error


def parse_measurement(text: str, loop: Loop) -> Measurement:
    """The measurement of a line without a value, such as ``V X21:7 X20:0 with supply off``."""
    try:
        measurement, rest = _measurement(_clean(text), loop, valued=False)
        if rest:
            raise RefusedError(f"{shown(' '.join(rest))} is left over behind the measurement")
        return _checked(measurement, "", loop)
    except DiagnoseError as error:
        raise ReadingError(text, str(error)) from error


def parse_lines(text: str | Iterable[str], loop: Loop) -> list[Line]:
    """All lines of a text; blank lines and lines behind ``#`` are skipped.

    Raises ReadingsError with every line that cannot be understood and its number.
    """
    found: list[Line] = []
    problems: list[tuple[int, ReadingError]] = []
    for number, line in enumerate(text.splitlines() if isinstance(text, str) else text, 1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        try:
            found.append(parse_line(line, loop))
        except ReadingError as error:
            problems.append((number, error))
    if problems:
        raise ReadingsError(problems)
    return found


def _clean(text: str) -> str:
    """The line with plain characters and single blanks; refused if too long or not text."""
    if len(text) > LONGEST:
        raise RefusedError(f"a reading has at most {LONGEST} characters")
    line = plain(text).strip()
    if not line.isprintable():
        raise RefusedError("the line holds control characters")
    if not line:
        raise RefusedError("nothing is typed; write for example V X21:7 X20:0 3.02")
    return " ".join(_COLON.sub(":", line.replace("=", " ")).split()) or "="


def _reading(line: str, typed: str, loop: Loop) -> Reading:
    measurement, rest = _measurement(line, loop, valued=True)
    text = " ".join(rest)
    seen = read_value(text, measurement, loop)
    checked = _checked(measurement, seen.sort, loop)
    return Reading(checked, seen.sort, seen.value, seen.spread, typed, seen.rounding)


def _measurement(line: str, loop: Loop, valued: bool) -> tuple[Measurement, list[str]]:
    """The measurement of a line and the words that are left for its value."""
    head, *tail = _WITH.split(line, maxsplit=1)
    function, words = _function(head.split(), loop)
    condition = parse_condition(tail[0], loop) if tail else ()
    points, rest = POINTS[function](words, loop, valued)
    while rest and rest[0].casefold() in FILLERS:
        rest = rest[1:]
    return Measurement(function, points, condition), rest


def _function(words: list[str], loop: Loop) -> tuple[str, list[str]]:
    """The meter function that a line starts with; a part with a display needs none."""
    if not words:
        raise RefusedError("a reading stands before 'with'; write for example V X21:7 X20:0 3.02")
    first, part = words[0].casefold().rstrip(":"), find_part(words[0], loop)
    canonical = {name.casefold() for name in FUNCTIONS}
    if part and part.kind.shows and first not in canonical:
        return "shows", words
    if first in FUNCTION_WORDS:
        return FUNCTION_WORDS[first], words[1:]
    raise _no_function(words, part, loop)


def _no_function(words: list[str], part: Part | None, loop: Loop) -> RefusedError:
    word, said = words[0], " ".join(words[1:])
    if part and part.kind.modes and any(said.casefold().endswith(end) for end in SOUND):
        return RefusedError(f"where it was looked at, write for example: {example(part, said)}")
    if part or find_node(word, loop):
        return RefusedError(f"{word} shows nothing: begin with one of {', '.join(FUNCTIONS[:6])}")
    displays = [item.name for item in loop.parts if item.kind.shows]
    if word.casefold() in (loop.tag.casefold(), without_hyphen(loop.tag)) and displays:
        return RefusedError(f"{loop.tag} is the loop; its displays are {', '.join(displays)}")
    refused = unknown("function or display", word, (*FUNCTIONS, *displays))
    if displays and ";" not in str(refused):
        return RefusedError(f"{refused}; the displays are {', '.join(displays)}")
    return refused


def _checked(measurement: Measurement, sort: str, loop: Loop) -> Measurement:
    """Resistance needs the supply off; what could not be taken gets it for granted."""
    if measurement.function != "ohm":
        return measurement
    missing = _missing_off(measurement.condition, loop)
    if missing and sort != "impossible":
        raise RefusedError(
            "add 'with supply off': resistance is read with the supply off and isolated, "
            "because a live loop falsifies it and can harm the meter"
        )
    return replace(measurement, condition=normal_condition((*measurement.condition, *missing)))


def _missing_off(condition: Condition, loop: Loop) -> tuple[Applied, ...]:
    needed = (Applied(part.name, "off") for part in supplies(loop))
    return tuple(item for item in needed if item not in condition)
