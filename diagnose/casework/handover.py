"""The note for the next shift: one page of Markdown."""

from __future__ import annotations

import re
from collections.abc import Iterator

from diagnose.casework import events as e
from diagnose.casework.case import Case
from diagnose.casework.telling import cause_name, moment, part_title, percent, tell
from diagnose.inference.ranking import Ranking
from diagnose.loops.names import shown

TOLD = 5
"""Suspects that are told."""

WORTH_TELLING = 0.01

_SIGNS = re.compile(r"([\\`*_\[\]<>|~&$#])")


def escaped(text: str) -> str:
    """Text of people as Markdown shows it: one line, no sign that Markdown or HTML reads."""
    return _SIGNS.sub(r"\\\1", " ".join(text.split()))


def handover(case: Case, ranking: Ranking | None = None) -> str:
    """The note on a case; ``ranking`` is the one of its present evidence, if it is at hand.

    Without it the last recorded ranking tells what is suspected, and no reading is marked.
    """
    blocks = (
        _head(case),
        _open_items(case),
        _facts(case),
        _readings(case, ranking),
        _confirmed(case),
        _suspected(case, ranking),
        _done(case),
        _next(case, ranking),
    )
    return "\n\n".join("\n".join(block) for block in map(list, blocks) if block) + "\n"


def _head(case: Case) -> Iterator[str]:
    service = shown((case.sheet or {}).get("service", ""), 200)
    yield f"# Hand-over {escaped(case.tag)}" + (f": {escaped(service)}" if service else "")


def _open_items(case: Case) -> Iterator[str]:
    """What must be put back, before anything else and in capitals."""
    if not case.open_items:
        yield "Open items: none. Nothing is bridged, lifted, bypassed or in manual on record."
        return
    yield "## OPEN ITEMS: NOT AS THEY BELONG"
    yield ""
    for item in case.open_items:
        yield f"- **{escaped(str(item).upper())}** since {moment(item.at)}"


def _facts(case: Case) -> Iterator[str]:
    said = (
        ("Status", case.status),
        ("Opened", moment(case.opened) if case.opened else ""),
        ("Last entry", moment(case.at) if case.at else ""),
        ("Complaint", "; ".join(_bare(text, "complaint") for text in case.complaints)),
        ("Around it", "; ".join(_bare(text, "context") for text in case.contexts)),
        ("As found", "; ".join(item.as_found for item in case.remedies if item.as_found)),
        ("As left", "; ".join(item.as_left for item in case.remedies if item.as_left)),
        ("Spent on readings", f"{case.minutes:.0f} minutes"),
        ("Cautions acknowledged", ", ".join(dict.fromkeys(case.acknowledged))),
    )
    yield from (f"- {label}: {escaped(text) or 'not recorded'}" for label, text in said)


def _bare(text: str, head: str) -> str:
    first, _, rest = text.partition(" ")
    return rest if first.casefold() == head and rest else text


def _readings(case: Case, ranking: Ranking | None) -> Iterator[str]:
    yield "## Readings"
    yield ""
    if not case.readings:
        yield "None yet."
        return
    yield "| no. | time | reading | place | remark |"
    yield "| --- | --- | --- | --- | --- |"
    remarks = _remarks(case, ranking)
    for item in case.readings:
        cells = (item.text, item.place, remarks[item.number])
        told = " | ".join(escaped(cell) for cell in cells)
        yield f"| {item.number} | {item.at:%H:%M} | {told} |"


def _remarks(case: Case, ranking: Ranking | None) -> dict[int, str]:
    """What is to be said of each reading: withdrawn, corrected, distrusted."""
    found = {
        item.number: f"WITHDRAWN: {item.withdrawn or 'no reason given'}"
        if item.withdrawn is not None
        else f"corrected; first written as {item.typed}" * (item.text != item.typed)
        for item in case.readings
    }
    in_force = case.in_force
    for suspect in ranking.suspects if ranking else ():
        if 0 < suspect.index <= len(in_force):
            number = in_force[suspect.index - 1].number
            doubt = f"DISTRUSTED, {percent(suspect.probability)}; take it again"
            told = (found[number], doubt, suspect.reason)
            found[number] = "; ".join(filter(None, told))
    return found


