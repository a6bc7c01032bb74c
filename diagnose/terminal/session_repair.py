"""The end of a hunt: remedy in order, proof, the cause confirmed, the case closed, the note."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from diagnose.casework import events as e
from diagnose.casework.checks import CaseError
from diagnose.casework.lines import as_found
from diagnose.casework.lines import found_good as line_of
from diagnose.errors import UnknownNameError
from diagnose.inference.cautions import beyond_extra_low, of_wiring
from diagnose.inference.examples import examples
from diagnose.inference.found_good import parted
from diagnose.inference.measurement import Reading
from diagnose.inference.ranking import Remedy
from diagnose.inference.reading_names import find_part
from diagnose.inference.readings import parse_line
from diagnose.library import write_whole
from diagnose.loops.loop import EARTH
from diagnose.quantities import whole_number
from diagnose.terminal.naming import fault_name
from diagnose.terminal.proof_due import proof_due
from diagnose.terminal.render_repair import MOST, repair
from diagnose.terminal.session_good import NOT_IT, found_good
from diagnose.terminal.session_return import back_to_service
from diagnose.terminal.session_talk import Question, Talk
from diagnose.terminal.session_view import unproved
from diagnose.terminal.wording import capital, listed, paragraph

# -- remedy ---------------------------------------------------------------------------------------


def remedy(talk: Talk, rest: str) -> Iterator[str]:
    """The repairs in order; with a number, record that one of them was done."""
    ranking = talk.hunt.ranking()
    found = ranking.remedy[:MOST]
    if not rest:
        shown = talk.drawn and talk.hunt.task() is None and not talk.hunt.case.remedies
        yield from repair(ranking, talk.loop, talk.look) if not shown else ()
        talk.listed = ("remedy", len(found))
        yield (
            "Type remedy and its number when you go and put it right."
            if found
            else ("Nothing stands out yet that could be put right.")
        )
        return
    number = whole_number(rest, 1, len(found))
    if number is None:
        raise CaseError(f"there is no remedy {rest[:20]}; remedies: 1 to {len(found)}")
    item = found[number - 1]
    name = fault_name(item.part, item.fault, talk.loop)
    yield from paragraph(f"{name}: {capital(item.action)}.", talk.look)
    yield from talk.must_agree(_cautions(talk, item), lambda: _ask_found(talk, item))


def _cautions(talk: Talk, item: Remedy) -> tuple[str, ...]:
    """What belongs to working on a part where it is."""
    areas = {place.name: place.area for place in talk.loop.places}
    keys = ["zone", "enclosure"] if areas.get(item.place, "safe") != "safe" else []
    roles = {"trip": "trip", "control": "manual", "output": "output"}
    keys += [roles[role] for role in sorted(talk.loop.role) if role in roles]
    part = find_part(item.part or "", talk.loop)
    if part is not None and part.pins:
        keys += of_wiring(talk.loop)
        keys += ["mains work" if beyond_extra_low(talk.loop) else "wire work"]
        keys += ["earth"] if EARTH in part.pins.values() else []
    for mode in part.kind.modes if part is not None else ():
        if mode.name == item.fault:
            usual = ("process side",) if mode.group == "process connection" else ()
            keys += mode.cautions or usual
    return (*dict.fromkeys(keys), "restore")


def _ask_found(talk: Talk, item: Remedy) -> Iterator[str]:
    """Ask for as-found, which is kept at once, then as-left, then record."""
    known = _found_before(talk, item)

    def found(line: str) -> Iterator[str]:
        seen = line or known
        if not seen:
            yield "As found: say what you saw before you touched it, or cancel."
            return
        talk.settled()
        part = find_part(item.part or "", talk.loop)
        if line.casefold() in NOT_IT and part is not None:
            yield from found_good(talk, part, [item.fault], "")
            return
        if seen != known:
            talk.hunt.file.append(e.Noted(as_found(item.part, item.fault, seen)))
        text = "As left: what was done to it? Enter if nothing was done yet."
        talk.questions.insert(0, Question("as left", lambda left: _done(talk, item, seen, left),
                                          (text,), True))  # fmt: skip

    asks = "As found: what was seen or measured before it was touched?"
    before = (f"As noted before: {known}. Enter keeps that.",) if known else ()
    text = (asks, *before, "Nothing wrong with it? Type good.")
    talk.questions.insert(0, Question("as found", found, text, True))
    return iter(())


def _found_before(talk: Talk, item: Remedy) -> str:
    """How a part was found, if that is noted and nothing was done to it since; else nothing."""
    case, head = talk.hunt.case, as_found(item.part, item.fault)
    done = {r.as_found for r in case.remedies if (r.part, r.fault) == (item.part, item.fault)}
    said = [note.text.removeprefix(head) for note in case.notes if note.text.startswith(head)]
    return said[-1] if said and said[-1] not in done else ""


def _done(talk: Talk, item: Remedy, found: str, left: str) -> Iterator[str]:
    if not left:
        talk.settled()
        text = "Nothing done yet; how it was found is noted. Once it is done, type remedy again."
        yield from paragraph(text, talk.look)
        return
    talk.hunt.file.append(e.RemedyTried(item.part, item.fault, found, left))
    talk.settled()
    first = f"{listed(talk.hunt.missing)} with who agreed, then " if talk.hunt.missing else ""
    how, due = f"Prove it: {first}proof. Then: confirm.", proof_due(talk.hunt)
    if talk.now is not None:
        talk.now = replace(talk.now, sees=due.sees)
    if not due.sees:
        how = unproved(item.part, item.fault, talk.loop, bool(due.proofs))
    yield from paragraph(f"Recorded as tried, not yet as the cause. {how}", talk.look)


# -- confirmed, closed, handed over ---------------------------------------------------------------


def confirm(talk: Talk, rest: str) -> Iterator[str]:
    """Record the cause as confirmed, by the words behind it or by remedy and proof.

    Alone it means what was put right last.
    """
    tried = talk.hunt.case.remedies[-1:]
    if not rest and tried and tried[0].part:
        rest = f"{tried[0].part} {tried[0].fault}"
    part, fault, words = named(talk, rest)
    line = line_of(part, fault)
    if line in talk.hunt.case.found_good:
        raise CaseError(f"it was found good; if it was not: withdraw {line}")
    evidence = words or _evidence(talk, part, fault)
    if evidence:
        yield from _confirm(talk, part, fault, evidence)
        return

    def answer(line: str) -> Iterator[str]:
        if not line:
            yield "Say what shows it; a cause without evidence stays suspected (or cancel)."
            return
        talk.settled()
        yield from _confirm(talk, part, fault, line)

    text = ("What shows that this was the cause? (what was seen, what was read after it)",)
    talk.questions.insert(0, Question("evidence", answer, text, True))


def named(talk: Talk, rest: str) -> tuple[str, str, str]:
    """Part, fault and evidence of a line; fault names may have two words."""
    first, _, tail = rest.partition(" ")
    part = find_part(first, talk.loop)
    able = [item.name for item in talk.loop.parts if item.kind.modes]
    if part is None:
        if not first:
            fault = next(iter(examples(talk.loop).faults), "PART FAULT")
            raise CaseError(f"say which part and fault, such as: confirm {fault}")
        raise UnknownNameError("part", first, able)
    mode, words = parted(part, tail)
    if mode is None and not tail:
        names = ", ".join(m.name for m in part.kind.modes)
        raise CaseError(f"say which fault of {part.name}: {names}")
    if mode is None:
        word = tail.split()[0]
        raise UnknownNameError(f"fault of {part.name}", word, (m.name for m in part.kind.modes))
    return part.name, mode, words


def _evidence(talk: Talk, part: str, fault: str) -> str:
    """What the case itself has to show: as found, and readings within limits afterwards."""
    tried = [r for r in talk.hunt.case.remedies if (r.part, r.fault) == (part, fault)]
    if not tried:
        return ""
    proofs = {_point(talk, item.text): item.passed for item in talk.hunt.case.proofs}
    if not proofs or not all(proofs.values()) or not proof_due(talk.hunt).sees:
        return ""
    found = f"as found: {tried[-1].as_found}; as left: {tried[-1].as_left}"
    return f"{found}; {len(proofs)} proof readings within limits"


def _point(talk: Talk, text: str) -> object:
    """What a proof reading measured: the last one of each point counts."""
    found = parse_line(text, talk.loop)
    return found.measurement if isinstance(found, Reading) else text


def _confirm(talk: Talk, part: str, fault: str, evidence: str) -> Iterator[str]:
    talk.hunt.file.append(e.CauseConfirmed(part, fault, evidence))
    name = fault_name(part, fault, talk.loop)
    yield from paragraph(f"Confirmed: {name}. Evidence: {evidence}.", talk.look)
    yield from back_to_service(talk.hunt.case, talk.loop, talk.look) if not talk.drawn else ()
    yield "Type close once everything is put back."


def close(talk: Talk, rest: str) -> Iterator[str]:
    """End the case; open items block every ending but handing over."""
    if rest:
        yield from _end(talk, rest)
        return
    yield from back_to_service(talk.hunt.case, talk.loop, talk.look)
    names = (f"  {number}  {name}" for number, name in enumerate(e.ENDINGS, 1))
    text = ("How does it end? Its number, or words; Enter leaves the case open.", *names)
    talk.questions.insert(0, Question("ending", lambda line: _ended(talk, line), text,
                                      back=lambda: _ended(talk, "")))  # fmt: skip


def _ended(talk: Talk, line: str) -> Iterator[str]:
    """The answer to how a case ends; a bare number is never taken for a reading."""
    if line:
        yield from _end(talk, line)
        return
    talk.settled()
    yield "Left open."


def _end(talk: Talk, words: str) -> Iterator[str]:
    number = whole_number(words, 1, len(e.ENDINGS))
    ending = e.ENDINGS[number - 1] if number else words.casefold()
    talk.hunt.believed()
    talk.hunt.file.append(e.Closed(ending))
    talk.over = True
    yield f"Closed: {ending}."
    yield f"Note for the next shift: {_saved(talk)}"


def handover(talk: Talk, rest: str) -> Iterator[str]:
    """Print the note for the next shift, and save it beside the case."""
    yield from _note(talk).splitlines()
    yield ""
    yield f"Saved: {_saved(talk)}"


def _note(talk: Talk) -> str:
    from diagnose.casework.handover import handover as note

    repaired = talk.hunt.case.remedies and talk.hunt.case.cause is None
    sees = proof_due(talk.hunt).sees if repaired else None
    return note(talk.hunt.case, talk.hunt.believed(), sees, bool(talk.hunt.missing))


def _saved(talk: Talk) -> Path:
    """Write the note beside the case; CaseError if that fails (the case itself is safe)."""
    path = talk.hunt.file.path.with_suffix(".md")
    try:
        write_whole(path, _note(talk).encode())
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise CaseError(f"the note cannot be written: {reason}; the case itself is kept") from error
    return path
