"""A bare number that answers a step: it is in the unit that the meter shows on the step's range."""

from __future__ import annotations

import re
from collections.abc import Iterable
from math import isfinite

from diagnose.casework.hunt import Said
from diagnose.casework.hunt_task import Task
from diagnose.errors import DiagnoseError, QuantityError, ReadingError
from diagnose.inference.measurement import Reading
from diagnose.inference.meters import FUNCTION_UNITS
from diagnose.inference.ranking import Advice
from diagnose.inference.readings import parse_line
from diagnose.loops.loop import Loop
from diagnose.quantities import parse_number, plain
from diagnose.terminal.render_advice import unit_of


def unit_asked(task: Task) -> str:
    """What a bare number is in, where that is not the unit of the meter's function: ``mV``."""
    if task.advice is not None:
        return unit_of(task.advice)
    return "mV" if "mv" in task.was.casefold().partition(" with ")[0].split() else ""


def prompt_of(task: Task) -> str:
    """The line of the step, up to its value."""
    unit = unit_asked(task)
    return f"{task.text}{f' in {unit}' if unit else ''} = "


def line_of(task: Task, value: str) -> str:
    """The reading line of what was typed, with the unit that a bare number is in.

    ReadingError where a number may be either: ``0.143`` has more digits than millivolts are shown
    with, and ``0.143 V`` would be within the same range; ``34.8`` where 34 mV or 24 V are due;
    ``9.87`` where a leak of some kohm is.
    """
    unit, head = unit_asked(task), value.partition(" with ")[0]
    if not unit and head[-1:].isdigit():
        rather = _rather(task.advice, plain(head)) if task.advice is not None else ""
        if rather:
            asked = f"{rather} or {rather[1:]}? Type it with its unit, such as {head} {rather}"
            raise ReadingError(value, asked)
    return task.line(in_unit(value, unit))


def settled(value: str) -> str:
    """The span of a reading that does not settle: ``2.9 to 3.1 V`` for ``between 2.9 and 3.1 V``.

    What does not begin so stays as it is.  ReadingError where no span is named: whether the reading
    or the loop is meant, only the technician knows.
    """
    text = plain(value).strip()
    if text.split(" ")[0].casefold() not in _UNSETTLED:
        return value
    span = _SPAN.search(text)
    if span is None or len(text.split()) > _WORDS:
        raise ReadingError(
            value,
            "if this reading does not settle, type its ends, such as 2.9 to 3.1; if the whole loop "
            "is complained of so: complaint erratic",
        )
    return f"{span[1]} to {span[2]}"


_UNSETTLED = frozenset(
    {
        "between", "drifting", "drifts", "erratic", "fluctuates", "fluctuating", "from", "jumping",
        "jumps", "noisy", "swinging", "swings", "unstable", "unsteady", "varies", "varying",
        "wandering", "wanders",
    }
)  # fmt: skip
_WORDS = 8
_END = r"[+-]?[0-9.,]+(?: ?[a-zA-Z%]+)?"
_SPAN = re.compile(rf"(?<![\w.,])({_END}) ?(?:to|and|-|\.\.) ?({_END})$")


_EITHER = re.compile(
    r"(?<![\w,])(?:(?<=\.\.)|(?<!\.))([+-]?[1-9][0-9]{0,2}),([0-9]{3})(?![0-9,]|\.[^.])"
)
"""A number whose comma may be a decimal one, or part thousands from hundreds."""


def decimals(line: str, loop: Loop) -> str:
    """A reading with its comma as a point, where no more than one of its two meanings can be.

    ``1,001`` is what a meter shows on its 6 V range; 1001 V are on no loop of 24 V.  Where both can
    be, or neither, the line stays as it is, and is refused.
    """
    if not _EITHER.search(plain(line)):
        return line
    ways = [_EITHER.sub(rf"\1{mark}\2", plain(line)) for mark in (".", "")]
    could = [way for way in ways if _can_be(way, loop)]
    return could[0] if len(could) == 1 else line


def _can_be(line: str, loop: Loop) -> bool:
    try:
        return isinstance(parse_line(line, loop), Reading)
    except DiagnoseError:
        return False


def in_unit(value: str, unit: str) -> str:
    """A bare number with the unit that it was asked for in; what has one stays as it is.

    ReadingError where a number may be of the unit or of volts.
    """
    head, with_, condition = value.partition(" with ")
    if not unit or not head[-1:].isdigit():
        return value
    if _AS_VOLTS.fullmatch(plain(head).strip()):
        raise ReadingError(value, f"V or {unit}? Type it with its unit, such as {head} V")
    return f"{head} {unit}{with_}{condition}"


_AS_VOLTS = re.compile(r"[+-]? ?0?[.,](?=0*[1-9])[0-9]{2,}")
"""Less than 1, with more decimals than millivolts are shown with on a common meter."""


def _rather(advice: Advice, text: str) -> str:
    """The unit in which a number is near some outcome of the step, where as it is it is near none.

    Whoever reads ``9.87`` beside a small ``k`` types 9.87.
    """
    unit = FUNCTION_UNITS.get(advice.measurement.function, "")
    try:
        value = parse_number(text)[0]
    except QuantityError:
        return ""
    spans = [span[:2] for span in (advice.healthy, advice.healthy_else) if span]
    spans += [(item.low, item.high) for item in advice.expects]
    if not value or _near(value, spans):
        return ""
    near = (name for name, by in _OTHERS.get(unit, {}).items() if _near(value * by, spans))
    return next(near, "")


_OTHERS = {"V": {"mV": 1e-3}, "ohm": {"kohm": 1e3, "Mohm": 1e6}}
"""What a meter shows in besides the unit of its function, and how much of that one of it is."""


def _near(value: float, spans: Iterable[tuple[float, float]]) -> bool:
    """Within some span, or beside it by a tenth of its larger end."""
    for low, high in spans:
        margin = 0.1 * max((abs(end) for end in (low, high) if isfinite(end)), default=0.0)
        if low - margin <= value <= high + margin:
            return True
    return False


def that_is(said: Said, loop: Loop) -> str:
    """``, that is 1080 mm`` behind a share typed without its unit: it may be a slip."""
    found = said.measurement
    typed, text = (it.partition(" with ")[0].rstrip() for it in (said.typed, said.text))
    if found is None or typed.endswith("%") or not text.endswith(" %"):
        return ""
    at = found.points[:1] if found.function == "shows" else ()
    unit, low, high = loop.range_of(*at) if at else loop.range
    reading = parse_line(said.text, loop)
    if unit == "%" or not isinstance(reading, Reading) or reading.sort != "value":
        return ""
    return f", that is {low + reading.value * (high - low):.4g} {unit}"
