"""A bare number that answers a step: it is in the unit that the meter shows on the step's range."""

from __future__ import annotations

import re
from collections.abc import Iterable

from diagnose.casework.hunt_task import Task
from diagnose.errors import QuantityError, ReadingError
from diagnose.inference.meters import FUNCTION_UNITS
from diagnose.inference.ranking import Advice
from diagnose.quantities import parse_number, plain
from diagnose.terminal.render_advice import MILLIVOLTS, least, unit_of


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
    with, and ``0.143 V`` would be within the same range; ``34.8`` where 34 mV or 24 V are due.
    """
    unit = unit_asked(task)
    head, with_, condition = value.partition(" with ")
    if not head[-1:].isdigit():
        return task.line(value)
    if not unit:
        if task.advice is not None and _rather_millivolts(task.advice, plain(head)):
            raise ReadingError(value, f"mV or V? Type it with its unit, such as {head} mV")
        return task.line(value)
    if _AS_VOLTS.fullmatch(plain(head).strip()):
        raise ReadingError(value, f"V or {unit}? Type it with its unit, such as {head} V")
    return task.line(f"{head} {unit}{with_}{condition}")


_AS_VOLTS = re.compile(r"[+-]? ?0?[.,](?=0*[1-9])[0-9]{2,}")
"""Less than 1, with more decimals than millivolts are shown with on a common meter."""


def _rather_millivolts(advice: Advice, text: str) -> bool:
    """Whether a number is near no outcome of the step as volts, and near one as millivolts."""
    if FUNCTION_UNITS.get(advice.measurement.function) != "V" or least(advice) > MILLIVOLTS:
        return False
    try:
        volts = parse_number(text)[0]
    except QuantityError:
        return False
    spans = [span[:2] for span in (advice.healthy, advice.healthy_else) if span]
    spans += [(item.low, item.high) for item in advice.expects]
    return bool(volts) and not _near(volts, spans) and _near(volts / 1e3, spans)


def _near(value: float, spans: Iterable[tuple[float, float]]) -> bool:
    """Within some span, or beside it by a tenth of its larger end."""
    return any(
        low - 0.1 * max(abs(low), abs(high)) <= value <= high + 0.1 * max(abs(low), abs(high))
        for low, high in spans
    )
