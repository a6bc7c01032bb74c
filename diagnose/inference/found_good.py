"""``good R1 drift``: a fault that was looked for and is not there."""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.errors import did_you_mean
from diagnose.inference.measurement import Cleared
from diagnose.inference.reading_names import find_node, find_part, unknown
from diagnose.inference.reading_words import RefusedError
from diagnose.loops.loop import Loop, Part

HEADS = ("good", "found good", "cleared")
"""How such a line begins."""

SOUND = frozenset({"good", "fine", "ok", "sound", "well", "found good", "cleared"})
"""What people write behind a part instead."""


def found_good(words: Sequence[str], loop: Loop) -> Cleared | None:
    """The fault that a line says there is not; None if the line says nothing of the sort.

    The fault may be left out where a part has one only; what follows it was seen there.
    """
    head = next((head for head in HEADS if _begins(words, head)), None)
    if head is None:
        return None
    name, *rest = words[len(head.split()) :] or [""]
    if not name:
        raise RefusedError("say which part and which fault of it, such as: good R1 drift")
    part = failing(name, loop)
    fault, seen = looked_for(part, " ".join(rest))
    if fault is None:
        raise _which(part, rest)
    return Cleared(part.name, fault, seen)


def failing(name: str, loop: Loop) -> Part:
    """The part of a name, which can fail; RefusedError if there is none such.

    Of a terminal it is told which parts meet there.
    """
    able = {part.name: part for part in loop.parts if part.kind.modes}
    part, node = find_part(name, loop), find_node(name, loop)
    if part is not None and part.name in able:
        return part
    there = [each.name for each in able.values() if node in each.pins.values()]
    if node is not None and there:
        raise RefusedError(f"{node} is a terminal; say which part of it: {', '.join(there)}")
    raise unknown("part that can fail", name, able)


def example(part: Part, said: str) -> str:
    """The line that says it of a fault that was named, else of the first of the part."""
    fault, _ = parted(part, said)
    return Cleared(part.name, fault or part.kind.modes[0].name).text


def _begins(words: Sequence[str], head: str) -> bool:
    count = len(head.split())
    return " ".join(words[:count]).casefold().rstrip(":") == head


def looked_for(part: Part, text: str) -> tuple[str | None, str]:
    """The fault of a part that a text begins with, or its only one, and what follows it.

    None where it names none and there are several.
    """
    fault, rest = parted(part, text)
    only = part.kind.modes[0].name if len(part.kind.modes) == 1 else None
    return fault or only, rest


def parted(part: Part, text: str) -> tuple[str | None, str]:
    """The fault of a part that a text begins with, None if it names none, and what follows it."""
    folded = f"{text.casefold()} "
    names = [mode.name for mode in part.kind.modes]
    fits = [name for name in names if _starts(folded, name.casefold())]
    fault = max(fits, key=len, default=None)
    return fault, text[len(fault or "") :].strip(" :,-")


def _starts(text: str, name: str) -> bool:
    return text.startswith(name) and text[len(name)] in " :,"


def _which(part: Part, rest: Sequence[str]) -> RefusedError:
    """Why no fault was found: say which was looked for."""
    names = [mode.name for mode in part.kind.modes]
    known = did_you_mean(" ".join(rest[:3]), names) or f"; known: {', '.join(names)}"
    return RefusedError(
        f"say which fault was looked for, such as: {Cleared(part.name, names[0]).text}{known}"
    )
