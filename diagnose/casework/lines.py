"""Texts of events as the lines that ``inference.readings.parse_line`` takes."""

from __future__ import annotations

import re

_HEADS = {"complaint": ("complaint", "symptom"), "context": ("context", "fact")}
_WITH = re.compile(r"\s+(?=(?:with|while)\s)", re.IGNORECASE)
_IMPOSSIBLE = "not possible"


def as_said(head: str, text: str) -> str:
    """``reads high`` -> ``complaint reads high``; a line with its word stays as it is."""
    first = text.split(maxsplit=1)[0].casefold().rstrip(":") if text.strip() else ""
    return text if first in _HEADS[head] else f"{head} {text}"


def found_good(part: str, fault: str) -> str:
    """``good R1 drift``: a fault that was looked for and is not there."""
    return f"good {part} {fault}"


def as_found(part: str | None, fault: str, seen: str = "") -> str:
    """``as found, R1 drift: brown``: noted before anything is done, so that it is not lost."""
    return f"as found, {part} {fault}: {seen}"


def not_possible(text: str) -> str:
    """A measurement as the reading that could not be taken.

    >>> not_possible("mA X21:4 with LT-214 driven 4 mA")
    'mA X21:4 not possible with LT-214 driven 4 mA'
    """
    if _IMPOSSIBLE in text.casefold():
        return text
    head, *tail = _WITH.split(text.strip(), maxsplit=1)
    return " ".join((head, _IMPOSSIBLE, *tail))
