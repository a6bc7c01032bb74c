"""What a session asks first, because it costs nothing: complaint, context, indications."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from diagnose.errors import DiagnoseError, ReadingError
from diagnose.inference import beside
from diagnose.inference.candidates import MANNED
from diagnose.inference.complaints import complaints
from diagnose.inference.measurement import (
    COMPLAINTS,
    Complaint,
    Context,
    Measurement,
    Reading,
    contexts_of,
    states_of,
)
from diagnose.inference.reading_values import PROCESS_WORDS
from diagnose.inference.reading_words import COMPLAINT_WORDS
from diagnose.inference.readings import parse_line
from diagnose.loops.loop import Loop, Neighbour, Part
from diagnose.loops.names import without_hyphen
from diagnose.quantities import format_quantity, whole_number
from diagnose.terminal.asked_value import settled
from diagnose.terminal.naming import looked_at
from diagnose.terminal.session_lamps import FEW, lamps
from diagnose.terminal.session_lists import beyond, numbered
from diagnose.terminal.session_stop import stop
from diagnose.terminal.session_talk import Question, Talk, begins_reading, is_value
from diagnose.terminal.wording import capital, listed, paragraph

TRUTH = "true value"


def opening(talk: Talk) -> list[Question]:
    """All questions of a new hunt, in the order in which they are asked."""
    others = [neighbour(talk, item) for item in talk.loop.neighbours]
    return [complaint(talk), context(talk), *_displays(talk), *others, truth(talk)]


def ask_again(talk: Talk, gone: Iterable[str]) -> None:
    """Put what was asked first before the question that stands, where its answer was taken back.

    ``gone`` are lines of evidence that count no more.
    """
    answers = {_answer_to(line, talk.loop) for line in gone}
    for question in opening(talk):
        if answers.isdisjoint({question.prompt, *question.asks}):
            continue
        ahead = [item.prompt for item in talk.questions]
        if question.rest is not None and question.prompt in ahead:
            del talk.questions[ahead.index(question.prompt)]
        elif question.prompt in ahead:
            continue
        talk.questions.insert(0, question.rest() or question if question.rest else question)


def _answer_to(line: str, loop: Loop) -> Measurement | str:
    """What a line of evidence answers: a measurement, a fact, or a question by its prompt."""
    found = parse_line(line, loop)
    if isinstance(found, Reading):
        return found.measurement
    if isinstance(found, Context) and found.fact not in contexts_of(loop):
        return found.fact
    return line.split()[0]


def _displays(talk: Talk) -> list[Question]:
    """A question for each display at hand; of many lamps, one for all of them."""
    at_hand = within_reach(talk.loop, talk.hunt.place)
    states = [p for p in at_hand if states_of(Measurement("shows", (p.name,)), talk.loop)]
    if len(states) <= FEW:
        return [shows(talk, part) for part in at_hand]
    return [*(shows(talk, p) for p in at_hand if p not in states), lamps(talk, states)]


def begin(talk: Talk, new: bool) -> Iterator[str]:
    """The first question of a new case, or where an old one stands."""
    talk.questions, talk.changed = opening(talk) if new else [], not new
    stop(talk)  # nobody may have answered it on the shift before
    yield from talk.ahead()


def within_reach(loop: Loop, place: str) -> list[Part]:
    """Displays that can be read without walking: here, and where somebody answers the radio."""
    return [part for part in loop.parts if part.kind.shows and part.read_at in (place, MANNED)]


def complaint(talk: Talk) -> Question:
    """What the loop was reported for."""
    names = complaints(talk.loop)

    def answer(line: str) -> Iterator[str]:
        number = chosen(line, len(names))
        beyond(line, len(names))
        if number:
            text = f"complaint {names[number - 1]}"
        elif _is_reading(line, talk.loop) or not line:
            text = line
        else:
            # "tripped" is said of a lamp as well: alone it would be taken for a value.
            alone = line.casefold() in COMPLAINT_WORDS and not is_value(line)
            text = line if alone else f"complaint {line}"
        yield from _entered(talk, text)
        if not line or _is_complaint(text, talk.loop):
            talk.settled()

    text = ("", "What is complained of? A number, or words; Enter if nobody can tell.")
    return Question(
        "complaint",
        answer,
        (*text, *numbered({name: COMPLAINTS[name] for name in names}, talk.look)),
    )


def _is_complaint(line: str, loop: Loop) -> bool:
    try:
        return isinstance(parse_line(line, loop), Complaint)
    except DiagnoseError:
        return False


def _is_reading(line: str, loop: Loop) -> bool:
    """Whether a line is a reading, or begins like one and has a mistake."""
    if begins_reading(line):
        return True
    try:
        return isinstance(parse_line(line, loop), Reading)
    except DiagnoseError:
        return False


def _is_late_complaint(line: str, loop: Loop) -> bool:
    """Whether a line is a complaint and no fact of the surroundings."""
    return _is_complaint(line, loop) and not _is_line(f"context {line}", loop)


def _is_line(line: str, loop: Loop) -> bool:
    """Whether a line can be taken by itself: a reading, a complaint, a fact."""
    try:
        return bool(parse_line(line, loop))
    except DiagnoseError:
        return False


def context(talk: Talk) -> Question:
    """What surrounds the complaint; several at once."""
    known = contexts_of(talk.loop)
    names = list(known)

    def answer(line: str) -> Iterator[str]:
        pieces = [piece for piece in re.split(r"[\s,;+]+", line) if piece]
        numbers, beside = [chosen(piece, len(names)) for piece in pieces], False
        beyond(line, len(names))
        if all(numbers):
            texts = [f"context {names[number - 1]}" for number in numbers]
        elif beside := _is_reading(line, talk.loop) or _is_late_complaint(line, talk.loop):
            texts = [line]
        else:
            # A comma before a digit is a decimal one.
            pieces = re.split(r",(?![0-9])|;|\band\b", line)
            texts = [_as_fact(piece) for piece in pieces if piece.strip()]
        for text in texts:
            parse_line(text, talk.loop)
        for text in texts:
            yield from _entered(talk, text)
        if not beside:
            talk.settled()

    text = ("", "What goes on around it? Numbers, or words; Enter for nothing known.")
    return Question("context", answer, (*text, *numbered(known, talk.look)))


def _as_fact(text: str) -> str:
    first = text.split()[0].casefold().rstrip(":")
    return text.strip() if first in ("context", "fact", "complaint") else f"context {text.strip()}"


def neighbour(talk: Talk, item: Neighbour) -> Question:
    """What a loop does that goes through some of the same parts."""
    common = f", {item.title}" if item.title else ""
    text = f"How is {item.tag}{common}? Affected or well; Enter to leave it out."

    def answer(line: str) -> Iterator[str]:
        plain = line.casefold() in beside.WORDS or not line or _same_head(item.tag, line)
        if not plain and not _is_line(line, talk.loop):
            raise ReadingError(line, f"{item.tag} is 'affected' or 'well'; Enter leaves it out")
        whole = line if not plain or _same_head(item.tag, line) else f"{item.tag} {line}"
        yield from _entered(talk, whole if line else "")
        if plain:
            talk.settled()

    known = frozenset(beside.fact(item.tag, state) for state in (beside.AFFECTED, beside.WELL))
    return Question(item.tag, answer, tuple(paragraph(text, talk.look)), asks=known)


def shows(talk: Talk, part: Part) -> Question:
    """What one display shows."""
    wanted = Measurement("shows", (part.name,))
    states = states_of(wanted, talk.loop)
    what = f"{part.name} ({looked_at(part)}, {part.read_at})"
    if states is None:
        asked = f"What does {what} show? Such as {_example(talk.loop, part.name)}"
    else:
        asked = f"How is {what}? {capital(states.either)}{states.note}"
    text = f"{asked}; Enter to leave it out."

    def answer(line: str) -> Iterator[str]:
        yield from _valued(talk, f"{part.name} {line}", line)

    return Question(
        part.name, answer, tuple(paragraph(text, talk.look)),
        asks=frozenset({wanted, part.name}), words=frozenset(states.words if states else ()),
    )  # fmt: skip


def _example(loop: Loop, display: str) -> str:
    """How the value of a display may be typed: ``62 % or 1116 mm``, ``62 %``."""
    own, (unit, low, high) = loop.scale(display), loop.range_of(display)
    if own.unit != "1":
        return format_quantity(own.value(0.62), own.unit)
    also = f" or {low + 0.62 * (high - low):g} {unit}" if unit != "%" else ""
    return f"62 %{also}"


def truth(talk: Talk) -> Question:
    """What the process truly is, if anybody knows it apart from this loop."""
    unit, low, high = talk.loop.range
    also = f" or {low + 0.45 * (high - low):g} {unit}" if unit != "%" else ""
    source = "another thermometer" if unit == "degC" else "a gauge, a dip or a sample"
    text = f"True value, from {source}? Such as 45 % +- 3 %{also}; Enter if unknown."
    orders = [part.name for part in talk.loop.parts if _orders(part)]
    if orders:
        text = f"What does the plant ask of {talk.loop.tag}? Such as 45 %; Enter if unknown."
    if talk.loop.states and "output" in talk.loop.role:
        text = "Should it be on or off, as somebody knows apart from this loop? Enter if unknown."
    elif talk.loop.states:
        text = (
            "Where is the process, as somebody knows apart from this loop? High (the end called "
            f"{high:g} {unit}) or low ({low:g} {unit}); Enter if unknown."
        )

    def answer(line: str) -> Iterator[str]:
        yield from _valued(talk, f"process {line}", line, talk.loop.states)

    told = (Measurement("shows", (name,)) for name in orders)
    known: frozenset[Measurement | str] = frozenset({Measurement("process", ()), "process", *told})
    return Question(TRUTH, answer, tuple(paragraph(text, talk.look)), asks=known)


def _orders(part: Part) -> bool:
    """Whether a display tells what is asked of an output: the command, or the faceplate."""
    kind = part.kind
    return bool(kind.shows and kind.driven) and not (kind.pins or kind.follows)


def _valued(talk: Talk, whole: str, line: str, states: bool = False) -> Iterator[str]:
    """A value for the question, or any other line: then the question stays.

    Where a process has ``states``, high and low are values, and no complaints.
    """
    if line != settled(line):
        line = settled(line)
        whole = f"{whole.split(maxsplit=1)[0]} {line}"
    known = is_value(line) or (states and line.casefold() in PROCESS_WORDS)
    if line and not known and not _same_head(whole, line):
        if len(line.split()) == 1 and not _is_line(line, talk.loop):
            parse_line(whole, talk.loop)  # a word is an answer: its mistake is told as one
        yield from _entered(talk, line)
        return
    yield from _entered(talk, (line if _same_head(whole, line) else whole) if line else "")
    talk.settled()


def _same_head(whole: str, line: str) -> bool:
    """Whether a whole line was typed for the very thing that was asked, hyphen or not."""
    return bool(line) and without_hyphen(line.split()[0]) == without_hyphen(whole.split()[0])


def _entered(talk: Talk, line: str) -> Iterator[str]:
    """Take a line; where all was skipped the ranking is shown at the end all the same."""
    talk.changed = True
    if line:
        yield from talk.entered(line)


def chosen(line: str, many: int) -> int:
    """The number of an option, 0 where the line is none."""
    return whole_number(line, 1, many) or 0


def asked(questions: list[Question]) -> str:
    """The prompts of questions, for a sentence."""
    return listed([question.prompt for question in questions])
