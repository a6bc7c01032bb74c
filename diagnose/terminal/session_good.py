"""A part that was looked at and is good: one line takes its fault out of the running."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diagnose.casework.checks import CaseError
from diagnose.casework.lines import found_good as line_of
from diagnose.inference.examples import examples
from diagnose.inference.found_good import failing, looked_for
from diagnose.inference.measurement import Cleared
from diagnose.loops.loop import Part
from diagnose.quantities import whole_number
from diagnose.terminal.naming import fault_name
from diagnose.terminal.render_repair import MOST
from diagnose.terminal.session_lists import numbered
from diagnose.terminal.session_talk import Question, Talk
from diagnose.terminal.wording import listed, paragraph

ALL = "all"

NOT_IT = frozenset({"good", "found good", "nothing found", "nothing wrong", "not it"})
"""How it was found where the fault is not there; ``ok`` is typed without looking."""


def good(talk: Talk, rest: str) -> Iterator[str]:
    """Record that a part was looked at and does not have a fault; ask which where that is open."""
    if not rest and talk.question is not None:
        yield from talk.question.answer("good")
        return
    part, text = _named(talk, rest)
    fault, seen = looked_for(part, text)
    first, _, tail = text.partition(" ")
    if first.casefold() == ALL:
        yield from found_good(talk, part, _left(talk, part), tail)
    elif fault is not None:
        yield from found_good(talk, part, [fault], seen)
    elif len(_left(talk, part)) == 1:
        yield from found_good(talk, part, _left(talk, part), text)
    else:
        yield from _which(talk, part, text)


def _named(talk: Talk, rest: str) -> tuple[Part, str]:
    """The part that a line names, or the number of a remedy, and what follows it."""
    first, _, text = rest.partition(" ")
    if not first:
        fault = next(iter(examples(talk.loop).faults), "PART FAULT")
        raise CaseError(f"say which part was looked at and is good, such as: good {fault}")
    number = whole_number(first, 1, MOST)
    if number is not None:
        remedies = talk.hunt.ranking().remedy[:MOST]
        if not number <= len(remedies):
            raise CaseError(f"there is no remedy {number} that could be good; type remedy")
        item = remedies[number - 1]
        return failing(item.part or "", talk.loop), f"{item.fault} {text}".strip()
    return failing(first, talk.loop), text


def _left(talk: Talk, part: Part) -> list[str]:
    """The faults of a part that were not found good yet; CaseError if there is none."""
    known = talk.hunt.case.found_good
    left = [m.name for m in part.kind.modes if line_of(part.name, m.name) not in known]
    if not left:
        raise CaseError(f"{part.name} was found good already")
    return left


def _which(talk: Talk, part: Part, seen: str) -> Iterator[str]:
    """Ask which of several faults was looked for: one look does not rule out all of them."""
    names = _left(talk, part)
    titles = {mode.name: mode.title for mode in part.kind.modes if mode.name in names}

    def answer(line: str) -> Iterator[str]:
        chosen = names if line.casefold() == ALL else _chosen(line, names)
        if not chosen:
            yield f"Type numbers from 1 to {len(names)}, or all; or cancel."
            return
        talk.settled()
        yield from found_good(talk, part, chosen, seen)

    text = (
        *paragraph(f"{part.name}: which of these was looked for, and is not there?", talk.look),
        *numbered(titles, talk.look),
        "Numbers or words, or all; cancel leaves it.",
    )
    asked = Question("not there", answer, text, back=lambda: _leave(talk), words=frozenset(names))
    talk.questions.insert(0, asked)
    return iter(())


def _leave(talk: Talk) -> Iterator[str]:
    """Leave the question: nothing was entered by it yet."""
    talk.settled()
    yield "Left."


def _chosen(line: str, names: Sequence[str]) -> list[str]:
    """The faults that a line names, by their numbers or their words; none if any is wrong."""
    if line.casefold() in {name.casefold() for name in names}:
        return [name for name in names if name.casefold() == line.casefold()]
    numbers = [whole_number(word, 1, len(names)) for word in line.replace(",", " ").split()]
    return [names[n - 1] for n in dict.fromkeys(numbers) if n] if all(numbers) else []


def found_good(talk: Talk, part: Part, faults: Sequence[str], seen: str) -> Iterator[str]:
    """Record faults that were looked for and are not there, and say so."""
    talk.hunt.found_good(*(Cleared(part.name, fault, seen) for fault in faults))
    talk.changed, talk.held = True, ""
    first = fault_name(part.name, faults[0], talk.loop)
    more = f" and {listed(faults[1:])}" if len(faults) > 1 else ""
    yield from paragraph(
        f"Found good, so out of the running: {first}{more}. undo takes it back.", talk.look
    )
