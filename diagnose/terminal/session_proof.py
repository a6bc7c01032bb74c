"""The readings that prove a repair, asked for one by one and judged."""

from __future__ import annotations

from collections.abc import Iterator
from math import isfinite

from diagnose.casework import events as e
from diagnose.casework.checks import CaseError
from diagnose.casework.hunt_task import with_value
from diagnose.inference.cautions import cautions_for
from diagnose.inference.measurement import Reading, scale_of
from diagnose.inference.ranking import Proof
from diagnose.inference.readings import parse_line, parse_measurement
from diagnose.terminal.session_talk import Question, Talk, joined
from diagnose.terminal.wording import listed, paragraph, span

LAMP = {"lit": 1.0, "dark": 0.0}
"""What counts as a value where a lamp is the proof."""


def proof(talk: Talk, rest: str) -> Iterator[str]:
    """Ask for the proof readings one by one."""
    proofs = talk.hunt.ranking().proof
    if not proofs:
        raise CaseError("this loop has no proof readings: take readings as it runs")
    missing = talk.hunt.missing
    if missing:
        raise CaseError(
            f"the proof drives the loop: first {listed(missing)}, agreed and typed here"
        )
    yield from paragraph(f"{len(proofs)} points, the signal driven to each.", talk.look)
    measurements = [parse_measurement(item.text, talk.loop) for item in proofs]
    keys = dict.fromkeys(key for m in measurements for key in cautions_for(m, talk.loop))
    yield from talk.must_agree(tuple(keys), lambda: _prove(talk, proofs))


def _prove(talk: Talk, proofs: tuple[Proof, ...]) -> Iterator[str]:
    yield "Type what the meter shows; Enter leaves a point out."
    results: list[bool] = []
    for item in reversed(proofs):
        talk.questions.insert(0, _point(talk, item, results, item is proofs[-1]))


def _point(talk: Talk, item: Proof, results: list[bool], last: bool) -> Question:
    due = span(item.low, item.high, item.unit)

    def answer(line: str) -> Iterator[str]:
        if line:
            passed = _judge(talk, item, with_value(item.text, line))
            results.append(passed)
            yield f"{'Within' if passed else 'NOT within'} {due}."
        talk.settled()
        if last:
            yield from _sum(talk, results)

    return Question(f"{item.text}", answer, (f"Within its limits: {due}.",))


def _judge(talk: Talk, item: Proof, text: str) -> bool:
    """Record one proof reading; what it altered becomes an open item."""
    found = parse_line(text, talk.loop)
    lamp = item.unit == "lit"
    if not isinstance(found, Reading) or found.sort not in (LAMP if lamp else ("value",)):
        wanted = "lit or dark" if lamp else "a value, such as 3.001"
        raise CaseError(f"this proof is {wanted}; Enter leaves it out")
    scale = scale_of(found.measurement, talk.loop)
    seen = LAMP[found.sort] if lamp else float(scale.value(found.value))
    passed = item.low <= seen <= item.high
    list(talk.hunt.open_for(found.measurement))
    low, high = (end if isfinite(end) else None for end in (item.low, item.high))
    talk.hunt.file.append(e.ProofTaken(text, low, high, passed))
    return passed


def _sum(talk: Talk, results: list[bool]) -> Iterator[str]:
    good = f"{sum(results)} of {len(results)} within their limits."
    if not results:
        yield "No proof was taken."
    elif all(results):
        tried = talk.hunt.case.remedies[-1:]
        name = " ".join(filter(None, (tried[0].part, tried[0].fault))) if tried else "PART FAULT"
        yield from paragraph(f"Proved: {good} Type confirm {name}, put back, close.", talk.look)
    else:
        yield from paragraph(
            f"Not proved: {good} The fault is still there, or there is another: show.", talk.look
        )
    if talk.hunt.case.open_items:
        yield from paragraph(f"Still open: {joined(talk.hunt.case.open_items)}.", talk.look)
