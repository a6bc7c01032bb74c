"""What the next shift must know of a case, as plain sections; how it looks is for others to say."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from diagnose.casework import events as e
from diagnose.casework.case import Case
from diagnose.casework.lines import as_found
from diagnose.casework.proofs import did_not_help, ends, latest, proved
from diagnose.casework.telling import behind, cause_name, moment, part_title, percent, tell
from diagnose.inference.ranking import Group, Ranking
from diagnose.loops.names import shown


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a note: ``strong`` text and then the rest; ``as_`` is text, item or step."""

    text: str
    strong: str = ""
    as_: str = "item"


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of cells under a head."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Section:
    """Lines and tables under a title, which may be empty."""

    title: str
    body: tuple[Line | Table, ...]


PROOFS = 6
"""Points of a proof that are told one by one; of more, the ends."""

TOLD = 5
"""Suspects that are told."""

AFTERWARDS = 3
"""The same in a note on a case whose cause was confirmed."""

WORTH_TELLING = 0.01

LONGEST_NOTE = 400
"""Characters of one note on the page."""


def sections(
    case: Case, ranking: Ranking | None = None, sees: bool | None = None, calm: bool = False
) -> tuple[Section, ...]:
    """The note on a case; ``ranking`` is the one of its present evidence, if it is at hand.

    Without it the last recorded ranking tells what is suspected, and no reading is marked.
    ``sees`` is whether the proof would show the fault that was put right; None is not known.
    ``calm``: only steps that do not disturb the loop were weighed.
    """
    before = " before the cause was confirmed" if case.cause else ""
    told = (
        ("OPEN ITEMS: NOT AS THEY BELONG" if case.open_items else "", _open_items(case)),
        ("", _facts(case)),
        ("Readings", _readings(case, ranking)),
        ("Confirmed", _confirmed(case)),
        (f"Suspected{before}", _suspected(case, ranking, calm)),
        ("Done", _done(case)),
        ("Next", _next(case, ranking, sees)),
    )
    return tuple(Section(title, tuple(body)) for title, body in told)


def title(case: Case) -> str:
    """Tag and service."""
    service = shown((case.sheet or {}).get("service", ""), 200)
    return f"Hand-over {case.tag}" + (f": {service}" if service else "")


def _open_items(case: Case) -> Iterator[Line]:
    """What must be put back, before anything else and in capitals."""
    if not case.open_items:
        told = "Open items: none. Nothing is bridged, lifted, bypassed or in manual on record."
        yield Line(told, as_="text")
    for item in case.open_items:
        yield Line(f" since {moment(item.at)}", str(item).upper())


def _facts(case: Case) -> Iterator[Line]:
    told = (
        ("Status", case.status),
        ("Opened", moment(case.opened) if case.opened else ""),
        ("Last entry", moment(case.at) if case.at else ""),
        ("Complaint", "; ".join(_bare(text, "complaint") for text in case.complaints)),
        ("Around it", "; ".join(_bare(text, "context") for text in case.contexts)),
        ("Spent on readings", _minutes(case.minutes)),
    )
    yield from (Line(f"{label}: {text.strip() or 'not recorded'}") for label, text in told)
    where_there = (
        ("As found", _of_remedies(case, lambda item: item.as_found)),
        ("As left", _of_remedies(case, lambda item: item.as_left)),
        ("Cautions acknowledged", ", ".join(dict.fromkeys(case.acknowledged))),
    )
    yield from (Line(f"{label}: {text}") for label, text in where_there if text)


def _minutes(value: float) -> str:
    whole = round(value)
    return f"{whole} minute" if whole == 1 else f"{whole} minutes"


def _of_remedies(case: Case, said: Callable[[e.RemedyTried], str]) -> str:
    """What was said of the repairs; where there were several, each with its part."""
    texts = [(item, said(item)) for item in case.remedies if said(item).strip()]
    heads = [f"{cause_name(item.part, item.fault)}: " * (len(texts) > 1) for item, _ in texts]
    return "; ".join(head + text for head, (_, text) in zip(heads, texts, strict=True))


def _bare(text: str, head: str) -> str:
    first, _, rest = text.partition(" ")
    return rest if first.casefold() == head and rest else text


def _readings(case: Case, ranking: Ranking | None) -> Iterator[Line | Table]:
    if not case.readings:
        yield Line("None yet.", as_="text")
        return
    remarks = _remarks(case, ranking)
    rows = tuple(
        (str(number), f"{item.at:%H:%M}", item.text, item.place, remarks[item.number])
        for number, item in enumerate(case.readings, 1)
    )
    yield Table(("no.", "time", "reading", "place", "remark"), rows)


def _remarks(case: Case, ranking: Ranking | None) -> dict[int, str]:
    """What is to be said of each reading, by its record: withdrawn, corrected, distrusted."""
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


def _confirmed(case: Case) -> Iterator[Line]:
    if not case.confirmed:
        yield Line("Nothing. No cause is proved.", as_="text")
    for item in case.confirmed:
        name = _named(case, item.part, cause_name(item.part, item.fault))
        yield Line(f": {item.evidence.strip()}" if item.evidence.strip() else "", name)
    yield from _proofs(case)


def _proofs(case: Case) -> Iterator[Line]:
    """The last proof reading of each point; earlier ones are counted."""
    proofs = latest(case)
    told = proofs if len(proofs) <= PROOFS else ends(proofs)
    yield from (Line(f"proof: {tell(item)}") for item in told)
    if len(told) < len(proofs):
        yield Line(f"proof: {len(proofs) - len(told)} more points between these, within limits")
    again = len(case.proofs) - len(proofs)
    if again:
        yield Line(f"{again} earlier proof reading{'s were' if again > 1 else ' was'} taken again")


