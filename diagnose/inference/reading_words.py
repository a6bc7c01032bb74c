"""The words of a reading line and what else people write for them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from diagnose.errors import DiagnoseError, did_you_mean
from diagnose.inference import beside
from diagnose.inference.complaints import complaints
from diagnose.inference.measurement import (
    COMPLAINTS,
    CONTEXTS,
    Complaint,
    Context,
    Measurement,
    states_of,
)
from diagnose.inference.moving import SizeError, moving_fact
from diagnose.loops.loop import Loop
from diagnose.loops.names import without_hyphen


class RefusedError(DiagnoseError):
    """The reason why a line is refused; ``parse_line`` adds the line."""


FUNCTIONS = ("V", "Vlow", "VAC", "mA", "clamp", "ohm", "shows", "process")
"""What can be read, in the order in which it is offered."""

FUNCTION_WORDS = {name.casefold(): name for name in FUNCTIONS} | {
    "vdc": "V", "dcv": "V", "volt": "V", "volts": "V",
    "lowz": "Vlow", "low-z": "Vlow", "v-low": "Vlow",
    "ac": "VAC", "acv": "VAC",
    "milliamps": "mA", "milliampere": "mA", "current": "mA",
    "clamp-on": "clamp",
    "ohms": "ohm", "resistance": "ohm",
    "indicates": "shows", "pv": "process",
}  # fmt: skip

FILLERS = frozenset({"is", "was", "reads", "shows", "read", "at", "about"})
"""Words between a name and its value that say nothing."""

OVERLOAD_WORDS = frozenset({"ol", "o.l", "o.l.", "0l", "0.l", "overload", "over", "overrange"})
IMPOSSIBLE_WORDS = frozenset(
    {
        "impossible", "not possible", "not allowed", "not reachable", "unreachable",
        "cannot", "no access", "forbidden",
    }
)  # fmt: skip

COMPLAINT_WORDS = {name: name for name in COMPLAINTS} | {
    "low": "reads low", "too low": "reads low", "read low": "reads low",
    "reading low": "reads low", "shows too little": "reads low",
    "high": "reads high", "too high": "reads high", "read high": "reads high",
    "reading high": "reads high", "shows too much": "reads high",
    "zero": "reads zero", "reads nothing": "reads zero", "reads 0": "reads zero",
    "dead": "reads zero", "no signal": "reads zero", "bottomed": "reads zero",
    "stuck": "frozen", "does not move": "frozen", "stands still": "frozen", "freezes": "frozen",
    "flat": "frozen",
    "noisy": "erratic", "jumps": "erratic", "jumping": "erratic", "unstable": "erratic",
    "wanders": "erratic", "fluctuates": "erratic", "spikes": "erratic", "intermittent": "erratic",
    "clip": "clips", "clipping": "clips", "clips at the top": "clips", "limits": "clips",
    "stops short": "clips", "saturates": "clips",
    "disagrees": "disagree", "receivers disagree": "disagree", "differs": "disagree",
    "differ": "disagree", "do not agree": "disagree",
    "trip": "tripped", "trips": "tripped", "trip came in": "tripped",
    "spurious trip": "tripped", "false trip": "tripped",
    "valve does not follow": "does not follow", "does not respond": "does not follow",
    "does not stroke": "does not follow", "stays open": "stays on", "does not close": "stays on",
    "does not switch off": "stays on", "stays closed": "stays off", "does not open": "stays off",
    "does not switch on": "stays off", "does not switch": "stays off",
    "does not trip": "no trip", "did not trip": "no trip", "failed to trip": "no trip",
}  # fmt: skip
_SHUT_BY_AIR = COMPLAINT_WORDS | {
    "stays open": "stays off", "does not close": "stays off", "stays closed": "stays on",
    "does not open": "stays on",
}  # fmt: skip
"""The same where an output that is on shuts a valve."""


def complaint_words(loop: Loop) -> Mapping[str, str]:
    """What people say of a loop -> what it was reported for."""
    shut = any(part.values.get("opens", 1.0) < 0 for part in loop.parts)
    return _SHUT_BY_AIR if shut else COMPLAINT_WORDS


CONTEXT_WORDS = {name: name for name in CONTEXTS} | {
    "recent work": "work", "worked on": "work", "maintenance": "work", "after work": "work",
    "repair": "work", "shutdown": "work", "calibration": "work",
    "wet": "rain", "rained": "rain", "flood": "rain", "flooding": "rain", "washing": "rain",
    "moisture": "rain", "washdown": "rain",
    "thunder": "lightning", "thunderstorm": "lightning", "storm": "lightning",
    "frosty": "frost", "freezing": "frost", "ice": "frost", "icy": "frost",
    "other loops": "shared supply", "other loops affected": "shared supply",
    "same supply": "shared supply", "supply shared": "shared supply",
}  # fmt: skip

ACTION_WORDS: Mapping[str, tuple[str, ...]] = {
    "at": ("driven",), "drives": ("driven",), "drive": ("driven",), "driving": ("driven",),
    "forced": ("driven",), "fixed": ("driven",),
    "substituted": ("replaced",), "swapped": ("replaced",), "simulated": ("replaced",),
    "equalized": ("equalised",), "zeroed": ("equalised",),
    "lift": ("lifted",), "disconnected": ("lifted", "open", "out"), "removed": ("lifted", "out"),
    "off": ("lifted",), "unplugged": ("off",),
    "opened": ("open",), "pulled": ("out",),
    "isolated": ("off",), "down": ("off",),
}  # fmt: skip
"""What people write for an action -> the actions it may be, on a part that has one of them."""

_DENIAL = re.compile(r"\b(?:no|not|never|without|isn't|wasn't|nor)\b")


def told(words: list[str], text: str, loop: Loop) -> Complaint | Context | None:
    """The complaint or context fact that a line states, or None if it is a reading."""
    neighbour = _neighbour(words, text, loop)
    if neighbour:
        return neighbour
    moves = _moving(words, text, loop)
    if moves:
        return moves
    head, phrase = words[0].casefold().rstrip(":"), " ".join(words[1:]).casefold()
    if head in {"complaint", "symptom"}:
        offered = complaints(loop)
        return Complaint(_name("complaint", phrase, complaint_words(loop), offered), text)
    if head in {"context", "fact"}:
        return Context(_name("context", phrase, CONTEXT_WORDS, CONTEXTS), text)
    line = " ".join(words).casefold()
    if line in COMPLAINT_WORDS:
        return Complaint(_offered(complaint_words(loop)[line], loop), text)
    return Context(CONTEXT_WORDS[line], text) if line in CONTEXT_WORDS else None


def _offered(name: str, loop: Loop) -> str:
    """A complaint that is typed without its word: a loop that has none such was not meant.

    On a loop of two states ``high`` is rather what a sensor does than what people complain of.
    """
    offered = complaints(loop)
    if name in offered:
        return name
    shows = (states_of(Measurement("shows", (part.name,)), loop) for part in loop.parts)
    states = list(dict.fromkeys(item.either for item in shows if item is not None))
    called = f"; a display of two states is {', '.join(states)}" if states else ""
    known = ", ".join(offered)
    raise RefusedError(f"'{name}' is no complaint of this loop, which has {known}{called}")


def _neighbour(words: list[str], text: str, loop: Loop) -> Context | None:
    """What a line says of a loop beside this one: ``LT-216 reads low as well``, ``LT-216 fine``."""
    tags = {item.tag.casefold(): item.tag for item in loop.neighbours}
    tags = {without_hyphen(tag): tag for tag in tags.values()} | tags
    known = [word for word in words if word.casefold() in tags]
    if not known or known[0] not in words[:2]:
        return None
    tag = tags[known[0].casefold()]
    phrase = " ".join(words[words.index(known[0]) + 1 :]).casefold().removeprefix("is ")
    if phrase not in beside.WORDS:
        raise RefusedError(f"say whether {tag} is 'affected' as well, or 'well'")
    return Context(beside.fact(tag, beside.WORDS[phrase]), text)


def _moving(words: list[str], text: str, loop: Loop) -> Context | None:
    """What a line says of a process that does not hold still: ``moving 3 %``."""
    head = words[0].casefold().rstrip(":") in {"context", "fact"}
    try:
        fact = moving_fact(" ".join(words[head:]).casefold())
    except SizeError as error:
        raise RefusedError(str(error)) from error
    if fact and loop.states:
        raise RefusedError("what this loop watches has two states, and does not move by a share")
    return Context(fact, text) if fact else None


def _name(what: str, phrase: str, table: Mapping[str, str], offered: Iterable[str]) -> str:
    """The one name that a phrase holds; it may have more words around it.

    Where it holds none, those are named that are ``offered``.
    """
    if phrase in table:
        return table[phrase]
    found = {table[word] for word in _phrases(table).findall(phrase)}
    if len(found) > 1:
        raise RefusedError(f"one {what} a line: {' or '.join(sorted(found))}?")
    if found and _DENIAL.search(_phrases(table).sub("", phrase)):
        raise RefusedError(f"write a {what} only where it applies")
    if not found:
        raise RefusedError(f"this {what} is not known{did_you_mean(phrase, offered)}")
    return found.pop()


def _phrases(table: Mapping[str, str]) -> re.Pattern[str]:
    longest_first = sorted(table, key=len, reverse=True)
    return re.compile(rf"\b(?:{'|'.join(map(re.escape, longest_first))})\b")
