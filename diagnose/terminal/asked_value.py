"""A bare number that answers a step: it is in the unit that the meter shows on the step's range."""

from __future__ import annotations

import re

from diagnose.casework.hunt_task import Task
from diagnose.errors import ReadingError
from diagnose.quantities import plain
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

    ReadingError where a number may as well be volts: ``0.143`` has more digits than millivolts are
    shown with, and ``0.143 V`` would be within the same range.
    """
    unit = unit_asked(task)
    head, with_, condition = value.partition(" with ")
    if not unit or not head[-1:].isdigit():
        return task.line(value)
    if _AS_VOLTS.fullmatch(plain(head).strip()):
        raise ReadingError(value, f"V or {unit}? Type it with its unit, such as {head} V")
    return task.line(f"{head} {unit}{with_}{condition}")


_AS_VOLTS = re.compile(r"[+-]? ?0?[.,](?=0*[1-9])[0-9]{2,}")
"""Less than 1, with more decimals than millivolts are shown with on a common meter."""