def _named(case: Case, part: str | None, name: str) -> str:
    title = part_title(case, part)
    return f"{name} ({title})" if title else name


def _suspected(case: Case, ranking: Ranking | None, calm: bool) -> Iterator[Line]:
    """Suspicion, kept apart from what is confirmed."""
    top, rest = _beliefs(case, ranking)
    if not top:
        yield Line("No ranking is on record.", as_="text")
        return
    # Once the cause is found the others are of less use, and the note is to stay one page.
    for part, fault, also, chance in top[: AFTERWARDS if case.cause else TOLD]:
        if chance >= WORTH_TELLING:
            cause = _named(case, part, cause_name(part, fault, also))
            yield Line(f"{percent(chance)} {cause}")
    if rest >= WORTH_TELLING:
        yield Line(f"{percent(rest)} none of the faults that the tool knows")
    ties = [_ties(group, ranking) for group in (ranking.groups if ranking else ())]
    told = [f"{', '.join(names[:-1])} and {names[-1]}" for names in ties if len(names) > 1]
    if told and not case.cause:  # what it was has been found since
        reach = "that leaves the loop undisturbed" if calm else "within reach"
        yield Line(f"No reading {reach} tells apart: {'; '.join(told)}.")


def _ties(group: Group, ranking: Ranking | None) -> list[str]:
    """Names of the members of a group that are worth telling."""
    told = ranking.hypotheses[:TOLD] if ranking else ()
    return [
        cause_name(item.part, item.fault, item.also) if item.part else "a sound loop"
        for item in told
        if item.group == group.number and item.probability >= WORTH_TELLING
    ]


def _beliefs(case: Case, ranking: Ranking | None) -> tuple[e.Top, float]:
    if ranking is not None:
        return tuple(
            (item.part, item.fault, item.also, item.probability) for item in ranking.hypotheses
        ), ranking.unexplained
    last = case.last_ranking
    return (last.top, last.unexplained) if last else ((), 0.0)


def _done(case: Case) -> Iterator[Line]:
    said = {as_found(item.part, item.fault, item.as_found) for item in case.remedies}
    told = [
        *(f"found good: {tell(item)}" for item in case.looks),
        *(f"repaired: {cause_name(item.part, item.fault)}" for item in case.remedies),
        *["that did not help: the hunt goes on"] * did_not_help(case),
        *dict.fromkeys(f"put back: {item}" for item in case.restored),
        *(f"not possible: {tell(item)}" for item in case.declined),
        *(f"note: {_short(item.text)}" for item in case.notes if item.text not in said),
    ]
    yield from map(Line, told or ["readings only"])


def _short(text: str) -> str:
    """A note of some lines at most: the case holds the rest of it."""
    return text if len(text) <= LONGEST_NOTE else f"{text[:LONGEST_NOTE]} ... (cut: cases show)"


def _next(case: Case, ranking: Ranking | None, sees: bool | None) -> Iterator[Line]:
    steps = (*_put_back(case), *_onwards(case, ranking, sees), *_behind(case, ranking))
    yield from (Line(step, as_="step") for step in steps)
    reminder = "Site procedures, permits and competent people decide; this note only reminds."
    yield Line(reminder, as_="text")


_SEEN = {
    True: ": confirm the cause",
    None: ": confirm the cause, if the proof would show it",
    False: " and would not show the fault: prove it as it runs, then confirm the cause",
}
"""What follows from a good proof, by whether it sees the fault."""


def _repaired(case: Case, sees: bool | None) -> str:
    """What is due after a repair that is not yet confirmed as the cause."""
    proofs = latest(case)
    if not proofs:
        return "Prove the repair, then confirm the cause"
    if all(item.passed for item in proofs):
        return f"The proof is within limits{_SEEN[sees]}"
    return "Readings of the proof are outside of their limits: go on after the repair"


def _put_back(case: Case) -> Iterator[str]:
    if case.open_items:
        yield "Put back the open items above, or agree with the operator that they stay."


def _behind(case: Case, ranking: Ranking | None) -> Iterator[str]:
    """A further fault that may hide: told once a repair is near, until proofs are within limits."""
    if ranking is None or proved(case):
        return
    hidden = behind(ranking.behind)
    if hidden and (ranking.resolved or not ranking.next or case.remedies):
        yield f"{hidden}."


def _onwards(case: Case, ranking: Ranking | None, sees: bool | None) -> Iterator[str]:
    if case.ending and case.ending != e.HANDED_OVER:
        yield f"Nothing: the case is closed ({case.ending})."
    elif case.cause:
        yield "Close the case." if proved(case) else "Prove the repair, then close the case."
    elif case.remedies and not did_not_help(case):
        tried = case.remedies[-1]
        name = cause_name(tried.part, tried.fault)
        yield f"{_repaired(case, sees)}: {name}."
    elif ranking and ranking.next:
        step = ranking.next[0]
        yield f"Measure {step.text} ({step.place}, {_minutes(step.minutes)})."
    elif ranking and ranking.remedy:
        first = ranking.remedy[0]
        yield f"{first.part}: {first.action}. Then prove the repair."
    elif case.advice:
        yield f"Measure {case.advice[-1].text} (the last advice)."
    else:
        yield f"Go on with the case of {case.tag}."
