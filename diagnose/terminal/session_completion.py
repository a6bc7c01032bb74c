"""Completion of a session's line: a pure function of what is typed and where the hunt stands."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from diagnose.casework.case import Case
from diagnose.casework.events import ENDINGS
from diagnose.inference.complaints import complaints
from diagnose.inference.measurement import contexts_of
from diagnose.inference.reading_names import find_part, known_nodes
from diagnose.inference.reading_suggest import begins
from diagnose.inference.reading_words import FUNCTIONS
from diagnose.inference.readings import suggest
from diagnose.loops.loop import Loop
from diagnose.terminal.session_commands import WORDS, Word, command_of

Offers = Callable[[list[str], Loop, Case], Iterable[str]]


def offers(text: str, loop: Loop, case: Case, asked: str = "") -> list[str]:
    """What the word being typed may become; commands and readings, best first.

    ``asked`` is the prompt of the question that stands.
    """
    command, rest = command_of(text)
    begun = "" if text[-1:].isspace() or not text else text.split()[-1]
    if command is not None and (rest or text[-1:].isspace()):
        return _behind(command, rest, begun, loop, case)
    first = [] if text.split()[1:] else _fitting(begun, _answers(asked, loop))
    return [*dict.fromkeys((*first, *suggest(text, loop), *_fitting(begun, _commands(text))))]


def _answers(asked: str, loop: Loop) -> list[str]:
    """Words that answer a question: facts, or what a lamp or a loop beside this one may be."""
    if asked in _FACTS:
        return [*_FACTS[asked](loop)]
    return suggest(f"{asked} ", loop) if len(asked.split()) == 1 else []


def _commands(text: str) -> list[str]:
    """Command names that a line may become; of two words, the one that is due."""
    done = " ".join(text.casefold().split()[: -1 if text[-1:] != " " else None])
    names = [word.name for word in WORDS]
    if not done:
        return names
    return [name.removeprefix(f"{done} ") for name in names if name.startswith(f"{done} ")]


def _behind(command: Word, rest: str, begun: str, loop: Loop, case: Case) -> list[str]:
    """Offers behind the name of a command."""
    if command.takes == "reading":
        return suggest(f"{rest} " if rest and not begun else rest, loop)
    done = rest.split()[: -1 if begun and rest else None]
    found = _TAKES.get(command.takes)
    return _fitting(begun, found(done, loop, case)) if found else []


def _fitting(begun: str, words: Iterable[str]) -> list[str]:
    return [word for word in dict.fromkeys(words) if begins(word, begun.casefold())]


def _tail(done: list[str], phrases: Iterable[str]) -> list[str]:
    """What is left of phrases that begin with the words already typed."""
    folded = [word.casefold() for word in done]
    split = ((phrase, phrase.split()) for phrase in phrases)
    return [
        " ".join(words[len(done) :])
        for _, words in split
        if [word.casefold() for word in words[: len(done)]] == folded and len(words) > len(done)
    ]


def _places(done: list[str], loop: Loop, case: Case) -> list[str]:
    return _tail(done, [place.name for place in loop.places])


def _excludable(done: list[str], loop: Loop, case: Case) -> list[str]:
    return _tail(done, [*(place.name for place in loop.places), *FUNCTIONS])


def _numbers(done: list[str], loop: Loop, case: Case) -> list[str]:
    many = enumerate(case.readings, 1)
    return [] if done else [str(n) for n, item in many if item.withdrawn is None]


def _open(done: list[str], loop: Loop, case: Case) -> list[str]:
    return [] if done else [*map(str, range(1, len(case.open_items) + 1)), "all"]


def _faults(done: list[str], loop: Loop, case: Case) -> list[str]:
    """Parts that can fail, then the faults of the part."""
    if not done:
        return [part.name for part in loop.parts if part.kind.modes]
    part = find_part(done[0], loop)
    return _tail(done[1:], [mode.name for mode in part.kind.modes]) if part else []


def _points(done: list[str], loop: Loop, case: Case) -> list[str]:
    parts = () if done else (part.name for part in loop.parts if part.kind.branches)
    return [*known_nodes(loop), *parts]


def _endings(done: list[str], loop: Loop, case: Case) -> list[str]:
    return _tail(done, ENDINGS)


def _names(done: list[str], loop: Loop, case: Case) -> list[str]:
    return _tail(done, [word.name for word in WORDS])


_TAKES: dict[str, Offers] = {
    "place": _places, "without": _excludable, "number": _numbers, "item": _open,
    "fault": _faults, "point": _points, "ending": _endings, "command": _names,
}  # fmt: skip

_FACTS: dict[str, Callable[[Loop], Iterable[str]]] = {
    "complaint": complaints,
    "context": contexts_of,
}
