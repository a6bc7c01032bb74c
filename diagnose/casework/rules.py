"""What each event does to a case, and when it cannot happen."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from diagnose.casework import events as e
from diagnose.casework.case import Case, Open, Taken
from diagnose.casework.checks import CaseError
from diagnose.casework.lines import found_good
from diagnose.errors import did_you_mean
from diagnose.loops.names import shown

Rule = Callable[[Case, Any, e.Stamped], Case]


def step(case: Case, stamped: e.Stamped) -> Case:
    """The case after an event, its number and time apart; CaseError if it cannot happen."""
    event = stamped.event
    if case.sheet is None and not isinstance(event, e.Opened):
        raise CaseError(f"a case begins with the event 'opened', not with '{event.word}'")
    if stamped.number <= case.number:
        raise CaseError(f"number {stamped.number} is used already; the next is {case.number + 1}")
    if not isinstance(event, e.Noted):
        case = _gone_on_with(case, event)
    return _RULES[type(event)](case, event, stamped)


def _gone_on_with(case: Case, event: e.Event) -> Case:
    """A case that may still go on: an open one, or one that was handed over."""
    if case.ending is None:
        return case
    if case.ending == e.HANDED_OVER:
        return case.but(ending=None)
    raise CaseError(
        f"the case is closed ({case.ending}) and takes notes only, not '{event.word}'; "
        "open a new case"
    )


def _opened(case: Case, event: e.Opened, stamped: e.Stamped) -> Case:
    if case.sheet is not None:
        raise CaseError("the case is open already; 'opened' is its first event only")
    return Case(
        tag=event.tag,
        loop_type=event.loop_type,
        tool=event.tool,
        sheet=event.sheet,
        meter=event.meter,
        rates=event.rates,
        opened=stamped.at,
    )


def _complained(case: Case, event: e.Complained, _: e.Stamped) -> Case:
    return case.but(complaints=(*case.complaints, _said(event.text, "complaint")))


def _context(case: Case, event: e.Context, _: e.Stamped) -> Case:
    return case.but(contexts=(*case.contexts, _said(event.text, "fact")))


def _found_good(case: Case, event: e.FoundGood, _: e.Stamped) -> Case:
    line = found_good(_said(event.part, "part"), _said(event.fault, "fault"))
    if line in case.found_good:
        raise CaseError(f"it is on record already: {shown(line, 80)}")
    return case.but(looks=(*case.looks, event))


def _unsaid(case: Case, event: e.Unsaid, _: e.Stamped) -> Case:
    if event.text in case.complaints:
        return case.but(complaints=_without_last(case.complaints, event.text))
    if event.text in case.contexts:
        return case.but(contexts=_without_last(case.contexts, event.text))
    if event.text in case.found_good:
        left = [item for item in case.looks if found_good(item.part, item.fault) != event.text]
        return case.but(looks=tuple(left))
    raise CaseError(f"nobody said '{shown(event.text, 80)}'")


def _without_last(texts: tuple[str, ...], text: str) -> tuple[str, ...]:
    at = len(texts) - 1 - texts[::-1].index(text)
    return texts[:at] + texts[at + 1 :]


def _said(text: str, what: str) -> str:
    if not text.strip():
        raise CaseError(f"the {what} is empty; write it in a few words")
    return text


def _taken(case: Case, event: e.ReadingTaken, stamped: e.Stamped) -> Case:
    if event.minutes < 0:
        raise CaseError("a reading takes no negative minutes")
    text = _said(event.text, "reading")
    reading = Taken(
        stamped.number, stamped.at, text, text, event.place, event.minutes, event.advised
    )
    return case.but(readings=(*case.readings, reading))


def _corrected(case: Case, event: e.ReadingCorrected, _: e.Stamped) -> Case:
    reading = case.reading(event.number)
    if reading.withdrawn is not None:
        raise CaseError(f"reading {event.number} was withdrawn; enter it again as a new one")
    return _with_reading(case, replace(reading, text=_said(event.text, "reading")))


def _withdrawn(case: Case, event: e.ReadingWithdrawn, _: e.Stamped) -> Case:
    reading = case.reading(event.number)
    if reading.withdrawn is not None:
        raise CaseError(f"reading {event.number} was withdrawn before")
    return _with_reading(case, replace(reading, withdrawn=event.reason))


def _with_reading(case: Case, new: Taken) -> Case:
    readings = tuple(new if old.number == new.number else old for old in case.readings)
    return case.but(readings=readings)


def _acknowledged(case: Case, event: e.CautionAcknowledged, _: e.Stamped) -> Case:
    return case.but(acknowledged=(*case.acknowledged, event.key))


def _advised(case: Case, event: e.AdviceGiven, _: e.Stamped) -> Case:
    return case.but(advice=(*case.advice, event))


def _declined(case: Case, event: e.Declined, _: e.Stamped) -> Case:
    _said(event.text, "measurement")
    return case.but(declined=(*case.declined, event))


def _altered(case: Case, event: e.Altered, stamped: e.Stamped) -> Case:
    item = Open(stamped.number, stamped.at, _said(event.item, "open item"), event.text)
    if any((old.item, old.text) == (item.item, item.text) for old in case.open_items):
        raise CaseError(f"'{shown(item)}' is among the open items already")
    return case.but(open_items=(*case.open_items, item))


def _restored(case: Case, event: e.Restored, _: e.Stamped) -> Case:
    item = _meant(case.open_items, event)
    left = tuple(old for old in case.open_items if old is not item)
    return case.but(open_items=left, restored=(*case.restored, item))


def _meant(items: tuple[Open, ...], event: e.Restored) -> Open:
    """The open item that is put back: the same words, or the only one of its sort."""
    same = [item for item in items if (item.item, item.text) == (event.item, event.text)]
    alike = same or [item for item in items if item.item == event.item and not event.text]
    if len(alike) == 1:
        return alike[0]
    if alike:
        raise CaseError(f"say which: {' or '.join(str(item) for item in alike)}")
    wanted = f"{event.item}: {event.text}" if event.text else event.item
    known = did_you_mean(wanted[:80], map(str, items))
    raise CaseError(f"there is no open item '{shown(wanted, 80)}'{known}")


def _ranked(case: Case, event: e.Ranked, _: e.Stamped) -> Case:
    return case.but(rankings=(*case.rankings, event))


def _remedied(case: Case, event: e.RemedyTried, stamped: e.Stamped) -> Case:
    return case.but(remedies=(*case.remedies, event), repaired_at=stamped.number)


def _proved(case: Case, event: e.ProofTaken, _: e.Stamped) -> Case:
    return case.but(proofs=(*case.proofs, event))


def _confirmed(case: Case, event: e.CauseConfirmed, _: e.Stamped) -> Case:
    if not event.evidence.strip() and not (case.proofs and case.proofs[-1].passed):
        raise CaseError(
            "a cause is confirmed by evidence: say what was seen, or take a reading that proves "
            "the repair"
        )
    return case.but(confirmed=(*case.confirmed, event))


def _noted(case: Case, event: e.Noted, _: e.Stamped) -> Case:
    _said(event.text, "note")
    return case.but(notes=(*case.notes, event))


def _closed(case: Case, event: e.Closed, _: e.Stamped) -> Case:
    if event.ending not in e.ENDINGS:
        known = did_you_mean(event.ending[:60], e.ENDINGS)
        raise CaseError(f"a case does not end with '{shown(event.ending)}'{known}")
    if case.open_items and event.ending != e.HANDED_OVER:
        items = "; ".join(str(item) for item in case.open_items)
        raise CaseError(f"put back first, then close, or hand over: {items}")
    if event.ending == e.CONFIRMED and not case.confirmed:
        raise CaseError("no cause is confirmed yet; confirm it with its evidence, then close")
    if case.cause and event.ending in (e.SOUND, e.UNFOUND):
        raise CaseError(f"a cause was confirmed; close with '{e.CONFIRMED}', not '{event.ending}'")
    return case.but(ending=event.ending)


_RULES: dict[type[e.Event], Rule] = {
    e.Opened: _opened,
    e.Complained: _complained,
    e.Context: _context,
    e.FoundGood: _found_good,
    e.Unsaid: _unsaid,
    e.ReadingTaken: _taken,
    e.ReadingCorrected: _corrected,
    e.ReadingWithdrawn: _withdrawn,
    e.CautionAcknowledged: _acknowledged,
    e.AdviceGiven: _advised,
    e.Declined: _declined,
    e.Altered: _altered,
    e.Restored: _restored,
    e.Ranked: _ranked,
    e.RemedyTried: _remedied,
    e.ProofTaken: _proved,
    e.CauseConfirmed: _confirmed,
    e.Noted: _noted,
    e.Closed: _closed,
}
