"""Many lamps, flags and horns asked for at once: one line may tell several of them."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from diagnose.errors import ReadingError
from diagnose.inference.measurement import Measurement, Reading, states_of
from diagnose.inference.readings import parse_line
from diagnose.loops.loop import Loop, Part
from diagnose.loops.names import without_hyphen
from diagnose.loops.states import LIT, States
from diagnose.terminal.naming import looked_at
from diagnose.terminal.session_talk import Question, Talk, is_value
from diagnose.terminal.wording import listed, paragraph

LAMPS = "lamps"

FEW = 4
"""Displays of a state that are asked for one by one; of more, all are asked for together."""


def lamps(talk: Talk, parts: Sequence[Part]) -> Question:
    """How some displays of a state are, those that can be seen; it stands until Enter."""

    def answer(line: str) -> Iterator[str]:
        talk.changed = True
        for text in _readings(line, parts, _untold(talk, parts), talk.loop):
            yield from talk.entered(text)
        left = rest()
        if not line or left is None:
            talk.settled()
        else:
            if talk.drawn:  # lines that were told are not told again
                talk.questions[0] = left
            yield f"Left: {listed([part.name for part in _untold(talk, parts)])}; Enter for none."

    def rest() -> Question | None:
        untold = _untold(talk, parts)
        return lamps(talk, untold) if untold else None

    asks = frozenset(Measurement("shows", (part.name,)) for part in parts)
    return Question(LAMPS, answer, tuple(_text(talk, parts)), asks=asks, rest=rest)


def _text(talk: Talk, parts: Sequence[Part]) -> Iterator[str]:
    first = [f"{part.name} {_states(talk.loop, part).on}" for part in parts[:2]]
    text = f"How are these? Those that can be seen, such as {', '.join(first)}; Enter for no more."
    yield from paragraph(text, talk.look)
    for part in parts:
        states = _states(talk.loop, part)
        what = f"{part.name} ({looked_at(part)}, {part.read_at}): {states.either}{states.note}"
        yield from paragraph(what, talk.look, "  ", "    ")


def _states(loop: Loop, part: Part) -> States:
    return states_of(Measurement("shows", (part.name,)), loop) or LIT


def _untold(talk: Talk, parts: Sequence[Part]) -> list[Part]:
    """Those of which nothing was said: neither read, nor found impossible to read."""
    said = (parse_line(text, talk.loop) for text in talk.hunt.case.evidence)
    known = {item.measurement.points for item in said if isinstance(item, Reading)}
    return [part for part in parts if (part.name,) not in known]


def _readings(line: str, parts: Sequence[Part], left: Sequence[Part], loop: Loop) -> list[str]:
    """The readings of a line, each parsed before the first is taken."""
    if is_value(line):
        raise ReadingError(line, f"say which: {left[0].name} {line}")
    names = "|".join(re.escape(n) for p in parts for n in (p.name, without_hyphen(p.name)))
    # A comma before a digit is a decimal one.
    pieces = re.split(rf",(?![0-9])|;|\band\b|\s(?=(?:{names})\s)", line, flags=re.IGNORECASE)
    found = [piece.strip() for piece in pieces if piece.strip()]
    for piece in found:
        parse_line(piece, loop)
    return found
