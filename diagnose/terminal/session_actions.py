"""What the commands of a session do, apart from the end of a hunt."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.casework import events as e
from diagnose.casework.checks import CaseError
from diagnose.casework.lines import as_said
from diagnose.errors import ReadingError
from diagnose.inference.cautions import CAUTIONS, STANDING
from diagnose.inference.examples import examples
from diagnose.inference.readings import parse_measurement
from diagnose.quantities import whole_number
from diagnose.terminal import session_lists as lists
from diagnose.terminal.asked_value import decimals, line_of
from diagnose.terminal.find_evidence import excluded, named_place
from diagnose.terminal.naming import place_title
from diagnose.terminal.render_doubt import distrust
from diagnose.terminal.render_ranking import bars, verdict
from diagnose.terminal.render_repair import footnotes
from diagnose.terminal.session_questions import ask_again
from diagnose.terminal.session_talk import Talk, is_value
from diagnose.terminal.wording import capital, listed, paragraph


def ok(talk: Talk, rest: str) -> Iterator[str]:
    """Answer the red cautions of the step; a value that was kept is entered then."""
    if talk.question is not None:
        yield from talk.question.answer("ok")
        return
    owed, talk.owed = talk.owed, ()
    talk.hunt.acknowledge(owed)
    task = talk.hunt.task() if talk.told else None
    if task is None or talk.hunt.agreed(task):
        yield "Noted." if owed else "Nothing waits for ok."
        return
    talk.hunt.agree(task)
    if talk.held:
        yield from talk.entered(talk.held)
    else:
        yield "Noted."


def not_possible(talk: Talk, rest: str) -> Iterator[str]:
    """Decline the step in hand, or leave out what was asked."""
    if talk.question is not None:
        yield from talk.question.answer("")
        return
    task = talk.hunt.task()
    if task is None:
        raise CaseError("no measurement is asked for")
    talk.hunt.decline(task.measurement, rest)
    talk.changed, talk.held = True, ""
    yield f"Left out from now on: {task.text}."


def other(talk: Talk, rest: str) -> Iterator[str]:
    """Turn to the next best step."""
    _stepping(talk)
    if not talk.hunt.other():
        yield "No other step is worth its minutes."
    talk.changed, talk.held = True, ""


def _stepping(talk: Talk) -> None:
    """CaseError while the first questions are asked: no step was advised yet."""
    if talk.question is not None and not talk.told:
        raise CaseError("no step is advised yet; Enter leaves out what is asked")


def more(talk: Talk, rest: str) -> Iterator[str]:
    """Go on measuring although one explanation is ahead."""
    _stepping(talk)
    talk.hunt.onward = True
    talk.changed = True
    if not talk.hunt.ranking().next:
        yield "No further step is worth its minutes; any reading is taken all the same."


def undo(talk: Talk, rest: str) -> Iterator[str]:
    """Take back what was entered last: a proof reading, a complaint, a reading, a change to it."""
    if talk.question is not None and talk.question.back is not None:
        yield from talk.question.back()
        return
    if isinstance(talk.hunt.file.events[-1].event, e.ProofTaken):
        raise CaseError("a proof is taken again: type proof, and Enter for the points that stand")
    talk.changed, before = True, talk.hunt.case.evidence
    yield talk.hunt.mending.undo()
    if talk.question is not None and not talk.told:
        ask_again(talk, set(before) - set(talk.hunt.case.evidence))


def correct(talk: Talk, rest: str) -> Iterator[str]:
    """Put another value in the place of a reading's."""
    number, text = _numbered(rest, "correct 2 3.42")
    if not text:
        raise CaseError("say what it should have been, such as: correct 2 3.42")
    yield f"Reading {number}: {talk.hunt.mending.correct(number, text)}"
    talk.changed = True


def withdraw(talk: Talk, rest: str) -> Iterator[str]:
    """Take a reading, a complaint or a fact out of the evidence."""
    if rest and not rest[0].isdigit():
        yield f"'{talk.hunt.mending.unsay(rest)}' counts no more."
        talk.changed = True
        return
    number, reason = _numbered(rest, "withdraw 2 wrong terminal")
    talk.hunt.mending.withdraw(number, reason or "withdrawn")
    talk.changed = True
    yield f"Reading {number} counts no more."


def retake(talk: Talk, rest: str) -> Iterator[str]:
    """Ask for a reading once more."""
    number, _ = _numbered(rest, "retake 2")
    talk.hunt.retake(number)
    talk.held, talk.changed = "", True
    return iter(())


def _numbered(rest: str, example: str) -> tuple[int, str]:
    """A reading's number and the words behind it."""
    first, _, text = rest.partition(" ")
    number = whole_number(first, 0, 999_999)
    if number is None:
        raise CaseError(f"say which reading, such as: {example} (list shows their numbers)")
    return number, text.strip()


