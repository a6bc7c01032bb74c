"""The readings that prove a repair, asked for one by one and judged."""

from __future__ import annotations

from collections.abc import Iterator
from math import isfinite

from diagnose.casework import events as e
from diagnose.casework.checks import CaseError
from diagnose.casework.hunt_task import as_written, with_value
from diagnose.casework.proofs import latest
from diagnose.inference.cautions import cautions_for
from diagnose.inference.measurement import Applied, Measurement, Reading, scale_of
from diagnose.inference.ranking import Proof
from diagnose.inference.readings import parse_line, parse_measurement
from diagnose.loops.loop import Loop
from diagnose.loops.states import SORTS, STATES
from diagnose.terminal.asked_value import decimals, in_unit
from diagnose.terminal.naming import instruction, preparation
from diagnose.terminal.proof_due import proof_due
from diagnose.terminal.render_advice import MILLIVOLTS
from diagnose.terminal.session_talk import Question, Talk, joined
from diagnose.terminal.session_view import unproved
from diagnose.terminal.wording import capital, count, listed, paragraph, span

BYPASSED = "bypassed"
"""Name of the action that holds a trip."""


def proof(talk: Talk, rest: str) -> Iterator[str]:
    """Ask for the proof readings one by one."""
    proofs = proof_due(talk.hunt).proofs
    if not proofs:
        tried = talk.hunt.case.remedies[-1:]
        part, fault = (tried[0].part, tried[0].fault) if tried else ("PART", "FAULT")
        raise CaseError(unproved(part, fault, talk.loop))
    missing = talk.hunt.missing
    if missing:
        raise CaseError(
            f"the proof drives the loop: first {listed(missing)}, agreed and typed here"
        )
    measurements = [parse_measurement(item.text, talk.loop) for item in proofs]
    yield from paragraph(_how(proofs, measurements, talk.loop), talk.look)
    keys = dict.fromkeys(key for m in measurements for key in cautions_for(m, talk.loop))
    yield from talk.must_agree(tuple(keys), lambda: _prove(talk, proofs))


def _how(proofs: tuple[Proof, ...], measurements: list[Measurement], loop: Loop) -> str:
    """What is done at the points; a trip is tried from the safe side of its trip point."""
    many = count(len(proofs), "point")
    done = [thing for item in measurements for thing in item.condition]
    if all(isinstance(thing, Applied) and thing.value is None for thing in done):
        return f"{many}, the output commanded on and off by hand."
    if "trip" not in loop.role or proofs[0].unit not in STATES:
        return f"{many}, the signal driven to each."
    keys = [p.name for p in loop.parts if any(a.name == BYPASSED for a in p.kind.actions)]
    text = (
        f"{many}, on either side of the trip point, the safe side first; go slowly from there to "
        "the other side and note at which value it trips."
    )
    held = (f" With {key} on, the relay is held and nothing behind it is proved: agree where the "
            "trip is bypassed meanwhile." for key in keys[:1])  # fmt: skip
    return text + "".join(held)


def _prove(talk: Talk, proofs: tuple[Proof, ...]) -> Iterator[str]:
    yield "Type what it shows; Enter leaves a point out, undo goes back by one."
    talk.questions.insert(0, _point(talk, proofs, 0))


def _point(talk: Talk, proofs: tuple[Proof, ...], n: int) -> Question:
    item = proofs[n]
    due, state = span(item.low, item.high, item.unit), item.unit in STATES
    unit = "mV" if item.unit == "V" and max(abs(item.low), abs(item.high)) <= MILLIVOLTS else ""

    def answer(line: str) -> Iterator[str]:
        if line:
            passed = _judge(talk, item, with_value(item.text, in_unit(line, unit)))
            within = f"as due: {due}" if state else f"within {due}"
            yield f"{capital(within)}." if passed else f"NOT {within}. A slip? Type undo."
        talk.settled()
        if n + 1 < len(proofs):
            talk.questions.insert(0, _point(talk, proofs, n + 1))
        else:
            yield from _sum(talk)

    def back() -> Iterator[str]:
        if not n:
            raise CaseError("this is the first point; cancel leaves the proof")
        talk.settled()
        talk.questions.insert(0, _point(talk, proofs, n - 1))
        yield "Once more; what is typed now counts."

    limits = "due" if state else "within its limits:"
    text = f"Point {n + 1} of {len(proofs)}, {limits} {due}."
    prompt = f"{item.text} in {unit}" if unit else item.text
    return Question(prompt, answer, (text, *_deeds(talk, item)), back=back)


def _deeds(talk: Talk, item: Proof) -> Iterator[str]:
    """What is set for a point, and what is read: as a step tells it."""
    wanted = parse_measurement(item.text, talk.loop)
    largest = max((abs(end) for end in (item.low, item.high) if isfinite(end)), default=0.0)
    prepare = preparation(wanted.condition, talk.loop)
    if prepare:
        yield from paragraph(f"{prepare}.", talk.look, "  Set: ")
    yield from paragraph(f"{instruction(wanted, talk.loop, largest)}.", talk.look, "  Do: ")


def _judge(talk: Talk, item: Proof, text: str) -> bool:
    """Record one proof reading; what it altered becomes an open item."""
    found = parse_line(decimals(text, talk.loop), talk.loop)
    states = STATES.get(item.unit)
    if not isinstance(found, Reading) or found.sort not in (SORTS if states else ("value",)):
        wanted = states.either if states else "a value, such as 3.001"
        raise CaseError(f"this proof is {wanted}; Enter leaves it out")
    scale = scale_of(found.measurement, talk.loop)
    seen = float(found.sort == "lit") if states else float(scale.value(found.value))
    passed = item.low <= seen <= item.high
    list(talk.hunt.open_for(found.measurement))
    low, high = (end if isfinite(end) else None for end in (item.low, item.high))
    talk.hunt.file.append(e.ProofTaken(as_written(found, talk.loop), low, high, passed))
    return passed


def _sum(talk: Talk) -> Iterator[str]:
    """What the proof says: the last reading of each point counts."""
    case = talk.hunt.case
    results = [item.passed for item in latest(case)]
    good = f"{sum(results)} of {len(results)} within their limits."
    if not results:
        yield "No proof was taken."
    elif all(results) and not proof_due(talk.hunt).sees:
        part, fault = case.remedies[-1].part, case.remedies[-1].fault
        yield from paragraph(f"{good} {unproved(part, fault, talk.loop, True)}", talk.look)
    elif all(results):
        tried = case.remedies[-1:]
        what = "confirm" if tried and tried[0].part else "confirm PART FAULT"
        yield from paragraph(f"Proved: {good} Type {what}, put back, close.", talk.look)
    else:
        yield from paragraph(
            f"Not proved: {good} The fault is still there, or there is another: anew. "
            "After a slip: proof, and Enter for the points that were right.", talk.look
        )  # fmt: skip
    if case.open_items:
        yield from paragraph(f"Still open: {joined(case.open_items)}.", talk.look)
