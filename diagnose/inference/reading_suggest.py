"""Completion of a reading line: a pure function of what is typed so far."""

from __future__ import annotations

from collections.abc import Iterable

from diagnose.inference import beside
from diagnose.inference.ammeter import metered
from diagnose.inference.complaints import complaints
from diagnose.inference.conditions import action_value, meaning_of_words
from diagnose.inference.measurement import Measurement, contexts_of, ends_of, states_of
from diagnose.inference.reading_names import (
    find_node,
    find_part,
    supplies,
    touching,
)
from diagnose.inference.reading_words import FUNCTION_WORDS, FUNCTIONS
from diagnose.loops.kind import Action
from diagnose.loops.loop import Loop, Part
from diagnose.loops.names import without_hyphen
from diagnose.loops.states import PART_WAY

_UNITS = {
    "V": ("V", "mV"), "Vlow": ("V", "mV"), "VAC": ("mV", "V"), "mA": ("mA",), "clamp": ("mA",),
    "ohm": ("ohm", "kohm", "Mohm"),
}  # fmt: skip


def suggest(text: str, loop: Loop) -> list[str]:
    """What the word being typed may become (or the next word, behind a blank); best first."""
    words = text[:240].split()
    begun = "" if not words or text[-1:].isspace() else words.pop()
    folded = [word.casefold() for word in words]
    if "with" in folded:
        cut = folded.index("with")
        offered = _condition(words[cut + 1 :], loop)
    else:
        offered = _head(words, loop)
    return _fitting(begun, offered)


def _fitting(begun: str, offered: Iterable[str]) -> list[str]:
    """Words that start as typed come first, then those that hold it; each once."""
    start, unique = begun.casefold(), [*dict.fromkeys(offered)]
    first = [word for word in unique if begins(word, start)]
    within = [word for word in unique if start in word.casefold() and word not in first]
    return first + (within if len(start) > 1 else [])


def begins(word: str, start: str) -> bool:
    """Whether a word begins with small letters as typed, the hyphen of a tag left out or not."""
    return word.casefold().startswith(start) or without_hyphen(word).startswith(start)


def _points(loop: Loop) -> list[str]:
    return [point.name for point in loop.points]


def _head(words: list[str], loop: Loop) -> list[str]:
    """Offers before ``with``."""
    if not words:
        displays = (part.name for part in loop.parts if part.kind.shows)
        others = (item.tag for item in loop.neighbours)
        return [*FUNCTIONS[:6], *displays, "process", "complaint", "context", *others]
    first = words[0].casefold()
    if first in {"complaint", "context"}:
        return _facts(words, complaints(loop) if first == "complaint" else contexts_of(loop))
    if any(first in (item.tag.casefold(), without_hyphen(item.tag)) for item in loop.neighbours):
        return [] if words[1:] else [beside.AFFECTED, beside.WELL]
    part = find_part(words[0], loop)
    if part and part.kind.shows:
        return _display(part, words[1:], loop)
    function = FUNCTION_WORDS.get(first)
    return _FOLLOW[function](function, words[1:], loop) if function else []


def _facts(words: list[str], names: Iterable[str]) -> list[str]:
    """The rest of each fact that begins with the words typed behind its keyword."""
    done = [word.casefold() for word in words[1:]]
    split = (name.split() for name in names)
    return [" ".join(name[len(done) :]) for name in split if name[: len(done)] == done < name]


def _display(part: Part, rest: list[str], loop: Loop) -> list[str]:
    if rest:
        units = [loop.scale(part.name).unit] if part.kind.shows and part.kind.shows.unit else []
        known = [{"Pa": "kPa"}.get(unit, unit) for unit in units] or _shares(
            loop.range_of(part.name)
        )
        return ["with"] if len(rest) > 1 or not rest[0][:1].isdigit() else [*known, "with"]
    wanted = Measurement("shows", (part.name,))
    states = states_of(wanted, loop)
    if states is None and ends_of(wanted, loop) and part.kind.shows:
        return [part.kind.shows.states.on, part.kind.shows.states.off, PART_WAY[0]]
    return [states.on, states.off] if states else []