def what_if(talk: Talk, rest: str) -> Iterator[str]:
    """The ranking with one more line, which is not entered."""
    if not rest:
        line = next(iter(examples(talk.loop).readings), "process 50 %")
        raise CaseError(f"say what the reading would be, such as: what if {line}")
    task = talk.hunt.task() if talk.told else None
    line = rest
    if task is not None and is_value(rest):
        line = line_of(task, rest)
    after = talk.hunt.what_if(decimals(line, talk.loop))
    yield from lists.change(talk.hunt.ranking(), after, talk.loop, talk.look)


def note(talk: Talk, rest: str) -> Iterator[str]:
    """Keep some words in the case."""
    if not rest:
        raise CaseError("write the note behind the word, such as: note gland W4 loose")
    talk.hunt.file.append(e.Noted(rest))
    yield "Noted."


def at(talk: Talk, rest: str) -> Iterator[str]:
    """Say where you stand."""
    if rest:
        talk.hunt.stand(named_place(rest, talk.loop))
        talk.changed = talk.told
    yield f"You stand at: {place_title(talk.hunt.place, talk.loop)}."


def without(talk: Talk, rest: str) -> Iterator[str]:
    """Rule out a place or a meter function."""
    for word in sorted(excluded([rest], talk.loop)):
        talk.hunt.rule_out(word)
        talk.changed = True
    out = sorted(talk.hunt.without)
    yield f"Ruled out: {listed(out)}." if out else "Nothing is ruled out."


def list_readings(talk: Talk, rest: str) -> Iterator[str]:
    """The readings in force."""
    readings = talk.hunt.case.readings
    lines = [(n, item.text) for n, item in enumerate(readings, 1) if item.withdrawn is None]
    case = talk.hunt.case
    yield from (f"      {as_said('complaint', text)}" for text in case.complaints)
    yield from (f"      {as_said('context', text)}" for text in case.contexts)
    yield from lists.readings(lines, talk.hunt.ranking(), talk.look)
    yield from (f"      {line}" for line in case.found_good)


def cautions(talk: Talk, rest: str) -> Iterator[str]:
    """All cautions of the step in hand, in full, with the standing ones."""
    task = talk.hunt.task() if talk.told else None
    keys = [*STANDING, *(task.cautions if task else ())]
    for key in keys:
        head = "STOP: " if CAUTIONS[key].acknowledge else ""
        yield from paragraph(f"{head}{CAUTIONS[key].text} [{CAUTIONS[key].family}]", talk.look)


def rank(talk: Talk, rest: str) -> Iterator[str]:
    """The ranking in full, with everything that is left out of the short one."""
    ranking, look, calm = talk.hunt.ranking(), talk.look, bool(talk.hunt.missing)
    said = verdict(ranking, talk.loop, len(talk.hunt.case.evidence), calm)
    yield from map(look.strong, paragraph(said, look))
    yield ""
    yield from bars(ranking, talk.loop, look, calm)
    yield from distrust(ranking, look)
    yield from footnotes(ranking, look)


def show(talk: Talk, rest: str) -> Iterator[str]:
    """The screen once more."""
    if talk.question is None:
        yield from talk.turn()
    elif not talk.drawn:
        yield from talk.question.text


def loop_drawn(talk: Talk, rest: str) -> Iterator[str]:
    """The loop, part by part and terminal by terminal."""
    # Imported late, like the engine: the first question is asked at once.
    from diagnose.terminal.render_loop import loop_lines

    task = talk.hunt.task() if talk.told else None
    step = task.measurement if task else None
    picture = talk.pictures.draw(talk.hunt, talk.hunt.ranking(), step)
    yield from paragraph(f"{capital(picture.title)}.", talk.look)
    yield from loop_lines(picture.rows, talk.loop, talk.look)


def cancel(talk: Talk, rest: str) -> Iterator[str]:
    """Leave the question that stands, and those that would follow it."""
    yield "Left." if talk.questions else "Nothing is being asked."
    talk.questions.clear()
    talk.changed = True


def quit_(talk: Talk, rest: str) -> Iterator[str]:
    """End the session; the case stays as it is."""
    talk.over = True
    return iter(())


def decline_line(talk: Talk, rest: str) -> Iterator[str]:
    """Decline any measurement."""
    if not rest:
        yield from not_possible(talk, "")
        return
    try:
        measurement = parse_measurement(rest, talk.loop)
    except ReadingError as error:
        task = talk.hunt.task()
        if task is None or talk.question is not None:
            raise error from None
        yield from not_possible(talk, rest)
        return
    talk.hunt.decline(measurement, "")
    talk.changed = True
    yield f"Left out from now on: {rest}."
