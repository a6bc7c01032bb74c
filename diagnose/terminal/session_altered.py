"""What was altered for a while: listed, recorded, put back."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from diagnose.casework import events as e
from diagnose.casework.case import Open
from diagnose.casework.checks import CaseError
from diagnose.casework.hunt import RECORDS
from diagnose.quantities import whole_number
from diagnose.terminal import session_lists as lists
from diagnose.terminal import session_view as view
from diagnose.terminal.session_talk import Question, Talk, joined
from diagnose.terminal.wording import paragraph

Run = Callable[[Talk, str], Iterable[str]]
"""A command: the talk, and the words behind its name, to lines."""


def items(talk: Talk, rest: str) -> Iterator[str]:
    """What is altered and not yet put back."""
    texts = [str(item) for item in talk.hunt.case.open_items]
    talk.listed = ("done", len(texts))
    yield from lists.items(texts, talk.look)


def done(talk: Talk, rest: str) -> Iterator[str]:
    """Record that something was put back."""
    for item in _meant(talk.hunt.case.open_items, rest):
        talk.hunt.file.append(e.Restored(item.item, item.text))
        yield f"Put back: {item}."
        talk.changed |= talk.told and item.item in RECORDS.values()
    left = talk.hunt.case.open_items
    if left:
        yield from paragraph(f"Still open: {joined(left)}.", talk.look)


def _meant(there: tuple[Open, ...], rest: str) -> tuple[Open, ...]:
    """Open items by number, by words, or all; without a word the only one in the way."""
    if not there:
        raise CaseError("nothing is open")
    passing = tuple(item for item in there if item.item not in RECORDS.values())
    if rest.casefold() == "all" or (not rest and len(there) == 1):
        return there
    if not rest and len(passing) == 1:
        return passing
    number = whole_number(rest, 1, len(there))
    if number:
        return (there[number - 1],)
    found = tuple(item for item in there if rest and rest.casefold() in str(item).casefold())
    if len(found) == 1:
        return found
    known = "; ".join(f"{number} {item}" for number, item in enumerate(there, 1))
    raise CaseError(f"say which, by its number, or all: {known}")


def record(name: str, caution: str, ask: str) -> Run:
    """A command that opens an item in the technician's own words; they answer its caution."""

    def run(talk: Talk, rest: str) -> Iterator[str]:
        if any(item.item == name for item in talk.hunt.case.open_items):
            yield f"{name} is on record already; done {name} when it is taken off."
            return
        # What is kept as acknowledged was on the screen, also where all is said in one line.
        yield from view.cautions((caution,), frozenset(), talk.look)
        if rest:
            yield from keep(talk, rest)
            return

        def answer(line: str) -> Iterator[str]:
            talk.settled()
            first, _, others = line.partition(" ")
            words = others.strip() if first.casefold().rstrip(":") == name else line
            yield from keep(talk, words) if words else ("Nothing was recorded.",)

        text = paragraph(f"{ask} Enter records nothing.", talk.look)
        talk.questions.insert(0, Question(name, answer, tuple(text), True))

    def keep(talk: Talk, words: str) -> Iterator[str]:
        talk.hunt.acknowledge((caution,))
        talk.hunt.file.append(e.Altered(name, words))
        talk.changed |= talk.told and not talk.hunt.missing
        yield from paragraph(f"On record as an open item: {name}: {words}.", talk.look)

    return run
