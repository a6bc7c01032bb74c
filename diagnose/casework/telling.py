"""Events and causes in words."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from datetime import datetime
from typing import Any

from diagnose.casework import events as e
from diagnose.casework.case import Case
from diagnose.inference.reading_words import FUNCTION_WORDS
from diagnose.loops.names import shown

SOUND_LOOP = "loop electrically sound; the process, or nothing, is the cause"


def percent(share: float) -> str:
    """A probability: never 0 % or 100 %, because nothing here is certain."""
    if share < 0.005:
        return "< 1 %"
    return "> 99 %" if share > 0.995 else f"{share * 100:.0f} %"


BEHIND = 0.05
"""Chance of a further fault above which it is told."""


def behind(share: float) -> str:
    """That a further fault may show only once this one is put right; empty where hardly so."""
    if share < BEHIND:
        return ""
    return (
        f"Behind it a further fault may hide ({percent(share)}), which shows only once this one is "
        "put right: take every proof reading before the loop goes back"
    )


def moment(at: datetime) -> str:
    """A time as the clock on the wall had it: ``2024-05-02 03:15 +02:00``."""
    offset = at.isoformat()[-6:] if at.utcoffset() else "UTC"
    return f"{at:%Y-%m-%d %H:%M} {offset}"


def cause_name(part: str | None, fault: str, also: tuple[tuple[str, str], ...] = ()) -> str:
    """``R1 drift``; two faults are joined."""
    first = f"{part} {fault}" if part else SOUND_LOOP if fault == "none" else fault
    return " together with ".join((first, *(f"{a} {b}" for a, b in also)))


def part_title(case: Case, part: str | None) -> str:
    """What the sheet calls a part; empty where it says nothing."""
    return dict(_titles(case.sheet or {})).get(part or "", "")


def _titles(sheet: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    parts = sheet.get("parts")
    for part in parts if isinstance(parts, list) else ():
        if isinstance(part, Mapping):
            yield str(part.get("name")), shown(part.get("title") or "", 200)


def _limits(text: str, low: float | None, high: float | None) -> str:
    """The limits of a proof reading in the unit of its function."""
    function = FUNCTION_WORDS.get(text.split(maxsplit=1)[0].casefold() if text.split() else "", "")
    unit, factor = _UNITS.get(function, ("", 1.0))
    if not function and "%" in text.partition(" with ")[0]:
        unit, factor = "%", 100.0
    ends = [f"{end * factor:.5g}" for end in (low, high) if end is not None]
    if not ends or (not unit and low == high):  # a lamp: the text says whether it is lit
        return ""
    bound = " to ".join(ends) if len(ends) == 2 else f"{'>' if high is None else '<'} {ends[0]}"
    return f"due {bound} {unit}".rstrip()


_UNITS = {"V": ("V", 1.0), "mA": ("mA", 1e3), "clamp": ("mA", 1e3), "ohm": ("ohm", 1.0)}


def _with(text: str, *more: str) -> str:
    said = ", ".join(filter(None, more))
    return f"{text} ({said})" if said else text


def _ranked(event: e.Ranked) -> str:
    if not event.top:
        return "no hypothesis"
    part, fault, also, chance = event.top[0]
    return f"{cause_name(part, fault, also)} leads with {percent(chance)}"


_TELL: Mapping[type[e.Event], Callable[[Any], str]] = {
    e.Opened: lambda it: _with(f"case of {it.tag}", it.loop_type, f"diagnose {it.tool}"),
    e.Complained: lambda it: it.text,
    e.Context: lambda it: it.text,
    e.FoundGood: lambda it: _with(cause_name(it.part, it.fault), it.seen),
    e.Unsaid: lambda it: it.text,
    e.ReadingTaken: lambda it: _with(
        it.text, it.place, f"{it.minutes:g} min", "advised" if it.advised else ""
    ),
    e.ReadingCorrected: lambda it: f"reading {it.number}: {it.text}",
    e.ReadingWithdrawn: lambda it: _with(f"reading {it.number}", it.reason),
    e.CautionAcknowledged: lambda it: it.key,
    e.AdviceGiven: lambda it: _with(it.text, f"{it.gain_bits:.2f} bits", f"{it.minutes:g} min"),
    e.Declined: lambda it: _with(it.text, it.reason),
    e.Altered: lambda it: _with(it.item, it.text),
    e.Restored: lambda it: _with(it.item, it.text),
    e.Ranked: _ranked,
    e.RemedyTried: lambda it: (
        f"{cause_name(it.part, it.fault)}: found {it.as_found or '-'}; left {it.as_left or '-'}"
    ),
    e.ProofTaken: lambda it: _with(
        it.text, _limits(it.text, it.low, it.high), "passed" if it.passed else "NOT PASSED"
    ),
    e.CauseConfirmed: lambda it: _with(cause_name(it.part, it.fault), it.evidence),
    e.Noted: lambda it: it.text,
    e.Closed: lambda it: it.ending,
}


def tell(event: e.Event) -> str:
    """One line on what happened, without the word of the event."""
    return " ".join(_TELL[type(event)](event).split())
