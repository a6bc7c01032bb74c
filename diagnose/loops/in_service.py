"""Since when the loops of a plant are in service, and until when: what rates are counted over."""

from __future__ import annotations

from datetime import date, datetime

from diagnose.loops.names import TAG, name_fault, shown
from diagnose.loops.sheet_text import Table, kind_of

ALL = "all"
"""The key of every loop that is not named."""

Span = tuple[date, date | None]

EXAMPLE = "2019-04-01, or [2019-04-01, 2024-06-30] for a loop that is out of service again"


def in_service(table: Table) -> dict[str, Span]:
    """The table ``in-service`` of a plant file: a first day for each tag, or first and last.

    What is no day is noted in the table, and left out.
    """
    found = {}
    for key, value in table.raw.items():
        fault = "" if key == ALL else name_fault(TAG, key)
        if fault:
            table.note(shown(key), fault)
            continue
        span = _span(value)
        if span is None:
            table.note(key, f"{_what(value)} stands here; write {key} = {EXAMPLE}")
        elif span[1] is not None and span[1] < span[0]:
            table.note(key, f"the last day, {span[1]}, is before the first, {span[0]}")
        else:
            found[key] = span
    return found


def _span(value: object) -> Span | None:
    if _is_day(value):
        return value, None  # type: ignore[return-value]
    if isinstance(value, list) and len(value) == 2 and all(map(_is_day, value)):
        return value[0], value[1]
    return None


def _is_day(value: object) -> bool:
    return isinstance(value, date) and not isinstance(value, datetime)


def _what(value: object) -> str:
    return "a time of day" if isinstance(value, datetime) else kind_of(value)