def _confirmed(case: Case) -> Iterator[str]:
    yield "## Confirmed"
    yield ""
    if not case.confirmed:
        yield "Nothing. No cause is proved."
    for item in case.confirmed:
        name = _named(case, item.part, cause_name(item.part, item.fault))
        yield f"- **{name}**" + (f": {escaped(item.evidence)}" if item.evidence.strip() else "")
    yield from (f"- proof: {escaped(tell(item))}" for item in case.proofs)


def _named(case: Case, part: str | None, name: str) -> str:
    title = part_title(case, part)
    return escaped(f"{name} ({title})" if title else name)


def _suspected(case: Case, ranking: Ranking | None) -> Iterator[str]:
    """Suspicion, kept apart from what is confirmed."""
    yield "## Suspected" + (" before the cause was confirmed" if case.cause else "")
    yield ""
    top, rest = _beliefs(case, ranking)
    if not top:
        yield "No ranking is on record."
        return
    for part, fault, also, chance in top[:TOLD]:
        if chance >= WORTH_TELLING:
            cause = _named(case, part, cause_name(part, fault, also))
            yield f"- {escaped(percent(chance))} {cause}"
    if rest >= WORTH_TELLING:
        yield f"- {escaped(percent(rest))} none of the faults that the tool knows"
    if ranking and any(
        len(group.members) > 1 and group.probability > 0.1 for group in ranking.groups
    ):
        yield "- Some of these no reading within reach can tell apart."


def _beliefs(case: Case, ranking: Ranking | None) -> tuple[e.Top, float]:
    if ranking is not None:
        return tuple(
            (item.part, item.fault, item.also, item.probability) for item in ranking.hypotheses
        ), ranking.unexplained
    last = case.last_ranking
    return (last.top, last.unexplained) if last else ((), 0.0)


def _done(case: Case) -> Iterator[str]:
    yield "## Done"
    yield ""
    told = [
        *(f"repaired: {tell(item)}" for item in case.remedies),
        *(f"put back: {item}" for item in case.restored),
        *(f"not possible: {tell(item)}" for item in case.declined),
        *(f"note: {item.text}" for item in case.notes),
    ]
    yield from (f"- {escaped(line)}" for line in told or ("readings only",))


def _next(case: Case, ranking: Ranking | None) -> Iterator[str]:
    yield "## Next"
    yield ""
    steps = [*_put_back(case), *_onwards(case, ranking)]
    yield from (f"{number}. {step}" for number, step in enumerate(steps, 1))
    yield ""
    yield "Site procedures, permits and competent people decide; this note only reminds."


def _put_back(case: Case) -> Iterator[str]:
    if case.open_items:
        yield "Put back the open items above, or agree with the operator that they stay."


def _onwards(case: Case, ranking: Ranking | None) -> Iterator[str]:
    if case.ending and case.ending != e.HANDED_OVER:
        yield f"Nothing: the case is closed ({case.ending})."
    elif case.cause:
        proved = bool(case.proofs) and case.proofs[-1].passed
        yield "Close the case." if proved else "Prove the repair, then close the case."
    elif ranking and ranking.next:
        step = ranking.next[0]
        yield f"Measure {escaped(step.text)} ({escaped(step.place)}, {step.minutes:.0f} minutes)."
    elif ranking and ranking.remedy:
        first = ranking.remedy[0]
        yield escaped(f"{first.part}: {first.action}") + ". Then prove the repair."
    elif case.advice:
        yield f"Measure {escaped(case.advice[-1].text)} (the last advice)."
    else:
        yield f"Go on with the case of {escaped(case.tag)}."
