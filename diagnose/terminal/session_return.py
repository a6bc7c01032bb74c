"""What is to be seen to before a loop goes back into service: a list made from the case itself.

The headings are usual practice (common practice, no source); the site's own procedure comes first.
"""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.casework.case import Case
from diagnose.casework.hunt import RECORDS
from diagnose.casework.proofs import latest
from diagnose.loops.loop import Loop
from diagnose.terminal.naming import place_title
from diagnose.terminal.outcome import Look
from diagnose.terminal.render_doubt import metered
from diagnose.terminal.wording import count, listed, paragraph

Check = tuple[bool, str]
"""Whether the case says that it is done, and what it is."""

TRIP = "trip tested as the site's procedure has it after work on what it needs, under its bypass"
"""What no proof of the loop stands in for (IEC 61511-1, 16.3, from memory)."""

TAKEN_OFF = {
    "bypass": "bypass taken off, and confirmed by whoever authorised it",
    "manual": "controller as it was before, agreed with the operator",
}


def checks(case: Case, loop: Loop) -> Iterator[Check]:
    """All that is to be seen to, in the order of doing; what the case cannot know is not done."""
    records = set(RECORDS.values())
    for item in case.restored:
        if item.item not in records:
            yield True, f"put back: {item}"
    for item in case.open_items:
        if item.item not in records:
            yield False, f"put back: {item}"
    yield _proved(case)
    if "trip" in loop.role and case.remedies:
        yield False, TRIP
    places = {place.name: place for place in loop.places}
    been = dict.fromkeys(_touched(case, loop))
    closed = [place_title(name, loop) for name in been if name in places]
    if closed:
        yield False, f"covers, seals, glands and terminals tight: {listed(closed)}"
    open_now = {item.item for item in case.open_items}
    off = {item.item for item in case.restored} - open_now
    for record in ("bypass", "manual"):
        if record in open_now or record in off:
            yield record in off, TAKEN_OFF[record]
    yield False, "operator told that the loop is back, and that its display agrees with the process"


def _touched(case: Case, loop: Loop) -> Iterator[str]:
    """Where a meter was put to, or a part was worked on or altered; to look opens no cover."""
    yield from (item.place for item in case.readings if metered(item.text))
    altered = {item.text for item in (*case.open_items, *case.restored)}
    worked_on = altered | {item.part for item in case.remedies}
    yield from (part.place for part in loop.parts if part.name in worked_on)


def _proved(case: Case) -> Check:
    results = [item.passed for item in latest(case)]
    if not results:
        return False, "function checked: no proof reading was taken"
    good = f"{sum(results)} of {count(len(results), 'proof reading')} within their limits"
    return all(results), f"function checked: {good}"


def back_to_service(case: Case, loop: Loop, look: Look) -> Iterator[str]:
    """The list with a mark for what the case knows to be done."""
    yield "Back to service, as the site's procedure has it:"
    for done, text in checks(case, loop):
        yield from paragraph(text, look, "  [x] " if done else "  [ ] ")
