"""The values that a record may hold, each read with a check."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from math import isfinite
from typing import Any

from diagnose.errors import DiagnoseError
from diagnose.loops.names import shown
from diagnose.loops.sheet_text import kind_of

LONGEST = 4000
"""Characters of one text in a record."""

MOST = 10_000
"""Entries of one list."""

Top = tuple[tuple[str | None, str, tuple[tuple[str, str], ...], float], ...]
"""Hypotheses as (part, fault, also, probability), the most probable first."""

Rates = tuple[tuple[str, str, float], ...]
"""A site's rates as (part, mode, rate)."""


class CaseError(DiagnoseError):
    """A case, a record or an event that will not do; its text is one sentence."""


class UnwritableError(CaseError):
    """The disk is full, or a case may not be written there."""


def say(value: Any) -> Any:
    """A value made fit for a record: text without control characters, no infinite number."""
    if isinstance(value, str):
        return "".join(map(_visible, value)) if not _plain(value) else value
    if isinstance(value, float) and not isfinite(value):
        return None
    return value


def _visible(sign: str) -> str:
    return sign if sign.isprintable() or sign in "\n\t" else sign.encode("unicode_escape").decode()


def _plain(value: str) -> bool:
    return value.isprintable() or all(sign.isprintable() or sign in "\n\t" for sign in value)


def _wrong(value: object, key: str, right: str) -> CaseError:
    what = "nothing" if value is None else kind_of(value)
    return CaseError(f"{key}: {what} stands where {right} belongs")


def text(value: object, key: str) -> str:
    """Text without control characters, 4000 characters at most."""
    if not isinstance(value, str):
        raise _wrong(value, key, "text")
    if len(value) > LONGEST:
        raise CaseError(f"{key}: {len(value)} characters; a record takes {LONGEST} at most")
    if not _plain(value):
        raise CaseError(f"{key}: the text holds control characters")
    return value


def maybe_text(value: object, key: str) -> str | None:
    """Text, or None."""
    return None if value is None else text(value, key)


def number(value: object, key: str) -> float:
    """A finite number."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise _wrong(value, key, "a number")
    if not -1e300 < value < 1e300:  # nan is not, either
        raise CaseError(f"{key}: the number is not finite")
    return float(value)


def maybe_number(value: object, key: str) -> float | None:
    """A finite number, or None."""
    return None if value is None else number(value, key)


def whole(value: object, key: str) -> int:
    """A whole number from 1 on."""
    if isinstance(value, bool) or not isinstance(value, int):
        raise _wrong(value, key, "a whole number")
    if not 1 <= value < 10**9:
        raise CaseError(f"{key}: it is a whole number from 1 on")
    return value


def flag(value: object, key: str) -> bool:
    """A true or false."""
    if not isinstance(value, bool):
        raise _wrong(value, key, "true or false")
    return value


def table(value: object, key: str) -> dict[str, Any]:
    """A table of anything."""
    if not isinstance(value, Mapping):
        raise _wrong(value, key, "a table")
    return dict(value)


def numbers(value: object, key: str) -> tuple[int, ...]:
    """A list of whole numbers from 1 on."""
    if not isinstance(value, list | tuple):
        raise _wrong(value, key, "a list")
    if len(value) > MOST:
        raise CaseError(f"{key}: {len(value)} entries; a record takes {MOST} at most")
    return tuple(whole(item, key) for item in value)


def rows(value: object, key: str, columns: int) -> tuple[tuple[Any, ...], ...]:
    """A list of lists of equal length."""
    if not isinstance(value, list | tuple):
        raise _wrong(value, key, "a list")
    if len(value) > MOST:
        raise CaseError(f"{key}: {len(value)} entries; a record takes {MOST} at most")
    for row in value:
        if not isinstance(row, list | tuple) or len(row) != columns:
            raise CaseError(f"{key}: each entry is a list of {columns}")
    return tuple(tuple(row) for row in value)


def top(value: object, key: str) -> Top:
    """The head of a ranking."""
    return tuple(
        (
            maybe_text(part, key),
            text(fault, key),
            tuple((text(a, key), text(b, key)) for a, b in rows(also, key, 2)),
            number(chance, key),
        )
        for part, fault, also, chance in rows(value, key, 4)
    )


def rates(value: object, key: str) -> Rates:
    """A site's rates."""
    return tuple((text(p, key), text(m, key), number(r, key)) for p, m, r in rows(value, key, 3))


def moment(value: object) -> datetime:
    """A time with its offset from UTC, as ISO 8601 writes it."""
    written = text(value, "at")
    try:
        found = datetime.fromisoformat(written)
    except ValueError:
        right = "2024-05-02T03:15:00+02:00"
        raise CaseError(f"at: '{shown(written)}' is no time like {right}") from None
    if found.utcoffset() is None:
        raise CaseError(f"at: '{shown(written)}' does not tell its offset from UTC")
    return found


CHECKS: Mapping[Any, Callable[[Any, str], Any]] = {
    str: text,
    str | None: maybe_text,
    float: number,
    float | None: maybe_number,
    int: whole,
    bool: flag,
    Mapping[str, Any]: table,
    Top: top,
    Rates: rates,
    tuple[int, ...]: numbers,
}
"""Type of a field -> the check that reads it."""