def _shares(of: tuple[str, float, float]) -> list[str]:
    return list(dict.fromkeys(("%", of[0])))


def _between(function: str, rest: list[str], loop: Loop) -> list[str]:
    """Points, then units, then ``with``."""
    named = sum(1 for word in rest[:2] if find_node(word, loop))
    return _points(loop) if named == len(rest) < 2 else _value(function, rest[named:])


def _value(function: str, rest: list[str]) -> list[str]:
    if not rest:
        return ["OL", "not possible"] if function == "ohm" else ["not possible"]
    return [*_UNITS[function], "with"] if len(rest) == 1 else ["with"]


def _series(function: str, rest: list[str], loop: Loop) -> list[str]:
    if not rest:
        ends = {end for part in metered(loop) for end in part.pins.values()}
        reachable = [name for name in _points(loop) if name in ends]
        return [*reachable, *(part.name for part in metered(loop))]
    return _value(function, rest[2:] if len(rest) > 1 and find_node(rest[1], loop) else rest[1:])


def _wire(function: str, rest: list[str], loop: Loop) -> list[str]:
    if not rest:
        return [part.name for part in loop.parts if part.kind.carries_loop]
    return _value(function, rest[1:])


def _shown(function: str, rest: list[str], loop: Loop) -> list[str]:
    if not rest:
        return [part.name for part in loop.parts if part.kind.shows]
    part = find_part(rest[0], loop)
    return _display(part, rest[1:], loop) if part and part.kind.shows else []


def _process(function: str, rest: list[str], loop: Loop) -> list[str]:
    return [*_shares(loop.range), "+-", "with"] if rest else []


_FOLLOW = {
    "V": _between, "Vlow": _between, "VAC": _between, "ohm": _between,
    "mA": _series, "clamp": _wire, "shows": _shown, "process": _process,
}  # fmt: skip


def _condition(words: list[str], loop: Loop) -> list[str]:
    """Offers behind ``with``: names, their actions, their values, then ``and``."""
    clause = _last_clause(words)
    if not clause:
        return _with_actions(loop)
    if clause[0].casefold() == "jumper":
        return _points(loop) if len(clause) < 3 else ["and"]
    actions = _actions_of(clause[0], loop)
    if len(clause) == 1:
        return [action.name for action in actions]
    chosen = next((item for item in actions if item.name == clause[1].casefold()), None)
    if chosen is None:
        return ["and"] if clause[1].casefold() in meaning_of_words(loop) else []
    if chosen.unit and len(clause) == 2:
        return [action_value(chosen, chosen.usual)] if chosen.usual is not None else []
    return ["and"]


def _last_clause(words: list[str]) -> list[str]:
    last = max((i for i, word in enumerate(words) if word.casefold() == "and"), default=-1)
    comma = max((i for i, word in enumerate(words) if word.endswith(",")), default=-1)
    return words[max(last, comma) + 1 :]


def _with_actions(loop: Loop) -> list[str]:
    """Names that a clause may start with, the usual ones first."""
    parts = [part for part in loop.parts if part.kind.actions]
    liftable = {part.pins[part.kind.pins[0]] for part in metered(loop)}
    points = [name for name in _points(loop) if name in liftable]
    supply = ["supply"] if supplies(loop) else []
    return [*supply, *(part.name for part in parts), "jumper", *points]


def _actions_of(name: str, loop: Loop) -> list[Action]:
    """The actions that may follow a name: of the supplies, of a part, or of what is at a point."""
    if name.casefold() == "supply":
        parts = supplies(loop)
    elif part := find_part(name, loop):
        parts = (part,)
    else:
        at = find_node(name, loop)
        parts = tuple(touching(loop, at)) if at else ()
    found = {action.name: action for part in parts for action in part.kind.actions}
    return list(found.values())
