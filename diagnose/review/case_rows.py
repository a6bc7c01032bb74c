"""Rows of cases from their text: what a case adds up to, in plain arithmetic on its records.

What ``casework.case`` makes of the same file is the judge of this module (tests/review).
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta

from diagnose.review.case_judged import Happened, Row, ranked, whose
from diagnose.review.case_text import Opening, Record, Sheet, take_apart
from diagnose.review.vocabulary import MECHANISMS, MODES, ON_COMPLAINT

METERS = frozenset(("V", "VAC", "Vlow", "mA", "clamp", "ohm"))

_HEAD = re.compile(r"(?:complaint|symptom|context|fact)\b:?", re.IGNORECASE)

_NONE: tuple[Record, ...] = ()


def row_of(name: str, text: bytes, plant: str, breaking: frozenset[str]) -> Row:
    """The row of one case; ``breaking`` are items that whoever uses the signal notices."""
    read = take_apart(text)
    happened: dict[str | None, list[Record]] = {}
    for record in read.records:
        happened.setdefault(record.event, []).append(record)
    opening, sheet = read.opening, (read.opening and read.opening.sheet) or Sheet()
    proofs = happened.get("cause confirmed", _NONE)
    mended = _mended(happened)
    return {
        "name": name,
        "plant": plant,
        "damaged": read.damaged,
        **_opened(opening, read.records, proofs),
        "status": "unreadable" if opening is None else _ending(happened) or "open",
        **_said(happened),
        **_read(happened, mended),
        **ranked(happened, sheet, mended[0] | mended[1]),
        **_cause(happened, sheet, proofs),
        **_done(happened, sheet, breaking),
    }


def _opened(opening: Opening | None, records: Sequence[Record], proofs: Sequence[Record]) -> Row:
    """What the first line says, and how long it took from there to the cause, or to the end."""
    if opening is None:
        return {}
    start = _moment(opening.at)
    known = [record.at for record in proofs if record.at is not None]
    told = (record.at for record in reversed(records) if record.at is not None)
    end = _moment(min(known) if known else next(told, None))
    return {
        "tag": opening.tag,
        "loop_type": opening.loop_type or "",
        "tool": opening.tool or "",
        "day": _day(opening.at, start),
        "opened": _utc(start),
        "elapsed": max(0.0, (end - start).total_seconds() / 60.0) if start and end else 0.0,
    }


def _moment(text: str | None) -> datetime | None:
    """A moment in whole seconds; None without an offset, or in a year that UTC does not have."""
    try:
        found = datetime.fromisoformat(text or "")
        if found.tzinfo is None:
            return None
        found.astimezone(UTC)
    except (ValueError, OverflowError):
        return None
    return found.replace(microsecond=0) if found.microsecond else found


def _utc(moment: datetime | None) -> str | None:
    if moment is None:
        return None
    return (moment.replace(tzinfo=None) - (moment.utcoffset() or timedelta())).isoformat()


def _day(text: str | None, moment: datetime | None) -> str | None:
    """The local day, as it stands there."""
    if moment is not None:
        return moment.date().isoformat()
    try:
        return date.fromisoformat((text or "")[:10]).isoformat()
    except ValueError:
        return None


def _ending(happened: Happened) -> str | None:
    """How the case ended; None if it was not closed, or if it went on after that."""
    ends = happened.get("closed", _NONE)
    if not ends:
        return None
    others = [
        records[-1].number or 0
        for event, records in happened.items()
        if event not in ("closed", "noted")
    ]
    return ends[-1].ending if (ends[-1].number or 0) > max(others, default=0) else None


def _said(happened: Happened) -> Row:
    """The first complaint and the facts that nobody took back."""
    unsaid = set(_words(happened, "unsaid"))
    complaints = [text for text in _words(happened, "complained") if text not in unsaid]
    complaint = complaints[0] if complaints else ""
    return {
        "complaint": complaint,
        "contexts": sorted({*_words(happened, "context")} - unsaid),
        "mode": MODES.get(complaint, complaint) or None,
        "detection": ON_COMPLAINT if complaint else None,
    }


def _words(happened: Happened, event: str) -> list[str]:
    """What was said, without the word that it begins with."""
    texts = (record.text for record in happened.get(event, _NONE))
    return [_HEAD.sub("", text.strip(" "), 1).strip(" ") for text in texts if text is not None]


def _mended(happened: Happened) -> tuple[set[int], set[int]]:
    """Numbers of the readings that were corrected, and that were withdrawn."""
    corrected, withdrawn = (
        {record.reading for record in happened.get(event, _NONE) if record.reading is not None}
        for event in ("reading corrected", "reading withdrawn")
    )
    return corrected, withdrawn


def _read(happened: Happened, mended: tuple[set[int], set[int]]) -> Row:
    """What was measured."""
    readings = happened.get("reading", _NONE)
    return {
        "readings": len(readings),
        "advised": sum(record.advised is True for record in readings),
        "corrected": len(mended[0]),
        "withdrawn": len(mended[1]),
        "minutes": sum(record.minutes or 0.0 for record in readings),
    }


def _cause(happened: Happened, sheet: Sheet, proofs: Sequence[Record]) -> Row:
    """The cause that was confirmed last, and how the part was left."""
    if not proofs:
        return {}
    part, fault = proofs[-1].part, proofs[-1].fault
    kind, place = whose(part, sheet)
    left = [record.as_left for record in happened.get("remedy tried", _NONE) if record.as_left]
    return {
        "part": part,
        "fault": fault,
        "kind": kind,
        "place": place,
        "mechanism": MECHANISMS.get(fault or ""),
        "activity": left[-1] if left and fault is not None else None,
    }


def _done(happened: Happened, sheet: Sheet, breaking: frozenset[str]) -> Row:
    """What was altered and what of it was never put back; cautions, and who did not answer them."""
    altered = happened.get("altered", _NONE)
    breaks = [record.number or 0 for record in altered if record.item in breaking]
    cautions = happened.get("caution acknowledged", _NONE)
    return {
        "interruptions": len(breaks),
        "acknowledged": len(cautions),
        "unacknowledged": _unanswered(happened, sheet, breaks, cautions),
        "open_items": _left(altered, happened.get("restored", _NONE)) if altered else [],
    }


def _left(altered: Sequence[Record], restored: Sequence[Record]) -> list[str]:
    """Items that were altered more often than put back."""
    left = Counter(record.item for record in altered)
    left.subtract(record.item for record in restored)
    return sorted(item for item, times in left.items() if times > 0 and item)


def _unanswered(
    happened: Happened, sheet: Sheet, breaks: Sequence[int], cautions: Sequence[Record]
) -> list[str]:
    """Keys of cautions that a step needed before it was done, and nobody had answered by then."""
    zones = {place.name for place in sheet.places if place.area not in (None, "safe")}
    needed: dict[str, int] = {}
    if zones:
        for record in happened.get("reading", _NONE):
            if record.place in zones and (record.text or "").strip(" ").split(" ")[0] in METERS:
                needed["zone"] = record.number or 0
                break
    if breaks:
        needed |= {key: breaks[0] for role, key in _ROLES.items() if role in sheet.role}
    if not needed:
        return []
    answered: dict[str | None, int] = {}
    for record in cautions:
        answered.setdefault(record.key, record.number or 0)
    return [key for key, step in needed.items() if answered.get(key, step + 1) > step]


_ROLES = {"trip": "trip", "control": "manual", "output": "output"}
"""Role of a loop -> the caution before it is disturbed."""
